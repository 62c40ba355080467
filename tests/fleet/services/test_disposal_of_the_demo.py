"""Does a disposal of the whole demo change no answer, and is what is left accepted by the walk?"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from importlib.resources import as_file
from pathlib import Path

import pytest

import demo_data
from fleet.domain.records import REMOVED
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.disposal import dispose, plan_disposal
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.kept import rebuild
from fleet.services.load import load
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Question
from fleet.storage import SqlStore, create, open_store
from tests.fakes import NoProgress

EVENING = dt.datetime(2026, 11, 25, 23, 0, tzinfo=dt.UTC)
LATER = dt.datetime(2029, 1, 15, 18, 0, tzinfo=dt.UTC)
BEFORE = dt.date(2026, 10, 1)
HOLIDAYS = PublicHolidayCalendar()


def answers(store: SqlStore) -> dict[str, str]:
    """What is due and missing, in text, on the demo's day, a year before, and as known then."""
    today = demo_data.today()
    known = Question(now=LATER, on=today, known_at=EVENING + dt.timedelta(minutes=1))
    a_year_before = Question(now=LATER, on=today - dt.timedelta(days=365))
    present = Question(now=LATER, on=today)
    found: dict[str, str] = {}
    with store.begin() as record:
        for name, question in (("now", present), ("then", a_year_before), ("as known", known)):
            found[f"due {name}"] = _text(due_rows(record, HOLIDAYS, question).rows)
        for finding in ("gap", "conflict", "impossible", "backdated"):
            rows = finding_rows(record, HOLIDAYS, dt.date(2024, 6, 3), today, present, finding)
            found[finding] = _text(rows)
        since = finding_rows(record, HOLIDAYS, BEFORE, today, known)
        found["all since, as known"] = _text(since)
    return found


def _text(rows: Sequence[object]) -> str:
    return "\n".join(map(repr, rows))


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> SqlStore:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'fleet.db'}"
    create(url)
    opened = open_store(url, clock=lambda: EVENING)

    def again(record: Record, unit_ids: list[int]) -> None:
        rebuild(record, unit_ids, HOLIDAYS)

    with as_file(demo_data.files()) as files:
        load(
            opened,
            read_tables([Path(files)]),
            HOLIDAYS,
            again,  # type: ignore[arg-type]
            stamp=Stamp(at=EVENING, by="demo", source="file"),
            progress=NoProgress(),
        )
    return opened


def test_no_answer_of_the_demo_changes_and_the_walk_accepts_what_is_left(store: SqlStore) -> None:
    with closing(store):
        before = answers(store)
        with store.begin(write=True) as record:
            kept_before = record.kept_years()
            planned = plan_disposal(record, BEFORE, LATER)
            dispose(record, planned, "yearly disposal", Stamp(LATER, "owner", "command"))
            record.commit()

        assert answers(store) == before
        with store.begin() as record:
            sources = Counter(line.source for line in record.entries())
            assert record.kept_years() == kept_before
            assert record.heads()["tombstone"].seq == sources[REMOVED] == len(planned.keys)
            assert list(record.flaws(lambda _: None)) == []

    assert sources[REMOVED] > 20_000
    assert all(len(text) > 2 for name, text in before.items() if name.startswith(("due", "gap")))


def test_the_counts_of_the_report_add_up(store: SqlStore) -> None:
    with closing(store), store.begin() as record:
        rows = plan_disposal(record, BEFORE, LATER).rows
        dated = sum((s.entry.to_on or s.entry.on) < BEFORE for s in record.entries())

    counted = sum(
        row.entries
        + row.kept_in_retention
        + row.kept_recorded_later
        + row.kept_with_correction
        + row.kept_open_action
        + row.removed_before
        for row in rows
    )
    assert counted == dated
