"""What is begun and not ended: corrective actions, units out of service, months to review?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from textwrap import shorten

from notifications.addresses import one_line
from notifications.digests.items import action_item, month_item, outage_item
from notifications.digests.sections import Line, Tone, some_of
from notifications.digests.words import cautions_of, counted, county, day, joined, month
from notifications.facts import OpenAction, OpenOutage, Place, WaitingMonth
from notifications.languages import tr, trn

__all__ = [
    "LONG_OUT_DAYS",
    "action_lines",
    "by_urgency",
    "is_review_late",
    "long_out",
    "month_lines",
    "outage_lines",
    "place_words",
]

LONG_OUT_DAYS = 14
"""A unit out of service for more days than this is asked about; common practice, no source."""
_MONTHS_SHOWN = 4
_CAUTIONS_SHOWN = 2
_WORDS_LENGTH = 200


def place_words(place: Place) -> str:
    """A site and its county: 'Alder Creek, Adams County'."""
    return ", ".join(filter(None, (place.name, county(place.county))))


def is_review_late(action: OpenAction, on: dt.date) -> bool:
    """Say whether it should have been looked at before a day whether the action worked."""
    return action.review_on is not None and action.review_on < on


def by_urgency(actions: Iterable[OpenAction], on: dt.date) -> list[OpenAction]:
    """Actions whose review is overdue first, the longest of them first; then the oldest."""

    def order(action: OpenAction) -> tuple[dt.date, dt.date, str]:
        late_on = action.review_on if is_review_late(action, on) else None
        return late_on or dt.date.max, action.opened_on, action.number

    return sorted(actions, key=order)


def action_lines(actions: Iterable[OpenAction], on: dt.date, *, names_site: bool) -> list[Line]:
    """One line an action: the problem, what is to be done and by whom, and since when it is open.

    names_site: tell the site too, to a reader of many.
    """
    return [_action_line(action, on, names_site) for action in by_urgency(actions, on)]


def _action_line(action: OpenAction, on: dt.date, names_site: bool) -> Line:
    place = [place_words(action.place)] if names_site and action.property_number else []
    about = ". ".join(_sentence(part) for part in [*place, action.problem, _to_do(action)])
    since, look = tr("open since {day}", day=day(action.opened_on)), _look_words(action, on)
    presses = action.review_on is not None and action.review_on <= on
    tone = Tone.LATE if is_review_late(action, on) else Tone.SOON if presses else Tone.CALM
    head = action.property_number
    if not head:
        head = (
            place_words(action.place)
            if names_site
            else tr("{site}, the site", site=action.place.name)
        )
    told = cautions_of(action)[:_CAUTIONS_SHOWN]
    return Line(
        head=head,
        about=f"{about}.",
        when=_capital(look if presses else since),
        tone=tone,
        beside=since if presses else look,
        items=(action_item(action, on),),
        caution=" ".join(f"{caution.rstrip('.')}." for caution in told),
    )


def _sentence(text: str) -> str:
    """A person's own words, on one line, cut where they are long, without the full stop."""
    return shorten(one_line(text), _WORDS_LENGTH, placeholder=" …").rstrip(".")


def _to_do(action: OpenAction) -> str:
    """What is to be done and by whom; where it is not known, what to write down."""
    who = action.responsible
    if action.action:
        what = _sentence(action.action)
        if who:
            return tr("To do: {action} ({who})", action=what, who=who)
        return tr("To do: {action}", action=what)
    if who:
        return tr("{who} is to say what is done about it", who=who)
    return tr("Say what is done about it")


def _look_words(action: OpenAction, on: dt.date) -> str:
    """When it is to be seen whether it worked."""
    if action.review_on is None:
        return tr("no day set to see whether it worked")
    if is_review_late(action, on):
        return tr("look whether it worked: overdue since {day}", day=day(action.review_on))
    if action.review_on == on:
        return tr("look today whether it worked")
    return tr("look by {day} whether it worked", day=day(action.review_on))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def long_out(outages: Iterable[OpenOutage], on: dt.date) -> list[OpenOutage]:
    """Units out of service for more than LONG_OUT_DAYS, the longest first."""
    long = [outage for outage in outages if (on - outage.from_on).days > LONG_OUT_DAYS]
    return sorted(long, key=lambda outage: (outage.from_on, outage.property_number))


def outage_lines(outages: Iterable[OpenOutage], on: dt.date) -> list[Line]:
    """One line a unit that has been out of service for long."""
    return [
        Line(
            head=outage.property_number,
            about=f"{outage.kind}: {_sentence(outage.reason) or tr('no reason on record')}",
            when=tr("Still out of service since {day}", day=day(outage.from_on)),
            tone=Tone.SOON,
            beside=counted((on - outage.from_on).days, "day"),
            items=(outage_item(outage),),
        )
        for outage in long_out(outages, on)
    ]


def month_lines(months: Iterable[WaitingMonth]) -> list[Line]:
    """One line for all sites whose same months wait, those that wait longest first."""
    by_site: dict[Place, list[WaitingMonth]] = defaultdict(list)
    for one in sorted(months, key=lambda one: one.first_on):
        by_site[one.place].append(one)
    ordered = sorted(by_site.items(), key=lambda item: (item[1][0].first_on, item[0].site))
    alike: dict[tuple[str, str], list[Place]] = defaultdict(list)
    for place, some in ordered:
        alike[_wait_words(some)].append(place)
    return [
        Line(
            head=places[0].name if len(places) == 1 else counted(len(places), "site"),
            about=_places(places),
            when=when,
            tone=Tone.LATE if any(o.is_reopened for o in by_site[places[0]]) else Tone.SOON,
            beside=beside,
            count=sum(len(by_site[place]) for place in places),
            items=tuple(month_item(one) for place in places for one in by_site[place]),
        )
        for (when, beside), places in alike.items()
    ]


def _places(places: Sequence[Place]) -> str:
    return county(places[0].county) if len(places) == 1 else some_of([p.name for p in places])


def _wait_words(months: Sequence[WaitingMonth]) -> tuple[str, str]:
    """Which months of a site wait, and what is known of them beside that."""
    reopened = [one for one in months if one.is_reopened]
    fresh = [one for one in months if not one.is_reopened]
    when = [tr("to review again: {months}", months=_names(reopened))] if reopened else []
    when += [tr("to review: {months}", months=_names(fresh))] if fresh else []
    is_back = [one for one in fresh if one.returned_on is not None]
    beside = [tr("changed after it was signed")] if reopened else []
    if is_back:
        whole = len(is_back) == len(months)
        told = tr("charts are back: {months}", months=_names(is_back))
        beside.append(tr("charts are back") if whole else told)
    return _capital("; ".join(when)), "; ".join(beside)


def _names(months: Sequence[WaitingMonth]) -> str:
    """Some months: their names, or the first and last of many."""
    names = [month(one.first_on) for one in months]
    if len(names) <= _MONTHS_SHOWN:
        return joined(names)
    return trn(
        "{count} month from {first} to {last}",
        "{count} months from {first} to {last}",
        len(names),
        first=names[0],
        last=names[-1],
    )
