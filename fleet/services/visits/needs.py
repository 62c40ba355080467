"""Which duties must a vendor's visit settle within a span of days (design 4.3, 4.4)?

The duties are those of rules with `vendor = true`; their dates are the engine's, on the first day
of the span, or the day a unit enters service or comes back within it. A duty that is due again
within the span is asked again as if it had been done on its due date.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fleet.domain.records import Outage, Placement, Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.columns import book_of
from fleet.services.due import sheets
from fleet.services.narrow import lets_through
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Narrow, Question
from fleet.services.stays import moves_of, site_on
from fleet.services.visits.duties import Dated, first_dates, later_dates
from schedules.dates import day_of
from schedules.intervals import reach
from schedules.rules import Basis, Rule, RuleBook
from schedules.visits.model import Need

__all__ = ["Needed", "Span", "needs_of"]

_ONE_DAY = dt.timedelta(days=1)
_NAMED = 6
"""So many names stand in a note; of more it is said how many they are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The days of a plan, both ends included, and how long what is past its limit may wait."""

    from_on: dt.date
    to_on: dt.date
    catch_up_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """Needs by unit, task and due date, and by their names the limits that the record sets."""

    needs: tuple[Need, ...]
    limits: Mapping[str, dt.date]
    notes: list[str]
    failures: list[str]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A unit that vendors serve, the first day of the span on which it is in service, and where
    it is when.
    """

    unit: Unit
    on: dt.date
    last_on: dt.date
    """The last day of the span on which it is in service, outages left aside."""
    moves: Sequence[Placement]
    outages: Sequence[Outage]

    def is_out(self, on: dt.date) -> bool:
        return any(o.from_on <= on and (o.to_on is None or on < o.to_on) for o in self.outages)


def needs_of(
    record: Record,
    public_holidays: PublicHolidays,
    span: Span,
    narrow: Narrow,
    holds: Callable[[str, str], bool] = lambda country, subdivision: True,
) -> Needed:
    """The needs of a span, at the sites and of the kinds that are let through.

    holds: says of a country and a subdivision whether their sites are planned.

    A rule without minutes that a unit needs is BadInput; units that could not be answered are in
    `failures`.
    """
    register = record.register()
    chosen = {
        name
        for (name,), site in register.sites.items()
        if lets_through(narrow, site) and holds(site.country, site.subdivision)
    }
    book = book_of(register)
    units, broken = _asked(register, book, span, narrow)
    dated, later, failures = _dates(record, public_holidays, units, span)
    broken += [units[one.row.property_number] for one in dated if one.row.limit is None]
    pairs = [
        pair
        for one in [*dated, *later]
        if (pair := _need(one, units[one.row.property_number], span)) is not None
        and pair[0].site in chosen
    ]
    _refuse_without_minutes(book, [need for need, _ in pairs])
    needs = sorted((need for need, _ in pairs), key=lambda n: (n.property_number, n.task, n.due_on))
    names = {need.name for need in needs}
    return Needed(
        needs=tuple(needs),
        limits={need.name: limit for need, limit in pairs},
        notes=[
            *_out_notes(_numbers_at(broken, chosen)),
            *_again_notes(one for one in later if one.name in names),
            *_fee_notes(book, needs),
            *_cell_notes(book, units.values()),
        ],
        failures=failures,
    )


def _dates(
    record: Record, public_holidays: PublicHolidays, units: Mapping[str, _Asked], span: Span
) -> tuple[list[Dated], list[Dated], list[str]]:
    """The first dates of the units' duties, those that follow, and what has no answer."""
    if not units:
        return [], [], []
    question = Question(now=dt.datetime.combine(span.from_on, dt.time(), dt.UTC), on=span.from_on)
    whole = [one.unit for one in units.values()]
    sheet = next(sheets(record, public_holidays, question, whole))
    dated, failures = first_dates(sheet, {number: one.on for number, one in units.items()})
    due = [one for one in dated if one.is_due_by(span.to_on)]
    return dated, list(later_dates(sheet, due, span.to_on, span.catch_up_days)), failures


def _numbers_at(some: Iterable[_Asked], chosen: Collection[str]) -> list[str]:
    """The property numbers of those at the sites that are let through."""
    sites = {one.unit.property_number: site_on(one.unit, one.moves, one.on) for one in some}
    return [number for number, site in sites.items() if site in chosen]


def _asked(
    register: Register, book: RuleBook, span: Span, narrow: Narrow
) -> tuple[dict[str, _Asked], list[_Asked]]:
    """The units to ask about, and those that are out of service without a day of return."""
    kinds = {k.code for k in book.kinds.values() if any(r.vendor and r.every for r in k.rules)}
    if narrow.kinds:
        kinds &= {kind for kind in kinds if kind.casefold() in map(str.casefold, narrow.kinds)}
    moves = moves_of(register)
    found: dict[str, _Asked] = {}
    broken: list[_Asked] = []
    outages: dict[str, list[Outage]] = defaultdict(list)
    for outage in sorted(register.outages.values(), key=lambda outage: outage.from_on):
        outages[outage.property_number].append(outage)
    for unit in sorted(register.units.values(), key=lambda unit: unit.property_number):
        if unit.kind not in kinds:
            continue
        retired_on = unit.retired_on or dt.date.max
        number = unit.property_number
        asked = _Asked(
            unit=unit,
            on=max(span.from_on, unit.in_service_on),
            last_on=min(span.to_on, retired_on - _ONE_DAY),
            moves=moves.get(number, ()),
            outages=outages.get(number, ()),
        )
        back_on = _back_on(asked)
        if back_on is not None and back_on <= asked.last_on:
            found[number] = replace(asked, on=back_on)
        elif back_on is None and asked.on <= asked.last_on:
            broken.append(asked)
    return found, broken


def _back_on(asked: _Asked) -> dt.date | None:
    """The first day from the one asked for on which the unit can be used; None for none."""
    on: dt.date | None = asked.on
    for outage in asked.outages:
        if on is not None and outage.from_on <= on and (outage.to_on is None or on < outage.to_on):
            on = outage.to_on
    return on


def _need(one: Dated, asked: _Asked, span: Span) -> tuple[Need, dt.date] | None:
    """A need, and the limit that the record sets it; None if it has no days in the span."""
    row, rule = one.row, one.rule
    if row.nominal is None or row.opens is None or row.due is None or row.limit is None:
        return None
    from_on = max(one.not_before or asked.on, asked.on)
    opens_on, limit_on = max(row.opens, from_on), row.limit
    if row.limit < asked.on:
        opens_on, limit_on = asked.on, asked.on + dt.timedelta(days=span.catch_up_days)
    limit_on = min(limit_on, asked.last_on)
    if row.due > asked.last_on or limit_on < opens_on:
        return None
    site = site_on(asked.unit, asked.moves, max(row.due, asked.on))
    window = _days(opens_on, limit_on)
    need = Need(
        property_number=row.property_number,
        task=row.task,
        kind=row.kind,
        site=site,
        opens_on=opens_on,
        nominal_on=row.nominal,
        due_on=row.due,
        limit_on=limit_on,
        minutes=rule.minutes or 0,
        fee=rule.fee_cents or 0,
        interval_days=_interval_days(rule, row.nominal),
        kept_days=rule.keep_anchor,
        closed_on=frozenset(
            on for on in window if asked.is_out(on) or site_on(asked.unit, asked.moves, on) != site
        ),
    )
    return need, row.limit


def _days(from_on: dt.date, to_on: dt.date) -> Iterator[dt.date]:
    return (from_on + dt.timedelta(days=days) for days in range((to_on - from_on).days + 1))


def _interval_days(rule: Rule, nominal_on: dt.date) -> int:
    """The days of the interval that a service begins; 0 for a fixed rule, which loses nothing."""
    if rule.basis is not Basis.ANCHORED:
        return 0
    return reach(rule, day_of(nominal_on), 1) - day_of(nominal_on)


def _rules_of(book: RuleBook, needs: Iterable[Need]) -> list[Rule]:
    """The vendor rules of the duties of some needs, in the order of the book."""
    duties = {(need.kind, need.task) for need in needs}
    return [
        rule
        for kind in book.kinds.values()
        for rule in kind.rules
        if rule.vendor and (kind.code, rule.task) in duties
    ]


def _refuse_without_minutes(book: RuleBook, needs: Sequence[Need]) -> None:
    lacking = [need for need in needs if not need.minutes]
    faults = [
        Fault(
            "rule book",
            None,
            f"kind {rule.kind}, {rule.task}",
            "it has no minutes, so that no visit can be timed",
            "add how long the vendor's service takes, as minutes = 45, and load the book again",
        )
        for rule in _rules_of(book, lacking)
        if rule.minutes is None
    ]
    if faults:
        raise BadInput(faults)


def _fee_notes(book: RuleBook, needs: Sequence[Need]) -> list[str]:
    tasks = {f"{r.kind} {r.task}": None for r in _rules_of(book, needs) if r.fee_cents is None}
    if not tasks:
        return []
    return [f"no fee in the rule book, so being early costs nothing: {', '.join(tasks)}"]


def _cell_notes(book: RuleBook, units: Iterable[_Asked]) -> list[str]:
    """Vendor rules of charts: they have no window of days, and are no visits."""
    kinds = {one.unit.kind for one in units}
    rules = [rule for code in sorted(kinds) for rule in book.kinds[code].rules if rule.vendor]
    tasks = {f"{rule.kind} {rule.task}": None for rule in rules if rule.each}
    return [f"marked on a chart, and not planned as visits: {', '.join(tasks)}"] if tasks else []


def _out_notes(numbers: Iterable[str]) -> list[str]:
    some = sorted(set(numbers))
    if not some:
        return []
    who = "1 unit is" if len(some) == 1 else f"{len(some):,} units are"
    return [f"{who} out of service without a day of return, and not visited: {_named(some)}"]


def _again_notes(later: Iterable[Dated]) -> list[str]:
    names = sorted({f"{one.row.property_number} {one.row.task}" for one in later})
    if not names:
        return []
    how = "counted as if the visit before fell on its due date"
    return [f"due more than once in the span, {how}: {_named(names)}"]


def _named(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more:,} more" if more > 0 else "")
