"""What do people and programs see of visits? Lines, one visit with its trip, what has changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from rich.console import RenderableType
from rich.text import Text

from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, VisitState
from fleet.services.visits.move_words import move_words
from fleet.services.visits.numbers import present_names, unit_and_task
from notifications.digests.words import counted, day, dollars

if TYPE_CHECKING:
    from fleet.services.visits.handing_back import HandedBack
    from fleet.services.visits.replanning import Replanned
    from schedules.visits.difference import Difference

__all__ = [
    "VisitLine",
    "difference_object",
    "difference_text",
    "graded_text",
    "handed_object",
    "handed_text",
    "hit_text",
    "kept_text",
    "replanned_object",
    "replanned_text",
    "visit_lines",
    "visit_object",
    "visit_text",
    "visits_table",
]


class VisitLine(NamedTuple):
    """One visit; the fields, in order, are the columns of `visits list`."""

    visit: str
    on: dt.date
    to_on: dt.date
    from_at: str
    to_at: str
    site: str
    county: str
    units: str
    technician: str
    vendor: str
    trip_on: dt.date
    grade: str
    state: str
    told_on: dt.date | None
    plan: str


def visit_lines(register: Register, visits: Iterable[SiteVisit]) -> list[VisitLine]:
    """Visits in the order of their days, units by the numbers they bear now."""
    return [
        VisitLine(
            visit=one.number,
            on=one.on,
            to_on=one.to_on,
            from_at=one.from_at,
            to_at=one.to_at,
            site=one.site,
            county=register.sites[(one.site,)].county,
            units=" ".join(_units(register, one)),
            technician=one.technician,
            vendor=one.vendor,
            trip_on=one.trip_on,
            grade=one.grade.value,
            state=one.state.value,
            told_on=one.told_on,
            plan=one.plan,
        )
        for one in sorted(visits, key=lambda visit: (visit.on, visit.from_at, visit.number))
    ]


def _units(register: Register, visit: SiteVisit) -> list[str]:
    names = present_names(register, visit.need_names)
    return list(dict.fromkeys(unit_and_task(name)[0] for name in names))


def visits_table(lines: Sequence[VisitLine]) -> str:
    """The table form of `visits list`."""
    if not lines:
        return "No visit is planned. Keep a plan: dueward plan --from ... --to ... --keep\n"
    firm = {grade: sum(one.grade == grade for one in lines) for grade in ("confirmed", "announced")}
    told = ", ".join(f"{count:,} {grade}" for grade, count in firm.items() if count)
    head = heading(f"{counted(len(lines), 'visit')}{': ' + told if told else ', all free'}")
    return printed(head, _grid(lines))


def _grid(lines: Sequence[VisitLine]) -> RenderableType:
    rows = [
        [
            one.visit,
            day(one.on),
            f"{one.from_at}-{one.to_at}",
            one.site,
            one.units,
            one.technician,
            one.grade if one.state == VisitState.PLANNED.value else one.state,
        ]
        for one in lines
    ]
    return grid(
        rows,
        ["visit", "day", "time", "site", "units", "technician", "grade"],
        widths=fitted(rows, folding=[4]),
    )


def visit_object(
    register: Register, visit: SiteVisit, trip: Sequence[SiteVisit]
) -> dict[str, object]:
    """One visit and what belongs to it."""
    (line,) = visit_lines(register, [visit])
    return {
        **line._asdict(),
        "services": [
            f"{number} {task}"
            for number, task in map(unit_and_task, present_names(register, visit.need_names))
        ],
        "stop": [one.number for one in trip].index(visit.number) + 1,
        "trip": [one.number for one in trip],
        "done_on": visit.done_on,
        "not_done": [f"{name}: {why}" for name, why in visit.reasons.items()],
        "reason": visit.reason,
    }


def visit_text(shown: Mapping[str, object]) -> str:
    """One visit for people."""
    skipped = {"visit", "units", "stop"}
    rows = [
        [name.replace("_", " "), ", ".join(value) if isinstance(value, list) else str(value)]
        for name, value in shown.items()
        if name not in skipped and value not in (None, "", [])
    ]
    title = f"Visit {shown['visit']}: {shown['site']}, {shown['on']}, {shown['stop']}. stop"
    return printed(heading(title), grid(rows, widths=fitted(rows, folding=[1])))


def graded_text(lines: Sequence[VisitLine], what: str) -> str:
    """What visits are after an act."""
    return printed(heading(f"{counted(len(lines), 'visit')} {what}"), _grid(lines))


def hit_text(lines: Sequence[VisitLine]) -> str:
    """Which planned visits lie in days that do not suit, and what to do."""
    if not lines:
        return "Kept. No planned visit lies in these days.\n"
    confirmed = [one for one in lines if one.grade == "confirmed"]
    firm = list({(one.technician, one.trip_on): one.visit for one in reversed(confirmed)}.values())
    parts: list[RenderableType] = [
        heading(f"Kept. {counted(len(lines), 'planned visit')} no longer fit"),
        _grid(lines),
        "",
    ]
    if firm:
        trips = counted(len(firm), "confirmed trip")
        parts.append(Text(f"{trips} among them: they do not move. Free them first, whole:"))
        parts.append(command(f"dueward visits free {' '.join(reversed(firm))}", 4))
    parts += [Text("Then make the plan anew:"), command("dueward visits replan", 4)]
    return printed(*parts)


def difference_object(found: Difference) -> dict[str, object]:
    """A difference as one object."""
    return {
        "said": found.words,
        "visits_moved": found.visits_moved,
        "visits_added": found.visits_added,
        "visits_dropped": found.visits_dropped,
        "units_moved": found.units_moved,
        "units_added": found.units_added,
        "units_dropped": found.units_dropped,
        "cents_before": found.cents_before,
        "cents_after": found.cents_after,
        "miles_before": found.miles_before / 100,
        "miles_after": found.miles_after / 100,
        "moves": [move_words(one) for one in found.moves],
    }


def difference_text(found: Difference, plans: Sequence[str]) -> str:
    """A difference for people."""
    parts: list[RenderableType] = [heading(f"{plans[0]} to {plans[1]}: {found.words}")]
    parts.append(
        Text(
            f"{dollars(found.cents_before)} before, {dollars(found.cents_after)} after;"
            f" {(found.miles_before + 50) // 100:,} miles before,"
            f" {(found.miles_after + 50) // 100:,} after."
        )
    )
    parts += [Text(move_words(one)) for one in found.moves]
    return printed(*parts)


def replanned_object(result: Replanned) -> dict[str, object]:
    """A plan made anew as one object."""
    return {
        "plan": result.plan.number if result.plan else None,
        "follows": result.before.number,
        **difference_object(result.difference),
        "unplaced": [
            f"{one.need.property_number} {one.need.task}: {one.reason}; {one.mend}"
            for one in result.answer.unplaced
        ],
        "not_handed_back": [one.number for one in result.left_alone],
    }


def replanned_text(register: Register, result: Replanned) -> str:
    """A plan made anew for people: what changed, what found no place, what is to be handed back."""
    if not result.is_other:
        return f"{result.before.number} stands: nothing is to be changed.\n" + printed(
            *_left(register, result)
        )
    name = result.plan.number if result.plan else "the plan if made anew"
    text = difference_text(result.difference, [result.before.number, name])
    return text + printed(*_left(register, result))


def _left(register: Register, result: Replanned) -> Iterator[RenderableType]:
    if result.answer.unplaced:
        yield ""
        yield heading(f"Not planned: {counted(len(result.answer.unplaced), 'service')}")
        for one in result.answer.unplaced:
            yield Text(f"{one.need.property_number} {one.need.task} at {one.need.site}")
            yield Text(f"    {one.reason}; {one.mend}")
    if result.left_alone:
        yield ""
        yield heading("Under way or over, and not handed back: left as they are")
        yield _grid(visit_lines(register, result.left_alone))
    if result.plan is None and result.is_other:
        yield ""
        yield Text("Nothing was changed. Without --try the new plan takes the old one's place.")


def handed_object(done: HandedBack) -> dict[str, object]:
    """A visit that came back as one object."""
    return {
        "visit": done.visit.number,
        "done_on": done.visit.done_on,
        "recorded": [f"{one.report.property_number} {one.report.task}" for one in done.recorded],
        "not_done": [f"{name}: {why}" for name, why in done.not_served.items()],
    }


def handed_text(done: HandedBack) -> str:
    """A visit that came back for people."""
    visit = done.visit
    on = f" on {day(visit.done_on)}" if visit.done_on else ""
    parts: list[RenderableType] = [
        heading(f"Visit {visit.number} of {visit.site} was made{on}"),
        Text(f"{counted(len(done.recorded), 'service')} recorded."),
    ]
    if done.not_served:
        parts.append(Text("Not served, and due as before:"))
        parts += [
            Text(f"    {' '.join(unit_and_task(name))}: {why}")
            for name, why in done.not_served.items()
        ]
        parts += [Text("Plan them again:"), command("dueward visits replan", 4)]
    lacking = [one.report for one in done.recorded if not one.report.certificate]
    if lacking:
        parts.append(Text("Without a certificate so far; add it when it comes:"))
        parts += [
            command(
                f"dueward service {one.property_number} {one.task} --on {one.on}"
                " --certificate FILE --anyway",
                4,
            )
            for one in lacking
        ]
    return printed(*parts)


def kept_text(number: str, visits: Sequence[SiteVisit]) -> str:
    """What to do with a plan that was kept."""
    return printed(
        "",
        heading(f"Kept as {number}, with {counted(len(visits), 'visit')}, all free"),
        Text("See them, and confirm a trip when its day is agreed:"),
        command("dueward visits list", 4),
        command(f"dueward visits confirm {visits[0].number}", 4),
    )
