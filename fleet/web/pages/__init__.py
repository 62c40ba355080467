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
    plan_acts,
    plans,
    program,
    region,
    setup_access,
    setup_book,
    setup_calendar,
    setup_import,
    setup_index,
    setup_outbox,
    setup_people,
    setup_sites,
    setup_units,
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
    setup_index.PAGES,
    setup_sites.PAGES,
    setup_calendar.PAGES,
    setup_units.PAGES,
    setup_people.PAGES,
    setup_book.PAGES,
    setup_import.PAGES,
    setup_outbox.PAGES,
    setup_access.PAGES,
    program.PAGES,
    plans.PAGES,
    plan_acts.PAGES,
    links.PAGES,
    jobs.PAGES,
    trip.PAGES,
    packet_page.PAGES,
    calendars.PAGES,
)
