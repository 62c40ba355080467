"""Are charts printed without a screen or a disk: made prints, kept first, and named then?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import pytest

from fleet.domain.records import Closure
from fleet.errors import BadInput, ChartTooLong, Fault, StoreError
from fleet.services.charts.facts import YearChart
from fleet.services.charts.printing import (
    Means,
    ToPrint,
    keep_and_place,
    missing_prints,
    year_prints,
)
from fleet.services.charts.prints import Laid
from fleet.services.charts.years import ChartQuestion
from fleet.services.questions import Question
from tests.fakes import FakeRecord, FakeStore
from tests.fleet.services.charts.print_fleet import STAMP
from tests.fleet.services.charts.year_fleet import (
    DAILY,
    HOLIDAYS,
    YEARLY,
    a_fleet,
    a_unit,
    day,
)

JULY = dt.datetime(2026, 7, 1, 15, tzinfo=dt.UTC)
DECEMBER = dt.datetime(2026, 12, 7, 15, tzinfo=dt.UTC)


class Paper:
    """A `Layout` on which charts of units whose numbers begin with L do not fit."""

    version = "1"

    def laid(self, chart: YearChart) -> Laid:
        if chart.unit.property_number.startswith("L"):
            raise ChartTooLong(chart.kind.code, 30, 1, 28)
        return Laid(1, "{}")


@dataclass
class Files:
    """`WaitingFiles` that note what the store holds when they are asked."""

    store: FakeStore
    taken: bool = False
    told: list[tuple[str, int]] = field(default_factory=list)

    def check(self) -> None:
        self._note("check")
        if self.taken:
            raise BadInput([Fault("charts.pdf", None, None, "it is there already", "go")])

    def place(self) -> None:
        self._note("place")

    def _note(self, what: str) -> None:
        self.told.append((what, len(self.store.record.register().prints)))


def means() -> Means:
    numbers = iter(f"PRINT{n:03}" for n in range(99))
    return Means(
        public_holidays=HOLIDAYS,
        layout=Paper(),
        number=lambda: next(numbers),
        paper="letter",
        step=lambda count: None,
    )


def of_year(record: FakeRecord) -> ToPrint:
    return year_prints(record, ChartQuestion(year=2026, now=JULY), means())


def missing(record: FakeRecord, now: dt.datetime = JULY) -> ToPrint:
    return missing_prints(record, Question(now=now), (), None, means())


def told(found: ToPrint) -> list[tuple[str, int]]:
    return [(one.print.property_number, one.print.year) for one in found.printed]


def test_what_does_not_fit_on_paper_is_left_out_and_told_with_its_count() -> None:
    record = a_fleet(DAILY, units=[a_unit("L-1"), a_unit("A-1"), a_unit("L-2")])

    for found in (of_year(record), missing(record)):
        assert told(found) == [("A-1", 2026)]
        assert found.failures == [f"2 charts left out, {ChartTooLong('stirrer', 30, 1, 28)}"]


def test_where_nothing_fits_on_paper_it_is_refused() -> None:
    record = a_fleet(DAILY, units=[a_unit("L-1")])

    for ask in (of_year, missing):
        with pytest.raises(BadInput) as refused:
            ask(record)
        assert str(refused.value) == str(ChartTooLong("stirrer", 30, 1, 28))


def test_a_failure_is_told_once_whatever_the_years() -> None:
    closed = Closure(
        site="alder", from_on=day("2025-03-01"), to_on=day("2026-03-10"), reason="flood"
    )
    record = a_fleet(YEARLY, DAILY, records=[closed])

    found = missing(record, DECEMBER)

    assert told(found) == [("A-1", 2026), ("A-1", 2027)]
    assert found.failures == [
        "unit A-1, service: site alder: no open day within 366 days of 2025-03-04;"
        " check its closures and its weekly pattern"
    ]


def test_prints_are_kept_before_files_have_their_names() -> None:
    store = FakeStore(a_fleet(DAILY))
    found, files = of_year(store.record), Files(store)

    keep_and_place(store, found.printed, STAMP, files)

    assert [what for what, _ in files.told] == ["check", "place"]
    assert list(store.record.register().prints.values()) == [found.printed[0].print]


def test_nothing_is_kept_or_named_where_a_name_is_taken() -> None:
    store = FakeStore(a_fleet(DAILY))
    files = Files(store, taken=True)

    with pytest.raises(BadInput):
        keep_and_place(store, of_year(store.record).printed, STAMP, files)

    assert (files.told, store.record.register().prints) == ([("check", 0)], {})


def test_of_two_printings_of_a_chart_the_second_is_refused() -> None:
    store = FakeStore(a_fleet(DAILY))
    first, second = of_year(store.record), of_year(store.record)
    keep_and_place(store, first.printed, STAMP, Files(store))
    files = Files(store)

    with pytest.raises(StoreError) as refused:
        keep_and_place(store, second.printed, STAMP, files)

    assert str(refused.value) == (
        "chart of A-1 at alder: another was printed meanwhile, and nothing of this printing was"
        " kept; print again if it is still needed"
    )
    assert files.told == []
