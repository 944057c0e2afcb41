"""A process that writes one report folder again and again, to be killed at any moment."""

import json
import sys
import time
from pathlib import Path

from preloadmc.report import workplace
from preloadmc.report.folder import write_folder
from preloadmc.report.manifest import contents

FILES = {
    "report.txt": 40_000,
    "report.html": 200_000,
    "figure.png": 60_000,
    "inputs/joint.toml": 2_000,
    "inputs/data/found.csv": 500,
}


def files(number):
    """A report of one number: it is in the first byte of every file and fills it."""
    mark = json.dumps({"preloadmc": "0.1.0", "number": number}).encode()
    return {"report.json": mark} | {
        name: bytes([number % 251]) * size for name, size in FILES.items()
    }


def number_of(folder):
    """The number of a complete report, every file of which is there and as it was written."""
    found = contents(folder)
    assert found.is_own, found
    assert set(found.own) == {"manifest.json", *files(0)}
    number = json.loads((folder / "report.json").read_text())["number"]
    for name, content in files(number).items():
        assert (folder / name).read_bytes() == content
    return number


def without_exchange(one, other):
    """What a system tells that cannot exchange two paths."""
    return False


rename = Path.rename


def slow_rename(self, target):
    """A rename after which there is time for a kill, as between two that belong together."""
    moved = rename(self, target)
    time.sleep(0.01)
    return moved


if __name__ == "__main__":
    target, way, first = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    if way == "two renames":
        workplace.exchange = without_exchange
        workplace.Path.rename = slow_rename
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    for each in range(first, first + 100_000):
        write_folder(target, files(each))
