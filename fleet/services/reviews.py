"""Which months of which sites' charts are reviewed, and how is one signed?

A month that was signed is *reopened* by whatever is stored later and changes a day of it. That is
worked out each time and never stored.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from fleet.domain.evidence import Review
from fleet.domain.register import Change, Register
from fleet.domain.texts import NAME_LENGTH, PROSE_LENGTH, check_prose, check_text
from fleet.errors import BadInput, Doubtful, Fault, NotFound
from fleet.services.columns import book_of
from fleet.services.findings import finding_rows
from fleet.services.load_checks import nearest
from fleet.services.months import first_day, last_day, month_of, months, read_month
from fleet.services.narrow import units_let_through
from fleet.services.ports import ChangeLine, PublicHolidays, Record, Stamp
from fleet.services.questions import Narrow, Question
from fleet.services.review_touches import MonthKey, touches
from fleet.services.standing import day_at
from fleet.services.stays import Span, charted, common, moves_of, stays

__all__ = ["REOPENED", "SIGNED", "TO_REVIEW", "ReviewRow", "review", "review_rows"]

TO_REVIEW, SIGNED, REOPENED = "to review", "signed", "reopened"
"""The states of a month."""
_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """One month of one site's charts; the fields, in order, are the columns of `reviews`."""

    site: str
    county: str
    region: str
    month: str
    """'2026-10'."""
    state: str
    """TO_REVIEW, SIGNED or REOPENED."""
    returned_on: dt.date | None
    reviewed_on: dt.date | None
    reviewed_by: str | None
    signed_at: dt.datetime | None
    """The instant the signature was stored."""
    touched_by: str | None
    """What reopened it: keys of entries and 'register', joined by '; '."""
    gaps: int | None
    """Gaps still open; None where they were not counted."""
    note: str | None


def review_rows(
    record: Record,
    public_holidays: PublicHolidays,
    from_month: str,
    to_month: str,
    question: Question,
    *,
    counts_gaps: bool = True,
) -> list[ReviewRow]:
    """A row a site and month, in this order, of the months from one to another, both included.

    Only months that are over on the day asked for, and that had a chart: a unit with cell rules
    stood in service at the site, or the month has been reviewed all the same.
    """
    register = record.register(question.known_at)
    span = first_day(from_month), last_day(to_month)
    charted_months = _chart_months(register, span, question.narrow)
    keys = sorted(key for key in charted_months if _is_asked(register, key, question))
    signed = {
        key: found
        for key in keys
        if (found := register.reviews.get(key)) and found.reviewed_on is not None
    }
    lines = list(_known_lines(record, question.known_at)) if signed else []
    signed_at = {key: at for key, at in _signed_at(lines).items() if key in signed}
    touched = touches(record, public_holidays, register, signed_at, lines, question.known_at)
    gaps = _gaps(record, public_holidays, span, question) if counts_gaps and keys else None
    return [_row(register, key, signed_at.get(key), touched.get(key, ()), gaps) for key in keys]


def _chart_months(register: Register, span: Span, narrow: Narrow) -> set[MonthKey]:
    """The sites and months in which a chart was there to be filled, or that were reviewed."""
    months_within = set(months(*span))
    found = {key for key in register.reviews if key[1] in months_within}
    book, moves = book_of(register), moves_of(register)

    @cache
    def spoken(kind: str, model: str) -> list[Span]:
        """When the cell rules of a sort of unit speak."""
        tasks = book.kinds[kind].tasks(model) if kind in book.kinds else {}
        rules = [rule for versions in tasks.values() for rule in versions if rule.each]
        return [(r.from_on or dt.date.min, r.until_on or dt.date.max) for r in rules]

    places = Narrow(sites=narrow.sites, counties=narrow.counties, regions=narrow.regions)
    for unit in units_let_through(register, places):
        for stay in stays(unit, moves.get(unit.property_number, ())):
            at_site = common(charted(unit), span, (stay.from_on, stay.to_on))
            for rule in dict.fromkeys(spoken(unit.kind, unit.model)) if at_site else ():
                if days := common(at_site, rule):
                    found.update((stay.site, month) for month in months(*days))
    return found  # type: ignore[return-value]


def _is_asked(register: Register, key: MonthKey, question: Question) -> bool:
    """Say whether a question lets a site through, and the month is over there."""
    site, narrow = register.sites.get((key[0],)), question.narrow
    return (
        site is not None
        and last_day(key[1]) < (question.on or day_at(site, question.now))
        and _has(narrow.sites, site.site)
        and _has(narrow.counties, site.county)
        and _has(narrow.regions, site.region)
    )


def _has(names: Sequence[str], value: str) -> bool:
    return not names or value.casefold() in {name.casefold() for name in names}


def _known_lines(record: Record, known_at: dt.datetime | None) -> Iterator[ChangeLine]:
    for line in record.change_lines():
        if known_at is None or line.change.initial or line.stored_at <= known_at:
            yield line


def _signed_at(lines: Sequence[ChangeLine]) -> dict[MonthKey, dt.datetime]:
    """When each month was signed last; to note a return or a word beside it is no signature."""
    found: dict[MonthKey, dt.datetime] = {}
    for line in lines:
        old, new = line.change.old, line.change.new
        if not isinstance(new, Review) or new.reviewed_on is None:
            continue
        if not isinstance(old, Review) or old == new or not _is_note(old, new):
            found[new.site, new.month] = line.stored_at
    return found


def _is_note(old: Review, new: Review) -> bool:
    return replace(old, returned_on=new.returned_on, note=new.note) == new


def _gaps(
    record: Record, public_holidays: PublicHolidays, span: Span, question: Question
) -> Counter[MonthKey]:
    """How many gaps closed in each month of each site, and are open."""
    narrow = question.narrow
    places = Narrow(sites=narrow.sites, counties=narrow.counties, regions=narrow.regions)
    asked = replace(question, narrow=places)
    rows = finding_rows(record, public_holidays, *span, asked, "gap")
    return Counter((row.site, month_of(row.closes)) for row in rows if row.closes)


def _row(
    register: Register,
    key: MonthKey,
    signed_at: dt.datetime | None,
    touched_by: Sequence[str],
    gaps: Mapping[MonthKey, int] | None,
) -> ReviewRow:
    site = register.sites[(key[0],)]
    told = register.reviews.get(key, Review(site=key[0], month=key[1]))
    state = TO_REVIEW if told.reviewed_on is None else REOPENED if touched_by else SIGNED
    return ReviewRow(
        site.site,
        site.county,
        site.region,
        told.month,
        state,
        told.returned_on,
        told.reviewed_on,
        told.reviewed_by or None,
        signed_at,
        "; ".join(touched_by) or None,
        None if gaps is None else gaps.get(key, 0),
        told.note or None,
    )


def review(
    record: Record,
    public_holidays: PublicHolidays,
    site: str,
    month: str,
    *,
    by: str = "",
    on: dt.date | None = None,
    returned_on: dt.date | None = None,
    note: str = "",
    anyway: bool = False,
    stamp: Stamp,
) -> ReviewRow:
    """Sign a month (`by` whom, and `on` which day: today at the site unless given), or, without
    `by`, only note that its charts came back; answers with the month's row.

    Raises NotFound for an unknown site, BadInput for a month that is not over, had no chart or
    stands signed, and for a day that cannot be; Doubtful, unless `anyway`, where gaps or corrective
    actions of the month are open. The caller commits.
    """
    register = record.register()
    place = register.sites.get((site,))
    if place is None:
        mend = nearest(site, (key[0] for key in register.sites), "see dueward due --by site")
        raise NotFound("site", site, mend)
    today = day_at(place, stamp.at)
    _check_words(by, note, on, returned_on)
    _check_days(site, read_month(month, "MONTH"), today, on, returned_on)
    asked = Question(now=stamp.at, narrow=Narrow(sites=(site,)))
    before = _one(record, public_holidays, month, asked)
    if by:
        _refuse_signed(before)
        if not anyway:
            _doubt(register, before)
    old = register.reviews.get((site, month))
    new = replace(
        old or Review(site=site, month=month),
        returned_on=returned_on or before.returned_on,
        note=note or before.note or "",
    )
    changes = _changes(
        old, new, replace(new, reviewed_on=on or today, reviewed_by=by) if by else None
    )
    if changes:
        record.change(changes, stamp)
    return _one(record, public_holidays, month, asked)


def _one(record: Record, public_holidays: PublicHolidays, month: str, asked: Question) -> ReviewRow:
    rows = review_rows(record, public_holidays, month, month, asked)
    if rows:
        return rows[0]
    problem = "no unit with a chart stood there in that month"
    mend = "see which months had one: dueward reviews --from ... --to ..."
    raise BadInput([Fault(f"{asked.narrow.sites[0]} {month}", None, None, problem, mend)])


def _changes(old: Review | None, noted: Review, signed: Review | None) -> list[Change]:
    """What is noted beside an earlier signature is a line of its own before the new signature, so
    that a signature can be told from a note.
    """
    is_signed_already = old is not None and old.reviewed_on is not None
    steps = [noted] if signed is None or is_signed_already else []
    changes = []
    for step in steps:
        if step != old:
            changes.append(Change(old=old, new=step, initial=False))
            old = step
    if signed is not None:
        changes.append(Change(old=old, new=signed, initial=False))
    return changes


def _check_words(by: str, note: str, on: dt.date | None, returned_on: dt.date | None) -> None:
    for option, wrong in (
        ("--by", check_text(by, NAME_LENGTH)),
        ("--note", check_prose(note, PROSE_LENGTH)),
    ):
        if wrong:
            raise BadInput([Fault(option, None, None, wrong.problem, wrong.mend)])
    if by.strip():
        return
    if by or on:
        raise BadInput([Fault("--by", None, None, "nobody signs", "name who reviewed the month")])
    if returned_on is None:
        mend = "sign it with --by, or say with --returned when the charts came back"
        raise BadInput([Fault("review", None, None, "there is nothing to write", mend)])


def _check_days(
    site: str, month: str, today: dt.date, on: dt.date | None, returned_on: dt.date | None
) -> None:
    """Refuse a month that is not over, a day still to come, and one before there was anything."""
    first_on, last_on = first_day(month), last_day(month)
    if last_on >= today:
        mend = f"review it from {last_on + _ONE_DAY} on"
        raise BadInput([Fault(f"{site} {month}", None, None, "the month is not over", mend)])
    for option, day, from_on in (
        ("--on", on, last_on + _ONE_DAY),
        ("--returned", returned_on, first_on),
    ):
        if day is None:
            continue
        if day > today:
            problem, mend = f"{day} lies in the future", f"today is {today} at {site}"
            raise BadInput([Fault(option, None, None, problem, mend)])
        if day < from_on:
            problem, mend = f"{day} lies before {from_on}", f"check the day and the month {month}"
            raise BadInput([Fault(option, None, None, problem, mend)])


def _refuse_signed(row: ReviewRow) -> None:
    if row.state == SIGNED:
        problem = f"it was signed on {row.reviewed_on} by {row.reviewed_by}, and is as it was then"
        mend = "there is nothing to sign; a month is signed anew once something in it has changed"
        raise BadInput([Fault(f"{row.site} {row.month}", None, None, problem, mend)])


def _doubt(register: Register, row: ReviewRow) -> None:
    """Doubt a signature while gaps or corrective actions of the month are open."""
    actions = [
        action.number
        for action in register.actions.values()
        if action.site == row.site
        and action.closed_on is None
        and month_of(action.opened_on) == row.month
    ]
    told = []
    if row.gaps:
        told.append(f"{row.gaps:,} {'gap is' if row.gaps == 1 else 'gaps are'} open")
    if actions:
        noun = "corrective action is" if len(actions) == 1 else "corrective actions are"
        told.append(f"{len(actions)} {noun} open ({', '.join(actions[:3])})")
    if told:
        raise Doubtful(f"{row.site} {row.month}: {' and '.join(told)}")
