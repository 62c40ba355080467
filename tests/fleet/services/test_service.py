"""Does one act put a service, its report and its certificate on the record, once and whole?"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import replace

import pytest

from fleet.domain.evidence import Attachment, ServiceReport
from fleet.domain.records import Mark
from fleet.errors import BadInput, Doubtful, FleetError, KeyTaken, NotFound
from fleet.services.mark import strike
from fleet.services.ports import AttachedFile, Stamp
from fleet.services.service import Recorded, certificate_of, record_service
from fleet.storage import SqlStore
from tests.fleet.storage.examples import ENTRY as OPTICS
from tests.fleet.storage.examples import STAMP, add, load_units, moved
from tests.reference.bridge import NoPublicHolidays

HOLIDAYS = NoPublicHolidays()
ON = dt.date(2026, 2, 24)
REPORT = ServiceReport(
    property_number="M-001",
    task="annual-service",
    on=ON,
    vendor="Example Optics",
    technician="T. Exemplar",
    findings="cleaned\nno fault found",
)
KEY = "M-001/annual-service/2026-02-24/1"


def file(content: bytes = b"payload", name: str = "report.pdf") -> AttachedFile:
    sha256 = hashlib.sha256(content).hexdigest()
    return AttachedFile(Attachment(sha256, name, "application/pdf", len(content)), content)


CERTIFICATE = file()


@pytest.fixture
def fleet(store: SqlStore) -> SqlStore:
    """One microscope that is served once a year."""
    load_units(store)
    return store


def serve(
    store: SqlStore,
    report: ServiceReport = REPORT,
    certificate: AttachedFile | None = CERTIFICATE,
    *,
    initials: str = "",
    key: str = "",
    anyway: bool = False,
    stamp: Stamp = STAMP,
) -> Recorded:
    with store.begin(write=True) as record:
        done = record_service(
            record,
            HOLIDAYS,
            report,
            certificate,
            initials=initials,
            key=key,
            anyway=anyway,
            stamp=stamp,
        )
        record.commit()
    return done


def lines(store: SqlStore) -> dict[str, int]:
    with store.begin() as record:
        return {chain: head.seq for chain, head in record.heads().items()}


def test_one_act_writes_entry_report_and_certificate(fleet: SqlStore) -> None:
    before = lines(fleet)

    done = serve(fleet, initials="OV")

    named = replace(
        REPORT,
        certificate=CERTIFICATE.attachment.sha256,
        certificate_name="report.pdf",
        entry=KEY,
    )
    assert (done.report, done.attachment, done.is_new) == (named, CERTIFICATE.attachment, True)
    entry = done.stored.entry
    assert (entry.key, entry.mark, entry.on, entry.initials) == (KEY, Mark.DONE, ON, "OV")
    assert lines(fleet) == before | {
        "entry/M-001": 1,
        "register/service_report": 1,
        "attachment": 1,
    }
    with fleet.begin() as record:
        assert certificate_of(record, "M-001", "annual-service", ON) == (named, b"payload")
        assert record.register().reports == {named.key: named}
        assert list(record.flaws(lambda _: None)) == []


def test_the_same_report_again_writes_nothing(fleet: SqlStore) -> None:
    first = serve(fleet, initials="OV", key="mine")
    before = lines(fleet)

    again = serve(fleet, initials="OV", key="mine", stamp=moved(STAMP, 1))
    unnamed = serve(fleet, certificate=file(name="other name.pdf"))

    assert again == replace(first, is_new=False)
    assert unnamed == replace(first, is_new=False)
    assert lines(fleet) == before


def test_the_same_key_with_other_initials_is_refused(fleet: SqlStore) -> None:
    serve(fleet, initials="OV", key="mine")

    with pytest.raises(KeyTaken) as refused:
        serve(fleet, initials="XX", key="mine")

    assert str(refused.value) == (
        "key 'mine' already stands for another entry (initials differs);"
        " an entry is never changed: strike it and write a new one"
    )


def test_another_report_of_that_day_is_doubtful_and_both_stay_readable(fleet: SqlStore) -> None:
    first = serve(fleet)
    other = replace(REPORT, findings="the lamp was replaced")

    with pytest.raises(Doubtful) as refused:
        serve(fleet, other, file(b"new"))
    second = serve(fleet, other, file(b"new"), anyway=True)

    assert str(refused.value) == (
        "M-001 annual-service has another service report of 2026-02-24 already"
        " (findings, certificate differ); say --anyway if it is meant"
    )
    assert second.stored == first.stored
    with fleet.begin() as record:
        reports = [
            (line.change.old, line.change.new)
            for line in record.change_lines()
            if isinstance(line.change.record, ServiceReport)
        ]
        assert reports == [(None, first.report), (first.report, second.report)]
        assert [record.content(sha) for sha in _shas(first, second)] == [b"payload", b"new"]
        assert len(list(record.entries())) == 1


def _shas(*done: Recorded) -> list[str]:
    return [one.report.certificate for one in done]


def test_a_service_that_was_struck_is_written_anew_with_its_report(fleet: SqlStore) -> None:
    first = serve(fleet)
    with fleet.begin(write=True) as record:
        strike(record, HOLIDAYS, KEY, "another unit", None, stamp=moved(STAMP, 1))
        record.commit()

    with pytest.raises(Doubtful, match=r"already \(its entry was struck\)"):
        serve(fleet)
    second = serve(fleet, anyway=True)

    assert first.report.entry == KEY
    assert second.report.entry == "M-001/annual-service/2026-02-24/3"


def test_a_report_joins_a_service_that_is_marked_already(fleet: SqlStore) -> None:
    marked = replace(OPTICS, key="marked", task="annual-service", on=ON, note="by phone")
    add(fleet, marked)

    with pytest.raises(Doubtful, match=r"is marked done already by RA \(entry marked\)"):
        serve(fleet)
    done = serve(fleet, key="marked")

    assert (done.stored.entry, done.report.entry, done.is_new) == (marked, "marked", True)
    with fleet.begin() as record:
        assert [stored.entry.key for stored in record.entries()] == ["marked"]


def test_a_key_of_another_entry_is_refused(fleet: SqlStore) -> None:
    add(fleet, replace(OPTICS, key="other"))

    with pytest.raises(KeyTaken, match="key 'other' already stands for another entry"):
        serve(fleet, key="other")


@pytest.mark.parametrize(
    ("report", "error", "message"),
    [
        (
            replace(REPORT, property_number="M-9"),
            NotFound,
            "no unit 'M-9'; property numbers are written as in the units file",
        ),
        (
            replace(REPORT, task="polish"),
            NotFound,
            "no task 'polish'; a microscope has these to be serviced: annual-service",
        ),
        (
            replace(REPORT, task="optics"),
            BadInput,
            "service, task: 'optics' is marked cell by cell, not serviced;"
            " mark it with dueward mark, or name one of: annual-service",
        ),
        (
            replace(REPORT, on=dt.date(2026, 3, 3)),
            Doubtful,
            "2026-03-03 lies in the future (today is 2026-03-02); say --anyway if it is meant",
        ),
        (
            replace(REPORT, vendor="Example\nOptics", technician="x" * 201, findings="a\x1bb"),
            BadInput,
            "service, vendor: 'Example\\nOptics' holds the control character U+000A;"
            " take it out; write plain text\n"
            f"service, technician: '{'x' * 59}…' has 201 characters;"
            " shorten it to at most 200\n"
            "service, findings: 'a\\x1bb' holds the control character U+001B;"
            " take it out; write plain text",
        ),
    ],
    ids=["no such unit", "no such task", "a cell rule", "in the future", "texts"],
)
def test_what_is_refused_leaves_nothing_behind(
    fleet: SqlStore, report: ServiceReport, error: type[FleetError], message: str
) -> None:
    before = lines(fleet)

    with pytest.raises(error) as refused:
        serve(fleet, report)

    assert str(refused.value) == message
    assert lines(fleet) == before


def test_a_certificate_that_is_not_there_is_told(fleet: SqlStore) -> None:
    serve(fleet, certificate=None)

    with fleet.begin() as record:
        with pytest.raises(NotFound) as no_file:
            certificate_of(record, "M-001", "annual-service", ON)
        with pytest.raises(NotFound) as no_report:
            certificate_of(record, "M-001", "annual-service", dt.date(2026, 2, 25))

    assert str(no_file.value) == (
        "no certificate of 'M-001 annual-service 2026-02-24';"
        " attach it with --certificate FILE --anyway"
    )
    assert str(no_report.value) == (
        "no service report 'M-001 annual-service 2026-02-25'; there are reports of: 2026-02-24"
    )
