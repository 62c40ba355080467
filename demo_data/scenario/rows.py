"""How does the story become files? The columns of design section 7, and nothing else.

Entries go into one file a year; columns that would be empty throughout a file are left out.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import fields

from demo_data.scenario.story import Planted, Story
from fleet.domain.records import Entry, RegisterRecord

__all__ = ["file_texts"]

_COLUMN_OF_FIELD = {
    "from_on": "from",
    "to_on": "to",
    "record_from_on": "record_from",
}


def file_texts(story: Story) -> dict[str, str]:
    """Every file's text by its name below the demo's folder."""
    texts = {f"files/{name}.csv": _text(rows) for name, rows in story.register.items()}
    ordered = sorted(
        story.entries, key=lambda e: (e.property_number, e.task, e.on, e.to_on or e.on, e.key)
    )
    for year in sorted({entry.on.year for entry in ordered}):
        of_the_year = [entry for entry in ordered if entry.on.year == year]
        texts[f"files/entries-{year}.csv"] = _text(of_the_year)
    texts["planted.csv"] = _text(_in_order(story.planted))
    return texts


def _in_order(planted: Sequence[Planted]) -> list[Planted]:
    return sorted(planted, key=lambda p: (p.flaw, p.property_number, p.task, p.from_on))


def _text(records: Sequence[RegisterRecord | Entry | Planted]) -> str:
    rows = [_row(record) for record in records]
    used = [name for name in rows[0] if any(row[name] for row in rows)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(used)
    writer.writerows([row[name] for name in used] for row in rows)
    return out.getvalue()


def _row(record: RegisterRecord | Entry | Planted) -> Mapping[str, str]:
    return {
        _COLUMN_OF_FIELD.get(spec.name, spec.name): _cell(getattr(record, spec.name))
        for spec in fields(record)
    }


def _cell(value: object) -> str:
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    if isinstance(value, dt.datetime):
        return value.strftime("%Y-%m-%dT%H:%M:%SZ")
    return str(value)
