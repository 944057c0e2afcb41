"""From a case to its samples: chunks of fixed size, shared out to threads, merged in order."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from preloadmc.case import MOST_SAMPLES, Case, Parameters
from preloadmc.chance.dependence import Dependence
from preloadmc.chance.streams import CHUNK, normal_chunk
from preloadmc.chance.tested_law import Tested
from preloadmc.errors import UsageError
from preloadmc.estimates.moments import RunningMoments
from preloadmc.estimates.probability import from_counts
from preloadmc.joint import Inputs, accepts, evaluate, preload_path
from preloadmc.limits import OVER, UNDER, Limit, Margin, as_columns, margins, on_side
from preloadmc.samples import Accepted, Flags, Kept, Samples
from preloadmc.units import Array, FloatLike

# An asked precision is looked at first after this many samples, then at each doubling.
FIRST_LOOK = 2 * CHUNK
# With fewer misses the interval itself is too uncertain to stop by: luck would choose the stop.
FEWEST_MISSES = 100
# Quantiles and figures are made from the first chunks: 2^18 samples.
KEPT_CHUNKS = 4
SIDES = {"under_preload": (UNDER,), "over_preload": (OVER,), "outside_window": (UNDER, OVER)}
OUTCOMES = tuple(SIDES)
OUTCOME_OF_SIDE = {UNDER: "under_preload", OVER: "over_preload"}
OUTSIDE = "outside_window"

Progress = Callable[[int, int], None]


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1  # not every system tells


def case_margins(case: Case, x: Inputs, *, others: bool = False) -> tuple[Margin, ...]:
    """Return the margins of a case.

    Parameters
    ----------
    case : Case
        The case.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.
    others : bool
        Whether the limits beside the preload window are among them.

    Returns
    -------
    tuple of Margin
        One for each limit in each state that judges it.
    """
    return margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=others)


def on_event(found: tuple[Margin, ...], event: str) -> tuple[Margin, ...]:
    """Return the margins whose miss is an event: one of `OUTCOMES`, or a limit by its name."""
    if event in SIDES:
        return on_side(found, SIDES[event])
    return tuple(margin for margin in found if margin.limit.name == event)


def margin_function(case: Case, event: str) -> Callable[[Array], Array]:
    """Return the margins of one event as a function of z.

    Parameters
    ----------
    case : Case
        The case.
    event : str
        One of `OUTCOMES`, or a limit by its name.

    Returns
    -------
    callable
        From z (n, d), the columns of the uncertain inputs, to margins (n, m): a column for each
        limit in each state, named by `event_limits`.
    """
    columns = case.uncertain
    others = event not in SIDES

    def function(z: Array) -> Array:
        found = case_margins(case, case.inputs(z, columns), others=others)
        return as_columns(on_event(found, event), len(z))

    return function


def conditional_margin_function(
    case: Case, event: str, parameters: Parameters
) -> Callable[[Array, NDArray[np.intp]], Array]:
    """Return the margins of one event as a function of z and of which draw of parameters holds.

    Parameters
    ----------
    case, event : Case, str
        As in `margin_function`.
    parameters : dict of str to (ndarray (k,), ndarray (k,))
        Location and scale of the tested laws in each of k draws.

    Returns
    -------
    callable
        From z (n, d) and the draw of each row (n,) to margins (n, m).
    """
    columns = case.uncertain
    others = event not in SIDES

    def function(z: Array, draw: NDArray[np.intp]) -> Array:
        given = {name: (at[draw], scale[draw]) for name, (at, scale) in parameters.items()}
        found = case_margins(case, case.inputs(z, columns, given=given), others=others)
        return as_columns(on_event(found, event), len(z))

    return function


def restated(case: Case, point: Array, parameters: Parameters) -> Array:
    """Return a point of z in the numbers of each draw of parameters: the same values of inputs.

    Parameters
    ----------
    case : Case
        The case.
    point : ndarray (d,)
        Normal numbers of the uncertain inputs, tested laws being those of the next value.
    parameters : dict of str to (ndarray (k,), ndarray (k,))
        Location and scale of the tested laws in each of k draws.

    Returns
    -------
    ndarray (k, d)
    """
    columns = case.uncertain
    dependence = Dependence.from_pairs(columns, case.correlations)
    mixed = dependence.mixed(point[None, :])
    draws = len(next(iter(parameters.values()))[0])
    u = np.empty((draws, len(columns)))
    for place, name in enumerate(columns):
        own = mixed.get(name, point[None, place])
        law = case.laws[name]
        u[:, place] = (
            law.normal_given(law.from_normal(own), *parameters[name])
            if isinstance(law, Tested)
            else own
        )
    return dependence.unmixed(u)


def event_limits(case: Case, event: str) -> tuple[Limit, ...]:
    """Return what the columns of `margin_function` are: a limit and a state each."""
    found = case_margins(case, case.means, others=event not in SIDES)
    return tuple(margin.limit for margin in on_event(found, event))


def sample(
    case: Case,
    *,
    seed: int,
    samples: int | None,
    precision: float | None,
    most: int = MOST_SAMPLES,
    threads: int = 1,
    progress: Progress | None = None,
) -> Samples:
    """Sample a case plainly; the result is the same to the last bit for any number of threads.

    Parameters
    ----------
    case : Case
        What to sample.
    seed : int
        Seed of all chunks.
    samples : int or None
        How many; None to go on until the precision is reached.
    precision : float or None
        Half width of the 95 % interval over the probability, of each outcome that matters: one
        whose upper limit is below a tenth of what is allowed no longer does.
    most : int
        Where sampling for a precision ends if that is not reached before.
    threads : int
        How many threads share the chunks out.
    progress : callable, optional
        Told the samples done and the samples planned.

    Returns
    -------
    Samples
        Counts of misses, moments of the preload [N], and the first samples whole.

    Raises
    ------
    UsageError
        If the count is out of bounds.
    NotFiniteError
        If a margin is not finite.
    """
    if samples is not None and not 1 <= samples <= MOST_SAMPLES:
        raise UsageError(f"samples is {samples}: it must be from 1 to {MOST_SAMPLES:,}")
    # glibc hands large arrays back to the system at every free, until it has freed one this large.
    np.empty(3_500_000)
    tally = _Tally(case)
    planned = samples if samples is not None else FIRST_LOOK
    while True:
        for part in _parts(case, seed, tally.n, planned, threads):
            tally.add(part)
            if progress is not None:
                progress(tally.n, planned)
        if samples is not None:
            return tally.result("all requested samples drawn")
        assert precision is not None, "a count or a precision"
        if _reached(case, tally, precision):
            return tally.result(f"requested precision of {100 * precision:g} % reached")
        if planned >= most:
            return tally.result(
                f"stopped at the most allowed, {most:,} samples, short of the requested precision "
                f"of {100 * precision:g} %"
            )
        planned = min(2 * planned, most)


def _reached(case: Case, tally: _Tally, precision: float) -> bool:
    asked = {
        "under_preload": case.requirement.allowed_under,
        "over_preload": case.requirement.allowed_over,
    }
    for outcome, allowed in asked.items():
        probability = from_counts(tally.misses[outcome], tally.n)
        if allowed is not None and probability.high < 0.1 * allowed:
            continue
        few = tally.misses[outcome] < FEWEST_MISSES
        if few or probability.relative_half_width > precision:
            return False
    return True


@dataclass(frozen=True, slots=True)
class _Part:
    """One chunk's share of the result."""

    misses: dict[str, int]
    limits: tuple[Limit, ...]
    margin_misses: NDArray[np.int64]
    moments: dict[str, RunningMoments]
    kept: Kept | None
    n: int
    accepted: Accepted | None


def _parts(case: Case, seed: int, done: int, planned: int, threads: int) -> Iterator[_Part]:
    """Yield the chunks from ``done`` to ``planned`` samples in order, worked on by threads.

    ``done`` is a whole number of chunks.
    """
    chunks = iter(range(done // CHUNK, -(-planned // CHUNK)))
    waiting: deque[Future[_Part]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        try:
            for k in islice(chunks, 2 * threads):
                waiting.append(pool.submit(_chunk, case, seed, k, min(CHUNK, planned - k * CHUNK)))
            while waiting:
                yield waiting.popleft().result()
                for k in islice(chunks, 1):
                    n = min(CHUNK, planned - k * CHUNK)
                    waiting.append(pool.submit(_chunk, case, seed, k, n))
        finally:
            pool.shutdown(cancel_futures=True)


def _chunk(case: Case, seed: int, k: int, n: int) -> _Part:
    columns = case.uncertain
    z = normal_chunk(seed, k, n, len(columns))
    x = case.inputs(z, columns, exact=False)
    state = evaluate(case.joint, x)
    found = margins(case.joint, case.requirement, x, state, others=True)
    block = as_columns(found, n)
    missed = block.T < 0.0
    under, over = (
        np.logical_or.reduce(missed[[side in margin.limit.sides for margin in found]])
        for side in (UNDER, OVER)
    )
    outcomes = dict(zip(OUTCOMES, (under, over, under | over), strict=True))
    checked = case.joint.acceptance
    passes = None
    if checked is not None:
        passes = np.broadcast_to(accepts(checked, case.joint, x, state.assembly), n)
    path = preload_path(state)
    # A lone judged state is the residual too: its moments are taken once.
    distinct = {id(held): held for held in path.values()}
    moments = {key: RunningMoments.of(np.broadcast_to(held, n)) for key, held in distinct.items()}
    return _Part(
        {
            event: int(np.count_nonzero(happened))
            for event, happened in (outcomes | _by_limit(found, missed)).items()
        },
        tuple(margin.limit for margin in found),
        np.count_nonzero(missed, axis=1),
        {stage: moments[id(held)] for stage, held in path.items()},
        _kept(z, path, found, block, under, over, passes) if k < KEPT_CHUNKS else None,
        n,
        None
        if passes is None
        else Accepted(
            int(np.count_nonzero(passes)),
            {
                event: int(np.count_nonzero(happened & passes))
                for event, happened in outcomes.items()
            },
        ),
    )


def _by_limit(found: tuple[Margin, ...], missed: Flags) -> dict[str, Flags]:
    """Return whether each limit is missed in any state, by its name, from rows of margins."""
    rows: dict[str, list[int]] = {}
    for place, margin in enumerate(found):
        rows.setdefault(margin.limit.name, []).append(place)
    return {
        name: missed[places[0]] if len(places) == 1 else np.logical_or.reduce(missed[places])
        for name, places in rows.items()
    }


def _kept(
    z: Array,
    path: dict[str, FloatLike],
    found: tuple[Margin, ...],
    block: Array,
    under: Flags,
    over: Flags,
    accepted: Flags | None,
) -> Kept:
    whole = {stage: np.broadcast_to(held, len(z)) for stage, held in path.items()}
    return Kept(z, whole, block, _shares(found, len(z)), under, over, accepted)


def _shares(found: tuple[Margin, ...], n: int) -> Array:
    """Return margins as shares of what is allowed (n, m); infinite where nothing is asked."""
    block = np.empty((len(found), n))
    for row, margin in zip(block, found, strict=True):
        reference = np.broadcast_to(margin.reference, n)
        row[:] = np.inf
        np.divide(margin.values, reference, out=row, where=reference > 0.0)
    return block.T


class _Tally:
    """The chunks so far, merged in their order."""

    def __init__(self, case: Case) -> None:
        self.columns = case.uncertain
        self.n = 0
        self.misses: dict[str, int] = {}
        self.margin_misses: NDArray[np.int64] | None = None
        self.moments: dict[str, RunningMoments] = {}
        self.limits: tuple[Limit, ...] = ()
        self.kept: list[Kept] = []
        self.accepted: Accepted | None = None

    def add(self, part: _Part) -> None:
        self.n += part.n
        for event, misses in part.misses.items():
            self.misses[event] = self.misses.get(event, 0) + misses
        self.margin_misses = (
            part.margin_misses
            if self.margin_misses is None
            else self.margin_misses + part.margin_misses
        )
        self.moments = {
            stage: self.moments[stage].merge(moments) if stage in self.moments else moments
            for stage, moments in part.moments.items()
        }
        self.limits = part.limits
        if part.accepted is not None:
            before = self.accepted or Accepted(0, {})
            self.accepted = Accepted(
                before.n + part.accepted.n,
                {
                    event: before.misses.get(event, 0) + misses
                    for event, misses in part.accepted.misses.items()
                },
            )
        if part.kept is not None:
            self.kept.append(part.kept)

    def result(self, stopped: str) -> Samples:
        assert self.margin_misses is not None
        kept = Kept(
            _stacked([part.z for part in self.kept]),
            {
                stage: np.concatenate([part.path[stage] for part in self.kept])
                for stage in self.kept[0].path
            },
            _stacked([part.margins for part in self.kept]),
            _stacked([part.shares for part in self.kept]),
            np.concatenate([part.under for part in self.kept]),
            np.concatenate([part.over for part in self.kept]),
            None
            if self.accepted is None
            else np.concatenate([part.accepted for part in self.kept if part.accepted is not None]),
        )
        return Samples(
            self.n,
            self.columns,
            self.misses,
            self.limits,
            tuple(int(count) for count in self.margin_misses),
            self.moments,
            kept,
            stopped,
            self.accepted,
        )


def _stacked(blocks: list[Array]) -> Array:
    """Return blocks (n, d), each stored by columns, below each other and stored likewise."""
    return np.concatenate([block.T for block in blocks], axis=1).T
