"""Which pictures are in the files that came in: scans, faxes, photos, PDFs, mails with them?

What cannot be read is told in a sentence, beside what can: one bad file never stops the others. A
picture's size is judged by its head before it is unpacked, so that a small file cannot become a
large picture.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from numpy.typing import NDArray

from fleet.errors import BadInput, Fault
from fleet.files.scan_mails import is_mail, parts_of_mail

__all__ = ["MOST_BYTES", "ScanFile", "Scanned", "files_at", "pictures"]

MOST_BYTES: Final = 50 * 2**20
_MOST_PIXELS: Final = 80_000_000
_LONGEST, _SHORTEST = 3_600, 400
"""Pixels: longer pictures are made smaller; one whose long side is shorter has no chart in it."""
_MOST_PAGES: Final = 200
_DPI, _LEAST_DPI, _MOST_DPI = 200, 100, 300
_POINTS: Final = 72
_HEIC: Final = (b"heic", b"heix", b"hevc", b"mif1", b"msf1")
_NO_PICTURE = "it is no picture, PDF or mail that can be read: send PDF, TIFF, PNG or JPEG"
_TOO_LARGE = "it is larger than 50 MB: scan it at 200 to 300 dpi, a few pages a file"
_TOO_MANY_PIXELS = "its picture has more than 80 million pixels: scan it at 200 to 300 dpi"
_TOO_SMALL = "its picture is only {wide} by {high} pixels: scan it at 200 dpi"
_LOCKED = "it is locked by a password: save it without one and send it again"
_MANY_PAGES = "it has {pages} pages: send at most 200 a file"
_PHONE = "it is a HEIC photo: set the phone to take JPEG photos, or send it as JPEG"
_BROKEN = "the file is damaged: save or scan it again"
_EMPTY = "the file is empty"


@dataclass(frozen=True, slots=True)
class ScanFile:
    """One file as it came."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Scanned:
    """One picture of a file, or why there is none."""

    file: ScanFile
    sheet: int
    """Of the file, from 1."""
    picture: NDArray[Any] | None
    """uint8, height x width, 255 white."""
    problem: str = ""


def files_at(paths: Iterable[Path]) -> Iterator[ScanFile]:
    """The files at some paths, those of folders and what lies in them by name.

    Hidden files of folders are passed over. Raises BadInput for a path that is not there.
    """
    for path in paths:
        if path.is_dir():
            inner = (one for one in sorted(path.rglob("*")) if one.is_file())
            shown = (one for one in inner if not _is_hidden(one.relative_to(path)))
            for one in shown:
                yield _file(one, str(one.relative_to(path.parent)))
        elif path.exists():
            yield _file(path, path.name)
        else:
            problem = "there is no such file or folder"
            raise BadInput([Fault(str(path), None, None, problem, "check the path")])


def _is_hidden(path: Path) -> bool:
    return any(part.startswith((".", "__MACOSX")) for part in path.parts)


def _file(path: Path, name: str) -> ScanFile:
    """Of a file that is too large only so much that this is seen."""
    with path.open("rb") as file:
        return ScanFile(name, file.read(MOST_BYTES + 1))


def pictures(files: Iterable[ScanFile]) -> Iterator[Scanned]:
    """The pictures of files, in their order; of mails those that are attached."""
    for file in files:
        if is_mail(file.name, file.content) and len(file.content) <= MOST_BYTES:
            parts = list(parts_of_mail(file.name, file.content))
            if not parts:
                yield Scanned(file, 1, None, "no mail in it has a picture or PDF attached")
            for name, content in parts:
                yield from _of_file(ScanFile(name, content))
        else:
            yield from _of_file(file)


def _of_file(file: ScanFile) -> Iterator[Scanned]:
    try:
        for sheet, picture in enumerate(_sheets(file.content), 1):
            if isinstance(picture, str):
                yield Scanned(file, sheet, None, picture)
            else:
                yield _measured(file, sheet, picture)
    except _Unreadable as error:
        yield Scanned(file, 1, None, str(error))


class _Unreadable(Exception):
    """A whole file that cannot be read; its words say why."""


def _sheets(content: bytes) -> Iterator[NDArray[Any] | str]:
    if not content:
        raise _Unreadable(_EMPTY)
    if len(content) > MOST_BYTES:
        raise _Unreadable(_TOO_LARGE)
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC:
        raise _Unreadable(_PHONE)
    if b"%PDF-" in content[:1024]:
        return _pages_of_pdf(content)
    return _frames_of_picture(content)


def _pages_of_pdf(content: bytes) -> Iterator[NDArray[Any] | str]:
    """The pages, each at the resolution of the scan it holds, else at 200 dots an inch."""
    import pypdfium2 as pdfium

    try:
        document = pdfium.PdfDocument(content)
    except pdfium.PdfiumError as error:
        raise _Unreadable(_LOCKED if "password" in str(error).lower() else _BROKEN) from None
    try:
        if len(document) > _MOST_PAGES:
            raise _Unreadable(_MANY_PAGES.format(pages=len(document)))
        for number in range(len(document)):
            try:
                yield _drawn(document[number])
            except pdfium.PdfiumError:
                yield _BROKEN
    finally:
        document.close()


def _drawn(page: Any) -> NDArray[Any]:  # noqa: ANN401 - PDFium has no types
    import numpy as np

    width, height = page.get_size()
    longest = max(width, height, 1.0)
    scale = min(_resolution(page) / _POINTS, _LONGEST / longest)
    shown = page.render(scale=scale, grayscale=True).to_numpy()
    return np.ascontiguousarray(shown.reshape(shown.shape[:2]))


def _resolution(page: Any) -> float:  # noqa: ANN401 - PDFium has no types
    """Dots an inch of the largest picture on a page, within what is of use."""
    from pypdfium2.raw import FPDF_PAGEOBJ_IMAGE

    found = 0.0
    for one in page.get_objects(filter=(FPDF_PAGEOBJ_IMAGE,), max_depth=2):
        left, bottom, right, top = one.get_bounds()
        wide, high = one.get_px_size()
        if right - left > page.get_width() / 2 and top - bottom > page.get_height() / 2:
            found = max(found, min(wide, high) * _POINTS / min(right - left, top - bottom))
    return min(max(found, _LEAST_DPI), _MOST_DPI) if found else _DPI


def _frames_of_picture(content: bytes) -> Iterator[NDArray[Any] | str]:
    from PIL import Image, UnidentifiedImageError

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of Pillow, on sizes: they are judged here
        try:
            image = Image.open(io.BytesIO(content))
            frames = getattr(image, "n_frames", 1)
        except Image.DecompressionBombError:
            raise _Unreadable(_TOO_MANY_PIXELS) from None
        except (UnidentifiedImageError, OSError, ValueError):
            raise _Unreadable(_NO_PICTURE) from None
        if frames > _MOST_PAGES:
            raise _Unreadable(_MANY_PAGES.format(pages=frames))
        for turn in range(frames):
            yield _frame(image, turn)


def _frame(image: Any, turn: int) -> NDArray[Any] | str:  # noqa: ANN401 - of any format
    import numpy as np
    from PIL import Image, ImageOps

    try:
        image.seek(turn)
        wide, high = image.size
        if wide * high > _MOST_PIXELS:
            return _TOO_MANY_PIXELS
        if max(wide, high) < _SHORTEST:
            return _TOO_SMALL.format(wide=wide, high=high)
        image.draft("L", (_LONGEST, _LONGEST))
        upright = ImageOps.exif_transpose(image)
        grey = _on_white(upright).convert("L")
    except (OSError, ValueError, EOFError, SyntaxError, Image.DecompressionBombError):
        return _BROKEN
    return np.ascontiguousarray(np.asarray(grey, np.uint8))


def _on_white(image: Any) -> Any:  # noqa: ANN401 - of any format
    """What can be seen through is laid on white paper."""
    from PIL import Image

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        seen = image.convert("RGBA")
        return Image.alpha_composite(Image.new("RGBA", seen.size, "white"), seen)
    return image


def _measured(file: ScanFile, sheet: int, picture: NDArray[Any]) -> Scanned:
    """The picture, made smaller where it has more pixels than are of use."""
    high, wide = picture.shape
    if max(wide, high) < _SHORTEST:
        return Scanned(file, sheet, None, _TOO_SMALL.format(wide=wide, high=high))
    if max(wide, high) > _LONGEST:
        import numpy as np
        from PIL import Image

        share = _LONGEST / max(wide, high)
        size = max(1, round(wide * share)), max(1, round(high * share))
        small = Image.fromarray(picture).resize(size, Image.Resampling.BOX)
        picture = np.ascontiguousarray(np.asarray(small))
    return Scanned(file, sheet, picture)
