"""Reads a page back with the standard library's parser, and refuses one that is not well formed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "br", "hr", "img", "input", "wbr"}
"""WHATWG HTML 13.1.2: elements that have no end tag (those that could stand here)."""


@dataclass
class Element:
    tag: str
    attributes: dict[str, str | None]
    children: list[Element | str] = field(default_factory=list)

    def all(self, *tags: str) -> Iterator[Element]:
        """The elements below this one with one of these names, in the order of the page."""
        for child in self.children:
            if isinstance(child, Element):
                if child.tag in tags:
                    yield child
                yield from child.all(*tags)

    def everything(self) -> Iterator[Element]:
        """This element and all below it."""
        yield self
        for child in self.children:
            if isinstance(child, Element):
                yield from child.everything()

    @property
    def text(self) -> str:
        """All text in it, as it stands."""
        return "".join(c if isinstance(c, str) else c.text for c in self.children)

    def __getitem__(self, name: str) -> str | None:
        return self.attributes.get(name)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("", {})
        self._open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"<{tag}> has an attribute twice: {names}"
        element = Element(tag, dict(attrs))
        self._open[-1].children.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_endtag(self, tag: str) -> None:
        assert self._open[-1].tag == tag, f"</{tag}> ends <{self._open[-1].tag}>"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        self._open[-1].children.append(data)

    def finished(self) -> Element:
        self.close()
        assert self._open == [self.root], f"<{self._open[-1].tag}> is never ended"
        return self.root


def read(page: str) -> Element:
    """The page as a tree; AssertionError where tags do not nest."""
    reader = _Reader()
    reader.feed(page)
    return reader.finished()


def table(root: Element, caption: str) -> Element:
    """The table with this caption."""
    return next(t for t in root.all("table") if next(t.all("caption")).text == caption)


def cells(root: Element, caption: str, title: str) -> list[str]:
    """The texts of a row's data cells."""
    rows = (row for row in table(root, caption).all("tr"))
    row = next(row for row in rows if next(row.all("th")).text.startswith(title))
    return [" ".join(cell.text.split()) for cell in row.all("td")]
