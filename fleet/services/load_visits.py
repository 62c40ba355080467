"""Do the rows of plans and visits agree with each other and with what stands already?"""

from __future__ import annotations

from fleet.domain.visits import SiteVisit, StoredPlan
from fleet.services.load_merge import Merged
from fleet.services.load_ports import Faults

__all__ = ["check_visits"]


def check_visits(merged: Merged, faults: Faults) -> None:
    """A plan that stands is never changed; a visit is of a known plan, and stays at its site."""
    for row in merged.rows(StoredPlan).values():
        plan, old = row.record, merged.before(StoredPlan).get(row.record.key)
        if old not in (None, plan):
            problem = f"plan {plan.number} stands in the record and says otherwise"
            mend = "a plan is never changed: take the row out, or write it as it was exported"
            faults.add(row.file, row.row, "number", problem, mend)
        if plan.follows:
            _check_plan(merged, row.file, row.row, "follows", plan.follows, faults)
    for visit in merged.rows(SiteVisit).values():
        _check_plan(merged, visit.file, visit.row, "plan", visit.record.plan, faults)
        before = merged.before(SiteVisit).get(visit.record.key)
        if before is not None and before.site != visit.record.site:
            problem = f"visit {before.number} is of site '{before.site}' for life"
            faults.add(visit.file, visit.row, "site", problem, "give the other its own number")


def _check_plan(
    merged: Merged, file: str, row: int, column: str, number: str, faults: Faults
) -> None:
    if (number,) not in merged.now(StoredPlan) and not merged.is_spoiled(StoredPlan, number):
        mend = "add it to plans, or correct the number"
        faults.add(file, row, column, f"no plan '{number}'", mend)
