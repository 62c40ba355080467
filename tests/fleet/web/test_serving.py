"""Does `dueward serve` serve, refuse what is unsafe, and stop when it is told to?"""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from itertools import takewhile
from pathlib import Path

import pytest

from fleet.errors import BadInput, StoreError
from fleet.storage import open_store
from fleet.web.hasher import ArgonHasher
from fleet.web.serving import CONNECTIONS, Door, is_loopback, make_server
from tests.fleet.cli.conftest import Dueward, dueward, files, loaded
from tests.fleet.web.lab import NOON, Lab

__all__ = ["dueward", "files", "loaded"]


@contextmanager
def served(database: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """The command as its user runs it; answers the process and its port."""
    environment = {**os.environ, "DUEWARD_DATABASE": f"sqlite:///{database}"}
    process = subprocess.Popen(
        [sys.executable, "-m", "fleet", "serve", "--port", "0", "--plan-only", *words],
        env=environment,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    try:
        for line in process.stderr:
            if found := re.search(r"http://127\.0\.0\.1:(\d+)/", line):
                yield process, int(found[1])
                break
        else:
            pytest.fail(f"it did not serve: {process.wait(10)}")
    finally:
        process.kill()
        process.wait(10)
        process.stderr.close()


def status(port: int, path: str = "/sign-in") -> int:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10)) as line:
        line.request("GET", path)
        answer = line.getresponse()
        answer.read()
    return answer.status


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_serves_until_it_is_stopped(loaded: Dueward, tmp_path: Path, number: int) -> None:
    with served(tmp_path / "own.db") as (process, port):
        assert status(port) == 200
        process.send_signal(number)
        assert process.wait(20) == 0
        assert process.stderr is not None
        assert "the pages have stopped" in process.stderr.read()


def test_more_connections_than_the_servers_own_limit_are_answered(
    loaded: Dueward, tmp_path: Path
) -> None:
    """With its default of 100 the hundred and first keep-alive connection waited for 20 s."""
    assert CONNECTIONS == 1_000
    with served(tmp_path / "own.db", "--pages-only") as (_, port):
        lines = [http.client.HTTPConnection("127.0.0.1", port, timeout=10) for _ in range(130)]
        try:
            for line in lines:
                line.request("GET", "/sign-in", headers={"Connection": "keep-alive"})
                answer = line.getresponse()
                answer.read()
                assert answer.status == 200
        finally:
            for line in lines:
                line.close()


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1"])  # noqa: S104
def test_another_address_than_this_machines_own_is_refused_in_the_clear(
    loaded: Dueward, host: str
) -> None:
    answer = loaded("serve", "--host", host)
    assert answer.exit_code == 2
    assert answer.stderr == (
        f"--host: {host} can be reached in the clear; put a proxy with TLS before it and say"
        " --behind-tls, or listen on 127.0.0.1\n"
    )


def test_what_is_loopback_is_known_and_what_is_no_address_refused() -> None:
    assert is_loopback("127.0.0.1")
    assert is_loopback("localhost")
    assert not is_loopback("0.0.0.0")  # noqa: S104
    with pytest.raises(BadInput, match="is no address"):
        is_loopback("no such host")


def test_a_port_that_is_taken_is_said(lab: Lab) -> None:
    server = make_server(lab.web, Door("127.0.0.1", 0, 1))
    try:
        with pytest.raises(StoreError, match="give another --port"):
            make_server(lab.web, Door("127.0.0.1", int(server.effective_port), 1))
    finally:
        server.close()


def test_a_database_that_is_not_there_is_refused_before_anything_listens(dueward: Dueward) -> None:
    answer = dueward("serve", "--database", "sqlite:////nowhere/at/all.db")
    assert answer.exit_code == 1
    assert "no fleet here" in answer.stderr


def test_behind_tls_the_proxy_tells_who_asks_and_the_browser_is_held_to_tls(lab: Lab) -> None:
    from dataclasses import replace

    from fleet.web.app import make_app

    app = make_app(replace(lab.web, is_behind_tls=True))
    answer = app.test_client().get("/sign-in", base_url="https://pages.example")
    assert answer.headers["Strict-Transport-Security"] == "max-age=31536000"
    refused = app.test_client().get("/api/v1/sites", base_url="https://pages.example")
    assert refused.status_code == 401
    assert refused.headers["Strict-Transport-Security"] == "max-age=31536000"


def page(port: int, path: str) -> str:
    with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=20) as answer:
        return str(answer.read().decode())


def test_the_demos_pages_show_its_own_day_to_one_person_of_each_role(tmp_path: Path) -> None:
    folder, pipe = tmp_path / "demo", subprocess.PIPE
    words = [sys.executable, "-m", "fleet", "demo", str(folder), "--serve", "--port", "0"]
    with subprocess.Popen(words, stdout=pipe, stderr=pipe, text=True) as process:
        try:
            assert process.stderr is not None
            told = (re.search(r"http://127\.0\.0\.1:(\d+)/", line) for line in process.stderr)
            port = next(int(found[1]) for found in told if found)
            assert status(port) == 200
            assert process.stdout is not None
            lines = iter(process.stdout.readline, "")
            doors = list(takewhile(lambda line: "pages' clock" not in line, lines))
            links = [line.strip() for line in doors if re.match(" +/[pt]/", line)]
            shown = {link[:3]: page(port, link) for link in links}
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=20)
            said = "".join(doors)
        finally:
            process.kill()

    assert process.returncode == 0
    assert "Adams" in shown["/p/"]
    assert "Tatum Fenwald" in shown["/t/"]
    found = re.findall(r"^(site lead|consultant|manager) +(\S+@\S+) +(\S+)$", said, re.MULTILINE)
    assert {role for role, _, _ in found} == {"site lead", "consultant", "manager"}
    store = open_store(f"sqlite:///{folder / 'dueward.db'}", clock=lambda: NOON)
    with store.begin() as record:
        for _, email, password in found:
            account = record.access.account(email)
            assert account is not None
            assert ArgonHasher().fits(account.password_hash, password)
    store.close()
