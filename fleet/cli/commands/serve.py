"""`dueward serve`: the pages, and on SQLite the timetable beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fleet.cli.options import examples, opens_program
from fleet.cli.output import note
from fleet.errors import BadInput, Fault

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["serve"]


@click.command(
    epilog=examples(
        "dueward serve",
        "dueward serve --port 8080 --pages-only",
        "dueward serve --host 0.0.0.0 --behind-tls",
    )
)
@opens_program
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen on.")
@click.option(
    "--port",
    default=8000,
    show_default=True,
    type=click.IntRange(0, 65_535),
    help="0 takes a free one.",
)
@click.option(
    "--behind-tls",
    is_flag=True,
    help="A proxy before it speaks TLS with the browsers and sets X-Forwarded-For, -Proto, -Host.",
)
@click.option(
    "--proxy",
    default="127.0.0.1",
    show_default=True,
    help="The address of that proxy; with --behind-tls only.",
)
@click.option("--threads", default=8, show_default=True, type=click.IntRange(1, 64))
@click.option("--pages-only", is_flag=True, help="Run no timetable; another process does.")
@click.option("--plan-only", is_flag=True, help="Put mail into the outbox and send none.")
def serve(
    program: Program,
    host: str,
    port: int,
    behind_tls: bool,
    proxy: str,
    threads: int,
    pages_only: bool,
    plan_only: bool,
) -> int:
    """Serve the pages, and run the timetable beside them.

    Passwords and marks do not go over a network in the clear: another address than this machine's
    own is refused without --behind-tls. A request is answered under the name in DUEWARD_BASE_URL
    alone, and under localhost where only this machine is listened to; behind a proxy without that
    setting under any name, and a line says so.
    Ctrl-C or SIGTERM stops it; what is under way is finished.
    """
    from fleet.web.serving import Door, is_loopback, run

    if not behind_tls and not is_loopback(host):
        mend = "put a proxy with TLS before it and say --behind-tls, or listen on 127.0.0.1"
        raise BadInput([Fault("--host", None, None, f"{host} can be reached in the clear", mend)])
    if behind_tls and not program.settings.mail.base_url:
        note(
            "DUEWARD_BASE_URL is not set: pages are answered under any name;"
            " set it, as https://pages.example"
        )
    door = Door(host, port, threads, proxy if behind_tls else "")
    return run(program, door, note, pages_only=pages_only, plan_only=plan_only)
