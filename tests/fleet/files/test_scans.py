"""Files as scanners, phones, fax services and mail programs send them, and files that are none."""

from __future__ import annotations

import datetime as dt
import io
import mailbox
import struct
import zlib
from collections.abc import Callable
from email.message import EmailMessage
from pathlib import Path

import numpy as np
import pytest
from fpdf import FPDF
from fpdf.enums import EncryptionMethod
from PIL import Image

from fleet.errors import BadInput
from fleet.files import scans
from fleet.files.scans import ScanFile, Scanned, files_at, pictures

SHAPE = (600, 800)


def page(seed: int = 1, shape: tuple[int, int] = SHAPE) -> Image.Image:
    grey = np.full(shape, 255, np.uint8)
    grey[20 : 20 + 10 * seed, 30:90] = 0
    return Image.fromarray(grey)


def as_file(image: Image.Image, kind: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def pdf(*images: Image.Image, password: str = "", inches: float = 11) -> bytes:
    paper = FPDF(unit="in", format=(8.5, inches))
    paper.set_creation_date(dt.datetime(2026, 1, 1, tzinfo=dt.UTC))
    for image in images:
        paper.add_page(orientation="landscape")
        paper.image(image, 0, 0, w=inches)
    if password:
        paper.set_encryption("owner", password, EncryptionMethod.RC4)
    return bytes(paper.output())


def read(name: str, content: bytes) -> list[Scanned]:
    return list(pictures([ScanFile(name, content)]))


def picture(name: str, content: bytes) -> np.ndarray:
    (one,) = read(name, content)
    assert one.problem == ""
    assert one.picture is not None
    return np.asarray(one.picture)


@pytest.mark.parametrize("kind", ["PNG", "BMP", "TIFF", "WEBP", "JPEG"])
def test_a_picture_of_any_usual_kind_is_read_in_grey(kind: str) -> None:
    lossless = {"lossless": True} if kind == "WEBP" else {}
    found = picture("scan", as_file(page().convert("RGB"), kind, **lossless))

    assert found.shape == SHAPE
    assert found.dtype == np.uint8
    assert np.abs(found.astype(int) - np.asarray(page())).max() <= 30


def test_the_pages_of_a_fax_keep_their_pixels_however_long_those_are() -> None:
    """ITU-T T.6 in a TIFF of several pages, 204 dots an inch across and 98 lines an inch."""
    sheets = [page(n, (300, 864)).convert("1") for n in (1, 2, 3)]
    more = {"save_all": True, "append_images": sheets[1:], "compression": "group4"}
    found = read("fax.tif", as_file(sheets[0], "TIFF", dpi=(204, 98), **more))

    assert [one.sheet for one in found] == [1, 2, 3]
    for one, sheet in zip(found, sheets, strict=True):
        assert one.picture is not None
        assert np.array_equal(one.picture, np.asarray(sheet.convert("L")))


def test_a_photo_lies_as_the_camera_was_held() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # CIPA DC-008, Orientation: turn to the right to see it upright
    lying = as_file(page(), "JPEG", exif=exif, quality=95)

    assert picture("photo.jpg", lying).shape == SHAPE[::-1]


def test_what_can_be_seen_through_lies_on_white_paper() -> None:
    clear = Image.new("RGBA", SHAPE[::-1], (0, 0, 0, 0))
    assert picture("clear.png", as_file(clear, "PNG")).min() == 255


def test_a_scan_in_a_pdf_is_drawn_at_its_own_resolution() -> None:
    for dpi, expected in ((150, 150), (300, 300), (600, 300), (60, 100)):
        image = page(1, (int(8.5 * dpi), 11 * dpi))
        (one,) = read("scan.pdf", pdf(image))
        assert one.picture is not None
        assert one.picture.shape[1] == pytest.approx(11 * expected, abs=3)


def test_every_page_of_a_pdf_is_a_sheet() -> None:
    found = read("three.pdf", pdf(page(1), page(2), page(3)))
    assert [one.sheet for one in found] == [1, 2, 3]


def test_a_large_picture_is_made_smaller() -> None:
    found = picture("large.png", as_file(page(1, (4000, 6000)), "PNG"))
    assert found.shape == (2400, 3600)


def png_that_claims(wide: int, high: int) -> bytes:
    """A PNG whose head tells of any size (ISO/IEC 15948), with hardly any content."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        checked = kind + content
        return struct.pack(">I", len(content)) + checked + struct.pack(">I", zlib.crc32(checked))

    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    rows = zlib.compress(bytes(10_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def fpdf_of_pages(count: int) -> bytes:
    paper = FPDF(format=(20, 20))
    for _ in range(count):
        paper.add_page()
    return bytes(paper.output())


BAD: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing": (lambda: b"", "the file is empty"),
    "a text": (
        lambda: b"Happy holidays to all of you",
        "it is no picture, PDF or mail that can be read: send PDF, TIFF, PNG or JPEG",
    ),
    "a PDF with a password": (
        lambda: pdf(page(), password="secret"),
        "it is locked by a password: save it without one and send it again",
    ),
    "a PDF cut short": (
        lambda: pdf(page())[:400],
        "the file is damaged: save or scan it again",
    ),
    "a JPEG cut short": (
        lambda: as_file(page(), "JPEG")[:700],
        "the file is damaged: save or scan it again",
    ),
    "A0 at 600 dots an inch": (
        lambda: png_that_claims(19866, 28087),
        "its picture has more than 80 million pixels: scan it at 200 to 300 dpi",
    ),
    "a picture that says it is endless": (
        lambda: png_that_claims(200_000, 200_000),
        "its picture has more than 80 million pixels: scan it at 200 to 300 dpi",
    ),
    "a stamp": (
        lambda: as_file(page(1, (90, 120)), "PNG"),
        "its picture is only 120 by 90 pixels: scan it at 200 dpi",
    ),
    "a book": (lambda: fpdf_of_pages(201), "it has 201 pages: send at most 200 a file"),
    "a phone's own kind": (
        lambda: b"\0\0\0\x18ftypheic" + bytes(64),
        "it is a HEIC photo: set the phone to take JPEG photos, or send it as JPEG",
    ),
    "too many bytes": (
        lambda: bytes(scans.MOST_BYTES + 1),
        "it is larger than 50 MB: scan it at 200 to 300 dpi, a few pages a file",
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_what_cannot_be_read_is_told_in_a_sentence(what: str) -> None:
    make, told = BAD[what]
    (one,) = read("sent", make())
    assert (one.problem, one.picture) == (told, None)


def test_a_page_of_any_size_becomes_no_larger_a_picture() -> None:
    """A page of 5 by 5 metres."""
    paper = FPDF(unit="mm", format=(5_000, 5_000))
    paper.add_page()
    found = picture("wall.pdf", bytes(paper.output()))
    assert max(found.shape) <= 3_601


def test_one_bad_file_does_not_stop_the_others() -> None:
    files = [ScanFile("a.txt", b"no"), ScanFile("b.png", as_file(page(), "PNG"))]
    found = list(pictures(files))
    assert [(one.file.name, bool(one.problem)) for one in found] == [
        ("a.txt", True),
        ("b.png", False),
    ]


def test_a_folder_is_read_by_name_and_hidden_files_are_passed_over(tmp_path: Path) -> None:
    inner = tmp_path / "march"
    inner.mkdir()
    (tmp_path / ".DS_Store").write_bytes(b"x")
    (inner / "b.png").write_bytes(as_file(page(2), "PNG"))
    (inner / "a.png").write_bytes(as_file(page(1), "PNG"))
    (tmp_path / "z.tif").write_bytes(as_file(page(3), "TIFF"))

    names = [one.name for one in files_at([tmp_path])]

    top = tmp_path.name
    assert names == [f"{top}/march/a.png", f"{top}/march/b.png", f"{top}/z.tif"]


def test_a_path_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        list(files_at([tmp_path / "none.pdf"]))
    assert str(caught.value).endswith("none.pdf: there is no such file or folder; check the path")


def mail(*files: tuple[str, str, bytes]) -> EmailMessage:
    message = EmailMessage()
    message["From"], message["Subject"] = "fax@fax.example", "Fax received"
    message.set_content("See the pages attached.")
    for name, kind, content in files:
        main, sub = kind.split("/")
        message.add_attachment(content, maintype=main, subtype=sub, filename=name)
    return message


def test_a_box_of_fax_mails_gives_what_is_attached(tmp_path: Path) -> None:
    tiff = as_file(page(1).convert("1"), "TIFF", compression="group4")
    passed_on = mail(("scan.pdf", "application/pdf", pdf(page(2))))
    outer = EmailMessage()
    outer["Subject"] = "Fwd"
    outer.set_content("for you")
    outer.add_attachment(passed_on)
    box = mailbox.mbox(tmp_path / "faxes.mbox")
    box.add(mail(("fax.tif", "image/tiff", tiff), ("notes.txt", "text/plain", b"hello")))
    box.add(outer)
    box.add(mail(("fax.TIF", "application/octet-stream", tiff)))
    box.close()

    found = list(pictures(files_at([tmp_path / "faxes.mbox"])))

    assert [one.file.name for one in found] == [
        "faxes.mbox, mail 1, fax.tif",
        "faxes.mbox, mail 2, scan.pdf",
        "faxes.mbox, mail 3, fax.TIF",
    ]
    assert all(one.picture is not None for one in found)


def test_a_mail_without_a_picture_says_so() -> None:
    (one,) = read("hello.eml", bytes(mail()))
    assert one.problem == "no mail in it has a picture or PDF attached"
