"""What is the whole story: the register, the entries, and the list of what was planted?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from demo_data.scenario.charts import Chart, draw_chart, entries_of
from demo_data.scenario.corrections import further_entries, give_keys
from demo_data.scenario.evidence import RETURNED_LATE, reports, reviews
from demo_data.scenario.flaws import CHART_FLAWS, NEVER_REPORTED, spoil
from demo_data.scenario.instruments import OUTAGES, PLACEMENTS, UNITS, unit_of
from demo_data.scenario.mail_times import ABSENCES, QUIET_PERIODS, SETTINGS
from demo_data.scenario.opening import FIRST_ON, HOLIDAYS, LAST_ON
from demo_data.scenario.places import CLOSURES, PATTERNS, SITES
from demo_data.scenario.prints import prints
from demo_data.scenario.services import LATE_VISITS, OWING, Service, services
from demo_data.scenario.staff import people
from fleet.domain.records import Entry, Mark, Person, RegisterRecord, Unit
from schedules.rules import Basis, Each, Rule, RuleBook

__all__ = ["Planted", "Story", "told"]


@dataclass(frozen=True, slots=True)
class Planted:
    """One flaw or event that is in the files on purpose; both days are included."""

    property_number: str
    task: str
    flaw: str
    from_on: dt.date
    to_on: dt.date | None
    note: str


@dataclass(frozen=True, slots=True)
class Story:
    """Everything the files say, in the order of the files."""

    register: dict[str, Sequence[RegisterRecord]]
    entries: list[Entry] = field(default_factory=list)
    planted: list[Planted] = field(default_factory=list)


# What a site does in its own way, told of its microscope.
_OF_SITES = (
    ("arthur", "open days", FIRST_ON, None, "open on Tuesday and Thursday only"),
    ("mcpherson", "open days", dt.date(2025, 9, 1), None, "no longer open on Friday"),
    ("hooker", "closure", dt.date(2026, 1, 2), dt.date(2026, 2, 13), "closed for the winter"),
    ("lancaster", "extra opening", dt.date(2026, 10, 17), dt.date(2026, 10, 17), "a Saturday"),
    ("wheeler", "holiday added", dt.date(2026, 8, 7), dt.date(2026, 8, 7), "County fair day"),
    ("banner", "holiday refused", dt.date(2026, 4, 24), dt.date(2026, 4, 24), "Arbor Day"),
)


def told(book: RuleBook) -> Story:
    """Tell the story under this rule book."""
    everyone: list[Person] = people()
    story = Story(
        {
            "sites": SITES,
            "patterns": PATTERNS,
            "holidays": HOLIDAYS,
            "closures": CLOSURES,
            "units": UNITS,
            "placements": PLACEMENTS,
            "outages": OUTAGES,
            "people": everyone,
            "absences": ABSENCES,
            "quiet_periods": QUIET_PERIODS,
            "mail_settings": SETTINGS,
        },
        planted=list(_planted_in_the_register()),
    )
    for unit in UNITS:
        if (unit.site, unit.kind) == NEVER_REPORTED:
            story.planted.append(_whole_record(unit, "nothing reported"))
            continue
        for task, versions in book.kinds[unit.kind].tasks(unit.model).items():
            if versions[0].basis is Basis.CELL:
                _tell_chart(story, unit, task, versions)
            else:
                _tell_services(story, unit, task, versions)
    story.register["reports"] = reports(story.entries, _vendor_tasks(book))
    story.register["reviews"] = reviews()
    story.register["prints"] = prints(
        [*SITES, *PATTERNS, *HOLIDAYS, *CLOSURES, *UNITS, *PLACEMENTS, *OUTAGES]
    )
    return story


def _vendor_tasks(book: RuleBook) -> frozenset[str]:
    rules = (rule for kind in book.kinds.values() for rule in kind.rules)
    return frozenset(rule.task for rule in rules if rule.vendor)


def _whole_record(unit: Unit, flaw: str) -> Planted:
    start = max(FIRST_ON, unit.in_service_on)
    return Planted(unit.property_number, "", flaw, start, LAST_ON, "no entry of any task")


def _tell_chart(story: Story, unit: Unit, task: str, versions: Sequence[Rule]) -> None:
    daily = any(rule.each is Each.OPEN_DAY for rule in versions)
    for copy in range(max(rule.times for rule in versions)):
        chart = draw_chart(unit, versions, copy)
        story.planted.extend(_spoiled(chart, unit, task, daily=daily, first=copy == 0))
        if daily and copy == 0:
            give_keys(unit, task, chart)
        story.entries.extend(entries_of(unit, task, chart, folded=daily))
        if daily and copy == 0:
            found = list(further_entries(unit, task, chart))
            story.entries.extend(entry for entry, _ in found)
            story.planted.extend(
                Planted(
                    unit.property_number, task, flaw, entry.on, entry.on, entry.why or entry.note
                )
                for entry, flaw in found
                if flaw
            )


def _spoiled(chart: Chart, unit: Unit, task: str, *, daily: bool, first: bool) -> Iterator[Planted]:
    """Change the chart as the flaws of its unit say, and tell which were planted."""
    for flaw in CHART_FLAWS:
        whole_site = flaw.kind == "*" and flaw.site == unit.site
        own = unit == (None if flaw.kind == "*" else unit_of(flaw.site, flaw.kind))
        if not daily or not (whole_site or own):
            continue
        before = dict(chart)
        spoil(chart, flaw)
        if first and chart != before:
            yield Planted(
                unit.property_number, task, flaw.flaw, flaw.from_on, flaw.to_on, flaw.note
            )


def _tell_services(story: Story, unit: Unit, task: str, versions: Sequence[Rule]) -> None:
    done = services(unit, versions)
    story.entries.extend(_service_entry(unit, task, service) for service in done)
    rule = versions[0]
    yearly = rule.vendor and rule.every is not None and rule.every.text in ("P1Y", "P12M")
    if not yearly:
        return
    if unit.site in OWING:
        story.planted.append(
            Planted(unit.property_number, task, "service owed", done[-1].on, None, OWING[unit.site])
        )
    for (site, year), days in LATE_VISITS.items():
        found = [s.on for s in done if s.on.year == year] if unit.site == site else []
        if found:
            note = f"the visit came {days} days later than planned"
            story.planted.append(
                Planted(unit.property_number, task, "late service", found[0], found[0], note)
            )


def _service_entry(unit: Unit, task: str, service: Service) -> Entry:
    return Entry(
        key="",
        property_number=unit.property_number,
        task=task,
        on=service.on,
        mark=Mark.DONE,
        initials=service.initials,
        note=service.note,
    )


def _planted_in_the_register() -> Iterator[Planted]:
    for move in PLACEMENTS:
        yield Planted(move.property_number, "", "moved", move.from_on, None, f"to {move.site}")
    for outage in OUTAGES:
        last = outage.to_on and outage.to_on - dt.timedelta(days=1)
        yield Planted(
            outage.property_number, "", "out of service", outage.from_on, last, outage.reason
        )
    for unit in UNITS:
        if unit.retired_on is not None:
            yield Planted(unit.property_number, "", "retired", unit.retired_on, None, "")
    for site, flaw, from_on, to_on, note in _OF_SITES:
        yield Planted(unit_of(site, "microscope").property_number, "", flaw, from_on, to_on, note)
    for site, month in RETURNED_LATE:
        start = dt.date.fromisoformat(f"{month}-01")
        number = unit_of(site, "microscope").property_number
        end = (start + dt.timedelta(days=31)).replace(day=1) - dt.timedelta(days=1)
        yield Planted(number, "", "chart returned late", start, end, "the whole site's charts")
    old, new = unit_of("cuming", "microscope"), unit_of("franklin", "microscope", 2)
    yield Planted(
        old.property_number, "", "before the record", old.in_service_on, FIRST_ON, "record_from"
    )
    yield Planted(new.property_number, "", "issued", new.in_service_on, None, "a new unit in May")
