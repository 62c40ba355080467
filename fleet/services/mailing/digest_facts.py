"""What does each reader's digest speak of? Rows of `due` and `gaps`, sorted into facts.

A unit nobody reports on is one in service at least since GAP_DAYS days before the day, of whose
charts of the day or the week every one is overdue with a run of gaps that began in the first week
of those days or before (so that three weeks or more are empty), and none of whose charts is done.
A unit without such charts is judged on its others.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.records import Site, Unit
from fleet.domain.register import Register
from fleet.services.charts.status import MissingChart
from fleet.services.mailing.digest_follow_up import follow_up
from fleet.services.reviews import ReviewRow
from notifications.facts import (
    GAP_DAYS,
    Chart,
    ChartToPrint,
    Duty,
    Escalated,
    OpenAction,
    OpenOutage,
    Period,
    Place,
    SilentUnit,
    Standing,
    WaitingMonth,
    WhyPrint,
)
from schedules.rules import Each, Rule, RuleBook

__all__ = ["FleetFacts", "fleet_facts", "place_of"]

_STANDINGS = {standing.value: standing for standing in Standing}
_FREQUENT = frozenset({Each.OPEN_DAY, Each.WEEK})


@dataclass(frozen=True, slots=True)
class FleetFacts:
    """All facts of the fleet on one day, by the short name of the site where each unit stands."""

    places: dict[str, Place]
    duties: dict[str, list[Duty]] = field(default_factory=lambda: defaultdict(list))
    charts: dict[str, list[Chart]] = field(default_factory=lambda: defaultdict(list))
    silent: dict[str, list[SilentUnit]] = field(default_factory=lambda: defaultdict(list))
    actions: dict[str, list[OpenAction]] = field(default_factory=dict)
    outages: dict[str, list[OpenOutage]] = field(default_factory=dict)
    months: dict[str, list[WaitingMonth]] = field(default_factory=dict)
    to_print: dict[str, list[ChartToPrint]] = field(default_factory=lambda: defaultdict(list))


def fleet_facts(
    register: Register,
    book: RuleBook,
    rows: Iterable[StatusRow],
    gaps: Iterable[FindingRow],
    on: dt.date,
    months: Iterable[ReviewRow] = (),
    unprinted: Iterable[MissingChart] = (),
    escalated: Mapping[tuple[str, str], tuple[Escalated, ...]] | None = None,
    since_on: dt.date | None = None,
) -> FleetFacts:
    """Sort the rows of one day; a row of a unit, kind or task that is not known is an error.

    rows: `due` on the day; gaps: findings, of which only gaps that closed in the GAP_DAYS days
    before the day are used; months: rows of `reviews`, of which only those that wait are used;
    unprinted: charts to be printed; escalated: who was told what is overdue; since_on: the first
    day whose gaps are used, in the place of those GAP_DAYS.
    """
    places = {site.site: place_of(site) for site in register.sites.values()}
    begun = follow_up(register, book, places, months, on)
    found = FleetFacts(places, actions=begun.actions, outages=begun.outages, months=begun.months)
    periods = _periods(gaps, since_on or on - dt.timedelta(days=GAP_DAYS), on)
    rules: dict[tuple[str, str, str], Rule] = {}
    charts_of_unit: dict[str, list[tuple[Chart, StatusRow]]] = defaultdict(list)
    for row in rows:
        standing = _STANDINGS.get(row.state)
        if standing is None:
            continue
        unit = register.units[(row.property_number,)]
        key = (unit.kind, row.task, unit.model)
        rule = rules.get(key) or rules.setdefault(key, _rule(book, unit, row.task, on))
        place, kind = found.places[row.site], book.kinds[unit.kind].name
        if row.basis == "cell":
            missing = periods.get((row.property_number, row.task), ())
            chart = _chart(row, place, kind, rule, standing, missing)
            found.charts[row.site].append(chart)
            charts_of_unit[row.property_number].append((chart, row))
        elif row.due is not None and not _is_gone_by(unit, row.due, standing):
            told = (escalated or {}).get((row.property_number, row.task), ())
            found.duties[row.site].append(_duty(row, place, kind, rule, standing, told))
    _add_silent(found, register, charts_of_unit, on)
    for one in unprinted:
        kind = book.kinds[one.kind].name
        found.to_print[one.site].append(_to_print(one, places[one.site], kind))
    return found


def _to_print(row: MissingChart, place: Place, kind: str) -> ChartToPrint:
    return ChartToPrint(
        place=place,
        property_number=row.property_number,
        kind=kind,
        year=row.year,
        why=WhyPrint(row.reason),
    )


def place_of(site: Site) -> Place:
    """A site as mails name it."""
    return Place(
        site=site.site, name=site.name or site.site, county=site.county, region=site.region
    )


def _periods(
    gaps: Iterable[FindingRow], since_on: dt.date, on: dt.date
) -> dict[tuple[str, str], tuple[Period, ...]]:
    """The gaps told, by unit and task, the earliest first."""
    found: dict[tuple[str, str], set[tuple[dt.date, dt.date]]] = defaultdict(set)
    for row in gaps:
        if row.finding != "gap" or row.closes is None or not since_on <= row.closes < on:
            continue
        first_on, last_on = row.period_from or row.closes, row.period_to or row.closes
        found[row.property_number, row.task].add((first_on, last_on))
    return {
        key: tuple(Period(from_on=first, to_on=last) for first, last in sorted(spans))
        for key, spans in found.items()
    }


def _rule(book: RuleBook, unit: Unit, task: str, on: dt.date) -> Rule:
    """The version of a task in force for a unit on a day, else the one that wins otherwise."""
    versions = book.kinds[unit.kind].tasks(unit.model)[task]
    return next((rule for rule in versions if rule.speaks_on(on)), versions[0])


def _is_gone_by(unit: Unit, due_on: dt.date, standing: Standing) -> bool:
    """Say whether a unit will be retired before a duty that still lies ahead."""
    retired_on = unit.retired_on
    return standing is Standing.UPCOMING and retired_on is not None and retired_on <= due_on


def _duty(
    row: StatusRow,
    place: Place,
    kind: str,
    rule: Rule,
    standing: Standing,
    escalated: tuple[Escalated, ...],
) -> Duty:
    assert row.due is not None  # noqa: S101 - the caller looked
    return Duty(
        place=place,
        property_number=row.property_number,
        kind=kind,
        task=row.task,
        title=rule.title,
        standing=standing,
        opens_on=row.opens or row.due,
        due_on=row.due,
        limit_on=row.limit or row.due,
        days_past_due=row.days_past_due or 0,
        is_annual_service=rule.vendor,
        fee_cents=rule.fee_cents,
        cautions=rule.cautions,
        title_es=rule.title_es or "",
        cautions_es=rule.cautions_es,
        escalated=escalated,
    )


def _chart(
    row: StatusRow,
    place: Place,
    kind: str,
    rule: Rule,
    standing: Standing,
    gaps: tuple[Period, ...],
) -> Chart:
    return Chart(
        place=place,
        property_number=row.property_number,
        kind=kind,
        task=row.task,
        title=rule.title,
        each=rule.each or Each.OPEN_DAY,
        standing=standing,
        opens_on=row.opens,
        closes_on=row.limit,
        missed=row.missed or 0,
        gaps=gaps,
        cautions=rule.cautions,
        title_es=rule.title_es or "",
        cautions_es=rule.cautions_es,
    )


def _add_silent(
    found: FleetFacts,
    register: Register,
    charts_of_unit: dict[str, list[tuple[Chart, StatusRow]]],
    on: dt.date,
) -> None:
    since_on = on - dt.timedelta(days=GAP_DAYS)
    for property_number, charts in charts_of_unit.items():
        unit = register.units[(property_number,)]
        known_since_on = max(unit.in_service_on, unit.record_from_on or unit.in_service_on)
        if known_since_on > since_on or not _is_silent([chart for chart, _ in charts], since_on):
            continue
        one = charts[0][0]
        done = [row.last_done for _, row in charts if row.last_done is not None]
        found.silent[one.place.site].append(
            SilentUnit(
                place=one.place,
                property_number=property_number,
                kind=one.kind,
                gaps=sum(len(chart.gaps) for chart, _ in charts),
                last_done_on=max(done, default=None),
            )
        )


def _is_silent(charts: Sequence[Chart], since_on: dt.date) -> bool:
    """Say whether the charts of one unit have been empty for weeks (see the module's definition).

    A run of more missed cells than there are gaps since `since_on` began before it.
    """
    judged = [chart for chart in charts if chart.each in _FREQUENT] or charts
    begun_by_on = since_on + dt.timedelta(days=6)
    return all(chart.standing is not Standing.DONE for chart in charts) and all(
        bool(chart.gaps)
        and (
            chart.missed > len(chart.gaps)
            or (chart.missed == len(chart.gaps) and chart.gaps[0].to_on <= begun_by_on)
        )
        for chart in judged
    )
