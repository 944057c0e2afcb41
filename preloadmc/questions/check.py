"""What does this case say? Its laws and defaults in words, and the joint at nominal values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.chance.dependence import induced_correlations
from preloadmc.chance.laws import Constant, Tabulated
from preloadmc.inputs import ALONG, input_label
from preloadmc.joint import (
    ALL_TIGHTENED,
    evaluate,
    temperature_of_fastener,
    temperature_of_layer,
    thread_friction,
)
from preloadmc.judgement.verdicts import unsure_strength_words
from preloadmc.limits import MINIMUM_CLAMP_INPUT, Margin, margins, unjudged, unsure_strengths
from preloadmc.mechanics import tightening
from preloadmc.mechanics.softening import SOFT_FROM
from preloadmc.mechanics.tightening import TorqueShares
from preloadmc.units import FORCE, TEMPERATURE, FloatLike, format_quantity

# Above 100 °C the strength of quenched and tempered steel falls (ISO 898-1, from memory).
HOT = 373.15
# Tables that begin at room temperature hold for ordinary cold [K].
ROOM_BAND = 100.0


@dataclass(frozen=True, slots=True)
class Nominal:
    """The joint with every input at its mean: forces in N, torque in N·mm, None where not known.

    ``path`` is the preload by stage, ``peak`` the largest force of tightening; ``shares`` the
    pitch, thread and bearing shares of the torque that makes preload; ``release_torque`` what turns
    the settled nut back;
    ``missed_besides`` the limits outside the preload window that are missed, with a state of each,
    ``missed_of_window`` those of the window.
    """

    path: dict[str, float]
    peak: float
    yield_preload: float | None
    capacity: float | None
    thread_friction: float | None
    shares: TorqueShares | None
    release_torque: float | None
    nut_factor: float | None
    missed_besides: dict[str, str]
    missed_of_window: dict[str, str]


@dataclass(frozen=True, slots=True)
class Correlation:
    """A correlation as given (of the standard normals) and what it makes of the quantities."""

    names: tuple[str, str]
    given: float
    linear: float
    rank: float


@dataclass(frozen=True, slots=True)
class CheckResult:
    """A case explained."""

    case: Case
    nominal: Nominal
    correlations: tuple[Correlation, ...]
    warnings: tuple[str, ...]


def check(case: Case) -> CheckResult:
    """Explain a case: nominal values, correlations, and what a reader should be warned of.

    Parameters
    ----------
    case : Case
        As `load_case` returned it.

    Returns
    -------
    CheckResult
    """
    nominal = at_nominal(case)
    correlations = tuple(
        Correlation(pair, rho, *induced_correlations(case.laws[pair[0]], case.laws[pair[1]], rho))
        for pair, rho in case.correlations.items()
    )
    return CheckResult(case, nominal, correlations, (*case.warnings, *_warnings(case, nominal)))


def at_nominal(case: Case) -> Nominal:
    """Follow the joint with every input at its mean."""
    x = case.means
    thread = case.joint.thread
    state = evaluate(case.joint, x)
    assembly = state.assembly
    friction = thread_friction(case.joint, x)
    shares = release = nut_factor = None
    if assembly.per_preload is not None:
        per_preload = float(assembly.per_preload)
        nut_factor = per_preload / thread.diameter
        if friction is not None:
            shares = tightening.torque_shares(
                per_preload, thread.pitch, thread.pitch_diameter, float(friction)
            )
            if state.assembled > 0.0 and state.settled > 0.0:
                back = tightening.release_torque_per_preload(
                    per_preload, thread.pitch, thread.pitch_diameter, float(friction)
                )
                release = float(state.settled) * back + x["tightening.prevailing_torque"]
    judged = margins(case.joint, case.requirement, x, state, others=True)
    return Nominal(
        path={
            "assembled": float(state.assembled),
            **({ALL_TIGHTENED: float(state.left_by_neighbours)} if state.has_neighbours else {}),
            **{judged.name: float(state.held(judged)) for judged in state.judged},
        },
        peak=float(assembly.peak),
        yield_preload=_known(assembly.yield_preload),
        capacity=_known(assembly.capacity),
        thread_friction=_known(friction),
        shares=shares,
        release_torque=_known(release),
        nut_factor=nut_factor,
        missed_besides=_missed(judged, of_window=False),
        missed_of_window=_missed(judged, of_window=True),
    )


def _missed(found: Sequence[Margin], *, of_window: bool) -> dict[str, str]:
    """Return the limits of the window, or beside it, that are missed, with the worst state."""
    worst: dict[str, Margin] = {}
    for margin in found:
        if bool(margin.limit.sides) is not of_window or float(margin.values) >= 0.0:
            continue
        other = worst.setdefault(margin.limit.name, margin)
        if float(margin.values) < float(other.values):
            worst[margin.limit.name] = margin
    return {name: margin.limit.state for name, margin in worst.items()}


def _temperature_warnings(case: Case) -> list[str]:
    """Warn where a state is hotter than the strengths, or beyond what the modulus tables cover."""
    found = []
    for state in case.joint.states:
        fastener = float(temperature_of_fastener(case.joint, case.means, state))
        if fastener > HOT:
            found.append(
                f"{state}: the fastener is above {format_quantity(HOT, TEMPERATURE)} "
                f"({format_quantity(HOT, TEMPERATURE, 'inch')}), where steels relax with time: "
                "count that in as relaxation."
            )
        parts = [(case.joint.fastener_material, fastener)]
        for place, part in enumerate(case.joint.parts, 1):
            at = float(temperature_of_layer(case.joint, case.means, state, place))
            parts.append((part.material, at))
        beyond = {
            material.name
            for material, temperature in parts
            if (covered := material.modulus_range) is not None
            and not covered[0] - ROOM_BAND <= temperature <= covered[1]
        }
        constant = {
            material.name
            for material, temperature in parts
            if material.modulus_table is None and temperature > SOFT_FROM
        }
        if constant:
            found.append(
                f"{state}: the modulus of {', '.join(sorted(constant))} is held at that of room "
                "temperature: how it falls is not known to the program."
            )
        softest = {
            material.name
            for material, temperature in parts
            if (known := material.softening) is not None and temperature > known.temperatures[-1]
        }
        if softest:
            found.append(
                f"{state}: beyond the table of strength against temperature, which is held at its "
                f"end: {', '.join(sorted(softest))}."
            )
        if beyond:
            found.append(
                f"{state}: beyond the table of modulus against temperature, which is held at its "
                f"end: {', '.join(sorted(beyond))}."
            )
    return found


def _known(value: FloatLike | None) -> float | None:
    return None if value is None else float(value)


def _warnings(case: Case, nominal: Nominal) -> tuple[str, ...]:
    found = []
    assembled = nominal.path["assembled"]
    if nominal.capacity is not None and assembled == 0.0:
        found.append("At nominal values the fastener breaks while it is tightened.")
    elif (
        nominal.yield_preload is not None
        and not case.joint.method.passes_yield
        and nominal.peak >= nominal.yield_preload
    ):
        found.append(
            f"At nominal values the fastener yields: {format_quantity(nominal.peak, FORCE)} "
            f"({format_quantity(nominal.peak, FORCE, 'inch')}) in tightening, yield in tension "
            f"with torsion at {format_quantity(nominal.yield_preload, FORCE)} "
            f"({format_quantity(nominal.yield_preload, FORCE, 'inch')})."
        )
    lost = [stage for stage, preload in nominal.path.items() if preload <= 0.0]
    if lost and assembled > 0.0:
        found.append(f"At nominal values no preload is left: {', '.join(lost)}.")
    if not found:
        found += [
            f"At nominal values the preload is outside its own window: {limit} is missed ({state})."
            for limit, state in nominal.missed_of_window.items()
        ]
    found += [
        f"At nominal values a limit beside the preload window is missed: {limit} ({state}). "
        "It is judged by itself: neither too little nor too much preload counts it."
        for limit, state in nominal.missed_besides.items()
    ]
    found += _load_warnings(case)
    found += _table_warnings(case)
    found += _temperature_warnings(case)
    for name, law in case.laws.items():
        if not isinstance(law, Constant) and not law.is_smooth:
            found.append(
                f"{name} is a tabulated law: it says nothing beyond its smallest and largest value."
            )
    missing = unjudged(case.joint, case.requirement, case.means)
    if missing:
        listed = "; ".join(f"{name}: {words}" for name, words in missing.items())
        found.append(f"Not judged, since the case does not say enough: {listed}.")
    unsure = unsure_strengths(case.joint, case.requirement, case.means)
    if unsure:
        listed = "; ".join(unsure_strength_words(unsure))
        found.append(f"{listed[0].upper()}{listed[1:]}.")
    return tuple(found)


def _table_warnings(case: Case) -> list[str]:
    """Warn of what a tabulated law cannot say."""
    return [
        f"{input_label(name)} is a table of {law.count} values, which says nothing of "
        f"probabilities below about 1/{law.count}; an interval holds for the table, not for the "
        "joint."
        for name, law in case.laws.items()
        if isinstance(law, Tabulated)
    ]


def _load_warnings(case: Case) -> list[str]:
    """Warn where a stated minimum preload ignores the axial load that is stated beside it."""
    ignored = (
        case.requirement.minimum_from == "stated"
        and any(name.endswith(ALONG) for name in case.laws)
        and MINIMUM_CLAMP_INPUT not in case.laws
    )
    if not ignored:
        return []
    return [
        "minimum_preload is held against the preload itself, not against what the axial load "
        "leaves between the parts: where a seal, a gasket or a gap needs a clamp force under load, "
        "state minimum_clamp of [requirement]."
    ]
