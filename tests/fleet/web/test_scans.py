"""Do scans that are sent wait for a person, who sees what was read and says what enters?"""

from __future__ import annotations

import dataclasses
import html
import io
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image

from fleet.domain.records import Mark, Role, StoredEntry
from fleet.domain.scan_sheets import ScanSheet
from fleet.domain.scans import Doubt, SheetRead, Verdict
from fleet.services.charts.facts import PrintedChart
from fleet.web.long_work import runner
from tests.fleet.files.certificates import pdf
from tests.fleet.web.lab import Browser, Lab, make_lab
from tests.fleet.web.scan_lab import (
    APRIL,
    FakeReader,
    flat_page,
    print_chart,
    put_scan,
    scanned,
    slot,
)
from tests.fleet.web.test_rights import dump

OPTICS = 0
PDF = pdf()
FAINT, BLANK = slot("2026-03-12"), slot("2026-03-17")


def read(row: int, at: int) -> Verdict | Doubt:
    """One cell is faint, one is empty; all others are marked."""
    if row == OPTICS and at == FAINT:
        return Doubt.FAINT
    return Verdict.BLANK if row == OPTICS and at == BLANK else Verdict.MARKED


@pytest.fixture
def reader() -> FakeReader:
    return FakeReader()


@pytest.fixture
def lab(tmp_path: Path, reader: FakeReader) -> Iterator[Lab]:
    made = make_lab(tmp_path, change=lambda web: dataclasses.replace(web, page_reader=reader))
    with closing(made.program):
        yield made


@pytest.fixture
def chart(lab: Lab) -> PrintedChart:
    """The chart of A-1; by now it is April."""
    made = print_chart(lab)
    lab.now[0] = APRIL
    return made


@pytest.fixture
def lead(lab: Lab, chart: PrintedChart) -> Browser:
    return lab.as_role(Role.SITE_LEAD)


@pytest.fixture
def sheet(lab: Lab, chart: PrintedChart) -> ScanSheet:
    return put_scan(lab, scanned(chart.print, 1, read, flat_page(chart, 1, read)))


def words(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def entries(lab: Lab) -> list[StoredEntry]:
    with lab.program.store.begin() as record:
        return [one for one in record.entries() if one.source in ("paper", "page")]


def said(page: str, at: int) -> dict[str, str]:
    """The hidden fields of the form of a question; at: the first slot of it."""
    form = page.split(f'id="q-{OPTICS}-{at}"')[1].split("</form>")[0]
    found = dict(re.findall(r'name="(from|at|row|slots)" value="([^"]*)"', form))
    assert found.keys() == {"from", "at", "row", "slots"}
    return found


def darkest(picture: Image.Image) -> int:
    return next(shade for shade, count in enumerate(picture.histogram()) if count)


def seen(page: str) -> str:
    found = re.search(r'name="seen" value="(\w+)"', page)
    assert found is not None
    return found[1]


def test_files_that_are_sent_are_read_and_wait(
    lab: Lab, lead: Browser, reader: FakeReader, chart: PrintedChart
) -> None:
    reader.pages = {
        "march.pdf": [scanned(chart.print, 1, read), SheetRead(problem="too dark; scan it again")]
    }
    files = [(io.BytesIO(PDF), "march.pdf"), (io.BytesIO(PDF + b"\n"), "broken.pdf")]
    answer = lead.post("/scans", {"files": files, "draft": "d"})
    assert answer.status_code == 302
    assert "It waits for its turn" in lead.page(answer.location)
    assert runner(lab.program, reader).run_one()
    text = words(lead.page(answer.location))
    assert "Read: 2 pages." in text
    assert "march.pdf: 1 page found, 1 page cannot be used (too dark; scan it again)." in text
    assert "broken.pdf: it cannot be opened; scan it again." in text
    text = words(lead.page("/scans"))
    assert "A-1, 2026, page 1 of 4 alder 1 1 19" in text
    assert "march.pdf, picture 2 Cannot be used. Too dark; scan it again." in text
    assert entries(lab) == []


def test_the_same_file_again_is_told_and_not_read_twice(
    lab: Lab, lead: Browser, reader: FakeReader, chart: PrintedChart
) -> None:
    reader.pages = {name: [scanned(chart.print, 1, read)] for name in ("march.pdf", "again.pdf")}
    for name, draft in (("march.pdf", "d"), ("again.pdf", "e")):
        answer = lead.post("/scans", {"files": [(io.BytesIO(PDF), name)], "draft": draft})
        assert runner(lab.program, reader).run_one()
        lab.now[0] = lab.now[0].replace(minute=45)
    text = words(lead.page(answer.location))
    assert "again.pdf: sent before, on Wed 1 Apr 2026, and not read again." in text
    assert reader.read_names == ["march.pdf"]


def test_what_may_do_harm_or_is_no_picture_is_not_kept(lead: Browser) -> None:
    active = pdf(catalog=b"/OpenAction <</S/JavaScript/JS(x)>>")
    for content, told in (
        (active, "the PDF holds"),
        (b"MZ", "neither a PDF nor a picture"),
        (b"", "empty"),
    ):
        answer = lead.post("/scans", {"files": [(io.BytesIO(content), "a.pdf")]})
        assert (answer.status_code, told in answer.text) == (400, True), content
    assert "no file is chosen" in lead.post("/scans", {}).text.lower()


def test_a_machine_without_the_libraries_says_what_to_install(lab: Lab, lead: Browser) -> None:
    web = dataclasses.replace(lab.web, page_reader=None)
    from fleet.web.app import make_app

    other = dataclasses.replace(lab, app=make_app(web)).as_role(Role.SITE_LEAD)
    page = other.page("/scans")
    assert "pip install &#39;dueward[scan]&#39;" in page
    assert 'type="file"' not in page


def test_the_page_says_what_was_found_and_accepting_writes_exactly_that(
    lab: Lab, lead: Browser, sheet: ScanSheet
) -> None:
    path = f"/scans/{sheet.number}"
    page = lead.page(path)
    text = words(page)
    assert "19 marks found. 19 are ready to come in. 2 questions for you." in text
    assert "Thu 12 Mar 2026 Little or pale ink" in text
    assert "Accept 19 marks 19 as filled. 2 questions stay open." in text
    answer = lead.post(f"{path}/answer", {**said(page, FAINT), "answer": "filled"})
    assert answer.location == f"{path}#q-0-{BLANK}", "on to the next question"
    answer = lead.post(
        f"{path}/answer", {**said(page, BLANK), "answer": "explained", "words": "power cut"}
    )
    assert answer.location == f"{path}#accept"
    page = lead.page(path)
    assert "Answered: filled." in words(page)
    assert "Accept 21 marks 20 as filled, 1 as explained." in words(page)
    answer = lead.post(f"{path}/accept", {"seen": seen(page)})
    assert "Settled: 21 entries in the record." in words(lead.page(answer.location))
    made = entries(lab)
    assert Counter(one.entry.mark for one in made) == {Mark.FILLED: 20, Mark.EXPLAINED: 1}
    (own,) = [one for one in made if one.entry.mark is Mark.EXPLAINED]
    assert (own.entry.initials, own.source) == ("LA", "page")
    assert "Settled on Wed 1 Apr 2026, 07:30 : 21 entries" in words(lead.page(path))
    assert lead.post(f"{path}/accept", {"seen": seen(page)}).status_code == 400
    assert len(entries(lab)) == 21


def test_what_changed_since_it_was_seen_is_not_accepted(
    lab: Lab, lead: Browser, sheet: ScanSheet
) -> None:
    path = f"/scans/{sheet.number}"
    before = seen(lead.page(path))
    lead.post(f"{path}/answer", {**said(lead.page(path), FAINT), "answer": "filled"})
    answer = lead.post(f"{path}/accept", {"seen": before})
    assert answer.status_code == 400
    assert "has changed since" in answer.text
    assert entries(lab) == []


def test_a_slip_is_told_at_its_question(lead: Browser, sheet: ScanSheet) -> None:
    path = f"/scans/{sheet.number}"
    fields = said(lead.page(path), BLANK)
    answer = lead.post(f"{path}/answer", {**fields, "answer": "explained"})
    assert answer.status_code == 400
    assert "No reason is given" in answer.text
    assert 'id="f-words"' in answer.text.split(f'id="q-0-{BLANK}"')[1]
    for wrong in (
        {"answer": "maybe"},
        {"answer": "filled", "slots": "x"},
        {"answer": "filled", "slots": "1"},
    ):
        answer = lead.post(f"{path}/answer", {**fields, **wrong})
        assert answer.status_code == 400, wrong


def test_some_days_of_a_question_can_be_answered_apart(
    lab: Lab, lead: Browser, chart: PrintedChart
) -> None:
    days = [slot(f"2026-03-{day}") for day in (16, 17, 18, 19, 20)]
    page = scanned(chart.print, 1, lambda row, at: Verdict.BLANK if at in days else Verdict.MARKED)
    path = f"/scans/{put_scan(lab, page).number}"
    fields = said(lead.page(path), days[0])
    assert fields["slots"] == ",".join(map(str, days))
    lead.post(f"{path}/answer", {**fields, "answer": "unused", "only": [str(d) for d in days[1:3]]})
    text = words(lead.page(path))
    assert "2 as unused" in text
    assert "Mon 16 Mar 2026 No mark" in text
    assert "Thu 19 to Fri 20 Mar 2026 No mark" in text
    lead.post(f"{path}/answer", {"all": "blank"})
    assert "0 questions" not in words(lead.page(path))
    assert "Nothing is left to ask." in words(lead.page(path))


def test_pictures_are_of_the_cells_that_are_asked_about(
    lead: Browser, sheet: ScanSheet, lab: Lab
) -> None:
    answer = lead.get(f"/scans/{sheet.number}/questions.webp")
    assert answer.mimetype == "image/webp"
    strip = Image.open(io.BytesIO(answer.data)).convert("L")
    half = strip.height // 2
    faint, blank = (
        strip.crop((0, 0, strip.width, half)),
        strip.crop((0, half, strip.width, strip.height)),
    )
    middle = (35, 35, strip.width - 35, half - 35)
    assert darkest(faint.crop(middle)) < 235 < darkest(blank.crop(middle))
    assert lead.get(f"/scans/{sheet.number}/page.jpg").mimetype == "image/jpeg"
    lead.post(f"/scans/{sheet.number}/aside")
    assert lead.get(f"/scans/{sheet.number}/questions.webp").status_code == 404


def test_a_page_is_set_aside_and_taken_up_again(lab: Lab, lead: Browser, sheet: ScanSheet) -> None:
    path = f"/scans/{sheet.number}"
    answer = lead.post(f"{path}/aside", {"act": "aside"})
    text = words(lead.page(answer.location))
    assert "Set aside: nothing was taken" in text
    assert "1 page set aside A-1, 2026, page 1 of 4" in text
    assert "Take it up again" in lead.page(path)
    lead.post(f"{path}/aside", {"act": "take up"})
    assert "2 questions for you" in words(lead.page(path))
    assert entries(lab) == []


@pytest.mark.parametrize(("email", "sees"), [
    ("lead@alder.example", True),
    ("lead@birch.example", False),
    ("lead@cedar.example", False),
    ("north@bench.example", True),
    ("program@bench.example", True),
])  # fmt: skip
def test_a_page_is_there_for_whoever_looks_after_its_site_alone(
    lab: Lab, sheet: ScanSheet, email: str, sees: bool
) -> None:
    """ASVS 5.0.0, 8.2.2: 404 for reads and writes, and nothing is written."""
    browser, path = lab.signed_in(email), f"/scans/{sheet.number}"
    before = dump(lab)
    reads = [browser.get(f"{path}{more}") for more in ("", "/questions.webp", "/page.jpg")]
    assert {one.status_code for one in reads} == {200 if sees else 404}
    assert (sheet.number in browser.page("/scans")) is sees
    if sees:
        return
    for act, fields in (
        ("answer", {"row": "0", "slots": str(FAINT), "answer": "filled"}),
        ("accept", {"seen": ""}),
        ("aside", {}),
    ):
        assert browser.post(f"{path}/{act}", dict(fields)).status_code == 404
    assert dump(lab) == before


def test_a_page_of_no_known_chart_is_shown_to_whoever_sent_it_alone(lab: Lab) -> None:
    sheet = put_scan(lab, SheetRead(problem="too dark; scan it again"))
    lead, other = lab.as_role(Role.SITE_LEAD), lab.as_role(Role.MANAGER)
    assert "This page cannot be used. Too dark" in words(lead.page(f"/scans/{sheet.number}"))
    assert other.get(f"/scans/{sheet.number}").status_code == 404
    assert sheet.number not in other.page("/scans")


def test_a_reading_of_somebody_else_is_not_there(
    lab: Lab, lead: Browser, reader: FakeReader
) -> None:
    answer = lead.post("/scans", {"files": [(io.BytesIO(PDF), "march.pdf")]})
    assert lab.as_role(Role.MANAGER).get(answer.location).status_code == 404
