"""A manager who plans the small state's visits, and the process that does the long work."""

from __future__ import annotations

import io

from fleet.domain.jobs import Job
from fleet.domain.visits import SiteVisit
from fleet.web.long_work import runner
from tests.fleet.web.lab import Browser, Lab

__all__ = ["FIELDS", "PLAN_FILE", "asks", "job_at", "visits", "works"]

PLAN_FILE = b"""
[[depot]]
name = "Depot"
latitude = 40.8
longitude = -96.7
time_zone = "America/Chicago"

[[technician]]
name = "Tatum Fenwald"
vendor = "Vendrick Service"
depot = "Depot"
open_days = "Mon Tue Wed Thu Fri"
day_minutes = 480
begins_at = "08:00"
max_nights = 4

[[technician]]
name = "Robin Yarrowby"
vendor = "Vendrick Service"
depot = "Depot"
open_days = "Mon Tue Wed Thu Fri"
day_minutes = 480
begins_at = "08:00"
max_nights = 4

[roads]
road_factor = 1.3
miles_an_hour = 55

[money]
mile = 70
hour = 9500
trip = 15000
night = 14000
visit = 4000
lost_day = 50
change = 5000
"""
FIELDS = {"from": "2026-03-04", "to": "2026-12-31", "effort": "quick"}


def asks(manager: Browser, **more: object) -> str:
    """Ask for a plan, and answer the path of its job."""
    sent = {**FIELDS, "plan_file": (io.BytesIO(PLAN_FILE), "plan.toml"), "keep": "yes", **more}
    answer = manager.post("/program/plans/new", sent, content_type="multipart/form-data")
    assert answer.status_code == 302, answer.text
    return answer.location


def works(lab: Lab) -> int:
    """Do all the long work that waits; how many jobs."""
    process, count = runner(lab.program), 0
    while process.run_one():
        count += 1
    return count


def visits(lab: Lab) -> dict[str, SiteVisit]:
    """All visits of the register by their numbers."""
    with lab.program.store.begin() as record:
        return {number: visit for (number,), visit in record.register().visits.items()}


def job_at(lab: Lab, path: str) -> Job:
    """The job whose page is at a path."""
    with lab.program.store.begin() as record:
        job = record.jobs.find(path.rpartition("/")[2])
    assert job is not None, path
    return job
