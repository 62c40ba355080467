"""When is a site open: how are weekly patterns, closures and holidays set, and ended?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, cast

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Closure, Pattern, Site
from fleet.domain.register import Register
from fleet.domain.texts import NAME_LENGTH
from fleet.errors import BadInput, Fault
from fleet.files.form_rows import form_row
from fleet.services.register_changes import checked_text
from fleet.services.setup.holidays import Origin, own_year, year_kept
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count, one_day
from fleet.web.pages.setup_sites import site_again
from fleet.web.proposed import Meant, propose
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = ["PAGES"]

PAGES = Pages()

_SPARE_ROWS: Final = 4
_MOST_HOLIDAYS: Final = 60
_ONE_DAY: Final = dt.timedelta(days=1)


@PAGES.post("/setup/sites/<site>/patterns", who=OVERSEERS)
def pattern(site: str) -> ResponseReturnValue:
    """Set the weekly pattern from a day on, or take one out."""

    def make(asking: Asked, register: Register, place: Site) -> Meant:
        from_on = one_day("from", asking.field("from"))
        standing = register.patterns.get((site, str(from_on)))
        if asking.field("act") == "remove":
            return Meant(withdrawn=[standing or abort(404)])
        given = {
            "site": site,
            "from": str(from_on),
            "open_days": " ".join(asking.fields("open_days")),
        }
        return Meant([cast(Pattern, form_row("patterns", given))])

    return propose(site, "pattern", make, lambda faults: site_again(site, "pattern", faults))


@PAGES.post("/setup/sites/<site>/closures", who=OVERSEERS)
def closure(site: str) -> ResponseReturnValue:
    """Add a closure or an extra opening, end one on a day, or take one out."""

    def make(asking: Asked, register: Register, place: Site) -> Meant:
        if asking.field("act") == "add":
            names = ("from", "to", "reason", "open")
            given = {"site": site, **{name: asking.field(name) for name in names}}
            made = cast(Closure, form_row("closures", given))
            return Meant([_new(register, made)])
        key = (site, asking.field("from"), "open" if asking.field("open") == "yes" else "closed")
        standing = register.closures.get(key) or abort(404)
        if asking.field("act") == "remove":
            return Meant(withdrawn=[standing])
        return Meant([_ended(standing, one_day("to", asking.field("to")))])

    at = asked().field("act")
    return propose(site, "closure", make, lambda faults: site_again(site, at, faults))


def _new(register: Register, made: Closure) -> Closure:
    standing = register.closures.get(made.key)
    if standing is not None and standing != made:
        what = "extra opening" if made.open else "closure"
        problem = f"there is {'an' if made.open else 'a'} {what} from {made.from_on} already"
        raise BadInput([Fault("closures", None, "from", problem, "end that one, or take it out")])
    return made


def _ended(standing: Closure, to_on: dt.date) -> Closure:
    if not standing.from_on <= to_on:
        problem = f"{to_on} is before it begins on {standing.from_on}"
        mend = "take it out if it was never so"
        raise BadInput([Fault("closures", None, "to", problem, mend)])
    return replace(standing, to_on=to_on)


@PAGES.get("/setup/sites/<site>/holidays/<year>", who=OVERSEERS)
def holidays_page(site: str, year: str) -> ResponseReturnValue:
    """The holidays of a year as they stand, as a form."""
    return _form(site, year, [], None)


@PAGES.post("/setup/sites/<site>/holidays/<year>", who=OVERSEERS)
def holidays(site: str, year: str) -> ResponseReturnValue:
    """Make these the site's own holidays of the year, or keep again what all others keep."""
    asking, number = asked(), _year(year)
    if request.form.get("act") == "leave":
        return redirect(url_for("setup_sites.site", site=site))
    rows = _typed_rows(asking)

    def make(asking: Asked, register: Register, place: Site) -> Meant:
        own = asking.field("act") != "public"
        return Meant(*own_year(register, place, number, _names(rows) if own else {}))

    return propose(site, "holidays", make, lambda faults: _form(site, year, faults, rows))


def _year(text: str) -> int:
    return one_count("year", text, 0, FIRST_YEAR, LAST_YEAR)


def _typed_rows(asking: Asked) -> list[tuple[str, str]]:
    days, names = asking.fields("day"), asking.fields("name")
    if len(days) != len(names) or len(days) > _MOST_HOLIDAYS:
        abort(400)
    return [(day.strip(), name.strip()) for day, name in zip(days, names, strict=True)]


def _names(rows: Sequence[tuple[str, str]]) -> dict[dt.date, str]:
    """The days that are filled in; BadInput for half a row, a day twice, or none at all."""
    found: dict[dt.date, str] = {}
    for day, name in rows:
        if not day and not name:
            continue
        on = one_day("day", day)
        if not name:
            problem = f"{on} has no name"
            mend = "write the holiday's name, or empty the day too"
            raise BadInput([Fault("holidays", None, "day", problem, mend)])
        if on in found:
            raise BadInput([Fault("holidays", None, "day", f"{on} stands twice", "keep one")])
        found[on] = checked_text("holidays", "day", name, NAME_LENGTH)
    if not found:
        mend = "keep one at least, or go back to what all others keep"
        raise BadInput([Fault("holidays", None, "day", "no day is left", mend)])
    return found


def _form(
    site: str, year: str, faults: Sequence[Fault], rows: Sequence[tuple[str, str]] | None
) -> ResponseReturnValue:
    asking, number = asked(), _year(year)
    with asking.read() as record:
        register = record.register()
        place = asking.site(register, site, *OVERSEERS)
        kept = year_kept(register, record.holiday_years(), asking.public_holidays, place, number)
    shown = [(str(on), name) for on, name in kept.names.items()] if rows is None else list(rows)
    spare = [("", "")] * (_SPARE_ROWS - sum(not any(row) for row in shown))
    facts = {
        "site": place,
        "year": number,
        "kept": kept,
        "is_own": kept.origin is Origin.SITE,
        "rows": [*shown, *spare],
    }
    if faults:
        return asking.form_again("setup_holidays.html", faults, **facts)
    return asking.page("setup_holidays.html", **facts)
