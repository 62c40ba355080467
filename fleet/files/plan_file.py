"""What does a plan file say, and if it cannot be used, what is wrong with it, all at once?

A plan file is TOML: lists of tables `[[depot]]` and `[[technician]]`, tables `[money]`, `[roads]`
and `[window]` (fields in `fleet.files.plan_fields`). A fault names the file, the field, what is
wrong and how to mend it.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from difflib import get_close_matches
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from fleet.domain.plan_file import GivenDepot, GivenTechnician, PlanFile, Roads, RoadTable
from fleet.domain.texts import shown
from fleet.errors import BadInput, Fault
from fleet.files.cells import CellError
from fleet.files.places import subdivision_code
from fleet.files.plan_fields import AREA, DEPOT, MONEY, REQUIRED, ROADS, TECHNICIAN, WINDOW, Field
from fleet.files.road_table import read_road_table
from fleet.services.load_ports import Faults
from schedules.visits.model import Depot, Prices

__all__ = ["read_plan_file", "read_sources"]

_LISTS: Final = {"depot": DEPOT, "technician": TECHNICIAN}
_TABLES: Final = {"area": AREA, "money": MONEY, "roads": ROADS, "window": WINDOW}
_DAY_MINUTES: Final = 24 * 60
Values = dict[str, Any]


def read_plan_file(path: Path) -> PlanFile:
    """Read a plan file, and the distance table that it names; BadInput with every fault found."""
    content = _content(path)
    faults = Faults()
    tables = _parsed(path.name, content, faults)
    faults.raise_if_any()
    _check_names(path.name, "a plan file", tables, [*_LISTS, *_TABLES], faults)
    lists = {name: list(_list(path.name, name, tables, faults)) for name in _LISTS}
    single = {name: _single(path.name, name, tables, faults) for name in _TABLES}
    _check_technicians(path.name, lists, faults)
    _check_area(path.name, single["area"], faults)
    table = _road_table(path, tables, single["roads"], faults)
    faults.raise_if_any()
    parts = {path.name: content}
    if table is not None:
        parts[table.file] = _content(path.parent / table.file)
    made = _made(
        path.name, hashlib.sha256(b"\0".join(parts.values())).hexdigest(), lists, single, table
    )
    return replace(made, sources={name: text.decode("utf-8-sig") for name, text in parts.items()})


def read_sources(sources: Mapping[str, str]) -> PlanFile:
    """Read a plan file, and its table, from their texts, by name, its own first."""
    own, *_ = sources
    with TemporaryDirectory() as folder:
        for name, text in sources.items():
            path = Path(folder) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="")
        return read_plan_file(Path(folder) / own)


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as refused:
        problem = f"it cannot be opened ({refused.strerror or type(refused).__name__})"
        mend = "check the path and who may read it"
        raise BadInput([Fault(str(path), None, None, problem, mend)]) from refused


def _parsed(file: str, content: bytes, faults: Faults) -> Mapping[str, Any]:
    try:
        return tomllib.loads(content.decode("utf-8-sig"), parse_float=Decimal)
    except UnicodeDecodeError:
        faults.add(file, None, None, "the text is not UTF-8", "save it again as UTF-8")
    except (ValueError, ArithmeticError, RecursionError) as wrong:
        mend = "put text in double quotes, lists in square brackets, dates as 2027-03-01"
        faults.add(file, None, None, f"this is not TOML ({wrong})", mend)
    return {}


def _check_names(
    file: str, of: str, table: Mapping[str, Any], known: list[str], faults: Faults, where: str = ""
) -> None:
    for name in table:
        if name not in known:
            near = get_close_matches(name, known, n=1)
            mend = f"did you mean '{near[0]}'?" if near else f"{of} has {', '.join(known)}"
            faults.add(file, None, where or None, f"{shown(name)} is not a name of {of}", mend)


def _list(
    file: str, name: str, tables: Mapping[str, Any], faults: Faults
) -> Iterator[tuple[str, Values]]:
    """Where each table of a list stands, in words, and its fields that could be read."""
    some = tables.get(name, [])
    if not isinstance(some, list) or not all(isinstance(one, dict) for one in some):
        mend = f"write each in double square brackets, as [[{name}]]"
        faults.add(file, None, name, "it is not a list of tables", mend)
        return
    if not some:
        faults.add(file, None, name, f"there is no {name}", f"write one as [[{name}]]")
    for number, table in enumerate(some, start=1):
        own = table.get("name")
        where = f"{name} {shown(own) if isinstance(own, str) else number}"
        yield where, _fields(file, where, f"a {name}", table, _LISTS[name], faults)


def _single(file: str, name: str, tables: Mapping[str, Any], faults: Faults) -> Values:
    table = tables.get(name, {})
    if not isinstance(table, dict):
        faults.add(file, None, name, "it is not a table", f"write it under a line [{name}]")
        return {}
    return _fields(file, name, f"[{name}]", table, _TABLES[name], faults)


def _fields(
    file: str,
    where: str,
    of: str,
    table: Mapping[str, Any],
    fields: Mapping[str, Field],
    faults: Faults,
) -> Values:
    """The fields of a table, what is left out included; those with a fault are left out."""
    _check_names(file, of, table, list(fields), faults, where)
    values: Values = {}
    for name, field in fields.items():
        if name in table:
            try:
                values[name] = field.check(table[name])
            except CellError as wrong:
                faults.add(file, None, f"{where}, {name}", wrong.problem, wrong.mend)
        elif field.default is not REQUIRED:
            values[name] = field.default
        else:
            faults.add(file, None, where, f"there is no {name}", f"add it, as {field.example}")
    return values


def _check_technicians(
    file: str, lists: Mapping[str, list[tuple[str, Values]]], faults: Faults
) -> None:
    """Names given twice, depots that are not there, days that end after midnight."""
    for name, some in lists.items():
        counts = Counter(values["name"] for _, values in some if "name" in values)
        for own in (own for own, count in counts.items() if count > 1):
            problem = f"{counts[own]} of them bear this name"
            faults.add(file, None, f"{name} {shown(own)}", problem, "give each its own")
    depots = [values["name"] for _, values in lists["depot"] if "name" in values]
    for where, values in lists["technician"]:
        if depots and "depot" in values and values["depot"] not in depots:
            problem = f"there is no depot {shown(values['depot'])}"
            faults.add(file, None, f"{where}, depot", problem, f"write one of {', '.join(depots)}")
        if "begins_at" in values and "day_minutes" in values:
            begins = values["begins_at"].hour * 60 + values["begins_at"].minute
            if begins + values["day_minutes"] > _DAY_MINUTES:
                problem = f"{values['day_minutes']} minutes from {values['begins_at']:%H:%M}"
                mend = "begin earlier, or make the day shorter"
                faults.add(file, None, f"{where}, day_minutes", f"{problem} end after 24:00", mend)


def _check_area(file: str, area: Values, faults: Faults) -> None:
    """A subdivision is one of its country; its code is written as a site has it."""
    country, subdivision = area.get("country"), area.get("subdivision")
    if subdivision is None or "subdivision" not in area:
        return
    if country is None:
        faults.add(file, None, "area", "there is no country", 'add it, as country = "US"')
        return
    try:
        area["subdivision"] = subdivision_code(country, subdivision)
    except CellError as wrong:
        faults.add(file, None, "area, subdivision", wrong.problem, wrong.mend)


def _road_table(
    path: Path, tables: Mapping[str, Any], roads: Values, faults: Faults
) -> RoadTable | None:
    name = roads.get("table")
    if name is None or "miles_an_hour" not in roads:
        return None
    if "road_factor" in tables["roads"]:
        problem = "it is of no use beside table, which tells the miles"
        faults.add(path.name, None, "roads, road_factor", problem, "leave one of them out")
    return read_road_table(path.parent / name, name, roads["miles_an_hour"], faults)


def _made(
    file: str,
    sha256: str,
    lists: Mapping[str, list[tuple[str, Values]]],
    single: Mapping[str, Values],
    table: RoadTable | None,
) -> PlanFile:
    depots, area = [values for _, values in lists["depot"]], single["area"]
    return PlanFile(
        file=file,
        sha256=sha256,
        depots=tuple(
            GivenDepot(
                depot=Depot(depot=d["name"], latitude=d["latitude"], longitude=d["longitude"]),
                time_zone=d["time_zone"],
            )
            for d in depots
        ),
        technicians=tuple(GivenTechnician(**values) for _, values in lists["technician"]),
        roads=Roads(
            road_factor=single["roads"]["road_factor"],
            miles_an_hour=single["roads"]["miles_an_hour"],
            table=table,
        ),
        prices=Prices(**single["money"]),
        catch_up_days=single["window"]["catch_up_days"],
        area=(area["country"], area["subdivision"] or "") if area["country"] else None,
    )
