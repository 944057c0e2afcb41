"""What aiming lets be signed: a setting that meets every limit, and nothing else."""

from dataclasses import replace

import pytest

from preloadmc import aim
from preloadmc.questions.aim.setting import Setting
from preloadmc.report.files import aim_files
from preloadmc.report.text.blocks import Signatures, render_text
from preloadmc.report.text.justification import aim_justification

# ln F is normal with s = 0.08 about T/(K d): 30 and 62 kN are 9.1 s apart, so that 1e-4 (2 x 3.72
# s) can be met on both sides and 1e-6 (2 x 4.75 s) cannot.
CASE = {
    "friction.thread": None,
    "friction.bearing": None,
    "friction.nut_factor": {"law": "lognormal", "mean": 0.16, "cov": 0.08},
    "settling.embedding": "0 um",
    "settling.relaxation": "0 %",
    "requirement.minimum_preload": "30 kN",
    "requirement.maximum_preload": "62 kN",
}


@pytest.fixture
def aimed(make_case):
    """A function that aims with the same allowed probability of each side."""

    def found(allowed):
        both = {"requirement.allowed_under": allowed, "requirement.allowed_over": allowed}
        return aim(make_case({**CASE, **both}))

    return found


def assert_nothing_to_sign(result):
    """The sheet refuses, in its title and first line, and has no place for a signature."""
    sheet = aim_justification(result)
    assert sheet.title == "Not justified: Test joint"
    assert sheet.answer[0].startswith("No decision: nothing is justified by this page. ")
    assert not any(
        isinstance(block, Signatures) for each in sheet.sections for block in each.blocks
    )
    assert sheet.sections[-1].title == "Basis"
    page = aim_files(result, "{}", "preloadmc aim case.toml")["justification.html"].decode()
    for text in (render_text(sheet), page):
        assert "Prepared by" not in text
        assert "Decision: " not in text
    assert "Not justified: Test joint" in page
    return sheet


def test_a_confirmed_setting_can_be_signed(aimed):
    result = aimed(1e-4)
    assert result.verification.confirmed
    sheet = aim_justification(result)
    assert sheet.title == "Justification: Test joint"
    decision, likely, limits, before = sheet.answer
    assert limits == result.answer[1]
    # The ends are told with the decision, since no line stands before it.
    low, high = (f"{end:.4g} N·m" for end in (each / 1000.0 for each in result.aim.interval))
    words = result.answer[2].partition(": ")[2].replace("between those ends", "from {} to {}")
    assert decision == f"Decision: {words.format(low, high)}"
    # How likely it is at that setting, as judged anew; the present one, 77.4 N·m, comes last.
    value = decision.removeprefix("Decision: ").partition(":")[0]
    anew = result.verification.judged
    assert likely.startswith(f"How likely: given these laws, at {value}, judged anew, ")
    for side in anew.sides:
        assert f"{side.subject}: {side.words} (upper limit" in likely
    assert before == (
        "Before: at 77.4 N·m, the set torque that this replaces, "
        + result.answer[0].partition("at the present set torque, ")[2]
    )
    assert sheet.sections[-1].title == "Basis and signatures"
    page = aim_files(result, "{}", "preloadmc aim case.toml")["justification.html"].decode()
    for role in ("Prepared by", "Checked by", "Approved by"):
        assert f"{role}: ____" in render_text(sheet)
        assert role in page


def test_nothing_is_signed_where_no_setting_meets(aimed):
    result = aimed(1e-6)
    assert result.to_set is None
    assert all(result.verification.agrees)
    sheet = assert_nothing_to_sign(result)
    assert "page. No set torque meets every limit; it would take less scatter" in sheet.answer[0]
    assert sheet.answer[0].endswith("which is no recommendation.")


def test_nothing_is_signed_where_nothing_is_allowed_of_a_side(aimed):
    sheet = assert_nothing_to_sign(aimed(None))
    assert "page. Nothing is recommended: state allowed_under and allowed_over" in sheet.answer[0]


def test_nothing_is_signed_where_the_check_disagrees(aimed, monkeypatch):
    """The search believes the tool to give 4 % more than the case makes of the same setting."""
    moved = Setting.moved
    monkeypatch.setattr(Setting, "moved", lambda self, x, to: moved(self, x, 1.04 * to))
    result = aimed(1e-4)
    assert result.to_set is not None
    assert result.to_set.judged.verdict == "meets"
    assert result.verification.agrees == (False, False)
    sheet = assert_nothing_to_sign(result)
    assert sheet.answer[0].endswith("no justification is made of them.")


@pytest.mark.parametrize("agrees", [(False, True), (True, False)])
def test_one_side_that_disagrees_is_enough(aimed, agrees):
    result = aimed(1e-4)
    assert_nothing_to_sign(
        replace(result, verification=replace(result.verification, agrees=agrees))
    )
