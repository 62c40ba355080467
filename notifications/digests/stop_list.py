"""Where does a technician go on a confirmed trip? For the technician, consultants and managers."""

from __future__ import annotations

from notifications.digests.frame import letter, subject
from notifications.digests.sections import Line, Section, Tone, capped
from notifications.digests.words import counted, day
from notifications.event_facts import StopFacts, StopListFacts
from notifications.languages import tr
from notifications.messages import Kind, Message

__all__ = ["stop_list"]


def stop_list(facts: StopListFacts) -> Message:
    """One confirmed trip, to one reader; the list itself goes along as PDF."""
    values = {
        "technician": facts.technician,
        "vendor": facts.vendor,
        "depot": facts.depot,
        "day": day(facts.from_on),
        "last": day(facts.to_on),
        "stops": counted(len(facts.stops), "stop"),
    }
    context = {
        "title": tr("{technician}: trip of {day} confirmed", **values),
        "subject": subject(facts.technician, "", [tr("trip of {day}", **values)]),
        "first": tr(
            "{technician} leaves {depot} on {day} and is at the last of {stops} on {last}.",
            **values,
        ),
        "stand_in": "",
        "paragraphs": (
            tr("The attached PDF is the list to take along: ways, times, units, room to write."),
            tr("Times are planned. Weather, traffic and a driver's rest come first."),
        ),
        "sections": tuple(capped([_section(facts.stops)])),
        "steps_title": tr("After the trip"),
        "steps": (
            tr("Send back what was served, what was not and why, with reports and certificates."),
        ),
        "cautions": (
            tr("The manufacturer's manual, your safety officer and local rules come first."),
        ),
    }
    reasons = (
        tr("You get this because you plan or make this trip of {vendor}.", **values),
        tr("It comes at once whenever a trip is confirmed."),
    )
    return letter(Kind.VISIT, facts.reader, facts.period, reasons, context)


def _section(stops: tuple[StopFacts, ...]) -> Section:
    return Section(
        title=tr("Stops"),
        caption=tr("In the order they are made, by each site's clock"),
        columns=(tr("Site"), tr("When")),
        lines=tuple(
            Line(
                head=stop.place.name,
                about=", ".join(stop.units),
                when=tr("{day} at {time}", day=day(stop.on), time=f"{stop.from_at:%H:%M}"),
                tone=Tone.CALM,
                beside=stop.number,
            )
            for stop in stops
        ),
        where="dueward visits list",
    )
