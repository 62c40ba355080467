"""Is Ctrl-C heard wherever it falls?

Python raises it in whatever runs just then. Where that is a callback of a weak reference or a
destructor, the exception is only printed and the program goes on; here it is then raised again.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

__all__ = ["heard", "uninterrupted"]

_AGAIN_SECONDS = 0.02


@contextmanager
def heard() -> Iterator[None]:
    """Raise an interrupt again that was lost in a callback."""
    before = sys.unraisablehook

    def hook(lost: UnraisableHookArgs) -> None:
        if issubclass(lost.exc_type, KeyboardInterrupt):
            _interrupt_again()
        else:
            before(lost)

    sys.unraisablehook = hook
    try:
        yield
    finally:
        sys.unraisablehook = before


def _interrupt_again() -> None:
    """From another thread, so that the callback has ended when it comes."""
    import _thread

    threading.Timer(_AGAIN_SECONDS, _thread.interrupt_main).start()


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Let no Ctrl-C part what is kept from the files that are its paper."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)
