"""The section [settling]: embedding as a guide value by roughness and interfaces."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field, Form
from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.case_file.word_kinds import Word
from preloadmc.chance.laws import Constant, Law, LogNormal
from preloadmc.inputs import Default
from preloadmc.mechanics import losses
from preloadmc.mechanics.fastener import NO_HEAD
from preloadmc.mechanics.securing import SecuringElement
from preloadmc.told import Magnitude
from preloadmc.units import RATIO, SMALL_LENGTH

FIELDS = (Field("settling", Table(), "preload lost after tightening"),)
_EMBEDDING = "settling.embedding"
_ROUGHNESS, _DIRECTION = f"{_EMBEDDING}.roughness", f"{_EMBEDDING}.load_direction"
_COATED = f"{_EMBEDDING}.coated_interfaces"
_COATING, _COV = f"{_EMBEDDING}.per_coated_interface", f"{_EMBEDDING}.cov"


def _from_roughness(draft: Draft) -> Law | None:
    """Return embedding by roughness class, load direction and number of interfaces."""
    stated = draft.stated
    roughness, direction = stated.get(_ROUGHNESS, str), stated.get(_DIRECTION, str)
    coated = stated.known(_COATED, int)
    coating, cov = stated.get(_COATING, float), stated.get(_COV, float)
    if coated and _COATING not in stated:
        stated.missing(_COATING, "what each coated interface embeds on top")
    if roughness is None or direction is None:
        return None
    layers = len(stated.each("clamped"))
    if not layers:
        stated.problem(_ROUGHNESS, "the [[clamped]] layers, which tell the number of interfaces")
        return None
    states = stated.each("temperature.state")
    transverse = ["load.transverse", *(f"{state}.transverse" for state in states)]
    if direction == "axial" and any(path in stated for path in transverse):
        draft.warnings.append(
            f"{_DIRECTION} is axial, while a transverse load is stated: under both loads the guide "
            "values are those of the transverse one, which are larger."
        )
    through = stated.known("fastener.mate", str) == "nut"
    element = stated.get("securing.element", SecuringElement)
    seats = 2 if through else 1
    # The last interface of a tapped joint lies on the tapped part, which is no layer.
    inner = layers - 1 if through else layers
    inner += 0 if element is None else element.extra_interfaces
    threads = 2 if stated.known("fastener.head", str) == NO_HEAD else 1
    value = losses.embedding_total(roughness, direction, threads, seats, inner)
    value += coated * (coating or 0.0)
    engaged = "thread" if threads == 1 else f"{threads} threads"
    extra = f" and {coated} coated {_plural('interface', coated)}" if coated else ""
    within = f"{seats} {_plural('seat', seats)}, {inner} inner {_plural('interface', inner)}"
    scatter = "without scatter" if cov is None else f"lognormal with the given cov {100 * cov:g} %"
    draft.assume(
        _EMBEDDING,
        (Magnitude(value, SMALL_LENGTH), f": {engaged}, {within}{extra}; {scatter}"),
        losses.EMBEDDING_SOURCE,
    )
    return Constant(value) if cov is None else LogNormal(value, cov * value)


def _plural(noun: str, count: int) -> str:
    return noun if count == 1 else f"{noun}s"


EMBEDDING_BY_ROUGHNESS = Form(
    _EMBEDDING,
    "roughness",
    (
        Field(
            _ROUGHNESS,
            Word(losses.ROUGHNESS_CLASSES),
            "roughness Rz of the interfaces, for a guide value of VDI 2230",
            '"10 to 40 um"',
        ),
        Field(
            _DIRECTION,
            Word(losses.LOAD_DIRECTIONS),
            "direction of the working load",
            '"transverse"',
            needed=True,
        ),
        Field(
            _COATED, Whole(0, 20), "number of coated interfaces", "2", Default(0, "0: none coated")
        ),
        Field(
            _COATING,
            Quantity(SMALL_LENGTH, low=0.0),
            "what each coated interface embeds on top",
            '"4 um"',
        ),
        Field(
            _COV,
            Quantity(RATIO, above=0.0, high=2.0),
            "scatter of the guide value, of your own",
            '"30 %"',
        ),
    ),
    _from_roughness,
)
