"""What is asked of `dueward chart`, and which of its options contradict each other?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import click

from fleet.errors import BadInput, Fault
from fleet.services.questions import Question
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = ["ChartOptions", "as_year", "check_options"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartOptions:
    """The words of one command."""

    property_numbers: tuple[str, ...]
    question: Question
    everything: bool
    year: int | None
    paper: Literal["letter", "a4"] | None
    out: Path | None
    replace: bool
    each_site: bool
    html: bool
    cards: bool
    language: str | None
    status: bool
    missing: bool
    check: bool

    @property
    def folder(self) -> Path:
        """Where files go."""
        return self.out or Path()

    @property
    def size(self) -> Literal["letter", "a4"]:
        """The paper, letter where none was named."""
        return self.paper or "letter"

    @property
    def names(self) -> tuple[str, ...]:
        """All that was named to choose units by."""
        narrow = self.question.narrow
        places = narrow.sites + narrow.counties + narrow.regions
        return self.property_numbers + places + narrow.kinds


def as_year(ctx: click.Context, param: click.Parameter, value: str | None) -> int | None:
    """Read a year that a lifetime of equipment can reach."""
    if value is None:
        return None
    if not (len(value) == 4 and value.isascii() and value.isdigit()):
        fault = Fault("--year", None, None, f"'{value}' is not a year", "write it as YYYY")
        raise BadInput([fault])
    if not FIRST_YEAR <= int(value) <= LAST_YEAR:
        mend = f"give a year from {FIRST_YEAR} to {LAST_YEAR}"
        raise BadInput([Fault("--year", None, None, f"{value} is out of reach", mend)])
    return int(value)


def check_options(options: ChartOptions) -> None:
    """Refuse options that do not go together, and a printing of nothing that was named."""
    faults = [*_misplaced(options), *_unchosen(options)]
    if faults:
        raise BadInput(faults)


_NOT_WITH: dict[str, tuple[str, ...]] = {
    "status": ("paper", "out", "replace", "each_site", "html", "cards", "language", "missing"),
    "cards": ("year", "each_site", "html", "missing"),
}


def _misplaced(options: ChartOptions) -> Iterator[Fault]:
    for door, others in _NOT_WITH.items():
        if getattr(options, door):
            for name in others:
                if getattr(options, name) not in (None, False):
                    yield _fault(name, f"it does not go with --{door}", f"leave it or --{door} out")
    if options.cards and options.question.known_at:
        mend = "leave it out: a card tells the rules of --on, as they are known now"
        yield _fault("known_at", "it does not go with --cards", mend)
    if options.missing and options.question.known_at:
        mend = "leave it out: a copy takes the place of no chart that is missing"
        yield _fault("known_at", "it does not go with --missing", mend)
    if options.question.on and not (options.status or options.cards):
        mend = "leave it out: charts are of today; --known-at prints a copy as it was known then"
        yield _fault("on", "it goes with --status and --cards only", mend)
    if options.check and not options.status:
        yield _fault("check", "it goes with --status only", "say --status too, or leave it out")
    if options.language and not options.cards and not options.status:
        mend = "leave it out: charts are in English, and cards (--cards) in en or es"
        yield _fault("language", "it goes with --cards only", mend)


def _unchosen(options: ChartOptions) -> Iterator[Fault]:
    if options.everything and options.names:
        problem = f"it does not go with {options.names[0]}"
        yield _fault("all", problem, "name units, sites, counties, regions or kinds, or say --all")
    others = options.status, options.missing, options.cards
    if not (options.everything or options.names or any(others)):
        mend = "name property numbers, --site, --county, --region or --kind, or say --all"
        yield Fault("chart", None, None, "no unit is named", mend)


def _fault(name: str, problem: str, mend: str) -> Fault:
    return Fault(f"--{name.replace('_', '-')}", None, None, problem, mend)
