"""A record with all that an export must not lose, commands on it, and what they answer."""

from __future__ import annotations

import datetime as dt
from contextlib import closing
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

from click.testing import CliRunner, Result

from fleet.cli.main import main
from fleet.domain.chain import root_of
from fleet.domain.evidence import Attachment, Renumbering
from fleet.domain.records import Mark, Placement
from fleet.domain.register import Change
from fleet.services.ports import KeptYears, Stamp
from fleet.storage import SqlStore, open_store
from fleet.wiring import Program, Settings
from tests.fleet.storage.examples import ENTRY, SITE, STAMP, UNIT, moved, new
from tests.fleet.storage.print_examples import chart_print

__all__ = ["DEMO", "NOW", "answers", "contents", "fill", "folder_bytes", "run"]

DEMO = Path(__file__).parents[2] / "demo_data" / "files"
PDF = b"%PDF-1.7 invented"
NOW = dt.datetime(2026, 11, 25, 16, tzinfo=dt.UTC)


def _invoked(words: tuple[str, ...], database: str) -> Result:
    def program(named: str | None) -> Program:
        settings = Settings.from_environment({}, named)
        return Program(settings=settings, clock=lambda: NOW, stopwatch=float, user="alice")

    command = ["--database", database, *words]
    return CliRunner().invoke(main, command, obj=program, catch_exceptions=False)


def run(*words: str, database: str, code: int = 0) -> str:
    """What a command says on stdout, or on stderr where it is to end with another code."""
    done = _invoked(words, database)
    assert done.exit_code == code, done.output
    return done.stderr if code else done.stdout


def answers(database: str, days: list[dt.date], known: list[str | None]) -> list[str]:
    """The bytes of `due` and `gaps` for some days, as known at some instants (None: now)."""
    told = []
    for on in days:
        for at in known:
            asked = ["--on", str(on), *(["--known-at", at] if at else []), "--format", "json"]
            span = ["--from", str(on - dt.timedelta(200)), "--to", str(on)]
            told.append(_said("due", *asked, database=database))
            told.append(_said("gaps", *span, *asked, database=database))
    return told


def _said(*words: str, database: str) -> str:
    """All that a command says; some drawn units have no answer, and that is one too."""
    done = _invoked(words, database)
    assert done.exit_code in (0, 1), done.output
    return done.output


def contents(database: str) -> tuple[object, ...]:
    """All that a record holds, as its port tells it."""
    with closing(open_store(database, clock=lambda: NOW)) as store, store.begin() as record:
        assert list(record.flaws(lambda _: None)) == []
        return (
            root_of(record.heads()),
            record.heads(),
            list(record.lines()),
            list(record.entries()),
            record.register(),
            list(record.change_lines()),
            record.holiday_years(),
            record.attachments(),
            [record.content(one.sha256) for one in record.attachments()],
            record.seals(),
            _sorted_kept(record.kept_years()),
        )


def _sorted_kept(kept: KeptYears) -> list[str]:
    columns = [getattr(kept, name) for name in ("tasks", "years", "marked", "done", "extra")]
    return sorted(map(repr, zip(*columns, strict=True)))


def folder_bytes(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def fill(store: SqlStore) -> None:
    later, last = moved(STAMP, 3), Stamp(moved(STAMP, 9).at, "device:tab-1", "bench")
    unit = replace(UNIT, property_number="00417", serial="=1+1", model='+"quoted", -and @more')
    odd = replace(UNIT, property_number="M-002", manufacturer="@Éxémplar 😀 №5")
    gone = Placement(property_number="00417", site=SITE.site, from_on=dt.date(2025, 5, 1))
    entries = [
        replace(ENTRY, key="=1", property_number="00417", note='=HYPERLINK(1)\n+2, "x"\n@-😀'),
        replace(ENTRY, key="@2", property_number="00417", initials="-a", reading="-20.50"),
        replace(
            ENTRY,
            key="c",
            property_number="00417",
            mark=None,
            strikes="=1",
            why="-wrong line",
            recorded_at=dt.datetime(2026, 3, 3, 9, 0, 0, 123, tzinfo=dt.UTC),
        ),
    ]
    with store.begin(write=True) as record:
        place = Change(old=None, new=gone, initial=True)
        record.change([new(SITE), new(unit), new(odd), place], STAMP)
        record.append(entries, STAMP)
        record.commit()
    with store.begin(write=True) as record:
        record.change([Change(old=gone, new=None, initial=False)], later)
        renamed = replace(SITE, name="=Alder Creek", latitude=0.00001)
        record.change([Change(old=SITE, new=renamed, initial=False)], later)
        fixed = replace(ENTRY, key="d", property_number="00417", strikes="@2", why="misread")
        record.append([replace(fixed, mark=Mark.UNUSED)], last)
        record.attach(attachment_of(PDF, "report.pdf", "application/pdf"), PDF, last)
        record.attach(attachment_of(b"", "empty", "x/y"), b"", last)
        record.seal(last)
        record.commit()
    with store.begin(write=True) as record:
        former = Renumbering(former="M-002", property_number="M-900", from_on=dt.date(2026, 3, 9))
        kept = (former, chart_print("0000000E", "00417"), chart_print("7K2M9QXA", "M-900"))
        record.change([Change(old=None, new=one, initial=False) for one in kept], last)
        record.append([replace(ENTRY, key="e", property_number="M-900")], last)
        record.remove(["d"], [attachment_of(b"", "", "").sha256], "retention is over", last)
        record.commit()


def attachment_of(content: bytes, name: str, media_type: str) -> Attachment:
    return Attachment(sha256(content).hexdigest(), name, media_type, len(content))
