"""The digests of a whole invented state: who gets one, what stands in it, and the files of it."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from collections.abc import Sequence
from pathlib import Path

import pytest

from fleet.domain.records import Role
from fleet.services.mailing.digest import DigestRun, digests, write_folder
from fleet.services.mailing.digest_facts import fleet_facts
from notifications.facts import Visit
from notifications.messages import Kind, Rendered
from notifications.mime import mail
from notifications.settings import Settings
from tests.fleet.services.mailing.digest_scenario import (
    BOOK,
    ON,
    ROOT,
    Scenario,
    a_state,
    week_days,
)
from tests.notifications.mail_rules import check_message


def run_of(state: Scenario, **changes: object) -> DigestRun:
    return digests(
        state.register,
        BOOK,
        state.rows,
        state.gaps,
        state.on,
        Settings(**changes),  # type: ignore[arg-type]
        ROOT,
    )


def a_small_state() -> Scenario:
    """One site with a lead who is only named at the site, and nothing to do."""
    state = Scenario(on=dt.date(2026, 11, 16))
    state.site("alder", "Alder Creek", "Adams", "Platte", "ana@lab.example")
    return state


def units_in(states: Sequence[str], state: Scenario, *sites: str) -> set[str]:
    return {row.property_number for row in state.rows if row.state in states and row.site in sites}


def text_of(run: DigestRun, kind: Kind, email: str) -> str:
    return next(m.text for m in run.messages if (m.kind, m.email) == (kind, email))


def numbers(text: str) -> set[str]:
    return set(re.findall(r"NE-\d{4}", text))


@pytest.fixture(scope="module")
def state() -> Scenario:
    """The invented state."""
    return a_state()


@pytest.fixture(scope="module")
def run(state: Scenario) -> DigestRun:
    """Its digests."""
    return run_of(state)


def test_each_person_gets_one_mail_a_kind(run: DigestRun) -> None:
    assert [(message.kind.value, message.email) for message in run.messages] == [
        ("consultant", "con@lab.example"),
        ("consultant", "ivy@lab.example"),
        ("manager", "max@lab.example"),
        *(
            ("site_lead", f"{name}@lab.example")
            for name in ("ana", "ben", "cleo", "dov", "eve", "finn")
        ),
    ]
    assert run.skipped == ()


def test_every_digest_keeps_the_mail_standards(run: DigestRun) -> None:
    for message in run.messages:
        check_message(mail(message, Settings()).content)


def test_a_lead_s_text_alone_lists_every_due_and_overdue_unit(
    state: Scenario, run: DigestRun
) -> None:
    for name, sites in {"ana": ("alder-creek", "blue-stem"), "eve": ("fox-meadow",)}.items():
        expected = units_in(("due", "overdue"), state, *sites)
        said = numbers(text_of(run, Kind.SITE_LEAD, f"{name}@lab.example"))

        assert expected
        assert said == expected


def test_a_consultant_s_text_lists_every_annual_service_and_every_overdue_unit(
    state: Scenario, run: DigestRun
) -> None:
    vendor_tasks = {(k.code, r.task) for k in BOOK.kinds.values() for r in k.rules if r.vendor}
    expected = {
        row.property_number
        for row in state.rows
        if row.state == "overdue" or (row.state == "due" and (row.kind, row.task) in vendor_tasks)
    }

    assert numbers(text_of(run, Kind.CONSULTANT, "ivy@lab.example")) == expected


def test_a_consultant_reads_only_of_their_region(state: Scenario, run: DigestRun) -> None:
    here = {row.property_number for row in state.rows if row.region == "Platte"}

    assert numbers(text_of(run, Kind.CONSULTANT, "con@lab.example")) <= here


def test_the_manager_s_total_is_the_sum_of_the_book_s_fees(state: Scenario, run: DigestRun) -> None:
    fees = {
        (k.code, r.task): r.fee_cents
        for k in BOOK.kinds.values()
        for r in k.rules
        if r.vendor and not r.models
    }
    horizon = ON + dt.timedelta(days=180)
    owed = [
        fees[row.kind, row.task]
        for row in state.rows
        if (row.kind, row.task) in fees and row.due is not None and row.due <= horizon
    ]
    total = sum(fee for fee in owed if fee is not None)

    line = f"All of it: {len(owed)} services, ${total // 100:,}.{total % 100:02d}"
    assert line in text_of(run, Kind.MANAGER, "max@lab.example")


def test_html_names_the_same_units_as_the_text(run: DigestRun) -> None:
    """RFC 2046 5.1.4: the parts are alternatives of the same information."""
    for message in run.messages:
        assert numbers(message.html) == numbers(message.text), message.email


def test_a_mail_stays_far_below_the_size_that_mailboxes_clip(run: DigestRun) -> None:
    """About 102 kB at one large provider (from memory)."""
    whole = a_state(units_a_site=300)

    for message in run_of(whole).messages:
        assert len(message.html.encode()) < 90_000, message.email


def test_a_lead_named_only_at_the_site_gets_a_digest_too() -> None:
    state = a_small_state()
    state.duty(state.unit("NE-1001", "microscope", "alder"), "annual-service", -30)

    assert [(m.kind, m.email) for m in run_of(state).messages] == [
        (Kind.SITE_LEAD, "ana@lab.example")
    ]


def test_two_spellings_of_an_address_are_one_reader() -> None:
    state = a_small_state()
    state.site("blue", "Bluestem", "Adams", "Platte", "ana@LAB.example")
    state.person("ana@lab.EXAMPLE", "Ana Quist", Role.SITE_LEAD, site="blue")
    state.duty(state.unit("NE-1001", "microscope", "alder"), "annual-service", -30)

    run = run_of(state)

    assert [message.email for message in run.messages] == ["ana@lab.example"]
    assert run.messages[0].subject.startswith("Alder Creek and Bluestem: 1 overdue")


def test_who_gets_nothing_is_named_with_the_reason() -> None:
    state = a_small_state()
    state.person("jürgen@lab.example", "Jürgen", Role.CONSULTANT)
    state.person("nell@lab.example", "Nell", Role.SITE_LEAD)
    state.person("vic@lab.example", "Vic", Role.VENDOR)

    run = run_of(state)

    assert run.messages == ()
    assert [(one.email, one.reason) for one in run.skipped] == [
        (
            "jürgen@lab.example",
            "'jürgen@lab.example' is not an address that can be written to:"
            " the part before the @ has letters that many servers refuse",
        ),
        ("ana@lab.example", "nothing to do; all clear is told once a month"),
        ("nell@lab.example", "no site is named for this site lead; give one in the people file"),
    ]


def test_the_first_digest_of_a_month_says_all_clear() -> None:
    state = dataclasses.replace(a_small_state(), on=dt.date(2026, 12, 7))

    assert [message.subject for message in run_of(state).messages] == ["All clear: Alder Creek"]


def test_a_mail_is_dated_seven_in_the_morning_where_its_reader_is(run: DigestRun) -> None:
    lead = next(message for message in run.messages if message.kind is Kind.SITE_LEAD)

    assert lead.dated_at.isoformat() == "2026-11-30T07:00:00-06:00"


def test_a_visit_reaches_the_lead_of_its_site() -> None:
    state = a_small_state()
    visit = Visit(on=dt.date(2026, 11, 24), vendor="Platte Calibration")

    run = digests(state.register, BOOK, [], [], state.on, Settings(), ROOT, visits={"alder": visit})

    assert "Next visit: Tue 24 Nov 2026, Platte Calibration." in run.messages[0].text


def test_rows_out_of_service_or_before_service_are_not_told() -> None:
    state = a_small_state()
    unit = state.unit("NE-1001", "microscope", "alder")
    state.duty(unit, "annual-service", -30)
    gone = [
        state.rows[0]._replace(state=name)
        for name in ("retired", "out of service", "not in service yet")
    ]

    assert digests(state.register, BOOK, gone, [], state.on, Settings(), ROOT).messages == ()


def test_a_unit_that_will_be_retired_by_then_is_not_planned() -> None:
    state = a_small_state()
    unit = state.unit("NE-1001", "microscope", "alder")
    state.duty(unit, "annual-service", 60)
    state.units[unit.key] = dataclasses.replace(unit, retired_on=state.on + dt.timedelta(days=60))

    assert not fleet_facts(state.register, BOOK, state.rows, [], state.on).duties.get("alder")


@pytest.mark.parametrize(
    ("missed", "gap_count", "first_on", "is_silent"),
    [
        (20, 20, dt.date(2026, 10, 19), True),  # every weekday of four weeks
        (45, 20, dt.date(2026, 10, 19), True),  # and longer
        (16, 16, dt.date(2026, 10, 23), True),  # the run began in the first week
        (15, 15, dt.date(2026, 10, 26), False),  # something was marked in the first week
        (3, 4, dt.date(2026, 10, 19), False),  # something was marked between the gaps
        (1, 1, dt.date(2026, 11, 13), False),
    ],
)
def test_a_unit_nobody_reports_on_has_had_no_mark_for_weeks(
    missed: int, gap_count: int, first_on: dt.date, is_silent: bool
) -> None:
    state = a_small_state()
    gaps = (
        [(first_on, first_on), *week_days(state.on, gap_count - 1)]
        if gap_count > 1
        else [(first_on, first_on)]
    )
    state.chart(state.unit("NE-1001", "microscope", "alder"), "optics", "overdue", missed, gaps)

    facts = fleet_facts(state.register, BOOK, state.rows, state.gaps, state.on)

    assert bool(facts.silent.get("alder")) is is_silent


def test_a_unit_with_one_chart_marked_is_not_silent() -> None:
    state = a_small_state()
    unit = state.unit("NE-1001", "centrifuge", "alder")
    state.chart(unit, "spill-check", "overdue", 20, week_days(state.on, 20))
    state.chart(unit, "disinfection", "due", closes_in=4)

    assert not fleet_facts(state.register, BOOK, state.rows, state.gaps, state.on).silent


def test_a_unit_new_within_the_four_weeks_is_not_silent() -> None:
    state = a_small_state()
    unit = state.unit("NE-1001", "microscope", "alder")
    state.units[unit.key] = dataclasses.replace(unit, in_service_on=dt.date(2026, 10, 20))
    state.chart(unit, "optics", "overdue", 20, week_days(state.on, 20))

    assert not fleet_facts(state.register, BOOK, state.rows, state.gaps, state.on).silent


def test_only_gaps_of_the_last_four_weeks_are_told() -> None:
    state = a_small_state()
    unit = state.unit("NE-1001", "microscope", "alder")
    ons = [state.on - dt.timedelta(days=days) for days in (29, 28, 1, 0)]
    state.chart(unit, "optics", "due", gaps=[(on, on) for on in ons])

    chart = fleet_facts(state.register, BOOK, state.rows, state.gaps, state.on).charts["alder"][0]

    assert [gap.from_on for gap in chart.gaps] == ons[1:3]


def test_a_duty_and_a_chart_carry_what_their_rules_warn_of() -> None:
    state = a_small_state()
    unit = state.unit("NE-1001", "microscope", "alder")
    state.duty(unit, "annual-service", -30)
    state.chart(unit, "optics", "due")
    rules = {rule.task: rule for rule in BOOK.kinds["microscope"].rules}

    facts = fleet_facts(state.register, BOOK, state.rows, state.gaps, state.on)

    assert facts.duties["alder"][0].cautions == rules["annual-service"].cautions
    assert facts.charts["alder"][0].cautions == rules["optics"].cautions


def test_only_the_roles_asked_for_are_written_to(state: Scenario) -> None:
    def kinds(*roles: Role) -> set[str]:
        run = digests(
            state.register, BOOK, state.rows, state.gaps, state.on, Settings(), ROOT, roles=roles
        )
        assert run.skipped == ()
        return {message.kind.value for message in run.messages}

    assert kinds() == {"consultant", "manager", "site_lead"}
    assert kinds(Role.SITE_LEAD, Role.CONSULTANT) == {"consultant", "site_lead"}
    assert kinds(Role.MANAGER) == {"manager"}


def test_the_folder_holds_a_mail_and_a_page_for_each_message(
    run: DigestRun, tmp_path: Path
) -> None:
    paths = write_folder(run, tmp_path)

    assert len(paths) == 2 * len(run.messages)
    assert paths[0] == tmp_path / "consultant" / "con@lab.example.eml"
    assert {path.parent.name for path in paths} == {"consultant", "manager", "site_lead"}
    for message in run.messages:
        stem = tmp_path / message.kind.value / message.email
        assert stem.with_name(f"{stem.name}.eml").read_bytes() == mail(message, Settings()).content
        assert stem.with_name(f"{stem.name}.html").read_text(encoding="utf-8") == message.html


@pytest.mark.parametrize(
    "email",
    [
        "Ana@lab.example",
        "a/./b@lab.example",
        "a*?|b@lab.example",
        "x" * 64 + "@" + "y" * 60 + ".example",
    ],
)
def test_no_address_leaves_its_folder_or_takes_another_s_file(email: str, tmp_path: Path) -> None:
    message = a_message(email)
    other = a_message(email.lower().replace("/", "_").replace("*", "_"))
    run = DigestRun(ON, (message, other), (), Settings())

    paths = write_folder(run, tmp_path)

    assert {path.parent for path in paths} == {tmp_path / "site_lead"}
    assert all(re.fullmatch(r"[a-z0-9@._+-]{1,120}", path.name) for path in paths)
    assert len({path.name.lower() for path in paths}) == (4 if email != other.email else 2)


def a_message(email: str) -> Rendered:
    return Rendered(
        kind=Kind.SITE_LEAD,
        email=email,
        name="",
        period="2026-W49",
        dated_at=dt.datetime(2026, 11, 30, 7, 0, tzinfo=dt.UTC),
        is_all_clear=False,
        subject="s",
        text="t\n",
        html="<p>t</p>",
    )


def test_the_same_question_gives_the_same_bytes(state: Scenario, run: DigestRun) -> None:
    again = run_of(state)

    assert [mail(m, Settings()) for m in again.messages] == [
        mail(m, Settings()) for m in run.messages
    ]


def test_two_thousand_units_are_told_within_the_caps() -> None:
    state = a_state(units_a_site=300)
    run = run_of(state, base_url="https://lab.example")

    text = text_of(run, Kind.CONSULTANT, "ivy@lab.example")
    assert len(re.findall(r"^\* NE-", text, re.MULTILINE)) <= 40 + 4 * 5
    assert "see all of them: https://lab.example" in re.sub(r"\s+", " ", text)
