"""How do charts come into a folder? All files of a printing whole under their names, or none."""

from __future__ import annotations

import os
import re
import signal
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from fleet.errors import BadInput, Fault

__all__ = ["Staging", "check_free", "distinct_stems", "safe", "staged", "uninterrupted"]

_UNSAFE = re.compile(r"[^\w.-]+")
_MOST_BYTES = 120
"""Of a part of a name: file systems take 255 bytes of a whole one."""
_TOLD = 5
"""So many files that stand in the way are named."""


def safe(name: str) -> str:
    """What of a name may stand in the name of a file; '_' for what may not."""
    found = _UNSAFE.sub("_", name).strip(".") or "_"
    return found.encode()[:_MOST_BYTES].decode(errors="ignore")


def distinct_stems(stems: Iterable[str]) -> list[str]:
    """The stems, with a count behind those that are one on a file system blind to capitals."""
    found: list[str] = []
    taken: set[str] = set()
    for stem in stems:
        name, count = stem, 1
        while name.casefold() in taken:
            count += 1
            name = f"{stem}-{count}"
        taken.add(name.casefold())
        found.append(name)
    return found


def check_free(
    folder: Path, files: Sequence[str], folders: Sequence[str] = (), *, replace: bool
) -> None:
    """Refuse what stands in the way of new files and folders of HTML pages.

    With `replace` only a folder where a file is to be, a file where a folder is to be, and a folder
    that holds other things than pages.
    """
    named = [(name, False) for name in files] + [(name, True) for name in folders]
    faults = []
    for path, is_folder in ((folder / name, is_folder) for name, is_folder in named):
        if not (path.exists() or path.is_symlink()):
            continue
        mend = "give another folder as --out"
        if not replace:
            mend += ", or say --replace"
            faults.append(Fault(str(path), None, None, "it is there already", mend))
        elif path.is_dir() != is_folder:
            problem = f"it is a {'file' if is_folder else 'folder'}"
            faults.append(Fault(str(path), None, None, problem, mend))
        elif is_folder and any(map(_is_foreign, path.iterdir())):
            problem = "the folder holds other things than pages of charts"
            faults.append(Fault(str(path), None, None, problem, mend))
    if faults:
        raise BadInput(faults[:_TOLD], len(faults))


def _is_foreign(path: Path) -> bool:
    return path.suffix != ".html" or path.is_dir()


class Staging:
    """Files on their way into a folder; they wait in a hidden one beside their places."""

    def __init__(self, folder: Path, waiting: Path) -> None:
        self._folder, self._new, self._old = folder, waiting / "new", waiting / "old"
        self._names: list[str] = []
        self._new.mkdir()
        self._old.mkdir()

    def put(self, name: str, content: bytes) -> None:
        """Write a file."""
        _write(self._new / name, content)
        self._names.append(name)

    def put_folder(self, name: str, files: Mapping[str, str]) -> None:
        """Write a folder with these pages in it."""
        (self._new / name).mkdir()
        for own, text in files.items():
            _write(self._new / name / own, text.encode())
        self._names.append(name)

    def place(self) -> None:
        """Give everything its name; what stood there goes."""
        for name in self._names:
            target = self._folder / name
            if target.is_dir():
                target.rename(self._old / name)
            (self._new / name).replace(target)


def _write(path: Path, content: bytes) -> None:
    """Write a file through to the disk, so that one that is full tells now."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def staged(folder: Path) -> Iterator[Staging]:
    """A place for new files; what was not placed when the block ends goes, made folders too."""
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with TemporaryDirectory(dir=folder, prefix=".charts-") as waiting:
            yield Staging(folder, Path(waiting))
    finally:
        for path in made:
            if any(path.iterdir()):
                break
            path.rmdir()


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Let no Ctrl-C part what is kept from the files that are its paper."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)
