"""Is the record as it was written? A walk along every line, each hashed again.

Of each chain the first broken line is told: what comes after it hangs on a line that is not as it
was. A line of entries with a tombstone is taken for the hash that the tombstone keeps, for its
words are gone; what stays of it is held against the tombstone too (fleet.storage.tombstones). What
a forger could do who also writes hashes and heads anew, only a root that was given out tells
(fleet.storage.sealed).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import sqlalchemy as sa

from fleet.domain.chain import SEALS, Flaw, Head
from fleet.storage import schema
from fleet.storage.append_only import unguarded
from fleet.storage.canonical import START, link
from fleet.storage.head_rows import entry_chain, read_heads, register_chain
from fleet.storage.line_rows import RawLine, chain_names, raw_lines
from fleet.storage.register_rows import TABLES, standing_and_replayed
from fleet.storage.sealed import SealedRoots
from fleet.storage.tombstones import Stones, Tombstones

__all__ = ["find_flaws"]


_UNGUARDED = (
    "nothing keeps its lines from being changed: a trigger is missing, altered or switched off;"
    " dueward upgrade puts it back"
)
_BEFORE = RawLine(0, b"", START, "", None)
"""What stands in for the line before a chain's first."""


@dataclass(slots=True)
class _Walk:
    """How far a chain was followed, and what was met."""

    chain: str
    lines: int = 0
    last: RawLine = _BEFORE
    passed: dict[int, bytes] = field(default_factory=dict)
    """The hashes of those lines that were asked for."""
    disposed: set[int] = field(default_factory=set)
    """The numbers of those lines that a tombstone stands for."""
    beyond: str = ""
    """What names the line after the one where the head says the chain ends."""
    flaw: Flaw | None = None


def find_flaws(connection: sa.Connection, step: Callable[[int], None]) -> Iterator[Flaw]:
    """Walk everything; `step` is told how many lines more have been looked at."""
    heads, seals, stones = read_heads(connection), SealedRoots(connection), Tombstones(connection)
    lost = _lost_entries(connection, heads)
    names = {*chain_names(connection), *heads, *seals.chains()}
    broken: dict[str, Flaw] = {}
    for name in sorted(names, key=str.encode):
        head = heads.get(name)
        own = stones.of(name)
        walk = _walked(connection, name, head, own, seals.wanted(name))
        seals.pass_on(name, walk.passed)
        step(walk.lines)
        flaw = lost.pop(name, None) or walk.flaw or _end_flaw(walk, head)
        if flaw is not None:
            broken[name] = flaw
            yield flaw
        else:
            stones.settle(name, own, walk.disposed)
    yield from lost.values()
    yield from _content_flaws(connection, stones, broken.get("attachment"))
    if "tombstone" not in broken:
        yield from stones.flaws()
    yield from _register_flaws(connection, broken.keys())
    yield from seals.flaws(distrusted=broken.get(SEALS))
    yield from (Flaw("triggers", None, table, _UNGUARDED) for table in unguarded(connection))


def _walked(
    connection: sa.Connection,
    chain: str,
    head: Head | None,
    stones: Stones,
    wanted: Collection[int],
) -> _Walk:
    """Follow one chain to its end, checking it up to the first line that is broken."""
    walk, last, after_head = _Walk(chain), _BEFORE, 0 if head is None else head.seq + 1
    for line in raw_lines(connection, chain):
        if walk.flaw is None and not _follows(last, line, stones):
            walk.flaw = _line_flaw(chain, last, line)
        if (stone := stones.get(line.seq)) and stone.is_of(line.key, line.hash):
            walk.disposed.add(line.seq)
        if line.seq in wanted:
            walk.passed[line.seq] = line.hash
        if line.seq == after_head:
            walk.beyond = line.key
        last = line
        walk.lines += 1
    walk.last = last
    return walk


def _follows(last: RawLine, line: RawLine, stones: Stones) -> bool:
    """Say whether a line is the next one, and is as it was hashed or was disposed of since."""
    if line.seq != last.seq + 1 or line.previous != last.hash:
        return False
    if line.content is not None and link(last.hash, line.content) == line.hash:
        return True
    stone = stones.get(line.seq)
    return stone is not None and stone.excuses(line)


def _line_flaw(chain: str, last: RawLine, line: RawLine) -> Flaw:
    due = last.seq + 1
    if isinstance(line.seq, int) and line.seq > due:
        return Flaw(chain, due, "", f"{_lines_are(due, line.seq - 1)} missing in the middle")
    if line.seq != due:
        return Flaw(chain, line.seq, line.key, "it was put in: lines are counted from 1")
    if line.previous != last.hash:
        problem = "it does not follow from the line before: one of the two was put in or exchanged"
        return Flaw(chain, due, line.key, problem)
    return Flaw(chain, due, line.key, "it was changed after it was written")


def _lines_are(first: int, last: int) -> str:
    return f"line {first} is" if first == last else f"lines {first} to {last} are"


def _end_flaw(walk: _Walk, head: Head | None) -> Flaw | None:
    """Hold the end of a chain against its head, which is kept apart."""
    seq = walk.last.seq
    if head is None:
        problem = "its lines stand, but where it ends is not known: the head was removed"
        return Flaw(walk.chain, None, "", problem) if walk.lines else None
    if head.seq > seq:
        problem = f"{_lines_are(seq + 1, head.seq)} missing at its end"
        if seq == 0:
            problem = f"its {'only line is' if head.seq == 1 else f'{head.seq} lines are'} gone"
        return Flaw(walk.chain, seq + 1 if seq else None, "", problem)
    if head.seq < seq:
        problem = f"it was put in behind the program: the chain ends at line {head.seq}"
        return Flaw(walk.chain, head.seq + 1, walk.beyond, problem)
    if head.hash != walk.last.hash:
        return Flaw(walk.chain, seq, walk.last.key, "the chain's head knows it by another hash")
    return None


def _lost_entries(connection: sa.Connection, heads: Mapping[str, Head]) -> dict[str, Flaw]:
    """Entries whose unit is gone, by chain; which unit it was, the head of its chain tells."""
    entry, unit = schema.entry.c, schema.unit.c
    query = (
        sa.select(entry.unit_id, sa.func.min(entry.seq), sa.func.max(entry.seq), sa.func.count())
        .where(~sa.exists().where(unit.id == entry.unit_id))
        .group_by(entry.unit_id)
        .order_by(entry.unit_id)
    )
    chain_of = {head.hash: chain for chain, head in heads.items()}
    found: dict[str, Flaw] = {}
    for unit_id, first, last, count in connection.execute(query).all():
        of_unit = sa.select(entry.key, entry.hash).where(entry.unit_id == unit_id)
        key = connection.execute(of_unit.where(entry.seq == first)).scalar_one()
        digest = connection.execute(of_unit.where(entry.seq == last)).one().hash
        chain = chain_of.get(digest) or entry_chain(f"(unit number {unit_id})")
        problem = f"the unit is gone; {count} of its entries still stand, this is the first"
        found[chain] = Flaw(chain, first, key, problem)
    return found


def _content_flaws(
    connection: sa.Connection, stones: Tombstones, broken: Flaw | None
) -> Iterator[Flaw]:
    """Hold the content of each attached file against the hash that is its name."""
    file, content = schema.attachment.c, schema.attachment_content.c
    digest = sa.type_coerce(file.hash, sa.types.NullType())
    query = sa.select(file.seq, file.name, file.sha256, digest).order_by(file.seq)
    lines, disposed = connection.execute(query).all(), set()
    for seq, name, sha256, digest in lines:
        stone = stones.files.get(seq)
        if stone is not None and isinstance(digest, bytes) and stone.is_of(sha256, digest):
            disposed.add(seq)
        if broken is not None and broken.seq == seq:
            continue
        query = sa.select(sa.type_coerce(content.content, sa.types.NullType()))
        kept = connection.execute(query.where(content.sha256 == sha256)).scalar_one_or_none()
        if kept is None and seq not in disposed:
            yield Flaw("attachment", seq, name, "its content is gone and was not disposed of")
        elif kept is not None and not _bears(kept, sha256):
            yield Flaw("attachment", seq, name, "its content is not the one that was attached")
    if broken is None:
        yield from _stray_contents(connection, {sha256 for _, _, sha256, _ in lines})
        stones.settle("attachment", stones.files, disposed)


def _bears(content: object, sha256: str) -> bool:
    return isinstance(content, bytes) and hashlib.sha256(content).hexdigest() == sha256


def _stray_contents(connection: sa.Connection, known: Collection[str]) -> Iterator[Flaw]:
    column = schema.attachment_content.c.sha256
    for sha256 in connection.execute(sa.select(column).order_by(column)).scalars():
        if sha256 not in known:
            yield Flaw("attachment", None, sha256, "a content stands that was never attached")


def _register_flaws(connection: sa.Connection, broken: Collection[str]) -> Iterator[Flaw]:
    """Hold the tables of the register against what their change lines add up to.

    A table whose chain is broken is left out: nobody knows what its lines would add up to.
    """
    for table in TABLES:
        chain = register_chain(table)
        if chain not in broken:
            flaws = _table_flaws(connection, table)
            yield from (replace(flaw, chain=chain) for flaw in flaws)


def _table_flaws(connection: sa.Connection, table: str) -> Iterable[Flaw]:
    try:
        standing, replayed = standing_and_replayed(connection, table)
    except (LookupError, TypeError, ValueError) as error:
        first = (str(error) or type(error).__name__).splitlines()[0]
        return [Flaw("", None, "", f"the table {table} holds what cannot be read ({first})")]
    flaws = []
    for key in sorted(standing.keys() | replayed.keys()):
        if key not in standing:
            problem = f"the table {table} lacks it, though the change lines have it"
        elif key not in replayed:
            problem = f"the table {table} has it, though no change line put it there"
        elif standing[key] != replayed[key]:
            problem = f"the table {table} has it otherwise than the change lines add up to"
        else:
            continue
        flaws.append(Flaw("", None, " ".join(key), problem))
    return flaws
