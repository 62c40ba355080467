"""How large may the letters of a card be, and which duties then stand on which of its pages?

Lengths are millimetres, sizes points. A duty is a block of lines: its title over the whole width,
under it the cautions in their frame and, beside them, the facts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fleet.files.paper import POINT, Paper
from fleet.services.charts.card_words import CardWords
from fleet.services.charts.cards import CardDuty

__all__ = ["LARGEST", "LINE", "PAD", "SIGN", "SMALLEST", "TITLE_GAP", "Block", "Line", "Setting"]

LARGEST, SMALLEST, STEP = 13.0, 7.0, 0.5
LINE = 1.26
"""The height of a line in that of its letters."""
SIGN, PAD, TITLE_GAP = 8.0, 1.8, 1.2
"""The width of the sign before cautions, the white inside frames, and that under a title."""
_CAUTIONS, _BETWEEN, _AFTER, _ABOVE = 0.6, 4.0, 2.2, 0.9
"""The share of the width that cautions take; the white beside them, after a block, before a fact.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of letters."""

    text: str
    size: float
    is_bold: bool = False
    indent: float = 0.0
    bullet: str = ""
    above: float = 0.0
    """The white before it."""

    @property
    def height(self) -> float:
        """How much room it takes."""
        return self.above + self.size * POINT * LINE


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A duty, or as much of it as stands on one page."""

    title: Sequence[Line]
    cautions: Sequence[Line]
    facts: Sequence[Line]
    cautions_width: float
    """The width of the frame; facts begin at `facts_at`, or under the title without cautions."""

    @property
    def facts_at(self) -> float:
        """How far from the left the facts stand."""
        return self.cautions_width + _BETWEEN if self.cautions else 0.0

    @property
    def height(self) -> float:
        """From the line above the title to the one above the next."""
        told = max(_height(self.cautions), _height(self.facts))
        return PAD + _height(self.title) + TITLE_GAP + told + 2 * PAD + _AFTER


@dataclass(frozen=True, slots=True)
class Setting:
    """Letters of a size, and the pages that duties take in them: one at least."""

    size: float
    pages: Sequence[Sequence[Block]]

    @classmethod
    def largest(
        cls,
        sheet: Paper,
        words: CardWords,
        duties: Sequence[CardDuty],
        width: float,
        room: float,
    ) -> Setting:
        """The largest letters that take no more pages than the smallest do.

        room: how high the duties of a page may be.
        """
        fewest = len(_Setter(sheet, words, SMALLEST, width, room).pages(duties))
        size = LARGEST
        while True:
            pages = _Setter(sheet, words, size, width, room).pages(duties)
            if len(pages) <= fewest or size <= SMALLEST:
                return cls(size, pages)
            size -= STEP


@dataclass(frozen=True, slots=True)
class _Setter:
    """Breaks duties into lines of one size and lays them on pages."""

    sheet: Paper
    words: CardWords
    size: float
    width: float
    room: float

    @property
    def _small(self) -> float:
        return max(SMALLEST, self.size - 1.5)

    @property
    def _cautions_width(self) -> float:
        return self.width * _CAUTIONS

    def pages(self, duties: Sequence[CardDuty]) -> list[list[Block]]:
        """Duties in their order, none broken that fits on a page of its own."""
        pages: list[list[Block]] = [[]]
        left = self.room
        for duty in duties:
            for block in self._blocks(duty):
                if block.height > left and pages[-1]:
                    pages.append([])
                    left = self.room
                pages[-1].append(block)
                left -= block.height
        return pages

    def _blocks(self, duty: CardDuty) -> Iterator[Block]:
        """A duty; between its lines it is broken only where it is higher than a whole page."""
        cautions, facts = list(self._cautions(duty)), list(self._facts(duty))
        title = self._title(duty.title)
        left = self.room - self._block(title, (), ()).height
        most = max(1, int(left / Line(text="", size=self.size).height) - 2)
        for start in range(0, max(len(cautions), len(facts)), most):
            if start:
                title = self._title(self.words.continued.format(title=duty.title))
            part = slice(start, start + most)
            yield self._block(title, cautions[part], facts[part])

    def _block(
        self, title: Sequence[Line], cautions: Sequence[Line], facts: Sequence[Line]
    ) -> Block:
        return Block(
            title=title, cautions=cautions, facts=facts, cautions_width=self._cautions_width
        )

    def _title(self, title: str) -> list[Line]:
        return list(self._lines(title, self.width, size=self.size + 1.5, is_bold=True))

    def _cautions(self, duty: CardDuty) -> Iterator[Line]:
        width = self._cautions_width - SIGN - 2 * PAD
        if duty.cautions:
            yield Line(text=self.words.caution, size=self.size, is_bold=True)
        for caution in duty.cautions:
            yield from self._lines(caution, width, size=self.size, bullet="•")

    def _facts(self, duty: CardDuty) -> Iterator[Line]:
        words = self.words
        width = self.width - self._cautions_width - _BETWEEN if duty.cautions else self.width
        told = [
            (words.only_models.format(models=", ".join(duty.only_models)), duty.only_models),
            (words.not_models.format(models=", ".join(duty.not_models)), duty.not_models),
            (f"{words.reading}: {duty.reading}", duty.reading),
            (words.stops_use, duty.stops_use),
            (words.vendor, duty.is_vendor),
        ]
        yield from self._lines(words.often, width, size=self._small)
        for clause in duty.often.split("; "):
            yield from self._lines(clause, width, size=self.size, above=_ABOVE)
        for text, is_said in told:
            if is_said:
                yield from self._lines(text, width, size=self.size, is_bold=True, above=_ABOVE)
        source = f"{words.source}: {duty.source}"
        yield from self._lines(source, width, size=self._small, above=_ABOVE)

    def _lines(
        self,
        text: str,
        width: float,
        *,
        size: float,
        is_bold: bool = False,
        bullet: str = "",
        above: float = 0.0,
    ) -> Iterator[Line]:
        """A text in lines; the bullet and the white are before the first of them."""
        indent = 0.8 * size * POINT if bullet else 0.0
        self.sheet.write_in(size, bold=is_bold)
        for line in self.sheet.wrap(text, width - indent):
            yield Line(
                text=line, size=size, is_bold=is_bold, indent=indent, bullet=bullet, above=above
            )
            bullet, above = "", 0.0


def _height(lines: Sequence[Line]) -> float:
    return sum(line.height for line in lines)
