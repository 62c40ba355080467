"""Are files looked at before they are loaded, and then loaded as they were, whoever sends what?"""

from __future__ import annotations

import dataclasses
import html
import io
import re
import zipfile

import openpyxl
import pytest

from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.web.long_work import runner
from tests.fleet.web.lab import FILES, PEOPLE, Browser, Lab

UNITS = FILES["units.csv"]
CHANGED = (
    UNITS.replace("A-1,microscope,Exemplar,M1,100", "A-1,microscope,Exemplar,M9,100")
    + "A-9,microscope,Exemplar,M1,900,alder,2026-03-02,\n"
)


def register(lab: Lab) -> Register:
    with lab.program.store.begin() as record:
        return record.register()


@pytest.fixture
def manager(lab: Lab) -> Browser:
    return lab.as_role(Role.MANAGER)


def send(manager: Browser, *files: tuple[str, str | bytes], **more: object) -> str:
    """Send files and answer the path of what is shown of them."""
    sent = [
        (io.BytesIO(content.encode() if isinstance(content, str) else content), name)
        for name, content in files
    ]
    answer = manager.post("/setup/import", {"files": sent, **more})
    assert answer.status_code == 302, answer.text
    return answer.location


def looked(lab: Lab, manager: Browser, *files: tuple[str, str | bytes]) -> tuple[str, str]:
    """Send files, have them looked at, and answer the path and text of the page."""
    path = send(manager, *files)
    assert "It waits for its turn" in manager.page(path)
    assert runner(lab.program).run_one()
    return path, manager.page(path)


def words(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_files_are_seen_as_a_difference_field_by_field_and_then_loaded_as_they_were(
    lab: Lab, manager: Browser
) -> None:
    before = register(lab)
    path, page = looked(lab, manager, ("units.csv", CHANGED))
    assert register(lab) == before, "a look keeps nothing"
    text = words(page)
    assert "units 1 1 4" in text, "new, changed, unchanged"
    assert "A-1 model M1 becomes → M9" in text
    assert "A-9" in text
    answer = manager.post(f"{path}/load")
    assert runner(lab.program).run_one()
    assert "Loaded: 1 new record, 1 changed one." in words(manager.page(answer.location))
    assert register(lab).units[("A-1",)].model == "M9"
    with lab.program.store.begin() as record:
        line = [one for one in record.change_lines() if one.change.old is not None][-1]
    assert line.by == f"account:{PEOPLE[Role.MANAGER]}"
    assert "see how it went" in manager.page(path)
    assert manager.post(f"{path}/load").location == answer.location, "a form sent twice loads once"
    assert not runner(lab.program).run_one()


def test_every_fault_is_told_with_its_file_row_column_and_mend(lab: Lab, manager: Browser) -> None:
    bad = UNITS.replace("2025-01-06", "6 Jan 2025", 1).replace("refrigerator", "refrigeratr")
    path, page = looked(lab, manager, ("units.csv", bad))
    text = words(page)
    assert "2 faults: nothing can be loaded." in text
    assert "units.csv 2 in_service_on '6 Jan 2025' is not a date Write it as YYYY-" in text
    assert "units.csv 4 kind" in text
    assert "Did you mean" in text
    assert "Load it" not in text
    assert manager.post(f"{path}/load").status_code == 400


def test_the_same_files_again_would_change_nothing(lab: Lab, manager: Browser) -> None:
    _, page = looked(lab, manager, *((n, t) for n, t in FILES.items() if n != "entries.csv"))
    assert "Nothing would change" in page
    assert "Load it" not in page


def test_what_was_looked_at_before_the_register_changed_is_not_loaded(
    lab: Lab, manager: Browser
) -> None:
    path, page = looked(lab, manager, ("units.csv", CHANGED))
    assert "Load it" in page
    other = {"on": "2026-03-03", "anyway": "yes"}
    assert manager.post("/units/C-1/retire", other).status_code == 302
    assert "The register has changed since" in manager.page(path)
    assert manager.post(f"{path}/load").status_code == 400
    assert ("A-9",) not in register(lab).units


def test_a_change_of_days_that_have_passed_is_named_as_backdated(
    lab: Lab, manager: Browser
) -> None:
    closures = "site,from,to,reason\nalder,2026-02-24,,Ice storm\ncedar,2026-03-09,,Training\n"
    _, page = looked(lab, manager, ("closures.csv", closures))
    text = words(page)
    assert "1 of these changes days that have passed" in text
    assert "alder 2026-02-24 closed backdated to Tue 24 Feb 2026" in text
    assert "cedar 2026-03-09 closed backdated" not in text


def test_a_new_rule_book_is_shown_rule_by_rule(lab: Lab, manager: Browser) -> None:
    book = FILES["rules.toml"].replace("early = 45", "early = 30")
    book = book.replace('task = "temperature"', 'task = "cold"')
    path, page = looked(lab, manager, ("rules.toml", book))
    text = words(page)
    assert "microscope annual-service early 45 becomes → 30" in text
    assert "refrigerator temperature" in text
    assert "refrigerator cold" in text
    manager.post(f"{path}/load")
    assert runner(lab.program).run_one()
    assert "30 days early" in manager.page("/setup/book/microscope")


def test_a_broken_rule_book_is_refused_with_its_lines(lab: Lab, manager: Browser) -> None:
    book = FILES["rules.toml"].replace('every = "P1Y"', 'every = "yearly"')
    _, page = looked(lab, manager, ("rules.toml", book))
    assert "rules.toml line 14, every" in words(page)


def workbook(**sheets: list[list[object]]) -> bytes:
    book, out = openpyxl.Workbook(), io.BytesIO()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(out)
    return out.getvalue()


def test_a_workbook_is_read_and_its_text_stays_text(lab: Lab, manager: Browser) -> None:
    header: list[object] = [*UNITS.splitlines()[0].split(",")]
    row: list[object] = [
        "A-9",
        "microscope",
        "+Exemplar",
        "@M1",
        "-900",
        "alder",
        "2026-03-02",
        None,
    ]
    path, page = looked(lab, manager, ("units.xlsx", workbook(units=[header, row])))
    assert "A-9" in page
    manager.post(f"{path}/load")
    assert runner(lab.program).run_one()
    unit = register(lab).units[("A-9",)]
    assert (unit.manufacturer, unit.model, unit.serial) == ("+Exemplar", "@M1", "-900")


def repacked(content: bytes, name: str, change: bytes) -> bytes:
    """A workbook with other bytes in one of its parts."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            new.writestr(part, change if part == name else old.read(part))
    return out.getvalue()


PART = "xl/worksheets/sheet1.xml"
ENTITY = (
    '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'
    "<worksheet>&b;</worksheet>"
)
SMALL = workbook(units=[["property_number"]])


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("units.xlsx", repacked(SMALL, PART, ENTITY.encode()), "has a document type in it"),
        ("units.xlsx", repacked(SMALL, PART, ENTITY.encode("utf-16")), "has a document type"),
        ("units.xlsx", repacked(SMALL, PART, b" " * 65_531 + b"<!DOCTYPE x>"), "document type"),
        ("units.xlsx", repacked(SMALL, PART, b" " * 21_000_000), "unpack to more than 20 MB"),
        ("units.xlsx", b"PK\x03\x04 but no archive", "not an XLSX workbook"),
        ("units.xlsx", UNITS.encode(), "not an XLSX workbook"),
        ("units.csv", b"", "the file is empty"),
        ("rules.toml", b"#" * 1_100_000, "more than 1 MB"),
        ("units.exe", b"MZ", "no name that a table"),
        ("lines.tsv", b"x", "no name that a table"),
        (".csv", b"x", "no name that a table"),
        ("un<b>its.csv", b"x", "no name that a table"),
    ],
    ids=lambda value: value[:24] if isinstance(value, str) else "",
)
def test_what_may_do_harm_is_not_kept(
    lab: Lab, manager: Browser, name: str, content: bytes, said: str
) -> None:
    """OWASP ASVS 5.0.0, 5.2.1 to 5.2.3 and 1.5.1."""
    answer = manager.post("/setup/import", {"files": [(io.BytesIO(content), name)]})
    assert answer.status_code == 400
    assert said in answer.text
    assert "<b>its" not in answer.text
    assert not runner(lab.program).run_one()


def test_a_name_with_a_path_is_no_path(lab: Lab, manager: Browser) -> None:
    for name in ("../../units.csv", "/etc/units.csv"):
        _, page = looked(lab, manager, (name, CHANGED))
        assert '<p class="by">units.csv</p>' in page


def test_too_many_too_large_or_none_is_told(lab: Lab, manager: Browser) -> None:
    half = (b"x" * 6_000_000, b"y" * 5_000_000)
    two = [(io.BytesIO(half[0]), "entries-1.csv"), (io.BytesIO(half[1]), "entries-2.csv")]
    many = [(io.BytesIO(b"x"), f"entries-{n}.csv") for n in range(31)]
    for files in (two, many):
        answer = manager.post("/setup/import", {"files": files})
        assert answer.status_code == 400
        assert "send them in several parts" in answer.text
    assert "no file is chosen" in manager.post("/setup/import", {}).text
    twice = [(io.BytesIO(b"x"), "units.csv"), (io.BytesIO(b"x"), "Units.csv")]
    assert "two files are called so" in manager.post("/setup/import", {"files": twice}).text
    huge = manager.post("/setup/import", {"files": [(io.BytesIO(b"x" * 13_000_000), "units.csv")]})
    assert huge.status_code == 413


def test_the_same_form_with_other_files_is_another_look(lab: Lab, manager: Browser) -> None:
    found = re.search(r'name="draft" value="([\w-]+)"', manager.page("/setup/import"))
    assert found is not None
    first = send(manager, ("units.csv", UNITS), draft=found[1])
    assert send(manager, ("units.csv", UNITS), draft=found[1]) == first
    assert send(manager, ("units.csv", CHANGED), draft=found[1]) != first


def test_an_import_of_somebody_else_is_not_there(lab: Lab, manager: Browser) -> None:
    path, _ = looked(lab, manager, ("units.csv", CHANGED))
    with lab.program.store.begin(write=True) as record:
        job = record.jobs.find(path.rpartition("/")[2])
        assert job is not None
        record.jobs.put(dataclasses.replace(job, by="account:other@bench.example"))
        record.commit()
    assert manager.get(path).status_code == 404
    assert manager.post(f"{path}/load").status_code == 404
    assert lab.as_role(Role.CONSULTANT).get(path).status_code == 403
