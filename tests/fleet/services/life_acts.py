"""The acts of a unit's life as tests do them, at noon of one day, and what refuses them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import pytest

from fleet.errors import BadInput, Doubtful, NotFound
from fleet.services.due import due_rows
from fleet.services.life.acts import Act
from fleet.services.life.ends import close_site, retire
from fleet.services.life.issue import issue
from fleet.services.life.moves import move
from fleet.services.life.outages import back, broken
from fleet.services.ports import Record
from fleet.services.questions import Question
from tests.fleet.services.life_fleet import (
    HOLIDAYS,
    NOON,
    SCOPE,
    STAMP,
    day,
)

__all__ = [
    "BACK", "BROKEN", "CLOSE", "ISSUE", "MOVE", "NEW", "RETIRE", "refusal", "states", "twice",
]  # fmt: skip

NEW = replace(SCOPE, property_number="C-1", serial="8", in_service_on=day("2026-03-04"))
ISSUE = partial(issue, public_holidays=HOLIDAYS, anyway=False, stamp=STAMP)
MOVE = partial(move, public_holidays=HOLIDAYS, anyway=False, stamp=STAMP)
BROKEN = partial(broken, public_holidays=HOLIDAYS, anyway=False, stamp=STAMP)
BACK = partial(back, public_holidays=HOLIDAYS, anyway=False, stamp=STAMP)
RETIRE = partial(retire, public_holidays=HOLIDAYS, anyway=False, stamp=STAMP)
CLOSE = partial(close_site, public_holidays=HOLIDAYS, anyway=False, stamp=STAMP)


def states(record: Record, number: str, on: str = "2026-03-04") -> dict[str, str]:
    answer = due_rows(record, HOLIDAYS, Question(now=NOON, on=day(on)))
    assert answer.failures == []
    return {row.task: row.state for row in answer.rows if row.property_number == number}


def refusal(act: Callable[[], object]) -> str:
    with pytest.raises((BadInput, Doubtful, NotFound)) as refused:
        act()
    return str(refused.value)


def twice(record: Record, act: Callable[[], Act]) -> Act:
    """Do an act twice: the second time writes nothing, and answers with the same facts."""
    first, changes = act(), len(list(record.change_lines()))
    second = act()
    assert len(list(record.change_lines())) == changes
    assert second.facts == first.facts
    return first
