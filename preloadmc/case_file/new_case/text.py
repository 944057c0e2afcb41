"""The text of a case file made of answers: units as they were typed, comments beside."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from preloadmc.case_file.new_case.answers import NONE, Answers
from preloadmc.case_file.new_case.heads import HEADS, face_of_standard
from preloadmc.case_file.new_case.lookup import friction_of
from preloadmc.case_file.new_case.reading import CLAMP, ELONGATION, EMBEDDING, OF_YIELD
from preloadmc.case_file.new_case.typed import is_number, pieces, quoted, toml
from preloadmc.joint import METHODS
from preloadmc.mechanics.thread import thread

_WIDTH = 100
# Keys of [fastener] that are quantities, in the order of the file.
_STRENGTHS = ("yield_strength", "tensile_strength", "plastic_strain")
_FACES = (
    "bearing_outer_diameter",
    "hole_diameter",
    "seat_half_angle",
    "nut_bearing_outer_diameter",
)
_ENGAGED = ("engagement", "mate_tensile_strength")


def case_text(answers: Answers) -> str:
    """Return a case file with comments that say what to replace by tests.

    Parameters
    ----------
    answers : Answers
        To every question that applies, as `questions.filled` returns them.
    """
    sections = (
        _opening(answers),
        _fastener(answers),
        _clamped(answers),
        _friction(answers),
        _tightening(answers),
        _settling(answers),
        _temperature(answers),
        _load(answers),
        _requirement(answers),
        ("[sampling]", "samples = 1_000_000", "seed = 1"),
    )
    return "\n".join("\n".join((*lines, "")) for lines in map(tuple, sections) if lines)


def _opening(answers: Answers) -> Iterator[str]:
    yield f"# {answers.one('title')}"
    yield "# Written by `preloadmc new`; read with `preloadmc check`, run with `preloadmc run`."
    yield "# Every quantity carries its unit; any of them may be a law, such as"
    yield '#   { law = "normal", mean = "11 um", sd = "2 um" }      or cov = "10 %" in place of sd'
    yield f"title = {quoted(answers.one('title'))}"


def _fastener(answers: Answers) -> Iterator[str]:
    yield "[fastener]"
    yield f"thread = {quoted(answers.one('thread'))}"
    if answers.one("property_class"):
        yield f"property_class = {quoted(answers.one('property_class'))}"
    yield from _quantities(answers, _STRENGTHS)
    head = answers.one("head") or NONE
    if head != "hexagon":
        beside = f"  # {head}" if HEADS.get(head, head) != head else ""
        beside = "  # a stud, with a nut in its place" if head == NONE else beside
        yield f"head = {quoted(HEADS.get(head, head))}{beside}"
    for line in _quantities(answers, _FACES):
        yield f"{line}{_face_source(answers)}" if line.startswith(_FACES[0]) else line
    if answers.one("mate") == "tapped hole":
        yield 'mate = "tapped hole"'
        yield f"mate_material = {quoted(answers.one('mate_material'))}"
        if answers.one("mate_tensile_strength"):
            yield from _quantities(answers, _ENGAGED)
        else:
            yield f"# engagement = {toml(answers.one('engagement'))}"
            yield '# mate_tensile_strength = "..."  # with both, thread stripping is judged'


def _face_source(answers: Answers) -> str:
    """Return a comment on a face that is the least of a standard; empty for others."""
    row = face_of_standard(answers.one("head"), thread(answers.one("thread")))
    if row is None or answers.one(_FACES[0]) != f"{row[0]:g} mm":
        return ""
    return f"  # the least of {row[1]} (value from memory)"


def _clamped(answers: Answers) -> Iterator[str]:
    yield from _comment(
        "One [[clamped]] table for each part, from the head on, washers included: each joins the "
        "next at an interface that embeds."
    )
    for place, text in enumerate(answers.all("part")):
        material, *lengths = pieces(text)
        yield from ("", "[[clamped]]") if place else ("[[clamped]]",)
        yield f"material = {quoted(material)}"
        for key, length in zip(("thickness", "outer_diameter"), lengths, strict=False):
            yield f"{key} = {toml(length)}"


def _friction(answers: Answers) -> Iterator[str]:
    found = friction_of(answers.one("friction"))
    for comment in found.comments:
        yield from _comment(comment)
    yield "[friction]"
    for key, value in found.keys.items():
        yield f"{key} = {value}"
    if answers.one("joint_friction") and "joint" not in found.keys:
        value = toml(answers.one("joint_friction"))
        yield f"joint = {value}  # between the parts, where they would slip"


def _tightening(answers: Answers) -> Iterator[str]:
    method = METHODS[answers.one("method")]
    yield "[tightening]"
    yield f"method = {quoted(method.name)}"
    for control in method.controls:
        if control.key in answers:
            yield f"{control.key} = {toml(answers.one(control.key))}"
    tool = answers.one("tool")
    if tool.startswith("cov "):
        yield f'tool = {{ law = "normal", cov = {toml(tool.removeprefix("cov "))} }}'
    elif tool.startswith("{"):
        yield f"tool = {tool}"
    elif tool:
        tolerance, coverage = pieces(tool)
        yield from _comment(
            'What the tolerance covers: "2 sd" reads it as ±2 standard deviations, "rectangular" '
            "as a bound."
        )
        yield f"tool = {{ tolerance = {toml(tolerance)}, coverage = {quoted(coverage)} }}"


def _settling(answers: Answers) -> Iterator[str]:
    found = answers.one("roughness")
    if found and not found.startswith((EMBEDDING, "{")):
        direction = "axial" if answers.one("axial") and not answers.one("transverse") else ""
        direction = direction or "transverse"
        yield from _comment(
            "Guide values of VDI 2230 (from memory) for bare steel; the scatter and the relaxation "
            "are assumptions of yours."
        )
        embedding = f'roughness = {quoted(found)}, load_direction = "{direction}", cov = "30 %"'
        yield from ("[settling]", f"embedding = {{ {embedding} }}")
    else:
        yield from (*_comment("The relaxation is an assumption of yours."), "[settling]")
        if found:
            yield f"embedding = {toml(found.removeprefix(EMBEDDING).strip())}"
    yield 'relaxation = "5 %"'


def _temperature(answers: Answers) -> Iterator[str]:
    states = answers.all("state")
    if not states:
        warm = ("68 degF", "200 degF") if answers.system == "inch" else ("20 degC", "90 degC")
        yield from _comment("Remove the # for a state of service at another temperature.")
        yield from ("# [temperature]", f'# assembly = "{warm[0]}"', "# [[temperature.state]]")
        yield from ('# name = "hot"', f'# fastener = "{warm[1]}"', f'# clamped = "{warm[1]}"')
        return
    yield from ("[temperature]", f"assembly = {toml(answers.one('assembly'))}")
    for text in states:
        name, fastener, parts = pieces(text)
        yield from ("", "[[temperature.state]]", f"name = {quoted(name)}")
        yield from (f"fastener = {toml(fastener)}", f"clamped = {toml(parts)}")


def _load(answers: Answers) -> Iterator[str]:
    if answers.one("axial") or answers.one("transverse"):
        yield "[load]  # on one fastener"
        yield from _quantities(answers, ("axial", "transverse"))


def _requirement(answers: Answers) -> Iterator[str]:
    yield "[requirement]"
    need = answers.one("needs")
    if need.startswith(CLAMP):
        yield f"minimum_clamp = {toml(need.removeprefix(CLAMP).strip())}"
    elif is_number(need) or need.startswith("{"):
        yield f'minimum_preload = {toml(need)}  # or {{ from = "no slip" }}, with [load]'
    else:
        yield f"minimum_preload = {{ from = {quoted(need)} }}"
    most = answers.one("maximum")
    if most.startswith(ELONGATION):
        yield f"maximum_plastic_elongation = {toml(most.removeprefix(ELONGATION).strip())}"
    elif most.endswith(OF_YIELD):
        share = toml(most.removesuffix(OF_YIELD).strip())
        yield f'maximum_preload = {{ from = "yield", fraction = {share} }}'
    else:
        yield f"maximum_preload = {toml(most)}"
    yield from _quantities(answers, ("allowed_under", "allowed_over"))


def _quantities(answers: Answers, keys: tuple[str, ...]) -> Iterator[str]:
    """Yield the lines of the quantities that are stated."""
    for key in keys:
        if answers.one(key):
            yield f"{key} = {toml(answers.one(key))}"


def _comment(text: str) -> Iterator[str]:
    for line in textwrap.wrap(text, _WIDTH - 2, break_on_hyphens=False, break_long_words=False):
        yield f"# {line}"
