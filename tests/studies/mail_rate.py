"""How fast does mail go out of the outbox, against a bare loop over one connection?

python -m tests.studies.mail_rate sends the same messages both ways in one run, in turns, to a bare
sink in another process and to the mail server that is installed (OpenSMTPD or Postfix, as root).
The bare loop is `smtplib` on one reused connection and keeps no record. Ratios only.
"""

from __future__ import annotations

import smtplib
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack, closing
from pathlib import Path
from statistics import median

from fleet.storage import create, open_store
from notifications.dispatch import dispatch_due
from notifications.mime import mail
from notifications.outbox import Planned
from notifications.settings import Settings
from notifications.smtp import Door, server
from tests.fleet.storage.outbox_examples import NOW, a_planned, plan
from tests.notifications.facts_made import a_rendered
from tests.studies.postfix_server import postfix

MAILS, TURNS = 400, 5
ROOT = Path(__file__).resolve().parents[2]
_SINK = """
import sys, time
sys.path.insert(0, {root!r})
from tests.notifications.storing_sink import StoringSink
sink = StoringSink()
print(sink.port, flush=True)
time.sleep(600)
"""


def main() -> None:
    """Print a line of the table for each server there is."""
    html = "<!DOCTYPE html><html lang='en'><title>t</title>" + "<p>Start with NE-1.</p>" * 1000
    planned = []
    for number in range(MAILS):
        one = mail(a_rendered(email=f"r{number}@lab.example", html=html), Settings())
        planned.append(a_planned(f"r{number}", mail=one))
    size = len(planned[0].mail.content) if planned[0].mail else 0
    print(f"{MAILS} messages of {size:,} bytes, median of {TURNS} turns")
    with ExitStack() as stack:
        code = _SINK.format(root=str(ROOT))
        sink = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
        stack.callback(sink.kill)
        assert sink.stdout is not None
        _compare("bare sink", int(sink.stdout.readline()), planned)
        for name, port in _servers(stack):
            _compare(name, port, planned)


def _servers(stack: ExitStack) -> list[tuple[str, int]]:
    if Path("/usr/sbin/postfix").exists():
        return [("Postfix", stack.enter_context(postfix()).port)]
    from tests.mail_server import started  # only where it is installed

    return [("OpenSMTPD", stack.enter_context(started()).port)]


def _compare(name: str, port: int, planned: list[Planned]) -> None:
    bare, ours = [], []
    for _ in range(TURNS):
        bare.append(_bare(port, planned))
        ours.append(_ours(port, planned))
    ratio = median(bare) / median(ours)
    print(
        f"| {name} | {MAILS / median(bare):,.0f}/s | {MAILS / median(ours):,.0f}/s | {ratio:.2f} |"
    )


def _bare(port: int, planned: list[Planned]) -> float:
    """Seconds for all of it by smtplib alone; a new connection after 50, as servers ask."""
    start = time.perf_counter()
    smtp = smtplib.SMTP("127.0.0.1", port)
    for number, one in enumerate(planned):
        if number % 50 == 0 and number:
            smtp.quit()
            smtp = smtplib.SMTP("127.0.0.1", port)
        assert one.mail is not None
        smtp.sendmail(one.mail.envelope_from, [one.mail.envelope_to], one.mail.content)
    smtp.quit()
    return time.perf_counter() - start


def _ours(port: int, planned: list[Planned]) -> float:
    """Seconds for all of it out of an outbox, each message claimed and settled."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'fleet.db'}"
        create(url)
        with closing(open_store(url, clock=lambda: NOW)) as store:
            plan(store, *planned)
            start = time.perf_counter()
            at = server(Settings(smtp=f"smtp://127.0.0.1:{port}"))
            with Door(at) as door:
                tally = dispatch_due(store.outbox, door, "me", lambda: NOW)
            seconds = time.perf_counter() - start
    assert tally.sent == len(planned), tally
    return seconds


if __name__ == "__main__":
    main()
