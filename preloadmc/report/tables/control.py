"""Rows of what control of each source of scatter, and half of each loss, is worth."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.report.tables.data_table import Row


def control_rows(control: Row) -> Iterator[Row]:
    """Yield each change of each source and loss, by outcome; first the case as it is."""
    yield from _changed({"source": None, "change": "as_is"}, control["as_is"])
    for source in control["sources"]:
        of = {key: source[key] for key in ("source", "inputs", "kind")}
        for change in ("halved", "removed"):
            yield from _changed({**of, "change": change}, source[change])
    if control["bias_corrected"] is not None:
        yield from _changed({"change": "bias_corrected"}, control["bias_corrected"])
    for loss in control["losses"]:
        yield from _changed({"loss": loss["loss"], "change": "halved"}, loss["halved"])


def _changed(of: Row, outcomes: Row) -> Iterator[Row]:
    return ({**of, "outcome": name, **found} for name, found in outcomes.items())
