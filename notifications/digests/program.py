"""What does a program manager plan? Annual services of the coming months and what they cost."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from notifications.digests.folding import shown_items
from notifications.digests.frame import (
    digest,
    empty,
    for_whom,
    listed,
    subject,
    weekly_period,
    where,
)
from notifications.digests.ladder import step_section, steps
from notifications.digests.sections import Line, Section, Tone, capped
from notifications.digests.words import beside, counted, county, day, dollars, joined, month, when
from notifications.facts import Duty, ManagerFacts, Standing
from notifications.languages import tr, trn
from notifications.messages import Kind, Message, Skipped

__all__ = ["AHEAD_DAYS", "Cost", "MonthView", "manager"]

AHEAD_DAYS = 180
"""Services due up to so many days after the digest's day are planned in it."""
_GROUP = 16


@dataclass(frozen=True, slots=True)
class Cost:
    """A number of services and their fees in words; services without a fee are named in them."""

    name: str
    services: str
    fees: str


@dataclass(frozen=True, slots=True)
class MonthView:
    """One month (or what is overdue already) in all, and its regions, the most services first."""

    whole: Cost
    regions: tuple[Cost, ...]


def manager(facts: ManagerFacts, base_url: str = "") -> Message | Skipped:
    """One digest for a program manager: by month and region, unit by unit what presses, and the
    record's root.
    """
    on = facts.on
    until_on = on + dt.timedelta(days=AHEAD_DAYS)
    overdue, due, ahead = _overdue(facts), _due(facts), _ahead(facts, until_on)
    region = listed(facts.regions, "region") if facts.regions else tr("all regions")
    total = _cost(tr("All of it"), [*overdue, *ahead])
    short = counted(len(facts.regions), "region") if len(facts.regions) > 1 else region
    news = [trn("{count} overdue", "{count} overdue", len(overdue))] if overdue else []
    news += [trn("{count} to plan", "{count} to plan", len(ahead))] if ahead else []
    can_do = trn("{count} can be booked now", "{count} can be booked now", len(due))
    news += [total.fees] if news else [can_do]
    sections = tuple(capped(_sections(facts, base_url, overdue, due)))
    context = {
        "title": tr("Annual services, {region}: week of {day}", region=region, day=day(on)),
        "whose": region,
        "subject": subject(
            tr("Annual services, {region}", region=region),
            tr("Annual services, {region}", region=short),
            news,
        ),
        "until": day(until_on),
        "first": _first(overdue, ahead, on),
        "months": _months(overdue, ahead, on),
        "total": total,
        "stand_in": for_whom(facts.stand_in),
        "sections": sections,
        "root": _root(facts),
        "root_command": f"dueward verify --root {facts.root[:_GROUP]}",
    }
    who = tr("You get this because you manage the program for {region}.", region=region)
    if overdue or due or ahead:
        items, period = shown_items(sections, None), weekly_period(on)
        return digest(Kind.MANAGER, facts.reader, period, who, context, items)
    return empty(Kind.MANAGER, facts.reader, on, who, context)


def _overdue(facts: ManagerFacts) -> list[Duty]:
    """Services overdue, the longest first."""
    late = [duty for duty in facts.services if duty.standing is Standing.OVERDUE]
    return sorted(late, key=lambda duty: (-duty.days_past_due, duty.property_number, duty.task))


def _due(facts: ManagerFacts) -> list[Duty]:
    """Services that may be done now and are not overdue, the earliest first."""
    due = [duty for duty in facts.services if duty.standing is Standing.DUE]
    return sorted(due, key=lambda duty: (duty.due_on, duty.property_number, duty.task))


def _ahead(facts: ManagerFacts, until_on: dt.date) -> list[Duty]:
    """Services not overdue that fall due up to a day."""
    waiting = (Standing.DUE, Standing.UPCOMING)
    return [d for d in facts.services if d.standing in waiting and d.due_on <= until_on]


def _cost(name: str, services: Sequence[Duty]) -> Cost:
    known = [duty.fee_cents for duty in services if duty.fee_cents is not None]
    unknown = len(services) - len(known)
    fees = [dollars(sum(known))] if known or not unknown else []
    if unknown:
        fees.append(
            trn("{count} without a fee on record", "{count} without a fee on record", unknown)
        )
    return Cost(name, counted(len(services), "service"), joined(fees))


def _months(overdue: Sequence[Duty], ahead: Sequence[Duty], on: dt.date) -> tuple[MonthView, ...]:
    """What is overdue already, then month by month; one past due but in its grace counts as now."""
    by_month: dict[dt.date, list[Duty]] = defaultdict(list)
    for duty in ahead:
        by_month[max(duty.due_on, on).replace(day=1)].append(duty)
    views = [_month(tr("Overdue already"), overdue)] if overdue else []
    views += [_month(month(first), by_month[first]) for first in sorted(by_month)]
    return tuple(views)


def _month(name: str, services: Sequence[Duty]) -> MonthView:
    by_region: dict[str, list[Duty]] = defaultdict(list)
    for duty in services:
        by_region[duty.place.region or tr("No region")].append(duty)
    ordered = sorted(by_region.items(), key=lambda item: (-len(item[1]), item[0]))
    return MonthView(_cost(name, services), tuple(_cost(region, some) for region, some in ordered))


def _first(overdue: Sequence[Duty], ahead: Sequence[Duty], on: dt.date) -> str:
    """One sentence: what to do first."""
    if overdue:
        region, there = Counter(duty.place.region for duty in overdue).most_common(1)[0]
        worst = overdue[0]
        return trn(
            "Book {place} first: {count} annual service is overdue, {there} of them there; the"
            " longest, {number} at {site}, by {days}.",
            "Book {place} first: {count} annual services are overdue, {there} of them there; the"
            " longest, {number} at {site}, by {days}.",
            len(overdue),
            place=region or worst.place.name,
            there=there,
            number=worst.property_number,
            site=worst.place.name,
            days=counted(worst.days_past_due, "day"),
        )
    if ahead:
        nearest = _months((), ahead, on)[0]
        whole, most = nearest.whole, nearest.regions[0]
        return tr(
            "Nothing is overdue. Book {month} first: {services}, {fees}; most of them in {region}"
            " ({there}).",
            month=whole.name,
            services=whole.services,
            fees=whole.fees,
            region=most.name,
            there=most.services,
        )
    return tr(
        "No annual service is overdue or due within {days}. This mail comes for the record's root"
        " below.",
        days=counted(AHEAD_DAYS, "day"),
    )


def _root(facts: ManagerFacts) -> str:
    """The record's root and its day, in groups of _GROUP digits that can be read aloud."""
    groups = [facts.root[at : at + _GROUP] for at in range(0, len(facts.root), _GROUP)]
    return tr("Record root on {day}: {root}", day=day(facts.root_on), root=" ".join(groups))


def _sections(
    facts: ManagerFacts, base_url: str, overdue: Sequence[Duty], due: Sequence[Duty]
) -> list[Section]:
    """Unit by unit what is overdue and what may be done now."""
    on, regions = facts.on, {"--region": facts.regions}

    def section(title: str, caption: str, status: str, some: Sequence[Duty], tone: Tone) -> Section:
        return Section(
            title=title,
            caption=caption,
            columns=(tr("Unit and site"), tr("How it stands")),
            lines=tuple(_line(duty, on, tone) for duty in some),
            where=where(base_url, "due", on, {**regions, "--status": [status]}),
        )

    late = where(base_url, "due", on, {**regions, "--status": ["overdue"]})
    step = steps(facts.other_overdue, facts.ladder, on, is_manager=True)
    own = steps(facts.services, facts.ladder, on, is_manager=True)
    return [
        step_section([*own, *step], facts.ladder, on, late, is_manager=True),
        section(
            tr("Overdue, unit by unit"),
            tr("The longest overdue first"),
            "overdue",
            [duty for duty in overdue if duty not in own],
            Tone.LATE,
        ),
        section(tr("Can be booked now"), tr("The earliest due first"), "due", due, Tone.SOON),
    ]


def _line(duty: Duty, on: dt.date, tone: Tone) -> Line:
    place = ", ".join(filter(None, (duty.place.name, county(duty.place.county), duty.place.region)))
    about, how = f"{duty.kind}: {place}", when(duty, on)
    return Line(duty.property_number, about, how, tone, beside=beside(duty, on))
