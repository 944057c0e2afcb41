"""Where do the preload and its window come from? A hand calculation at nominal values."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.case import Case
from preloadmc.joint import Inputs, State, acceptance_steps, evaluate
from preloadmc.limits import Margin, margins
from preloadmc.questions.derive.assembly import (
    reached_step,
    settling_steps,
    strength_steps,
    torsion_step,
)
from preloadmc.questions.derive.fatigue import fatigue_steps
from preloadmc.questions.derive.group import group_load_steps, interaction_steps
from preloadmc.questions.derive.over_time import over_time_steps
from preloadmc.questions.derive.records import Derivation, NominalMargin
from preloadmc.questions.derive.seats import face_steps, stripping_steps
from preloadmc.questions.derive.states import load_share_steps, state_steps, window_steps
from preloadmc.questions.derive.stiffness import compliance_steps
from preloadmc.questions.derive.torque import thread_steps, torque_steps
from preloadmc.steps import Chapter, Step


def derive(case: Case) -> Derivation:
    """Derive the joint and its window step by step, with every input at its mean.

    Parameters
    ----------
    case : Case
        As `load_case` returned it.

    Returns
    -------
    Derivation
        Chapters in order of the joint's life, then the margin of every limit. The numbers are
        those of the functions that a run samples.
    """
    x: Inputs = case.means
    state = evaluate(case.joint, x)
    found = margins(case.joint, case.requirement, x, state, others=True)
    return Derivation(
        case,
        state,
        tuple(Chapter(title, tuple(steps)) for title, steps in _chapters(case, x, state) if steps),
        tuple(_nominal(margin, state) for margin in found),
    )


def _chapters(case: Case, x: Inputs, state: State) -> Iterator[tuple[str, list[Step]]]:
    joint = case.joint
    yield "Thread and section", list(thread_steps(joint))
    yield "Where the torque goes", list(torque_steps(case, x, state.assembly))
    yield (
        "Compliance",
        [*compliance_steps(case, x), *load_share_steps(joint, x, state)],
    )
    yield "Strength with torsion", list(strength_steps(joint, x, state))
    yield (
        f"Tightening: {joint.method.name}",
        [
            *joint.method.steps(joint, x, state.assembly),
            *reached_step(joint, x, state),
            *torsion_step(state, joint, x),
            *acceptance_steps(joint, x, state.assembly),
        ],
    )
    yield "Neighbours", list(interaction_steps(case, x, state))
    yield "Settling", list(settling_steps(x, state))
    yield "Over time", list(over_time_steps(case, x, state))
    yield "Loads on one fastener", list(group_load_steps(case, x))
    for judged in state.judged:
        yield (
            f"State: {judged.name}",
            [*state_steps(case, x, state, judged), *fatigue_steps(joint, x, judged)],
        )
    yield "Seats and engaged thread", [*face_steps(joint), *stripping_steps(joint, x)]
    yield "Window", list(window_steps(case, x, state))


def _nominal(margin: Margin, state: State) -> NominalMargin:
    dimension = margin.limit.kind.dimension_of(state)
    return NominalMargin(margin.limit, float(margin.values), float(margin.reference), dimension)
