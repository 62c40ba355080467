"""A small fleet as files and as a database, and the program at a fixed instant."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from fleet.cli.main import main
from fleet.domain.prints import Print
from fleet.storage import open_store
from fleet.wiring import Program, Settings

NOON = dt.datetime(2026, 3, 2, 18, tzinfo=dt.UTC)
"""Monday 2 March 2026, noon in Chicago."""

FILES = {
    "sites.csv": """\
site,name,county,region,country,subdivision,time_zone,open_days
alder,Alder Creek Laboratory,Adams,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri
birch,Birch Hill Laboratory,Boone,South,US,NE,America/Chicago,Mon Tue Wed Thu Fri
""",
    "units.csv": """\
property_number,kind,manufacturer,model,serial,site,in_service_on,record_from
A-1,microscope,Exemplar,M1,100,alder,2025-01-06,2026-02-23
B-1,microscope,Exemplar,M1,101,birch,2024-05-01,2026-02-23
""",
    "entries.csv": """\
property_number,task,on,to,mark,initials
A-1,annual-service,2025-01-03,,done,OV
B-1,annual-service,2025-04-10,,done,OV
A-1,optics,2026-02-23,2026-02-27,done,GR
B-1,optics,2026-02-23,2026-02-25,done,HS
""",
    "people.csv": """\
email,name,role,site,region
north@bench.example,Noor Northgate,consultant,,North
lead@alder.example,Lee Alderman,site lead,alder,
""",
    "rules.toml": """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces, top down"
each = "open-day"
source = "common practice, no source"
cautions = ["Unplug before any liquid comes near."]

[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
source = "common practice, no source"
""",
}
"""A-1 is 56 days past due on that Monday; B-1 is due on 10 April and lacks two marks."""

Dueward = Callable[..., Result]
Prints = Callable[[], list[Print]]


@pytest.fixture
def files(tmp_path: Path) -> Path:
    """A folder with the small fleet."""
    folder = tmp_path / "files"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def dueward(tmp_path: Path) -> Dueward:
    """Runs the command at noon, on a database in a folder of its own."""
    return _dueward(tmp_path)


def _dueward(folder: Path) -> Dueward:
    def run(*words: str, at: dt.datetime = NOON) -> Result:
        def program(database: str | None) -> Program:
            url = database or f"sqlite:///{folder / 'own.db'}"
            settings = Settings.from_environment({}, url)
            return Program(settings=settings, clock=lambda: at, stopwatch=float, user="alice")

        return CliRunner().invoke(main, words, obj=program, catch_exceptions=False)

    return run


@pytest.fixture
def loaded(dueward: Dueward, files: Path) -> Dueward:
    """The command with the small fleet in its database."""
    result = dueward("load", str(files))
    assert result.exit_code == 0, result.stderr
    return dueward


@pytest.fixture(scope="session")
def loaded_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with the small fleet, for copies."""
    folder = tmp_path_factory.mktemp("loaded")
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    result = _dueward(folder)("load", *(str(folder / name) for name in FILES))
    assert result.exit_code == 0, result.stderr
    return folder / "own.db"


@pytest.fixture
def ready(dueward: Dueward, loaded_once: Path, tmp_path: Path) -> Dueward:
    """As `loaded`, sooner."""
    shutil.copy(loaded_once, tmp_path / "own.db")
    return dueward


@pytest.fixture
def prints(tmp_path: Path) -> Prints:
    """What the record holds of prints, in the order they were kept."""

    def read() -> list[Print]:
        url = f"sqlite:///{tmp_path / 'own.db'}"
        with closing(open_store(url, clock=lambda: NOON)) as store, store.begin() as record:
            lines = [line.change.new for line in record.change_lines()]
        return [one for one in lines if isinstance(one, Print)]

    return read


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let charts be printed without pages: their files hold the numbers of the prints."""
    from fleet.cli import chart_files
    from tests.fleet.cli.printing import numbers_only

    monkeypatch.setattr(chart_files, "chart_pdf", numbers_only)


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """A folder that is not there yet."""
    return tmp_path / "out"
