"""What does one unit of work on the store do? The port `Record`, on one connection."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import sqlalchemy as sa

from fleet.domain.chain import Flaw, Head, Line, Seal
from fleet.domain.evidence import Attachment
from fleet.domain.records import Entry, RegisterRecord, StoredEntry
from fleet.domain.register import Change, Register
from fleet.services.ports import ChangeLine, HolidayYear, KeptYears, MarkColumns, Stamp
from fleet.storage import (
    attachment_rows,
    book_rows,
    disposal,
    entry_rows,
    holiday_rows,
    kept_rows,
    line_rows,
    mark_rows,
    register_rows,
    seal_rows,
    walk,
)
from fleet.storage.access_rows import SqlAccess
from fleet.storage.calendar_rows import SqlEvents, SqlFeeds, SqlLinks
from fleet.storage.head_rows import Tail, read_heads
from fleet.storage.integrity import file_flaws
from fleet.storage.job_rows import SqlJobs
from fleet.storage.line_import import LineImport
from fleet.storage.mail_rows import SqlMail
from fleet.storage.memory import Key, Memory, register_key
from fleet.storage.numbers import Numbers, read_numbers
from fleet.storage.scan_rows import SqlScans
from fleet.storage.schema import unit
from fleet.storage.webhook_rows import SqlWebhooks

__all__ = ["SqlRecord"]

Value = TypeVar("Value")


class SqlRecord:
    """One unit of work; what it does is undone unless it is committed.

    Writing through one that was begun for reading is a fault of the program: RuntimeError.
    """

    def __init__(
        self, connection: sa.Connection, *, write: bool, memory: Memory | None = None
    ) -> None:
        self._connection = connection
        self._write = write
        self._memory = memory or Memory()
        self._key: Key | None = None
        self._own: dict[str, Any] | None = None
        """What it keeps in mind since it changed the register itself; None where it has not."""
        self._tails: dict[str, Tail] = {}

    def register(self, known_at: dt.datetime | None = None) -> Register:
        """Sites, calendars, units, people and the book, now or as known at an instant."""
        if known_at is not None:
            register = register_rows.replay_register(self._connection, known_at)
            return self._numbers().shown_register(register)
        return self._recalled("register", self._read_register)

    def _read_register(self) -> Register:
        return self._numbers().shown_register(register_rows.read_register(self._connection))

    def withdrawn(self, kind: type[RegisterRecord]) -> frozenset[tuple[str, ...]]:
        """The keys of the records of a class that were ever withdrawn, also of those back since."""
        keys = register_rows.withdrawn_keys(self._connection, kind)
        return self._numbers().shown_keys(kind, keys)

    def unit_ids(self) -> dict[str, int]:
        """Property number (also a former one) to the number the store uses for the unit.

        The number a unit bears now comes after those it has given up.
        """
        return self._recalled("unit ids", lambda: self._numbers().unit_ids(self._known_units()))

    def change(self, changes: Sequence[Change], stamp: Stamp) -> None:
        """Append change lines and bring the register up to them."""
        numbers = read_numbers(self._writing(), changes)
        stored = [numbers.stored_change(change) for change in changes]
        register_rows.apply_changes(self._writing(), stored, stamp)
        self._own = {}

    def change_lines(self) -> Iterator[ChangeLine]:
        """Every change of the register, a class of records after another, each in its order."""
        shown = self._numbers().shown_change
        for line in register_rows.read_changes(self._connection):
            yield replace(line, change=shown(line.change))

    def add_book(self, text: str, sha256: str, initial: bool, stamp: Stamp) -> None:
        """Append a rule book, whole."""
        book_rows.add_book(self._writing(), text, sha256, initial, stamp)
        self._own = {}

    def holiday_years(self) -> Sequence[HolidayYear]:
        """The stored snapshot of public holidays."""
        return self._recalled("holidays", lambda: holiday_rows.read_holiday_years(self._connection))

    def add_holiday_years(self, years: Iterable[HolidayYear], stamp: Stamp) -> None:
        """Append years to the snapshot of public holidays."""
        holiday_rows.add_holiday_years(self._writing(), years, stamp)
        self._own = {}

    def stored(self, keys: Sequence[str]) -> dict[str, StoredEntry]:
        """The entries that stand under these keys."""
        found = entry_rows.find_entries(self._connection, keys)
        shown = self._numbers().shown_entry
        return {key: shown(line) for key, line in found.items()}

    def append(self, entries: Sequence[Entry], stamp: Stamp) -> None:
        """Append entries to their units' chains, in this order; KeyTaken for a key not new."""
        connection, stored = self._writing(), list(map(self._numbers().stored_entry, entries))
        entry_rows.append_entries(connection, stored, stamp, self._known_units(), self._tails)

    def entries(
        self,
        unit_ids: Sequence[int] | None = None,
        task: str | None = None,
        stored_after: dt.datetime | None = None,
    ) -> Iterator[StoredEntry]:
        """Entries (struck ones and corrections too), by unit and then in chain order."""
        shown = self._numbers().shown_entry
        return map(shown, entry_rows.read_entries(self._connection, unit_ids, task, stored_after))

    def marks(
        self, unit_ids: Sequence[int] | None = None, known_at: dt.datetime | None = None
    ) -> MarkColumns:
        """Live marks of the units (None: all), now or as known at an instant."""
        return mark_rows.read_marks(self._connection, unit_ids, known_at)

    def heads(self) -> dict[str, Head]:
        """The head of every chain that has a line, by the chain's name."""
        return read_heads(self._connection)

    def lines(self, chains: Sequence[str] | None = None) -> Iterator[Line]:
        """The lines of some chains (None: all), chain by chain in the order of their names."""
        return line_rows.read_lines(self._connection, chains)

    def flaws(self, step: Callable[[int], None]) -> Iterator[Flaw]:
        """Walk the whole record and name what is not as it was written, the first of each chain.

        `step` is told how many lines more have been looked at.
        """
        yield from walk.find_flaws(self._connection, step)
        yield from file_flaws(self._connection)

    def take_lines(self, lines: Iterable[Line]) -> Flaw | None:
        """Append lines as they were written elsewhere, to a record without any."""
        self._own = {}
        return LineImport(self._writing()).take(lines)

    def seals(self) -> list[Seal]:
        """Every root that was given out, the oldest first."""
        return seal_rows.read_seals(self._connection)

    def seal(self, stamp: Stamp) -> Seal:
        """Keep the present root as one that was given out."""
        return seal_rows.add_seal(self._writing(), stamp)

    def attachments(self) -> list[Attachment]:
        """Every file that was attached, in the order they came."""
        return attachment_rows.read_attachments(self._connection)

    def content(self, sha256: str) -> bytes | None:
        """The content of an attachment; None where it is unknown or was removed."""
        return attachment_rows.read_content(self._connection, sha256)

    def attach(self, attachment: Attachment, content: bytes, stamp: Stamp) -> None:
        """Keep a file under the hash of its content; one that is kept already stays as it is."""
        attachment_rows.add_attachment(self._writing(), attachment, content, stamp)

    def keep_content(self, sha256: str, content: bytes) -> None:
        """Keep the content of an attachment whose line was taken."""
        attachment_rows.add_content(self._writing(), sha256, content)

    def remove(self, keys: Sequence[str], files: Sequence[str], reason: str, stamp: Stamp) -> None:
        """Blank the content of entries and drop that of files, with a tombstone for each."""
        disposal.remove(self._writing(), keys, files, reason, stamp)

    def kept_years(self, unit_ids: Sequence[int] | None = None) -> KeptYears:
        """The marked days that are kept of some units (None: all)."""
        return kept_rows.read_kept(self._connection, unit_ids)

    def kept_since(self, tick: int) -> tuple[int, list[int]]:
        """The present tick, and the units of which what is kept was replaced after an earlier."""
        return kept_rows.read_ticks(self._connection, tick)

    def register_version(self) -> str:
        """A word that stays the same as long as the register does."""
        return hashlib.sha256(repr(register_key(self._connection)).encode()).hexdigest()

    def keep(self, unit_ids: Sequence[int], years: KeptYears) -> None:
        """Replace what is kept of these units."""
        kept_rows.replace_kept(self._writing(), unit_ids, years)

    @property
    def mail(self) -> SqlMail:
        """The outbox and what belongs to it."""
        return SqlMail(self._connection, write=self._write)

    @property
    def events(self) -> SqlEvents:
        """The calendar events of the fleet."""
        return SqlEvents(self._connection, self._writing)

    @property
    def links(self) -> SqlLinks:
        """The links that were given out."""
        return SqlLinks(self._connection, self._writing)

    @property
    def feeds(self) -> SqlFeeds:
        """The calendar addresses that were given out."""
        return SqlFeeds(self._connection, self._writing)

    @property
    def access(self) -> SqlAccess:
        """Who may open the pages."""
        return SqlAccess(self._connection, self._writing)

    @property
    def jobs(self) -> SqlJobs:
        """Long work that pages asked for."""
        return SqlJobs(self._connection, self._writing)

    @property
    def webhooks(self) -> SqlWebhooks:
        """Who is told by webhook, and of what."""
        return SqlWebhooks(self._connection, self._writing)

    @property
    def scans(self) -> SqlScans:
        """Scanned charts that wait for a person."""
        return SqlScans(self._connection, self._writing)

    def commit(self) -> None:
        """Make everything since the beginning durable, and let other writers on."""
        self._connection.commit()
        self._tails.clear()
        self._own = self._key = None

    def _writing(self) -> sa.Connection:
        if not self._write:
            raise RuntimeError("this unit of work was begun for reading; begin it with write=True")
        return self._connection

    def _recalled(self, name: str, read: Callable[[], Value]) -> Value:
        """A value as the process keeps it in mind, or as this transaction alone sees it."""
        if self._own is not None:
            if name not in self._own:
                self._own[name] = read()
            value: Value = self._own[name]
            return value
        if self._key is None:
            self._key = register_key(self._connection)
        return self._memory.recalled(self._key, name, read)

    def _numbers(self) -> Numbers:
        return self._recalled("numbers", lambda: read_numbers(self._connection))

    def _known_units(self) -> dict[str, int]:
        """By the property numbers that units are stored under."""
        return self._recalled("known units", self._read_known_units)

    def _read_known_units(self) -> dict[str, int]:
        rows = self._connection.execute(sa.select(unit.c.property_number, unit.c.id))
        return dict(rows.all())
