"""Largest and smallest preload from a stated scatter, beside what sampling finds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case, Deterministic
from preloadmc.estimates.moments import Quantile, quantile_with_interval
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.joint import total_compliance
from preloadmc.limits import OVER, UNDER
from preloadmc.mechanics import bounds as formulas
from preloadmc.mechanics import losses
from preloadmc.questions.derive import Derivation
from preloadmc.samples import Kept
from preloadmc.steps import Chapter, Step, Value, force, percent, ratio
from preloadmc.units import FORCE, PERCENT, Array

# NASA-STD-5020A, Sec. 4.3 (from memory): short-term relaxation unless tested, share of preload.
LEAST_RELAXATION = 0.05
# One joint in a thousand on either side, about the three standard deviations of such bounds.
TAILS = (0.001, 0.999)
NASA_SOURCE = "NASA-STD-5020A, Sec. 4.3 (form from memory)"
VDI_SOURCE = "VDI 2230-1:2003, tightening factor (forms from memory)"
DIFFERENCE = (
    "A bound from a stated scatter has no stated coverage: it does not say how many fasteners lie "
    "beyond it, and it adds worst cases that rarely meet. A probability says how many, but only "
    "given its laws. Dividing by the square root of the number of fasteners supposes independent "
    "errors; a lot or a tool in common breaks it."
)


@dataclass(frozen=True, slots=True)
class Window:
    """The window at nominal values [N]; None where nothing bounds the preload.

    ``needed`` is what the state that asks most needs, ``most_assembled`` and ``most_later`` what
    is allowed while tightening and in later states.
    """

    needed: float
    most_assembled: float | None
    most_later: float | None


@dataclass(frozen=True, slots=True)
class Approach:
    """One way to bound the preload: forces in N.

    ``largest`` and ``smallest`` are over the joint's life, with what it gains and loses.
    """

    name: str
    source: str
    chapter: Chapter
    largest_assembled: float
    smallest_assembled: float
    largest: float
    smallest: float
    window: Window

    @property
    def meets_minimum(self) -> bool:
        """Return whether the smallest preload is enough."""
        return self.smallest >= self.window.needed

    @property
    def meets_maximum(self) -> bool | None:
        """Return whether the largest preload is allowed; None where nothing bounds it."""
        pairs = (
            (self.largest_assembled, self.window.most_assembled),
            (self.largest, self.window.most_later),
        )
        judged = [value <= most for value, most in pairs if most is not None]
        return all(judged) if judged else None


@dataclass(frozen=True, slots=True)
class Bounds:
    """The deterministic check of a case; no approaches where the case states no scatter."""

    case: Case
    approaches: tuple[Approach, ...]


@dataclass(frozen=True, slots=True)
class Beyond:
    """How likely the preload lies beyond the bounds of an approach, in a run's kept samples."""

    approach: Approach
    below: Probability
    above: Probability


@dataclass(frozen=True, slots=True)
class SampledBounds:
    """The deterministic check beside a run's samples.

    ``smallest`` is the 0.1 % quantile of the residual preload [N], ``largest`` the 99.9 % quantile
    of the largest preload over the joint's life [N].
    """

    found: Bounds
    beyond: tuple[Beyond, ...]
    smallest: Quantile
    largest: Quantile


def bounds(derivation: Derivation) -> Bounds:
    """Bound the preload from the scatter that the case states, as open standards do.

    Parameters
    ----------
    derivation : Derivation
        Of the case, as `derive` returned it.

    Returns
    -------
    Bounds
        In the manner of NASA-STD-5020 where an uncertainty is stated; in that of VDI 2230 where
        a scatter ratio is: about the nominal preload, and with the largest preload at what the
        window allows.
    """
    case = derivation.case
    stated = case.deterministic
    if stated is None:
        return Bounds(case, ())
    nominal = _Nominal.of(derivation)
    found = []
    if stated.uncertainty is not None:
        found.append(_nasa(nominal, stated, stated.uncertainty))
    if stated.scatter_ratio is not None:
        found.append(_vdi_about_nominal(nominal, stated, stated.scatter_ratio))
        if nominal.window.most_assembled is not None:
            most = nominal.window.most_assembled
            found.append(_vdi_at_most(nominal, stated, stated.scatter_ratio, most))
    return Bounds(case, tuple(found))


def sampled_bounds(found: Bounds, kept: Kept) -> SampledBounds:
    """Return the bounds with how likely the preload lies beyond each, in a run's kept samples."""
    residual, assembled = kept.path["residual"], kept.path["assembled"]
    later, largest = _largest(kept, skip=("assembled",)), _largest(kept)
    n = len(residual)
    return SampledBounds(
        found,
        tuple(
            Beyond(
                approach,
                from_counts(int(np.count_nonzero(residual < approach.smallest)), n),
                from_counts(
                    int(
                        np.count_nonzero(
                            (assembled > approach.largest_assembled) | (later > approach.largest)
                        )
                    ),
                    n,
                ),
            )
            for approach in found.approaches
        ),
        quantile_with_interval(np.sort(residual), TAILS[0]),
        quantile_with_interval(np.sort(largest), TAILS[1]),
    )


def _largest(kept: Kept, skip: tuple[str, ...] = ()) -> Array:
    stages = [preload for stage, preload in kept.path.items() if stage not in (*skip, "residual")]
    largest: Array = np.max(stages, axis=0)
    return largest


@dataclass(frozen=True, slots=True)
class _Nominal:
    """What both approaches start from [N]; ``relaxation`` a share."""

    preload: float
    embedding_loss: float
    relaxation: float
    thermal_gain: float
    thermal_loss: float
    window: Window

    @classmethod
    def of(cls, derivation: Derivation) -> _Nominal:
        case, state = derivation.case, derivation.state
        x = case.means
        settled = float(state.settled)
        gains = [float(judged.largest) - settled for judged in state.judged]
        losses_of_states = [settled - float(judged.preload) for judged in state.judged]
        return cls(
            float(state.assembly.preload),
            float(losses.embedding_force(x["settling.embedding"], total_compliance(x))),
            float(x["settling.relaxation"]),
            max(0.0, *gains),
            max(0.0, *losses_of_states),
            _window(derivation),
        )

    def settling(self, assembled: float) -> float:
        """Return what a preload loses by settling."""
        settled = losses.preload_after_settling(assembled, self.embedding_loss, self.relaxation)
        return assembled - float(settled)


def _window(derivation: Derivation) -> Window:
    # A limit may be on what the parts keep of the preload: it is reached by the preload less the
    # margin.
    needed = [
        float(derivation.state.named(m.limit.state).preload) - m.value
        for m in derivation.margins
        if m.limit.sides == (UNDER,)
    ]
    over = [
        (m.limit.state, m.reference)
        for m in derivation.margins
        if m.limit.sides == (OVER,) and m.dimension is FORCE
    ]
    return Window(
        max(needed),
        _least(most for state, most in over if state == "assembly"),
        _least(most for state, most in over if state != "assembly"),
    )


def _least(values: Iterable[float]) -> float | None:
    return min(values, default=None)


def _nasa(nominal: _Nominal, stated: Deterministic, uncertainty: float) -> Approach:
    c_max, c_min = 1.0 + stated.control_tolerance, 1.0 - stated.control_tolerance
    gamma = Value("Γ", uncertainty, PERCENT)
    middle = force("P_nom", nominal.preload)
    largest_assembled = float(formulas.largest_preload(middle.value, uncertainty, c_max, 0.0))
    largest = float(
        formulas.largest_preload(middle.value, uncertainty, c_max, nominal.thermal_gain)
    )
    averaged = stated.averaged_fasteners
    initial = float(
        formulas.smallest_preload(middle.value, uncertainty, c_min, averaged, 0.0, 0.0, 0.0)
    )
    stated_loss = nominal.settling(initial)
    loss = stated_loss if stated.relaxation_tested else max(stated_loss, LEAST_RELAXATION * initial)
    smallest = float(
        formulas.smallest_preload(
            middle.value, uncertainty, c_min, averaged, loss, 0.0, nominal.thermal_loss
        )
    )
    return Approach(
        "NASA-STD-5020 style",
        f"{NASA_SOURCE}; Gamma: {stated.uncertainty_source}",
        Chapter(
            "NASA-STD-5020 style",
            (
                Step(
                    "Largest preload",
                    "P_max",
                    "{c_max}·(1 + {Γ})·{P_nom} + {P_ΔT}",
                    (
                        ratio("c_max", c_max),
                        gamma,
                        middle,
                        force("P_ΔT", nominal.thermal_gain),
                    ),
                    largest,
                    FORCE,
                    NASA_SOURCE,
                ),
                Step(
                    "Smallest initial preload",
                    "P_i,min",
                    "{c_min}·(1 - {Γ}/sqrt({n_f}))·{P_nom}",
                    (ratio("c_min", c_min), gamma, ratio("n_f", averaged), middle),
                    initial,
                    FORCE,
                    NASA_SOURCE,
                    "n_f = 1: no averaging over fasteners."
                    if averaged == 1
                    else "Averaging supposes that the fasteners' errors are independent.",
                ),
                Step(
                    "Smallest preload",
                    "P_min",
                    "{P_i,min} - {P_r} - {P_ΔT}",
                    (
                        force("P_i,min", initial),
                        force("P_r", loss),
                        force("P_ΔT", nominal.thermal_loss),
                    ),
                    smallest,
                    FORCE,
                    NASA_SOURCE,
                    "P_r: embedding and relaxation as stated, tested."
                    if stated.relaxation_tested
                    else "P_r: embedding and relaxation as stated, at least 5 % unless tested.",
                ),
            ),
        ),
        largest_assembled,
        initial,
        largest,
        smallest,
        nominal.window,
    )


def _vdi_about_nominal(nominal: _Nominal, stated: Deterministic, alpha: float) -> Approach:
    half = float(formulas.scatter_half_width(alpha))
    largest = nominal.preload * (1.0 + half)
    step = Step(
        "Largest assembled preload, about the nominal one",
        "F_Mmax",
        "{F_M}·(1 + ({α_A} - 1)/({α_A} + 1))",
        (force("F_M", nominal.preload), ratio("α_A", alpha)),
        largest,
        FORCE,
        VDI_SOURCE,
    )
    return _vdi("VDI 2230 style, about the nominal preload", nominal, stated, alpha, step)


def _vdi_at_most(nominal: _Nominal, stated: Deterministic, alpha: float, most: float) -> Approach:
    step = Step(
        "Largest assembled preload, what the window allows",
        "F_Mmax",
        "{F_max}",
        (force("F_max", most),),
        most,
        FORCE,
        VDI_SOURCE,
        "As if the tightening were set so that its largest preload is just allowed.",
    )
    name = "VDI 2230 style, tightened to the largest allowed preload"
    return _vdi(name, nominal, stated, alpha, step)


def _vdi(
    name: str, nominal: _Nominal, stated: Deterministic, alpha: float, first: Step
) -> Approach:
    largest = first.value
    initial = float(formulas.smallest_from_scatter_ratio(largest, alpha))
    smallest = initial - nominal.settling(initial) - nominal.thermal_loss
    steps = (
        first,
        Step(
            "Largest preload, unsettled",
            "F_Vmax",
            "{F_Mmax} + {ΔF_th}",
            (force("F_Mmax", largest), force("ΔF_th", nominal.thermal_gain)),
            largest + nominal.thermal_gain,
            FORCE,
            VDI_SOURCE,
        ),
        Step(
            "Smallest assembled preload",
            "F_Mmin",
            "{F_Mmax}/{α_A}",
            (force("F_Mmax", largest), ratio("α_A", alpha)),
            initial,
            FORCE,
            VDI_SOURCE,
        ),
        Step(
            "Smallest preload",
            "F_Vmin",
            "({F_Mmin} - {F_Z})·(1 - {r}) - {ΔF_th}",
            (
                force("F_Mmin", initial),
                force("F_Z", nominal.embedding_loss),
                percent("r", nominal.relaxation),
                force("ΔF_th", nominal.thermal_loss),
            ),
            smallest,
            FORCE,
            VDI_SOURCE,
        ),
    )
    return Approach(
        name,
        f"{VDI_SOURCE}; scatter ratio: {stated.scatter_ratio_source}",
        Chapter(name, steps),
        largest,
        initial,
        largest + nominal.thermal_gain,
        smallest,
        nominal.window,
    )
