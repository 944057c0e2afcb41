"""The screens of shipped cases, whole: regression pins, read by eye, of one machine and numpy.

`PRELOADMC_WRITE_SCREENS=1` writes them anew; read each as a user would before it is kept.
"""

import os
import re
from itertools import pairwise
from pathlib import Path

import pytest

HERE = Path(__file__).parent / "screens"
SLOW = pytest.mark.slow
COMMANDS = {
    "run": ("run", "conveyor_bracket.toml"),
    "run_inch": ("run", "pump_cover.toml"),
    "run_joint": ("run", "filter_cover.toml"),
    "run_states": ("run", "crane_bracket.toml"),
    "run_tests": ("run", "tested_friction.toml"),
    "compare": ("compare", "tool_choice.toml"),
    "aim": ("aim", "conveyor_bracket.toml"),
    "aim_joint": ("aim", "filter_cover.toml"),
    "infer": ("infer", "loosened_cover.toml"),
    "rank": ("rank", "sensor_lid.toml"),
    "derive": ("derive", "conveyor_bracket.toml"),
    "fit": ("fit", "friction_tests.csv", "--column", "torque", "--where", "lubricant=oil"),
    "fit_many": ("fit", "friction_tests.csv"),
    "fit_decay": ("fit", "vibration_tests.csv", "--decay"),
    "survey": (
        "survey",
        "drive_line_register.csv",
        "--template",
        "drive_line_joint.toml",
        "--worst",
        "0",
    ),
    "check": ("check", "conveyor_bracket.toml"),
    "check_inch": ("check", "pump_cover.toml"),
}
# Those that take more than some seconds.
_LONG = ("run_joint", "aim_joint", "infer", "run_tests", "run_states", "compare", "survey")
WIDTH, LINES = 80, 40
# A check lists every assumption, however many there are.
_OF_ANY_LENGTH = ("check", "check_inch")
# Numbers of an answer; those of names, such as "90 % of yield" and "wrench, 6 %", are none, nor are
# those of the fasteners in an order.
_FIGURE = re.compile(r"[\d.]+(?: x 10\^-?\d+| (?:%|per million|N·m|EUR|tests)|(?=[;,.)]| \())")
_README_BLOCK = re.compile(r"```text\n(.*?)\n```", re.DOTALL)
_NAMES = re.compile(r"\"[^\"]*\"|\d+ % of yield|fastener \d+|`[^`]*`|\((?:\d+[,+ ]+)+\d+\)")


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=SLOW) if name in _LONG else name for name in COMMANDS]
)
def test_the_screen_of_a_shipped_case(call, case_files, name):
    command, case, *options = COMMANDS[name]
    cases = case_files[0].parent
    files = [cases / each if (cases / each).is_file() else each for each in options]
    shown = call(command, cases / case, *files)
    assert (shown.exit_code, shown.stderr) == (0, "")
    path = HERE / f"{name}.txt"
    if os.environ.get("PRELOADMC_WRITE_SCREENS"):
        path.write_text(shown.stdout, encoding="utf-8")
    assert shown.stdout == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_a_screen_fits_a_terminal(name):
    lines = (HERE / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    assert max(map(len, lines)) <= WIDTH
    assert name in _OF_ANY_LENGTH or len(lines) <= LINES
    # No line ends between a number and its unit.
    unit = re.compile(r"\s*(%|per million|N·m|kN|lbf|mm|µm)(?!\w)")
    assert not [one for one, two in pairwise(lines) if re.search(r"\d$", one) and unit.match(two)]


@pytest.mark.parametrize(
    "name", [name for name in COMMANDS if COMMANDS[name][0] not in ("derive", "check")]
)
def test_a_line_of_an_answer_has_two_figures_at_most(name):
    text = (HERE / f"{name}.txt").read_text(encoding="utf-8")
    answer = text.partition("\n\n")[0].replace("\n  ", " ").splitlines()
    assert len(answer) == 3
    for line in answer:
        assert len(_FIGURE.findall(_NAMES.sub("", line))) <= 2, line


def test_a_joint_with_every_load_and_two_states_is_derived_on_one_screen(
    call, case_files, tmp_path
):
    text = (case_files[0].parent / "filter_cover.toml").read_text(encoding="utf-8")
    loads = 'transverse = "6 kN"\ntorsional_moment = "300 N·m"\nbending_moment = "800 N·m"\n'
    states = "".join(
        f'[[temperature.state]]\nname = "{name}"\nfastener = "{at}"\nclamped = "{at}"\n'
        for name, at in (("hot", "120 degC"), ("cold", "-20 degC"))
    )
    text = text.replace("circle =", f"{loads}circle =").replace(
        "[friction]", "[friction]\njoint = 0.2"
    )
    path = tmp_path / "joint.toml"
    path.write_text(f'{text}\n[temperature]\nassembly = "20 degC"\n{states}', encoding="utf-8")
    lines = call("derive", path).stdout.splitlines()
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= WIDTH
    assert any(line.startswith("State: cold: ") for line in lines)
    assert "State: cold" in call("derive", path, "--full").stdout


def test_what_the_readme_shows_stands_on_these_screens():
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = [part for block in _README_BLOCK.findall(readme) for part in block.split("\n\n")]
    screens = [path.read_text(encoding="utf-8") for path in HERE.glob("*.txt")]
    assert len(shown) >= 6
    for part in shown:
        assert any(part in screen for screen in screens), part
