"""What `notifications` can refuse.

NotificationError
├── BadSettings        a mail setting that cannot be used
├── BadAddress         an address that no mail server can be given
├── BadWebAddress      an address that no webhook may be sent to
├── NotNow             a message that is not tried yet; others may be
└── ServerFault        the mail server refuses us, whoever the reader is: sending stops
"""

from __future__ import annotations

__all__ = [
    "BadAddress",
    "BadSettings",
    "BadWebAddress",
    "NotNow",
    "NotificationError",
    "ServerFault",
]


class NotificationError(Exception):
    """The base of everything this package refuses."""


class BadSettings(NotificationError):
    """A setting that cannot be used: which, what is wrong, how to mend it."""

    def __init__(self, setting: str, problem: str, mend: str) -> None:
        self.setting, self.problem, self.mend = setting, problem, mend
        super().__init__(f"{setting}: {problem}; {mend}")


class BadAddress(NotificationError):
    """An e-mail address that cannot be used."""

    def __init__(self, address: str, problem: str) -> None:
        self.address, self.problem = address, problem
        super().__init__(f"{address!r} is not an address that can be written to: {problem}")


class BadWebAddress(NotificationError):
    """An address that no webhook may be sent to: what is wrong with it, how to mend it.

    is_final: it is the address as it is written, which no later try can mend.
    """

    def __init__(self, problem: str, mend: str, *, is_final: bool = True) -> None:
        self.problem, self.mend, self.is_final = problem, mend, is_final
        super().__init__(f"{problem}; {mend}")


class NotNow(NotificationError):
    """A message that is put off without being tried, since its receiver did not answer just now."""


class ServerFault(NotificationError):
    """A refusal that is about us, our settings or the server; `code` is its reply, None without.

    is_size: this message is too large for it; a smaller one may pass.
    """

    def __init__(
        self,
        server: str,
        step: str,
        code: int | None,
        problem: str,
        mend: str,
        *,
        is_size: bool = False,
    ) -> None:
        self.server, self.step, self.code, self.is_size = server, step, code, is_size
        self.problem, self.mend = problem, mend
        answer = problem if code is None else f"{code} {problem}"
        super().__init__(f"mail server {server}, {step}: {answer}; {mend}")
