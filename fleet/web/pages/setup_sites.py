"""Which sites are there, and how is one set up: name, open days, lead, place?"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final, cast

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role, Site
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.files.form_rows import form_row
from fleet.services.ports import Record
from fleet.services.register_changes import change_register
from fleet.services.setup.holidays import year_kept
from fleet.services.standing import day_at, units_at
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form, one_count
from fleet.web.proposed import Meant, propose
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS, OVERSEERS

__all__ = ["PAGES", "site_again", "site_facts"]

PAGES = Pages()

_SHOWN: Final = 50
_WEEKDAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_TYPED: Final = (
    *("name", "county", "time_zone", "latitude", "longitude", "postal_code", "lead_email"),
)


@PAGES.get("/setup/sites", who=OVERSEERS)
def sites() -> ResponseReturnValue:
    """Every site of the visitor's."""
    asking, wanted = asked(), request.args.get("find", "").strip()
    page = one_count("page", request.args.get("page", ""), 1, 1, 10_000)
    with asking.read() as record:
        register, own = record.register(), asking.visitor.sites(*OVERSEERS)
        units = Counter(unit.site for unit in register.units.values() if unit.retired_on is None)
    found = sorted(
        (site for site in register.sites.values() if site.site in own and _fits(wanted, site)),
        key=lambda site: (site.name.casefold(), site.site),
    )
    first = (page - 1) * _SHOWN
    return asking.page(
        "setup_sites.html",
        sites=found[first : first + _SHOWN],
        leads=_leads(register),
        units=units,
        count=len(found),
        wanted=wanted,
        page=page,
        has_more=len(found) > first + _SHOWN,
        is_manager=Role.MANAGER in asking.visitor.roles,
    )


def _fits(wanted: str, site: Site) -> bool:
    text = f"{site.site} {site.name} {site.county} {site.region}".casefold()
    return all(word in text for word in wanted.casefold().split())


def _leads(register: Register) -> dict[str, str]:
    """Who leads each site: the name where one is known, else the address."""
    found = {site.site: site.lead_email for site in register.sites.values() if site.lead_email}
    for person in register.people.values():
        if person.role is Role.SITE_LEAD:
            found[person.site] = person.name or person.email
    return found


@PAGES.get("/setup/sites/<site>", who=OVERSEERS)
def site(site: str) -> ResponseReturnValue:
    """One site with all that makes its calendar."""
    asking = asked()
    with asking.read() as record:
        facts = site_facts(asking, record, site)
    return asking.page("setup_site.html", **facts)


def site_facts(asking: Asked, record: Record, name: str) -> dict[str, object]:
    """What the page of a site shows."""
    register = record.register()
    place = asking.site(register, name, *OVERSEERS)
    today = day_at(place, asking.now)
    closures = [c for c in register.closures.values() if c.site in ("", name)]
    years = [
        (year, year_kept(register, record.holiday_years(), asking.public_holidays, place, year))
        for year in (today.year, today.year + 1)
    ]
    return {
        "site": place,
        "today": today,
        "weekdays": _WEEKDAYS,
        "units": len(units_at(register, name, today)),
        "patterns": sorted(
            (p for p in register.patterns.values() if p.site == name), key=lambda p: p.from_on
        ),
        "closures": sorted((c for c in closures if c.to_on >= today), key=lambda c: c.from_on),
        "past": sorted((c for c in closures if c.to_on < today), key=lambda c: c.from_on)[::-1],
        "years": years,
        "is_manager": Role.MANAGER in asking.visitor.roles,
        "as_it_is": _as_it_is(place),
    }


def _as_it_is(site: Site) -> str:
    """How a site stands, in a few signs; a form carries them, and tells so what it was made of."""
    return hashlib.sha256(repr(site).encode()).hexdigest()[:16]


_PLACES: Final[Mapping[str, Mapping[str, str]]] = {
    "pattern": {"from": "pattern-from", "open_days": "pattern-days"},
    "add": {"from": "closure-from", "to": "closure-to"},
    "end": {"to": "ended"},
}
"""Where a form's faults stand on the page, by the form: some have a field of the same name."""


def site_again(name: str, at: str, faults: Sequence[Fault]) -> ResponseReturnValue:
    """The page of a site with what is wrong with one of its forms."""
    asking = asked()
    with asking.read() as record:
        facts = site_facts(asking, record, name)
    days = asking.fields("open_days")
    faults = [at_a_form(fault, _PLACES.get(at)) for fault in faults]
    return asking.form_again(
        "setup_site.html", faults, typed=request.form, typed_days=days, at=at, **facts
    )


@PAGES.post("/setup/sites/<site>", who=OVERSEERS)
def change(site: str) -> ResponseReturnValue:
    """Write what a site is called, when it is open and who leads it."""

    def make(asking: Asked, register: Register, place: Site) -> Meant:
        is_manager = Role.MANAGER in asking.visitor.roles
        region = asking.field("region") if is_manager else place.region
        made = _site(asking, place, region)
        if made != place and asking.field("as_it_was") not in ("", _as_it_is(place)):
            problem = "the site was changed since this page was loaded"
            mend = "compare it in another tab, then save again to put this in its place"
            raise BadInput([Fault("sites", None, "name", problem, mend)])
        return Meant([made])

    return propose(site, "site", make, lambda faults: site_again(site, "site", faults))


def _site(asking: Asked, place: Site, region: str) -> Site:
    """The site as the form has it; what the form has no field for stays."""
    given: Mapping[str, str] = {
        "site": place.site,
        "region": region,
        "country": place.country,
        "subdivision": place.subdivision,
        "open_days": " ".join(asking.fields("open_days")),
        **{name: asking.field(name) for name in _TYPED},
    }
    return cast(Site, form_row("sites", given))


@PAGES.get("/setup/new-site", who=MANAGERS)
def new_page() -> ResponseReturnValue:
    """The form for a new site."""
    asking = asked()
    with asking.read() as record:
        return asking.page("setup_new_site.html", **_new_facts(record))


def _new_facts(record: Record) -> dict[str, object]:
    places = record.register().sites.values()
    return {
        "weekdays": _WEEKDAYS,
        "zones": sorted({site.time_zone for site in places}),
        "regions": sorted({site.region for site in places if site.region}),
        "lands": sorted({(site.country, site.subdivision) for site in places}),
    }


@PAGES.post("/setup/new-site", who=MANAGERS)
def new() -> ResponseReturnValue:
    """Put a site beside the others; its units and people come after it."""
    asking = asked()
    try:
        with asking.write() as record:
            made = _new_site(asking, record.register())
            change_register(record, asking.public_holidays, "site", [made], asking.stamp())
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _new_facts(record)
        days = asking.fields("open_days")
        return asking.form_again(
            "setup_new_site.html",
            [at_a_form(fault) for fault in error.faults],
            typed=request.form,
            typed_days=days,
            **facts,
        )
    return redirect(url_for("setup_sites.site", site=made.site, done="new"))


def _new_site(asking: Asked, register: Register) -> Site:
    country, _, subdivision = asking.field("land").partition("-")
    if (country, subdivision) not in {(s.country, s.subdivision) for s in register.sites.values()}:
        mend = "choose one; a site elsewhere comes with a file of sites"
        raise BadInput([Fault("sites", None, "land", "no state is chosen", mend)])
    blank = Site(
        site=asking.field("site"),
        name="",
        county="",
        region="",
        country=country,
        subdivision=subdivision,
        time_zone="",
        open_days="",
    )
    made = _site(asking, blank, asking.field("region"))
    if (made.site,) in register.sites:
        mend = "give it another short name; it stays for good"
        raise BadInput([Fault("sites", None, "site", f"there is a site '{made.site}'", mend)])
    return made
