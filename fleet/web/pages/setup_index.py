"""What is the fleet set up of, and what of it looks wrong?"""

from __future__ import annotations

from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.services.access.people import people_lines
from fleet.services.charts.status import missing_charts
from fleet.services.columns import book_of
from fleet.services.mailing.readers import readers
from fleet.services.ports import Record
from fleet.services.questions import Narrow, Question
from fleet.services.setup.concerns import About, Concern, people_concerns, site_concerns
from fleet.services.webhooks.subscriptions import live, paused
from fleet.web.asked import Asked, asked
from fleet.web.routes import Pages
from fleet.web.setup_mail import mail_seen
from fleet.web.who import OVERSEERS
from notifications.outbox import State

__all__ = ["PAGES"]

PAGES = Pages()


@PAGES.get("/setup", who=OVERSEERS)
def index() -> ResponseReturnValue:
    """What there is, and what looks wrong."""
    asking = asked()
    with asking.read() as record:
        register, own = record.register(), asking.visitor.sites(*OVERSEERS)
        lines = people_lines(register, record.access, asking.visitor)
        concerns = [
            *site_concerns(register, own),
            *_unit_concerns(asking, record),
            *people_concerns(register, lines),
            Concern(
                "nobody reads",
                About.PERSON,
                [
                    one.email
                    for one in readers(register, asking.now).away_alone
                    if one.email in {line.email for line in lines}
                ],
            ),
        ]
        rows = mail_seen(asking, record)
        units = [u for u in register.units.values() if u.site in own and u.retired_on is None]
        book = book_of(register)
        is_manager = Role.MANAGER in asking.visitor.roles
        webhooks, silent = len(live(record)), len(paused(record)) if is_manager else 0
    return asking.page(
        "setup.html",
        sites=len(own),
        units=len(units),
        people=len(lines),
        book=book,
        is_own_book=register.book is not None,
        rules=sum(len(kind.rules) for kind in book.kinds.values()),
        concerns=[concern for concern in concerns if concern.ones],
        stuck=sum(row.state is State.DEAD for row in rows),
        waiting=sum(row.state in (State.QUEUED, State.DEFERRED) for row in rows),
        webhooks=webhooks,
        silent=silent,
        is_manager=is_manager,
    )


def _unit_concerns(asking: Asked, record: Record) -> list[Concern]:
    """Units that have no answer, and those without a chart to be marked on."""
    register, own = record.register(), asking.visitor.sites(*OVERSEERS)
    view = asking.web.board.view(record, asking.now)
    unanswered = [number for number in view.failures_of if register.units[(number,)].site in own]
    question = Question(now=asking.now, narrow=Narrow(sites=tuple(own)))
    missing = missing_charts(record, asking.public_holidays, question, None) if own else []
    chartless = [chart.property_number for chart in missing]
    return [
        Concern("no answer", About.UNIT, unanswered),
        Concern("no chart", About.UNIT, list(dict.fromkeys(chartless))),
    ]
