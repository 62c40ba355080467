"""Addresses and one-line texts."""

from __future__ import annotations

import pytest

from notifications.addresses import normal_address, one_line
from notifications.errors import BadAddress


@pytest.mark.parametrize(
    ("given", "normal"),
    [
        ("ana@lab.example", "ana@lab.example"),
        ("Ana@LAB.Example", "Ana@lab.example"),
        ("ana@lab.test", "ana@lab.test"),
        ("ana@relay", "ana@relay"),
        ("ana@münchen.example", "ana@xn--mnchen-3ya.example"),
        ("o'neil+lab@lab.example", "o'neil+lab@lab.example"),
    ],
)
def test_addresses_have_one_normal_form(given: str, normal: str) -> None:
    assert normal_address(given) == normal
    assert normal_address(normal) == normal


@pytest.mark.parametrize(
    "given",
    [
        "a@x.example, b@x.example",  # smtplib alone would write to the first only
        "ok@x.example SIZE=1",  # smtplib alone would write to ok@x.exampleSIZE=1
        '"a\r\nb"@x.example',  # smtplib alone would write to a
        "a@x.example\r\nRCPT TO:<b@x.example>",
        "Ana <ana@lab.example>",
        "jürgen@lab.example",
        "ana",
        "",
        "a@[127.0.0.1]",
        "ana@lab.invalid",  # RFC 6761 6.4: never resolves
    ],
)
def test_what_a_mail_library_would_bend_is_refused(given: str) -> None:
    with pytest.raises(BadAddress, match="is not an address that can be written to") as refused:
        normal_address(given)

    assert refused.value.address == given
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("Alder\r\nOVERDUE (99)", "Alder OVERDUE (99)"),
        ("a\0b\ac\x1b[31m", "abc[31m"),
        ("  a\t b\u2028c\xa0d ", "a b c d"),
        ("\u202egnitset\u202c \u2066x\u2069", "gnitset x"),
        ("👩\u200d🔬 Zażółć مختبر", "👩\u200d🔬 Zażółć مختبر"),
    ],
)
def test_a_text_stays_on_its_line(given: str, shown: str) -> None:
    assert one_line(given) == shown
