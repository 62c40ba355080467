"""What happens where the clock goes back by hours between one entry and the next?"""

from __future__ import annotations

import datetime as dt
from contextlib import closing
from dataclasses import replace

from fleet.domain.records import Outage
from fleet.domain.register import Change
from fleet.services.due import due_rows
from fleet.services.mark import mark, strike
from fleet.services.questions import Question
from fleet.storage import open_store
from tests.studies.survival.children import entry_of
from tests.studies.survival.evidence import kept_rows
from tests.studies.survival.invented import STORED_AT, invented
from tests.studies.survival.places import Place, loaded, problems
from tests.studies.survival.programs import program
from tests.studies.survival.raw import tables
from tests.studies.survival.results import Result, result_of

__all__ = ["study", "tried"]

HOURS = (1, 2, 3, -4, -3, 5, -30, 6)
"""The clock's readings, in hours from STORED_AT, entry by entry."""
REMARK = (
    "what was stored while the clock was back is known from the instant the clock said then,"
    " so known-at orders lines by that and not by their place in the chain"
)


def study(places: list[Place]) -> list[Result]:
    """One fleet on each database."""
    return [
        result_of("clock set back", place.name, [tried(place, shift) for shift in range(8)], REMARK)
        for place in places
    ]


def tried(place: Place, shift: int = 0) -> list[str]:
    """Store an entry at each reading of the clock, in some order, and ask what is known when."""
    url = loaded(place, invented(2, 10))
    hours = HOURS[shift:] + HOURS[:shift]
    at = [STORED_AT + dt.timedelta(hours=hour) for hour in hours]
    keys = [f"clock/{turn}" for turn in range(len(at))]
    for turn, instant in enumerate(at):
        on = dt.date(2026, 2, 2) + dt.timedelta(days=turn)
        _write(url, instant, keys[turn], on)
    stored = {row["key"]: row["stored_at"] for row in tables(url)["entry"]}
    said = [
        f"{key} was stored at {stored.get(key)}"
        for key, instant in zip(keys, at, strict=True)
        if stored.get(key) != f"{instant:%Y-%m-%dT%H:%M:%S.%f}Z"
    ]
    said += [
        flaw for instant in at for flaw in _known(url, instant, dict(zip(keys, at, strict=True)))
    ]
    said += _struck(url, keys[0], min(at) - dt.timedelta(hours=2))
    return said + _changed(url, min(at)) + problems(url)


def _write(url: str, instant: dt.datetime, key: str, on: dt.date) -> None:
    of = program(url, instant)
    with closing(open_store(url, clock=of.clock)) as store, store.begin(write=True) as record:
        entry = replace(entry_of(key, "M-001", on), task="optics")
        mark(record, of.public_holidays, entry, anyway=True, stamp=of.stamp("command"))
        record.commit()


def _known(url: str, known_at: dt.datetime, at: dict[str, dt.datetime]) -> list[str]:
    """As known at an instant, the last done day is that of the entries stored by then."""
    of = program(url, STORED_AT)
    question = Question(now=STORED_AT, on=dt.date(2026, 2, 28), known_at=known_at)
    with closing(open_store(url, clock=of.clock)) as store, store.begin() as record:
        rows = due_rows(record, of.public_holidays, question).rows
        days = [
            line.entry.on
            for line in record.entries([record.unit_ids()["M-001"]], "optics")
            if line.known_at <= known_at and line.entry.mark and not line.entry.to_on
        ]
    known = {key for key, instant in at.items() if instant <= known_at}
    (told,) = (r.last_done for r in rows if (r.property_number, r.task) == ("M-001", "optics"))
    if told != max(days) or not known:
        return [f"known at {known_at:%d %H:%M}: last done {told}, the entries say {max(days)}"]
    return []


def _struck(url: str, key: str, instant: dt.datetime) -> list[str]:
    """A correction that the clock puts before what it corrects still corrects it."""
    of = program(url, instant)
    with closing(open_store(url, clock=of.clock)) as store, store.begin(write=True) as record:
        strike(record, of.public_holidays, key, "slip", None, stamp=of.stamp("command"))
        record.commit()
    found = tables(url)
    days = [row for row in kept_rows(found["entry"]) if row["task"] == "optics"]
    return [] if days and all(row in found["marked_year"] for row in days) else ["not struck"]


def _changed(url: str, instant: dt.datetime) -> list[str]:
    """A change of the register while the clock is back is there now and known from then on."""
    of = program(url, instant)
    outage = Outage(property_number="M-002", from_on=dt.date(2026, 2, 2), to_on=None, reason="lamp")
    with closing(open_store(url, clock=of.clock)) as store, store.begin(write=True) as record:
        change = Change(old=None, new=outage, initial=False)
        record.change([change], of.stamp("command"))
        of.rebuild(record, list(record.unit_ids().values()))
        record.commit()
        is_now = outage.key in record.register().outages
        before = record.register(instant - dt.timedelta(seconds=1)).outages
        after = record.register(instant).outages
    if not is_now or outage.key in before or outage.key not in after:
        return ["a change is not known from the instant the clock said"]
    return []
