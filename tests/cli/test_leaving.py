"""How the program ends where something goes wrong: in a line and an exit code."""

import io
import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from preloadmc import __version__
from preloadmc.cli import check as check_command
from preloadmc.cli import leaving
from preloadmc.cli import new as new_command
from preloadmc.cli import outputs as outputs_module
from preloadmc.cli.interrupts import Interrupt, interrupts_held, interrupts_raised
from preloadmc.errors import PreloadError

PROGRAM = [sys.executable, "-c", "from preloadmc.cli.main import main; main()"]


def ended(*arguments, code=None, **options):
    """A call of the program as a process of its own: its exit code, output and errors."""
    program = PROGRAM if code is None else [sys.executable, "-c", code]
    given = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "timeout": 120, **options}
    done = subprocess.run([*program, *arguments], check=False, **given)
    return done.returncode, done.stdout, (done.stderr or b"").decode()


def fails(*_, **__):
    raise ZeroDivisionError("division\nby zero")


class TestInternalErrors:
    def test_one_line_and_a_file_to_send(self, call, case, monkeypatch):
        monkeypatch.setattr(check_command, "check", fails)
        result = call("check", case, "--units", "inch")
        assert (result.exit_code, result.stdout) == (1, "")
        assert result.stderr == (
            "preloadmc: internal error: ZeroDivisionError: division by zero; "
            "please send preloadmc-error-1.txt\n"
        )
        text = Path("preloadmc-error-1.txt").read_text(encoding="utf-8")
        assert text.startswith(f"preloadmc {__version__}, Python ")
        assert "\npreloadmc check joint.toml --units inch\n" in text
        assert "Traceback (most recent call last)" in text
        assert "in fails" in text

    def test_no_file_is_overwritten(self, call, case, monkeypatch):
        monkeypatch.setattr(check_command, "check", fails)
        Path("preloadmc-error-1.txt").write_text("mine", encoding="utf-8")
        Path("preloadmc-error-2.txt").symlink_to("nowhere")
        assert "please send preloadmc-error-3.txt" in call("check", case).stderr
        assert Path("preloadmc-error-1.txt").read_text(encoding="utf-8") == "mine"
        assert not Path("nowhere").exists()

    def test_where_the_current_folder_takes_no_file(self, call, case, tmp_path, monkeypatch):
        monkeypatch.setattr(check_command, "check", fails)
        monkeypatch.setattr(leaving.tempfile, "gettempdir", lambda: str(tmp_path / "other"))
        (tmp_path / "other").mkdir()
        monkeypatch.chdir("/proc")
        told = call("check", tmp_path / case).stderr
        assert f"please send {tmp_path}/other/preloadmc-error-1.txt" in told
        monkeypatch.setattr(leaving.tempfile, "gettempdir", lambda: "/proc")
        assert "; no file could be written about it\n" in call("check", tmp_path / case).stderr

    def test_it_says_what_stands(self, call, case, monkeypatch):
        monkeypatch.setattr(outputs_module, "show", fails)
        result = call("run", case, "--samples", "500", "--json", "out.json")
        assert result.exit_code == 1
        assert "internal error: ZeroDivisionError: division by zero; please" in result.stderr
        assert result.stderr.endswith("; written: out.json\n")

    def test_the_caller_of_a_function_gets_the_error_itself(self, case, monkeypatch):
        from preloadmc.cli.main import main

        monkeypatch.setattr(check_command, "check", fails)
        with pytest.raises(ZeroDivisionError):
            main(["check", case], standalone_mode=False)


class TestOutput:
    @pytest.mark.parametrize(
        "arguments", [["run", "joint.toml", "--samples", "500"], ["check", "joint.toml"]]
    )
    def test_a_full_device(self, case, arguments):
        with Path("/dev/full").open("wb") as full:
            code, _, err = ended(*arguments, stdout=full)
        words = "preloadmc: standard output cannot be written to: No space left on device\n"
        assert (code, err) == (1, words)

    @pytest.mark.parametrize("arguments", [["--help"], ["run", "--help"], ["--version"]])
    def test_a_full_device_for_help(self, arguments):
        with Path("/dev/full").open("wb") as full:
            code, _, err = ended(*arguments, stdout=full)
        words = "preloadmc: the output cannot be written: No space left on device\n"
        assert (code, err) == (1, words)

    @pytest.mark.parametrize("options", [[], ["--json", "-"]])
    def test_a_reader_that_leaves(self, case, options):
        reading, writing = os.pipe()
        os.close(reading)
        code, _, err = ended("run", case, "--samples", "500", *options, stdout=writing)
        os.close(writing)
        words = "preloadmc: standard output cannot be written to: Broken pipe\n"
        assert (code, err) == (1, words)

    def test_output_that_is_closed(self, case):
        code, _, err = ended(
            "run", case, "--samples", "500", stdout=None, preexec_fn=lambda: os.close(1)
        )
        assert (code, err) == (1, "preloadmc: standard output is closed\n")

    @pytest.mark.parametrize("name", ["shown.txt", "/dev/stdout"])
    def test_the_file_that_output_goes_to(self, case, name):
        with Path("shown.txt").open("wb") as shown:
            code, _, err = ended("run", case, "--json", name, "--overwrite", stdout=shown)
        words = f"preloadmc: {name}: is where standard output goes; name another file\n"
        assert (code, err) == (2, words)

    @pytest.mark.slow
    def test_errors_that_cannot_be_told(self, case):
        with Path("/dev/full").open("wb") as full:
            assert ended("run", "none.toml", stderr=full)[0] == 2
        assert ended("run", "none.toml", stderr=None, preexec_fn=lambda: os.close(2))[0] == 2
        code, out, _ = ended("check", case, stderr=None, preexec_fn=lambda: os.close(2))
        assert code == 0
        assert out

    @pytest.mark.parametrize(
        "encoding", ["latin-1", pytest.param("ascii:strict", marks=pytest.mark.slow)]
    )
    def test_an_encoding_that_lacks_signs(self, write_case, tmp_path, encoding):
        path = write_case({"title": "Verbindung № 1 → µ"})
        env = {**os.environ, "PYTHONIOENCODING": encoding}
        code, out, err = ended("check", path, env=env)
        assert (code, err) == (0, "")
        assert b"Verbindung" in out
        code, out, err = ended("run", path, "--samples", "500", "--json", "-", env=env)
        assert (code, err) == (0, "")
        # RFC 8259, section 8.1: JSON goes from program to program in UTF-8.
        assert json.loads(out.decode("utf-8"))["title"] == "Verbindung № 1 → µ"
        code, _, err = ended("check", tmp_path / "№.toml", env=env)
        assert code == 2
        assert "cannot be read: No such file" in err

    def test_what_cannot_be_shown_does_not_keep_files_from_being_written(self, case):
        with Path("/dev/full").open("wb") as full:
            code, _, err = ended("run", case, "--samples", "500", "--json", "o.json", stdout=full)
        assert code == 1
        assert err.endswith("No space left on device; written: o.json\n")
        assert json.loads(Path("o.json").read_text(encoding="utf-8"))["samples"] == 500


# Room for what is imported, and hardly more.
NARROW = """
import resource
import preloadmc.questions.run, preloadmc.report.text.run, preloadmc.cli.run, scipy.stats
from preloadmc.cli.main import main
with open("/proc/self/statm") as file:
    pages = int(file.read().split()[0])
room = pages * resource.getpagesize() + 12_000_000
resource.setrlimit(resource.RLIMIT_AS, (room, room))
main()
"""


def test_too_little_memory(case):
    code, out, err = ended("run", case, "--samples", "200_000", "--threads", "1", code=NARROW)
    assert (code, out) == (1, b"")
    assert err == "preloadmc: not enough memory\n"
    assert resource.getrlimit(resource.RLIMIT_AS)[0] == resource.RLIM_INFINITY


@pytest.mark.parametrize("make", ["fifo", "device"])
def test_a_case_that_is_no_file(tmp_path, make):
    path = Path("/dev/tty") if make == "device" else tmp_path / "joint.toml"
    if make == "fifo":
        os.mkfifo(path)
    code, _, err = ended("run", path)
    assert code == 2
    words = "cannot be read: it is no regular file (a folder, device, pipe or socket)"
    assert words in " ".join(err.split())


def test_a_case_from_a_pipe(case):
    with Path(case).open("rb") as file, subprocess.Popen(["cat"], stdin=file, stdout=-1) as cat:
        code, _, err = ended("check", "/dev/stdin", stdin=cat.stdout)
        cat.stdout.close()
    assert code == 2
    assert "/dev/stdin: 1 problem\n  - file: cannot be read: it is no regular file" in err


@pytest.fixture
def default_signals():
    """Signals as in a terminal; a shell lets what it runs in the background ignore SIGINT."""
    usual = {signal.SIGINT: signal.default_int_handler, signal.SIGTERM: signal.SIG_DFL}
    before = {number: signal.signal(number, handler) for number, handler in usual.items()}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.usefixtures("default_signals")
class TestInterrupts:
    @pytest.mark.parametrize(
        ("number", "words", "code"),
        # 128 and the number of the signal, as a shell tells it (POSIX: SIGINT 2, SIGTERM 15).
        [(signal.SIGINT, "interrupted", 130), (signal.SIGTERM, "terminated", 143)],
    )
    @pytest.mark.parametrize(
        ("moment", "stands"),
        [
            ("preloadmc.cli.run.run", "nothing was written"),
            ("preloadmc.report.files.run_figures", "nothing was written"),
            ("preloadmc.cli.outputs.write_folder", "written: report report"),
            ("preloadmc.cli.outputs.write_file", "written: report report, out.json"),
            ("preloadmc.cli.outputs.show", "written: report report, out.json"),
        ],
    )
    def test_it_is_said_what_stands(
        self, call, case, monkeypatch, number, words, code, moment, stands
    ):
        module, _, name = moment.rpartition(".")
        true_one = getattr(sys.modules.get(module) or __import__(module, fromlist=[name]), name)

        def struck(*given, **named):
            os.kill(os.getpid(), number)
            return true_one(*given, **named)

        if name != "run_figures":  # the rest needs no drawing
            monkeypatch.setattr("preloadmc.report.files.run_figures", lambda *_: ())
        monkeypatch.setattr(moment, struck)
        result = call("run", case, "--samples", "500", "--out", "report", "--json", "out.json")
        assert (result.exit_code, result.stdout) == (code, "")
        assert result.stderr == f"preloadmc: {words}; {stands}\n"
        assert Path("report/manifest.json").exists() == ("report report" in stands)
        assert Path("out.json").exists() == ("out.json" in stands)
        assert not [path for path in Path().iterdir() if path.name.startswith(".")]

    def test_a_new_case(self, call, tmp_path, monkeypatch):
        monkeypatch.chdir(tmp_path)

        def struck(*_):
            raise Interrupt(signal.SIGTERM)

        monkeypatch.setattr(new_command, "say", struck)
        result = call("new", "joint.toml")
        assert result.exit_code == 143
        assert result.stderr == "preloadmc: terminated; written: joint.toml\n"
        assert Path("joint.toml").exists()

    @pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
    def test_at_a_question(self, call, tmp_path, monkeypatch, number, code):
        monkeypatch.chdir(tmp_path)

        def asked(*_):
            raise Interrupt(number)

        monkeypatch.setattr("preloadmc.cli.interview.said", asked)
        result = call("new", "joint.toml")
        assert result.exit_code == code
        assert result.stderr.endswith("; nothing was written\n")
        assert list(tmp_path.iterdir()) == []

    def test_a_signal_that_is_ignored_stays_so(self):
        before = signal.signal(signal.SIGTERM, signal.SIG_IGN)
        try:
            with interrupts_raised(), interrupts_held():
                os.kill(os.getpid(), signal.SIGTERM)
            assert signal.getsignal(signal.SIGTERM) is signal.SIG_IGN
        finally:
            signal.signal(signal.SIGTERM, before)

    def test_held_until_the_block_is_done(self):
        done = []
        with interrupts_raised():
            try:
                with interrupts_held():
                    os.kill(os.getpid(), signal.SIGTERM)
                    done.append("block")
            except Interrupt as late:
                done.append(late.number)
        assert done == ["block", signal.SIGTERM]

    def test_it_is_no_error_of_a_write(self, call, case, monkeypatch):
        def fails(*_):
            raise PreloadError("out.json: cannot be written: No space left on device")

        monkeypatch.setattr(outputs_module, "write_file", fails)
        result = call("run", case, "--samples", "500", "--json", "out.json")
        assert result.exit_code == 1
        assert result.stdout.startswith("How likely: ")  # the result is not lost
        assert result.stderr == (
            "preloadmc: out.json: cannot be written: No space left on device\n"
        )


STRUCK = """
import sys
from preloadmc.cli.main import main
from preloadmc.report import workplace

put = workplace.Workplace.put_folder

def announced(self):
    print("putting", file=sys.stderr, flush=True)
    put(self)

workplace.Workplace.put_folder = announced
main()
"""


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_whole_runs_that_are_killed_while_they_write(case, number):
    """Each signal at four times after a report is made, in a run that replaces another."""
    options = ["--samples", "500", "--out", "report"]
    assert ended("run", case, *options)[0] == 0
    for delay in range(4):
        with subprocess.Popen(
            [sys.executable, "-c", STRUCK, "run", case, *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process:
            assert process.stderr.readline() == "putting\n"
            time.sleep(0.01 * delay)
            process.send_signal(number)
            _, err = process.communicate(timeout=60)
        assert Path("report/report.html").exists()
        if number != signal.SIGKILL and err:
            assert err.endswith("; written: report report\n")
            assert process.returncode == 128 + number
        assert ended("run", case, *options)[0] == 0
        assert sorted(path.name for path in Path().iterdir()) == [case, "report"]


def test_a_stream_that_cannot_be_told_how_to_escape(monkeypatch):
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    assert leaving.exit_code_of(lambda: None, []) == 0
    assert leaving.exit_code_of(lambda: 3, []) == 3
