"""How sure the tests behind the laws make a result, and which tests are worth doing next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preloadmc.case import Case
from preloadmc.inputs import input_label
from preloadmc.judgement.bands import knowledge_share
from preloadmc.judgement.next_tests import MORE, NextTests
from preloadmc.judgement.verdicts import Judgement
from preloadmc.judgement.wording import estimate_words, share_text
from preloadmc.report.text.blocks import Block, Paragraph, Section, Table

# With fewer lots the scatter between them is hardly known.
FEW_LOTS = 4


def knowledge_sections(
    case: Case, judged: Judgement, to_test: Sequence[NextTests]
) -> Iterator[Section]:
    """Yield what the tests behind the laws tell of each limit; nothing where there are none."""
    if judged.outside.band is None:
        return
    yield Section("How sure the tests make us", tuple(_sure(case, judged)))
    for each in to_test:
        yield Section(f"Tests worth doing next, for {each.label}", tuple(_next(each)))


def _sure(case: Case, judged: Judgement) -> Iterator[Block]:
    band = judged.outside.band
    assert band is not None, "asked for where there is one"
    sure = f"{100 * band.confidence:g} %"
    rows = []
    for each in (*judged.outcomes, *judged.beside):
        if each.band is None:
            continue
        low, high = share_text(each.band.low), share_text(each.band.high)
        rows.append(
            (
                each.label,
                estimate_words(each.probability),
                share_text(each.band.median),
                f"{low} to {high}",
                share_text(each.sure),
                f"{100 * knowledge_share(each.probability, each.band):.0f} %",
            )
        )
    header = ("", "predicted", "median", f"{sure} band", f"below, at {sure}", "for want of tests")
    yield Table(header, tuple(rows))
    tested = case.tested
    words = (
        "Predicted: the probability for the next fastener, with what is not known of the laws "
        f"averaged in. Below, at {sure}: where so many tests are made again and again, the true "
        "probability is below this limit in at least that share of them; it is judged by it. "
    )
    if len(tested) > 1:
        words += (
            "With several laws from tests the limit is on the safe side, and nothing is claimed "
            "for the lower end of the band. "
        )
    if any(each.band is not None and each.sure > each.band.upper for each in judged):
        words += (
            "Where a small chance of a very bad law makes most of what is predicted, that is more "
            "than the limit of the band and stands in its place. "
        )
    words += (
        "For want of tests: the part of the uncertainty that more tests would lower and more "
        f"samples would not. {band.draws:,} draws of what is not known; the upper limit of "
        f"{judged.outside.label} is itself known to lie between {share_text(band.upper_low)} and "
        f"{share_text(band.upper_high)}."
    )
    yield Paragraph(words)
    few = [
        input_label(name)
        for name, law in tested.items()
        if (lots := getattr(law.knowledge, "lots", None)) is not None and lots < FEW_LOTS
    ]
    if few:
        yield Paragraph(
            f"Fewer than {FEW_LOTS} lots were tested of {', '.join(few)}: how lots differ is "
            "hardly known. Test more lots; more tests of the same lots would not help."
        )


def _next(tests: NextTests) -> Iterator[Block]:
    priced = any(each.price is not None for each in tests.tests)
    header = [f"for {tests.label}", "tests made", *(f"{more} more" for more in MORE)]
    if not tests.is_settled:
        header.append("settled by")
    if priced and not tests.is_settled:
        header.append("price of that")
    rows = []
    for each in tests.tests:
        row = [
            input_label(each.input) + (", further lots" if each.in_lots else ""),
            f"{each.tests}",
            *(share_text(each.limits[more]) for more in MORE),
        ]
        if not tests.is_settled:
            row.append("-" if each.settles is None else f"{each.settles} more")
        if priced and not tests.is_settled:
            cost = None if each.settles is None or each.price is None else each.price * each.settles
            row.append("-" if cost is None else f"{cost:g}")
        rows.append(tuple(row))
    yield Table(tuple(header), tuple(rows))
    yield Paragraph(
        f"The upper limit to be expected after further tests of one input, now "
        f"{share_text(tests.upper)}; allowed is {share_text(tests.allowed)}. Tests may also turn "
        "out worse than those made: half of the time the limit comes out higher than this."
    )
