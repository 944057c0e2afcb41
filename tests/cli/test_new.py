"""A case file from a few answers."""

import io
import sys

import pytest
from click.testing import CliRunner

from preloadmc import check, load_case
from preloadmc.cli.main import main
from preloadmc.mechanics.grades import grade


def new(*words):
    return CliRunner().invoke(main, ["new", *map(str, words)])


@pytest.mark.parametrize(
    ("thread", "grade_name"),
    [
        ("M6", "8.8"),
        ("M10", "10.9"),
        ("M36", "8.8"),
        ("3/8-16 UNC", "SAE 8"),
        ("M12x1.25", "A2-70"),
    ],
)
def test_examples_fit_the_thread_and_class_that_are_given(tmp_path, thread, grade_name):
    file = tmp_path / "joint.toml"
    told = new(file, "--thread", thread, "--property-class", grade_name)
    assert told.exit_code == 0, told.output
    case = load_case(file)
    nominal = check(case).nominal
    found = case.joint.thread
    strength = grade(grade_name, found.diameter).yield_strength
    # The offered torque is for 60 % of yield at a nut factor of 0.16; class B is near that.
    assert 0.5 < nominal.path["assembled"] / (strength * found.stress_area) < 0.7
    assert case.laws["requirement.minimum_preload"].mean < nominal.path["assembled"]
    assert "Left at examples, to be replaced by your own:" in told.stdout
    assert f"- Thread (M12, M12x1.25, 1/2-13 UNC, ...): {thread}" not in told.stdout


@pytest.mark.parametrize(
    ("grade_name", "material"),
    [("A2-70", "stainless steel A2"), ("A4-80", "stainless steel A4"), ("8.8", "steel")],
)
def test_the_material_of_the_fastener_goes_by_its_class(tmp_path, grade_name, material):
    file = tmp_path / "joint.toml"
    assert new(file, "--property-class", grade_name).exit_code == 0
    case = load_case(file)
    assert case.joint.fastener_material.name == material
    assert case.joint.mate_material.name == material
    stated = file.read_text(encoding="utf-8").replace(
        "[fastener]", '[fastener]\nmaterial = "steel"'
    )
    file.write_text(stated, encoding="utf-8")
    assert load_case(file).joint.fastener_material.name == "steel"


def test_answers_stand_in_the_file_as_given(tmp_path):
    file = tmp_path / "joint.toml"
    told = new(file, "--title", 'The "big" one', "--torque", "45 N·m", "--friction", "E")
    assert told.exit_code == 0, told.output
    text = file.read_text(encoding="utf-8")
    assert 'torque = "45 N·m"' in text
    assert "The class has no upper end; 0.4 is yours." in text
    assert load_case(file).title == 'The "big" one'


def test_each_part_is_a_layer_so_that_their_interfaces_embed(tmp_path):
    file = tmp_path / "joint.toml"
    assert new(file, "--thickness", "31 mm", "--parts", "4").exit_code == 0
    case = load_case(file)
    assert [part.thickness for part in case.joint.parts] == pytest.approx([7.75] * 4)
    # VDI 2230, guide values from memory, Rz 10 to 40 um, transverse: thread 3, seats 2 x 4.5,
    # three inner interfaces of 2.5 um
    assert case.laws["settling.embedding"].mean == pytest.approx(19.5e-3)
    for parts in ("0", "two", "21"):
        told = new(tmp_path / "other.toml", "--parts", parts)
        assert told.exit_code == 2
        assert f"number of parts: a whole number from 1 to 20, not '{parts}'" in told.stderr


def test_nothing_is_overwritten_unless_asked(tmp_path):
    file = tmp_path / "joint.toml"
    file.write_text("mine", encoding="utf-8")
    told = new(file)
    assert (told.exit_code, file.read_text(encoding="utf-8")) == (2, "mine")
    assert "exists; name another file" in told.stderr
    assert new(file, "--overwrite").exit_code == 0
    assert file.read_text(encoding="utf-8") != "mine"


def test_what_is_replaced_keeps_its_permissions_and_its_link(tmp_path):
    file, link = tmp_path / "joint.toml", tmp_path / "link.toml"
    file.write_text("mine", encoding="utf-8")
    file.chmod(0o640)
    link.symlink_to("joint.toml")
    assert new(link, "--overwrite").exit_code == 0
    assert link.is_symlink()
    assert file.stat().st_mode & 0o777 == 0o640
    assert load_case(file).title


def test_a_write_that_fails_leaves_the_old_case(tmp_path, monkeypatch):
    file = tmp_path / "joint.toml"
    file.write_text("mine", encoding="utf-8")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    told = new(file, "--overwrite")
    assert told.exit_code == 1
    assert "joint.toml: cannot be written: No space left on device" in told.stderr
    assert file.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--thread", "M13"], "unknown thread 'M13'; nearest: M3"),
        (["--property-class", "8.9"], "unknown property class or grade '8.9'"),
        (["--friction", "Z"], "unknown friction class 'Z'"),
        (["--torque", "45 kg"], "unknown unit 'kg'; nearest: kgf; a torque is wanted, such as in"),
        (["--hole-diameter", "9 mm"], "a diameter above 12 mm, that of M12: it must pass"),
    ],
)
def test_an_answer_that_cannot_be_leaves_no_file(tmp_path, words, message):
    told = new(tmp_path / "joint.toml", *words)
    assert told.exit_code == 2
    assert message in told.stderr
    assert not (tmp_path / "joint.toml").exists()


def test_a_closed_input_is_no_terminal(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    from preloadmc.cli.new import command

    command.callback(file=tmp_path / "joint.toml", overwrite=False, **dict.fromkeys(ANSWERS))
    assert (tmp_path / "joint.toml").exists()


def test_on_a_terminal_it_asks(tmp_path, monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    from preloadmc.cli import new as new_command

    asked = []

    def prompt(question, default):
        asked.append((question, default))
        return "M16" if question.startswith("Thread") else default

    monkeypatch.setattr(new_command.click, "prompt", prompt)
    monkeypatch.setattr(sys, "stdin", Terminal())
    new_command.command.callback(
        file=tmp_path / "joint.toml", overwrite=False, **dict.fromkeys(ANSWERS)
    )
    assert len(asked) == len(ANSWERS)
    # What is offered after the thread fits it: a hole of 1.1 times the diameter.
    assert dict(asked)["Diameter of the hole"] == "17.6 mm"
    assert load_case(tmp_path / "joint.toml").joint.thread.designation == "M16"


ANSWERS = (
    "title",
    "thread",
    "property_class",
    "bearing_outer_diameter",
    "hole_diameter",
    "material",
    "parts",
    "thickness",
    "friction",
    "torque",
    "tool_tolerance",
    "minimum_preload",
    "allowed",
)
