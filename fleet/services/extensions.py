"""How is a due date put off, and what does that change in the answers?

An extension leaves nominal, due and the days past due as they are: it only says until when what is
not done is `due` and not `overdue`. A service that is done uses it up.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from fleet.domain.answers import StatusRow
from fleet.domain.evidence import Extension
from fleet.domain.register import Register
from schedules.explain import in_words

__all__ = ["Extensions", "extended", "extension_words", "extensions_of", "in_force_of"]

Extensions = Mapping[tuple[str, str], Sequence[Extension]]
"""Property number and task to what was granted, the earliest first."""


def extensions_of(register: Register) -> Extensions:
    """The extensions that a register knows."""
    found: dict[tuple[str, str], list[Extension]] = defaultdict(list)
    for extension in sorted(register.extensions.values(), key=_from_on):
        found[extension.property_number, extension.task].append(extension)
    return found


def _from_on(extension: Extension) -> dt.date:
    return extension.from_on


def in_force_of(row: StatusRow, granted: Iterable[Extension], on: dt.date) -> Extension | None:
    """The extension that counts for a row of that day: the latest granted, unless it is used up."""
    if row.basis == "cell" or row.limit is None:
        return None
    known = [extension for extension in granted if extension.from_on <= on]
    if not known or (row.last_done is not None and row.last_done >= known[-1].from_on):
        return None
    return known[-1]


def extended(rows: dict[int, StatusRow], extensions: Extensions, on: dt.date) -> None:
    """Put off the limits of the rows of one day, in place."""
    if not extensions:
        return
    for place, row in rows.items():
        granted = extensions.get((row.property_number, row.task), ())
        extension = in_force_of(row, granted, on)
        if extension is not None and row.limit is not None:
            limit = max(row.limit, extension.until_on)
            is_put_off = row.state == "overdue" and on <= limit
            state = "due" if is_put_off else row.state
            rows[place] = row._replace(limit=limit, state=state)


def extension_words(extension: Extension) -> str:
    """An extension as a step of `why`."""
    granted, until = in_words(extension.from_on), in_words(extension.until_on)
    return (
        f"On {granted} {extension.granted_by} put it off until {until}"
        f" ({one_sentence(extension.reason)}): until then it is due, not overdue. The due date and"
        " the manufacturer's interval are not changed by that: maintenance is asked for at least as"
        " often as the manufacturer says (42 CFR 493.1254(a)(1))."
    )


def one_sentence(reason: str) -> str:
    """A reason as it stands within a sentence."""
    return " ".join(reason.split()).rstrip(".")
