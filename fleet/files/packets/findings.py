"""What stands in a packet after its charts: findings, service, actions, reviews, corrections?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence

from fleet.domain.answers import FindingRow
from fleet.domain.records import StoredEntry
from fleet.files.packets.pages import PacketPages
from fleet.files.packets.sections import Cells, begun, instant, old_and_new
from fleet.files.packets.tables import attachment_path
from fleet.services.packet_facts import PacketFacts

__all__ = ["after_charts"]


def after_charts(pages: PacketPages, facts: PacketFacts) -> None:
    """Findings, service, actions, reviews, prints, corrections, extensions, what was removed."""
    _gaps(pages, facts)
    _findings(pages, facts)
    _reports(pages, facts)
    _actions(pages, facts)
    _reviews(pages, facts)
    _prints(pages, facts)
    _corrections(pages, facts)
    _extensions(pages, facts)
    _removed(pages, facts)


def _gaps(pages: PacketPages, facts: PacketFacts) -> None:
    gaps = [row for row in facts.findings if row.finding == "gap"]
    pages.new_page_section("Gaps and explanations")
    if gaps:
        pages.paragraph(
            f"{len(gaps):,} cells closed without their marks; findings.csv in the ZIP lists each,"
            " with what would settle it.",
            8,
        )
        headings = ("unit", "task", "month it closed", "gaps", "days (from and to of longer cells)")
        pages.rows_under(headings, (28, 40, 24, 12, 150), _gap_cells(gaps))
    else:
        pages.paragraph("No cell of the span that has closed lacks its marks.")
    told = [line for line in facts.entries if line.entry.mark == "explained"]
    if _sub(pages, "Explained afterwards", len(told), "No cell was explained afterwards."):
        pages.rows_under(
            ("unit", "task", "day", "explanation", "stored, by"),
            (26, 34, 34, 110, 48),
            (
                [*_entry_cells(line), line.entry.note or "no words given", _stored(line)]
                for line in told
            ),
        )


def _gap_cells(gaps: Sequence[FindingRow]) -> Iterator[Cells]:
    """A row a unit, task and month of closing."""
    found: dict[tuple[str, str, str], list[FindingRow]] = defaultdict(list)
    for row in gaps:
        found[row.property_number, row.task, f"{row.closes:%Y-%m}"].append(row)
    for key, rows in sorted(found.items()):
        days = ", ".join(_gap_days(row) for row in rows)
        yield (*key, str(len(rows)), days)


def _gap_days(row: FindingRow) -> str:
    is_day = row.period_from == row.period_to
    return f"{row.closes:%d}" if is_day else f"{row.period_from} to {row.period_to}"


def _sub(pages: PacketPages, title: str, count: int, nothing: str) -> bool:
    pages.section(title, 1)
    if not count:
        pages.paragraph(nothing)
    return bool(count)


def _period(from_on: dt.date | None, to_on: dt.date | None) -> str:
    if from_on is None:
        return ""
    return f"{from_on}" if to_on in (None, from_on) else f"{from_on} to {to_on}"


def _entry_cells(line: StoredEntry) -> Cells:
    entry = line.entry
    return entry.property_number, entry.task, _period(entry.on, entry.to_on)


def _stored(line: StoredEntry) -> str:
    who = f"{line.entry.initials}, " if line.entry.initials else ""
    return f"{who}{line.by}, {instant(line.known_at)}"


def _findings(pages: PacketPages, facts: PacketFacts) -> None:
    others = [row for row in facts.findings if row.finding != "gap"]
    nothing = "The audit of the record found nothing else."
    if begun(pages, "Other findings of the audit", len(others), nothing):
        pages.rows_under(
            ("finding", "unit", "task", "day", "entries", "what settles it"),
            (22, 22, 30, 20, 62, 98),
            (
                [r.finding, r.property_number, r.task, str(r.on or ""), _some(r.entries), r.settle]
                for r in others
            ),
            size=6.5,
        )


def _some(keys: str | None) -> str:
    """At most a few keys; findings.csv has them all."""
    told = (keys or "").split("; ")
    return "; ".join(told[:4]) + (f" and {len(told) - 4} more" if len(told) > 4 else "")


def _reports(pages: PacketPages, facts: PacketFacts) -> None:
    if begun(pages, "Service reports", len(facts.reports), "No service report is on record."):
        headings = ("unit, task", "day", "vendor, technician", "findings", "certificate", "entry")
        rows = (
            [
                f"{one.property_number}, {one.task}",
                str(one.on),
                ", ".join(filter(None, (one.vendor, one.technician))),
                one.findings or "none told",
                one.certificate_name or "none came",
                one.entry or "none",
            ]
            for one in facts.reports
        )
        pages.rows_under(headings, (36, 18, 40, 90, 40, 30), rows)
    if _sub(pages, "Certificates and other files", len(facts.files), "No file came with them."):
        rows = (
            [
                file.attachment.name,
                f"{file.attachment.size:,}",
                file.attachment.sha256,
                "removed after its retention" if file.content is None else attachment_path(file),
            ]
            for file in facts.files
        )
        pages.rows_under(("name", "bytes", "SHA-256", "in the ZIP"), (50, 16, 92, 98), rows, 6.5)


def _actions(pages: PacketPages, facts: PacketFacts) -> None:
    if not begun(pages, "Corrective actions", len(facts.actions), "None is on record."):
        return
    for one in facts.actions:
        action = one.action
        state = f"closed {action.closed_on}" if action.closed_on else "open"
        pages.section(f"Action {action.number}: {state}", 1)
        about = ", ".join(filter(None, (action.property_number, action.task, action.entry)))
        pages.paragraph(f"Opened {action.opened_on}{f' about {about}' if about else ''}.", 8, gap=0)
        pages.paragraph(f"Problem: {action.problem}", 8, gap=0)
        pages.paragraph(f"Action: {action.action or 'none yet'}", 8, gap=0)
        found = action.effective.value if action.effective else "not looked at yet"
        pages.paragraph(
            f"Who acts: {action.responsible or 'nobody named'}. To be reviewed: "
            f"{action.review_on or 'no day named'}. Did it work: {found}"
            f"{f' ({action.reviewed_by})' if action.reviewed_by else ''}.",
            8,
        )
        pages.rows_under(
            ("stored", "by", "old", "new"),
            (32, 34, 84, 84),
            ((instant(line.stored_at), line.by, *old_and_new(line.change)) for line in one.course),
            size=6.5,
        )


def _reviews(pages: PacketPages, facts: PacketFacts) -> None:
    nothing = "No month of the span is over that had charts."
    if begun(pages, "Reviews of the months", len(facts.reviews), nothing):
        headings = ("month", "state", "returned", "reviewed", "by", "signed", "reopened by", "note")
        rows = (
            [
                one.month,
                one.state,
                str(one.returned_on or "not noted"),
                str(one.reviewed_on or ""),
                one.reviewed_by or "",
                instant(one.signed_at) if one.signed_at else "",
                _some(one.touched_by),
                one.note or "",
            ]
            for one in facts.reviews
        )
        pages.rows_under(headings, (16, 18, 20, 20, 32, 34, 60, 56), rows, 6.5)


def _prints(pages: PacketPages, facts: PacketFacts) -> None:
    nothing = "No chart of these years was printed here."
    if begun(pages, "Charts printed", len(facts.prints), nothing):
        headings = ("unit", "year", "printed", "number", "pages", "in the place of", "")
        rows = (
            [
                one.property_number,
                str(one.year),
                str(one.printed_on),
                one.number,
                str(one.pages),
                one.replaces or "none",
                f"a copy for the file, as known at {one.known_at}" if one.known_at else "",
            ]
            for one in facts.prints
        )
        pages.rows_under(headings, (36, 16, 24, 30, 14, 36, 98), rows)


def _corrections(pages: PacketPages, facts: PacketFacts) -> None:
    nothing = "No entry of the span was struck or replaced."
    if begun(pages, "Corrections", len(facts.corrections), nothing):
        headings = ("unit", "task", "day", "struck", "in its place", "why", "who, when")
        rows = (
            [
                *_entry_cells(struck),
                _entry_words(struck),
                _entry_words(by) if by.entry.mark else "nothing: it was struck",
                by.entry.why or "no reason given",
                _stored(by),
            ]
            for struck, by in facts.corrections
        )
        pages.rows_under(headings, (20, 26, 28, 50, 50, 46, 38), rows, 6.5)


def _entry_words(line: StoredEntry) -> str:
    entry = line.entry
    told = (entry.mark, entry.initials, entry.reading, entry.note)
    return f"{', '.join(str(word) for word in told if word) or 'a strike'} (key {entry.key})"


def _extensions(pages: PacketPages, facts: PacketFacts) -> None:
    nothing = "No due date was put off."
    if begun(pages, "Extensions of due dates", len(facts.extensions), nothing):
        rows = (
            [
                one.property_number,
                one.task,
                str(one.from_on),
                str(one.until_on),
                one.reason,
                one.granted_by,
            ]
            for one in facts.extensions
        )
        headings = ("unit", "task", "granted", "until", "reason", "by")
        pages.rows_under(headings, (28, 34, 22, 22, 110, 40), rows)


def _removed(pages: PacketPages, facts: PacketFacts) -> None:
    nothing = "Nothing of these units was removed."
    if begun(pages, "Removed after its retention", len(facts.removed), nothing):
        rows = (
            [one.chain, str(one.seq), one.key, one.reason, f"{one.removed_at[:19]}Z, {one.by}"]
            for one in facts.removed
        )
        headings = ("chain", "line", "what", "why", "when, by")
        pages.rows_under(headings, (34, 12, 80, 70, 58), rows, 6.5)
    pages.section("Views given out")
    pages.paragraph("No links have been given out; this version has none.")
