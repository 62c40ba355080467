"""What is read from workbooks, and every way in which one can be wrong."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Sequence
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import openpyxl
import pytest

from fleet.domain.records import Closure, Unit
from fleet.files import xlsx_text
from fleet.files.reader import read_tables
from fleet.services.load_ports import Faults
from tests.fleet.files.reading import faults_of, read_entries, records_of

MIDNIGHT = dt.datetime(2024, 1, 2)  # noqa: DTZ001  (a spreadsheet's dates have no zone)
HEADER: list[object] = ["property_number", "kind", "model", "site", "in_service_on"]


def workbook(path: Path, **sheets: Sequence[Sequence[object]]) -> openpyxl.Workbook:
    """Save a workbook with these sheets; the answer can be changed and saved again."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name.replace("_", "-"))
        for row in rows:
            sheet.append(list(row))
    book.save(path)
    return book


def test_dates_numbers_and_leading_zeros_read_as_they_are_shown(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    rows: list[list[object]] = [HEADER, [417, "microscope", 3.0, "A", MIDNIGHT]]
    book = workbook(path, Units=rows)
    book["Units"]["A2"].number_format = "00000"
    book.save(path)

    assert records_of(path) == [
        (
            "fleet.xlsx sheet Units",
            2,
            Unit(
                property_number="00417",
                kind="microscope",
                manufacturer="",
                model="3",
                serial="",
                site="A",
                in_service_on=dt.date(2024, 1, 2),
            ),
        )
    ]


def test_blank_rows_are_skipped_and_counted(tmp_path: Path) -> None:
    path = tmp_path / "any.xlsx"
    header = ["from", "open", "reason"]
    workbook(path, closures=[header, [], [dt.date(2024, 1, 2), True, "fair"]])

    day = dt.date(2024, 1, 2)
    fair = Closure(site="", from_on=day, to_on=day, reason="fair", open=True)
    assert records_of(path) == [("any.xlsx sheet closures", 3, fair)]


def test_entries_may_be_split_over_sheets(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    rows: list[list[object]] = [
        ["property_number", "task", "on", "mark"],
        ["7", "optics", dt.date(2025, 1, 2), "done"],
    ]
    workbook(path, entries_2024=rows, entries_2025=rows)

    places = [(file, row) for file, row, _ in read_entries(path)]
    assert places == [("fleet.xlsx sheet entries-2024", 2), ("fleet.xlsx sheet entries-2025", 2)]


def test_a_sheet_of_notes_and_an_empty_one_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    workbook(path, Notes=[["please call"]], Sheet1=[], units=[HEADER])

    assert faults_of(path) == []
    assert list(read_tables([path]).remarks()) == ["fleet.xlsx sheet Notes: left out"]


def test_a_saved_result_of_a_formula_is_read(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    row = ["=CONCAT(1;2)", "microscope", "", "A", dt.date(2024, 1, 2)]
    workbook(path, units=[HEADER, row])
    _put_result(path, "12")

    assert [record.key for _, _, record in records_of(path)] == [("12",)]


def _put_result(path: Path, result: str) -> None:
    """Write a formula's result into a workbook, as a spreadsheet program does when it saves."""
    with ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    name = "xl/worksheets/sheet1.xml"
    assert b"<v />" in parts[name] or b"<v></v>" in parts[name]
    for empty in (b"<v />", b"<v></v>"):
        parts[name] = parts[name].replace(empty, f"<v>{result}</v>".encode())
    with ZipFile(path, "w", ZIP_DEFLATED) as packed:
        for part, text in parts.items():
            packed.writestr(part, text)


def _merge(book: openpyxl.Workbook) -> None:
    book["units"].merge_cells("D2:D3")


def _merge_header(book: openpyxl.Workbook) -> None:
    book["units"].merge_cells("A1:B1")


def _error(book: openpyxl.Workbook) -> None:
    book["units"]["D2"] = "#REF!"


def _formula(book: openpyxl.Workbook) -> None:
    book["units"]["A2"] = "=1+1"


def _total(book: openpyxl.Workbook) -> None:
    book["units"].append(["Total", "=COUNTA(B2:B3)"])


def _beyond(book: openpyxl.Workbook) -> None:
    book["units"]["G3"] = "see note"


def _time(book: openpyxl.Workbook) -> None:
    book["units"]["E2"] = MIDNIGHT + dt.timedelta(hours=8, minutes=30)


def _other_sheet(book: openpyxl.Workbook) -> None:
    book["units"].title = "unit list"


def _title_row(book: openpyxl.Workbook) -> None:
    book["units"].insert_rows(1)


def _far_cell(book: openpyxl.Workbook) -> None:
    book["units"]["E900000"] = " "


@pytest.mark.parametrize(
    ("spoil", "messages"),
    [
        (
            _merge,
            [
                "fleet.xlsx sheet units row 2: the cells D2:D3 are merged;"
                " unmerge them and fill each cell",
                "fleet.xlsx sheet units row 3, site: the cell is empty; fill it in",
            ],
        ),
        (
            _merge_header,
            [
                "fleet.xlsx sheet units row 1: the cells A1:B1 are merged;"
                " unmerge it: a header names one column a cell",
            ],
        ),
        (
            _error,
            [
                "fleet.xlsx sheet units row 2, site: the cell holds the error #REF!;"
                " mend the formula, or type the value",
            ],
        ),
        (
            _formula,
            [
                "fleet.xlsx sheet units row 2, property_number:"
                " the result of the formula in this cell was never saved;"
                " open and save the workbook in a spreadsheet program, or type the value",
            ],
        ),
        (
            _total,
            [
                "fleet.xlsx sheet units row 4: the row looks like a total: property_number, kind,"
                " site and in_service_on cannot be read from it;"
                " delete the row if it sums up others, else fill it in",
            ],
        ),
        (
            _beyond,
            [
                "fleet.xlsx sheet units row 3: the row has cells beyond the header's 5;"
                " name their column or delete them",
            ],
        ),
        (
            _time,
            [
                "fleet.xlsx sheet units row 2, in_service_on: '2024-01-02T08:30:00' is not a date;"
                " write it as YYYY-MM-DD",
            ],
        ),
        (
            _other_sheet,
            [
                "fleet.xlsx sheet unit list: no table is called 'unit list';"
                " did you mean 'units'? (a sheet called Notes is left out)",
            ],
        ),
        (
            _title_row,
            [
                "fleet.xlsx sheet units row 1: there is no header;"
                " write the column names in the first row",
            ],
        ),
        (
            _far_cell,
            [
                "fleet.xlsx sheet units: the sheet spans 900,000 rows and 5 columns;"
                " delete the empty rows and columns around its data, or save it as CSV UTF-8",
            ],
        ),
    ],
)
def test_a_bad_sheet_is_told(
    tmp_path: Path, spoil: Callable[[openpyxl.Workbook], None], messages: list[str]
) -> None:
    path = tmp_path / "fleet.xlsx"
    day = dt.date(2024, 1, 2)
    rows: list[list[object]] = [
        HEADER,
        ["1", "microscope", "", "A", day],
        ["2", "microscope", "", "B", day],
    ]
    book = workbook(path, units=rows)
    spoil(book)
    book.save(path)

    assert faults_of(path) == messages


SHEET = "xl/worksheets/sheet1.xml"


def repacked(path: Path, part: str, change: Callable[[bytes], bytes | None]) -> bytes:
    """The workbook with one of its parts changed (None: left out)."""
    parts = {name: ZipFile(path).read(name) for name in ZipFile(path).namelist()}
    changed = change(parts[part])
    packed = io.BytesIO()
    with ZipFile(packed, "w", ZIP_DEFLATED) as target:
        for name, content in {**parts, part: changed}.items():
            if content is not None:
                target.writestr(name, content)
    return packed.getvalue()


def flipped(path: Path, offset: int, value: bytes, part: str = SHEET) -> bytes:
    """The workbook with bytes written over a part's entry in the directory, or its content."""
    content = bytearray(path.read_bytes())
    with ZipFile(path) as packed:
        info = packed.getinfo(part)
    if offset < 0:  # in the content of the part
        at = info.header_offset + 30 + len(part) + info.compress_size // 2
    else:  # in the central directory, whose entries end with the name
        at = content.rindex(part.encode()) - 46 + offset
    content[at : at + len(value)] = value
    return bytes(content)


DAMAGED: dict[str, Callable[[Path], bytes]] = {
    "no zip file": lambda path: b"property_number,kind\n",
    "nothing": lambda path: b"",
    "encrypted as a whole, or the old format": lambda path: bytes.fromhex("d0cf11e0a1b11ae1") * 99,
    "an end cut off": lambda path: path.read_bytes()[:-300],
    "a middle cut out": lambda path: path.read_bytes()[:900] + path.read_bytes()[1400:],
    "encrypted parts": lambda path: flipped(path, 8, b"\x01\x00"),
    "an unknown compression": lambda path: flipped(path, 10, b"\x63\x00"),
    "a wrong checksum": lambda path: flipped(path, 16, b"\0\0\0\0"),
    "spoiled bytes in a part": lambda path: flipped(path, -1, b"\xff" * 40),
    "a part that is no XML": lambda path: repacked(path, SHEET, lambda xml: xml[: len(xml) // 2]),
    "an empty part": lambda path: repacked(path, SHEET, lambda xml: b""),
    "a sheet without its part": lambda path: repacked(path, SHEET, lambda xml: None),
    "no list of sheets": lambda path: repacked(path, "xl/workbook.xml", lambda xml: None),
    "no list of parts": lambda path: repacked(path, "[Content_Types].xml", lambda xml: None),
    "a cell beyond any sheet": lambda path: repacked(
        path, SHEET, lambda xml: xml.replace(b'r="A2"', b'r="ZZZZZ2"')
    ),
    "a text that is not there": lambda path: repacked(
        path,
        SHEET,
        lambda xml: xml.replace(b't="inlineStr"><is><t>A</t></is>', b't="s"><v>999</v>'),
    ),
    "styles that are no XML": lambda path: repacked(path, "xl/styles.xml", lambda xml: xml[:90]),
}


@pytest.mark.parametrize("damage", DAMAGED)
def test_a_damaged_workbook_is_told_in_one_sentence(tmp_path: Path, damage: str) -> None:
    path = tmp_path / "fleet.xlsx"
    workbook(path, units=[HEADER, ["1", "microscope", "", "A", dt.date(2024, 1, 2)]])
    path.write_bytes(DAMAGED[damage](path))

    assert faults_of(path) == [
        "fleet.xlsx: it is not an XLSX workbook that can be read;"
        " save it again as XLSX, or each sheet as CSV UTF-8"
    ]


def test_a_sheet_that_spans_too_much_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "fleet.xlsx"
    book = workbook(path, units=[HEADER])
    book["units"]["ZZ9999"] = "x"
    book.save(path)

    def loading(*_: object, **__: object) -> None:
        pytest.fail("the workbook was read whole")

    monkeypatch.setattr(openpyxl, "load_workbook", loading)

    assert faults_of(path) == [
        "fleet.xlsx sheet units: the sheet spans 9,999 rows and 702 columns;"
        " delete the empty rows and columns around its data, or save it as CSV UTF-8"
    ]


def test_a_workbook_that_unpacks_too_large_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "fleet.xlsx"
    workbook(path, units=[HEADER])
    with ZipFile(path) as packed:
        size = sum(part.file_size for part in packed.infolist())
    monkeypatch.setattr(xlsx_text, "MAX_UNPACKED_BYTES", 1_000)

    assert faults_of(path) == [
        f"fleet.xlsx: the workbook holds {size:,} bytes, over 1,000;"
        " save its large sheets as CSV UTF-8"
    ]


def test_a_workbook_without_tables_is_told(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    workbook(path, Notes=[["nothing here"]])
    faults = Faults()
    read_tables([path]).register(faults)

    assert [str(fault) for fault in faults.kept] == [
        "fleet.xlsx: no sheet has the name of a table; write one of: absences, actions, closures,"
        " entries, extensions, holidays, mail_settings, outages, patterns, people, placements,"
        " plans, prints, quiet_periods, renumberings, reports, reviews, sites, technician_days_off,"
        " units or 2 others"
    ]
