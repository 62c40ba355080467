"""How do new files come into a folder? All of them whole under their names, or none.

They wait in a hidden folder beside their places. Where one cannot be given its name, those that
still wait stay there, and it is said where.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp
from typing import IO

from fleet.errors import BadInput, Fault, StoreError

__all__ = ["NotPlaced", "Staging", "check_free", "distinct_stems", "safe", "staged", "sync"]

_UNSAFE = re.compile(r"[^\w.-]+")
_MOST_BYTES = 96
"""Of a part of a name, of which there are two: file systems take 255 bytes of a whole one."""
_HASH_SIGNS = 6
_TOLD = 5
"""So many files that stand in the way are named."""


class NotPlaced(StoreError):
    """A file that could not be given its name; it waits in `waiting` with those after it."""

    def __init__(self, target: Path, said: str, waiting: Path) -> None:
        self.target, self.said, self.waiting = target, said, waiting
        super().__init__(f"{target}: {said}; the files wait in {waiting}; move them from there")


def safe(name: str) -> str:
    """A name as it may stand in the name of a file.

    Where that is another one a part of its SHA-256 follows, so that no two names become one.
    """
    found = _UNSAFE.sub("_", name).strip(".").encode()[:_MOST_BYTES].decode(errors="ignore")
    if found == name:
        return name
    return f"{found or '_'}-{hashlib.sha256(name.encode()).hexdigest()[:_HASH_SIGNS]}"


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
            problem = "the folder holds other things than HTML pages"
            faults.append(Fault(str(path), None, None, problem, mend))
    if faults:
        raise BadInput(faults[:_TOLD], len(faults))


def _is_foreign(path: Path) -> bool:
    return path.suffix != ".html" or path.is_dir()


class Staging:
    """Files on their way into a folder."""

    def __init__(self, folder: Path, waiting: Path) -> None:
        self._folder, self._new, self._old = folder, waiting / "new", waiting / "old"
        self._files: list[str] = []
        self._folders: list[str] = []
        self.is_kept = False
        """Whether what waits stays when the block of `staged` ends."""
        self._new.mkdir()
        self._old.mkdir()

    def put(self, name: str, content: bytes) -> None:
        """Write a file."""
        _write(self._new / name, content)
        self._files.append(name)

    def put_folder(self, name: str, files: Mapping[str, str]) -> None:
        """Write a folder with these pages in it."""
        (self._new / name).mkdir()
        for own, text in files.items():
            _write(self._new / name / own, text.encode())
        self._folders.append(name)

    def check(self, *, replace: bool) -> None:
        """Refuse what stands in the way by now, as `check_free`."""
        check_free(self._folder, self._files, self._folders, replace=replace)

    def place(self, *, replace: bool) -> None:
        """Give everything its name; what stood there goes if it may, or else NotPlaced is raised.

        Then nothing that still waits is taken away.
        """
        for name in (*self._files, *self._folders):
            target = self._folder / name
            try:
                if replace:
                    self._put_in_place_of(name, target)
                else:
                    _put_where_nothing_is(self._new / name, target)
            except OSError as refused:
                self.is_kept = True
                said = refused.strerror or type(refused).__name__
                raise NotPlaced(target, said, self._new) from refused

    def _put_in_place_of(self, name: str, target: Path) -> None:
        if target.is_dir():
            target.rename(self._old / name)
        (self._new / name).replace(target)


def _put_where_nothing_is(new: Path, target: Path) -> None:
    """Give a file or folder its name, and never to the loss of what took it meanwhile."""
    if new.is_dir():
        new.rename(target)  # refused where a folder with anything in it is, or a file
        return
    try:
        os.link(new, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if target.exists():
            raise
        new.rename(target)
    else:
        new.unlink()


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        sync(file)


def sync(file: IO[bytes] | IO[str]) -> None:
    """Write a file through to the disk, so that one that is full tells now."""
    file.flush()
    os.fsync(file.fileno())


@contextmanager
def staged(folder: Path, prefix: str) -> Iterator[Staging]:
    """A place for new files; what was not placed when the block ends goes, made folders too."""
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    try:
        waiting = Path(mkdtemp(dir=folder, prefix=prefix))
        staging = Staging(folder, waiting)
        try:
            yield staging
        finally:
            if not staging.is_kept:
                shutil.rmtree(waiting, ignore_errors=True)
    finally:
        for path in made:
            if any(path.iterdir()):
                break
            path.rmdir()
