"""What falls due for vendors, and what does the plan cost against what was made of it?"""

from __future__ import annotations

from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.domain.visits import VisitState
from fleet.errors import BadInput
from fleet.services.ports import Record
from fleet.services.vendor_outlook import SpentLine, by_kind, months_ahead, spent
from fleet.services.visits.kept_plan import content_of
from fleet.web.asked import asked
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS
from schedules.visits.model import Grade

__all__ = ["PAGES", "plan_counts"]

PAGES = Pages()


@PAGES.get("/program", who=MANAGERS)
def program() -> ResponseReturnValue:
    """The manager's page."""
    asking = asked()
    on = asking.now.date()
    with asking.read() as record:
        register = record.register()
        own = asking.visitor.sites(Role.MANAGER)
        rows = [r for r in asking.web.board.view(record, asking.now).rows if r.site in own]
        lines = months_ahead(register, rows, on)
        plans = sorted(register.plans.values(), key=lambda plan: plan.number, reverse=True)
        counts = {plan.number: plan_counts(register, plan.number) for plan in plans}
        followed = {plan.follows for plan in plans}
        current = next((p.number for p in plans if counts[p.number]["planned"]), "")
        budget = _budget(record, register, current) if current else []
    return asking.page(
        "program.html",
        on=on,
        lines=lines,
        kinds=by_kind(lines),
        plans=[plan for plan in plans if plan.number not in followed or counts[plan.number]["all"]],
        counts=counts,
        current=current,
        budget=budget,
    )


def plan_counts(register: Register, number: str) -> dict[str, int]:
    """How many visits of a plan there are, by how firm they stand and what became of them."""
    visits = [visit for visit in register.visits.values() if visit.plan == number]
    planned = [visit for visit in visits if visit.state is VisitState.PLANNED]
    return {
        "all": len(visits),
        "planned": len(planned),
        **{str(grade): sum(visit.grade is grade for visit in planned) for grade in Grade},
        "made": sum(visit.state is VisitState.DONE for visit in visits),
        "cancelled": sum(visit.state is VisitState.CANCELLED for visit in visits),
    }


def _budget(record: Record, register: Register, number: str) -> list[SpentLine]:
    """The plan's months, planned against made; none where its file cannot be read."""
    try:
        content = content_of(record, register.plans[(number,)])
    except BadInput:
        return []
    return spent(register, number, content.told, asked().now.date())
