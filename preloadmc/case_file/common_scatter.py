"""What the fasteners of one joint have in common where no law says so."""

from __future__ import annotations

from preloadmc.inputs import instrument_input

BREAKAWAY = "investigation.breakaway_ratio"
# Beginning of the input's name -> level, share of the variance, and why.
_COMMON: tuple[tuple[str, str, float, str], ...] = (
    ("tightening.bias", "tool", 1.0, "a bias is common to all by its meaning"),
    ("temperature.", "joint", 1.0, "engineering judgement"),
    ("friction.joint", "joint", 1.0, "engineering judgement"),
    ("friction.", "lot", 0.5, "engineering judgement"),
    ("load.", "joint", 1.0, "engineering judgement"),
    ("group.", "joint", 1.0, "one joint, one load, by its meaning"),
    ("setting.error", "tool", 1.0, "one setting for all by its meaning"),
    ("rotation.overload", "joint", 1.0, "one load for all by its meaning"),
    ("missed.share", "lot", 1.0, "one share for all by its meaning"),
    ("seat.paint", "lot", 1.0, "one chance for all by its meaning"),
    ("seat.washer", "lot", 1.0, "one chance for all by its meaning"),
    (BREAKAWAY, "lot", 1.0, "engineering judgement"),
    (instrument_input(""), "tool", 1.0, "one instrument for all its readings by its meaning"),
    ("requirement.", "joint", 1.0, "one requirement for all"),
)


def common_scatter(name: str) -> tuple[str, float, str]:
    """Return the level of what fasteners have in common of an input, its share of variance, why.

    Examples
    --------
    >>> common_scatter("friction.thread")
    ('lot', 0.5, 'engineering judgement')
    >>> common_scatter("tightening.tool")
    ('lot', 0.0, 'engineering judgement')
    """
    for beginning, level, fraction, why in _COMMON:
        if name.startswith(beginning):
            return level, fraction, why
    return "lot", 0.0, "engineering judgement"


def common_words() -> str:
    """Return what fasteners have in common of which inputs where no law says so."""
    found: dict[tuple[str, float], list[str]] = {}
    for beginning, level, fraction, _ in _COMMON:
        found.setdefault((level, fraction), []).append(beginning.rstrip("."))
    each = [
        f"{fraction:g} by {level} for {', '.join(names)}"
        for (level, fraction), names in found.items()
    ]
    return f"where several fasteners are followed: {'; '.join(each)}; none for others"
