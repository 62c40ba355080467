"""Is nothing answered under a name that is not ours, and everything under one that is?"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace

import pytest
from werkzeug.test import create_environ, run_wsgi_app

from fleet.domain.records import Role
from fleet.errors import BadInput
from fleet.web.app import make_app, routes
from fleet.web.hosts import loopback_names, names_of
from fleet.web.serving import Door, make_server
from tests.fleet.cli.conftest import dueward, files, loaded
from tests.fleet.web.lab import HOST, Lab
from tests.fleet.web.test_rights import IN_SCOPE, path_of

__all__ = ["dueward", "files", "loaded"]

BASE = names_of("https://pages.example")
AT_8443 = names_of("https://Pages.Example:8443/")
LOOPBACK = loopback_names("127.0.0.1", 8000)
NAMES = {
    "base": BASE,
    "base at 8443": AT_8443,
    "loopback": LOOPBACK,
    "loopback at 80": loopback_names("127.0.0.5", 80),
    "base on loopback": BASE | LOOPBACK,
}


def status(lab: Lab, names: str, host: str, path: str = "/sign-in") -> int:
    client = make_app(replace(lab.web, names=NAMES[names])).test_client()
    return client.get(path, environ_overrides={"HTTP_HOST": host}).status_code


@pytest.mark.parametrize(
    ("names", "host", "expected"),
    [
        ("base", "pages.example", 200),
        ("base", "pages.example:443", 200),
        ("base", "pages.example:", 200),
        ("base", "PAGES.Example", 200),
        ("base", "pages.example:80", 421),
        ("base", "pages.example:8000", 421),
        ("base", "pages.example.", 421),
        ("base", "other.example", 421),
        ("base", "sub.pages.example", 421),
        ("base", "pages.example.evil.example", 421),
        ("base", "evilpages.example", 421),
        ("base", "localhost:8000", 421),
        ("base", "127.0.0.1:8000", 421),
        ("base", "192.0.2.1", 421),
        ("base at 8443", "pages.example:8443", 200),
        ("base at 8443", "pages.example", 421),
        ("base at 8443", "pages.example:443", 421),
        ("loopback", "localhost:8000", 200),
        ("loopback", "LocalHost:8000", 200),
        ("loopback", "127.0.0.1:8000", 200),
        ("loopback", "[::1]:8000", 200),
        ("loopback", "localhost", 421),
        ("loopback", "localhost:8001", 421),
        ("loopback", "localhost.:8000", 421),
        ("loopback", "[::2]:8000", 421),
        ("loopback", "evil.example:8000", 421),
        ("loopback", "127.0.0.1.evil.example:8000", 421),
        ("loopback", "pages.example", 421),
        ("loopback at 80", "localhost", 200),
        ("loopback at 80", "localhost:80", 200),
        ("loopback at 80", "[::1]", 200),
        ("loopback at 80", "127.0.0.5", 200),
        ("base on loopback", "pages.example", 200),
        ("base on loopback", "127.0.0.1:8000", 200),
        ("base on loopback", "pages.example:8000", 421),
        ("base on loopback", "localhost", 421),
        # What is no Host at all (RFC 9110, 7.2: the field is answered with 400).
        ("base", "", 400),
        ("base", "somebody@pages.example", 400),
        ("base", "pages.example:443@evil.example", 400),
        ("base", "pages.example evil.example", 400),
        ("base", " pages.example", 400),
        ("base", "pages.example\t", 400),
        ("base", "pages.example:443:443", 400),
        ("base", "pages.example:https", 400),
        ("base", "pages.example, evil.example", 400),
        ("base", "pages.example/sign-in", 400),
        ("base", "https://pages.example", 400),
        ("base", "p\xe1ges.example", 400),
        ("base", "pages.example\n", 400),
        ("loopback", "::1:8000", 400),
        ("loopback", "[::1:8000", 400),
        ("loopback", "[localhost]:8000", 400),
        ("loopback", "localhost:\u0668\u0660\u0660\u0660", 400),
    ],
)
def test_a_request_is_answered_under_our_names_alone(
    lab: Lab, names: str, host: str, expected: int
) -> None:
    assert status(lab, names, host) == expected


def test_a_request_without_a_host_is_refused(lab: Lab) -> None:
    environ = create_environ("/sign-in", HOST)
    del environ["HTTP_HOST"]
    assert run_wsgi_app(lab.app, environ)[1] == "400 BAD REQUEST"


def test_nothing_at_all_is_answered_under_another_name(lab: Lab) -> None:
    """Pages, what programs ask, files, and what is not there; nothing tells who is signed in."""
    browser = lab.as_role(Role.MANAGER)
    paths = [(route.methods[0], path_of(route, IN_SCOPE)) for route in routes().values()]
    paths += [("GET", one) for one in ("/static/page.css", "/worker.js", "/no-such-page")]
    for method, path in paths:
        answer = browser.client.open(path, method=method, base_url="https://evil.example")
        assert answer.status_code == 421, path
        assert "Set-Cookie" not in answer.headers
        assert "pages.example" not in answer.text, "a stranger's page may read it"


def test_the_refusal_is_a_page_for_people_and_a_problem_for_programs(lab: Lab) -> None:
    client = lab.app.test_client()
    page = client.get("/", base_url="https://evil.example")
    assert "<h1>These pages have another address</h1>" in page.text
    assert "own page" not in page.text
    assert "frame-ancestors 'none'" in page.headers["Content-Security-Policy"]
    told = client.get("/api/v1/sites", base_url="https://evil.example")
    assert told.get_json()["type"] == "/api#misdirected"
    unreadable = client.get("/", environ_overrides={"HTTP_HOST": "a b"})
    assert "<h1>This address cannot be read</h1>" in unreadable.text


@pytest.mark.parametrize(
    ("base_url", "names"),
    [
        ("", set()),
        ("https://pages.example", {"pages.example", "pages.example:443"}),
        ("http://pages.example", {"pages.example", "pages.example:80"}),
        ("http://pages.example:8080/dueward", {"pages.example:8080"}),
        ("https://b\xfccher.example", {"xn--bcher-kva.example", "xn--bcher-kva.example:443"}),
        ("https://[2001:db8::1]", {"[2001:db8::1]", "[2001:db8::1]:443"}),
    ],
)
def test_the_set_address_gives_its_name_with_and_without_the_usual_port(
    base_url: str, names: set[str]
) -> None:
    assert names_of(base_url) == names


@pytest.mark.parametrize(
    "base_url",
    [
        "pages.example",
        "ftp://pages.example",
        "https://",
        "https://:443",
        "https://a b.example",
        "https://pages.example:port",
        "https://pages.example:99999",
        "https://somebody@pages.example",
        "https://pages..example",
        "https://[::1",
    ],
)
def test_what_is_no_address_is_refused_before_anything_is_served(base_url: str) -> None:
    with pytest.raises(BadInput) as caught:
        names_of(base_url)
    assert str(caught.value) == (
        f"DUEWARD_BASE_URL: '{base_url}' is not where a browser reaches pages;"
        " write it as https://pages.example"
    )


def test_behind_a_proxy_whose_name_nobody_told_any_name_will_do(lab: Lab) -> None:
    untold = replace(lab, web=replace(lab.web, names=frozenset(), is_behind_tls=True))
    with served(untold, "127.0.0.1") as port:
        for host in ("pages.example", "evil.example", f"localhost:{port}"):
            assert raw(port, f"Host: {host}") == 200, host
        assert raw(port, "Host: two hosts") == 400


@contextmanager
def served(lab: Lab, proxy: str = "") -> Iterator[int]:
    server = make_server(lab.web, Door("127.0.0.1", 0, 2, proxy))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield int(server.effective_port)
    finally:
        server.close()
        thread.join(5)


def raw(port: int, *headers: str) -> int:
    """The status of what is sent as it stands."""
    lines = ["GET /sign-in HTTP/1.1", *headers, "Connection: close", "", ""]
    with closing(socket.create_connection(("127.0.0.1", port), timeout=10)) as line:
        line.sendall("\r\n".join(lines).encode("latin-1"))
        return int(line.makefile("rb").readline().split()[1])


def test_the_server_of_this_machine_alone_answers_under_its_own_port(lab: Lab) -> None:
    with served(lab) as port:
        for host in (f"127.0.0.1:{port}", f"localhost:{port}", f"[::1]:{port}", "pages.example"):
            assert raw(port, f"Host: {host}") == 200, host
        assert raw(port, "Host: localhost:1") == 421
        assert raw(port, f"Host: evil.example:{port}") == 421
        assert raw(port, f"Host: localhost:{port}", "Host: evil.example") == 400
        assert raw(port) == 400
        forged = "X-Forwarded-Host: pages.example"
        assert raw(port, "Host: evil.example", forged) == 421, "no proxy is trusted"
        told = "X-Forwarded-Host: evil.example"
        assert raw(port, "Host: pages.example", told) == 200, "no proxy is listened to"


@pytest.mark.parametrize(("proxy", "is_trusted"), [("127.0.0.1", True), ("192.0.2.9", False)])
def test_a_forwarded_host_counts_from_the_trusted_proxy_alone(
    lab: Lab, proxy: str, is_trusted: bool
) -> None:
    with served(lab, proxy) as port:
        ours = f"X-Forwarded-Host: {HOST.removeprefix('https://')}"
        assert raw(port, "Host: evil.example", ours) == (200 if is_trusted else 421)
        theirs = "X-Forwarded-Host: evil.example"
        assert raw(port, "Host: pages.example", theirs) == (421 if is_trusted else 200)
