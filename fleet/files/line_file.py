"""How do the lines of every chain stand in a file? One a line of text, as it was hashed.

`lines.tsv` is UTF-8: chain TAB number TAB hash in hexadecimal TAB content. The content is canonical
JSON, in which tabs and line ends are escaped; so nothing in a line needs quoting.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO

from fleet.domain.chain import Line
from fleet.domain.texts import shown
from fleet.errors import BadInput, Fault, StoreError

__all__ = ["LINES", "read_line_file", "write_line_file"]

LINES = "lines.tsv"
AS_WRITTEN = "load the export as it was written"
_NUMBER, _HASH = re.compile(r"[1-9][0-9]{0,8}"), re.compile(r"[0-9a-f]{64}")


def write_line_file(file: IO[bytes], lines: Iterable[Line]) -> None:
    """Write lines in the order they come; StoreError for one that no text can hold."""
    for line in lines:
        try:
            text = f"{line.chain}\t{line.seq}\t{line.hash.hex()}\t{line.content}\n".encode()
        except UnicodeEncodeError:
            text = b""
        if not line.content or text.count(b"\t") != 3 or text.count(b"\n") != 1:
            raise StoreError(
                f"chain {shown(line.chain)}, line {line.seq}: it holds what the program never"
                " writes; run dueward verify, then restore a backup"
            )
        file.write(text)


def read_line_file(path: Path) -> Iterator[Line]:
    """Read lines one after another; BadInput names the first row that is none."""
    with path.open("rb") as file:
        for row, text in enumerate(file, start=1):
            yield _line(path.name, row, text)


def _line(name: str, row: int, text: bytes) -> Line:
    try:
        cells = text.decode().split("\t", 3)
    except UnicodeDecodeError:
        raise _refused(name, row, "the text is not UTF-8") from None
    if not text.endswith(b"\n"):
        raise _refused(name, row, "the line is cut off")
    if len(cells) != 4 or not _NUMBER.fullmatch(cells[1]) or not _HASH.fullmatch(cells[2]):
        raise _refused(name, row, "it is not chain, number, hash and content, parted by tabs")
    return Line(cells[0], int(cells[1]), bytes.fromhex(cells[2]), cells[3][:-1])


def _refused(name: str, row: int, problem: str) -> BadInput:
    return BadInput([Fault(name, row, None, problem, AS_WRITTEN)])
