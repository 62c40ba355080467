"""Which network addresses does the public internet reach? What is anything else, in words?

Private, loopback, link-local, shared, reserved and multicast addresses lead to machines beside this
one, where a webhook must not knock. The tables are IANA's special-purpose registries (RFC 6890),
every block that they do not call globally reachable; of IPv6 nothing outside 2000::/3 is unicast to
begin with (RFC 4291 2.4), save what stands for an IPv4 address, which is looked at itself.
`ipaddress.is_global` alone is not enough: it lets multicast, 6to4 and translated addresses through.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping, Sequence
from typing import Final

__all__ = ["Address", "not_public"]

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

_IPV4: Final[Mapping[str, str]] = {
    "0.0.0.0/8": "this network",
    "10.0.0.0/8": "private",
    "100.64.0.0/10": "shared by a provider's customers",
    "127.0.0.0/8": "this machine itself",
    "169.254.0.0/16": "link-local",
    "172.16.0.0/12": "private",
    "192.0.0.0/24": "reserved for protocols",
    "192.0.2.0/24": "for documentation",
    "192.88.99.0/24": "a relay of 6to4",
    "192.168.0.0/16": "private",
    "198.18.0.0/15": "for benchmarks",
    "198.51.100.0/24": "for documentation",
    "203.0.113.0/24": "for documentation",
    "224.0.0.0/4": "multicast",
    "240.0.0.0/4": "reserved",
}
_IPV6: Final[Mapping[str, str]] = {
    "::/128": "no address",
    "::1/128": "this machine itself",
    "64:ff9b:1::/48": "translated inside a network",
    "100::/64": "thrown away",
    "100:0:0:1::/64": "a placeholder",
    "2001::/23": "reserved for protocols",
    "2001:db8::/32": "for documentation",
    "2002::/16": "of 6to4",
    "3fff::/20": "for documentation",
    "5f00::/16": "for routing",
    "fc00::/7": "private",
    "fe80::/10": "link-local",
    "fec0::/10": "private",
    "ff00::/8": "multicast",
}
_UNICAST: Final = ipaddress.IPv6Network("2000::/3")
_TRANSLATED: Final = ipaddress.IPv6Network("64:ff9b::/96")
"""RFC 6052: the last 32 bits are the IPv4 address that is meant."""
_NETWORKS: Final[Sequence[tuple[ipaddress.IPv4Network | ipaddress.IPv6Network, str]]] = tuple(
    (ipaddress.ip_network(block), words) for block, words in (*_IPV4.items(), *_IPV6.items())
)


def not_public(address: Address) -> str:
    """What an address is that the public internet does not reach, in words; '' where it does."""
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return not_public(address.ipv4_mapped)
        if address in _TRANSLATED:
            return not_public(ipaddress.IPv4Address(int(address) & 0xFFFF_FFFF))
    for network, words in _NETWORKS:
        if address.version == network.version and address in network:
            return words
    if isinstance(address, ipaddress.IPv6Address) and address not in _UNICAST:
        return "not given to anybody"
    return "" if address.is_global else "reserved"
