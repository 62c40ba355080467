"""What solves linear and mixed-integer programs? HiGHS, on one thread and without a word."""

from __future__ import annotations

import os

import highspy

__all__ = ["silent_solver"]


def silent_solver() -> highspy.Highs:
    """A solver; HiGHS 1.16 greets on the process's standard output when the first one is made."""
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        solver = highspy.Highs()  # type: ignore[no-untyped-call]
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
    for name, value in (("output_flag", False), ("threads", 1)):
        solver.setOptionValue(name, value)
    return solver
