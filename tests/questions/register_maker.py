"""A register of 300 joints of a conveyor line: our own scenario, no measured data.

``python tests/questions/register_maker.py`` writes ``cases/drive_line_register.csv``.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from random import Random

REGISTER = Path(__file__).parent.parent.parent / "cases" / "drive_line_register.csv"
TEMPLATE = REGISTER.with_name("drive_line_joint.toml")
COLUMNS = (
    "joint",
    "case",
    "tightening.torque [N·m]",
    "friction.thread.mean",
    "requirement.minimum_preload [kN]",
    "lot",
    "tool",
    "note",
)
STATIONS = 15
# By what stands at a place: the template (none: that of the survey), joints at each station, set
# torques [N·m] in use, range of the lots' mean thread friction, range of the least preload [kN].
KINDS = {
    "foot": ("", 12, (37.0, 39.0, 42.0), (0.116, 0.128), (9.5, 12.5)),
    "bracket": ("conveyor_bracket.toml", 5, (84.0, 88.0), (0.128, 0.142), (20.0, 26.5)),
    "motor": ("motor_flange.toml", 3, (19.5, 20.5), (0.138, 0.150), None),
}
LOTS = 6
# Mistakes that happen, as factors on torque, friction and least preload; where they stand was
# chosen, for a register whose misses are all over the line teaches nothing.
MISTAKES = {
    ("foot", 17): (1.42, 1.0, 1.0, "torque of the drawing before the last"),
    ("foot", 58): (1.0, 1.6, 1.4, "screw replaced, unlubricated"),
    ("foot", 96): (0.55, 1.0, 1.0, "torque of an M8 by mistake"),
    ("foot", 141): (1.0, 1.0, 2.1, "heavier drive since the rebuild"),
    ("bracket", 22): (1.3, 0.85, 1.0, "greased at assembly"),
    ("bracket", 63): (1.0, 1.1, 1.5, "second chain added"),
    ("motor", 8): (0.75, 1.0, 1.0, "wrench out of calibration"),
    ("motor", 31): (1.3, 1.0, 1.0, ""),
}


def register_text() -> str:
    """Return the register as CSV; the same on every machine."""
    # `random()` alone keeps its numbers from one version of Python to the next.
    draw = Random(300).random
    lots = {
        kind: [round(low + (high - low) * draw(), 4) for _ in range(LOTS)]
        for kind, (_, _, _, (low, high), _) in KINDS.items()
    }
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    count = dict.fromkeys(KINDS, 0)
    for station in range(1, STATIONS + 1):
        for kind, (case, joints, torques, _, least) in KINDS.items():
            for joint in range(1, joints + 1):
                lot = int(LOTS * draw())
                torque, friction = torques[int(len(torques) * draw())], lots[kind][lot]
                minimum = None if least is None else least[0] + (least[1] - least[0]) * draw()
                count[kind] += 1
                more = MISTAKES.get((kind, count[kind]), (1.0, 1.0, 1.0, ""))
                writer.writerow(
                    (
                        f"station {station:02} {kind} {joint}",
                        case,
                        f"{torque * more[0]:.1f}",
                        f"{friction * more[1]:.4f}",
                        "" if minimum is None else f"{minimum * more[2]:.1f}",
                        f"{kind}-{lot + 1:02}",
                        f"wrench {1 + (station - 1) // 5}",
                        more[3],
                    )
                )
    return text.getvalue()


if __name__ == "__main__":
    REGISTER.write_text(register_text(), encoding="utf-8")
