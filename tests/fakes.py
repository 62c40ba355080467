"""Stand-ins for what the use cases need, each a few lines over plain dicts and lists."""

from __future__ import annotations

import copy
import dataclasses
import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

import numpy as np

from fleet.domain.chain import Flaw, Head, Line, Seal, root_of
from fleet.domain.evidence import Attachment
from fleet.domain.records import REMOVED, Entry, RegisterRecord, StoredEntry, blanked
from fleet.domain.register import BookText, Change, Register
from fleet.errors import KeyTaken
from fleet.services.access_ports import Access
from fleet.services.calendar_ports import Events, Feeds, Links
from fleet.services.job_ports import Jobs
from fleet.services.mail_ports import MailRecord
from fleet.services.ports import ChangeLine, HolidayYear, KeptYears, MarkColumns, Stamp
from fleet.services.scan_ports import Scans
from fleet.services.webhook_ports import Webhooks
from notifications.messages import Call, Mail
from notifications.outbox import Outbox

__all__ = ["FakeRecord", "FakeStore", "NoProgress"]

_EPOCH = dt.date(1970, 1, 1)
_TABLES = {
    "Site": "sites",
    "Pattern": "patterns",
    "Holiday": "holidays",
    "Closure": "closures",
    "Unit": "units",
    "Placement": "placements",
    "Outage": "outages",
    "Person": "people",
    "Renumbering": "renumberings",
    "Extension": "extensions",
    "ServiceReport": "reports",
    "Action": "actions",
    "Review": "reviews",
    "Print": "prints",
    "Absence": "absences",
    "QuietPeriod": "quiet_periods",
    "MailSetting": "mail_settings",
    "StoredPlan": "plans",
    "SiteVisit": "visits",
    "UnsuitableDays": "unsuitable_days",
    "TechnicianDaysOff": "technician_days_off",
}


class NoProgress:
    """A `Progress` that tells nobody."""

    def step(self, rows: int) -> None:
        """Nothing to do."""


@dataclass
class FakeRecord:
    """A `Record` in memory."""

    changes: list[tuple[Change, Stamp]] = field(default_factory=list)
    books: list[tuple[BookText, bool]] = field(default_factory=list)
    years: list[HolidayYear] = field(default_factory=list)
    ids: dict[str, int] = field(default_factory=dict)
    written: dict[str, StoredEntry] = field(default_factory=dict)
    kept: dict[tuple[int, str, int], tuple[bytes, bytes, bytes | None]] = field(
        default_factory=dict
    )
    lengths: Counter[str] = field(default_factory=Counter)
    """The number of entries in each unit's chain."""
    sealed: list[Seal] = field(default_factory=list)
    files: dict[str, tuple[Attachment, bytes | None]] = field(default_factory=dict)
    is_committed: bool = False

    @property
    def mail(self) -> MailRecord:
        raise NotImplementedError("this stand-in has no mail; use a store of SQLite")

    @property
    def events(self) -> Events:
        raise NotImplementedError("this stand-in has no calendar; use a store of SQLite")

    @property
    def links(self) -> Links:
        raise NotImplementedError("this stand-in has no links; use a store of SQLite")

    @property
    def feeds(self) -> Feeds:
        raise NotImplementedError("this stand-in has no calendar; use a store of SQLite")

    @property
    def access(self) -> Access:
        raise NotImplementedError("this stand-in has no accounts; use a store of SQLite")

    @property
    def jobs(self) -> Jobs:
        raise NotImplementedError("this stand-in has no jobs; use a store of SQLite")

    @property
    def webhooks(self) -> Webhooks:
        raise NotImplementedError("this stand-in has no webhooks; use a store of SQLite")

    @property
    def scans(self) -> Scans:
        raise NotImplementedError("this stand-in has no scans; use a store of SQLite")

    def register(self, known_at: dt.datetime | None = None) -> Register:
        tables: dict[str, dict[tuple[str, ...], RegisterRecord]] = {}
        for change, stamp in self.changes:
            if known_at is None or change.initial or stamp.at <= known_at:
                table = tables.setdefault(_TABLES[type(change.record).__name__], {})
                if change.new is None:
                    table.pop(change.record.key)
                else:
                    table[change.new.key] = change.new
        books = [
            book
            for book, is_initial in self.books
            if known_at is None or is_initial or book.stored_at <= known_at
        ]
        return Register(**tables, book=books[-1] if books else None)  # type: ignore[arg-type]

    def unit_ids(self) -> dict[str, int]:
        return dict(self.ids)

    def change(self, changes: Sequence[Change], stamp: Stamp) -> None:
        for change in changes:
            self.changes.append((change, stamp))
            if type(change.record).__name__ == "Unit":
                self.ids.setdefault(change.record.key[0], len(self.ids) + 1)

    def change_lines(self) -> Iterator[ChangeLine]:
        return (ChangeLine(change, stamp.at, stamp.by) for change, stamp in self.changes)

    def withdrawn(self, kind: type[RegisterRecord]) -> frozenset[tuple[str, ...]]:
        gone = [change.old for change, _ in self.changes if change.new is None]
        return frozenset(old.key for old in gone if type(old) is kind)

    def add_book(self, text: str, sha256: str, initial: bool, stamp: Stamp) -> None:
        self.books.append((BookText(text=text, sha256=sha256, stored_at=stamp.at), initial))

    def holiday_years(self) -> Sequence[HolidayYear]:
        return list(self.years)

    def add_holiday_years(self, years: Iterable[HolidayYear], stamp: Stamp) -> None:
        self.years.extend(years)

    def stored(self, keys: Sequence[str]) -> dict[str, StoredEntry]:
        return {key: self.written[key] for key in keys if key in self.written}

    def append(self, entries: Sequence[Entry], stamp: Stamp) -> None:
        for entry in entries:
            if entry.key in self.written:
                raise KeyTaken(entry.key, "key")
            self.lengths[entry.property_number] += 1
            self.written[entry.key] = StoredEntry(
                entry=entry,
                seq=self.lengths[entry.property_number],
                stored_at=stamp.at,
                by=stamp.by,
                source=stamp.source,
            )

    def entries(
        self,
        unit_ids: Sequence[int] | None = None,
        task: str | None = None,
        stored_after: dt.datetime | None = None,
    ) -> Iterator[StoredEntry]:
        wanted = [
            stored
            for stored in self.written.values()
            if (unit_ids is None or self._id(stored) in unit_ids)
            and task in (None, stored.entry.task)
            and (stored_after is None or stored.stored_at > stored_after)
        ]
        return iter(sorted(wanted, key=lambda stored: (self._id(stored), stored.seq)))

    def marks(
        self, unit_ids: Sequence[int] | None = None, known_at: dt.datetime | None = None
    ) -> MarkColumns:
        known = [
            stored
            for stored in self.entries(unit_ids)
            if known_at is None or stored.known_at <= known_at
        ]
        struck = {stored.entry.strikes for stored in known if stored.entry.strikes}
        live = [s for s in known if s.entry.mark is not None and s.entry.key not in struck]
        names = sorted({stored.entry.task for stored in live})
        return MarkColumns(
            np.array([self._id(stored) for stored in live], dtype=np.int64),
            np.array([names.index(stored.entry.task) for stored in live], dtype=np.int32),
            names,
            np.array([(s.entry.on - _EPOCH).days for s in live], dtype=np.int32),
            np.array([((s.entry.to_on or s.entry.on) - _EPOCH).days for s in live], dtype=np.int32),
            np.array([stored.entry.mark == "done" for stored in live], dtype=np.bool_),
        )

    def heads(self) -> dict[str, Head]:
        return {}

    def lines(self, chains: Sequence[str] | None = None) -> Iterator[Line]:
        return iter(())

    def flaws(self, step: Callable[[int], None]) -> Iterator[Flaw]:
        return iter(())

    def take_lines(self, lines: Iterable[Line]) -> Flaw | None:
        raise NotImplementedError

    def keep_content(self, sha256: str, content: bytes) -> None:
        raise NotImplementedError

    def seals(self) -> list[Seal]:
        return list(self.sealed)

    def seal(self, stamp: Stamp) -> Seal:
        self.sealed.append(Seal(stamp.at, root_of(self.heads()), {}))
        return self.sealed[-1]

    def attachments(self) -> list[Attachment]:
        return [attachment for attachment, _ in self.files.values()]

    def content(self, sha256: str) -> bytes | None:
        return self.files[sha256][1] if sha256 in self.files else None

    def attach(self, attachment: Attachment, content: bytes, stamp: Stamp) -> None:
        self.files.setdefault(attachment.sha256, (attachment, content))

    def remove(self, keys: Sequence[str], files: Sequence[str], reason: str, stamp: Stamp) -> None:
        for key in keys:
            line = self.written[key]
            self.written[key] = dataclasses.replace(
                line, entry=blanked(line.entry), by="", source=REMOVED
            )
        for sha256 in files:
            self.files[sha256] = (self.files[sha256][0], None)

    def kept_years(self, unit_ids: Sequence[int] | None = None) -> KeptYears:
        kept = sorted(self.kept.items())
        rows = [(*key, *days) for key, days in kept if unit_ids is None or key[0] in unit_ids]
        columns = [list(column) for column in zip(*rows, strict=True)] or [[] for _ in range(6)]
        return KeptYears(*columns)

    def kept_since(self, tick: int) -> tuple[int, Sequence[int]]:
        raise NotImplementedError("this stand-in counts no ticks; use a store of SQLite")

    def register_version(self) -> str:
        return str(len(self.changes))

    def keep(self, unit_ids: Sequence[int], years: KeptYears) -> None:
        for key in [k for k in self.kept if k[0] in unit_ids]:
            del self.kept[key]
        keys = zip(years.unit_ids, years.tasks, years.years, strict=True)
        days = zip(years.marked, years.done, years.extra, strict=True)
        self.kept.update(zip(keys, days, strict=True))

    def commit(self) -> None:
        self.is_committed = True

    def _id(self, stored: StoredEntry) -> int:
        return self.ids[stored.entry.property_number]


@dataclass
class FakeStore:
    """A `Store` in memory: a unit of work is a copy that takes the store's place on commit."""

    record: FakeRecord = field(default_factory=FakeRecord)

    @property
    def outbox(self) -> Outbox[Mail]:
        raise NotImplementedError("this stand-in has no mail; use a store of SQLite")

    @property
    def calls(self) -> Outbox[Call]:
        raise NotImplementedError("this stand-in has no webhooks; use a store of SQLite")

    def one_call(self, key: str) -> Outbox[Call]:
        raise NotImplementedError("this stand-in has no webhooks; use a store of SQLite")

    @contextmanager
    def begin(self, *, write: bool = False) -> Iterator[FakeRecord]:
        record = copy.deepcopy(self.record)
        record.is_committed = False
        yield record
        if write and record.is_committed:
            self.record = dataclasses.replace(record)
