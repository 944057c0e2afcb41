"""The tables that the program ships, each row with its source."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from preloadmc.case_file.shipped_suspects import library
from preloadmc.evidence import COUNT, OBSERVATIONS, READINGS, SERVICE_TIME, ReadingKind
from preloadmc.joint import METHODS
from preloadmc.mechanics import fatigue, losses
from preloadmc.mechanics.creep import creep_row, known_creep
from preloadmc.mechanics.friction_table import (
    friction_class,
    known_friction_classes,
    known_nut_factors,
    nut_factor_range,
)
from preloadmc.mechanics.grades import grade, grade_sizes, known_grades
from preloadmc.mechanics.materials import known_materials, material
from preloadmc.mechanics.prevailing_torque import NUT_KINDS, prevailing_torque
from preloadmc.mechanics.scatter_table import known_scatters, typical_scatter
from preloadmc.mechanics.securing import VIBRATION_TEST, known_securing_elements, securing_element
from preloadmc.mechanics.thread import known_threads, thread
from preloadmc.report.text.tables import aligned, paragraph
from preloadmc.units import (
    AREA,
    EXPANSION,
    LENGTH,
    SMALL_LENGTH,
    STRESS,
    TORQUE,
    Dimension,
    format_number,
    time_words,
    to_unit,
)

_MEMORY = "(value from memory)"

Rows = list[tuple[str, ...]]


def shipped_table(name: str, system: str = "metric") -> str:
    """Return a shipped table as text, with its sources numbered below it."""
    title, header, rows = TABLES[name](system)
    sources = list(dict.fromkeys(row[-1] for row in rows))
    numbered = [(*row[:-1], f"[{sources.index(row[-1]) + 1}]") for row in rows]
    lines = [
        title,
        "",
        *aligned((*header, "source"), numbered, len(header) if name in IN_WORDS else 1),
        "",
        *[
            line
            for place, source in enumerate(sources, 1)
            for line in paragraph(f"[{place}] {source}", "    ")
        ],
    ]
    return "\n".join(lines) + "\n"


def _number(value: float | None, dimension: Dimension, system: str, digits: int = 4) -> str:
    if value is None:
        return "-"
    return format_number(to_unit(value, dimension.unit(system), dimension), digits)


def _threads(system: str) -> tuple[str, tuple[str, ...], Rows]:
    source = "basic profile of ISO 68-1, ISO 724 and ASME B1.1; stress area ISO 898-1, ASME B1.1"
    length, area = LENGTH.unit(system), AREA.unit(system)
    rows: Rows = []
    for name in known_threads():
        found = thread(name)
        values = (found.diameter, found.pitch, found.pitch_diameter, found.core_diameter)
        rows.append(
            (
                name,
                *(_number(value, LENGTH, system) for value in values),
                _number(found.stress_area, AREA, system),
                source,
            )
        )
    header = ("thread", f"d [{length}]", "pitch", "pitch dia.", "core dia.", f"As [{area}]")
    return "Threads", header, rows


def _grades(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_grades():
        for above, largest in grade_sizes(name):
            found = grade(name, above + 1.0)
            end, source = largest, found.source
            if found.agreed_above is not None and largest > found.agreed_above:
                end = found.agreed_above
                source += f"; larger sizes as agreed between buyer and seller {_MEMORY}"
            values = (found.yield_strength, found.tensile_strength, found.proof_strength)
            rows.append(
                (
                    name,
                    _sizes(above, end, system),
                    *(_number(value, STRESS, system) for value in values),
                    source,
                )
            )
    unit = STRESS.unit(system)
    header = ("class or grade", "size", f"yield [{unit}]", "tensile", "proof")
    return "Property classes and grades, smallest strengths", header, rows


def _sizes(above: float, largest: float, system: str) -> str:
    unit = LENGTH.unit(system)
    low, high = (_number(value, LENGTH, system, 3) for value in (above, largest))
    return f"above {low} to {high} {unit}" if above else f"up to {high} {unit}"


def _materials(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = [
        (
            name,
            _number(found.modulus, STRESS, system),
            _number(found.expansion, EXPANSION, system, 3),
            _number(found.limiting_pressure, STRESS, system, 3),
            "yes" if found.modulus_table is not None else "no",
            found.source,
        )
        for name, found in ((name, material(name)) for name in known_materials())
    ]
    stress, expansion = STRESS.unit(system), EXPANSION.unit(system)
    header = (
        "material",
        f"E [{stress}]",
        f"exp. [{expansion}]",
        f"pressure [{stress}]",
        "E(T)",
    )
    return "Materials: modulus, expansion, limiting pressure", header, rows


def _frictions(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_friction_classes():
        found = friction_class(name)
        high = "or more" if found.high is None else f"{found.high:.2f}"
        rows.append((f"class {name}: {found.surfaces}", f"{found.low:.2f}", high, found.source))
    return "Friction in thread and under head", ("surface", "from", "to"), rows


def _nut_factors(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_nut_factors():
        found = nut_factor_range(name)
        mean = "-" if found.mean is None else f"{found.mean:.3g}"
        rows.append((name, f"{found.low:.3g}", mean, f"{found.high:.3g}", found.source))
    return "Nut factors of T = K F d", ("surface", "from", "mean", "to"), rows


def _scatters(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_scatters():
        found = typical_scatter(name)
        low, high = found.scatter_ratios
        rows.append(
            (
                name,
                _range(100 * found.low, 100 * found.high, ".3g"),
                _range(low, high, ".2f"),
                f"{found.source}; it does not say which share of fasteners the band holds",
            )
        )
    return "Typical scatter of assembled preload", ("name", "± [%]", "scatter ratio"), rows


def _creep(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_creep():
        found = creep_row(name)
        percents = (f"{100 * share:.3g}" for share in (found.rate, found.cov))
        rows.append((name, *percents, time_words(found.reference), found.source))
    header = ("material", "rate [% a decade]", "cov [%]", "reference")
    return "Creep over time: share of the preload lost in each decade of time", header, rows


def _range(low: float, high: float, form: str) -> str:
    """Return two ends in words, one where they are the same."""
    return f"{low:{form}}" if low == high else f"{low:{form}} to {high:{form}}"


def _embedding(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for roughness in losses.ROUGHNESS_CLASSES:
        for direction in losses.LOAD_DIRECTIONS:
            base = losses.embedding_total(roughness, direction, 1, 0, 0)
            seat = losses.embedding_total(roughness, direction, 1, 1, 0) - base
            inner = losses.embedding_total(roughness, direction, 1, 0, 1) - base
            rows.append(
                (
                    f"{roughness}, {direction} load",
                    *(_number(value, SMALL_LENGTH, system, 3) for value in (base, seat, inner)),
                    losses.EMBEDDING_SOURCE,
                )
            )
    unit = SMALL_LENGTH.unit(system)
    header = ("roughness Rz", f"thread [{unit}]", "each seat", "each interface")
    return "Embedding, guide values", header, rows


def _securing(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_securing_elements():
        found = securing_element(name)
        rows.append(
            (
                f"{name}: {found.note.removesuffix(VIBRATION_TEST).rstrip('; ')}",
                f"{found.extra_interfaces}",
                found.loosening,
                found.source,
            )
        )
    title = "Securing elements; under vibration, tests by DIN 25201-4 or ISO 16130 decide"
    return title, ("element", "interfaces", "holds by"), rows


def _fatigue(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = [
        (
            "rolled before heat treatment",
            size,
            _number(float(fatigue.rolled_before_heat_treatment(d)), STRESS, system, 3),
            fatigue.VDI_SOURCE,
        )
        for size, d in ((size, thread(size).diameter) for size in _FATIGUE_SIZES)
    ]
    rows += [
        (
            f"{name}, alternating load",
            _from_to(least, most, system),
            _number(limit, STRESS, system, 3),
            fatigue.TABLE_SOURCE,
        )
        for name, least, most, limit in fatigue.fully_corrected_rows()
    ]
    header = ("guide value", "size", f"amplitude [{STRESS.unit(system)}]")
    return "Endurance limits of threads, as amplitudes on the stress area", header, rows


def _from_to(least: float, most: float, system: str) -> str:
    unit = LENGTH.unit(system)
    low, high = (_number(value, LENGTH, system, 4) for value in (least, most))
    return f"{low} to {high} {unit}"


def _prevailing(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name in known_threads():
        for kind in NUT_KINDS:
            try:
                found = prevailing_torque(thread(name), kind)
            except ValueError:
                continue
            values = (
                found.largest_first_assembly,
                found.smallest_first_removal,
                found.smallest_fifth_removal,
            )
            rows.append(
                (f"{name}, {kind}", *(_number(v, TORQUE, system, 3) for v in values), found.source)
            )
    unit = TORQUE.unit(system)
    header = ("thread, nut", f"1st on, max [{unit}]", "1st off, min", "5th off, min")
    return "Prevailing torques", header, rows


def _methods(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = [
        (
            f"{method.name}: {'; '.join(control.words for control in needed)}",
            ", ".join(control.key for control in needed),
            _OWN,
        )
        for method in METHODS.values()
        for needed in [[control for control in method.controls if control.default is None]]
    ]
    return "Tightening methods", ("method: what it controls", "keys of [tightening]"), rows


def _evidence(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = [
        (name, f"{_reading(kind)}, or 'below ...' or 'above ...'", _OWN)
        for name, kind in READINGS.items()
    ]
    rows += [(name, kind.allowed, _OWN) for name, kind in OBSERVATIONS.items()]
    rows += [(COUNT, "'3 of 7', with a limit of preload", _OWN), (SERVICE_TIME, "a time", _OWN)]
    return "Kinds of field evidence", ("kind", "value"), rows


def _reading(kind: ReadingKind) -> str:
    if kind.of_tool:
        return "the torque delivered over that set, less 1, such as '-12 %'"
    return kind.dimension.with_article


def _suspects(system: str) -> tuple[str, tuple[str, ...], Rows]:
    rows: Rows = []
    for name, tables in library().items():
        changes = [
            f"{section}.{key}"
            for section, keys in tables.items()
            if isinstance(keys, Mapping)
            for key in keys
        ]
        words = f"{name}: {tables['note']}; changes {', '.join(changes)}"
        rows.append((words, tables["source"]))
    return "Suspects of loosened joints", ("suspect",), rows


# Sizes for which the rule of VDI 2230 is printed.
_FATIGUE_SIZES = ("M6", "M8", "M10", "M12", "M16", "M20", "M24", "M30", "M36")
# Tables whose columns hold words, not numbers.
IN_WORDS = ("methods", "evidence", "suspects")
# How a user tells the program things; no source outside.
_OWN = "this program's case file"

_Table = Callable[[str], tuple[str, tuple[str, ...], Rows]]

TABLES: dict[str, _Table] = {
    "threads": _threads,
    "grades": _grades,
    "materials": _materials,
    "friction": _frictions,
    "nut-factors": _nut_factors,
    "scatter": _scatters,
    "creep": _creep,
    "embedding": _embedding,
    "securing": _securing,
    "fatigue": _fatigue,
    "prevailing": _prevailing,
    "methods": _methods,
    "evidence": _evidence,
    "suspects": _suspects,
}
