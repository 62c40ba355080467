"""What does a site do for a vendor's visit? Told when it is confirmed, moved or cancelled."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator

from notifications.addresses import one_line
from notifications.digests.frame import for_whom, letter, subject
from notifications.digests.page_addresses import page_address
from notifications.digests.sections import Line, Section, Tone, capped
from notifications.digests.words import cautions_of, counted, day, title_of
from notifications.event_facts import Change, VisitFacts, VisitTask
from notifications.languages import tr
from notifications.messages import Kind, Message, Skipped

__all__ = ["visit"]


def visit(facts: VisitFacts, base_url: str = "") -> Message | Skipped:
    """One change of one visit, to one reader."""
    name, vendor, on = facts.place.name, facts.vendor, day(facts.visit_on)
    is_cancelled = facts.change is Change.CANCELLED
    context = {
        "title": _title(facts),
        "subject": subject(name, facts.place.site, [_short(facts)]),
        "first": _first(facts),
        "stand_in": for_whom(facts.stand_in),
        "paragraphs": tuple(_paragraphs(facts)),
        "sections": tuple(capped([_section(facts, base_url)])),
        "steps_title": "" if is_cancelled else tr("Before the visit"),
        "steps": () if is_cancelled else tuple(_steps()),
        "cautions": () if is_cancelled else tuple(_cautions(facts.tasks)),
    }
    reasons = (
        tr(
            "You get this because you answer for {site}, which {vendor} visits.",
            vendor=vendor,
            site=name,
        ),
        tr("It comes at once whenever the visit of {day} changes.", day=on),
    )
    return letter(Kind.VISIT, facts.reader, facts.period, reasons, context)


def _title(facts: VisitFacts) -> str:
    values = {"site": facts.place.name, "day": day(facts.visit_on)}
    if facts.change is Change.CONFIRMED:
        return tr("{site}: visit on {day} confirmed", **values)
    if facts.change is Change.MOVED:
        return tr("{site}: visit moved to {day}", **values)
    return tr("{site}: visit of {day} cancelled", **values)


def _short(facts: VisitFacts) -> str:
    on = day(facts.visit_on)
    if facts.change is Change.CONFIRMED:
        return tr("visit on {day}", day=on)
    if facts.change is Change.MOVED:
        return tr("visit moved to {day}", day=on)
    return tr("visit of {day} cancelled", day=on)


def _first(facts: VisitFacts) -> str:
    values = {
        "vendor": facts.vendor,
        "units": counted(len({task.property_number for task in facts.tasks}), "unit"),
        "day": _when(facts.visit_on, facts.from_at, facts.to_at, facts.to_on),
    }
    if facts.change is Change.CONFIRMED:
        return tr("{vendor} comes on {day} for {units}. Have them ready.", **values)
    if facts.change is Change.MOVED:
        was = ""
        if facts.was_on:
            was = _when(facts.was_on, facts.was_from_at, facts.was_to_at, facts.was_to_on)
        if was:
            return tr("{vendor} comes on {day} for {units}, not on {was}.", was=was, **values)
        return tr("{vendor} now comes on {day} for {units}.", **values)
    return tr(
        "{vendor} does not come on {day}. Keep using the units as before; a new date is told here.",
        **values,
    )


def _when(
    on: dt.date, from_at: dt.time | None, to_at: dt.time | None, to_on: dt.date | None
) -> str:
    if from_at is None:
        return day(on)
    if to_at is None:
        return tr("{day} at {time}", day=day(on), time=f"{from_at:%H:%M}")
    if to_on is not None and to_on != on:
        return tr(
            "{day} at {from_time} until {last} at {to_time}",
            day=day(on),
            from_time=f"{from_at:%H:%M}",
            last=day(to_on),
            to_time=f"{to_at:%H:%M}",
        )
    return tr(
        "{day} from {from_time} to {to_time}",
        day=day(on),
        from_time=f"{from_at:%H:%M}",
        to_time=f"{to_at:%H:%M}",
    )


def _paragraphs(facts: VisitFacts) -> Iterator[str]:
    if facts.reason:
        yield tr("Reason: {reason}", reason=facts.reason)
    if facts.contact:
        yield tr("Questions: {contact}", contact=facts.contact)
    yield tr("The attached calendar file puts it into your calendar, or takes it out.")


def _steps() -> Iterator[str]:
    yield tr(
        "Clean the units and decontaminate them as your local rules say; note that it is done."
    )
    yield tr("Switch them off, let lamps and heated parts cool, and clear the way to them.")
    yield tr("Keep charts, manuals and earlier reports at hand.")
    yield tr("Stay within reach: somebody signs the report and takes the units back into use.")


def _cautions(tasks: tuple[VisitTask, ...]) -> Iterator[str]:
    yield from dict.fromkeys(caution for task in tasks for caution in cautions_of(task))
    yield tr("The manufacturer's manual, your safety officer and local rules come first.")


def _section(facts: VisitFacts, base_url: str) -> Section:
    return Section(
        title=tr("Units"),
        caption=tr("What the visit is for"),
        columns=(tr("Unit"), tr("Task")),
        lines=tuple(
            Line(
                head=task.property_number,
                about=task.kind,
                when=title_of(task),
                tone=Tone.CALM,
                beside=tr("due {day}", day=day(task.due_on)) if task.due_on else "",
            )
            for task in facts.tasks
        ),
        where=page_address(base_url, "due", {"--site": [facts.place.site]})
        or f"dueward due --site {shlex.quote(one_line(facts.place.site))}",
    )
