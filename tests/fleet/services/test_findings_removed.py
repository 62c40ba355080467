"""Is what was removed after its retention left in peace by the audit?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleet.domain.records import REMOVED, Mark, blanked
from tests.fleet.services.audit_fleet import AuditFleet, at, march

DAYS = range(9, 14)


def remove(fleet: AuditFleet, *keys: str) -> None:
    for key in keys:
        line = fleet.record.written[key]
        entry = blanked(line.entry)
        fleet.record.written[key] = replace(line, entry=entry, by="", source=REMOVED)


@pytest.mark.parametrize("finding", ["late", "batch", "no initials"])
def test_nobody_is_asked_about_removed_words(finding: str) -> None:
    fleet = AuditFleet.clean(*(("optics", march(day)) for day in DAYS))
    moment = at(march(20)) if finding == "late" else at(march(13), 17)
    keys = [f"k{day}" for day in DAYS]
    for key, day in zip(keys, DAYS, strict=True):
        initials = "" if finding == "no initials" else "GR"
        recorded = at(march(day)) if finding == "no initials" else moment
        fleet.mark(key, march(day), recorded=recorded, initials=initials)
    before = {row[0] for row in fleet.told()}

    remove(fleet, *keys)

    assert finding in before
    assert fleet.told() == []


def test_a_conflict_is_told_also_of_removed_words() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("unused", march(11), Mark.UNUSED, recorded=at(march(11)))
    before = fleet.told()

    remove(fleet, *fleet.record.written)

    assert [row[0] for row in before] == ["conflict"]
    assert fleet.told() == before


def test_a_correction_says_that_its_reason_was_removed() -> None:
    fleet = AuditFleet.clean(("optics", march(11)))
    fleet.mark("wrong", march(11), recorded=at(march(11)))
    fleet.mark("right", march(11), recorded=at(march(11), 18), strikes="wrong", why="a slip")
    remove(fleet, "wrong", "right")

    (row,) = fleet.rows()

    assert row.finding == "corrected"
    assert row.settle == (
        "Replaced by done on 2026-03-11; its reason was removed after its retention."
    )
