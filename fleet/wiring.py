"""How is the program put together? Once, from its settings; the only place with clocks.

Nothing is opened or imported before it is used, so that a command pays for what it needs.
"""

from __future__ import annotations

import datetime as dt
import getpass
import os
import re
import secrets
import socket
import string
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from fleet.domain.records import Role
from fleet.domain.texts import shown_address
from fleet.errors import BadInput, Fault, StoreError
from notifications.settings import Settings as MailSettings

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from fleet.domain.plan_file import PlanFile
    from fleet.services.charts.facts import PrintedChart
    from fleet.services.charts.printing import Means
    from fleet.services.load_ports import FilesReader
    from fleet.services.mailing.plan import Tools
    from fleet.services.mailing.work import Worker
    from fleet.services.ports import PublicHolidays, Record, Stamp, Store
    from fleet.services.visits.answer import Planner
    from fleet.services.visits.order import Centres
    from fleet.services.visits.plan_text import PlanContent
    from fleet.services.visits.planning import VisitPlanner
    from fleet.services.visits.replanning import Given
    from fleet.storage import SqlStore
    from notifications.calls import CallDoor
    from notifications.smtp import Server
    from notifications.web_addresses import Guard

__all__ = ["DEFAULT_DATABASE", "Program", "Settings", "program", "system_user", "utc_now"]

DEFAULT_DATABASE = "sqlite:///dueward.db"
_NUMBER_SIGNS, _NUMBER_LENGTH = string.digits + string.ascii_uppercase, 8
_SECOND_FACTOR = (Role.CONSULTANT.value, Role.MANAGER.value)
_ADDRESS = re.compile(r"(sqlite|postgres|postgresql)(\+\w+)?://")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a person or the machine's owner has set."""

    database: str = DEFAULT_DATABASE
    mail: MailSettings = field(default_factory=MailSettings)
    second_factor: tuple[str, ...] = _SECOND_FACTOR
    """The roles that set up a second factor before they see a page (DUEWARD_SECOND_FACTOR)."""

    @classmethod
    def from_environment(
        cls, environment: Mapping[str, str], database: str | None = None
    ) -> Settings:
        """Read the settings; `database` beats DUEWARD_DATABASE, where an empty word counts as none.

        Raises BadInput where what was named is not the address of a database.
        """
        if database is not None and not database.strip():
            mend = "write sqlite:///FILE or postgresql://USER@HOST/NAME"
            raise BadInput([Fault("--database", None, None, "no database is named", mend)])
        named = database or environment.get("DUEWARD_DATABASE") or DEFAULT_DATABASE
        if not _ADDRESS.match(named):
            where = "--database" if database else "DUEWARD_DATABASE"
            problem = f"{shown_address(named)} is not the address of a database"
            mend = "write sqlite:///FILE or postgresql://USER@HOST/NAME"
            raise BadInput([Fault(where, None, None, problem, mend)])
        return cls(
            database=named,
            mail=MailSettings.of(environment),
            second_factor=_second_factor(environment.get("DUEWARD_SECOND_FACTOR")),
        )


def _second_factor(named: str | None) -> tuple[str, ...]:
    """Roles by name, between commas; 'none' for nobody."""
    if not named:
        return _SECOND_FACTOR
    words = [word.strip() for word in named.split(",")]
    known = [role.value for role in Role]
    if words == ["none"]:
        return ()
    if unknown := [word for word in words if word not in known]:
        mend = f"name roles between commas, of {', '.join(known)}; or none"
        problem = f"no role '{unknown[0]}'"
        raise BadInput([Fault("DUEWARD_SECOND_FACTOR", None, None, problem, mend)])
    return tuple(words)


@dataclass(frozen=True, kw_only=True)
class Program:
    """The program as one person runs it once."""

    settings: Settings
    clock: Callable[[], dt.datetime]
    """The present instant, with its zone."""
    stopwatch: Callable[[], float]
    """Seconds from any beginning, never going back."""
    user: str
    """The name the machine knows the person by."""
    keeps_connections: bool = False
    """Whether connections to the database stay open, as a process that serves pages wants."""
    clock_is_set: bool = False
    """Whether the clock is set to another day, as the demo's is: browsers are to follow it."""
    call_guard: Guard | None = None
    """Where webhooks may go; None, as ever outside tests: to public addresses alone."""

    @cached_property
    def _sql_store(self) -> SqlStore:
        from fleet.storage import open_store

        return open_store(self.settings.database, clock=self.clock, keeps=self.keeps_connections)

    @property
    def store(self) -> Store:
        """The database, opened and checked; StoreError says what to run where it cannot be used."""
        return self._sql_store

    @cached_property
    def public_holidays(self) -> PublicHolidays:
        """Where public holidays are looked up that the database does not hold."""
        from fleet.files.public_holidays import PublicHolidayCalendar

        return PublicHolidayCalendar()

    def reader(self, paths: Sequence[Path]) -> FilesReader:
        """What reads files and folders."""
        from fleet.files.reader import read_tables

        return read_tables(paths)

    @property
    def county_centres(self) -> Centres:
        """Where sites are taken to lie that have no coordinates."""
        from fleet.files.county_centres import county_centres

        return county_centres()

    def plan_file(self, path: Path) -> PlanFile:
        """A plan file, read; BadInput with every fault in it."""
        from fleet.files.plan_file import read_plan_file

        return read_plan_file(path)

    @contextmanager
    def planner(
        self, seed: int, iterations: int | None, step: Callable[[int], None], executor: str = ""
    ) -> Iterator[Planner]:
        """What plans visits, with processes or a cluster while the block lasts (`executors`).

        BadInput where the libraries of the extra `plan` are missing.
        """
        from fleet.services.visits.executors import opened

        self._planner(seed, iterations, step)
        with opened(executor) as pool:
            yield self._planner(seed, iterations, step, pool)

    def _planner(
        self,
        seed: int,
        iterations: int | None,
        step: Callable[[int], None],
        pool: Executor | None = None,
    ) -> VisitPlanner:
        from fleet.services.visits.planning import VisitPlanner, check_libraries

        check_libraries()
        return VisitPlanner(seed, iterations, step, pool)

    def replanning(self, iterations: int) -> Given:
        """With what a kept plan is made anew, in so many steps after it is mended."""
        from fleet.files.plan_file import read_sources
        from fleet.services.visits.replanning import Given

        return Given(
            public_holidays=self.public_holidays,
            centres=self.county_centres,
            plan_file=read_sources,
            planner=self._planner(1, iterations, lambda _: None),
        )

    def sources_of(self, content: PlanContent) -> PlanFile:
        """The plan file a kept plan was asked with."""
        from fleet.files.plan_file import read_sources

        return read_sources(content.sources)

    def rebuild(self, record: Record, unit_ids: Sequence[int]) -> None:
        """Bring up to date what the database keeps of some units."""
        from fleet.services.kept import rebuild

        rebuild(record, unit_ids, self.public_holidays)

    def stamp(self, source: str) -> Stamp:
        """Who writes, now, and through which door; neither can be given (design 4.6)."""
        from fleet.services.ports import Stamp

        return Stamp(at=self.clock(), by=f"command:{self.user}", source=source)

    def draw_number(self) -> str:
        """A number for a print that nobody can foretell: eight characters of 0-9 and A-Z."""
        return "".join(secrets.choice(_NUMBER_SIGNS) for _ in range(_NUMBER_LENGTH))

    def draw_token(self) -> str:
        """What opens a link or a calendar, and nobody can guess: 256 bits of chance."""
        return secrets.token_urlsafe(32)

    def draw_key(self) -> bytes:
        """What webhooks are signed with: 256 bits of chance."""
        return secrets.token_bytes(32)

    def call_door(self) -> CallDoor:
        """What looks at the addresses of webhooks and hands them over, for one round."""
        from notifications.calls import CallDoor
        from notifications.web_addresses import Guard

        return CallDoor(self.clock, self.stopwatch, self.call_guard or Guard())

    @cached_property
    def owner(self) -> str:
        """A name for this process that no other has."""
        return f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"

    def mail_tools(self) -> Tools:
        """What mail is planned with; charts that go by mail are drawn for letter paper."""
        from fleet.services.mailing.plan import Tools

        def draw(printed: Sequence[PrintedChart], made_at: dt.datetime) -> bytes:
            from fleet.charts.pdf import chart_pdf

            return chart_pdf(printed, "letter", made_at)

        return Tools(
            public_holidays=self.public_holidays,
            settings=self.settings.mail,
            means=self.chart_means,
            draw=draw,
            stamp=lambda: self.stamp("mail"),
        )

    def chart_means(self) -> Means:
        """With what charts that go by mail are made prints."""
        from fleet.charts.layout import ChartLayout
        from fleet.services.charts.printing import Means

        return Means(
            public_holidays=self.public_holidays,
            layout=ChartLayout(),
            number=self.draw_number,
            paper="letter",
            step=lambda _: None,
        )

    def worker(self, server: Server | None, *, plans_only: bool = False) -> Worker:
        """What runs the timetable in this process; without a server mail is only planned, and
        webhooks are where `plans_only`.
        """
        from fleet.services.mailing.work import Worker
        from fleet.services.webhooks.work import WebhookWork
        from notifications.smtp import Door

        holidays, base_url = self.public_holidays, self.settings.mail.base_url
        door = None if plans_only else self.call_door
        calls = WebhookWork(self.store, holidays, base_url, self.owner, self.clock, door)
        return Worker(
            store=self.store,
            tools=self.mail_tools(),
            leadership=self._sql_store.leadership(self.owner),
            owner=self.owner,
            clock=self.clock,
            door=None if server is None else lambda: Door(server),
            webhooks=calls,
        )

    def at(self, database: str) -> Program:
        """The same program on another database."""
        return replace(self, settings=replace(self.settings, database=database))

    def today(self) -> dt.date:
        """The present day where this machine stands."""
        return self.clock().astimezone().date()

    @contextmanager
    def filled(self, *, dry_run: bool = False) -> Iterator[Store]:
        """The database to load into.

        A missing one is made, under another name first: it takes its place when the block ends
        well, so that a refused load leaves nothing behind. An empty file becomes the database as
        it is. With `dry_run` nothing is kept; of a SQLite database it is a copy, so nobody waits.
        """
        from fleet.storage import create, open_store, schema_state
        from fleet.storage.engines import file_of, parse_url
        from fleet.storage.trials import named, trial_of

        url = self.settings.database
        file = file_of(parse_url(url))
        if file is not None and not file.parent.is_dir():
            raise StoreError(f"{file}: there is no folder {file.parent}; make it first")
        state = schema_state(url)
        if dry_run and file is not None and state != "missing":
            with trial_of(file, self.clock) as trial:
                yield trial
        elif state != "missing":
            yield self.store
        elif not dry_run and (file is None or file.exists()):
            create(url)
            yield self.store
        else:
            with TemporaryDirectory(dir=None if file is None or dry_run else file.parent) as folder:
                made = Path(folder) / "made.db"
                with named(made, file):
                    create(f"sqlite:///{made}")
                    store = open_store(f"sqlite:///{made}", clock=self.clock)
                    try:
                        yield store
                    finally:
                        store.close()
                if not dry_run and file is not None:
                    _put(made, file)

    def close(self) -> None:
        """Close what was opened."""
        if "_sql_store" in self.__dict__:
            self._sql_store.close()


def _put(made: Path, file: Path) -> None:
    """Give a database its place, unless another took it meanwhile (two loads at once).

    A log that stays beside it when it is closed could not be written back into it: without the log
    the file is not whole.
    """
    from fleet.errors import StoreError

    if made.with_name(f"{made.name}-wal").exists():
        raise StoreError(
            f"{file}: it could not be written to the disk whole, so nothing of it was kept;"
            " free some space, then run the command again"
        )
    try:
        os.link(made, file)
    except FileExistsError:
        raise StoreError(
            f"{file}: another load made it meanwhile, and nothing of this one was kept;"
            " load again into the one that is there"
        ) from None
    except OSError:  # a file system without links
        made.replace(file)


def utc_now() -> dt.datetime:
    """The present instant."""
    return dt.datetime.now(dt.UTC)


def system_user() -> str:
    """The name the machine knows the person by; where it can be asked, not what they say it is."""
    try:
        import pwd
    except ImportError:
        return getpass.getuser()
    try:
        return pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        return f"uid {os.getuid()}"


def program(database: str | None = None) -> Program:
    """Put the program together from the environment, and the database if one was named."""
    return Program(
        settings=Settings.from_environment(os.environ, database),
        clock=utc_now,
        stopwatch=time.monotonic,
        user=system_user(),
    )
