"""Is a folder an export, is it as it was written, and what do its lines and attachments say?"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from fleet.domain.chain import Line
from fleet.domain.texts import shown
from fleet.files.export_files import ATTACHMENTS, SUMS, sha256_of
from fleet.files.line_file import LINES, read_line_file
from fleet.services.load_ports import Faults

__all__ = ["WrittenExport", "export_among"]

_SUM = re.compile(r"([0-9a-f]{64}) [ *](.+)")
_MEND = f"load the export as it was written, or the changed CSV files without {LINES}"


def export_among(paths: Sequence[Path]) -> WrittenExport | None:
    """The export among paths, None where there is none; BadInput where it is not alone."""
    folders = [path for path in paths if (path / LINES).exists()]
    files = [path for path in paths if path.name == LINES and path.is_file()]
    if not folders and not files:
        return None
    faults = Faults()
    for path in files:
        problem = f"it is read together with the {SUMS} and the attachments beside it"
        faults.add(str(path), None, None, problem, "name the folder in which it stands")
    if not files and len(paths) > 1:
        problem = "an export is loaded by itself"
        faults.add(str(folders[0]), None, None, problem, "load what else there is after it")
    faults.raise_if_any()
    return WrittenExport(folders[0])


class WrittenExport:
    """Implements `fleet.services.load_lines.LineFiles` on a folder with lines.tsv."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def check(self) -> None:
        """Compare every file with SHA256SUMS; BadInput names each that differs."""
        faults = Faults()
        sums = self._sums(faults)
        faults.raise_if_any()
        there = dict(_files(self._folder))
        for name in sorted(sums.keys() - there.keys()):
            faults.add(name, None, None, f"{SUMS} names it, but it is missing", _MEND)
        for name in sorted(there.keys() - sums.keys()):
            faults.add(name, None, None, f"{SUMS} does not name it", f"move it away, or {_MEND}")
        for name in sorted(there.keys() & sums.keys()):
            if sha256_of(there[name]) != sums[name]:
                problem = "it was changed after it was written"
                faults.add(name, None, None, problem, _MEND)
        faults.raise_if_any()

    def lines(self) -> Iterator[Line]:
        """The lines, in the order of the file."""
        return read_line_file(self._folder / LINES)

    def contents(self) -> Iterator[tuple[str, bytes]]:
        """Each attached file: its SHA-256, and its content, which may be another's."""
        folder = self._folder / ATTACHMENTS
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            if not path.name.startswith("."):
                yield path.name.partition(".")[0], path.read_bytes()

    def _sums(self, faults: Faults) -> dict[str, str]:
        path = self._folder / SUMS
        sums: dict[str, str] = {}
        try:
            text = path.read_text(encoding="utf-8")
        except FileNotFoundError:
            faults.add(SUMS, None, None, f"it is missing beside {LINES}", _MEND)
            return sums
        except UnicodeDecodeError:
            faults.add(SUMS, None, None, "the text is not UTF-8", _MEND)
            return sums
        for row, line in enumerate(text.splitlines(), start=1):
            if match := _SUM.fullmatch(line):
                sums[match[2]] = match[1]
            else:
                problem = f"{shown(line)} is not a hash and the name of a file"
                faults.add(SUMS, row, None, problem, _MEND)
        return sums


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    """Every file but SHA256SUMS and those that a desktop leaves, by its name in the folder."""
    for path in folder.rglob("*"):
        place = path.relative_to(folder)
        is_hidden = any(part.startswith((".", "~$")) for part in place.parts)
        if path.is_file() and place.as_posix() != SUMS and not is_hidden:
            yield place.as_posix(), path
