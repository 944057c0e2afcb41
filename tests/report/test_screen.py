"""What a screen shows, and what goes where there is more than fits."""

from dataclasses import replace

from judgements import ALLOWED, MEETS, MISSES, doubted, judgement, limit

from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.verdicts import Judged
from preloadmc.limits import UNDER
from preloadmc.report.text.screen import LINES, Part, Screen, render_screen, table_part, together
from preloadmc.report.text.screen_parts import is_close, limit_part, outcome_part

NEVER = from_counts(0, 100_000)
ANSWER = (
    "How likely: given these laws, 1.4 x 10^-7 of fasteners end outside the window, 3.2 % here.",
    "What dominates: friction.",
    "What to do: nothing.",
)


def rows(count):
    return table_part(("row", "value"), [(f"row {place}", "1") for place in range(count)])


def screen(*parts, warnings=(), answer=ANSWER):
    return Screen("A joint", answer, tuple(warnings), parts, assumed=3)


def test_the_longest_part_is_cut_and_tells_how_much():
    lines = render_screen(screen(rows(60), rows(5))).splitlines()
    assert len(lines) == LINES
    (more,) = [line for line in lines if line.endswith("(--full)")]
    shown = sum(line.startswith("row ") and "value" not in line for line in lines)
    assert more == f"  and {60 + 5 - shown} more (--full)"
    assert render_screen(screen(rows(5))).count("more") == 0


def test_what_must_stay_stays():
    kept = Part(("heading",), tuple((f"kept {place}",) for place in range(12)), least=12)
    text = render_screen(screen(rows(60), kept))
    assert all(f"kept {place}" in text for place in range(12))


def test_an_answer_is_wrapped_between_words_and_behind_units():
    for width in range(40, 90):
        lines = render_screen(screen(), width).split("\n\n")[0].splitlines()
        assert max(map(len, lines)) <= width
        for words in ("1.4 x 10^-7", "3.2 %"):
            assert any(words in line for line in lines), (width, words)


def test_of_many_warnings_two_are_shown_in_two_lines_each():
    long = "word " * 100
    lines = render_screen(screen(warnings=[long, "short", "third", "fourth"])).splitlines()
    assert "and 2 more: `preloadmc check CASE`" in lines
    (first,) = [place for place, line in enumerate(lines) if line.startswith("Warning: word")]
    assert lines[first + 1].endswith(" ...")
    assert lines[first + 2] == "Warning: short"


def test_a_limit_is_close_within_a_factor_of_ten_or_without_margin():
    # Clopper-Pearson of 50 in 100,000 ends at 6.6e-4, of 100 at 1.22e-3 (scipy.stats.binomtest).
    for misses, share, close in ((50, 0.3, False), (100, 0.3, True), (50, -0.1, True)):
        slip = limit("slip", from_counts(misses, 100_000), share=share)
        assert is_close(slip, judgement(MEETS, MEETS, slip)) == close
    shaky = limit("slip", doubted(NEVER))
    assert is_close(shaky, judgement(MEETS, MEETS, shaky))
    # One of the window is held to what is allowed of its side.
    under, over = judgement(MISSES, MEETS, allowed=(ALLOWED, ALLOWED)).limits[:2]
    judged = judgement(MISSES, MEETS)
    assert is_close(under, judged)
    assert not is_close(over, judged)


def test_the_others_are_told_in_a_line():
    judged = judgement(
        MISSES, NEVER, limit("slip", NEVER), limit("pressure under head", MEETS, kind="pressure"),
        unknown={"thread stripping": "state engagement"},
    )  # fmt: skip
    lines = limit_part(judged).lines(9)
    assert lines[1].startswith("minimum preload")
    assert lines[2] == "2 others never missed, 1 far below what is allowed, 1 not judged."
    none = judgement(NEVER, NEVER)
    assert limit_part(none, "at 90 N·m").lines(0) == [
        "No limit at 90 N·m is missed or close: 2 never missed."
    ]


def test_what_matters_least_goes_first_and_the_rest_keeps_its_order():
    part = Part(("heading",), (("a",), ("b",), ("c",)), ranks=(2, 0, 1), tail=("tail",))
    assert part.lines(3) == ["heading", "a", "b", "c", "tail"]
    assert part.lines(2) == ["heading", "a", "c", "  and 1 more (--full)", "tail"]
    joined = together(part, Part((), (("last",),)))
    assert "tail\nlast\n\n" in render_screen(screen(*joined))


def test_of_a_long_list_of_events_of_a_joint_those_not_met_stay():
    names = ("any_under", "any_over", "any_outside", "total_clamp", "least_clamp")
    found = [MISSES if name == "least_clamp" else MEETS for name in names]
    events = [
        Judged(name, (UNDER,), each, each, ALLOWED) for name, each in zip(names, found, strict=True)
    ]
    judged = replace(judgement(MEETS, MEETS), of_joint=tuple(events))
    part = outcome_part(judged)
    assert len(part.items) == 8
    assert part.lines(8)[1].startswith("any with too little")
    assert part.lines(8)[-1].startswith("one: outside the window")
    assert part.lines(1)[1].startswith("least clamp force")
    text = render_screen(screen(part, rows(0), answer=["word " * 16] * 25))
    assert len(text.splitlines()) <= LINES


def test_beside_a_long_answer_warnings_are_told_by_their_number():
    warnings = ["word " * 100, "more " * 100]
    part = Part(("heading",), tuple((f"kept {place}",) for place in range(8)), least=8)
    for words, told in (
        (11, "and 1 more: `preloadmc check CASE`"),
        (12, "2 warnings: `preloadmc check CASE`"),
    ):
        text = render_screen(screen(part, warnings=warnings, answer=["word " * 30] * words))
        assert told in text.splitlines()
        assert len(text.splitlines()) <= LINES
