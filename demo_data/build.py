"""How are the demo's files made? `python -m demo_data.build` writes them again, byte for byte.

The scenario draws its tasks, intervals and ranges from the shipped rule book, so a change of the
book asks for a rebuild; a test compares the committed files with a fresh build.
"""

from __future__ import annotations

from pathlib import Path

from demo_data.scenario.rows import file_texts
from demo_data.scenario.story import told
from schedules.rulebook import shipped_book

__all__ = ["build", "main"]


def build() -> dict[str, str]:
    """Every file of the demo by its name below `demo_data/`, as text with line feeds."""
    return file_texts(told(shipped_book()))


def main(folder: Path) -> None:
    """Write every file below `folder`, and remove entries files that are no longer made."""
    texts = build()
    for stale in (folder / "files").glob("*.csv"):
        if f"files/{stale.name}" not in texts:
            stale.unlink()
    for name, text in texts.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(__file__).parent)
