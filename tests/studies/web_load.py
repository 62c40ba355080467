"""How soon do the pages answer with 10,000 units and 100 people, and 100 of them in one second?

python -m tests.studies.web_load [SECONDS] [sqlite|postgresql] serves an invented state of 800 sites
by the program's own command (on PostgreSQL two processes for pages and one that works) and lets 80
people mark at benches, 10 leads and 10 consultants look at their pages, each every five seconds.
The people are threads of this process, which shares the machine: times are what they waited.
"""

from __future__ import annotations

import datetime as dt
import http.client
import json
import os
import random
import re
import secrets
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from fleet.domain.access import Account, BenchPerson, Device
from fleet.services.access.caller import Caller
from fleet.services.access.sessions import begin_session
from fleet.services.links import token_hash
from fleet.web.guard import COOKIE, DEVICE_COOKIE
from fleet.web.hasher import ArgonHasher
from fleet.wiring import Program, program
from tests.postgres_server import new_database, programs, running

UNITS, SITES, THINK = 10_000, 800, 5.0
BENCHES, LEADS, CONSULTANTS = 80, 10, 10
ROOT = Path(__file__).resolve().parents[2]


def main() -> None:
    """Print a row a database: how long people waited (p50, p99, longest), and what failed."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    wanted = sys.argv[2:] or ["sqlite", "postgresql"]
    print("| database | requests | reads, ms | writes, ms | failed | 100 at once, ms |")
    print("|---|---|---|---|---|---|")
    for name in wanted:
        with ExitStack() as stack:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
            url = f"sqlite:///{folder / 'fleet.db'}"
            if name == "postgresql":
                found = programs()
                if found is None:
                    print("| postgresql | not installed |")
                    continue
                url = new_database(stack.enter_context(running(found)))
            write_state(folder)
            command(url, "load", str(folder / "state"))
            people = make_people(url)
            ports = [
                stack.enter_context(serving(url, alone=name == "sqlite"))
                for _ in range(1 if name == "sqlite" else 2)
            ]
            if name == "postgresql":
                stack.enter_context(working(url))
            measure(name, ports, people, seconds)


def write_state(folder: Path) -> None:
    """An invented state: 12 or 13 units at each of 800 sites, in ten regions."""
    state = folder / "state"
    state.mkdir()
    sites = [
        f"s{n:03},Site {n},County {n},Region {n % 10},US,NE,America/Chicago,"
        f"Mon Tue Wed Thu Fri Sat Sun,lead{n}@lab.example"
        for n in range(SITES)
    ]
    units = [
        f"{n:06},microscope,Hillside {n % 7},s{n % SITES:03},2025-01-02,2026-01-02"
        for n in range(UNITS)
    ]
    yesterday = dt.datetime.now(dt.UTC).date() - dt.timedelta(days=1)
    entries = []
    for n in range(UNITS):
        last = yesterday - dt.timedelta(days=n % 9 if n % 10 == 0 else 0)
        entries.append(f"{n:06},optics,2026-01-02,{last},done,GR")
        entries.append(f"{n:06},annual-service,{yesterday - dt.timedelta(days=n % 400)},,done,OV")
    people = [
        f"consultant{n}@agency.example,Consultant {n},consultant,Region {n}" for n in range(10)
    ]
    for name, header, rows in (
        (
            "sites",
            "site,name,county,region,country,subdivision,time_zone,open_days,lead_email",
            sites,
        ),
        ("units", "property_number,kind,model,site,in_service_on,record_from", units),
        ("entries", "property_number,task,on,to,mark,initials", entries),
        ("people", "email,name,role,region", people),
    ):
        (state / f"{name}.csv").write_text("\n".join([header, *rows, ""]), encoding="utf-8")


def command(url: str, *words: str) -> None:
    subprocess.run(
        [sys.executable, "-m", "fleet", *words],
        env=environment(url),
        check=True,
        capture_output=True,
        cwd=ROOT,
    )


def environment(url: str) -> dict[str, str]:
    return {**os.environ, "DUEWARD_DATABASE": url, "DUEWARD_SECOND_FACTOR": "none"}


@contextmanager
def serving(url: str, *, alone: bool) -> Iterator[int]:
    """One process that serves pages; answers its port."""
    words = ["serve", "--port", "0", *(["--plan-only"] if alone else ["--pages-only"])]
    with started(url, *words) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if found := re.search(r"http://127\.0\.0\.1:(\d+)/", line):
                break
        threading.Thread(target=process.stderr.read, daemon=True).start()
        assert found is not None
        yield int(found[1])


@contextmanager
def working(url: str) -> Iterator[None]:
    with started(url, "work", "--plan-only"):
        yield


@contextmanager
def started(url: str, *words: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "fleet", *words],
        env=environment(url),
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    try:
        yield process
    finally:
        process.terminate()
        process.wait(30)


@dataclass
class Someone:
    """One person with a browser: what it sends along, and where they go."""

    cookies: str
    sort: str
    site: str = ""
    port: int = 0
    waited: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    failed: list[str] = field(default_factory=list)


def make_people(url: str) -> list[Someone]:
    """Sign everybody in, as their browsers would be."""
    made: list[Someone] = []
    with closing(program(url)) as own, own.store.begin(write=True) as record:
        caller = caller_of(own)
        for n in range(BENCHES):
            token = own.draw_token()
            device = Device(
                number=secrets.token_hex(4),
                site=f"s{n:03}",
                name="Bench",
                token_hash=token_hash(token),
                enrolled_by="lead",
                enrolled_at=caller.now,
            )
            record.access.put_device(device)
            record.access.put_bench_person(
                BenchPerson(
                    site=device.site,
                    initials="GR",
                    name="",
                    pin_hash="",
                    made_by="lead",
                    made_at=caller.now,
                )
            )
            session = begin_session(record.access, caller, device=device.number, initials="GR")
            made.append(
                Someone(f"{COOKIE}={session}; {DEVICE_COOKIE}={token}", "bench", device.site)
            )
        for n in range(LEADS):
            made.append(
                Someone(signed_in(record, caller, f"lead{n}@lab.example"), "lead", f"s{n:03}")
            )
        for n in range(CONSULTANTS):
            made.append(
                Someone(signed_in(record, caller, f"consultant{n}@agency.example"), "consultant")
            )
        record.commit()
    return made


def caller_of(own: Program) -> Caller:
    return Caller(now=own.clock(), address="", label="", hasher=ArgonHasher(), draw=own.draw_token)


def signed_in(record: object, caller: Caller, email: str) -> str:
    access = record.access  # type: ignore[attr-defined]
    access.put_account(
        Account(email=email, password_hash="", password_at=caller.now, made_at=caller.now)
    )
    return f"{COOKIE}={begin_session(access, caller, email=email)}"


def measure(name: str, ports: list[int], people: list[Someone], seconds: int) -> None:
    """Warm the pages up, let everybody work, then let all come at once."""
    for n, one in enumerate(people):
        one.port = ports[n % len(ports)]
    for port in ports:
        for warm in people:
            asks(Someone(warm.cookies, warm.sort, warm.site, port), first_page(warm))
    end = time.perf_counter() + seconds
    threads = [threading.Thread(target=lives, args=(one, end)) for one in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    reads = sorted(w for one in people for w in one.waited["read"])
    writes = sorted(w for one in people for w in one.waited["write"])
    failed = [f for one in people for f in one.failed]
    burst = at_once(people)
    count = len(reads) + len(writes)
    told = f"| {name} | {count:,} | {quantiles(reads)} | {quantiles(writes)} | {len(failed)} |"
    print(f"{told} {quantiles(burst)} |", flush=True)
    for words in failed[:5]:
        print(words)


def quantiles(waited: list[float]) -> str:
    if not waited:
        return "none"
    return ", ".join(
        f"{one:.0f}"
        for one in (waited[len(waited) // 2], waited[int(len(waited) * 0.99)], waited[-1])
    )


def first_page(one: Someone) -> str:
    return {"bench": f"/bench/{one.site}", "lead": f"/sites/{one.site}", "consultant": "/region"}[
        one.sort
    ]


def lives(one: Someone, end: float) -> None:
    """Do what such a person does, with time to think, on one connection."""
    time.sleep(random.random() * THINK)
    line = http.client.HTTPConnection("127.0.0.1", one.port, timeout=30)
    open_marks: list[dict[str, str]] = []
    while time.perf_counter() < end:
        begun = time.perf_counter()
        if one.sort == "bench" and open_marks and random.random() < 0.6:
            mark = open_marks.pop()
            answers(one, line, "write", "POST", f"/bench/{one.site}/mark", mark)
        else:
            page = answers(one, line, "read", "GET", path_of(one))
            if one.sort == "bench":
                open_marks = marks_of(page)
        time.sleep(max(0.0, THINK * (0.6 + 0.8 * random.random()) - (time.perf_counter() - begun)))
    line.close()


def path_of(one: Someone) -> str:
    if one.sort == "bench" or random.random() < 0.6:
        return first_page(one)
    return (
        f"/units/{random.randrange(UNITS // SITES) * SITES + int(one.site[1:] or 0):06}"
        if one.site
        else first_page(one)
    )


def marks_of(page: str) -> list[dict[str, str]]:
    """The places to mark that a bench's page shows, as its script would send them."""
    person = re.search(r'data-person="([^"]+)"', page)
    found = re.findall(
        r'<form method="post" action="[^"]+/mark"([^>]*)>(.*?)</form>', page, re.DOTALL
    )
    names = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)"')
    made = [dict(names.findall(form)) for head, form in found if " hidden" not in head]
    for mark in made:
        mark.pop("form_token", None)
        mark["person"] = person[1] if person else ""
        mark["noted_at"] = dt.datetime.now(dt.UTC).isoformat()
    return made


def answers(
    one: Someone,
    line: http.client.HTTPConnection,
    sort: str,
    method: str,
    path: str,
    body: object = None,
) -> str:
    headers = {"Cookie": one.cookies, "Accept-Encoding": "identity"}
    sent = None
    if body is not None:
        sent = json.dumps(body)
        headers |= {"Content-Type": "application/json", "Accept": "application/json"}
    begun = time.perf_counter()
    try:
        line.request(method, path, sent, headers)
        answer = line.getresponse()
        text = answer.read().decode()
    except OSError as error:
        one.failed.append(f"{method} {path}: {error!r}")
        line.close()
        return ""
    one.waited[sort].append((time.perf_counter() - begun) * 1000)
    if answer.status not in (200, 201):
        one.failed.append(f"{method} {path}: {answer.status} {text[:200]}")
    return text


def asks(one: Someone, path: str) -> float:
    """One request on a connection of its own; milliseconds."""
    line = http.client.HTTPConnection("127.0.0.1", one.port, timeout=30)
    begun = time.perf_counter()
    answers(one, line, "burst", "GET", path)
    line.close()
    return (time.perf_counter() - begun) * 1000


def at_once(people: list[Someone]) -> list[float]:
    """Everybody opens their first page in the same instant; milliseconds, the shortest first."""
    gate, waited = threading.Barrier(len(people)), list[float]()

    def comes(one: Someone) -> None:
        gate.wait()
        waited.append(asks(one, first_page(one)))

    threads = [threading.Thread(target=comes, args=(one,)) for one in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(waited)


if __name__ == "__main__":
    main()
