"""An invented fleet on one Monday, with the rows that `due` and `gaps` would give of it.

The rows are written here and not computed, so that the digests are judged apart from the engine.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, field

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.evidence import Action
from fleet.domain.records import Outage, Person, Placement, Role, Site, Unit
from fleet.domain.register import Register
from fleet.services.mailing.digest import RecordRoot
from schedules.rulebook import shipped_book
from schedules.rules import Basis, Each, Rule, RuleBook

ON = dt.date(2026, 11, 30)
ROOT = RecordRoot("0123456789abcdef" * 4, dt.datetime(2026, 12, 1, 2, 0, tzinfo=dt.UTC))
"""As it was on the evening of that Monday in Chicago."""
BOOK: RuleBook = shipped_book()
_DAY = dt.timedelta(days=1)
_SPAN = {Each.OPEN_DAY: 1, Each.WEEK: 7, Each.MONTH: 30, Each.QUARTER: 91, Each.HALF_YEAR: 182}


@dataclass
class Scenario:
    """A register and the rows of one day, built up one unit at a time."""

    on: dt.date = ON
    sites: dict[tuple[str, ...], Site] = field(default_factory=dict)
    units: dict[tuple[str, ...], Unit] = field(default_factory=dict)
    people: dict[tuple[str, ...], Person] = field(default_factory=dict)
    placements: dict[tuple[str, ...], Placement] = field(default_factory=dict)
    outages: dict[tuple[str, ...], Outage] = field(default_factory=dict)
    actions: dict[tuple[str, ...], Action] = field(default_factory=dict)
    rows: list[StatusRow] = field(default_factory=list)
    gaps: list[FindingRow] = field(default_factory=list)

    @property
    def register(self) -> Register:
        return Register(
            sites=self.sites,
            units=self.units,
            people=self.people,
            placements=self.placements,
            outages=self.outages,
            actions=self.actions,
        )

    def site(self, site: str, name: str, county: str, region: str, lead: str = "") -> Site:
        made = Site(
            site=site,
            name=name,
            county=county,
            region=region,
            country="US",
            subdivision="NE",
            time_zone="America/Chicago",
            open_days="Mon Tue Wed Thu Fri",
            lead_email=lead,
        )
        self.sites[made.key] = made
        return made

    def person(self, email: str, name: str, role: Role, site: str = "", region: str = "") -> None:
        made = Person(email=email, name=name, role=role, site=site, region=region)
        self.people[made.key] = made

    def unit(self, property_number: str, kind: str, site: str) -> Unit:
        made = Unit(
            property_number=property_number,
            kind=kind,
            manufacturer="Northfield",
            model="N1",
            serial="1",
            site=site,
            in_service_on=dt.date(2024, 3, 4),
        )
        self.units[made.key] = made
        return made

    def duty(self, unit: Unit, task: str, due_in: int, early: int = 45, grace: int = 15) -> None:
        """An anchored row whose due date lies so many days ahead (negative: behind)."""
        due_on = self.on + due_in * _DAY
        opens_on, limit_on = due_on - early * _DAY, due_on + grace * _DAY
        state = "overdue" if self.on > limit_on else "due" if self.on >= opens_on else "upcoming"
        past = max(0, -due_in)
        site = self.sites[(unit.site,)]
        self.rows.append(
            StatusRow(
                site=site.site,
                county=site.county,
                region=site.region,
                property_number=unit.property_number,
                kind=unit.kind,
                task=task,
                basis="anchored",
                state=state,
                last_done=due_on - 365 * _DAY,
                nominal=due_on,
                opens=opens_on,
                due=due_on,
                limit=limit_on,
                days_past_due=past,
                open_days_past_due=past * 5 // 7,
                missed=None,
            )
        )

    def chart(
        self,
        unit: Unit,
        task: str,
        state: str,
        missed: int = 0,
        gaps: list[tuple[dt.date, dt.date]] | None = None,
        closes_in: int = 0,
        last_done: dt.date | None = None,
    ) -> None:
        """A cell row, and a gap finding for each period given (first and last day)."""
        site = self.sites[(unit.site,)]
        place = (site.site, site.county, site.region, unit.property_number, unit.kind, task)
        opens_on, closes_on = self.on, self.on + closes_in * _DAY
        cells = (None, opens_on, None, closes_on, None, None)
        self.rows.append(StatusRow(*place, "cell", state, last_done, *cells, missed))
        for first, last in gaps or []:
            settle = "Mark what was done, or explain why not."
            self.gaps.append(
                FindingRow(*place, "gap", first, last, first, last, None, None, settle)
            )


def rules_of(kind: str) -> list[Rule]:
    """The rules of a kind that hold for every model."""
    return [versions[0] for versions in BOOK.kinds[kind].tasks("N1").values()]


SITES = (
    ("alder-creek", "Alder Creek Health Laboratory", "Adams", "Platte"),
    ("blue-stem", "Bluestem Clinic", "Adams", "Platte"),
    ("clear-fork", "Clear Fork Hospital Laboratory", "Buffalo", "Platte"),
    ("dry-ridge", "Dry Ridge Community Laboratory", "Dawes", "Panhandle"),
    ("elm-hollow", "Elm Hollow Clinic", "Sioux", "Panhandle"),
    ("fox-meadow", "Fox Meadow Laboratory", "Cherry", "Sandhills"),
    ("goose-lake", "Goose Lake Hospital", "Holt", "Sandhills"),
)
LEADS = ("ana", "ana", "ben", "cleo", "dov", "eve", "finn")
KINDS = (
    "microscope",
    "microscope",
    "microscope",
    "centrifuge",
    "refrigerator",
    "pipette",
    "autoclave",
)


def week_days(before_on: dt.date, count: int) -> list[tuple[dt.date, dt.date]]:
    """The last so many weekdays before a day, as periods, the earliest first."""
    found: list[tuple[dt.date, dt.date]] = []
    on = before_on - _DAY
    while len(found) < count:
        if on.weekday() < 5:
            found.insert(0, (on, on))
        on -= _DAY
    return found


def a_state(seed: int = 7, units_a_site: int = 7) -> Scenario:
    """Seven sites in three regions, a lead each (one leads two), two consultants, one manager."""
    state, chance = Scenario(), random.Random(seed)
    for (site, name, county, region), lead in zip(SITES, LEADS, strict=True):
        state.site(site, name, county, region, f"{lead}@lab.example")
        for number in range(units_a_site):
            kind = KINDS[number % len(KINDS)]
            unit = state.unit(f"NE-{len(state.units) + 1001}", kind, site)
            _fill(state, unit, chance, silent=site == "elm-hollow" and number < 2)
    state.person("ana@lab.example", "Ana Quist", Role.SITE_LEAD, site="alder-creek")
    state.person("con@lab.example", "Con Dale", Role.CONSULTANT, region="Platte")
    state.person("ivy@lab.example", "Ivy Dale", Role.CONSULTANT)
    state.person("max@lab.example", "Max Orr", Role.MANAGER)
    return state


def _fill(state: Scenario, unit: Unit, chance: random.Random, silent: bool) -> None:
    for rule in rules_of(unit.kind):
        if rule.basis is not Basis.CELL:
            due_in = chance.choice([-75, -40, -20, -9, 0, 3, 9, 24, 44, 70, 95, 130, 160, 200, 300])
            state.duty(unit, rule.task, due_in, rule.early, rule.grace)
        elif rule.each is Each.OPEN_DAY and silent:
            state.chart(unit, rule.task, "overdue", 20, week_days(state.on, 20))
        elif rule.each is Each.OPEN_DAY and chance.random() < 0.25:
            count = chance.choice([1, 2, 3, 6])
            state.chart(unit, rule.task, "overdue", count, week_days(state.on, count))
        else:
            assert rule.each is not None
            closes_in = 0 if rule.each is Each.MONTH else _SPAN[rule.each] - 1
            state.chart(unit, rule.task, "due", closes_in=closes_in)
