"""Is a site set up on its page, is each change seen before it is saved, and is it a change line?"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from html import unescape

import pytest

from fleet.domain.records import Closure, Role
from fleet.domain.register import Register
from fleet.services.checked import kept_by_unit
from fleet.services.findings import finding_rows
from fleet.services.kept import worked_out
from fleet.services.questions import Narrow, Question
from fleet.services.register_changes import change_register
from tests.fleet.web.lab import PEOPLE, Browser, Lab

SITE = {
    "name": "Alder Laboratory",
    "county": "Adams",
    "region": "North",
    "open_days": ["Mon", "Tue", "Wed", "Thu", "Fri"],
    "time_zone": "America/Chicago",
    "lead_email": "lead@alder.example",
}


def register(lab: Lab) -> Register:
    with lab.program.store.begin() as record:
        return record.register()


def gaps(lab: Lab) -> int:
    """How many cells of alder are gaps, asked as the command does."""
    with lab.program.store.begin() as record:
        question = Question(now=lab.now[0], narrow=Narrow(sites=("alder",)))
        first, last = dt.date(2026, 1, 1), dt.date(2026, 3, 31)
        found = finding_rows(record, lab.program.public_holidays, first, last, question, "gap")
    return len(found)


def saved(browser: Browser, path: str, fields: Mapping[str, object]) -> str:
    """Look at a change, save it from the page that shows it, and answer where that leads."""
    shown = browser.post(path, fields)
    assert shown.status_code == 200, shown.text
    assert "Not saved yet" in shown.text
    form = shown.text[shown.text.index('class="bar"') :]
    hidden = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form)
    again: dict[str, list[str]] = {}
    for name, value in hidden:
        if name != "form_token":
            again.setdefault(name, []).append(unescape(value))
    answer = browser.post(path, dict(again))
    assert answer.status_code == 302, answer.text
    return answer.location


@pytest.fixture
def consultant(lab: Lab) -> Browser:
    return lab.as_role(Role.CONSULTANT)


def test_what_changes_only_words_is_saved_at_once_with_who_and_when(
    lab: Lab, consultant: Browser
) -> None:
    fields = {**SITE, "name": "Alder & Ash Laboratory", "lead_email": ""}
    answer = consultant.post("/setup/sites/alder", fields)
    assert answer.location == "/setup/sites/alder?done=site"
    assert "Alder &amp; Ash Laboratory" in consultant.page(answer.location)
    with lab.program.store.begin() as record:
        line = list(record.change_lines())[3]
    assert (line.by, line.stored_at) == (f"account:{PEOPLE[Role.CONSULTANT]}", lab.now[0])


def test_a_consultant_moves_no_site_to_another_region(lab: Lab, consultant: Browser) -> None:
    consultant.post("/setup/sites/alder", {**SITE, "region": "South", "county": "Antelope"})
    place = register(lab).sites[("alder",)]
    assert (place.county, place.region) == ("Antelope", "North")
    lab.as_role(Role.MANAGER).post("/setup/sites/alder", {**SITE, "region": "South"})
    assert register(lab).sites[("alder",)].region == "South"


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("name", "", "Nothing is given; fill it in."),
        ("time_zone", "America/Chicagoo", "did you mean &#39;America/Chicago&#39;?"),
        ("open_days", [], "Tick one day at least."),
        ("latitude", "ninety", "write"),
        ("lead_email", "lead", "write one address"),
        ("name", "x" * 201, "200"),
    ],
)
def test_a_slip_is_told_at_its_field_and_keeps_what_was_typed(
    lab: Lab, consultant: Browser, field: str, value: object, said: str
) -> None:
    answer = consultant.post("/setup/sites/alder", {**SITE, "county": "Typed", field: value})
    assert answer.status_code == 400
    assert said in answer.text
    assert 'value="Typed"' in answer.text
    assert "<title>Error: " in answer.text
    assert register(lab).sites[("alder",)].county == "Adams"


def test_a_closure_of_the_past_is_shown_with_all_it_brings_before_it_is_saved(
    lab: Lab, consultant: Browser
) -> None:
    before = gaps(lab)
    fields = {"act": "add", "from": "2026-03-02", "to": "", "reason": "Ice storm", "open": ""}
    shown = consultant.post("/setup/sites/alder/closures", fields)
    assert register(lab).closures == {}, "a look keeps nothing"
    text = re.sub(r"<[^>]+>|\s+", " ", shown.text)
    assert "1 day becomes closed" in text
    assert "Mon 2 Mar 2026" in text
    assert "Ice storm" in text
    assert "No day becomes open" in text
    assert "This changes days that have passed" in text
    assert "was recorded on 2026-03-03 by account:north@bench.example" in text
    assert "2 gaps are settled" in text, "A-1 is marked that day; A-2 and A-3 are not"
    where = saved(consultant, "/setup/sites/alder/closures", fields)
    assert where == "/setup/sites/alder?done=closure"
    assert [c.reason for c in register(lab).closures.values()] == ["Ice storm"]
    assert gaps(lab) == before - 2, "the program reports what was shown"


def test_a_closure_is_ended_earlier_and_taken_out(lab: Lab, consultant: Browser) -> None:
    path = "/setup/sites/alder/closures"
    fields = {"act": "add", "from": "2026-03-09", "to": "2026-03-13", "reason": "Training"}
    saved(consultant, path, fields)
    again = consultant.post(path, {**fields, "to": "2026-03-20"})
    assert again.status_code == 400
    assert "there is a closure from 2026-03-09 already" in again.text.replace("There", "there")
    ended = {"act": "end", "from": "2026-03-09", "open": "", "to": "2026-03-10"}
    shown = consultant.post(path, ended)
    assert "3 days become open" in shown.text
    saved(consultant, path, ended)
    (closure,) = register(lab).closures.values()
    assert str(closure.to_on) == "2026-03-10"
    assert consultant.post(path, {**ended, "to": "2026-03-01"}).status_code == 400
    assert consultant.post(path, {**ended, "from": "2026-03-08"}).status_code == 404
    saved(consultant, path, {"act": "remove", "from": "2026-03-09", "open": ""})
    assert register(lab).closures == {}


def test_a_weekly_pattern_moves_due_dates_and_is_taken_out_again(
    lab: Lab, consultant: Browser
) -> None:
    path = "/setup/sites/alder/patterns"
    fields = {"from": "2026-03-30", "open_days": ["Mon", "Tue", "Wed", "Thu"]}
    shown = consultant.post(path, fields)
    # A-2 was serviced on Thursday 3 April 2025: due on Friday 3 April 2026.
    assert "1 due date moves" in shown.text
    assert re.search(r"\d+ days from Fri 3 Apr 2026 to Fri \d+ Dec 2028 <small>Friday", shown.text)
    assert "Fri 3 Apr 2026 becomes Mon 6 Apr 2026" in shown.text
    saved(consultant, path, fields)
    assert "From Mon 30 Mar 2026: Mon Tue Wed Thu" in consultant.page("/setup/sites/alder")
    saved(consultant, path, {"act": "remove", "from": "2026-03-30"})
    assert register(lab).patterns == {}
    assert consultant.post(path, {"from": "2026-03-30"}).status_code == 400, "no day is ticked"


def test_an_extra_opening_makes_a_day_open(lab: Lab, consultant: Browser) -> None:
    fields = {"act": "add", "from": "2026-03-07", "to": "", "reason": "Clinic", "open": "yes"}
    shown = consultant.post("/setup/sites/alder/closures", fields)
    assert "1 day becomes open" in shown.text
    saved(consultant, "/setup/sites/alder/closures", fields)
    assert [c.open for c in register(lab).closures.values()] == [True]


def test_a_closure_of_all_sites_is_shown_and_not_a_site_s_to_end(
    lab: Lab, consultant: Browser
) -> None:
    with lab.program.store.begin(write=True) as record:
        on = dt.date(2026, 12, 24)
        closure = Closure(site="", from_on=on, to_on=on, reason="by order")
        stamp = lab.program.stamp("test")
        change_register(record, lab.program.public_holidays, "test", [closure], stamp)
        record.commit()
    assert "all sites" in consultant.page("/setup/sites/alder")
    fields = {"act": "remove", "from": "2026-12-24", "open": ""}
    assert consultant.post("/setup/sites/alder/closures", fields).status_code == 404


def holiday_rows(page: str) -> dict[str, list[str]]:
    return {
        name: [unescape(v) for v in re.findall(rf'name="{name}" value="([^"]*)"', page)]
        for name in ("day", "name")
    }


def test_a_site_s_own_holidays_replace_the_year_and_are_given_up_again(
    lab: Lab, consultant: Browser
) -> None:
    path = "/setup/sites/alder/holidays/2026"
    page = consultant.page(path)
    assert "These are the public holidays of NE" in page
    rows = holiday_rows(page)
    assert "Arbor Day" in rows["name"]
    place = rows["name"].index("Arbor Day")
    rows["day"][place], rows["name"][place] = "2026-05-01", "Founders & Friends Day"
    fields: dict[str, object] = {**rows, "act": "own"}
    shown = consultant.post(path, fields)
    assert "1 day becomes closed" in shown.text
    assert "1 day becomes open" in shown.text
    saved(consultant, path, fields)
    own = [h for h in register(lab).holidays.values() if h.site == "alder"]
    assert {h.country for h in own} == {"US"}
    assert "Founders & Friends Day" in [h.name for h in own]
    assert "Arbor Day" not in [h.name for h in own]
    page = consultant.page(path)
    assert "This is the site's own list." in unescape(page)
    assert "its own list" in consultant.page("/setup/sites/alder")
    assert "These are the public holidays" in consultant.page("/setup/sites/alder/holidays/2027")
    saved(consultant, path, {"act": "public", "day": [], "name": []})
    assert register(lab).holidays == {}


@pytest.mark.parametrize(
    ("day", "name", "said"),
    [
        ("2027-05-01", "Founders Day", "2027-05-01 is not in 2026"),
        ("2026-05-01", "", "2026-05-01 has no name"),
        ("2026-01-01", "Founders Day", "2026-01-01 stands twice"),
        ("1 May", "Founders Day", "is not a day"),
    ],
)
def test_a_slip_in_the_holidays_is_told(
    lab: Lab, consultant: Browser, day: str, name: str, said: str
) -> None:
    path = "/setup/sites/alder/holidays/2026"
    rows = holiday_rows(consultant.page(path))
    rows["day"][-1], rows["name"][-1] = day, name
    answer = consultant.post(path, {**rows, "act": "own"})
    assert answer.status_code == 400
    assert said in answer.text
    assert register(lab).holidays == {}


def test_a_manager_adds_a_site_and_a_consultant_none(lab: Lab, consultant: Browser) -> None:
    fields = {**SITE, "site": "dogwood", "name": "Dogwood", "land": "US-NE", "lead_email": ""}
    assert consultant.post("/setup/new-site", fields).status_code == 403
    manager = lab.as_role(Role.MANAGER)
    answer = manager.post("/setup/new-site", fields)
    assert answer.location == "/setup/sites/dogwood?done=new"
    assert "Dogwood" in manager.page("/setup/sites?find=dogw")
    assert manager.post("/setup/new-site", fields).status_code == 400, "it is there"
    other = manager.post("/setup/new-site", {**fields, "site": "elm", "land": "DE-BY"})
    assert other.status_code == 400
    with lab.program.store.begin() as record:
        assert not list(record.flaws(lambda _: None))


def test_a_consultant_sees_the_region_s_sites_and_no_others(lab: Lab, consultant: Browser) -> None:
    page = consultant.page("/setup/sites")
    assert "Cedar Bluff" in page
    assert "Birch Hill" not in page
    for path in ("/setup/sites/birch", "/setup/sites/birch/holidays/2026"):
        assert consultant.get(path).status_code == 404
    before = register(lab)
    closed = {"act": "add", "from": "2026-03-09", "reason": "x", "save": "yes"}
    assert consultant.post("/setup/sites/birch/closures", closed).status_code == 404
    assert consultant.post("/setup/sites/birch", {**SITE, "save": "yes"}).status_code == 404
    assert register(lab) == before


def test_marks_that_span_days_follow_a_change_of_the_calendar(
    lab: Lab, consultant: Browser
) -> None:
    """What is kept of a unit is what `verify` would rebuild, whatever changes its open days."""
    saved(consultant, "/setup/sites/alder", {**SITE, "open_days": ["Mon", "Tue", "Sat"]})
    path = "/setup/sites/alder/patterns"
    saved(consultant, path, {"from": "2026-02-24", "open_days": ["Wed", "Thu", "Sun"]})
    rows = holiday_rows(consultant.page("/setup/sites/alder/holidays/2026"))
    rows["day"][-1], rows["name"][-1] = "2026-02-25", "Ash Day"
    saved(consultant, "/setup/sites/alder/holidays/2026", {**rows, "act": "own"})
    with lab.program.store.begin() as record:
        ids = sorted(record.unit_ids().values())
        for batch, years in worked_out(record, ids, lab.program.public_holidays):
            assert kept_by_unit(record.kept_years(batch)) == kept_by_unit(years)


def test_marks_on_a_day_that_closes_are_shown(lab: Lab, consultant: Browser) -> None:
    bench = lab.at_bench()
    keys = re.findall(r'name="key" value="([^"]+)"', bench.page("/bench/alder"))
    mark = {"property_number": "A-1", "task": "optics", "on": "2026-03-03", "mark": "done"}
    assert bench.post("/bench/alder/mark", {**mark, "key": keys[0]}).status_code == 302
    fields = {"act": "add", "from": "2026-03-03", "to": "", "reason": "Fire drill", "open": ""}
    shown = consultant.post("/setup/sites/alder/closures", fields)
    assert "1 mark stands on a day it cannot be of" in shown.text
    assert "A-1, optics: Tue 3 Mar 2026" in shown.text


def test_a_change_of_the_site_itself_is_told_in_words_that_stay_as_they_are(
    lab: Lab, consultant: Browser
) -> None:
    fields = {**SITE, "name": "Alder Lab", "open_days": ["Mon", "Tue"]}
    shown = unescape(consultant.post("/setup/sites/alder", fields).text)
    assert "; open days: Mon Tue Wed Thu Fri becomes Mon Tue" in shown
    assert re.search(r"<li>Name: .* becomes Alder Lab;", shown)
