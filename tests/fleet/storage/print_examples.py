"""Prints as they stand in a record, without a chart that was drawn."""

from __future__ import annotations

import datetime as dt
import json

from fleet.domain.prints import Print

__all__ = ["PRINTED_ON", "chart_print"]

PRINTED_ON = dt.date(2026, 3, 2)


def chart_print(
    number: str = "7K2M9QXA",
    property_number: str = "M-001",
    year: int = 2026,
    rows: int = 3,
    **other: str,
) -> Print:
    """A print of a unit at Alder Creek with so many rows of a cell a day."""
    days = "".join(_sign(dt.date(year, 1, 1) + dt.timedelta(n)) for n in range(_days(year)))
    row = {"each": "open-day", "role": "day", "task": "optics", "times": rows}
    row["title"] = '=Clean "top" down, größer 😀'
    told = [{**row, "turn": n} for n in range(1, rows + 1)]
    geometry = {"box_rows": 1, "layout": "1", "months": 3, "row": 8.1, "slots": 2}
    return Print(
        number=number,
        property_number=property_number,
        site="alder-creek",
        year=year,
        printed_on=PRINTED_ON,
        replaces=other.get("replaces", ""),
        known_at=other.get("known_at", ""),
        paper="letter",
        layout="1",
        pages=4,
        geometry=_json({**geometry, "rows": ["day"] * rows}),
        days=days,
        rows=_json(told),
        cells=" ".join([days] * rows),
    )


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _sign(on: dt.date) -> str:
    return "W" if on.weekday() > 4 else "."


def _days(year: int) -> int:
    return (dt.date(year + 1, 1, 1) - dt.date(year, 1, 1)).days
