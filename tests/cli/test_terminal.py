"""How much goes to the terminal, and in what colour."""

import os
import pty
import subprocess
import sys

import pytest
from click.testing import CliRunner

from preloadmc.cli.main import main

CASE = "cases/conveyor_bracket.toml"


def test_quiet_is_the_answer_alone():
    told = CliRunner().invoke(main, ["run", CASE, "--samples", "20000", "--quiet"])
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert [line.partition(":")[0] for line in lines] == [
        "How likely",
        "What dominates",
        "What to do",
    ]
    assert told.stderr == ""


def test_a_pipe_has_no_colour_and_no_progress():
    told = CliRunner().invoke(main, ["run", CASE, "--samples", "20000"])
    assert "\x1b" not in told.output
    assert "  misses\n" in told.stdout


@pytest.mark.parametrize(("no_color", "coloured"), [("", True), ("1", False)])
def test_a_terminal_has_colour_unless_told_not_to(no_color, coloured):
    ours, theirs = pty.openpty()
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from preloadmc.cli.main import main; main()",
            "run",
            CASE,
            "--samples",
            "20000",
            "--quiet",
        ],
        stdout=theirs,
        stderr=subprocess.PIPE,
        env={**os.environ, "NO_COLOR": no_color, "TERM": "xterm"},
        check=True,
    )
    os.close(theirs)
    shown = os.read(ours, 65536).decode()
    os.close(ours)
    assert done.stderr == b""
    assert "How likely:" in shown
    assert ("\x1b[1mHow likely:\x1b[0m" in shown) == coloured
