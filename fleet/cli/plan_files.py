"""Which files is a plan written as? One with everything, one with its rows, a PDF and pictures."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from fleet.cli.output import csv_text, note
from fleet.cli.plan_options import PlanOptions
from fleet.desk.plan_papers import plan_remarks, plan_words
from fleet.errors import BadInput, Fault
from fleet.files.staging import check_free, staged
from fleet.pictures.money import money
from fleet.pictures.months import months
from fleet.pictures.plan_pdf import plan_pdf
from fleet.pictures.route_map import route_map
from fleet.services.disk import disk_told
from fleet.services.visits.rows import VisitRow, document, visit_rows
from notifications.digests.words import counted

if TYPE_CHECKING:
    from fleet.services.visits.answer import Answer

__all__ = ["check_folder", "plan_json", "write_files"]

FILES = ("plan.json", "plan.csv", "plan.pdf", "map.svg", "months.svg", "money.svg")


def check_folder(asked: PlanOptions) -> None:
    """Refuse early what stands in the way of the files (BadInput)."""
    for folder in _folders(asked):
        check_free(folder, FILES, replace=asked.replace)


def _folders(asked: PlanOptions) -> list[Path]:
    """Where each plan goes: into the folder of --out, a folder a plan file if there are several."""
    if asked.out is None:
        return []
    if len(asked.plan_file) == 1:
        return [asked.out]
    names = [path.stem for path in asked.plan_file]
    if len(set(names)) < len(names):
        problem, mend = "two plan files have the same name", "give each its own"
        raise BadInput([Fault("--plan-file", None, None, problem, mend)])
    return [asked.out / name for name in names]


def write_files(answers: Sequence[Answer], asked: PlanOptions, made_at: dt.datetime) -> None:
    """Write all files of each plan into its folder, or none of that plan."""
    for answer, folder in zip(answers, _folders(asked), strict=True):
        _write(answer, asked, folder, made_at)


def _write(answer: Answer, asked: PlanOptions, folder: Path, made_at: dt.datetime) -> None:
    order, words, plans = (
        answer.ordered.order,
        plan_words(answer.ordered),
        [answer.figures, *answer.beside],
    )
    contents = (
        plan_json(answer),
        csv_text(VisitRow._fields, visit_rows(answer)).encode(),
        plan_pdf(order, answer.told, words, plans, asked.size, made_at, plan_remarks(answer)),
        route_map(order, answer.told, words).encode(),
        months(order, answer.told, words).encode(),
        money(plans).encode(),
    )
    with disk_told(folder), staged(folder, ".plan-") as staging:
        for name, content in zip(FILES, contents, strict=True):
            staging.put(name, content)
        staging.check(replace=asked.replace)
        staging.place(replace=asked.replace)
    note(f"wrote {counted(len(FILES), 'file')} to {folder}: {', '.join(FILES)}")


def plan_json(answer: Answer) -> bytes:
    """Everything that is said of a plan; the same question and versions give the same bytes."""
    text = json.dumps(document(answer), ensure_ascii=False, indent=1, default=str, sort_keys=True)
    return f"{text}\n".encode()
