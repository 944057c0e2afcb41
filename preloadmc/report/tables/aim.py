"""The tables of aiming: every event at every setting of note, the curves, the scatter allowed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.engine import OUTCOMES
from preloadmc.report.tables.data_table import DataTable, Row, data_table, without
from preloadmc.report.tables.events import EVENT_COLUMNS, event_rows
from preloadmc.report.tables.input_units import unit_of_input

_COLUMNS = ("at", "input", "setting", "unit", *EVENT_COLUMNS)


def aim_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield the events at each setting, then what closes the range, curves, and scatter."""
    setting = document["setting"]
    unit = {"unit": setting["unit"]}
    yield data_table("aim", _events(document), _COLUMNS)
    yield data_table(
        "setting",
        [
            {
                **without(setting, "present", "to_set", "least_missed", "best", "interval_limits"),
                "interval": dict(zip(("low", "high"), setting["interval"] or (), strict=False)),
            }
        ],
    )
    yield data_table("weighting", [document["weighting"]])
    curve = document["curve"]
    yield data_table("curve", (_at(curve, place, unit) for place in range(len(curve["setting"]))))
    room = document["room"] or ()
    yield data_table("room", (without(each, "inputs") for each in room))
    yield data_table(
        "room_inputs",
        (
            {"scatter": each["scatter"], **row, "unit": unit_of_input(row["name"])}
            for each in room
            for row in each["inputs"]
        ),
    )
    yield data_table("border", document["border"] or ())


def _at(curve: Mapping[str, Any], place: int, unit: Row) -> Row:
    """Return one setting of the curves, with every probability there."""
    return {
        "setting": curve["setting"][place],
        **unit,
        **{
            name: {part: values[place] for part, values in parts.items()}
            for name, parts in without(curve, "setting").items()
        },
    }


def _events(document: Mapping[str, Any]) -> Iterator[Row]:
    """Yield every event at the settings of note; ``at`` is the key of the setting."""
    setting = document["setting"]
    ends = zip(("low", "high"), setting["interval_limits"] or (), strict=False)
    places = {
        "present": setting["present"],
        "to_set": setting["to_set"],
        "least_missed": setting["least_missed"],
        "best": {**setting["best"], "limits": []},
        **{f"interval.{end}": judged for end, judged in ends},
    }
    shown = setting["to_set"] or setting["least_missed"]
    places["verification"] = {**document["verification"], "setting": shown["setting"]}
    for at, judged in places.items():
        if judged is None:
            continue
        outcomes = {name: judged[name] for name in OUTCOMES if name in judged}
        for row in event_rows({**judged, "outcomes": outcomes}):
            where = {"at": at, "input": setting["input"], "setting": judged["setting"]}
            yield {**where, "unit": setting["unit"], **row}
