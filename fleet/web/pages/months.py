"""How does a consultant review a month of a site's charts, and sign it?"""

from __future__ import annotations

from flask import redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.errors import NotFound
from fleet.services.findings import finding_rows
from fleet.services.months import first_day, last_day, read_month
from fleet.services.ports import Record
from fleet.services.questions import Narrow, Question
from fleet.services.reviews import SIGNED, review, review_rows
from fleet.web.asked import Asked, asked
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES"]

PAGES = Pages()

_SHOWN = 200


@PAGES.get("/sites/<site>/months/<month>", who=OVERSEERS)
def month(site: str, month: str) -> ResponseReturnValue:
    """What a month lacks, and the form to sign it."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record, site, read_month(month, "month"))
    return asking.page("month.html", **facts)


def _facts(asking: Asked, record: Record, name: str, month: str) -> dict[str, object]:
    register = record.register()
    place = asking.site(register, name, *OVERSEERS)
    question = Question(now=asking.now, narrow=Narrow(sites=(name,)))
    rows = review_rows(record, asking.public_holidays, month, month, question)
    if not rows:
        raise NotFound("month", month, "it is not over, or nothing stood there that had a chart")
    span = first_day(month), last_day(month)
    findings = finding_rows(record, asking.public_holidays, *span, question)
    actions = [
        one
        for one in register.actions.values()
        if one.site == name and span[0] <= one.opened_on <= span[1]
    ]
    return {
        "site": place,
        "row": rows[0],
        "first_on": span[0],
        "findings": findings[:_SHOWN],
        "more": max(0, len(findings) - _SHOWN),
        "actions": actions,
        "is_signed": rows[0].state == SIGNED,
    }


@PAGES.post("/sites/<site>/months/<month>", who=OVERSEERS)
def sign(site: str, month: str) -> ResponseReturnValue:
    """Sign the month."""
    asking = asked()
    with asking.write() as record:
        place = asking.site(record.register(), site, *OVERSEERS)
        review(
            record,
            asking.public_holidays,
            place.site,
            read_month(month, "month"),
            by=asking.visitor.name,
            note=asking.field("note"),
            anyway=asking.is_meant,
            stamp=asking.stamp(),
        )
        record.commit()
    return redirect(url_for("months.month", site=site, month=month))
