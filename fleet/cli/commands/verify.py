"""`dueward verify`: walk every chain of the record and name what is not as it was written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, note, show_object
from fleet.cli.progress import rows_told
from fleet.cli.refusals import FAILED
from fleet.services.checked import flaw_words
from fleet.services.verify import Verification
from fleet.services.verify import verify as verify_record

if TYPE_CHECKING:
    from fleet.domain.chain import Seal
    from fleet.wiring import Program

__all__ = ["verify"]

_SHOWN = 20
"""As many flaws are listed for people; JSON and CSV have them all."""

_NEXT = (
    "what to do: write nothing more to this database, and keep it as it is;"
    " restore the last backup beside it with dueward restore, verify that one,"
    " and compare the lines named here in both"
)


@click.command(
    epilog=examples(
        "dueward verify",
        "dueward verify --rebuild --seal",
        "dueward verify --root 3f1c09aa52d7e846",
    )
)
@opens_program
@click.option("--rebuild", is_flag=True, help="Also work out again what is kept of marked days.")
@click.option("--mend", is_flag=True, help="With --rebuild: put right what is kept otherwise.")
@click.option("--root", metavar="HASH", help="An earlier root, as printed: it must still hold.")
@click.option("--seal", is_flag=True, help="Keep the present root, to be asked about with --root.")
@formatted
def verify(
    program: Program, rebuild: bool, mend: bool, root: str | None, seal: bool, form: Form
) -> int:
    """Walk every chain of the record and name what is not as it was written.

    The root is one hash over the whole record. Write it down where nobody who can write to the
    database can change it: with --root it shows later that nothing before it was altered.
    """
    with (
        program.store.begin() as record,
        rows_told("Checking lines", program.stopwatch) as progress,
    ):
        found = verify_record(
            record, program.public_holidays, rebuild=rebuild, root=root, progress=progress
        )
    kept = _sealed(program) if seal and found.is_whole else None
    show_object(_fields(found, kept), form, lambda: _words(found, kept))
    if found.is_whole:
        return 0
    note(f"the record is not whole: {_problems(found)[0]}")
    note(_NEXT if found.flaws or found.root_problem else _REBUILD)
    if mend and found.differing:
        _mend(program, found.differing)
    elif rebuild and not found.is_rebuilt:
        note("what is kept of marked days was not worked out again: the record comes first")
    if seal:
        note("nothing was sealed")
    return FAILED


_REBUILD = (
    "what to do: the entries are whole, but answers about today are read from what is kept of them;"
    " dueward verify --rebuild --mend puts it right"
)


def _mend(program: Program, units: Sequence[str]) -> None:
    """Work out again what is kept of units; the entries themselves are not touched."""
    with program.store.begin(write=True) as record:
        ids = record.unit_ids()
        program.rebuild(record, [ids[unit] for unit in units if unit in ids])
        record.commit()
    note(f"mended: what is kept of {', '.join(units)} is what the entries add up to again")


def _sealed(program: Program) -> Seal:
    with program.store.begin(write=True) as record:
        kept = record.seal(program.stamp("command"))
        record.commit()
    return kept


def _fields(found: Verification, kept: Seal | None) -> dict[str, object]:
    sealed_at = kept.sealed_at if kept else found.sealed_at
    return {
        "whole": found.is_whole,
        "chains": found.chains,
        "lines": found.lines,
        "removed": found.removed,
        "root": kept.root if kept else found.root,
        "sealed_at": sealed_at,
        "root_given_at": found.given_at,
        "rebuilt": found.is_rebuilt,
        "flaws": _problems(found),
    }


def _problems(found: Verification) -> list[str]:
    """Everything that was found, a sentence each."""
    return [
        *([found.root_problem] if found.root_problem else []),
        *map(flaw_words, found.flaws),
        *(
            f"{unit}: its marked days are kept otherwise than its entries add up to"
            for unit in found.differing
        ),
    ]


def _removed_words(found: Verification) -> str:
    last = f", last at {found.removed_at.isoformat()}" if found.removed_at else ""
    lines = "1 line was" if found.removed == 1 else f"{found.removed:,} lines were"
    return f"{lines} removed after the retention{last}; their hashes stand."


def _words(found: Verification, kept: Seal | None) -> str:
    lines = [f"{found.lines:,} lines in {found.chains:,} chains were looked at."]
    if found.removed:
        lines.append(_removed_words(found))
    problems = _problems(found)
    if problems:
        lines += [f"  {problem}" for problem in problems[:_SHOWN]]
        if len(problems) > _SHOWN:
            lines.append(f"  and {len(problems) - _SHOWN:,} more: see --format json")
        return "\n".join(lines)
    lines.append("The record is whole: every line is as it was written.")
    if found.is_rebuilt:
        lines.append("What is kept of marked days is what the entries add up to.")
    if found.given_at:
        lines.append(
            f"The root asked about was given out at {found.given_at.isoformat()}; it holds."
        )
    lines.append(f"Root: {kept.root if kept else found.root}")
    if kept or found.sealed_at:
        lines.append("It is kept as one given out; write it down apart from the database.")
    else:
        lines.append("It is not kept; say --seal to be able to ask about it later with --root.")
    return "\n".join(lines)
