"""What every report says besides its numbers."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "Results support, and do not replace, the applicable standard, the local code and the decision "
    "of a licensed or otherwise competent engineer.",
    "Where failure could hurt someone, frictions, tool, settlement and strength need tests on the "
    "real joint.",
    "Do not retighten, loosen or inspect a loaded or pressurised joint on the strength of this "
    "output.",
)

CAUTION = "Defer to the applicable standard, the local code and a licensed engineer."
"""The cautions in one line, where there is room for no more."""

NOT_COVERED = (
    "Not covered: bending of the fastener, prying, and eccentric loads beyond a rigid plate; the "
    "joint after it has slipped; what long heat does to strength; fatigue under loads of several "
    "sizes."
)

INTERVALS = (
    "Intervals hold sampling error only: they say how well these laws were sampled, not how well "
    "the laws describe the joint."
)
