"""How are trials told? A row a fault and database, in Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = ["HEADER", "Result", "result_of"]

HEADER = (
    "| fault | database | tries | survived | lost | half-written seen | remarks |\n"
    "|---|---|---:|---:|---:|---:|---|"
)


@dataclass(frozen=True, slots=True)
class Result:
    """What became of the trials of one fault on one database."""

    fault: str
    database: str
    tries: int
    survived: int
    lost: int
    """Acknowledged entries that are not there, or stand twice."""
    half_written: int
    """Looks that saw a part of a unit of work."""
    remarks: str

    @property
    def is_well(self) -> bool:
        """Whether nothing went wrong."""
        return self.survived == self.tries and not self.lost and not self.half_written

    def line(self) -> str:
        """A row of the table."""
        cells = (self.fault, self.database, self.tries, self.survived, self.lost)
        return "| " + " | ".join(map(str, (*cells, self.half_written, self.remarks))) + " |"


def result_of(
    fault: str,
    database: str,
    wrongs: Sequence[Sequence[str]],
    remarks: str,
    lost: int = 0,
    half_written: int = 0,
) -> Result:
    """A row of trials, each with what was wrong with it; the first few wrongs become remarks."""
    survived = sum(not wrong for wrong in wrongs)
    told = _first(one for wrong in wrongs for one in wrong)
    remarks = "; ".join(filter(None, (remarks, *told)))
    return Result(fault, database, len(wrongs), survived, lost, half_written, remarks)


def _first(said: Iterable[str], most: int = 4) -> list[str]:
    return list(dict.fromkeys(" ".join(one.split()).replace("|", "/") for one in said))[:most]
