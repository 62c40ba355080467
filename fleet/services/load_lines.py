"""How does an export become a record again, line by line as it was hashed? All or nothing.

The lines are appended as they were written elsewhere, with their instants, authors and doors, each
hash worked out anew and compared; what the lines add up to is rebuilt from them. Before it is
kept, the whole record is walked as `verify` does.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from hashlib import sha256
from itertools import zip_longest

from fleet.domain.chain import Flaw, Line, root_of
from fleet.errors import BadInput, Fault
from fleet.services.checked import checked
from fleet.services.line_tables import TABLE_OF_CHAIN, chains_in_order, table_of
from fleet.services.load_ports import LineFiles, LoadReport, Progress, TableCount
from fleet.services.ports import Record, Store

__all__ = ["load_lines"]

_FILE = "lines.tsv"
_AS_WRITTEN = "load the export as it was written"
_STEP = 1_000


def load_lines(
    store: Store,
    files: LineFiles,
    rebuild: Callable[[Record, Sequence[int]], None],
    *,
    progress: Progress,
    dry_run: bool = False,
) -> LoadReport:
    """Load an export into an empty record; one that holds the same lines already stays as it is.

    Raises BadInput for what is not as it was written, and where the record holds anything else;
    then, and with `dry_run`, nothing is kept.
    """
    files.check()
    with store.begin(write=True) as record:
        counted = _Counted(progress)
        lines = counted.of(files.lines())
        is_new = not record.heads() and not record.unit_ids()
        if is_new:
            _take(record, files, lines)
            _check_whole(record, progress)
            rebuild(record, sorted(set(record.unit_ids().values())))
        else:
            _compare(record, lines)
        root = root_of(record.heads())
        if is_new and not dry_run:
            record.commit()
    remarks = (
        f"the counts are of lines in {_FILE}, each change by itself; the CSV files were not read",
        f"root {root}",
    )
    return LoadReport(counted.tables(is_new), remarks, dry_run)


def _take(record: Record, files: LineFiles, lines: Iterable[Line]) -> None:
    flaw = record.take_lines(lines)
    if flaw is not None:
        raise BadInput([_named(flaw)])
    known = {attachment.sha256: attachment for attachment in record.attachments()}
    for name, content in files.contents():
        if name not in known:
            raise _refused(f"attachments/{name}", f"no line of {_FILE} tells of it")
        if sha256(content).hexdigest() != name or len(content) != known[name].size:
            raise _refused(f"attachments/{name}", "it is another file than the one attached")
        record.keep_content(name, content)


def _check_whole(record: Record, progress: Progress) -> None:
    """Refuse what is no whole record: also lines with right hashes may not belong together."""
    flaws = checked(record, progress).flaws
    if flaws:
        raise BadInput([_named(flaw) for flaw in flaws])


def _named(flaw: Flaw) -> Fault:
    line = f", line {flaw.seq}" if flaw.seq else ""
    key = f" ({flaw.key})" if flaw.key.strip() else ""
    place = f"{_FILE}, chain {flaw.chain}{line}{key}"
    return Fault(place, None, None, flaw.problem, _AS_WRITTEN)


def _compare(record: Record, lines: Iterable[Line]) -> None:
    """Refuse the lines unless the record holds exactly these."""
    standing = (
        line for chain in chains_in_order(record.unit_ids()) for line in record.lines([chain])
    )
    for given, stands in zip_longest(lines, standing):
        line = given or stands
        if line is not None and given != stands:
            place = f"chain {line.chain}, line {line.seq}"
            problem = "the database holds another record"
            mend = "load the export into a new database: name one with --database"
            raise BadInput([Fault(f"{_FILE}, {place}", None, None, problem, mend)])


def _refused(place: str, problem: str) -> BadInput:
    return BadInput([Fault(place, None, None, problem, _AS_WRITTEN)])


class _Counted:
    """Counts lines by the table they are of, and tells how many have passed."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._lines: Counter[str] = Counter()

    def of(self, lines: Iterable[Line]) -> Iterator[Line]:
        for passed, line in enumerate(lines, start=1):
            self._lines[line.chain] += 1
            if not passed % _STEP:
                self._progress.step(_STEP)
            yield line

    def tables(self, is_new: bool) -> dict[str, TableCount]:
        """The counts of the tables that have a line, in the order of an export."""
        found: Counter[str] = Counter()
        for chain, lines in self._lines.items():
            found[table_of(chain)] += lines
        return {
            table: TableCount(new=found[table]) if is_new else TableCount(unchanged=found[table])
            for table in (*TABLE_OF_CHAIN.values(), "entries")
            if found[table]
        }
