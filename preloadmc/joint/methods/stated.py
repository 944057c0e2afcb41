"""A stated preload with its scatter, which holds tool and friction already."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.steps import Step
from preloadmc.units import FORCE


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Take the preload as stated."""
    return Tightened(x["tightening.preload"])


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """The preload as stated."""
    yield Step(
        "Assembled preload",
        "F_M",
        "",
        (),
        float(assembly.preload),
        FORCE,
        "as stated in the case file",
    )


STATED_SCATTER = Method(
    "stated scatter",
    (Control("preload", "the assembled preload with its scatter"),),
    "preload",
    tighten,
    steps,
    holds_friction=True,
)
