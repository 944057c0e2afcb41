"""The section [friction]: what a method needs, how frictions go together, what K leaves them."""

from __future__ import annotations

import math

import numpy as np
import scipy

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, Follows
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.chance.laws import Constant, Law
from preloadmc.inputs import INPUT_KINDS, Default, input_label
from preloadmc.joint import Method
from preloadmc.mechanics import tightening
from preloadmc.mechanics.thread import Thread
from preloadmc.over_time import CHANGE
from preloadmc.units import RATIO

_THREAD, _BEARING, _FACTOR = "friction.thread", "friction.bearing", "friction.nut_factor"
_TOTAL = "friction.total"
_CORRELATION = "friction.correlation"
# Laws that agree up to this many s.d. of their normals are of one shape.
_FAR = 8.0
# A nut factor holds the thread's friction in it, but is stated by a law of its own: a few samples
# in which the two do not go together are no contradiction. More than this, as often as misses are
# commonly allowed, would show in results.
_MOST_IMPOSSIBLE = 1e-3
FIELDS = (
    Field("friction", Table(), "friction in the thread, under the head, between the parts"),
    Field(
        _CORRELATION,
        Quantity(RATIO, low=-0.999, high=1.0),
        "correlation of the frictions of thread and bearing, of the normals behind them; 1 where "
        "one is a fixed share of the other",
        "0.4",
        Default(0.0, "0: frictions independent"),
    ),
)


def relate_frictions(draft: Draft, method: Method | None) -> bool:
    """Ask for the frictions that the method needs, and relate them.

    Returns
    -------
    bool
        Whether a nut factor is used.
    """
    stated = draft.stated
    if _TOTAL in stated:
        _take_total(draft, method)
        return False
    if stated.problems.at(_TOTAL) or (_FACTOR not in stated and stated.problems.at(_FACTOR)):
        return False  # the misspelt one stands for those that are missing
    uses_nut_factor = _FACTOR in stated
    if uses_nut_factor:
        for name in _frictions():
            if name not in (_THREAD, _FACTOR) and name in stated:
                stated.problem(name, "remove it: the nut factor holds the friction under the head")
    elif method is None or method.reads_friction:
        if _THREAD not in stated:
            stated.missing(_THREAD, "thread friction, or the total or a nut_factor for both")
        if _BEARING not in stated:
            stated.missing(
                _BEARING, "friction under the head, or the total or a nut_factor for both"
            )
    elif _THREAD not in stated:
        if method.twists:
            stated.missing(_THREAD, "thread friction: it twists the fastener")
        elif _BEARING in stated:
            stated.missing(_THREAD, "thread friction, which goes with that under the head")
    if method is not None and method.holds_friction:
        _hold(draft)
    if method is None or not method.holds_friction:
        _correlate(draft, _THREAD, _FACTOR if uses_nut_factor else _BEARING)
    if uses_nut_factor:
        _check_nut_factor(draft)
    return uses_nut_factor


def _frictions() -> tuple[str, ...]:
    """Return the frictions that a tightening torque meets, and the nut factor for them."""
    names = (name for name in INPUT_KINDS if name.startswith("friction."))
    return tuple(name for name in names if INPUT_KINDS[name].group == "friction" and name != CHANGE)


def _hold(draft: Draft) -> None:
    """A stated scatter already holds friction, which is then not sampled."""
    for name in _frictions():
        law = draft.laws.get(name)
        if law is not None and not isinstance(law, Constant):
            draft.laws[name] = Constant(law.mean)
            draft.assume(
                name, f"held at its mean, {law.mean:.4g}", "the stated scatter already holds it"
            )


def _correlate(draft: Draft, first: str, second: str) -> None:
    stated = draft.stated
    laws = {name: draft.laws.get(name) for name in (first, second)}
    if None not in laws.values():
        draft.assume_default(_CORRELATION)
    if _CORRELATION not in stated or stated.problems.at(_CORRELATION, first, second):
        return
    for name, law in laws.items():
        if law is None or isinstance(law, Constant):
            stated.problem(
                _CORRELATION,
                f"nothing unless both scatter: {name} does not (remove it, or state a law)",
            )
            return
    rho = stated.get(_CORRELATION, float)
    if rho == 1.0:
        _tie(draft, first, second)
    elif rho:
        draft.correlations[first, second] = rho


def _tie(draft: Draft, first: str, second: str) -> None:
    """Let the second friction be a fixed share of the first, of which it then has no law."""
    one, other = draft.laws[first], draft.laws[second]
    factor = other.mean / one.mean
    z = np.linspace(-_FAR, _FAR, 33)
    if not np.allclose(factor * one.from_normal(z), other.from_normal(z), rtol=1e-6, atol=0.0):
        draft.stated.problem(
            _CORRELATION,
            "at most 0.999: with 1 either friction is a fixed share of the other, and these two "
            "laws are not (state the same law with the same cov, or friction.total)",
        )
        return
    del draft.laws[second]
    draft.shared.pop(second, None)
    draft.follows[second] = Follows(first, factor)
    draft.assume(
        second,
        f"{factor:.4g} times the {input_label(first)} of each fastener",
        "correlation 1 as stated",
    )


def _take_total(draft: Draft, method: Method | None) -> None:
    """One friction stands for both surfaces, fully in common."""
    for name in (_THREAD, _BEARING, _FACTOR, _CORRELATION):
        if name in draft.stated:
            draft.stated.problem(name, "remove it: the total friction holds for both surfaces")
    if method is not None and method.holds_friction:
        _hold(draft)


def _check_nut_factor(draft: Draft) -> None:
    """Below the part of the pitch, a nut factor would mean negative friction."""
    law = draft.laws.get(_FACTOR)
    thread = draft.stated.get("fastener.thread", Thread)
    if law is None or thread is None:
        return
    law = law.best_estimate()  # few tests leave some probability far off
    least = thread.pitch / (2 * math.pi * thread.diameter)
    beyond = float(law.cdf(least))
    if beyond > NEGLIGIBLE_BELOW_ZERO:
        draft.stated.problems.add(
            _FACTOR,
            None,
            f"above {least:.3g}, what the pitch alone asks: friction cannot be negative; this "
            f"one is below it with probability {beyond:.2g}",
        )
        return
    _check_shares(draft, law, thread)


def _check_shares(draft: Draft, factor: Law, thread: Thread) -> None:
    """Beside a nut factor, the thread leaves a share of the torque to the seat."""
    friction = draft.laws.get(_THREAD)
    if friction is None:
        return
    friction = friction.best_estimate()
    z, step = np.linspace(-_FAR, _FAR, 4001, retstep=True)
    weights = step * np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    # What the thread alone asks of the nut factor, at each standard normal number of its friction.
    asked = (
        tightening.thread_torque_per_preload(
            thread.pitch, thread.pitch_diameter, friction.from_normal(z)
        )
        / thread.diameter
    )
    rho = draft.correlations.get((_THREAD, _FACTOR), 0.0)
    if isinstance(factor, Constant):
        below = np.asarray(factor.value < asked, dtype=float)
    else:
        below = scipy.special.ndtr(
            (scipy.special.ndtri(factor.cdf(asked)) - rho * z) / math.sqrt(1.0 - rho * rho)
        )
    beyond = float(weights @ below)
    if beyond > _MOST_IMPOSSIBLE:
        least = float(
            tightening.thread_torque_per_preload(thread.pitch, thread.pitch_diameter, friction.mean)
            / thread.diameter
        )
        draft.stated.problems.add(
            _FACTOR,
            None,
            f"well above {least:.3g}, what pitch and thread ask with the mean of {_THREAD}: "
            "nothing, or less, would be left for the friction under the head with probability "
            f"{min(beyond, 1.0):.2g}",
        )
