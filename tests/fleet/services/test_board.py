"""Does what a process keeps ready answer as `due` does, whatever was written, and by whom?"""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.domain.records import Closure, Entry, Holiday, Mark
from fleet.domain.register import Change
from fleet.errors import FleetError
from fleet.services.board import Board, BoardView
from fleet.services.due import due_rows
from fleet.services.life.moves import move
from fleet.services.life.outages import back, broken
from fleet.services.mark import mark, strike
from fleet.services.overview import Overviews
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Question
from fleet.storage import SqlStore, open_store
from fleet.wiring import Program, Settings
from tests.fleet.web.lab import NOON, make_lab

HOLIDAYS = Program(
    settings=Settings(), clock=lambda: NOON, stopwatch=float, user="tester"
).public_holidays
UNITS = ("A-1", "A-2", "A-3", "B-1", "C-1")


@pytest.fixture(scope="module")
def small_state(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database file with the small state, for copies."""
    made = make_lab(tmp_path_factory.mktemp("state"))
    made.program.close()
    return Path(made.program.settings.database.removeprefix("sqlite:///"))


def opened(small_state: Path, folder: Path) -> SqlStore:
    copy = folder / "copy.db"
    shutil.copy(small_state, copy)
    return open_store(f"sqlite:///{copy}", clock=lambda: NOON)


def stamp(now: dt.datetime) -> Stamp:
    return Stamp(at=now, by="test", source="command")


def marks(record: Record, unit: str, now: dt.datetime, turn: int) -> None:
    task = "temperature" if unit == "A-3" else ("optics", "annual-service")[turn % 2]
    reading = "9.5" if unit == "A-3" else ""
    entry = Entry(
        key="", property_number=unit, task=task, on=now.date(), mark=Mark.DONE, reading=reading
    )
    mark(record, HOLIDAYS, entry, anyway=True, stamp=stamp(now))


def strikes(record: Record, unit: str, now: dt.datetime, turn: int) -> None:
    stored = list(record.entries([record.unit_ids()[unit]]))
    if stored:
        key = stored[turn % len(stored)].entry.key
        strike(record, HOLIDAYS, key, "a slip", None, stamp=stamp(now))


def breaks(record: Record, unit: str, now: dt.datetime, turn: int) -> None:
    broken(record, HOLIDAYS, unit, None, "smoke", anyway=True, stamp=stamp(now))


def returns(record: Record, unit: str, now: dt.datetime, turn: int) -> None:
    back(record, HOLIDAYS, unit, None, anyway=True, stamp=stamp(now))


def moves(record: Record, unit: str, now: dt.datetime, turn: int) -> None:
    site = ("alder", "birch", "cedar")[turn % 3]
    move(record, HOLIDAYS, unit, site, now.date(), None, anyway=True, stamp=stamp(now))


def closes(record: Record, unit: str, now: dt.datetime, turn: int) -> None:
    on = now.date() - dt.timedelta(days=turn % 5)
    new = Closure(site="alder", from_on=on, to_on=on, reason="snow")
    old = record.register().closures.get(new.key)
    record.change([Change(old=old, new=new, initial=False)], stamp(now))


ACTS: dict[str, Callable[[Record, str, dt.datetime, int], None]] = {
    "mark": marks,
    "strike": strikes,
    "break": breaks,
    "return": returns,
    "move": moves,
    "close": closes,
}


def does(store: SqlStore, act: str, unit: str, now: dt.datetime, turn: int, *, keeps: bool) -> None:
    """Do it, or begin it and let it go; what the fleet refuses changes nothing."""
    with store.begin(write=True) as record:
        try:
            ACTS[act](record, unit, now, turn)
        except FleetError:
            return
        if keeps:
            record.commit()


def agrees(store: SqlStore, board: Board, overviews: Overviews, now: dt.datetime) -> BoardView:
    """The view, held against the answer of `due`, and each site's overview against a new one."""
    with store.begin() as record:
        view = board.view(record, now)
        wanted = due_rows(record, HOLIDAYS, Question(now=now))
        assert list(view.rows) == wanted.rows
        assert sorted(view.failures) == sorted(wanted.failures)
        for site in record.register().sites.values():
            own = [row for row in wanted.rows if row.site == site.site]
            assert list(view.of_site(site.site)) == own
            seen = overviews.of(record, view, site, now)
            assert seen == Overviews(HOLIDAYS).of(record, view, site, now)
    return view


STEPS = st.lists(
    st.tuples(
        st.sampled_from(sorted(ACTS)),
        st.sampled_from(UNITS),
        st.integers(0, 5),
        st.sampled_from(("here", "another process", "let go", "next day")),
    ),
    max_size=6,
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=STEPS)
def test_it_answers_as_due_does_after_whatever_was_written(
    small_state: Path,
    tmp_path_factory: pytest.TempPathFactory,
    steps: list[tuple[str, str, int, str]],
) -> None:
    folder = tmp_path_factory.mktemp("steps")
    now = NOON
    with (
        closing(opened(small_state, folder)) as store,
        closing(open_store(f"sqlite:///{folder / 'copy.db'}", clock=lambda: NOON)) as other,
    ):
        board, overviews = Board(HOLIDAYS), Overviews(HOLIDAYS)
        agrees(store, board, overviews, now)
        for act, unit, turn, how in steps:
            if how == "next day":
                now += dt.timedelta(days=1)
            writer = other if how == "another process" else store
            does(writer, act, unit, now, turn, keeps=how != "let go")
            agrees(store, board, overviews, now)


@pytest.fixture
def board_of(small_state: Path, tmp_path: Path) -> Iterator[tuple[SqlStore, Board]]:
    with closing(opened(small_state, tmp_path)) as store:
        yield store, Board(HOLIDAYS)


def test_nothing_is_answered_anew_while_nothing_changed(
    board_of: tuple[SqlStore, Board],
) -> None:
    store, board = board_of
    with store.begin() as record:
        first = board.view(record, NOON)
    with store.begin() as record:
        assert board.view(record, NOON + dt.timedelta(hours=1)) is first
    does(store, "mark", "A-1", NOON, 0, keeps=True)
    with store.begin() as record:
        second = board.view(record, NOON)
    assert second.version != first.version
    assert second.ticks["alder"] > first.ticks["alder"]
    assert second.ticks["birch"] == first.ticks["birch"]
    assert second.by_site["birch"] is first.by_site["birch"]


def test_a_reader_of_an_earlier_moment_gets_the_answer_of_that_moment(
    board_of: tuple[SqlStore, Board],
) -> None:
    store, board = board_of
    with store.begin() as early:
        before = due_rows(early, HOLIDAYS, Question(now=NOON)).rows
        does(store, "mark", "A-1", NOON, 0, keeps=True)
        with store.begin() as late:
            assert list(board.view(late, NOON).rows) != before
        assert list(board.view(early, NOON).rows) == before
        with store.begin() as late:
            assert list(board.view(late, NOON).rows) != before


def test_what_a_transaction_changed_is_seen_by_it_and_by_nobody_else_until_it_commits(
    board_of: tuple[SqlStore, Board],
) -> None:
    store, _ = board_of
    new = Holiday(site="alder", country="US", subdivision="NE", on=NOON.date(), name="Founding")
    with store.begin() as record:
        record.register()
    with store.begin(write=True) as writer:
        writer.change([Change(old=None, new=new, initial=False)], stamp(NOON))
        assert new.key in writer.register().holidays
        with store.begin() as reader:
            assert new.key not in reader.register().holidays
    with store.begin() as reader:
        assert new.key not in reader.register().holidays, "it was let go"
    with store.begin(write=True) as writer:
        writer.change([Change(old=None, new=new, initial=False)], stamp(NOON))
        writer.commit()
        assert new.key in writer.register().holidays
    with store.begin() as reader:
        assert new.key in reader.register().holidays


def test_the_register_is_read_once_while_it_stays_the_same(
    board_of: tuple[SqlStore, Board],
) -> None:
    store, _ = board_of
    with store.begin() as record:
        first = record.register()
    does(store, "mark", "A-1", NOON, 0, keeps=True)
    with store.begin() as record:
        assert record.register() is first
    does(store, "break", "A-1", NOON, 0, keeps=True)
    with store.begin() as record:
        assert record.register() is not first
