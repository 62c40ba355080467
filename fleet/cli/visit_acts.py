"""What do the words UNIT=... of an option mean, and where do stop lists go?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from fleet.errors import BadInput, Fault
from fleet.files.attached import read_attached
from fleet.files.staging import check_free, staged
from fleet.services.disk import disk_told
from fleet.services.ports import AttachedFile

__all__ = ["by_unit", "files_by_unit", "write_lists"]


def write_lists(lists: Mapping[str, bytes], folder: Path, *, replace: bool) -> None:
    """Write stop lists into a folder, all or none."""
    check_free(folder, tuple(lists), replace=replace)
    with disk_told(folder), staged(folder, ".stop-lists-") as staging:
        for name, content in lists.items():
            staging.put(name, content)
        staging.check(replace=replace)
        staging.place(replace=replace)


def by_unit(option: str, words: Sequence[str]) -> dict[str, str]:
    """Texts by property number, from UNIT=TEXT; BadInput for what has another form."""
    found = {}
    for word in words:
        unit, is_there, text = word.partition("=")
        if not (is_there and unit.strip() and text.strip()):
            mend = "write the unit, = and the text: 'PN1034=...'"
            raise BadInput([Fault(f"--{option}", None, None, f"'{word}' is not UNIT=...", mend)])
        if unit.strip() in found:
            problem = f"{unit.strip()} is named twice"
            raise BadInput([Fault(f"--{option}", None, None, problem, "say all in one")])
        found[unit.strip()] = text.strip()
    return found


def files_by_unit(words: Sequence[str]) -> dict[str, AttachedFile]:
    """Certificates by property number, from UNIT=FILE, read and checked."""
    return {unit: read_attached(Path(name)) for unit, name in by_unit("certificate", words).items()}
