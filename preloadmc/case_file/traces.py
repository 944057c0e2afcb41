"""What only evidence shows: how far nuts turned back, who was missed, what was worn or painted."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from preloadmc.case import Case
from preloadmc.case_file.common_scatter import BREAKAWAY
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.evidence import instruments_of
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.shipped_suspects import shipped_suspect
from preloadmc.chance.laws import Normal, Uniform
from preloadmc.inputs import INPUT_KINDS, instrument_input
from preloadmc.mechanics.prevailing_torque import prevailing_torque
from preloadmc.told import Magnitude
from preloadmc.units import ANGLE, TIME, TORQUE, format_quantity

_PREVAILING = "investigation.prevailing_torque"
_ROTATION = "rotation.angle"
# The shipped suspect whose turn is that of every other where the parts slip.
_SLIP = "transverse slip with rotation"
TRACE_FIELDS = (
    Field("setting", Table(), "how the tool was set"),
    Field("rotation", Table(), "how far the fastener turned back in service"),
    Field(
        "rotation.time",
        Quantity(TIME, above=0.0),
        "time in service that the angle goes with",
        '"1000 h"',
    ),
    Field("missed", Table(), "fasteners that were run down and never tightened"),
    Field("seat", Table(), "seats under head and nut as they may be found"),
)


def traces_of(stated: Stated, folder: Path, changed: Collection[str] = ()) -> Draft:
    """Return the laws of what only evidence shows.

    Parameters
    ----------
    stated : Stated
        What a case or a suspect states.
    folder : Path
        Where the files that it names lie.
    changed : collection of str
        Paths that a suspect overrides.
    """
    traces = Draft(stated, folder)
    traces.take_laws(traces=True)
    for name, error in instruments_of(stated).items():
        traces.laws[instrument_input(name)] = Normal(0.0, error)
    if "rotation.time" in stated and "rotation.angle" not in stated:
        stated.missing("rotation.angle", "how far the fastener turns back in that time")
    own = (BREAKAWAY, _PREVAILING)
    if any(path.startswith("investigation.") and path not in own for path in changed):
        words = "breakaway_ratio and prevailing_torque alone, in a suspect"
        stated.problems.add("investigation", None, words)
    return traces


def assume_traces(case: Case, traces: Draft, draft: Draft) -> None:
    """Add to the laws what holds where a suspect's case states nothing of it, and note it."""
    _assume_rotation(case, traces, draft)
    _assume_prevailing_torque(case, traces, draft)


def _assume_rotation(case: Case, traces: Draft, draft: Draft) -> None:
    """Let slip turn the fastener back, by the shipped law, where the case says how parts slip.

    Slip is no cause of its own: whatever has left too little preload ends in it.
    """
    if not case.may_slip or _ROTATION in traces.laws:
        return
    shipped = shipped_suspect(_SLIP)
    stated = LawOf(INPUT_KINDS[_ROTATION]).read(
        shipped.tables["rotation"]["angle"], _ROTATION, Problems()
    )
    assert stated is not None, "a shipped law can be read"
    assert stated.shared is not None, "a shipped law says what is in common"
    traces.laws[_ROTATION] = stated.law
    traces.shared[_ROTATION] = stated.shared
    mean, sd = (
        format_quantity(angle, ANGLE, digits=2) for angle in (stated.law.mean, stated.law.sd)
    )
    draft.assume(
        _ROTATION,
        f"{stated.law.kind}, mean {mean}, s.d. {sd}, under every suspect, where the preload that "
        f"is left lets the parts slip; as '{_SLIP}'",
        shipped.source,
    )


def _assume_prevailing_torque(case: Case, traces: Draft, draft: Draft) -> None:
    """Take a prevailing torque that use has worn for the torques of the inspection.

    It is no more than in tightening, and no less than the least of its standard on removal. What
    is stated as remaining in self-loosening is a lower end too: turning it off takes more (S.
    Eccles, PhD thesis, University of Central Lancashire, 2010).
    """
    law = case.laws.get("tightening.prevailing_torque")
    if law is None or law.mean <= 0.0 or _PREVAILING in traces.laws:
        return
    least, source = _least_prevailing_torque(case)
    if least < law.mean:
        traces.laws[_PREVAILING] = Uniform(least, law.mean)
        low, high = (Magnitude(torque, TORQUE) for torque in (least, law.mean))
        told = ("worn by use: from ", low, " to ", high, ", that of tightening")
        draft.assume(_PREVAILING, told, source)


def _least_prevailing_torque(case: Case) -> tuple[float, str]:
    """Return the least prevailing torque that use leaves [N·mm], and where it is from."""
    securing = case.joint.securing
    if securing is not None and securing.worn_torque is not None:
        return securing.worn_torque, "the worn one of the case; engineering judgement"
    try:
        # Of the inch sizes this kind has the lower limit; for metric ones both kinds are alike.
        limits = prevailing_torque(case.joint.thread, "insert")
    except ValueError:
        return 0.0, "no table has this size; engineering judgement"
    least = limits.smallest_first_removal
    assert least is not None, "every row has it"
    return least, limits.source
