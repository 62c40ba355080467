"""What does the consultant's region owe, county by county: annual service first, then gaps?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Final

from flask import abort, request
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role, Site
from fleet.domain.register import Register
from fleet.services.county_lines import (
    CountyLine,
    county_lines,
    review_queue,
    silent_units,
    two_months,
)
from fleet.web.asked import Asked, asked
from fleet.web.county_picture import CountyPicture, county_picture
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS
from notifications.digests.words import joined

__all__ = ["PAGES"]

PAGES = Pages()

_NAMED: Final = 2
"""The heading names so many regions, and of more says that they are all."""
_SHOWN: Final = 50


@PAGES.get("/region", who=OVERSEERS)
def region() -> ResponseReturnValue:
    """The region's page; a manager, or a consultant of several, chooses one or sees all."""
    asking = asked()
    chosen = request.args.get("region", "")
    with asking.read() as record:
        register = record.register()
        regions = _regions(asking, register)
        if chosen and chosen not in regions:
            abort(404)
        sites = [site for name in ([chosen] if chosen else regions) for site in regions[name]]
        view = asking.web.board.view(record, asking.now)
        seen = asking.web.overviews.of_all(record, view, sites, asking.now)
    on = max((one.on for one in seen), default=asking.now.date())
    months = two_months(on)
    lines = county_lines(seen, months)
    return asking.page(
        "region.html",
        chosen=chosen,
        regions=sorted(regions),
        name=chosen or (joined(sorted(regions)) if len(regions) <= _NAMED else "All regions"),
        on=on,
        months=months,
        lines=lines,
        picture=_picture(sites, lines),
        queue=review_queue(seen),
        silent=silent_units(seen),
        actions=[action for one in seen for action in one.actions][:_SHOWN],
        outages=[outage for one in seen for outage in one.outages][:_SHOWN],
        failures=list(view.failures)[:_SHOWN],
    )


def _regions(asking: Asked, register: Register) -> Mapping[str, list[Site]]:
    """The regions that the visitor looks after, with those of their sites."""
    found: dict[str, list[Site]] = defaultdict(list)
    for name in asking.visitor.sites(Role.CONSULTANT, Role.MANAGER):
        site = register.sites[(name,)]
        found[site.region].append(site)
    return {name: sorted(some, key=lambda s: s.site) for name, some in sorted(found.items())}


def _picture(sites: Sequence[Site], lines: Sequence[CountyLine]) -> CountyPicture | None:
    """The map of the state that most of the sites lie in."""
    places = {(site.country, site.subdivision) for site in sites}
    if len(places) != 1:
        return None
    return county_picture(*places.pop(), lines)
