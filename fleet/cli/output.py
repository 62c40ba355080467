"""How does an answer leave the program? As bytes on stdout: JSON, CSV or text, and nothing else.

A reader that has seen enough (`| head`) changes nothing about the answer or the exit code.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Literal, TextIO

__all__ = [
    "Form",
    "Value",
    "csv_text",
    "flush",
    "note",
    "one_line",
    "show_object",
    "show_rows",
    "write_text",
]

Form = Literal["table", "json", "csv"]
Value = str | int | float | bool | dt.date | None
_GUARDED = ("=", "+", "-", "@", "\t")


def show_rows(
    columns: Sequence[str], rows: Iterable[Sequence[Value]], form: Form, table: Callable[[], str]
) -> None:
    """Print rows, each a value a column, in one of the forms; `table` makes the one for people."""
    if form == "table":
        write_text(table())
    elif form == "csv":
        _write(csv_text(columns, rows))
    else:
        lines = ",\n".join(_json(dict(zip(columns, row, strict=True))) for row in rows)
        _write(f"[\n{lines}\n]\n" if lines else "[]\n")


def show_object(fields: Mapping[str, object], form: Form, text: Callable[[], str]) -> None:
    """Print one object; in CSV a row, in which a list is joined into one cell."""
    if form == "table":
        write_text(text())
    elif form == "json":
        _write(_json(fields) + "\n")
    else:
        cells = [" ".join(v) if isinstance(v, list) else v for v in fields.values()]
        _write(csv_text(list(fields), [cells]))


def _json(fields: Mapping[str, object]) -> str:
    return json.dumps(fields, ensure_ascii=False, default=_iso)


def _iso(value: dt.date) -> str:
    return value.isoformat()


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV: RFC 4180 but for its line ends, which are those of other text here."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(map(_cell, row) for row in rows)
    return text.getvalue()


def _cell(value: object) -> object:
    """A text that a spreadsheet would take for a formula gets a ' before it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, str) and value.startswith(_GUARDED):
        return f"'{value}"
    return value


def _write(text: str, encoding: str = "utf-8", errors: str = "replace") -> None:
    """Write text; data is UTF-8 (RFC 8259 8.1), whatever the terminal's own encoding."""
    _quietly(sys.stdout, lambda: _write_whole(memoryview(text.encode(encoding, errors))))


def _write_whole(data: memoryview) -> None:
    """Write until nothing is left: an unbuffered stdout may take less at once than it is given."""
    while data:
        data = data[sys.stdout.buffer.write(data) :]


def write_text(text: str) -> None:
    """Write words for people, in the terminal's encoding."""
    whole = text if text.endswith("\n") else f"{text}\n"
    _write(whole, sys.stdout.encoding, sys.stdout.errors or "replace")


def note(text: str) -> None:
    """Write a line of words to stderr."""
    _quietly(sys.stderr, lambda: sys.stderr.write(f"{one_line(text)}\n"))


def one_line(text: str) -> str:
    """A text with nothing in it that moves the cursor or hides other text."""
    if text.isprintable():
        return text
    return "".join(
        c if c.isprintable() else " " if c.isspace() else c.encode("unicode_escape").decode()
        for c in text
    )


def flush() -> None:
    """Hand over what is still on its way to stdout."""
    _quietly(sys.stdout, lambda: None)


def _quietly(stream: TextIO, action: Callable[[], object]) -> None:
    """Write and flush; what comes after the reader has gone, or the disk is full, goes nowhere."""
    try:
        action()
        stream.flush()
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if not isinstance(error, BrokenPipeError):
            raise
