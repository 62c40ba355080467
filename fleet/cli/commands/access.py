"""`dueward access`: who may open the pages, and what was tried."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import fitted, grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows
from fleet.services.access import accounts, benches
from fleet.services.access.caller import Caller
from fleet.services.access.visitor import account_name
from fleet.services.narrow import check_names
from fleet.services.questions import Narrow

if TYPE_CHECKING:
    from fleet.services.ports import Record
    from fleet.wiring import Program

__all__ = ["access"]

_ACCOUNTS: Final = ("email", "made_at", "password_at", "second_factor", "disabled_at")
_EVENTS: Final = ("at", "act", "who", "address", "about")


@click.group(
    epilog=examples(
        "dueward access invite platte-valley@bench-agency.example",
        "dueward access bench adams",
        'dueward access pin adams GR --name "Glenn Rowanthal"',
        "dueward access log",
    )
)
def access() -> None:
    """Who may open the pages: accounts, benches, and what was tried.

    There is no account at the beginning: invite the first person here, then people on the pages.
    """


def _caller(program: Program) -> Caller:
    from fleet.web.hasher import ArgonHasher

    return Caller(
        now=program.clock(),
        address="this machine",
        label="",
        hasher=ArgonHasher(),
        draw=program.draw_token,
    )


@access.command("invite", epilog=examples("dueward access invite program@bench-agency.example"))
@opens_program
@click.argument("email")
@formatted
def invite(program: Program, email: str, form: Form) -> None:
    """Make a link under which somebody sets a password and comes in; it fits once, for a day.

    Whoever has it gets the account, so hand it to its person alone. The person needs a role: a row
    of people, or a site's lead_email. Somebody with an account gets a link for a new password.
    """
    caller = _caller(program)
    with program.store.begin(write=True) as record:
        path = accounts.invite(record, caller, email, program.user)
        record.commit()
    address = f"{program.settings.mail.base_url}{path}"
    rows = [[account_name(email), address]]
    show_rows(("email", "address"), rows, form, lambda: f"{address}\n")
    if not program.settings.mail.base_url:
        note("put the address of the pages before it, or set DUEWARD_BASE_URL")


@access.command("list", epilog=examples("dueward access list"))
@opens_program
@formatted
def list_(program: Program, form: Form) -> None:
    """Every account."""
    with program.store.begin() as record:
        found = record.access.accounts()
    rows: list[list[Value]] = [
        [
            one.email,
            one.made_at.isoformat(),
            one.password_at.isoformat(),
            "yes" if one.totp_key else "no",
            None if one.disabled_at is None else one.disabled_at.isoformat(),
        ]
        for one in found
    ]
    show_rows(_ACCOUNTS, rows, form, lambda: _table(rows, "There is no account yet."))


@access.command("log", epilog=examples("dueward access log --count 50"))
@opens_program
@click.option("--count", default=30, show_default=True, type=click.IntRange(1, 10_000))
@click.option("--who", default="", help="Only of this address, or SITE/INITIALS.")
@formatted
def log(program: Program, count: int, who: str, form: Form) -> None:
    """What happened at the doors, the last first."""
    with program.store.begin() as record:
        found = record.access.logged(count, who)
    rows: list[list[Value]] = [
        [one.at.isoformat(), one.act.value, one.who, one.address, one.about] for one in found
    ]
    show_rows(_EVENTS, rows, form, lambda: _table(rows, "Nothing has happened yet."))


def _table(rows: list[list[Value]], none: str) -> str:
    if not rows:
        return none
    lines = [["" if value is None else str(value) for value in row] for row in rows]
    return printed(grid(lines, widths=fitted(lines, folding=[0])))


def _act(program: Program, act: Callable[[Record, Caller], None]) -> None:
    caller = _caller(program)
    with program.store.begin(write=True) as record:
        act(record, caller)
        record.commit()


@access.command("disable", epilog=examples("dueward access disable adams.lead@county-labs.example"))
@opens_program
@click.argument("email")
def disable(program: Program, email: str) -> None:
    """Let an account in no more; whoever is signed in with it is out at once."""
    _act(program, lambda record, caller: accounts.disable(record, caller, email, program.user))
    note(f"{account_name(email)} is let in no more")


@access.command("enable", epilog=examples("dueward access enable adams.lead@county-labs.example"))
@opens_program
@click.argument("email")
def enable(program: Program, email: str) -> None:
    """Let a disabled account in again."""
    _act(program, lambda record, caller: accounts.enable(record, caller, email, program.user))
    note(f"{account_name(email)} is let in again")


@access.command(
    "end-second-factor",
    epilog=examples("dueward access end-second-factor program@bench-agency.example"),
)
@opens_program
@click.argument("email")
def end_second_factor(program: Program, email: str) -> None:
    """Ask an account for no code any more, as when a phone was lost."""
    _act(
        program,
        lambda record, caller: accounts.end_second_factor(record, caller, email, program.user),
    )
    note(f"{account_name(email)} sets the second factor up anew")


@access.command("bench", epilog=examples("dueward access bench adams"))
@opens_program
@click.argument("site")
@formatted
def bench(program: Program, site: str, form: Form) -> None:
    """Make a code that turns one browser into a site's bench; it fits once, for 15 minutes."""
    caller = _caller(program)
    with program.store.begin(write=True) as record:
        check_names(record, Narrow(sites=(site,)))
        code = benches.bench_code(record, caller, site, program.user)
        record.commit()
    show_rows(("site", "code"), [[site, code]], form, lambda: f"{code}\n")
    note("type it at the bench, on the page /bench/enrol")


@access.command("pin", epilog=examples('dueward access pin adams GR --name "Glenn Rowanthal"'))
@opens_program
@click.argument("site")
@click.argument("initials")
@click.option("--name", default="", help="Whose initials they are.")
@formatted
def pin(program: Program, site: str, initials: str, name: str, form: Form) -> None:
    """Let somebody mark at a site's bench under their initials; answers the PIN, once."""
    caller = _caller(program)
    with program.store.begin(write=True) as record:
        check_names(record, Narrow(sites=(site,)))
        _, given = benches.give_pin(record, caller, site, initials, name, program.user)
        record.commit()
    rows = [[site, initials, given]]
    show_rows(("site", "initials", "pin"), rows, form, lambda: f"{given}\n")
