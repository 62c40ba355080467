"""What is drawn in an SVG? Read by the standard library's XML parser; for tests only."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

Node = ElementTree.Element
SPACE = "{http://www.w3.org/2000/svg}"


def read(text: str) -> Node:
    """The root of a document, which must be well-formed and made of plain shapes only."""
    root = ElementTree.fromstring(text)  # noqa: S314 - written by the program under test
    kinds = {node.tag.removeprefix(SPACE) for node in root.iter()}
    assert kinds <= {"svg", "title", "desc", "g", "rect", "circle", "polyline", "text"}
    attributes = {name for node in root.iter() for name in node.keys()}  # noqa: SIM118
    assert not {name for name in attributes if name.startswith("on") or "href" in name}
    return root


def groups(root: Node, sort: str) -> list[Node]:
    """The groups of a sort."""
    return [node for node in root.iter(f"{SPACE}g") if sort in node.get("class", "").split()]


def called(node: Node) -> str:
    """A group's name."""
    return node.findtext(f"{SPACE}title") or ""


def texts(node: Node) -> list[str]:
    """Every line of letters in a node."""
    return [one.text or "" for one in node.iter(f"{SPACE}text")]


def lines(group: Node) -> list[list[tuple[float, float]]]:
    """The points of each line of a group."""
    return [_points(found) for found in group.iter(f"{SPACE}polyline")]


def boxes(node: Node) -> list[tuple[float, float, float, float]]:
    """x, y, width and height of every rectangle of a node."""
    return [
        (float(b.get("x", 0)), float(b.get("y", 0)), float(b.get("width", 0)), high)
        for b in node.iter(f"{SPACE}rect")
        for high in [float(b.get("height", 0))]
    ]


def dots(group: Node) -> tuple[float, float, str]:
    """Centre and fill of a group's only circle."""
    (found,) = group.iter(f"{SPACE}circle")
    return float(found.get("cx", 0)), float(found.get("cy", 0)), found.get("fill", "")


def outside(root: Node) -> Iterator[Node]:
    """Shapes that stand out of the sheet."""
    _, _, wide, high = map(float, root.get("viewBox", "").split())
    for node in root.iter():
        xs = [float(node.get(name, 0)) for name in ("x", "cx")]
        ys = [float(node.get(name, 0)) for name in ("y", "cy")]
        if node.tag == f"{SPACE}rect":
            xs.append(xs[0] + float(node.get("width", 0)))
            ys.append(ys[0] + float(node.get("height", 0)))
        if node.tag == f"{SPACE}polyline":
            for x, y in _points(node):
                xs.append(x)
                ys.append(y)
        if min(xs) < 0 or max(xs) > wide or min(ys) < 0 or max(ys) > high:
            yield node


def _points(node: Node) -> list[tuple[float, float]]:
    pairs = re.findall(r"(-?[\d.]+),(-?[\d.]+)", node.get("points", ""))
    return [(float(x), float(y)) for x, y in pairs]
