"""What time is it on a trip? Minutes of a technician's day as the depot's clock and a site's."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

__all__ = ["clock_text", "local_text"]


def clock_text(begins_at: dt.time, minute: int) -> str:
    """'09:42': so many minutes after the day begins; after midnight '00:10 next day'."""
    days, rest = divmod(begins_at.hour * 60 + begins_at.minute + minute, 24 * 60)
    return f"{rest // 60:02}:{rest % 60:02}" + (" next day" if days else "")


def local_text(
    on: dt.date, begins_at: dt.time, minute: int, depot_zone: str, site_zone: str
) -> str:
    """The site's own time where its clock differs from the depot's, '' where it does not.

    Zones by their IANA names.
    """
    if not site_zone or site_zone == depot_zone:
        return ""
    begins = dt.datetime.combine(on, begins_at, ZoneInfo(depot_zone))
    there = begins + dt.timedelta(minutes=minute)
    here = there.astimezone(ZoneInfo(site_zone))
    if here.utcoffset() == there.utcoffset():
        return ""
    return f"{here:%H:%M} by the site's clock"
