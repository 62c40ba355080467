"""What do the use cases need from the outside? The protocols that storage and files implement."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fleet.domain.chain import Flaw, Head, Line, Seal
from fleet.domain.evidence import Attachment
from fleet.domain.records import Entry, RegisterRecord, StoredEntry
from fleet.domain.register import Change, Register
from fleet.services.access_ports import Access
from fleet.services.calendar_ports import Events, Feeds, Links
from fleet.services.job_ports import Jobs
from fleet.services.mail_ports import MailRecord
from fleet.services.scan_ports import Scans
from fleet.services.webhook_ports import Webhooks
from notifications.messages import Call, Mail
from notifications.outbox import Outbox

__all__ = [
    "AttachedFile",
    "ChangeLine",
    "HolidayYear",
    "KeptYears",
    "MarkColumns",
    "PublicHolidays",
    "Record",
    "Stamp",
    "Store",
]


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who wrote, when (UTC, the program's clock) and through which door ('file', 'command', …)."""

    at: dt.datetime
    by: str
    source: str


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One line of the register's chains: the change, when it was stored (UTC) and by whom."""

    change: Change
    stored_at: dt.datetime
    by: str


@dataclass(frozen=True, slots=True)
class AttachedFile:
    """A file that may be kept: what it is, and its bytes (fleet.files.attached judges that)."""

    attachment: Attachment
    content: bytes


@dataclass(frozen=True, slots=True)
class HolidayYear:
    """The public holidays of one country, subdivision and year, as they were looked up."""

    country: str
    subdivision: str
    year: int
    names: Mapping[dt.date, str]
    origin: str
    """The library and its version, with the corrections applied."""


class PublicHolidays(Protocol):
    """Looks up what a country's or subdivision's public holidays are (design 4.2)."""

    def year(self, country: str, subdivision: str, year: int) -> HolidayYear:
        """The holidays of one year, observed ones included; NotFound for an unknown place."""
        ...

    def knows(self, country: str, subdivision: str) -> bool:
        """Say whether there is such a place."""
        ...


@dataclass(frozen=True, slots=True)
class MarkColumns:
    """Live marks (neither struck nor mere corrections) of some units, a position a mark.

    unit_ids int64; tasks: index into `task_names`, int32; from_days and to_days int32, days since
    1970-01-01, both included; is_done bool.
    """

    unit_ids: npt.NDArray[np.int64]
    tasks: npt.NDArray[np.int32]
    task_names: Sequence[str]
    from_days: npt.NDArray[np.int32]
    to_days: npt.NDArray[np.int32]
    is_done: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class KeptYears:
    """The marked days of some units, a position a unit × task × calendar year.

    marked and done hold 46 bytes each: day d of the year (0 = 1 January) is bit d, counted as
    numpy.packbits does (first day is the highest bit of the first byte). extra is None where no
    day has more than one mark, else 366 bytes: the number of marks of each day (255 at most).
    """

    unit_ids: Sequence[int]
    tasks: Sequence[str]
    years: Sequence[int]
    marked: Sequence[bytes]
    done: Sequence[bytes]
    extra: Sequence[bytes | None]


class Record(Protocol):
    """One unit of work on the store: reads are of one moment, nothing is kept without commit."""

    def register(self, known_at: dt.datetime | None = None) -> Register:
        """Sites, calendars, units, people and the book, now or as known at an instant."""
        ...

    def withdrawn(self, kind: type[RegisterRecord]) -> AbstractSet[tuple[str, ...]]:
        """The keys of the records of a class that were ever withdrawn, also of those back since."""
        ...

    def unit_ids(self) -> dict[str, int]:
        """Property number (also a former one) to the number the store uses for the unit.

        The number a unit bears now comes after those it has given up.
        """
        ...

    def change(self, changes: Sequence[Change], stamp: Stamp) -> None:
        """Append change lines and bring the register up to them."""
        ...

    def change_lines(self) -> Iterator[ChangeLine]:
        """Every change of the register, a class of records after another, each in its order."""
        ...

    def add_book(self, text: str, sha256: str, initial: bool, stamp: Stamp) -> None:
        """Append a rule book, whole."""
        ...

    def holiday_years(self) -> Sequence[HolidayYear]:
        """The stored snapshot of public holidays."""
        ...

    def add_holiday_years(self, years: Iterable[HolidayYear], stamp: Stamp) -> None:
        """Append years to the snapshot of public holidays."""
        ...

    def stored(self, keys: Sequence[str]) -> dict[str, StoredEntry]:
        """The entries that stand under these keys."""
        ...

    def append(self, entries: Sequence[Entry], stamp: Stamp) -> None:
        """Append entries to their units' chains, in this order; keys must be new (KeyTaken)."""
        ...

    def entries(
        self,
        unit_ids: Sequence[int] | None = None,
        task: str | None = None,
        stored_after: dt.datetime | None = None,
    ) -> Iterator[StoredEntry]:
        """Entries (struck ones and corrections too), by unit and then in chain order.

        stored_after: only those that were stored later than this instant.
        """
        ...

    def marks(
        self, unit_ids: Sequence[int] | None = None, known_at: dt.datetime | None = None
    ) -> MarkColumns:
        """Live marks of the units (None: all), now or as known at an instant."""
        ...

    def heads(self) -> Mapping[str, Head]:
        """The head of every chain that has a line, by the chain's name (`fleet.domain.chain`)."""
        ...

    def lines(self, chains: Sequence[str] | None = None) -> Iterator[Line]:
        """The lines of some chains (None: all), chain by chain in the order of their names."""
        ...

    def flaws(self, step: Callable[[int], None]) -> Iterator[Flaw]:
        """Walk the whole record and name what is not as it was written, the first of each chain.

        `step` is told how many lines more have been looked at.
        """
        ...

    def take_lines(self, lines: Iterable[Line]) -> Flaw | None:
        """Append lines as they were written elsewhere, to a record without any.

        They come in the order of `fleet.services.line_tables`; the register is brought up to them.
        The first that is not as it was written is the answer; then nothing may be committed.
        """
        ...

    def seals(self) -> Sequence[Seal]:
        """Every root that was given out, the oldest first."""
        ...

    def seal(self, stamp: Stamp) -> Seal:
        """Keep the present root as one that was given out."""
        ...

    def attachments(self) -> Sequence[Attachment]:
        """Every file that was attached, in the order they came."""
        ...

    def content(self, sha256: str) -> bytes | None:
        """The content of an attachment; None where it is unknown or was removed."""
        ...

    def attach(self, attachment: Attachment, content: bytes, stamp: Stamp) -> None:
        """Keep a file under the hash of its content; one that is kept already stays as it is."""
        ...

    def keep_content(self, sha256: str, content: bytes) -> None:
        """Keep the content of an attachment whose line was taken."""
        ...

    def remove(self, keys: Sequence[str], files: Sequence[str], reason: str, stamp: Stamp) -> None:
        """Blank the content of entries and drop that of files, with a tombstone for each.

        keys: of entries, whose initials, note, reading, why and author go and whose source becomes
        REMOVED; files: the SHA-256 of attachments that have their content still. StoreError unless
        the tables are the writer's own.
        """
        ...

    def kept_years(self, unit_ids: Sequence[int] | None = None) -> KeptYears:
        """The marked days that are kept of some units (None: all)."""
        ...

    def kept_since(self, tick: int) -> tuple[int, Sequence[int]]:
        """The present tick, and the units of which what is kept was replaced after an earlier."""
        ...

    def register_version(self) -> str:
        """A word that stays the same as long as the register does."""
        ...

    def keep(self, unit_ids: Sequence[int], years: KeptYears) -> None:
        """Replace what is kept of these units."""
        ...

    @property
    def mail(self) -> MailRecord:
        """The outbox and what belongs to it."""
        ...

    @property
    def events(self) -> Events:
        """The calendar events of the fleet."""
        ...

    @property
    def links(self) -> Links:
        """The links that were given out."""
        ...

    @property
    def feeds(self) -> Feeds:
        """The calendar addresses that were given out."""
        ...

    @property
    def access(self) -> Access:
        """Who may open the pages."""
        ...

    @property
    def jobs(self) -> Jobs:
        """Long work that pages asked for."""
        ...

    @property
    def webhooks(self) -> Webhooks:
        """Who is told by webhook, and of what."""
        ...

    @property
    def scans(self) -> Scans:
        """Scanned charts that wait for a person."""
        ...

    def commit(self) -> None:
        """Make everything since the beginning durable."""
        ...


class Store(Protocol):
    """A database that holds one fleet."""

    def begin(self, *, write: bool = False) -> AbstractContextManager[Record]:
        """Open a unit of work; it rolls back unless committed."""
        ...

    @property
    def outbox(self) -> Outbox[Mail]:
        """The messages on their way, as sending needs them."""
        ...

    @property
    def calls(self) -> Outbox[Call]:
        """The webhooks on their way, as sending needs them."""
        ...

    def one_call(self, key: str) -> Outbox[Call]:
        """One webhook on its way, by its key."""
        ...
