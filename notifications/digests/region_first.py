"""What does a consultant do first? One sentence, from the most pressing of a region."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from notifications.digests.charts_to_print import print_first
from notifications.digests.follow_up import by_urgency, is_review_late, place_words
from notifications.digests.words import counted, month, stands
from notifications.facts import Chart, ConsultantFacts, Duty
from notifications.languages import tr

__all__ = ["first_words"]


def first_words(
    facts: ConsultantFacts,
    overdue: Sequence[Duty],
    due: Sequence[Duty],
    charts: Sequence[Chart],
    *,
    has_other: bool,
) -> str:
    """One sentence: what to do first.

    overdue, due: annual services; charts: those with gaps; has_other: other work is overdue.
    """
    if overdue:
        one = overdue[0]
        return tr(
            "Start with {place}: annual service of {number} ({kind}), overdue by {days}, the"
            " longest of all.",
            place=place_words(one.place),
            number=one.property_number,
            kind=one.kind,
            days=counted(one.days_past_due, "day"),
        )
    if facts.silent or charts:
        return _unmarked(facts, charts)
    if due:
        return tr(
            "No annual service is overdue. The next is {number} ({kind}) at {place}. {how}.",
            number=due[0].property_number,
            kind=due[0].kind,
            place=place_words(due[0].place),
            how=stands(due[0], facts.on),
        )
    if has_other:
        return tr("No annual service is overdue or due; other work is, see below.")
    calm = tr("No annual service is overdue or due, no chart has gaps, and no unit is silent.")
    return " ".join(filter(None, (calm, _first_begun(facts))))


def _unmarked(facts: ConsultantFacts, charts: Sequence[Chart]) -> str:
    """One sentence: where marks are missing most; there is a silent unit or a chart with gaps."""
    if facts.silent:
        place, units = Counter(place_words(unit.place) for unit in facts.silent).most_common(1)[0]
        return tr(
            "No annual service is overdue. Call {place}: {units}, without a mark for three weeks or"
            " more.",
            place=place,
            units=counted(units, "silent unit"),
        )
    place, number = Counter(place_words(chart.place) for chart in charts).most_common(1)[0]
    return tr(
        "No annual service is overdue. Review {place} first: {charts}.",
        place=place,
        charts=counted(number, "chart with gaps", "charts with gaps"),
    )


def _first_begun(facts: ConsultantFacts) -> str:
    """One sentence: what to do first where nothing is late; '' where there is nothing."""
    if facts.actions:
        action = by_urgency(facts.actions, facts.on)[0]
        place = place_words(action.place)
        if is_review_late(action, facts.on):
            return tr(
                "Look after the corrective action at {place}, whose review is overdue.",
                place=place,
            )
        return tr("Look after the corrective action at {place}.", place=place)
    if facts.months:
        oldest = min(facts.months, key=lambda month: month.first_on)
        name, place = month(oldest.first_on), place_words(oldest.place)
        return tr("Review {month} of {place} first.", month=name, place=place)
    return print_first(facts.to_print) if facts.to_print else ""
