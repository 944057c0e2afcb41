"""Whose scatter makes the scatter of preload, and whose makes the misses?"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.dependence import Dependence
from preloadmc.chance.streams import named_rng
from preloadmc.engine import case_margins, sample
from preloadmc.errors import UsageError
from preloadmc.estimates.shapley import ShapleyShares, shapley_shares
from preloadmc.estimates.sobol import SobolIndices, sobol_convergence, sobol_indices
from preloadmc.joint import evaluate, preload_path
from preloadmc.judgement.dominates import rank_answer
from preloadmc.judgement.estimate import USUAL_PRECISION, OutcomeEstimate, estimate_outcome
from preloadmc.judgement.misses import (
    RANKED_SIDES,
    MissRanking,
    Ranked,
    Unranked,
    normal_correlation,
    rank_misses,
    ranked_inputs,
)
from preloadmc.questions.check import check
from preloadmc.results import Result
from preloadmc.units import Array

# Base samples of each design, and most of them: the largest total index to about 1 point, then
# to a tenth.
BASE_SAMPLES = 512
MOST_SAMPLES = 8192
# Samples of the Shapley shares, which leave them about half a point of error.
SHAPLEY_SAMPLES = 2**14
# Plain samples behind the probabilities where no run made them.
PLAIN_SAMPLES = 2**18
RESIDUAL, ASSEMBLED = "residual", "assembled"


@dataclass(frozen=True, slots=True, eq=False)
class RankResult(Result):
    """What dominates the variance of a quantity, and the misses on either side of the window.

    ``of``, ``groups`` and ``second_order`` are as asked, ``quantity`` is what ``of`` means.
    ``indices`` are Sobol' indices of what is independent: correlated inputs go together;
    ``members`` are the inputs behind each. ``shapley`` are shares of the variance of each of
    ``ranked``, dependent or not. ``misses`` holds "under_preload" and "over_preload".
    ``convergence`` are indices from growing parts of the designs, where asked. ``all_model_calls``
    are those of everything.
    """

    case: Case
    seed: int
    of: str
    groups: tuple[str, ...]
    second_order: bool
    quantity: str
    indices: SobolIndices
    members: tuple[tuple[str, ...], ...]
    shapley: ShapleyShares
    ranked: tuple[Ranked, ...]
    misses: Mapping[str, MissRanking | Unranked]
    convergence: tuple[SobolIndices, ...]
    all_model_calls: int

    @property
    def order(self) -> tuple[int, ...]:
        """Return the places of ``indices`` and ``members``, largest total index first."""
        return self.indices.ordering.places

    @property
    def answer(self) -> tuple[str, str, str]:
        """Return what dominates the variance, the misses, and where that differs, in words."""
        return rank_answer(self.quantity, self.shapley, self.misses)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what a reader should be warned of, of the case and at nominal values."""
        return check(self.case).warnings


def rank(
    case: Case,
    *,
    seed: int | None = None,
    of: str = RESIDUAL,
    groups: Sequence[str] = (),
    second_order: bool = False,
    convergence: bool = False,
    base_samples: int = BASE_SAMPLES,
    estimates: Mapping[str, OutcomeEstimate] | None = None,
) -> RankResult:
    """Rank the inputs of a case by what they do to the variance and to the misses.

    Parameters
    ----------
    case : Case
        At least one input must scatter.
    seed : int, optional
        That of the case unless given.
    of : str
        Whose variance: "residual" or "assembled" preload, a state by name, or a limit by name,
        of which the smallest margin over the states is taken.
    groups : sequence of str
        Groups of inputs that are ranked as one: "friction", "tool", "settling", ...
    second_order : bool
        Whether to find the indices of pairs.
    convergence : bool
        Whether to find how the indices settle as the designs grow.
    base_samples : int
        Of each design, a power of two; see `estimates.sobol.sobol_indices`. They are doubled until
        the order of the three leading inputs is settled, sixteenfold at most.
    estimates : mapping of str to OutcomeEstimate, optional
        Of a run of the case with the same seed, used in place of estimates of its own.

    Returns
    -------
    RankResult

    Raises
    ------
    UsageError
        If nothing scatters, or a quantity or group is unknown.
    EstimateError
        If the quantity does not vary.
    """
    columns = case.uncertain
    if not columns:
        raise UsageError("nothing in this case scatters, so there is nothing to rank")
    seed = case.sampling.seed if seed is None else seed
    label, model = quantity(case, of)
    ranked = ranked_inputs(case, groups)
    together = _independent(case, ranked)
    names = [_joined(parts) for parts in together]
    members = tuple(tuple(name for part in parts for name in part.members) for parts in together)
    places = [[columns.index(name) for name in group] for group in members]
    indices = sobol_indices(
        model,
        names,
        seed=seed,
        base_samples=base_samples,
        groups=places,
        second_order=second_order and len(names) > 1,
        most_samples=max(MOST_SAMPLES, base_samples),
    )
    growing = (
        sobol_convergence(model, names, seed=seed, base_samples=base_samples, groups=places)
        if convergence
        else ()
    )
    shapley = shapley_shares(
        model,
        [each.name for each in ranked],
        normal_correlation(case),
        rng=named_rng(seed, "Shapley shares"),
        samples=SHAPLEY_SAMPLES,
        groups=[[columns.index(name) for name in each.members] for each in ranked],
    )
    calls = indices.model_calls + shapley.model_calls
    calls += growing[-1].model_calls if growing else 0
    if estimates is None:
        drawn = sample(case, seed=seed, samples=PLAIN_SAMPLES, precision=None)
        estimates = {
            outcome: estimate_outcome(
                case, drawn, outcome, seed=seed, precision=USUAL_PRECISION, method=None
            )
            for outcome in RANKED_SIDES
        }
        calls += drawn.n + sum(each.model_calls for each in estimates.values())
    misses = {
        outcome: rank_misses(case, estimates[outcome].misses, ranked)
        if groups
        else estimates[outcome].dominates
        for outcome in RANKED_SIDES
    }
    return RankResult(
        case,
        seed,
        of,
        tuple(groups),
        second_order,
        label,
        indices,
        members,
        shapley,
        ranked,
        misses,
        growing,
        calls,
    )


def quantity(case: Case, of: str) -> tuple[str, Callable[[Array], Array]]:
    """Return a quantity of a case in words, and as a function of z (n, d).

    Raises
    ------
    UsageError
        If there is none of this name.
    """
    columns = case.uncertain
    stages = tuple(preload_path(evaluate(case.joint, case.means)))
    if of in stages:

        def held(z: Array) -> Array:
            state = evaluate(case.joint, case.inputs(z, columns))
            return np.broadcast_to(np.asarray(preload_path(state)[of], dtype=float), len(z))

        words = {RESIDUAL: "residual preload", ASSEMBLED: "assembled preload"}
        return words.get(of, f"preload, {of}"), held

    def margin(z: Array) -> Array:
        found = case_margins(case, case.inputs(z, columns), others=True)
        mine = [np.asarray(each.values) for each in found if each.limit.name == of]
        smallest = np.broadcast_to(mine[0], len(z))
        for other in mine[1:]:
            smallest = np.minimum(smallest, other)
        return np.asarray(smallest, dtype=float)

    found = case_margins(case, case.means, others=True)
    limits = tuple(dict.fromkeys(each.limit.name for each in found))
    if of not in limits:
        raise UsageError(
            f"{of!r} cannot be ranked in this case; one of {', '.join((*stages, *limits))}"
        )
    return f"margin of {of}", margin


def _joined(parts: Sequence[Ranked]) -> str:
    return " with ".join(part.name for part in parts)


def _independent(case: Case, ranked: Sequence[Ranked]) -> tuple[tuple[Ranked, ...], ...]:
    """Return what is ranked, gathered so that correlation ties nothing of two gatherings."""
    tied = Dependence.from_pairs(case.uncertain, case.correlations).groups
    found: list[list[Ranked]] = []
    for each in ranked:
        mine = [group for group in tied if set(group) & set(each.members)]
        near = {name for group in mine for name in group}
        touching = [parts for parts in found if any(near & set(part.members) for part in parts)]
        found = [parts for parts in found if parts not in touching]
        found.append([*(part for parts in touching for part in parts), each])
    place = {each: at for at, each in enumerate(ranked)}
    ordered = [sorted(parts, key=place.__getitem__) for parts in found]
    return tuple(tuple(parts) for parts in sorted(ordered, key=lambda parts: place[parts[0]]))
