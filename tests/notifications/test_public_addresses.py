"""Which network addresses are refused: every block that IANA does not call globally reachable."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator

import pytest

from notifications.public_addresses import Address, not_public
from tests.outside import rows


def ends(block: str) -> Iterator[Address]:
    """The first address of a block, one of the middle and the last."""
    network = ipaddress.ip_network(block)
    first, count = network.network_address, network.num_addresses
    yield from dict.fromkeys((first, first + count // 2, first + (count - 1)))


# An IPv4-mapped address stands for an IPv4 address, which is judged itself: see below.
REFUSED = [
    row
    for row in rows("iana_special_purpose")
    if row["globally_reachable"] != "True" and row["block"] != "::ffff:0:0/96"
]


@pytest.mark.parametrize("row", REFUSED, ids=lambda row: row["block"])
def test_a_block_that_is_not_globally_reachable_is_refused(row: dict[str, str]) -> None:
    for address in ends(row["block"]):
        assert not_public(address), f"{address} of {row['name']}"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("127.0.0.1", "this machine itself"),
        ("10.1.2.3", "private"),
        ("172.31.255.255", "private"),
        ("192.168.0.1", "private"),
        ("169.254.169.254", "link-local"),
        ("100.64.0.1", "shared by a provider's customers"),
        ("224.0.0.1", "multicast"),
        ("239.255.255.255", "multicast"),
        ("255.255.255.255", "reserved"),
        ("0.0.0.0", "this network"),  # noqa: S104
        ("::1", "this machine itself"),
        ("::", "no address"),
        ("fe80::1", "link-local"),
        ("fd12:3456::1", "private"),
        ("fec0::1", "private"),
        ("ff02::1", "multicast"),
        ("::ffff:127.0.0.1", "this machine itself"),
        ("::ffff:10.0.0.1", "private"),
        ("64:ff9b::7f00:1", "this machine itself"),
        ("64:ff9b::a00:1", "private"),
        ("64:ff9b:1::808:808", "translated inside a network"),
        ("2002:7f00:1::", "of 6to4"),
        ("2002:808:808::1", "of 6to4"),
        ("2001:0:4136:e378:8000:63bf:3fff:fdd2", "reserved for protocols"),
        ("::7f00:1", "not given to anybody"),
        ("4000::1", "not given to anybody"),
    ],
)
def test_what_leads_inwards_is_named(text: str, words: str) -> None:
    assert not_public(ipaddress.ip_address(text)) == words


@pytest.mark.parametrize(
    "text",
    [
        "8.8.8.8",
        "1.1.1.1",
        "172.15.255.255",
        "172.32.0.0",
        "100.63.255.255",
        "100.128.0.0",
        "192.0.1.0",
        "223.255.255.255",
        "2606:4700::1",
        "2620:4f:8000::1",
        "::ffff:8.8.8.8",
        "64:ff9b::808:808",
    ],
)
def test_what_the_public_internet_reaches_is_let_through(text: str) -> None:
    assert not_public(ipaddress.ip_address(text)) == ""


@pytest.mark.parametrize("text", ["224.0.0.1", "239.1.1.1", "64:ff9b::7f00:1", "ff02::1"])
def test_the_standard_library_alone_would_let_it_through(text: str) -> None:
    """Why there is a table."""
    address = ipaddress.ip_address(text)
    assert address.is_global
    assert not_public(address)
