"""Rows of judged events: of the joint, sides of the window, limits, the check at the tool."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.verdicts import NOT_JUDGED
from preloadmc.report.tables.data_table import Row, without

EVENT_COLUMNS = (
    "kind",
    "name",
    "governing_state",
    "probability",
    "low",
    "high",
    "confidence",
    "band.upper",
    "band.confidence",
    "allowed",
    "verdict",
    "method",
    "samples",
    "model_calls",
    "misses",
    "reliable",
    "bound",
    "note",
    "beta",
    "per_million",
    "median_margin_share",
    "sides",
)
"""Columns of every table of events."""


def event_rows(judged: Row) -> Iterator[Row]:
    """Yield all that is judged, of a part of a document that has ``outcomes`` and ``limits``.

    ``kind`` is the key under which the document has it. Of what was not judged, ``note`` says why.
    """
    group = judged.get("group") or {}
    for name, event in group.get("outcomes", {}).items():
        yield _event("group", name, event)
    for name, event in judged.get("outcomes", {}).items():
        # Its sides are judged: it is no gap that nothing is allowed of both together.
        judged_by_sides = name == OUTSIDE and event.get("allowed") is None
        yield _event("outcome", name, without(event, "verdict") if judged_by_sides else event)
    for limit in judged["limits"]:
        yield _event("limit", limit["limit"], limit)
    for missing in judged.get("not_judged", ()):
        yield {
            "kind": "limit",
            "name": missing["limit"],
            "verdict": NOT_JUDGED,
            "note": missing["reason"],
        }
    for name, event in judged.get("securing", {}).items():
        yield _event("securing", name, event)
    check = judged.get("acceptance")
    if check is not None:
        found = {name: check[name] for name in ("rejected", "good_rejected", "bad_passed")}
        for name, event in (*found.items(), *without(check["accepted"], "preload").items()):
            if event is not None:
                yield _event("acceptance", name, event)


def _event(kind: str, name: str, event: Row) -> Row:
    """Return one event; what else the document has of it stands in tables of its own."""
    known: dict[str, Any] = {
        key: value for key, value in event.items() if key in (*EVENT_COLUMNS, "difference_to_first")
    }
    band = event.get("band")
    if band is not None:
        known["band"] = {key: band[key] for key in ("upper", "confidence")}
    return {"kind": kind, "name": name, **known}
