"""What do a plan's pictures and pages say beside its figures?"""

from __future__ import annotations

from fleet.pictures.plan_pdf import PlanRemarks
from fleet.pictures.plan_words import PlanWords, SiteWords
from fleet.services.visits.answer import Answer
from fleet.services.visits.order import Ordered
from notifications.digests.words import counted, day

__all__ = ["plan_remarks", "plan_words"]


def plan_words(ordered: Ordered) -> PlanWords:
    """The names a plan's pictures call things by."""
    order = ordered.order
    return PlanWords(
        title=f"Vendor visits, {day(order.from_on)} to {day(order.to_on)}",
        sites={
            name: SiteWords(
                name=site.name,
                county=site.county,
                contact=site.lead_email,
                time_zone=site.time_zone,
            )
            for name, site in ordered.sites.items()
        },
    )


def plan_remarks(answer: Answer) -> PlanRemarks:
    """What a plan's pages say of how it came about."""
    made = ", ".join(f"{name} {version}" for name, version in answer.versions.items())
    steps = counted(answer.effort.iterations, "iteration")
    return PlanRemarks(
        notes=[f"{one[:1].upper()}{one[1:]}." for one in answer.ordered.notes],
        why={one.need.name: f"{one.reason}; {one.mend}" for one in answer.unplaced},
        foot=f"seed {answer.effort.seed}, {steps}; {made}",
    )
