"""Which texts do mails say? Those of `tr`, `trn` and `counted`, in the code and in templates."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence
from pathlib import Path

from jinja2 import Environment, nodes

import notifications

__all__ = ["Text", "code_files", "said_in_code", "said_in_templates"]

Text = str | tuple[str, str]
"""A text, or the two of a plural."""
_PACKAGE = Path(notifications.__file__).parent
_SAYING = {"tr": 1, "trn": 2, "counted": 2}
"""So many first arguments of each are texts."""


def code_files() -> list[Path]:
    """The modules in which mails are worded."""
    return sorted((_PACKAGE / "digests").glob("*.py"))


def said_in_code() -> Iterator[tuple[Text | None, str]]:
    """Each text and where it is said; None where it is no literal."""
    for path in code_files():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                name = node.func.id
                if name in _SAYING:
                    given = node.args[1:3] if name == "counted" else node.args[: _SAYING[name]]
                    texts = [n.value if isinstance(n, ast.Constant) else None for n in given]
                    yield _text(name, texts), f"{path.name}:{node.lineno}"


def _text(name: str, given: Sequence[object]) -> Text | None:
    texts = [text for text in given if isinstance(text, str)]
    if len(texts) < len(given) or not texts:
        return None
    if name == "tr":
        return texts[0]
    if name == "trn":
        return texts[0], texts[1]
    one, many = texts[0], texts[1] if len(texts) > 1 else f"{texts[0]}s"
    return f"{{count}} {one}", f"{{count}} {many}"


def said_in_templates() -> Iterator[tuple[Text | None, str]]:
    """The same of templates."""
    for path in sorted((_PACKAGE / "templates").rglob("*.*")):
        tree = Environment(autoescape=True).parse(path.read_text(encoding="utf-8"))
        for call in tree.find_all(nodes.Call):
            if isinstance(call.node, nodes.Name) and call.node.name in ("tr", "trn"):
                given = call.args[: _SAYING[call.node.name]]
                texts = [n.value if isinstance(n, nodes.Const) else None for n in given]
                where = f"{path.relative_to(_PACKAGE)}:{call.lineno}"
                yield _text(call.node.name, texts), where
