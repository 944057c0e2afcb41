"""What a new case asks, in the order of asking, and how each answer is read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import NamedTuple

from preloadmc.case_file.new_case import examples, reading
from preloadmc.case_file.new_case.answers import NONE, Answers
from preloadmc.case_file.new_case.heads import HEADS, head
from preloadmc.case_file.new_case.lookup import friction_answer, friction_words, material_name
from preloadmc.case_file.new_case.reading import one_text
from preloadmc.case_file.new_case.typed import (
    printable,
    quantity,
    quantity_or_none,
    share_words,
    word,
)
from preloadmc.inputs import INPUT_KINDS
from preloadmc.joint import METHODS
from preloadmc.mechanics.fastener import MATE_LENGTHS
from preloadmc.mechanics.thread import thread
from preloadmc.units import FORCE, LENGTH, RATIO, STRESS

METHOD = "method"
# Heads whose face is not about that of a nut.
_UNLIKE_A_NUT = ("socket", "flange", "countersunk")
# Quantities within the words of questions, by unit system.
_SUCH_AS = {
    "metric": {
        "clamp": "12 kN",
        "loads": "6 kN, 3 kN",
        "embedding": "8 um",
        "elongation": "200 um",
        "strengths": "940 MPa, 1040 MPa",
        "strength": "250 MPa",
        "warm": "90 degC, 95 degC",
        "part": "steel, 12 mm",
    },
    "inch": {
        "clamp": "2700 lbf",
        "loads": "1300 lbf, 700 lbf",
        "embedding": "0.3 mil",
        "elongation": "8 mil",
        "strengths": "130 ksi, 150 ksi",
        "strength": "36 ksi",
        "warm": "190 degF, 200 degF",
        "part": "steel, 1/2 in",
    },
}
Given = Mapping[str, str]


class Question(NamedTuple):
    """One question, which is an option of the same name.

    ``read`` returns the answers that a text gives, by name: its own, and others that it holds
    besides. ``example`` is offered, and stands where nobody answers. ``paths`` are the keys of the
    case file that it fills. ``shown`` says an answer in words. ``many``: asked until the answer is
    empty.
    """

    key: str
    words: str
    example: Callable[[Answers], str]
    read: Callable[[str], Given]
    paths: tuple[str, ...]
    applies: Callable[[Answers], bool] = lambda _: True
    shown: Callable[[str], str] = str
    many: bool = False

    @property
    def option(self) -> str:
        """Return its option."""
        return f"--{self.key.replace('_', '-')}"


class Prompt(NamedTuple):
    """Questions that are asked in one line, and answered with commas between."""

    words: str
    questions: tuple[Question, ...]


def _asked(
    key: str,
    words: str,
    example: str | Callable[[Answers], str],
    read: Callable[[str], Given],
    paths: tuple[str, ...],
    applies: Callable[[Answers], bool] = lambda _: True,
    shown: Callable[[str], str] = str,
    many: bool = False,
) -> Prompt:
    """Return a prompt of a single question."""
    offered = (lambda _: example) if isinstance(example, str) else example
    return Prompt(words, (Question(key, words, offered, read, paths, applies, shown, many),))


def _is_tapped(answers: Answers) -> bool:
    return answers.one("mate") == "tapped hole"


def _passes_yield(answers: Answers) -> bool:
    """Return whether the fastener is meant to be tightened past yield."""
    found = METHODS[answers.one(METHOD)]
    return found.passes_yield and (
        found.elastic is None or reading.is_past_yield(answers.one("maximum"))
    )


def _controls(key: str, answers: Answers) -> bool:
    """Return whether the tightening method needs a setting."""
    found = METHODS[answers.one(METHOD)]
    return any(control.key == key and control.default is None for control in found.controls)


def _control_prompts() -> Iterator[Prompt]:
    """Yield a prompt for every quantity that some method controls and the case must state."""
    seen = set()
    for method in METHODS.values():
        for control in method.controls:
            if control.default is None and control.key not in seen:
                seen.add(control.key)
                kind = INPUT_KINDS[control.input]
                words = kind.meaning[0].upper() + kind.meaning[1:]
                yield _asked(
                    control.key,
                    words,
                    partial(examples.example_control, key=control.key),
                    read=one_text(control.key, partial(quantity, dimension=kind.dimension)),
                    paths=(control.input,),
                    applies=partial(_controls, control.key),
                )


def _length(
    key: str,
    words: str,
    example: Callable[[Answers], str],
    applies: Callable[[Answers], bool] = lambda _: True,
) -> Question:
    read = one_text(key, partial(quantity, dimension=LENGTH))
    return Question(key, words, example, read, (f"fastener.{key}",), applies)


def _load(key: str, words: str, example: Callable[[Answers], str]) -> Question:
    read = one_text(key, partial(quantity_or_none, dimension=FORCE))
    return Question(key, words, example, read, (f"load.{key}",))


def _allowed(key: str, words: str) -> Question:
    read = one_text(key, partial(quantity, dimension=RATIO))
    paths = (f"requirement.{key}",)
    # A side that is not answered is not as the other one: 1 says that a side does not matter.
    return Question(key, words, lambda _: "0.1 %", read, paths, shown=share_words)


PROMPTS: tuple[Prompt, ...] = (
    _asked(
        "title",
        "What the joint is called",
        "My joint",
        read=one_text("title", printable),
        paths=("title",),
    ),
    _asked(
        "thread",
        "Thread, such as M12, M12x1.25 or 1/2-13 UNC",
        examples.example_thread,
        read=one_text("thread", reading.thread_name),
        paths=("fastener.thread",),
    ),
    _asked(
        "property_class",
        "Property class or grade (10.9, A2-70, SAE 5), or yield and tensile strength ({strengths})",
        examples.example_class,
        read=reading.strengths,
        paths=("fastener.property_class", "fastener.yield_strength", "fastener.tensile_strength"),
        applies=lambda answers: "yield_strength" not in answers,
    ),
    _asked(
        "head",
        f"Head: {', '.join(HEADS)}, or {NONE} for a stud",
        "hexagon",
        read=one_text("head", head),
        paths=("fastener.head",),
    ),
    Prompt(
        "Diameter of the face under the head (of a stud: the nut), and of the hole",
        (
            _length(
                "bearing_outer_diameter",
                "Outer diameter of the face under the head",
                examples.example_face,
            ),
            _length("hole_diameter", "Diameter of the hole", examples.example_hole),
        ),
    ),
    _asked(
        "seat_half_angle",
        "Half angle of the countersunk seat",
        lambda answers: "41 deg" if answers.system == "inch" else "45 deg",
        read=one_text("seat_half_angle", reading.angle),
        paths=("fastener.seat_half_angle",),
        applies=lambda answers: answers.one("head") == "countersunk",
    ),
    _asked(
        "mate",
        "Screwed into: nut (a through-bolt) or tapped hole",
        "nut",
        read=one_text("mate", partial(word, words=MATE_LENGTHS)),
        paths=("fastener.mate",),
    ),
    Prompt(
        "Outer diameter of the face of the nut",
        (
            _length(
                "nut_bearing_outer_diameter",
                "Outer diameter of the face of the nut",
                examples.example_nut_face,
                lambda answers: answers.one("head") in _UNLIKE_A_NUT and not _is_tapped(answers),
            ),
        ),
    ),
    Prompt(
        "Tapped part: its material, the engaged length, its tensile strength ({strength}) if known",
        (
            Question(
                "mate_material",
                "Material of the tapped part",
                lambda _: "steel",
                one_text("mate_material", material_name),
                ("fastener.mate_material",),
                _is_tapped,
            ),
            _length(
                "engagement",
                "Length of the engaged thread",
                examples.example_engagement,
                applies=_is_tapped,
            ),
            Question(
                "mate_tensile_strength",
                "Tensile strength of the tapped part, for thread stripping",
                lambda _: NONE,
                one_text("mate_tensile_strength", partial(quantity_or_none, dimension=STRESS)),
                ("fastener.mate_tensile_strength",),
                _is_tapped,
            ),
        ),
    ),
    _asked(
        "part",
        "Part{n} from the head on: material, thickness, outer diameter if small ({part})",
        examples.example_part,
        read=one_text("part", reading.part),
        paths=("clamped",),
        many=True,
    ),
    _asked(
        "friction",
        "Friction: lubricant or surface (oil, MoS2, zinc, ...), class A to E, number, or law",
        "B",
        read=one_text("friction", friction_answer),
        paths=("friction",),
        shown=friction_words,
    ),
    _asked(
        METHOD,
        f"Tightened by: a set torque, or the method: {', '.join(METHODS)}",
        partial(examples.example_control, key="torque"),
        read=reading.method,
        paths=("tightening",),
    ),
    *_control_prompts(),
    _asked(
        "tool",
        "Tool: its tolerance and what that covers (2 sd, rectangular, 95 %), or cov 3 %",
        examples.example_tool,
        read=one_text("tool", reading.tool),
        paths=("tightening.tool",),
        applies=lambda answers: METHODS[answers.one(METHOD)].has_tool,
    ),
    _asked(
        "roughness",
        "Roughness Rz of the faces: below 10 um, 10 to 40 um, 40 to 160 um; or embedding "
        "{embedding}",
        "10 to 40 um",
        read=one_text("roughness", reading.roughness),
        paths=("settling.embedding",),
    ),
    _asked(
        "needs",
        "What is needed: a preload, clamp force {clamp}, no slip, no separation or structural "
        "preloading",
        examples.example_need,
        read=one_text("needs", reading.need),
        paths=("requirement.minimum_preload", "requirement.minimum_clamp"),
    ),
    Prompt(
        "Axial and transverse load on one fastener ({loads})",
        (
            _load("axial", "Axial load on one fastener", examples.example_axial),
            _load("transverse", "Transverse load on one fastener", examples.example_transverse),
        ),
    ),
    _asked(
        "joint_friction",
        "Friction between the parts, where they would slip",
        examples.JOINT_FRICTION,
        read=one_text("joint_friction", partial(quantity, dimension=RATIO)),
        paths=("friction.joint",),
        applies=lambda answers: bool(answers.one("transverse")),
    ),
    _asked(
        "state",
        "Temperature{n} in service: name, fastener, parts (hot, {warm})",
        NONE,
        read=one_text("state", reading.state),
        paths=("temperature.state",),
        many=True,
    ),
    _asked(
        "assembly",
        "Temperature at assembly",
        examples.example_assembly,
        read=one_text("assembly", reading.temperature),
        paths=("temperature.assembly",),
        applies=lambda answers: bool(answers.one("state")),
    ),
    _asked(
        "maximum",
        "Largest preload: a share of yield, a force, or plastic elongation {elongation}",
        reading.example_maximum,
        read=one_text("maximum", reading.maximum),
        paths=("requirement.maximum_preload", "requirement.maximum_plastic_elongation"),
    ),
    _asked(
        "plastic_strain",
        "Plastic strain at the tensile strength, from a tensile test",
        "6 %",
        read=one_text("plastic_strain", partial(quantity, dimension=RATIO)),
        paths=("fastener.plastic_strain",),
        applies=_passes_yield,
    ),
    Prompt(
        "Allowed probability of too little preload, and of too much",
        (
            _allowed("allowed_under", "Allowed probability of too little preload"),
            _allowed("allowed_over", "Allowed probability of too much preload"),
        ),
    ),
)


def said(words: str, system: str, place: int | None = None) -> str:
    """Return the words of a question, with quantities of a unit system and a place in a list."""
    return words.format(n="" if place is None else f" {place}", **_SUCH_AS[system])


def questions() -> Iterator[Question]:
    """Yield every question, in the order of asking."""
    for prompt in PROMPTS:
        yield from prompt.questions


def resolved(answers: Answers, question: Question, text: str) -> str:
    """Return an answer that goes by others, as a length in diameters does, without them."""
    if question.key != "engagement":
        return text
    found = thread(answers.one("thread") or examples.example_thread(answers))
    return reading.engagement(text, found.diameter, LENGTH.unit(answers.system))


def with_answer(answers: Answers, question: Question, text: str) -> Answers:
    """Return answers with one more, as it is read; one of several joins those before it.

    Raises
    ------
    ValueError
        In words: what is allowed, and the nearest spelling.
    """
    read: dict[str, tuple[str, ...]] = {
        key: (each,) for key, each in question.read(resolved(answers, question, text)).items()
    }
    if question.many and question.key in answers:
        read[question.key] = (*answers.all(question.key), *read[question.key])
    return answers.having(read)


def filled(answers: Answers) -> Answers:
    """Return answers with the examples in place of those that are missing."""
    for question in questions():
        if question.applies(answers) and question.key not in answers:
            answers = with_example(answers, question)
    return answers


def with_example(answers: Answers, question: Question) -> Answers:
    """Return answers with the example of a question: of parts, it takes two."""
    text = question.example(answers)
    if question.many and text == NONE:
        return answers.having({question.key: ()})
    found = with_answer(answers, question, text)
    return with_answer(found, question, text) if question.many else found


def method_of_controls(given: Mapping[str, object]) -> str | None:
    """Return the tightening method that the given settings are of; None where none is given."""
    keys = {control.key for method in METHODS.values() for control in method.controls}
    stated = keys & given.keys()
    for method in METHODS.values():
        if stated and stated <= {control.key for control in method.controls}:
            return method.name
    return None
