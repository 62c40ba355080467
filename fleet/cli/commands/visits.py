"""`dueward visits`: what is planned, how firmly, and what becomes of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, note, show_object, show_rows
from fleet.domain.visits import TechnicianDaysOff, UnsuitableDays, VisitState
from notifications.digests.words import counted

if TYPE_CHECKING:
    from fleet.domain.visits import SiteVisit
    from fleet.services.ports import AttachedFile, Record, Stamp
    from fleet.services.visits.grading import Graded
    from fleet.services.visits.notices import Told
    from fleet.wiring import Program

__all__ = ["visits"]


@click.group(
    epilog=examples(
        "dueward visits list",
        "dueward visits confirm V-0001 --out stop-lists",
        'dueward visits sick "Tatum Fenwald" --from 2027-02-22 --to 2027-02-26 --why flu',
        "dueward visits replan",
        'dueward visits hand-back V-0001 --not-done "PN1020=no power"',
    )
)
def visits() -> None:
    """What visits are planned, how firmly, and what becomes of them.

    A plan that was kept (dueward plan ... --keep) has visits, free at first: they move as the plan
    is made anew. Announced ones move at a price, confirmed ones not at all.
    """


@visits.command("list", epilog=examples("dueward visits list", "dueward visits list --all"))
@opens_program
@click.option("--plan", "plan_number", default="", metavar="P-NUMBER", help="Only of this plan.")
@click.option("--site", default="", help="Only this site, by its short name.")
@click.option("--all", "everything", is_flag=True, help="Also those that were made or cancelled.")
@formatted
def list_(program: Program, plan_number: str, site: str, everything: bool, form: Form) -> None:
    """Every visit that is to be made, in the order of their days."""
    from fleet.cli.visits_table import VisitLine, visit_lines, visits_table
    from fleet.services.narrow import check_names
    from fleet.services.questions import Narrow
    from fleet.services.visits.kept_plan import plan_named

    with program.store.begin() as record:
        check_names(record, Narrow(sites=(site,) if site else ()))
        register = record.register()
        number = plan_named(register, plan_number).number if plan_number else ""
        chosen = [
            one
            for one in register.visits.values()
            if number in ("", one.plan) and site.casefold() in ("", one.site.casefold())
            if everything or one.state is VisitState.PLANNED
        ]
    lines = visit_lines(register, chosen)
    show_rows(VisitLine._fields, lines, form, lambda: visits_table(lines))


@visits.command("show", epilog=examples("dueward visits show V-0001"))
@opens_program
@click.argument("number", metavar="V-NUMBER")
@formatted
def show(program: Program, number: str, form: Form) -> None:
    """One visit: when, who, for which units, how firmly it stands, and its trip."""
    from fleet.cli.visits_table import visit_object, visit_text
    from fleet.services.visits.kept_plan import key_of, trips_of, visit_of

    with program.store.begin() as record:
        register = record.register()
        visit = visit_of(register, number)
        trips = trips_of(
            register, (one for one in register.visits.values() if one.state is visit.state)
        )
        trip = trips[key_of(visit)]
    shown = visit_object(register, visit, trip)
    show_object(shown, form, lambda: visit_text(shown))


@visits.command("compare", epilog=examples("dueward visits compare P-0001 P-0002"))
@opens_program
@click.argument("before", metavar="P-NUMBER")
@click.argument("after", metavar="P-NUMBER")
@formatted
def compare(program: Program, before: str, after: str, form: Form) -> None:
    """How one plan differs from another: visits and units that moved, and what it costs."""
    from fleet.cli.visits_table import difference_object, difference_text
    from fleet.services.visits.kept_plan import content_of, plan_named
    from schedules.visits.difference import difference

    with program.store.begin() as record:
        register = record.register()
        old, new = (content_of(record, plan_named(register, one)) for one in (before, after))
    found = difference(old.told, new.told)
    show_object(difference_object(found), form, lambda: difference_text(found, [before, after]))


@visits.command("announce", epilog=examples("dueward visits announce V-0001 V-0002"))
@opens_program
@click.argument("numbers", metavar="V-NUMBER...", nargs=-1, required=True)
@formatted
def announce(program: Program, numbers: Sequence[str], form: Form) -> None:
    """Note that sites were told of visits: they move only at the price of a change.

    It stands in the leads' weekly mail from now on.
    """
    from fleet.services.visits import grading

    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        graded = grading.announce(record, program.public_holidays, numbers, stamp)
        record.commit()
    _show_graded(program, graded, form, "announced")


@visits.command(
    "confirm",
    epilog=examples("dueward visits confirm V-0001", "dueward visits confirm V-0001 --out lists"),
)
@opens_program
@click.argument("numbers", metavar="V-NUMBER...", nargs=-1, required=True)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Write the stop lists into this folder too.",
)
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True)
@click.option("--replace", is_flag=True, help="Write over stop lists of the same names.")
@formatted
def confirm(
    program: Program,
    numbers: Sequence[str],
    out: Path | None,
    paper: Literal["letter", "a4"],
    replace: bool,
    form: Form,
) -> None:
    """Confirm the trips that visits belong to, whole: nothing moves them any more.

    Leads and consultants get a mail with the event for their calendar, consultants, managers and
    the technician the stop list as PDF. The mails go out with dueward work.
    """
    from fleet.cli.visit_acts import write_lists
    from fleet.desk.confirming import confirmed

    with program.store.begin(write=True) as record:
        done = confirmed(program, record, numbers, program.stamp("command"), paper)
        if out is not None:
            write_lists(done.lists, out, replace=replace)
        record.commit()
    note(f"{counted(done.mails, 'mail')} in the outbox")
    _show_graded(program, done.graded, form, "confirmed")


@visits.command("free", epilog=examples("dueward visits free V-0001"))
@opens_program
@click.argument("numbers", metavar="V-NUMBER...", nargs=-1, required=True)
@formatted
def free(program: Program, numbers: Sequence[str], form: Form) -> None:
    """Let visits move again; of a confirmed trip all stops.

    Who was told of a day is told again if it moves.
    """
    from fleet.services.visits import grading

    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        graded = grading.free(record, program.public_holidays, numbers, stamp)
        record.commit()
    _show_graded(program, graded, form, "free")


@visits.command("cancel", epilog=examples('dueward visits cancel V-0001 --why "site moves"'))
@opens_program
@click.argument("number", metavar="V-NUMBER")
@click.option("--why", required=True, help="The reason.")
@formatted
def cancel(program: Program, number: str, why: str, form: Form) -> None:
    """Cancel one visit; its services are planned again by replan.

    A site that was told of it is told that nobody comes.
    """
    from fleet.services.visits import grading
    from fleet.services.visits.notices import Told
    from notifications.event_facts import Change

    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        graded = grading.cancel(record, program.public_holidays, number, why, stamp)
        told = [
            Told(one, Change.CANCELLED, reason=why)
            for one in graded.were
            if one.told_on is not None
        ]
        _tell(program, record, told, stamp)
        record.commit()
    _show_graded(program, graded, form, "cancelled")


@visits.command(
    "unsuitable",
    epilog=examples(
        'dueward visits unsuitable adams --from 2027-02-22 --to 2027-02-26 --why "inspection"'
    ),
)
@opens_program
@click.argument("site")
@day_option("from", "The first day", required=True)
@day_option("to", "The last day, included", required=True)
@click.option("--why", required=True, help="The reason.")
@formatted
def unsuitable(
    program: Program, site: str, from_on: dt.date, to_on: dt.date, why: str, form: Form
) -> None:
    """Days on which a site is open but wants no visit."""
    from fleet.services.visits import grading

    with program.store.begin(write=True) as record:
        days = UnsuitableDays(site=site, from_on=from_on, to_on=to_on, reason=why)
        hit = grading.unsuitable(record, program.public_holidays, days, program.stamp("command"))
        record.commit()
    _show_hit(program, hit, form)


@visits.command(
    "sick",
    epilog=examples(
        'dueward visits sick "Tatum Fenwald" --from 2027-02-22 --to 2027-02-26 --why flu'
    ),
)
@opens_program
@click.argument("technician")
@day_option("from", "The first day", required=True)
@day_option("to", "The last day, included", required=True)
@click.option("--why", required=True, help="The reason.")
@formatted
def sick(
    program: Program, technician: str, from_on: dt.date, to_on: dt.date, why: str, form: Form
) -> None:
    """Days on which a vendor's technician cannot come, sick or otherwise away."""
    from fleet.services.visits import grading

    with program.store.begin(write=True) as record:
        days = TechnicianDaysOff(technician=technician, from_on=from_on, to_on=to_on, reason=why)
        hit = grading.days_off(record, program.public_holidays, days, program.stamp("command"))
        record.commit()
    _show_hit(program, hit, form)


@visits.command("replan", epilog=examples("dueward visits replan --try", "dueward visits replan"))
@opens_program
@click.option("--plan", "plan_number", default="", metavar="P-NUMBER", help="The plan, by number.")
@click.option(
    "--iterations",
    type=click.IntRange(0, 10**9),
    metavar="NUMBER",
    default=0,
    show_default=True,
    help="After it is mended, seek so long for a cheaper one.",
)
@click.option("--try", "is_trial", is_flag=True, help="Only say what would change.")
@formatted
def replan(program: Program, plan_number: str, iterations: int, is_trial: bool, form: Form) -> None:
    """Make what is to come of a plan anew, on the record as it is now, and say what changed.

    Confirmed trips stand. Announced visits move at the price of a change. Sites that were told of a
    day are told of the new one.
    """
    from fleet.cli.visits_table import replanned_object, replanned_text
    from fleet.services.visits.notices import moved_or_gone
    from fleet.services.visits.replanning import replan as replanned

    with program.store.begin(write=True) as record:
        stamp, given = program.stamp("command"), program.replanning(iterations)
        result = replanned(record, given, stamp, number=plan_number, is_trial=is_trial)
        if not is_trial:
            _tell(program, record, moved_or_gone(result.changes), stamp)
            record.commit()
        register = record.register()
    shown = replanned_object(result)
    show_object(shown, form, lambda: replanned_text(register, result))


@visits.command(
    "hand-back",
    epilog=examples(
        "dueward visits hand-back V-0001 --on 2026-12-14 --certificate PN1034=report.pdf",
        'dueward visits hand-back V-0001 --not-done "PN1034=no power"',
    ),
)
@opens_program
@click.argument("number", metavar="V-NUMBER")
@day_option("on", "The day it was made; default: the day it was planned for")
@click.option("--initials", default="", help="Who was there for the site.")
@click.option("--findings", multiple=True, metavar="UNIT=TEXT", help="What the vendor found.")
@click.option("--certificate", multiple=True, metavar="UNIT=FILE", help="The unit's certificate.")
@click.option("--not-done", multiple=True, metavar="UNIT=WHY", help="Not served, and why.")
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@formatted
def hand_back(
    program: Program,
    number: str,
    on: dt.date | None,
    initials: str,
    findings: Sequence[str],
    certificate: Sequence[str],
    not_done: Sequence[str],
    anyway: bool,
    form: Form,
) -> None:
    """Record what was served in a visit, and what was not and why.

    Each unit's service is on the record then, as by dueward service, and its rule settled. What
    was not served stays due, and is planned again by replan.
    """
    from fleet.cli.visit_acts import by_unit, files_by_unit
    from fleet.cli.visits_table import handed_object, handed_text
    from fleet.services.visits.handing_back import Outcome
    from fleet.services.visits.handing_back import hand_back as handed_back

    certificates: dict[str, AttachedFile] = files_by_unit(certificate)
    outcome = Outcome(
        on=on,
        initials=initials,
        findings=by_unit("findings", findings),
        certificates=certificates,
        not_done=by_unit("not-done", not_done),
    )
    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        done = handed_back(
            record, program.public_holidays, number, outcome, anyway=anyway, stamp=stamp
        )
        record.commit()
    shown = handed_object(done)
    show_object(shown, form, lambda: handed_text(done))


def _tell(program: Program, record: Record, told: Sequence[Told], stamp: Stamp) -> None:
    """Put the mails about visits into the outbox, in the unit of work that changes them."""
    from fleet.desk.confirming import told_of

    if told:
        note(f"{counted(told_of(program, record, told, stamp), 'mail')} in the outbox")


def _show_graded(program: Program, graded: Graded, form: Form, what: str) -> None:
    from fleet.cli.visits_table import VisitLine, graded_text, visit_lines

    with program.store.begin() as record:
        lines = visit_lines(record.register(), graded.visits)
    show_rows(VisitLine._fields, lines, form, lambda: graded_text(lines, what))


def _show_hit(program: Program, hit: Sequence[SiteVisit], form: Form) -> None:
    from fleet.cli.visits_table import VisitLine, hit_text, visit_lines

    with program.store.begin() as record:
        lines = visit_lines(record.register(), hit)
    show_rows(VisitLine._fields, lines, form, lambda: hit_text(lines))
