"""Which rule book is in force with the files loaded, and is it a new one?"""

from __future__ import annotations

from dataclasses import dataclass

from fleet.domain.register import Register
from fleet.services.columns import book_of
from fleet.services.load_ports import BookFile, Faults, TableCount
from schedules.errors import BookError
from schedules.rulebook import read_book
from schedules.rules import RuleBook

__all__ = ["GivenBook", "given_book"]


@dataclass(frozen=True, slots=True)
class GivenBook:
    """The book to check the files by; None where the one given cannot be used."""

    book: RuleBook | None
    count: dict[str, TableCount]
    """What to report of it, under 'rules'; empty where the files hold no book."""
    is_new: bool = False

    @property
    def text(self) -> str:
        """The whole text."""
        return "" if self.book is None else self.book.text

    @property
    def sha256(self) -> str:
        """The text's hash."""
        return "" if self.book is None else self.book.sha256


def given_book(file: BookFile | None, known: Register, faults: Faults) -> GivenBook:
    """Read the files' book, or take the one in force where they hold none.

    A new book has to know every kind that units of the store are of.
    """
    if file is None:
        return GivenBook(book_of(known), {})
    try:
        book = read_book(file.text, file.file)
    except BookError as wrong:
        for fault in wrong.faults:
            faults.add(fault.where, None, None, fault.problem, fault.mend)
        return GivenBook(None, {})
    if missing := sorted({unit.kind for unit in known.units.values()} - set(book.kinds)):
        problem = f"units in the database are of kinds it does not know: {', '.join(missing)}"
        faults.add(file.file, None, None, problem, "keep these kinds in the book")
    if known.book is None:
        return GivenBook(book, {"rules": TableCount(new=1)}, is_new=True)
    if known.book.sha256 != book.sha256:
        return GivenBook(book, {"rules": TableCount(changed=1)}, is_new=True)
    return GivenBook(book, {"rules": TableCount(unchanged=1)})
