"""Each fastener of an investigation: what was found on it, and whether it is loose or turned."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.evidence import (
    ABOVE,
    BELOW,
    KINDS,
    MEASURED,
    TOOL,
    Evidence,
    Finding,
    Observation,
    Reading,
)
from preloadmc.questions.infer import InferResult
from preloadmc.report.text.blocks import Table
from preloadmc.report.text.findings import after_words, found_words

LOOSE, TIGHT, UNDECIDED = "loose", "tight", "not known if loose"
NOT_LOOKED_AT = "not looked at"
# A rotation counts as found where it is more than so many measuring errors.
_SURELY = 2.0


@dataclass(frozen=True, slots=True)
class Condition:
    """What a fastener was found to be: ``grip`` is loose, tight or undecided."""

    grip: str
    is_turned: bool

    @property
    def words(self) -> str:
        """Return it in words."""
        return f"{self.grip}, turned" if self.is_turned else self.grip


def loose_limit(result: InferResult) -> float | None:
    """Return the preload below which a fastener counts as loose [N]: as stated, or the minimum."""
    limit = result.evidence.loose_below
    law = result.case.laws.get("requirement.minimum_preload")
    return law.mean if limit is None and law is not None else limit


def conditions(evidence: Evidence, limit: float | None) -> dict[str, Condition]:
    """Return what each inspected fastener was found to be.

    Parameters
    ----------
    evidence : Evidence
        What was found.
    limit : float or None
        Preload below which a fastener counts as loose [N]; None where nobody says.
    """
    found = {}
    for name in evidence.fasteners:
        own = [each for each in evidence.findings if each.fastener == name]
        last = max((evidence.time_of(each) for each in own if _is_preload(each)), default=0.0)
        # A fastener is what the last inspection of its preload found it to be.
        grips = [_grip(each, limit) for each in own if evidence.time_of(each) >= last]
        grip = LOOSE if LOOSE in grips else TIGHT if TIGHT in grips else UNDECIDED
        if name in evidence.selected:
            grip = LOOSE
        found[name] = Condition(grip, any(map(_is_turned, own)))
    return found


def _is_preload(finding: Finding) -> bool:
    return finding.kind == "residual preload"


def _grip(finding: Finding, limit: float | None) -> str:
    if limit is None or not isinstance(finding, Reading) or not _is_preload(finding):
        return UNDECIDED
    if finding.value < limit and finding.sense == MEASURED:
        return LOOSE
    if finding.value <= limit and finding.sense == BELOW:
        return LOOSE
    if finding.value >= limit and finding.sense in (MEASURED, ABOVE):
        return TIGHT
    return UNDECIDED


def _is_turned(finding: Finding) -> bool:
    if isinstance(finding, Observation):
        return finding.kind == "mark" and finding.seen
    return (
        finding.kind == "rotation"
        and finding.sense != BELOW
        and finding.value > _SURELY * finding.error
    )


def fastener_table(result: InferResult, system: str) -> Table | None:
    """Return one row a fastener and one column a kind of finding; None where none was examined."""
    evidence = result.evidence
    states = conditions(evidence, loose_limit(result))
    own = [each for each in evidence.findings if each.fastener != TOOL]
    kinds = sorted({each.kind for each in own}, key=KINDS.index)
    rows = tuple(
        (
            name,
            *(
                ", ".join(
                    f"{found_words(each, system)}{after_words(each)}"
                    for each in own
                    if each.fastener == name and each.kind == kind
                )
                or "-"
                for kind in kinds
            ),
            states[name].words,
        )
        for name in sorted(evidence.fasteners, key=by_number)
    )
    header = ("fastener", *kinds, "condition")
    return Table(header, rows, words=len(header)) if rows else None


def by_number(name: str) -> tuple[int, str]:
    """Return what numbered fasteners are sorted by; others stand after them by name."""
    return (int(name), "") if name.isdigit() else (10**9, name)
