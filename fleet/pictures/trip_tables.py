"""What does each trip of a plan do? Tables of stops on landscape pages, a block a trip."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from fleet.files.paper import POINT
from fleet.pictures.clock import clock_text
from fleet.pictures.phrases import (
    day_text,
    dollars,
    hours_text,
    miles_text,
    month_text,
    whole_miles,
)
from fleet.pictures.plan_paper import FOOT, MARGIN, PlanPaper
from fleet.pictures.plan_words import Numbered, PlanWords
from notifications.digests.words import counted
from schedules.visits.model import Need, Order, Technician
from schedules.visits.told import ToldVisit

__all__ = ["TripTables"]

_SIZE, _LINE, _HEAD, _GAP = 7.5, 7.5 * POINT * 1.25, 5.4, 2.6
_WHEN, _LEG = 33.0, 44.0
_KEPT, _LEAST = 75.0, 25.0
"""A trip so high is kept on one page; a higher one begins where so much is left."""
_SITE = 0.38
"""The share of the rest of the width that the site's name takes."""


@dataclass(frozen=True, slots=True)
class _Row:
    when: str
    site: Sequence[str]
    units: Sequence[str]
    leg: str

    @property
    def height(self) -> float:
        return max(1, len(self.site), len(self.units)) * _LINE + 0.7


class TripTables:
    """Sets trips on the pages of a document; lengths in millimetres."""

    def __init__(self, sheet: PlanPaper, order: Order, words: PlanWords) -> None:
        self._sheet, self._words = sheet, words
        self._needs: Mapping[str, Need] = {need.name: need for need in order.needs}
        self._technicians: Mapping[str, Technician] = {
            one.technician: one for one in order.technicians
        }
        self._width = sheet.w - 2 * MARGIN
        self._rest = self._width - _WHEN - _LEG
        self._y = self._bottom = sheet.h - FOOT - 1.5

    def draw(self, trips: Sequence[Numbered]) -> None:
        """Draw all trips, from the top of a new page on."""
        self._page()
        self._sheet.start_section("Trips")
        for month, some in groupby(trips, lambda one: one.month):
            for turn, one in enumerate(some):
                rows = [self._row(one, visit) for visit in one.trip.visits]
                rows.append(self._home(one))
                high = _HEAD + sum(row.height for row in rows)
                if high > self._bottom - self._y and (
                    high <= _KEPT or self._bottom - self._y < _LEAST
                ):
                    self._page()
                if not turn:
                    self._sheet.start_section(month_text(month), 1)
                self._trip(one, rows)

    def unplaced(self, names: Sequence[str], why: Mapping[str, str]) -> None:
        """The needs that are in no trip, each with the reason if it is known."""
        self._page()
        self._sheet.start_section("Unplaced")
        self._band(f"{counted(len(names), 'service')} without a place in the plan")
        for name in names:
            need, lines = self._needs.get(name), [name]
            if need is not None:
                site = self._words.name_of(need.site)
                told = f"{need.property_number} {need.task}, {site}: {need.opens_on} to"
                lines = [f"{told} {need.limit_on}"]
            if name in why:
                lines.append(why[name])
            shown = [line for text in lines for line in self._wrapped(text, self._width - 2)]
            if len(shown) * _LINE > self._bottom - self._y:
                self._page()
            for line in shown:
                self._text(MARGIN + 1, self._y + _LINE * 0.8, line)
                self._y += _LINE
            self._y += 0.7

    def _page(self) -> None:
        self._sheet.add_page()
        self._y = MARGIN

    def _trip(self, one: Numbered, rows: Sequence[_Row]) -> None:
        """A band with the trip's facts, then a row for each stop."""
        self._band(_facts(one))
        for row in rows:
            if row.height > self._bottom - self._y:
                self._page()
                self._band(f"Trip {one.number} (continued)")
            self._stop(row)
        self._y += _GAP

    def _band(self, text: str) -> None:
        sheet = self._sheet
        sheet.set_fill_color(225)
        sheet.rect(MARGIN, self._y, self._width, _HEAD - 0.8, "F")
        sheet.set_fill_color(0)
        sheet.write_in(_SIZE + 0.5, bold=True)
        shown = sheet.fit(sheet.clean(text), self._width - 2)
        sheet.text(MARGIN + 1, self._y + 3.3, shown)
        self._y += _HEAD

    def _stop(self, row: _Row) -> None:
        site_at = MARGIN + 1 + _WHEN
        units_at, leg_at = site_at + _SITE * self._rest, MARGIN + self._width - _LEG
        first = self._y + _LINE * 0.8
        self._text(MARGIN + 1, first, row.when)
        for x, lines in ((site_at, row.site), (units_at, row.units), (leg_at, [row.leg])):
            for turn, line in enumerate(lines):
                self._text(x, first + turn * _LINE, line)
        self._y += row.height
        self._sheet.set_line_width(0.1)
        self._sheet.set_draw_color(190)
        self._sheet.line(MARGIN, self._y - 0.4, MARGIN + self._width, self._y - 0.4)
        self._sheet.set_draw_color(0)

    def _row(self, one: Numbered, visit: ToldVisit) -> _Row:
        begins_at = self._technicians[one.trip.technician].begins_at
        when = f"{day_text(visit.arrives_on)}  {clock_text(begins_at, visit.arrives_minute)}"
        site = self._words.name_of(visit.site)
        if (known := self._words.sites.get(visit.site)) is not None and known.county:
            site += f", {known.county} county"
        leg = _drive(visit.miles, visit.drive_minutes)
        share = _SITE * self._rest - 3
        units = self._wrapped("; ".join(self._units(visit)), self._rest - share - 6)
        return _Row(when, self._wrapped(site, share), units, leg)

    def _home(self, one: Numbered) -> _Row:
        """The way home, which is what is left of the trip's miles and minutes."""
        trip = one.trip
        begins_at = self._technicians[trip.technician].begins_at
        when = f"{day_text(trip.ends_on)}  {clock_text(begins_at, trip.ends_minute)}"
        miles = trip.miles - sum(visit.miles for visit in trip.visits)
        minutes = trip.drive_minutes - sum(visit.drive_minutes for visit in trip.visits)
        return _Row(when, [f"home at {trip.depot}"], [], _drive(miles, minutes))

    def _units(self, visit: ToldVisit) -> Iterator[str]:
        """Units by their task: 'annual-service: A-1, A-2'."""
        tasks: dict[str, list[str]] = {}
        for told in visit.needs:
            need = self._needs[told.name]
            tasks.setdefault(need.task, []).append(need.property_number)
        for task, numbers in tasks.items():
            yield f"{task}: {', '.join(numbers)}"

    def _wrapped(self, text: str, room: float) -> list[str]:
        self._sheet.write_in(_SIZE)
        return self._sheet.wrap(text, room)

    def _text(self, x: float, y: float, text: str) -> None:
        self._sheet.write_in(_SIZE)
        self._sheet.text(x, y, self._sheet.clean(text))


def _drive(miles: int, minutes: int) -> str:
    return f"drive {miles_text(miles)}, {hours_text(minutes)}"


def _facts(one: Numbered) -> str:
    trip = one.trip
    days = day_text(trip.starts_on)
    if trip.ends_on != trip.starts_on:
        days += f" – {day_text(trip.ends_on)}"
    parts = (
        f"Trip {one.number}",
        f"{trip.technician}, {trip.vendor}" if trip.vendor else trip.technician,
        f"{days} {trip.ends_on.year}, from {trip.depot}",
        f"{counted(len(trip.visits), 'visit')}, {counted(one.services, 'service')}",
        f"{whole_miles(trip.miles)}, {hours_text(trip.drive_minutes)} driven",
        counted(trip.nights, "night"),
        dollars(trip.costs.total),
    )
    return "  ·  ".join(parts)
