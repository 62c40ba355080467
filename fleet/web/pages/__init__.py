"""Which pages are there? All of them, in the order in which a newcomer meets them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fleet.web.pages import (
    account,
    bench,
    bench_doors,
    calendars,
    home,
    issue,
    jobs,
    links,
    months,
    packet_page,
    people,
    plans,
    program,
    region,
    sign_in,
    site_bench,
    site_charts,
    sites,
    trip,
    unit_acts,
    units,
)
from fleet.web.routes import Pages

__all__ = ["ALL"]

ALL: Final[Sequence[Pages]] = (
    home.PAGES,
    sign_in.PAGES,
    account.PAGES,
    bench_doors.PAGES,
    bench.PAGES,
    sites.PAGES,
    issue.PAGES,
    site_bench.PAGES,
    site_charts.PAGES,
    months.PAGES,
    unit_acts.PAGES,
    units.PAGES,
    region.PAGES,
    people.PAGES,
    program.PAGES,
    plans.PAGES,
    links.PAGES,
    jobs.PAGES,
    trip.PAGES,
    packet_page.PAGES,
    calendars.PAGES,
)
