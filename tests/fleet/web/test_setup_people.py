"""Are roles, deputies and absences given and ended by who may, and sessions ended?"""

from __future__ import annotations

import pytest

from fleet.domain.records import Role
from fleet.domain.register import Register
from tests.fleet.web.lab import PEOPLE, Browser, Lab

LEAD = PEOPLE[Role.SITE_LEAD]
PATH = f"/setup/people/{LEAD}"
NEW = {
    "email": "ash@cedar.example",
    "name": "Ash Cedarwood",
    "role": "site lead",
    "site": "cedar",
    "language": "es",
    "deputy": LEAD,
}


def register(lab: Lab) -> Register:
    with lab.program.store.begin() as record:
        return record.register()


@pytest.fixture
def consultant(lab: Lab) -> Browser:
    return lab.as_role(Role.CONSULTANT)


@pytest.fixture
def manager(lab: Lab) -> Browser:
    return lab.as_role(Role.MANAGER)


def test_a_consultant_gives_a_lead_of_the_region_a_role(lab: Lab, consultant: Browser) -> None:
    answer = consultant.post("/setup/new-person", NEW)
    assert answer.location == "/setup/people/ash@cedar.example?done=new"
    (person,) = [p for p in register(lab).people.values() if p.email == NEW["email"]]
    assert (person.language, person.deputy, person.site) == ("es", LEAD, "cedar")
    page = consultant.page(answer.location)
    assert "Cedar Bluff Laboratory" in page
    assert "Invite" in page
    assert consultant.post("/setup/new-person", NEW).status_code == 400, "the role stands"


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"site": "birch"}, 404),
        ({"site": "no-such"}, 404),
        ({"role": "manager", "site": ""}, 400),
        ({"role": "consultant", "site": "", "region": "North"}, 400),
        ({"role": "consultant", "site": "cedar"}, 400),
        ({"role": "inspector"}, 400),
        ({"role": "site lead", "site": ""}, 400),
        ({"role": "bench", "site": ""}, 400),
        ({"role": "king"}, 400),
        ({"email": "ash"}, 400),
        ({"name": ""}, 400),
        ({"language": "xx"}, 400),
    ],
    ids=str,
)
def test_no_consultant_gives_what_is_not_theirs_to_give(
    lab: Lab, consultant: Browser, changed: dict[str, str], status: int
) -> None:
    before = register(lab)
    assert consultant.post("/setup/new-person", {**NEW, **changed}).status_code == status
    assert register(lab) == before


def test_a_consultant_reaches_nobody_of_another_region(lab: Lab, consultant: Browser) -> None:
    for email in ("lead@birch.example", PEOPLE[Role.MANAGER], "nobody@x.example"):
        path = f"/setup/people/{email}"
        assert consultant.get(path).status_code == 404
        for act in ("", "/roles", "/away", "/sign-out"):
            assert consultant.post(path + act, {"act": "end"}).status_code == 404


def test_of_oneself_only_absences_can_be_noted(lab: Lab, consultant: Browser) -> None:
    own = f"/setup/people/{PEOPLE[Role.CONSULTANT]}"
    assert "Note an absence" in consultant.page(own)
    away = {"from": "2026-03-09", "to": "2026-03-13", "deputy": ""}
    assert consultant.post(f"{own}/away", away).status_code == 302
    assert len(register(lab).absences) == 1
    for act, fields in (("", {"name": "X"}), ("/roles", {"act": "end"}), ("/sign-out", {})):
        assert consultant.post(own + act, fields).status_code == 404


def test_name_language_and_deputy_are_written_into_every_role(lab: Lab, manager: Browser) -> None:
    second = {"act": "add", "role": "bench", "site": "cedar", "region": ""}
    assert manager.post(f"{PATH}/roles", second).status_code == 302
    fields = {"name": "Lee Alder-Mann", "language": "es", "deputy": "bench@alder.example"}
    assert manager.post(PATH, fields).location == f"{PATH}?done=person"
    rows = [p for p in register(lab).people.values() if p.email == LEAD]
    assert {(p.role.value, p.name, p.language) for p in rows} == {
        ("site lead", "Lee Alder-Mann", "es"),
        ("bench", "Lee Alder-Mann", "es"),
    }
    bad = manager.post(PATH, {**fields, "deputy": "nobody"})
    assert bad.status_code == 400
    assert 'value="nobody"' in bad.text


def test_a_lead_s_role_that_ends_leaves_the_site_without_lead(lab: Lab, manager: Browser) -> None:
    fields = {"act": "end", "role": "site lead", "site": "alder", "region": ""}
    assert manager.post(f"{PATH}/roles", fields).location == "/people?done=no-role"
    known = register(lab)
    assert known.sites[("alder",)].lead_email == ""
    assert LEAD not in {p.email for p in known.people.values()}
    assert "site has nobody who leads it" in manager.page("/setup")
    assert manager.get(PATH).status_code == 404


def test_the_last_manager_stays(lab: Lab, manager: Browser) -> None:
    boss = PEOPLE[Role.MANAGER]
    fields = {"act": "end", "role": "manager", "site": "", "region": ""}
    answer = manager.post(f"/setup/people/{boss}/roles", fields)
    assert answer.status_code == 400
    assert "is the last manager" in answer.text
    other = {**NEW, "email": "other@bench.example", "role": "manager", "site": ""}
    assert manager.post("/setup/new-person", other).status_code == 302
    assert manager.post(f"/setup/people/{boss}/roles", fields).status_code == 302


def test_an_absence_is_noted_and_ended(lab: Lab, consultant: Browser) -> None:
    away = {"from": "2026-03-09", "to": "2026-03-13", "deputy": PEOPLE[Role.CONSULTANT]}
    assert consultant.post(f"{PATH}/away", away).location == f"{PATH}?done=away"
    assert "north@bench.example stands in" in consultant.page(PATH)
    wrong = consultant.post(f"{PATH}/away", {**away, "to": "2026-03-01"})
    assert wrong.status_code == 400
    assert "2026-03-01 is before 2026-03-09" in wrong.text
    over = consultant.post(f"{PATH}/away", {**away, "from": "2026-03-10"})
    assert over.status_code == 400
    assert "dueward " not in over.text
    back = {"act": "back", "back": "2026-03-11"}
    assert consultant.post(f"{PATH}/away", back).status_code == 302
    (absence,) = register(lab).absences.values()
    assert str(absence.to_on) == "2026-03-10"
    again = consultant.post(f"{PATH}/away", back)
    assert again.status_code == 400
    assert "dueward " not in again.text


def test_every_browser_of_an_account_is_signed_out(lab: Lab, consultant: Browser) -> None:
    lead = lab.as_role(Role.SITE_LEAD)
    assert lead.get("/sites/alder").status_code == 200
    assert "1 browser is signed in" in consultant.page(PATH)
    assert consultant.post(f"{PATH}/sign-out").location == f"{PATH}?done=sign-out"
    assert lead.get("/sites/alder").status_code == 302
    log = lab.as_role(Role.MANAGER).page(f"/setup/access?who={LEAD}")
    assert "signed-in browsers ended" in log
    assert "by north@bench.example" in log


def test_the_access_log_is_of_everybody_or_of_one(lab: Lab, manager: Browser) -> None:
    lab.browser().post("/sign-in", {"email": LEAD, "password": "wrong"})
    lab.browser().post("/sign-in", {"email": "a@b.example", "password": "wrong"})
    assert "a@b.example" in manager.page("/setup/access")
    page = manager.page(f"/setup/access?who={LEAD.upper()}")
    assert "sign-in failed" in page
    assert "a@b.example" not in page
    assert "Nothing" in manager.page("/setup/access?who=nobody@x.example")
