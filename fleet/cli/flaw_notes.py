"""What is said of a copy whose chains are not as they were written?"""

from __future__ import annotations

from collections.abc import Sequence

from fleet.cli.output import note
from fleet.domain.chain import Flaw
from fleet.services.checked import flaw_words

__all__ = ["note_flaws"]

_TOLD = 20


def note_flaws(flaws: Sequence[Flaw], what_next: str) -> None:
    """Tell the first flaws on stderr, a line each, and what follows from them."""
    for flaw in flaws[:_TOLD]:
        note(flaw_words(flaw))
    if len(flaws) > _TOLD:
        note(f"and {len(flaws) - _TOLD:,} more such places")
    if flaws:
        note(what_next)
