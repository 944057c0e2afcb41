"""What is each source of scatter worth? The outcomes if it were removed, halved or corrected."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from preloadmc.case import Case
from preloadmc.chance.dependence import Dependence
from preloadmc.chance.laws import Constant, Law
from preloadmc.chance.streams import CHUNK
from preloadmc.engine import OUTCOMES, Progress, cores
from preloadmc.estimates.paired import Ratio
from preloadmc.estimates.probability import Difference, Probability
from preloadmc.inputs import by_group, input_group, input_label
from preloadmc.judgement.paired import PairedOutcomes, paired_outcomes
from preloadmc.questions.control.levers import halved_losses

BIAS, TOOL = "tightening.bias", "tightening.tool"
# Half of an interval over its value, as in a comparison.
PRECISION = 0.1
# What is left of the misses needs no precision below this share of them: no decision turns on it.
_NEGLIGIBLE = 0.01
# A run's own look: small blocks, which a processor's cache holds, and few of them, so that it adds
# little to a run.
RUN_BLOCK = 2**14
RUN_SAMPLES = 2**15
RUN_PRECISION = 0.2
# With more inputs than these a run looks at whole groups alone: each source costs two models.
RUN_INPUTS = 6
# Removed and halved.
FACTORS = (0.0, 0.5)


@dataclass(frozen=True, slots=True)
class Changed:
    """The outcomes after a change, and what it makes of each.

    ``differences`` are changed minus as it is; ``misses_left`` is the share of the misses that are
    left, for each outcome that has misses as it is.
    """

    probabilities: Mapping[str, Probability]
    differences: Mapping[str, Difference]
    misses_left: Mapping[str, Ratio]


@dataclass(frozen=True, slots=True)
class Source:
    """A source of scatter: an input, correlated inputs, or all inputs of one kind.

    ``inputs`` are the inputs. ``kind`` is the group of the fixed list that the source covers
    whole, or "" where it is a part of one only. ``removed`` holds the members constant at their
    means, ``halved`` halves their standard deviations; other marginals stay as they are.
    """

    source: str
    inputs: tuple[str, ...]
    kind: str
    removed: Changed
    halved: Changed


@dataclass(frozen=True, slots=True)
class Lever:
    """A loss of preload, such as "embedding", and the outcomes with half of it."""

    loss: str
    halved: Changed


@dataclass(frozen=True, slots=True)
class ControlResult:
    """What each source of scatter, and half of each loss, is worth, on common draws.

    ``as_is`` and every change hold the outcomes "under_preload", "over_preload" and
    "outside_window". ``sources`` stand in the order of the fixed list, kinds last;
    ``losses`` stand in the order of life;
    ``bias_corrected`` is None where the tool has no bias. ``samples`` are the plain ones, ``draws``
    the weighted ones of importance sampling; all changes share both.
    """

    case: Case
    seed: int
    as_is: Mapping[str, Probability]
    sources: tuple[Source, ...]
    bias_corrected: Changed | None
    samples: int
    draws: int
    model_calls: int
    losses: tuple[Lever, ...] = ()

    def methods(self, outcome: str) -> tuple[str, ...]:
        """Return how an outcome was estimated, as it is and after the changes: each way once."""
        found = [self.as_is[outcome]]
        for source in self.sources:
            found += [each.probabilities[outcome] for each in (source.halved, source.removed)]
        if self.bias_corrected is not None:
            found.append(self.bias_corrected.probabilities[outcome])
        found += [lever.halved.probabilities[outcome] for lever in self.losses]
        return tuple(dict.fromkeys(each.method for each in found))

    def by_worth(self, outcome: str = "outside_window") -> tuple[Source, ...]:
        """Return the sources, those first whose removal lowers an outcome most."""
        return tuple(
            sorted(self.sources, key=lambda source: source.removed.differences[outcome].value)
        )


def with_spread(case: Case, factors: Mapping[str, float]) -> Case:
    """Return the case with the standard deviations of the named inputs times a factor each.

    At zero they are constant at their means. Correlations stay those of the standard normals
    behind all inputs, so that the others keep their laws and, on common draws, their values.
    """
    return _with_laws(
        case, {name: case.laws[name].scaled_spread(factor) for name, factor in factors.items()}
    )


def without_bias(case: Case) -> Case | None:
    """Return the case with the tool's bias corrected, its scatter kept; None where it has none.

    A tool that was described by its tests has its bias in the mean of its scatter.
    """
    changed: dict[str, Law] = {}
    bias, tool = case.laws.get(BIAS), case.laws.get(TOOL)
    if bias is not None and bias != Constant(0.0):
        changed[BIAS] = Constant(0.0)
    if tool is not None and abs(tool.mean - 1.0) > 1e-12:
        changed[TOOL] = tool.scaled(1.0 / tool.mean)
    return _with_laws(case, changed) if changed else None


def _with_laws(case: Case, changed: Mapping[str, Law]) -> Case:
    return replace(case.with_laws(changed), alternatives=())


def control(
    case: Case,
    *,
    seed: int | None = None,
    precision: float = PRECISION,
    most: int = 2**19,
    block: int = CHUNK,
    single: bool = True,
    threads: int | None = None,
    progress: Progress | None = None,
) -> ControlResult | None:
    """Return what removing, halving or correcting each source of scatter, or half a loss, does.

    Parameters
    ----------
    case : Case
        As `load_case` returned it.
    seed : int, optional
        That of the case unless given.
    precision : float
        Wanted half-width of each interval over its value.
    most : int
        Most plain samples of each change.
    block : int
        Plain samples in a block.
    single : bool
        Whether to look at each input, not at whole kinds of them alone.
    threads : int, optional
        As many as there are cores unless given; the result does not depend on it.
    progress : callable, optional
        Told the samples done and the samples planned.

    Returns
    -------
    ControlResult or None
        None where nothing scatters.
    """
    if not case.uncertain:
        return None
    seed = case.sampling.seed if seed is None else seed
    found = [each for each in _sources(case) if single or each[2]]
    spreads: list[dict[str, float] | None] = [
        dict.fromkeys(members, factor) for _, members, _ in found for factor in FACTORS
    ]
    changed = [with_spread(case, spread) for spread in spreads if spread is not None]
    corrected = without_bias(case)
    if corrected is not None:
        changed.append(corrected)
        spreads.append(None)
    halved = halved_losses(case)
    changed += halved.values()
    spreads += [None] * len(halved)
    named = [replace(each, name=f"{place:03d}") for place, each in enumerate(changed)]
    paired = paired_outcomes(
        [replace(case, alternatives=()), *named],
        seed=seed,
        purpose="value of control",
        precision=precision,
        most=most,
        block=block,
        negligible=_NEGLIGIBLE,
        spreads=[None, *spreads],
        cross_check=False,  # of so many models; a run checks the case as it is
        threads=threads or cores(),
        progress=progress,
    )
    return ControlResult(
        case=case,
        seed=seed,
        as_is={outcome: paired.probability(outcome, 0) for outcome in OUTCOMES},
        sources=tuple(
            Source(label, members, kind, _changed(paired, 2 * i + 1), _changed(paired, 2 * i + 2))
            for i, (label, members, kind) in enumerate(found)
        ),
        bias_corrected=None if corrected is None else _changed(paired, len(changed) - len(halved)),
        samples=paired.samples,
        draws=paired.draws,
        model_calls=paired.model_calls,
        losses=tuple(
            Lever(label, _changed(paired, place))
            for place, label in enumerate(halved, len(changed) - len(halved) + 1)
        ),
    )


def _changed(paired: PairedOutcomes, place: int) -> Changed:
    return Changed(
        {outcome: paired.probability(outcome, place) for outcome in OUTCOMES},
        {outcome: paired.difference(outcome, place, 0) for outcome in OUTCOMES},
        {
            outcome: ratio
            for outcome in OUTCOMES
            if (ratio := paired.ratio(outcome, place, 0)) is not None
        },
    )


def _sources(case: Case) -> list[tuple[str, tuple[str, ...], str]]:
    """Return label, members and whole kind of each source: single ones, then whole kinds."""
    columns = case.uncertain
    together = {
        name: group
        for group in Dependence.from_pairs(columns, case.correlations).groups
        for name in group
    }
    single = list(dict.fromkeys(together.get(name, (name,)) for name in columns))
    whole = {members: group for group, members in by_group(columns).items()}
    found = [
        (" with ".join(input_label(name) for name in members), members, whole.pop(members, ""))
        for members in single
    ]
    return [
        *found,
        *((input_group(kind).together, members, kind) for members, kind in whole.items()),
    ]
