"""How well are charts read back that nobody trained on? A table, a row a kind of damage.

    python -m tests.studies.chart_reading.measured second 300 --seed 7 --jobs 2

reads 300 pages of the second generator and prints, for each damage: pages read; of blank cells how
many there were, were shown to a person, were called marked; of marked cells the same, called blank;
the share shown to a person; of cells in doubt how many were shown; and what that says of the truth
(exact limits at 95 %, Clopper and Pearson 1934, as if cells were independent, which those of one
page are not). Every wrong cell is named with its seed, so that it can be looked at.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from fleet.charts.reading.pages import read_pages
from fleet.domain.scans import SheetRead, Verdict
from tests.studies.chart_reading.filled import DAMAGES, Array, Filled, Truth
from tests.studies.chart_reading.unfilled import Unfilled, unfilled_pages

__all__ = ["Tally", "limits", "measure", "picture_of"]


@dataclass
class Tally:
    """What came of the pages of one damage."""

    pages: int = 0
    read: int = 0
    wrong_page: int = 0
    cells: Counter[tuple[str, str]] = field(default_factory=Counter)
    """By truth and verdict."""
    seconds: float = 0.0
    errors: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Count another's pages too."""
        self.pages += other.pages
        self.read += other.read
        self.wrong_page += other.wrong_page
        self.cells += other.cells
        self.seconds += other.seconds
        self.errors += other.errors

    def of(self, truth: Truth, verdict: Verdict | None = None) -> int:
        """How many cells of a truth there are, or got a verdict."""
        return sum(
            count
            for (true, said), count in self.cells.items()
            if true == truth and (verdict is None or said == verdict)
        )


def limits(hits: int, of: int) -> tuple[float, float]:
    """Exact 95 % limits of a share, from the beta distribution (Clopper and Pearson 1934)."""
    from scipy.stats import beta

    low = float(beta.ppf(0.025, hits, of - hits + 1)) if hits else 0.0
    high = float(beta.ppf(0.975, hits + 1, of - hits)) if hits < of else 1.0
    return low, high


def picture_of(file: bytes) -> Array:
    """The grey picture in a file, as scans come in."""
    if file[:4] == b"%PDF":
        import pypdfium2

        document = pypdfium2.PdfDocument(file)
        shown = document[0].render(scale=200 / 72, grayscale=True).to_numpy().squeeze()
        document.close()
        return np.ascontiguousarray(shown)
    return np.ascontiguousarray(np.asarray(Image.open(io.BytesIO(file)).convert("L")))


def _pages(start: int) -> Iterator[tuple[int, Unfilled]]:
    seed = start
    while True:
        for page in unfilled_pages(seed):
            if (seed * 5 + page.page) % 2:
                yield seed, page
        seed += 1


def _one(task: tuple[str, str, int, Unfilled, str]) -> tuple[str, Tally]:
    generator, damage, seed, page, keep = task
    cv2.setNumThreads(1)
    made: Filled = _filled(generator)(page.pdf, page.paper, page.cells, damage, seed)
    picture = picture_of(made.file)
    began = time.process_time()
    known: Any = page.print
    sheets = read_pages(picture, lambda number: known if number == known.number else None)
    tally = Tally(pages=1, seconds=time.process_time() - began)
    _count(tally, sheets, page, made, f"{damage} seed {seed}")
    if keep and (tally.errors or not tally.read):
        name = f"{generator}-{damage}-{seed}".replace(" ", "-")
        Path(keep).mkdir(parents=True, exist_ok=True)
        cv2.imwrite(str(Path(keep) / f"{name}.png"), picture)
        if sheets and sheets[0].flat:
            (Path(keep) / f"{name}-flat.jpg").write_bytes(sheets[0].flat)
    return damage, tally


def _filled(generator: str) -> Any:
    return import_module(f"tests.studies.chart_reading.{generator}").filled


def _count(
    tally: Tally, sheets: Sequence[SheetRead], page: Unfilled, made: Filled, name: str
) -> None:
    known: Any = page.print
    trusted = [one for one in sheets if not one.problem]
    if not trusted:
        tally.errors.append(f"{name}: not read: {sheets[0].problem}")
        return
    (sheet,) = trusted
    tally.wrong_page += (sheet.number, sheet.page) != (known.number, page.page)
    tally.read += 1
    for one in sheet.cells:
        truth = made.truth.get((one.row, one.slot))
        if truth is None:
            continue
        tally.cells[truth, one.verdict] += 1
        pair = {truth.value, one.verdict.value}
        if pair == {"blank", "marked"}:
            told = f"{truth.value} said {one.verdict.value} {one.confidence}"
            tally.errors.append(f"{name}: row {one.row} slot {one.slot}: {told}")


def measure(
    generator: str, pages: int, seed: int, jobs: int, damages: Sequence[str], keep: str = ""
) -> dict[str, Tally]:
    """Read so many pages of a generator, spread over damages."""
    drawn = _pages(seed * 1000)
    tasks = [
        (generator, damages[turn % len(damages)], seed * 100_000 + turn, next(drawn)[1], keep)
        for turn in range(pages)
    ]
    found = {damage: Tally() for damage in damages}
    with ProcessPoolExecutor(jobs) as pool:
        for damage, tally in pool.map(_one, tasks, chunksize=4):
            found[damage].add(tally)
    return found


def _row(name: str, one: Tally) -> str:
    blank, marked, doubt = (one.of(t) for t in (Truth.BLANK, Truth.MARKED, Truth.AMBIGUOUS))
    unsure = [one.of(t, Verdict.UNCERTAIN) for t in (Truth.BLANK, Truth.MARKED, Truth.AMBIGUOUS)]
    missed, lost = one.of(Truth.BLANK, Verdict.MARKED), one.of(Truth.MARKED, Verdict.BLANK)
    share = 100 * (unsure[0] + unsure[1]) / max(1, blank + marked)
    return (
        f"| {name} | {one.read} of {one.pages} | {blank} / {unsure[0]} / {missed}"
        f" | {marked} / {unsure[1]} / {lost} | {share:.2f} | {unsure[2]} of {doubt}"
        f" | {one.of(Truth.LOST)} | {one.seconds / max(1, one.pages):.2f} |"
    )


def main(arguments: Sequence[str]) -> None:
    """Print the table and every error."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("generator", choices=("first", "second"))
    parser.add_argument("pages", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--damage", action="append")
    parser.add_argument("--keep", default="", help="a folder for pictures with errors")
    asked = parser.parse_args(arguments)
    damages = asked.damage or DAMAGES
    found = measure(asked.generator, asked.pages, asked.seed, asked.jobs, damages, asked.keep)
    out = sys.stdout.write
    out("| damage | pages read | blank: n / shown / called marked")
    out(" | marked: n / shown / called blank")
    out(" | shown % | doubtful shown | ink lost | CPU s |\n|---|---|---|---|---|---|---|---|\n")
    whole = Tally()
    for damage, one in found.items():
        out(_row(damage, one) + "\n")
        whole.add(one)
    out(_row("all", whole) + "\n")
    for told, hits, of in (
        ("blanks missed", whole.of(Truth.BLANK, Verdict.MARKED), whole.of(Truth.BLANK)),
        ("marks called blank", whole.of(Truth.MARKED, Verdict.BLANK), whole.of(Truth.MARKED)),
        ("pages not read", whole.pages - whole.read, whole.pages),
        ("wrong pages", whole.wrong_page, whole.read),
    ):
        low, high = limits(hits, max(1, of))
        out(f"{told}: {hits} of {of}, 95 % limits {100 * low:.4f} to {100 * high:.4f} %\n")
    for error in whole.errors:
        out(f"  {error}\n")


if __name__ == "__main__":
    main(sys.argv[1:])
