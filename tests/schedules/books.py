"""How do tests write a small rule book, and read its refusal as a person would?"""

from __future__ import annotations

import pytest

from schedules.errors import BookError
from schedules.rulebook import read_book

__all__ = ["book_with", "faults_of"]


def faults_of(text: str) -> list[str]:
    """The faults of a book that must be refused, a line each, as a person reads them."""
    with pytest.raises(BookError) as refused:
        read_book(text)
    assert [str(fault) for fault in refused.value.faults] == str(refused.value).split("\n")
    return str(refused.value).split("\n")


def book_with(*lines: str) -> str:
    """A book of one rule; its fields stand from line 4, task, title and source come last."""
    required = ['task = "optics"', 'title = "Clean"', 'source = "test"']
    head = ["[kind.microscope]", 'name = "Bench"', "[[kind.microscope.rule]]"]
    return "\n".join([*head, *lines, *required, ""])
