"""What does confirming a visit set going, and what do the words UNIT=... of an option mean?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from fleet.errors import BadInput, Fault
from fleet.files.attached import read_attached
from fleet.files.staging import check_free, staged
from fleet.services.disk import disk_told
from fleet.services.ports import AttachedFile, Record
from fleet.services.visits import grading
from fleet.services.visits.grading import Graded
from fleet.services.visits.kept_plan import content_of, plan_named, trips_of
from fleet.services.visits.notices import Told, mail_planner, send_stop_list, tell_of
from notifications.event_facts import Change

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["Confirmed", "by_unit", "confirmed", "files_by_unit", "write_lists"]


@dataclass(frozen=True, slots=True)
class Confirmed:
    """Visits that are confirmed now, how many mails tell it, and the stop lists by file name."""

    graded: Graded
    mails: int
    lists: Mapping[str, bytes]


def confirmed(
    program: Program, record: Record, numbers: Sequence[str], paper: Literal["letter", "a4"]
) -> Confirmed:
    """Confirm the trips of some visits, and plan the mails that tell it; the caller commits."""
    from fleet.cli.stop_lists import stop_list_of

    stamp = program.stamp("command")
    graded = grading.confirm(record, program.public_holidays, numbers, stamp)
    planner = mail_planner(record, program.public_holidays, program.mail_tools(), stamp.at)
    were = {one.number for one in graded.were}
    fresh = [one for one in graded.visits if one.number in were]
    mails = tell_of(planner, [Told(one, Change.CONFIRMED) for one in fresh])
    register, lists = record.register(), dict[str, bytes]()
    for (technician, start_on), some in trips_of(graded.visits).items():
        content = content_of(record, plan_named(register, some[0].plan))
        pdf = stop_list_of(register, content, some, paper, stamp.at)
        lists[f"stop-list-{start_on}-{some[0].number}.pdf"] = pdf
        if any(one.number in were for one in some):
            given = program.sources_of(content)
            email = next((one.email for one in given.technicians if one.name == technician), "")
            depot = next(one.depot for one in given.technicians if one.name == technician)
            mails += send_stop_list(planner, some, email, pdf, depot)
    return Confirmed(graded, mails, lists)


def write_lists(lists: Mapping[str, bytes], folder: Path, *, replace: bool) -> None:
    """Write stop lists into a folder, all or none."""
    check_free(folder, tuple(lists), replace=replace)
    with disk_told(folder), staged(folder, ".stop-lists-") as staging:
        for name, content in lists.items():
            staging.put(name, content)
        staging.check(replace=replace)
        staging.place(replace=replace)


def by_unit(option: str, words: Sequence[str]) -> dict[str, str]:
    """Texts by property number, from UNIT=TEXT; BadInput for what has another form."""
    found = {}
    for word in words:
        unit, is_there, text = word.partition("=")
        if not (is_there and unit.strip() and text.strip()):
            mend = "write the unit, = and the text: 'PN1034=...'"
            raise BadInput([Fault(f"--{option}", None, None, f"'{word}' is not UNIT=...", mend)])
        found[unit.strip()] = text.strip()
    return found


def files_by_unit(words: Sequence[str]) -> dict[str, AttachedFile]:
    """Certificates by property number, from UNIT=FILE, read and checked."""
    return {unit: read_attached(Path(name)) for unit, name in by_unit("certificate", words).items()}
