"""Which files may be kept beside the record, and which are refused before they are?"""

from __future__ import annotations

import hashlib
import io
import os
import socket
import struct
import tracemalloc
import zlib
from pathlib import Path

import pytest
from fpdf import FPDF
from PIL import Image

from fleet.errors import BadInput
from fleet.files.attached import MOST_BYTES, cleaned_name, read_attached
from fleet.files.pdf_content import MOST_UNFOLDED
from tests.fleet.files.certificates import (
    JPEG,
    PLAIN_PDF,
    PNG,
    TIFF,
    object_stream,
    pdf,
    png_chunk,
    stream,
)

ANEW = "print it to a new PDF without it, or scan it"
AGAIN = "get the whole file again, or scan the certificate"
PICTURE = "save or scan the picture anew, and attach that"
KINDS = "attach the certificate as a PDF, PNG, JPEG or TIFF"
SCRIPT = f"the PDF holds a script (/JavaScript); {ANEW}"
ACTION = b"<</S/JavaScript/JS(app.alert\\(1\\))>>"
CUT = f"the PDF is cut short: its end is missing; {AGAIN}"
UNSEEN = f"the PDF holds objects packed in a way that is not looked into; {ANEW}"


def refusal(folder: Path, content: bytes, name: str = "report.pdf") -> str:
    file = folder / name
    file.write_bytes(content)
    with pytest.raises(BadInput) as refused:
        read_attached(file)
    return str(refused.value)


@pytest.mark.parametrize(
    ("content", "name", "media_type"),
    [
        (PLAIN_PDF, "report.pdf", "application/pdf"),
        (PLAIN_PDF, "report", "application/pdf"),
        (pdf(object_stream(b"<</Type/Font>>")), "report.pdf", "application/pdf"),
        (PNG, "scan.png", "image/png"),
        (PNG, "report.pdf", "image/png"),
        (JPEG, "scan.jpg", "image/jpeg"),
        (TIFF, "scan.tif", "image/tiff"),
    ],
    ids=["PDF", "PDF without ending", "packed objects", "PNG", "PNG named .pdf", "JPEG", "TIFF"],
)
def test_what_a_file_is_is_told_by_its_bytes(
    tmp_path: Path, content: bytes, name: str, media_type: str
) -> None:
    file = tmp_path / name
    file.write_bytes(content)

    kept = read_attached(file)

    assert kept.content == content
    assert (kept.attachment.name, kept.attachment.media_type) == (name, media_type)
    assert kept.attachment.size == len(content)
    assert kept.attachment.sha256 == hashlib.sha256(content).hexdigest()


@pytest.mark.parametrize("form", ["PNG", "JPEG", "TIFF"])
@pytest.mark.parametrize("mode", ["L", "RGB"])
def test_pictures_that_another_library_writes_are_kept(
    tmp_path: Path, form: str, mode: str
) -> None:
    """Pillow writes them."""
    file = tmp_path / "scan"
    Image.new(mode, (40, 30), 100).save(file, form)

    assert read_attached(file).attachment.media_type == f"image/{form.lower()}"


def test_a_pdf_that_another_library_writes_is_kept(tmp_path: Path) -> None:
    """fpdf2 writes it, with a picture and packed pages."""
    picture = io.BytesIO()
    Image.frombytes("RGB", (300, 300), os.urandom(270_000)).save(picture, "JPEG")
    document = FPDF()
    document.add_page()
    document.set_font("helvetica")
    document.cell(text="Invented certificate: /JavaScript was not used")
    document.image(picture)
    document.output(str(tmp_path / "report.pdf"))

    # The words of a page stand in parentheses in its stream, where a name ends at the blank: a
    # certificate that speaks of scripts in PDF's own spelling is refused rather than let through.
    with pytest.raises(BadInput, match="a script"):
        read_attached(tmp_path / "report.pdf")

    plain = FPDF()
    plain.add_page()
    plain.image(picture)
    plain.output(str(tmp_path / "plain.pdf"))
    assert read_attached(tmp_path / "plain.pdf").attachment.media_type == "application/pdf"


def test_an_encrypted_pdf_that_another_library_writes_is_refused(tmp_path: Path) -> None:
    """fpdf2 encrypts it (ISO 32000-1 7.6)."""
    document = FPDF()
    document.add_page()
    document.set_encryption(owner_password="owner", user_password="")
    document.output(str(tmp_path / "report.pdf"))

    with pytest.raises(BadInput, match="the PDF is encrypted"):
        read_attached(tmp_path / "report.pdf")


def far_into(blanks: int) -> bytes:
    """A packed stream in which a launch stands after so many blanks."""
    return stream(zlib.compress(b" " * blanks + b"<</S/Launch/F(x)>>" + b" " * 2**20))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"#!/bin/sh\nrm -r .\n", f"(it begins '#!/bin/sh\\nrm -r .\\n'); {KINDS}"),
        (b"MZ\x90\x00" + bytes(60), KINDS),
        (b"PK\x03\x04" + bytes(60), KINDS),
        (b"", f"report.pdf: the file is empty; {KINDS}"),
        (b" " + PLAIN_PDF, KINDS),
        (PLAIN_PDF[:-9], CUT),
        (PLAIN_PDF[: len(PLAIN_PDF) // 2], CUT),
        (pdf(end=b"PK\x03\x04"), f"there is more in the file after the end of the PDF; {AGAIN}"),
        (b"%PDF-x" + PLAIN_PDF, f"the PDF does not say of which version it is; {AGAIN}"),
        (pdf(trailer=b"/Encrypt 9 0 R"), "nobody can see what it holds"),
        (pdf(ACTION), SCRIPT),
        (pdf(catalog=b"/OpenAction" + ACTION), SCRIPT),
        (pdf(ACTION.replace(b"/JavaScript", b"/J#61vaScript")), SCRIPT),
        (pdf(ACTION.replace(b"/JavaScript", b"/#4a#61#76#61#53#63#72#69#70#74")), SCRIPT),
        (pdf(b"<</S/Named/J#53 9 0 R>>"), f"the PDF holds a script (/JS); {ANEW}"),
        (pdf(b"<</JS%\n(x)>>"), f"the PDF holds a script (/JS); {ANEW}"),
        (pdf(object_stream(ACTION)), SCRIPT),
        (pdf(stream(zlib.compress(ACTION))), SCRIPT),
        (pdf(far_into(2**19)), f"the PDF holds the launching of a program (/Launch); {ANEW}"),
        (pdf(far_into(2**20 - 8)), f"the PDF holds the launching of a program (/Launch); {ANEW}"),
        (pdf(b"<</S/Launch>>"), f"the PDF holds the launching of a program (/Launch); {ANEW}"),
        (pdf(b"<</Type/EmbeddedFile>>"), f"a file inside the file (/EmbeddedFile); {ANEW}"),
        (pdf(catalog=b"/Names<</EmbeddedFiles 9 0 R>>"), "(/EmbeddedFiles)"),
        (pdf(catalog=b"/AcroForm<</XFA 9 0 R>>"), f"a form that can act (/XFA); {ANEW}"),
        (pdf(object_stream(b"", b"/Filter[/ASCII85Decode/FlateDecode]")), UNSEEN),
        (pdf(object_stream(b"", b"/Filter/FlateDecode/DecodeParms<</Predictor 12>>")), UNSEEN),
        (pdf(stream(b"\x80\x0b", b"/Type/ObjStm/Filter/LZWDecode")), UNSEEN),
        (PNG[:-5], f"the picture is cut short; {PICTURE}"),
        (PNG + b"#!/bin/sh", f"there is more in the file after the picture; {PICTURE}"),
        (PNG.replace(b"IDAT", b"IDAX"), "a PNG check sum does not hold"),
        (PNG[:8] + png_chunk(b"IEND", b""), "cut short"),
        (
            PNG[:8] + png_chunk(b"IHDR", struct.pack(">2I5B", 0, 1, 8, 0, 0, 0, 0)),
            "the PNG has no header with its width and height",
        ),
        (JPEG[:-2], f"the picture is cut short; {PICTURE}"),
        (b"\xff\xd8\xff\xd9", f"the picture is cut short; {PICTURE}"),
        (JPEG.replace(b"\xff\xc0", b"\xff\xe1"), "no frame with its width and height"),
        (TIFF[:20], f"the picture is cut short; {PICTURE}"),
        (TIFF.replace(b"\x00\x01\x03", b"\x02\x01\x03"), "does not give its width and height"),
    ],
    ids=[
        "a script named .pdf", "a program", "an archive", "nothing", "a PDF not at its beginning",
        "a PDF without its end", "half a PDF", "a PDF and an archive", "no version", "encrypted",
        "JavaScript", "JavaScript on opening", "a letter in hex", "all letters in hex",
        "JS without JavaScript", "JS before a comment", "JavaScript in packed objects",
        "JavaScript in a packed stream", "far into a stream", "between two pieces",
        "launch", "a file in the file",
        "files in the file", "a form that acts", "two filters", "a predictor", "LZW",
        "half a PNG", "a PNG and a script", "a PNG with a changed chunk", "a PNG without header",
        "a PNG of no width", "half a JPEG", "an empty JPEG", "a JPEG without frame", "half a TIFF",
        "a TIFF without width",
    ],
)  # fmt: skip
def test_what_is_unfit_is_refused_in_one_line(tmp_path: Path, content: bytes, told: str) -> None:
    message = refusal(tmp_path, content)

    assert message.startswith("report.pdf: ")
    assert told in message
    assert len(message.splitlines()) == 1


def test_a_name_that_only_begins_like_one_that_acts_is_let_through(tmp_path: Path) -> None:
    file = tmp_path / "report.pdf"
    file.write_bytes(pdf(b"<</LaunchPad 1/JSON(x)/EmbeddedFileX 2/XFAct[1]>>"))

    assert read_attached(file).attachment.size == file.stat().st_size


def test_a_stream_that_unfolds_without_end_is_refused(tmp_path: Path) -> None:
    packer = zlib.compressobj(9)
    bomb = b"".join(packer.compress(bytes(2**20)) for _ in range(MOST_UNFOLDED // 2**20 + 1))
    content = pdf(stream(bomb + packer.flush()))
    assert len(content) < 2**19

    tracemalloc.start()
    message = refusal(tmp_path, content)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert message == (
        "report.pdf: the PDF unfolds to more than 256 MB;"
        " scan it in grey or with fewer dots an inch"
    )
    assert most < 3 * MOST_BYTES


def test_the_size_is_held_to_20_mb_and_told(tmp_path: Path) -> None:
    whole = pdf(stream(bytes(MOST_BYTES - 400), b""))
    fits = whole.replace(b"\nendstream", bytes(MOST_BYTES - len(whole)) + b"\nendstream")
    file = tmp_path / "fits.pdf"
    file.write_bytes(fits)

    assert read_attached(file).attachment.size == MOST_BYTES == 20 * 1024 * 1024
    assert refusal(tmp_path, fits.replace(b"\nendstream", b"\x00\nendstream")) == (
        "report.pdf: it has 20,971,521 bytes, more than 20,971,520 bytes; scan it in grey or with"
        " fewer dots an inch, or attach only the certificate's pages"
    )


def test_two_gigabytes_of_nothing_are_refused_without_being_read(tmp_path: Path) -> None:
    sparse = tmp_path / "sparse.pdf"
    with sparse.open("wb") as file:
        file.truncate(2 * 2**30)
    tracemalloc.start()

    with pytest.raises(BadInput, match=r"it has 2,147,483,648 bytes, more than 20,971,520 bytes"):
        read_attached(sparse)

    assert tracemalloc.get_traced_memory()[1] < 2**20
    tracemalloc.stop()


@pytest.mark.parametrize("what", ["a pipe", "a folder", "a socket", "a device"])
def test_what_is_no_file_is_refused_without_waiting(tmp_path: Path, what: str) -> None:
    path = tmp_path / "report.pdf"
    if what == "a pipe":
        os.mkfifo(path)
    elif what == "a folder":
        path.mkdir()
    elif what == "a socket":
        with socket.socket(socket.AF_UNIX) as listener:
            listener.bind(str(path))
    else:
        path.symlink_to("/dev/zero")

    with pytest.raises(BadInput) as refused:
        read_attached(path)

    assert str(refused.value) == f"report.pdf: it is {what}; give the certificate's file"


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/report.pdf", "report.pdf"),
        ("C:\\scans\\report.pdf", "report.pdf"),
        ("re\nport\x00\x1b[2J.pdf", "report[2J.pdf"),
        ("re\u202efdp.exe", "refdp.exe"),
        ("..", "certificate"),
        ("folder/", "certificate"),
        ("\u200b", "certificate"),
        (f"{'a' * 300}.pdf", f"{'a' * 196}.pdf"),
        ("Prüfbericht 2026.pdf", "Prüfbericht 2026.pdf"),
    ],
    ids=[
        "a path", "a path of Windows", "controls", "turned around", "two dots", "no name",
        "nothing to be seen", "too long", "letters beyond ASCII",
    ],
)  # fmt: skip
def test_the_name_that_is_kept_is_one_word_that_can_be_seen(given: str, kept: str) -> None:
    assert cleaned_name(given) == kept


def test_a_name_with_a_line_break_is_told_on_one_line(tmp_path: Path) -> None:
    assert refusal(tmp_path, b"", "re\nport.pdf").startswith("re\\nport.pdf: the file is empty")
