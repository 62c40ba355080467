"""What is read from CSV files, and every way in which one can be wrong."""

from __future__ import annotations

import csv
import datetime as dt
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.domain.records import Closure, Entry, Mark, Outage, Placement, Unit
from fleet.files import csv_text
from tests.fleet.files.reading import faults_of, read_entries, records_of, write

UNITS = "property_number,kind,site,in_service_on\n"
ENTRIES = "property_number,task,on,mark\n"


def test_a_property_number_keeps_its_zeros_and_na_is_a_word(tmp_path: Path) -> None:
    write(tmp_path, units=UNITS + "00417,microscope,NA,2024-01-02\n")

    (_, _, unit) = records_of(tmp_path)[0]

    assert unit == Unit(
        property_number="00417",
        kind="microscope",
        manufacturer="",
        model="",
        serial="",
        site="NA",
        in_service_on=dt.date(2024, 1, 2),
    )


def test_a_byte_order_mark_blank_rows_quotes_and_any_order_are_taken(tmp_path: Path) -> None:
    text = '\ufeff"from",site,property_number\r\n\r\n2025-03-04, B ,"🔬 ""7"""\r\n , ,\r\n'
    write(tmp_path, placements=text)

    move = Placement(property_number='🔬 "7"', site="B", from_on=dt.date(2025, 3, 4))
    assert records_of(tmp_path) == [("placements.csv", 3, move)]


def test_a_split_table_is_one_table(tmp_path: Path) -> None:
    row = "007,microscope,A,2024-01-02\n"
    write(tmp_path, units_east=UNITS + row, units_west=UNITS + row.replace("7", "8"))

    numbers = [record.key for _, _, record in records_of(tmp_path)]
    assert numbers == [("007",), ("008",)]


def test_an_empty_end_of_a_closure_is_its_first_day(tmp_path: Path) -> None:
    write(tmp_path, closures="site,from,to,open\n,2025-03-04,,\nA,2025-03-08,,yes\n")

    day, extra = dt.date(2025, 3, 4), dt.date(2025, 3, 8)
    assert [record for _, _, record in records_of(tmp_path)] == [
        Closure(site="", from_on=day, to_on=day, reason="closed", open=False),
        Closure(site="A", from_on=extra, to_on=extra, reason="", open=True),
    ]


def test_an_outage_may_be_open(tmp_path: Path) -> None:
    write(tmp_path, outages="property_number,from\n007,2025-03-04\n")

    outage = Outage(property_number="007", from_on=dt.date(2025, 3, 4), to_on=None, reason="")
    assert [record for _, _, record in records_of(tmp_path)] == [outage]


def test_an_empty_key_counts_the_rows_of_its_triple_in_the_file(tmp_path: Path) -> None:
    row = "007,optics,2025-01-02,done\n"
    text = ENTRIES + row + "\n" + "007,optics,2025-01-03,done\n" + row + row
    write(tmp_path, entries_a=text, entries_b=ENTRIES + row)

    for chunk_rows in (2, 50_000):
        keys = [(n, e.key) for _, n, e in read_entries(tmp_path, chunk_rows=chunk_rows)]
        assert keys == [
            (2, "007/optics/2025-01-02/1"),
            (4, "007/optics/2025-01-03/1"),
            (5, "007/optics/2025-01-02/2"),
            (6, "007/optics/2025-01-02/3"),
            (2, "007/optics/2025-01-02/1"),
        ]


def test_every_column_of_an_entry_is_read(tmp_path: Path) -> None:
    header = "why,strikes,key,recorded_at,reading,note,initials,mark,to,on,task,property_number\n"
    row = "slip,k0,k1,2025-02-01T10:00:00-06:00,4.50,=1+1,RA,done,2025-01-31,2025-01-02,optics,7\n"
    write(tmp_path, entries=header + row)

    assert read_entries(tmp_path) == [
        (
            "entries.csv",
            2,
            Entry(
                key="k1",
                property_number="7",
                task="optics",
                on=dt.date(2025, 1, 2),
                to_on=dt.date(2025, 1, 31),
                mark=Mark.DONE,
                initials="RA",
                note="=1+1",
                reading="4.50",
                recorded_at=dt.datetime(2025, 2, 1, 16, tzinfo=dt.UTC),
                strikes="k0",
                why="slip",
            ),
        )
    ]


UTF8_MEND = "save it again as UTF-8 (in a spreadsheet program: 'CSV UTF-8')"
WINDOWS = (UNITS + "1,microscope,A,2024-01-02\n2,microscope,Café,2024-01-02\n").encode("cp1252")


@pytest.mark.parametrize(
    ("name", "text", "messages"),
    [
        ("units", WINDOWS, [f"units.csv row 3: the text is not UTF-8; {UTF8_MEND}"]),
        (
            "units",
            UNITS.encode("utf-16"),
            [f"units.csv row 1: the text is not UTF-8; {UTF8_MEND}"],
        ),
        (
            "units",
            UNITS + "1,a\0b,A,2024-01-02\n",
            [f"units.csv row 2: the text is not UTF-8; {UTF8_MEND}"],
        ),
        (
            "units",
            "",
            ["units.csv row 1: there is no header; write the column names in the first row"],
        ),
        (
            "units",
            UNITS.replace(",", ";"),
            ["units.csv row 1: its cells are parted by ';'; save it as CSV with commas"],
        ),
        (
            "units",
            "property_nr,kind,site,site,,in_service_on\n",
            [
                "units.csv row 1: unknown column 'property_nr'; did you mean 'property_number'?",
                "units.csv row 1: column 'site' stands there twice; keep one of them",
                "units.csv row 1: column 5 has no name;"
                " name it, or delete it if it is empty (units)",
                "units.csv row 1: column 'property_number' is missing;"
                " add it: units cannot be read without it",
            ],
        ),
        (
            "units",
            UNITS + "1,microscope,A,2024-01-02,2025-01-01\n2,microscope,,\n",
            [
                "units.csv row 2: the row has more cells than the header's 4;"
                " put cells that hold a comma in double quotes",
                "units.csv row 3, site: the cell is empty; fill it in",
                "units.csv row 3, in_service_on: the cell is empty; fill it in",
            ],
        ),
        (
            "units",
            UNITS + "1,microscope,A,2024-01-02" + ",x" * 40 + "\n",
            [
                "units.csv row 2: the row has 44 cells, the header 4;"
                " put cells that hold a comma in double quotes",
            ],
        ),
        (
            "units",
            UNITS + '1,microscope,"A,2024-01-02\n2,microscope,A,2024-01-02\n',
            ["units.csv row 2: a double quote is opened and never closed; close or delete it"],
        ),
        (
            "units",
            UNITS + "1,microscope,A,31/02/2026\n,,,\nTotal,1,,\n",
            [
                "units.csv row 2, in_service_on: '31/02/2026' is not a date;"
                " write it as YYYY-MM-DD",
                "units.csv row 4: the row looks like a total: property_number, kind, site and"
                " in_service_on cannot be read from it;"
                " delete the row if it sums up others, else fill it in",
            ],
        ),
        (
            "units",
            "property_number,kind,site,in_service_on,retired_on,record_from\n"
            "1,microscope,A,2024-01-02,2024-01-02,2024-01-01\n",
            [
                "units.csv row 2, retired_on: 2024-01-02 is not after in_service_on 2024-01-02;"
                " a unit is in service for a day at least: check both dates",
                "units.csv row 2, record_from: 2024-01-01 is before in_service_on 2024-01-02;"
                " leave it empty if the record begins when the unit enters service",
            ],
        ),
        (
            "outages",
            "property_number,from,to\n1,2024-01-02,2024-01-02\n",
            [
                "outages.csv row 2, to: 2024-01-02 is not after from 2024-01-02;"
                " 'to' is the day of return, the first day back in service",
            ],
        ),
        (
            "closures",
            "from,to,reason\n2024-01-02,2024-01-01,snow\n",
            [
                "closures.csv row 2, to: 2024-01-01 is before from 2024-01-02;"
                " check both dates; both are included",
            ],
        ),
        (
            "holidays",
            "site,country,subdivision,on,name\n,,,2024-01-02,Founders\nA,,NE,2024-01-02,Founders\n"
            ",US,XX,2024-01-02,Founders\n",
            [
                "holidays.csv row 2, country: the row names neither a site nor a country;"
                " name the site, or the country and subdivision whose sites all keep the day",
                "holidays.csv row 4, subdivision: 'XX' is no subdivision of US;"
                " write one of: AK, AL, AR, AS, AZ, CA, CO, CT, DC, DE, FL, GA, GU, HI, IA, ID,"
                " IL, IN, KS, KY or 37 others",
            ],
        ),
        (
            "people",
            "email,name,role\na@b.example,A,site lead\n",
            ["people.csv row 2, site: a site lead has no site; name the site that is led"],
        ),
        (
            "entries",
            "property_number,task,on,to,mark,strikes\n"
            "1,optics,2024-01-02,2024-01-01,done,\n1,optics,2024-01-02,,,\n"
            "1,optics,2024-01-02,,,k\n1,,2024-01-02,,dne,\n",
            [
                "entries.csv row 2, to: 2024-01-01 is before on 2024-01-02;"
                " check both dates; both are included",
                "entries.csv row 3, mark: the row has neither a mark nor a key to strike;"
                " write done, unused, filled or explained",
                "entries.csv row 4, why: the row strikes an entry and does not say why;"
                " write the reason",
                "entries.csv row 5, task: the cell is empty; fill it in",
                "entries.csv row 5, mark: 'dne' is no mark; did you mean 'done'?",
            ],
        ),
    ],
)
def test_a_bad_file_is_told(
    tmp_path: Path, name: str, text: str | bytes, messages: list[str]
) -> None:
    write(tmp_path, **{name: text})

    assert faults_of(tmp_path) == messages


@pytest.mark.parametrize("block", range(1, 8))
def test_the_row_of_a_bad_byte_is_found_wherever_the_file_is_cut(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, block: int
) -> None:
    monkeypatch.setattr(csv_text, "_BLOCK_BYTES", block)
    write(tmp_path, units=(UNITS + "é🔬\n\né\n\n🔬").encode() + "xé\n\n".encode("cp1252"))

    assert faults_of(tmp_path) == [f"units.csv row 6: the text is not UTF-8; {UTF8_MEND}"]


ONE_LINE = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=20)


@given(cells=st.lists(st.tuples(ONE_LINE.filter(bool), ONE_LINE), min_size=1, max_size=5))
def test_whatever_the_csv_module_writes_is_read_back(cells: list[tuple[str, str]]) -> None:
    """Python's csv module writes RFC 4180 quoting and knows nothing of this reader."""
    written = io.StringIO()
    sheet = csv.writer(written)
    sheet.writerow(["property_number", "from", "reason"])
    sheet.writerows((number, "2025-01-02", reason) for number, reason in cells)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "outages.csv").write_text(written.getvalue(), "utf-8", newline="")
        read = [record for _, _, record in records_of(Path(folder))]

    day = dt.date(2025, 1, 2)
    assert read == [
        Outage(property_number=number, from_on=day, to_on=None, reason=reason)
        for number, reason in cells
    ]


def test_faults_of_later_chunks_keep_their_rows(tmp_path: Path) -> None:
    good = "1,optics,2024-01-02,done\n"
    write(tmp_path, entries=ENTRIES + good * 4 + "1,optics,2024-01-xx,done\n" + good)

    message = "entries.csv row 6, on: '2024-01-xx' is not a date; write it as YYYY-MM-DD"
    for chunk_rows in (1, 2, 3, 50_000):
        assert faults_of(tmp_path, chunk_rows=chunk_rows) == [message]
