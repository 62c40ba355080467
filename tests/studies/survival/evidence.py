"""Is a database whole? Chains, heads, register and kept years worked out again from raw rows.

Shares no code with the program: hashlib and json say what a line's hash must be (design 5), a dict
what the changes and the entries add up to. What stands in the kept years is compared for one-day
marks and for the spans of `invented`, which cover Monday to Friday of a week without a holiday.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from tests.studies.survival.invented import Row
from tests.studies.survival.raw import Tables

__all__ = ["START", "flaws", "kept_rows", "link"]

START = bytes(32)
SINGLE = ("rule_book", "holiday_year", "attachment", "tombstone", "seal")
REGISTER = (
    *("site", "weekly_pattern", "holiday", "closure", "unit", "placement", "outage", "person"),
    *("renumbering", "extension", "service_report", "action", "review", "chart_print"),
)


def link(previous: bytes, content: Row) -> bytes:
    """The hash of a line: version byte 1, the hash before it, its JSON (RFC 8785)."""
    text = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(b"\x01" + previous + text.encode()).digest()


def flaws(found: Tables) -> list[str]:
    """What is not as it must be, a sentence each; [] for a database that is whole."""
    ends: dict[str, tuple[int, bytes]] = {}
    said = [flaw for chain, lines in _chains(found) for flaw in _broken(chain, lines, ends)]
    if "chain_head" in found:
        heads = {row["chain"]: (row["seq"], row["hash"]) for row in found["chain_head"]}
        wrong = sorted({chain for chain, _ in heads.items() ^ ends.items()})
        said += [f"the head of {chain} is not its end" for chain in wrong]
    keys = Counter(row["key"] for row in found["entry"])
    said += [f"{key} stands {times} times" for key, times in keys.items() if times > 1]
    said += _register_flaws(found)
    said += _kept_flaws(found)
    contents = {row["sha256"]: row["content"] for row in found.get("attachment_content", [])}
    said += [
        f"attachment {name} is not what its hash says"
        for name, content in contents.items()
        if hashlib.sha256(content).hexdigest() != name
    ]
    if contents.keys() != {row["sha256"] for row in found.get("attachment", [])}:
        said.append("attachments and their contents are not the same")
    return said


def _chains(found: Tables) -> Iterator[tuple[str, list[Row]]]:
    """Every chain's name and its lines, each with the content that was hashed."""
    numbers = {row["id"]: row["property_number"] for row in found["unit"]}
    of_unit: dict[str, list[Row]] = defaultdict(list)
    for row in found["entry"]:
        number = numbers.get(row["unit_id"], "?")
        line = {**row, "property_number": number}
        del line["unit_id"]
        of_unit[f"entry/{number}"].append(line)
    for row in found["change_line"]:
        of_unit[f"register/{row['chain']}"].append(row)
    for name in SINGLE:
        if any("prev_hash" in row for row in found.get(name, [])):
            of_unit[name] = found[name]
    yield from of_unit.items()


def _broken(chain: str, lines: list[Row], ends: dict[str, tuple[int, bytes]]) -> Iterator[str]:
    previous = START
    for seq, line in enumerate(sorted(lines, key=lambda row: int(row["seq"])), start=1):
        given = {name: cell for name, cell in line.items() if name not in {"prev_hash", "hash"}}
        if line["seq"] != seq or line["prev_hash"] != previous:
            yield f"{chain} line {line['seq']} does not follow the one before it"
        try:
            digest = link(previous, given)
        except TypeError:
            digest = b""
        if line["hash"] != digest:
            yield f"{chain} line {line['seq']} is not what was hashed"
        previous = line["hash"]
        ends[chain] = seq, previous


def _register_flaws(found: Tables) -> Iterator[str]:
    latest: dict[str, dict[str, Row | None]] = defaultdict(dict)
    for line in sorted(found["change_line"], key=lambda row: int(row["seq"])):
        try:
            latest[line["chain"]][line["key"]] = json.loads(line["new"])
        except ValueError:
            yield f"a line of register/{line['chain']} cannot be read"
    for table in REGISTER:
        stand = [
            json.dumps({k: _text(v) for k, v in row.items() if k != "id"}, sort_keys=True)
            for row in found.get(table, [])
        ]
        told = [json.dumps(row, sort_keys=True) for row in latest[table].values() if row]
        if sorted(stand) != sorted(told):
            yield f"table {table} is not what its changes add up to"


def _text(value: Any) -> Any:
    return repr(value) if isinstance(value, float | bytes) else value


def kept_rows(entries: Iterable[Row]) -> list[Row]:
    """The rows of marked_year that entries add up to."""
    entries = list(entries)
    struck = {row["strikes"] for row in entries if row["strikes"]}
    days: dict[tuple[int, str, int], Counter[int]] = defaultdict(Counter)
    done: dict[tuple[int, str, int], set[int]] = defaultdict(set)
    for row in entries:
        if row["mark"] is None or row["key"] in struck:
            continue
        for on in _days(row):
            place = row["unit_id"], row["task"], on.year
            days[place][on.timetuple().tm_yday - 1] += 1
            if row["mark"] == "done":
                done[place].add(on.timetuple().tm_yday - 1)
    return [
        {
            **dict(zip(("unit_id", "task", "year"), place, strict=True)),
            "marked": _bits(marked),
            "done": _bits(done[place]),
            "extra": _extra(marked),
        }
        for place, marked in days.items()
    ]


def _kept_flaws(found: Tables) -> list[str]:
    try:
        told = {_place(row): row for row in kept_rows(found["entry"])}
    except (ValueError, TypeError):
        return ["an entry's date cannot be read"]
    kept = {_place(row): row for row in found["marked_year"]}
    wrong = [place for place in told.keys() | kept.keys() if told.get(place) != kept.get(place)]
    if not wrong:
        return []
    return [f"{len(wrong)} kept years are not what the entries add up to"]


def _place(row: Row) -> tuple[int, str, int]:
    return row["unit_id"], row["task"], row["year"]


def _days(row: Row) -> list[dt.date]:
    first = dt.date.fromisoformat(row["on"])
    last = dt.date.fromisoformat(row["to_on"] or row["on"])
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]


def _bits(days: Iterable[int]) -> bytes:
    """46 bytes, the year's first day the highest bit of the first."""
    whole = sum(1 << (367 - day) for day in set(days))
    return whole.to_bytes(46, "big")


def _extra(marked: Counter[int]) -> bytes | None:
    if max(marked.values()) < 2:
        return None
    return bytes(min(marked[day], 255) for day in range(366))
