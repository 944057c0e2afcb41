"""What a question offers as an answer: examples that fit what was answered before."""

from __future__ import annotations

import math
from typing import NamedTuple

from preloadmc.case_file.new_case.answers import NONE, Answers
from preloadmc.case_file.new_case.heads import usual_face
from preloadmc.case_file.new_case.lookup import friction_of
from preloadmc.case_file.new_case.typed import table_of
from preloadmc.joint import METHODS
from preloadmc.mechanics.grades import grade
from preloadmc.mechanics.scatter_table import typical_scatter
from preloadmc.mechanics.stress import yield_preload
from preloadmc.mechanics.thread import Thread, thread
from preloadmc.mechanics.tightening import (
    equal_friction_from_torque_per_preload,
    torque_per_preload,
)
from preloadmc.units import (
    ANGLE,
    FORCE,
    LENGTH,
    RATIO,
    SMALL_LENGTH,
    STRESS,
    TORQUE,
    Dimension,
    parse_quantity,
    to_unit,
)

# A preload of about 60 % of yield, or 80 % of that with torsion where friction is high, and half of
# it as the least needed: examples to be replaced, not recommendations.
_SHARE_OF_YIELD, _SHARE_WITH_TORSION = 0.6, 0.8
# Where the answer does not tell it: about the middle of class B of VDI 2230-1.
_FRICTION = 0.12
_NEEDED_SHARE = 0.5
JOINT_FRICTION = "0.15"
# Of a usual hole (medium series of ISO 273, about, from memory) and of each of two parts, over the
# diameter of the thread.
_HOLE, _PART = 1.1, 1.25
# Of steel, for the elongation and the angle that go with a preload; parts take about half as much.
_MODULUS = 205e3
_PARTS_TOO = 1.5
# How far an angle is read off: common practice, no published source.
_ANGLE_SD = "2 deg"
# What a snug torque makes of the preload; the angle makes the rest.
_SNUG = 0.4
# What a tensioner leaves of its force, as it is offered too.
_TRANSFER = 0.8


class Size(NamedTuple):
    """What examples go by: the thread, a preload [N], and how a quantity is written."""

    thread: Thread
    preload: float
    system: str

    def written(self, value: float, dimension: Dimension, digits: int = 2) -> str:
        """Return a quantity, rounded, in the units of the examples."""
        unit = dimension.unit(self.system)
        return f"{float(f'{to_unit(value, unit, dimension):.{digits}g}'):.6g} {unit}"


def example_thread(answers: Answers) -> str:
    """Return a thread to begin with."""
    return "1/2-13 UNC" if answers.system == "inch" else "M12"


def example_class(answers: Answers) -> str:
    """Return a usual property class, of the series of the thread."""
    return "SAE 5" if _thread(answers).unit_system == "inch" else "8.8"


def size(answers: Answers) -> Size:
    """Return what examples go by; ValueError for a class that the thread does not come in."""
    found = _thread(answers)
    strength = _yield_strength(answers, found)
    with_torsion = yield_preload(
        found.stress_area,
        found.stress_diameter,
        found.pitch,
        found.pitch_diameter,
        thread_friction=_frictions(answers, found)[0],
        yield_strength=strength,
        prevailing_torque=0.0,
        torsion_share=1.0,
    )
    most = _SHARE_WITH_TORSION * float(with_torsion)
    preload = min(_SHARE_OF_YIELD * strength * found.stress_area, most)
    return Size(found, preload, answers.system)


def _thread(answers: Answers) -> Thread:
    return thread(answers.one("thread") or example_thread(answers))


def _yield_strength(answers: Answers, found: Thread) -> float:
    stated = answers.one("yield_strength")
    if stated.startswith("{"):
        stated = str(table_of(stated)[1].get("mean", ""))
    try:
        return parse_quantity(stated, STRESS)
    except ValueError:  # none stated, or by a law without a mean
        name = answers.one("property_class") or example_class(answers)
        return grade(name, found.diameter).yield_strength


def example_face(answers: Answers) -> str:
    """Return the usual face of a head of this kind."""
    found = size(answers)
    return found.written(usual_face(answers.one("head") or NONE, found.thread), LENGTH, 4)


def example_nut_face(answers: Answers) -> str:
    """Return the usual face of a nut."""
    found = size(answers)
    return found.written(usual_face(NONE, found.thread), LENGTH, 3)


def example_hole(answers: Answers) -> str:
    """Return the usual hole."""
    found = size(answers)
    return found.written(_HOLE * found.thread.diameter, LENGTH, 3)


def example_engagement(answers: Answers) -> str:
    """Return an engaged length of one diameter."""
    found = size(answers)
    return found.written(found.thread.diameter, LENGTH, 3)


def example_part(answers: Answers) -> str:
    """Return one of two parts that make a usual grip."""
    found = size(answers)
    return f"steel, {found.written(_PART * found.thread.diameter, LENGTH, 2)}"


def example_control(answers: Answers, key: str) -> str:
    """Return a setting of the tightening method that makes about the preload of the examples."""
    found = size(answers)
    of_thread, of_face = _frictions(answers, found.thread)
    torque = found.preload * float(
        torque_per_preload(
            found.thread.pitch,
            found.thread.pitch_diameter,
            of_thread,
            of_face,
            _under_head(found.thread),
        )
    )
    stretch = found.preload * _grip(answers) / (_MODULUS * found.thread.stress_area)
    if key == "torque" and answers.one("method") == "torque then angle":
        return found.written(_SNUG * torque, TORQUE)
    if key == "torque":
        return found.written(torque, TORQUE)
    if key == "angle":  # what the snug torque leaves to do, by the pitch
        turned = (1.0 - _SNUG) * _PARTS_TOO * stretch / found.thread.pitch * 2.0 * math.pi
        mean = found.written(turned, ANGLE)
        return f'{{ law = "normal", mean = "{mean}", sd = "{_ANGLE_SD}" }}'
    if key == "pump_force":
        return found.written(found.preload / _TRANSFER, FORCE)
    if key == "transfer_ratio":
        return f'{{ law = "normal", mean = {_TRANSFER}, cov = "4 %" }}'
    if key == "detector_ratio":
        return '{ law = "triangular", low = 0.96, mode = 1.0, high = 1.06 }'
    if key == "elongation":
        return found.written(stretch, SMALL_LENGTH)
    return f'{{ law = "normal", mean = "{found.written(found.preload, FORCE)}", cov = "12 %" }}'


def example_tool(answers: Answers) -> str:
    """Return a usual tolerance of a tool: of a method that has a typical scatter, its least."""
    row = METHODS[answers.one("method") or "torque"].typical_scatter
    if not row:
        return "6 %, 2 sd"
    return f"{math.ceil(100.0 * typical_scatter(row).low)} %, 3 sd"


def _frictions(answers: Answers, found: Thread) -> tuple[float, float]:
    """Return about the frictions of thread and bearing that were answered, or usual ones."""
    keys = friction_of(answers.one("friction")).keys if "friction" in answers else {}
    factor = _about(keys.get("nut_factor", ""))
    if factor is not None:
        equal = equal_friction_from_torque_per_preload(
            factor * found.diameter, found.pitch, found.pitch_diameter, _under_head(found)
        )
        return float(equal), float(equal)
    in_thread, bearing = (_about(keys.get(key, "")) for key in ("thread", "bearing"))
    return in_thread or _FRICTION, bearing or _FRICTION


def _under_head(found: Thread) -> float:
    """Return about the mean diameter of the face under a hexagon head [mm]."""
    return (usual_face("hexagon", found) + _HOLE * found.diameter) / 2.0


def _about(value: str) -> float | None:
    """Return about the mean of a value of the case file; None where its keys do not tell it."""
    if not value:
        return None
    stated = table_of(f"value = {value}")[1]["value"]
    if isinstance(stated, dict):
        ends = [stated[key] for key in ("low", "mode", "high") if key in stated]
        each = [stated["mean"]] if "mean" in stated else ends
    else:
        each = [stated]
    try:
        return sum(parse_quantity(one, RATIO) for one in each) / len(each) if each else None
    except ValueError:  # in words that only the reader of laws understands
        return None


def _grip(answers: Answers) -> float:
    """Return about the length that stretches: the parts, and half a diameter at each end [mm]."""
    parts = (text.split(", ")[1] for text in answers.all("part"))
    return _thread(answers).diameter + sum(parse_quantity(part, LENGTH) for part in parts)


def example_need(answers: Answers) -> str:
    """Return a least preload."""
    found = size(answers)
    return found.written(_NEEDED_SHARE * found.preload, FORCE)


def example_axial(answers: Answers) -> str:
    """Return an axial load where what is needed asks for one."""
    found = size(answers)
    wanted = answers.one("needs") == "no separation" or answers.one("needs").startswith("clamp")
    return found.written(0.3 * found.preload, FORCE) if wanted else NONE


def example_transverse(answers: Answers) -> str:
    """Return a transverse load where what is needed asks for one."""
    found = size(answers)
    if answers.one("needs") != "no slip":
        return NONE
    return found.written(_NEEDED_SHARE * float(JOINT_FRICTION) * found.preload, FORCE)


def example_assembly(answers: Answers) -> str:
    """Return a temperature at assembly."""
    return "68 degF" if answers.system == "inch" else "20 degC"
