"""What do people see of a plan? Its trips month by month, what it costs beside other plans, and
what could not be planned.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Final

from rich.console import RenderableType
from rich.text import Text

from fleet.cli.grids import fitted, grid, heading, printed, terminal_width
from fleet.cli.plan_options import PlanOptions
from fleet.pictures.money import money_text
from fleet.pictures.months_text import months_text
from fleet.services.visits.rows import at_minute
from notifications.digests.words import counted, day, dollars, joined, month

if TYPE_CHECKING:
    from fleet.services.visits.answer import Answer, Compared, Unplaced
    from schedules.visits.told import ToldTrip, ToldVisit

__all__ = ["plan_table", "plan_tables"]


def plan_tables(answers: Sequence[Answer], asked: PlanOptions) -> str:
    """The table form of `plan`: one plan after the other, each under its file where it is one of
    several.
    """
    if len(answers) == 1:
        return plan_table(answers[0], asked)
    parts = [
        f"{answer.ordered.plan_file.file}\n\n{plan_table(answer, asked)}" for answer in answers
    ]
    cents = sum(answer.told.costs.total for answer in answers)
    return "\n\n".join([*parts, f"All {len(answers)} plans together: {dollars(cents)}\n"])


def plan_table(answer: Answer, asked: PlanOptions) -> str:
    """The table form of `plan`, with every stop of every trip or who is out when, as asked."""
    parts: list[RenderableType] = [heading(_summary(answer))]
    if asked.calendar:
        parts += ["", Text(months_text(answer.told, terminal_width()).rstrip("\n"))]
    parts += _months(answer, stops=asked.stops)
    parts += _money(answer)
    parts += _bound(answer)
    parts += _unplaced(answer.unplaced)
    parts += _closing(answer)
    return printed(*parts)


def _summary(answer: Answer) -> str:
    told, order = answer.told, answer.ordered.order
    span = f"{day(order.from_on)} to {day(order.to_on)}"
    if not order.needs:
        return f"{span}: nothing falls due that a vendor does."
    visits = f"{counted(len(told.trips), 'trip')}, {counted(told.visits, 'visit')}"
    done = f"{counted(told.needs, 'service')} for {dollars(told.costs.total)}"
    left = f"{len(told.unplaced):,} not planned" if told.unplaced else "nothing left over"
    return f"{span}: {visits}, {done}; {left}"


def _short(on: dt.date) -> str:
    """A date without its year: 'Tue 1 Dec'."""
    return day(on).removesuffix(f" {on.year}")


def _span(from_on: dt.date, to_on: dt.date) -> str:
    """Days without their year: 'Tue 1 Dec', 'Tue 1–3 Dec', 'Mon 30 Nov–2 Dec'."""
    if from_on == to_on:
        return _short(from_on)
    weekday, number, name = _short(from_on).split()
    begins = f"{weekday} {number}" if from_on.month == to_on.month else f"{weekday} {number} {name}"
    return f"{begins}–{_short(to_on).partition(' ')[2]}"


def _months(answer: Answer, *, stops: bool) -> Iterator[RenderableType]:
    """The trips under the month they start in: a line each, or every stop."""
    trips = list(enumerate(answer.told.trips, start=1))
    lines = {number: _line(number, trip) for number, trip in trips}
    widths = fitted(list(lines.values()), folding=[2, 3])
    for first_on, group in groupby(trips, key=lambda one: one[1].starts_on.replace(day=1)):
        some = list(group)
        cents = sum(trip.costs.total for _, trip in some)
        yield ""
        yield heading(f"{month(first_on)}: {counted(len(some), 'trip')}, {dollars(cents)}")
        if stops:
            for number, trip in some:
                yield from _stops(answer, number, trip)
        else:
            yield grid([lines[number] for number, _ in some], widths=widths)


def _line(number: int, trip: ToldTrip) -> list[str]:
    """Number, days, technician, the way, miles and money of a trip."""
    way = ", ".join(_of_visit(visit) for visit in trip.visits)
    miles, cost = f"{_whole(trip.miles):,} mi", dollars(trip.costs.total).rpartition(".")[0]
    days = _span(trip.starts_on, trip.ends_on)
    return [f"{number:>3}", days, trip.technician, way, miles.rjust(8), cost.rjust(7)]


def _of_visit(visit: ToldVisit) -> str:
    return visit.site if len(visit.needs) == 1 else f"{visit.site} {len(visit.needs)}"


def _whole(hundredths: int) -> int:
    """Hundredths of a mile as whole miles, rounded half up."""
    return (hundredths + 50) // 100


def _hours(minutes: int) -> str:
    return f"{minutes // 60:,} h {minutes % 60:02d}"


def _stops(answer: Answer, number: int, trip: ToldTrip) -> Iterator[RenderableType]:
    """A trip in full: when and where it leaves, each stop with its units, when it is home."""
    technicians = answer.problem.order.technicians
    begins_at = technicians[answer.problem.technician_index[trip.technician]].begins_at
    nights = f", {counted(trip.nights, 'night')} away" if trip.nights else ""
    yield ""
    yield heading(
        f"Trip {number}: {trip.technician} ({trip.vendor}), {counted(_whole(trip.miles), 'mile')},"
        f" {_hours(trip.drive_minutes)} of driving{nights}, {dollars(trip.costs.total)}"
    )
    lines = [[_short(trip.starts_on), at_minute(begins_at, 0), trip.depot, "leaves"]]
    for visit in trip.visits:
        units = ", ".join(
            f"{number} {task}"
            for number, task, _ in (need.name.rsplit("/", 2) for need in visit.needs)
        )
        arrives = at_minute(begins_at, visit.arrives_minute)
        lines.append([_short(visit.arrives_on), arrives, visit.site, units])
    home = at_minute(begins_at, trip.ends_minute)
    lines.append([_short(trip.ends_on), home, trip.depot, "is home"])
    yield grid(lines, widths=fitted(lines, folding=[3]))


def _money(answer: Answer) -> Iterator[RenderableType]:
    if not answer.ordered.order.needs:
        return
    plans = [answer.figures, *answer.beside]
    yield ""
    yield heading("What it costs, beside going to each unit on its own due date and to each site")
    yield Text(money_text(plans, terminal_width()).rstrip("\n"))
    yield ""
    rows = [["", *(plan.name for plan in plans)]]
    rows += [[name, *(count(plan) for plan in plans)] for name, count in _COUNTS.items()]
    yield grid(_right(rows))
    yield ""
    for plan in answer.beside:
        yield _saved(answer.figures, plan)


_COUNTS: Final[Mapping[str, Callable[[Compared], str]]] = {
    "trips": lambda plan: f"{plan.trips:,}",
    "technician days": lambda plan: f"{plan.days:,}",
    "nights away": lambda plan: f"{plan.nights:,}",
    "visits": lambda plan: f"{plan.visits:,}",
    "driving": lambda plan: _hours(plan.drive_minutes),
    "days served early": lambda plan: f"{plan.lost_days:,}",
}


def _right(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """All columns but the first set to the right."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        [row[0], *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True))]
        for row in rows
    ]


def _saved(own: Compared, other: Compared) -> Text:
    miles = _less(own.miles, other.miles, "miles")
    money = _less(own.costs.total, other.costs.total, "money")
    return Text(f"Against {other.name}: {miles}, {money}.")


def _less(own: int, other: int, what: str) -> str:
    if not other:
        return f"no {what} to compare with"
    percent = (100 * abs(other - own) + other // 2) // other
    fewer = {"miles": ("fewer", "more"), "money": ("less", "more")}[what]
    return f"{percent} % {fewer[own > other]} {what}"


def _bound(answer: Answer) -> Iterator[RenderableType]:
    bound, gap = answer.bound, answer.gap_permille
    if bound is None:
        return
    yield ""
    yield heading(f"No plan can cost less than {dollars(bound.cents)}")
    if gap is not None:
        yield Text(f"This one costs at most {gap // 10}.{gap % 10} % more than the best there is.")
    yield Text(f"True for these rules: {bound.rule}")
    if not bound.is_converged:
        yield Text("It was stopped before it was as high as it can get; the gap may be smaller.")


def _unplaced(unplaced: Sequence[Unplaced]) -> Iterator[RenderableType]:
    if not unplaced:
        return
    yield ""
    yield heading(f"Not planned: {counted(len(unplaced), 'service')}")
    for one in unplaced:
        need = one.need
        how = "" if one.is_proved else " (none was found; that there is none is not proved)"
        yield Text(f"{need.property_number} {need.task} at {need.site}, due {day(need.due_on)}")
        yield Text(f"    {one.reason}{how}; {one.mend}")


def _closing(answer: Answer) -> Iterator[RenderableType]:
    """What was taken for granted, and what the plan was made with."""
    notes = [*_late_notes(answer), *answer.ordered.notes]
    if notes:
        yield ""
        yield heading("To know")
        yield from (Text(f"{sentence[:1].upper()}{sentence[1:]}.") for sentence in notes)
    made = ", ".join(f"{name} {version}" for name, version in answer.versions.items())
    zones = sorted(set(answer.ordered.time_zones.values()))
    yield ""
    yield Text(f"Times are by the depot's clock ({joined(zones)}). Nobody is told of it yet.")
    yield Text(
        f"Seed {answer.effort.seed}, {counted(answer.effort.iterations, 'iteration')}; {made}:"
        " the same again gives the same plan."
    )


def _late_notes(answer: Answer) -> Iterable[str]:
    late = len(answer.ordered.past_limit)
    if late:
        days = answer.ordered.plan_file.catch_up_days
        which = "1 service is" if late == 1 else f"{late:,} services are"
        yield f"{which} past the limit when the plan begins, and planned within {days} days of it"
