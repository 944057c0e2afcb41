"""What dominates the misses of an outcome: how far they carry each input from its own law."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.dependence import Dependence
from preloadmc.chance.streams import named_rng
from preloadmc.engine import margin_function
from preloadmc.errors import EstimateError, UsageError
from preloadmc.estimates.design_point import DesignPoint
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.importance import failure_sample
from preloadmc.estimates.miss_shares import BLOCKS, MissShares, miss_shares
from preloadmc.estimates.mixture import Mixture
from preloadmc.estimates.plain import FirstLook
from preloadmc.inputs import by_group, input_group, input_kind, input_label
from preloadmc.samples import Samples
from preloadmc.units import Array

RANKED_SIDES = ("under_preload", "over_preload")
# Misses among the plain samples are ranked where there are this many: shares are then known to
# 1 or 2 points. More than the most narrow the intervals no further than a reader sees.
ENOUGH_MISSES = 2000
MOST_MISSES = 2**13
# Else misses are drawn where they lie, until this many effective ones (2 points) or draws; the
# latter keep a run short.
WANTED_EFFECTIVE = 1000.0
FIRST_DRAWS = 2**12
MOST_DRAWS = 2**15
# A miss nearer than a design point by more than this, in s.d., lies elsewhere than about the point:
# searches end within a few hundredths.
CLEARLY_NEARER = 0.1
# Runs of subset simulation that a sample of it is made of: the default of `subset_runs`.
SUBSET_RUNS = 10


@dataclass(frozen=True, slots=True)
class Ranked:
    """What is ranked as one: an input, or the inputs of a group."""

    name: str
    members: tuple[str, ...]


def ranked_inputs(case: Case, groups: Sequence[str] = ()) -> tuple[Ranked, ...]:
    """Return the uncertain inputs in the order of columns, those of each named group as one.

    Raises
    ------
    UsageError
        If a group is unknown or nothing of it scatters.
    """
    held = by_group(case.uncertain)
    for group in groups:
        if group not in held:
            raise UsageError(
                f"group {group!r}: nothing of it scatters in this case; one of {', '.join(held)}"
            )
    found: dict[tuple[str, ...], str] = {}
    for name in case.uncertain:
        group = input_kind(name).group
        if group in groups and len(held[group]) > 1:
            found[held[group]] = input_group(group).whole
        else:
            found[(name,)] = input_label(name)
    return tuple(Ranked(label, members) for members, label in found.items())


@dataclass(frozen=True, slots=True, eq=False)
class Misses:
    """Misses of one outcome, each input by its own standard normal.

    ``sample.z`` (n, d) has the columns of the case's uncertain inputs; ``cosines`` are those of
    the design point with each input's normal, none where there is no such point; ``blocks`` is how
    many independent parts the sample falls into; ``model_calls`` were spent on it.
    """

    outcome: str
    sample: FailureSample
    cosines: Mapping[str, float]
    blocks: int
    model_calls: int


@dataclass(frozen=True, slots=True, eq=False)
class MissRanking:
    """What dominates the misses of one outcome.

    ``cosines`` belong to the ranked inputs; None for groups and where there is no design point.
    """

    outcome: str
    ranked: tuple[Ranked, ...]
    shares: MissShares
    cosines: tuple[float | None, ...]
    model_calls: int

    @property
    def order(self) -> tuple[int, ...]:
        """Return the places of the ranked inputs, largest share first."""
        return self.shares.ordering.places


@dataclass(frozen=True, slots=True)
class Unranked:
    """Why the misses of an outcome are not ranked."""

    outcome: str
    reason: str


def gather_misses(
    case: Case,
    drawn: Samples,
    outcome: str,
    *,
    seed: int,
    points: Sequence[DesignPoint] = (),
    mixture: Mixture | None = None,
    sample: FailureSample | None = None,
) -> Misses:
    """Return the misses of an outcome: those of the plain samples, or more of them.

    Parameters
    ----------
    case, drawn, outcome : Case, Samples, str
        The case, its plain samples, and one of `engine.OUTCOMES`.
    seed : int
        Each outcome has a stream of its own.
    points : sequence of DesignPoint
        Design points of the outcome, nearest first.
    mixture : Mixture, optional
        What draws misses where they lie; used where the plain samples hold few.
    sample : FailureSample, optional
        Misses of subset simulation, used where nothing else has any.

    Returns
    -------
    Misses
        Each input by its own standard normal, after mixing.
    """
    z = _missed(drawn, outcome)
    best, blocks, calls = FailureSample.of(z, np.ones(len(z))), BLOCKS, 0
    if len(z) < ENOUGH_MISSES:
        if mixture is not None and mixture.components:
            found, calls = _drawn_misses(case, outcome, mixture, seed)
            if found.effective_size > best.effective_size:
                best = found
        elif sample is not None and sample.effective_size > best.effective_size:
            best, blocks = sample, SUBSET_RUNS
    columns = case.uncertain
    cosines: dict[str, float] = {}
    nearest = nearest_point(points, best.z)
    if nearest is not None and nearest.beta != 0.0:
        own = own_normals(case, nearest.direction[None, :])[0]
        # adding zero turns -0 into 0
        cosines = {name: float(value) + 0.0 for name, value in zip(columns, own, strict=True)}
    normals = FailureSample(own_normals(case, best.z), best.weights)
    return Misses(outcome, normals, cosines, blocks, calls)


def nearest_point(points: Sequence[DesignPoint], missed: Array) -> DesignPoint | None:
    """Return the nearest design point, if it is the likeliest place of a miss.

    Parameters
    ----------
    points : sequence of DesignPoint
        Those found, with searches that stalled.
    missed : ndarray (n, d)
        Misses that were drawn, by the independent columns.

    Returns
    -------
    DesignPoint or None
        None where no search converged, or a miss or the end of a stalled search lies nearer.
    """
    nearest = min(
        (point for point in points if point.converged), key=lambda point: point.beta, default=None
    )
    if nearest is None:
        return None
    seen = [point.beta for point in points if not point.converged]
    if len(missed):
        seen.append(float(np.linalg.norm(missed, axis=1).min()))
    return None if min(seen, default=np.inf) < nearest.beta - CLEARLY_NEARER else nearest


def look(drawn: Samples, event: str) -> FirstLook:
    """Return what plain samples saw of an outcome or a limit, with the misses among the kept."""
    return FirstLook(drawn.misses[event], drawn.n, _missed(drawn, event))


def _missed(drawn: Samples, event: str) -> Array:
    """Return the first misses of an outcome or a limit among the samples kept, shape (k, d)."""
    kept = drawn.kept
    sides = {
        "under_preload": kept.under,
        "over_preload": kept.over,
        "outside_window": kept.under | kept.over,
    }
    mine = [place for place, limit in enumerate(drawn.limits) if limit.name == event]
    flags = sides[event] if event in sides else (kept.margins[:, mine] < 0.0).any(axis=1)
    rows: Array = kept.z[flags][:MOST_MISSES]
    return rows


def _drawn_misses(
    case: Case, outcome: str, mixture: Mixture, seed: int
) -> tuple[FailureSample, int]:
    """Return misses of a mixture in random order, as many as are wanted, and the model calls."""
    margins = margin_function(case, outcome)
    rng = named_rng(seed, f"misses of {outcome}")
    draws, calls = FIRST_DRAWS, 0
    while True:
        found = failure_sample(margins, mixture, size=draws, rng=rng)
        calls += draws
        if found.effective_size >= WANTED_EFFECTIVE or draws >= MOST_DRAWS:
            break
        lacking = WANTED_EFFECTIVE / max(found.effective_size, 1.0)
        draws = min(int(draws * max(1.2 * lacking, 2.0)), MOST_DRAWS)
    # the mixture is drawn component by component, but blocks are to be alike
    order = rng.permutation(len(found.z))
    return FailureSample(found.z[order], found.weights[order]), calls


def own_normals(case: Case, z: Array) -> Array:
    """Return each input's own standard normal (n, d), after mixing, of the columns z (n, d)."""
    columns = case.uncertain
    own = np.array(z)
    for name, values in Dependence.from_pairs(columns, case.correlations).mixed(z).items():
        own[:, columns.index(name)] = values
    return own


def normal_correlation(case: Case) -> Array:
    """Return the correlation matrix (d, d) of the inputs' own normals."""
    columns = case.uncertain
    matrix = np.eye(len(columns))
    for (a, b), rho in case.correlations.items():
        i, j = columns.index(a), columns.index(b)
        matrix[i, j] = matrix[j, i] = rho
    return matrix


def rank_misses(
    case: Case, misses: Misses, ranked: Sequence[Ranked] | None = None
) -> MissRanking | Unranked:
    """Return what dominates the misses; why nothing can be said where that is so.

    Parameters
    ----------
    case : Case
        The case.
    misses : Misses
        As `gather_misses` returned them.
    ranked : sequence of Ranked, optional
        What is ranked as one; each input by itself unless given.

    Returns
    -------
    MissRanking or Unranked
        Shares in what a miss says, or why they cannot be had.
    """
    sources = tuple(ranked_inputs(case) if ranked is None else ranked)
    if not sources:
        return Unranked(misses.outcome, "nothing scatters, so nothing can be ranked")
    if not len(misses.sample.z):
        return Unranked(misses.outcome, "no miss was found, so there is none to rank")
    columns = case.uncertain
    try:
        shares = miss_shares(
            misses.sample.z,
            misses.sample.weights,
            [source.name for source in sources],
            groups=[[columns.index(name) for name in source.members] for source in sources],
            correlation=normal_correlation(case),
            blocks=misses.blocks,
        )
    except EstimateError as error:
        return Unranked(misses.outcome, str(error))
    cosines = tuple(
        misses.cosines.get(source.members[0]) if len(source.members) == 1 else None
        for source in sources
    )
    return MissRanking(misses.outcome, sources, shares, cosines, misses.model_calls)
