"""What do the months and the counties look like: reviews, county lines, the vendors' year?"""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import Final

from flask import Response, abort

from fleet.domain.records import Role
from fleet.domain.texts import Wrong
from fleet.services.county_lines import CountyLine, county_lines, two_months
from fleet.services.months import month_of
from fleet.services.questions import Narrow, Question
from fleet.services.reviews import review_rows
from fleet.services.vendor_outlook import MonthLine, months_ahead
from fleet.web.api.given import query
from fleet.web.api.told import PART, part, sites_asked
from fleet.web.asked import asked
from fleet.web.routes import Operations
from fleet.web.who import LEADS, MANAGERS, OVERSEERS

__all__ = ["OPERATIONS"]

OPERATIONS = Operations()

_MOST_DAYS: Final = 366
_SIX_MONTHS: Final = dt.timedelta(days=170)
_ONE_DAY: Final = dt.timedelta(days=1)


@OPERATIONS.get("/api/v1/reviews", who=LEADS)
def reviews() -> Response:
    """A row a site and month that is over: whether its charts are back, reviewed, reopened."""
    asking, given = asked(), query("from", "to", "site", *PART)
    last = asking.now.date().replace(day=1) - _ONE_DAY
    to_month = given.month("to", last.replace(day=1))
    from_month = given.month("from", (last - _SIX_MONTHS).replace(day=1))
    given.check()
    if not 0 <= (to_month - from_month).days < _MOST_DAYS:
        given.fault("from", Wrong("that is no span of 1 to 12 months", "ask for fewer at a time"))
    sites = sites_asked(asking, given, *LEADS)
    question = Question(now=asking.now, narrow=Narrow(sites=sites))
    rows = []
    if sites:  # To be narrowed to no site is not to be narrowed.
        with asking.read() as record:
            found = review_rows(
                record,
                asking.public_holidays,
                month_of(from_month),
                month_of(to_month),
                question,
            )
        rows = [row for row in found if row.site in sites]
    return part(rows, given, asdict)


@OPERATIONS.get("/api/v1/counties", who=OVERSEERS)
def counties() -> Response:
    """A row a county, in the order of what is owed: annual service first, then gaps."""
    asking, given = asked(), query("region", *PART)
    region = given.text("region", 64)
    given.check()
    with asking.read() as record:
        register = record.register()
        own = [register.sites[(name,)] for name in sorted(asking.visitor.sites(*OVERSEERS))]
        sites = [site for site in own if region in ("", site.region)]
        if region and not sites:
            abort(404)
        view = asking.web.board.view(record, asking.now)
        seen = asking.web.overviews.of_all(record, view, sites, asking.now)
    on = max((one.on for one in seen), default=asking.now.date())
    return part(county_lines(seen, two_months(on)), given, _county)


def _county(line: CountyLine) -> dict[str, object]:
    return {
        "county": line.county,
        "sites": [site.site for site in line.sites],
        "services_overdue": len(line.owed),
        "longest_days_past_due": line.longest if line.owed else None,
        "services_due": len(line.soon),
        "other_duties_overdue": line.others,
        "gaps_last_month": line.gaps_before,
        "gaps_this_month": line.gaps,
        "months_to_review": line.waiting,
        "silent_units": line.silent,
    }


@OPERATIONS.get("/api/v1/vendor-months", who=MANAGERS)
def vendor_months() -> Response:
    """The vendor services that are overdue, and those of the next twelve months."""
    asking, given = asked(), query(*PART)
    own = asking.visitor.sites(Role.MANAGER)
    with asking.read() as record:
        rows = [r for r in asking.web.board.view(record, asking.now).rows if r.site in own]
        lines = months_ahead(record.register(), rows, asking.now.date())
    return part(lines, given, _month)


def _month(line: MonthLine) -> dict[str, object]:
    sums = ("services", "overdue", "minutes", "fee_cents")
    return {
        "month": line.month or None,
        **{name: getattr(line, name) for name in sums},
        "kinds": [
            {"kind": kind, **{name: getattr(one, name) for name in sums}}
            for kind, one in line.kinds.items()
        ],
    }
