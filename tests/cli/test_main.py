"""The program as a process: help, errors, a broken pipe, an interrupt, start-up."""

import io
import os
import signal
import subprocess
import sys
import time

import pytest

from preloadmc import __version__
from preloadmc.cli.main import COMMANDS
from preloadmc.cli.progress import progress_bar
from preloadmc.report.text.cautions import CAUTIONS

PROGRAM = [sys.executable, "-c", "from preloadmc.cli.main import main; main()"]


@pytest.mark.parametrize("command", [[], *([name] for name in COMMANDS)])
def test_help_carries_the_cautions(call, command):
    result = call(*command, "--help")
    assert result.exit_code == 0
    assert result.output == call(*command, "-h").output
    text = " ".join(result.output.split())
    for words in CAUTIONS:
        assert words in text
    assert max(len(line) for line in result.output.splitlines()) <= 80


def test_help_names_every_command_and_exit_code(call):
    text = " ".join(call("--help").output.split())
    for name in COMMANDS:
        assert f" {name} " in text
    for code in ("0 a result", "1 an error", "2 a bad case file", "3 a probability", "130 inter"):
        assert code in text


def test_the_version(call):
    assert call("--version").output == f"preloadmc, version {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "code", "out", "err"),
    [
        (["--version"], 0, f"preloadmc, version {__version__}\n", ""),
        (["check", "none.toml"], 2, "", "cannot be read"),
    ],
)
def test_the_program_as_a_module(tmp_path, arguments, code, out, err):
    done = subprocess.run(
        [sys.executable, "-m", "preloadmc", *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    assert (done.returncode, done.stdout) == (code, out)
    assert err in done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["guess"], "No such command 'guess'"),
        (["run"], "Missing argument 'CASE'"),
        (["run", "none.toml"], "none.toml: 1 problem\n  - file: cannot be read: No such file"),
        (["check", "/dev/zero"], "cannot be read: it is no regular file"),
    ],
)
def test_a_call_that_leads_nowhere(call, arguments, words):
    result = call(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr


HEAVY = ("scipy.stats", "SALib", "matplotlib", "pandas", "jinja2")


@pytest.mark.parametrize("arguments", [["--help"], ["check", "joint.toml"]])
def test_nothing_heavy_is_imported_before_it_is_needed(case, arguments):
    code = (
        "import sys\n"
        "from preloadmc.cli.main import main\n"
        "main(standalone_mode=False)\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
    )
    assert done.stderr == "[]\n"
    assert done.stdout


def test_help_without_numpy():
    code = (
        "import sys\n"
        "from preloadmc.cli.main import main\n"
        "main(['--version'], standalone_mode=False)\n"
        "sys.exit('numpy' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)


ANNOUNCED = """
import signal
import sys
from preloadmc.cli.main import main
from preloadmc.questions.run import question

sample = question.sample

def announced(*given, **named):
    print("sampling", file=sys.stderr, flush=True)
    return sample(*given, **named)

question.sample = announced
# A shell starts what it puts in the background with interrupts ignored.
signal.signal(signal.SIGINT, signal.default_int_handler)
main()
"""


def test_an_interrupt_leaves_nothing(write_case, scatter, tmp_path):
    # Far more samples than can be drawn before the signal comes.
    path = write_case({**scatter, "sampling": {"samples": 200_000_000}})
    options = ["--json", "out.json", "--out", "report"]
    with subprocess.Popen(
        [sys.executable, "-c", ANNOUNCED, "run", path.name, *options],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr.readline() == "sampling\n"
        time.sleep(0.3)
        assert process.poll() is None
        process.send_signal(signal.SIGINT)
        try:
            out, err = process.communicate(timeout=60)
        finally:
            process.kill()
    assert process.returncode == 130
    assert (out, err) == ("", "preloadmc: interrupted; nothing was written\n")
    assert [left.name for left in tmp_path.iterdir()] == [path.name]


def test_a_reader_that_leaves_early(case):
    # As in `preloadmc run joint.toml | head -1`: no traceback.
    process = subprocess.Popen(
        [*PROGRAM, "run", case], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    process.stdout.close()
    err = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=20)
    assert "Traceback" not in err


def test_a_bar_on_a_terminal_and_none_in_a_pipe(call, case, monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    for stream, shown in ((Terminal(), True), (io.StringIO(), False)):
        monkeypatch.setattr(sys, "stderr", stream)
        with progress_bar("sampling") as told:
            told(50, 100)
            told(100, 200)
            told(200, 200)
        assert ("sampling" in stream.getvalue()) is shown
        assert ("100%" in stream.getvalue()) is shown


def test_an_interrupt_within_a_command(call, case, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("preloadmc.cli.check.load_case", interrupted)
    result = call("check", case)
    assert (result.exit_code, result.stdout) == (130, "")
    assert result.stderr == "preloadmc: interrupted; nothing was written\n"
