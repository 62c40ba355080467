"""What the judges learned: plain arrays, and the same answers as where they were trained."""

from __future__ import annotations

from importlib.resources import files
from io import BytesIO

import numpy as np

from fleet.charts.reading.figures import FIGURES, WINDOW, Seen
from fleet.charts.reading.judges import judges


def weights() -> dict[str, np.ndarray]:
    content = files("fleet.charts.reading").joinpath("weights.npz").read_bytes()
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        return {name: kept[name] for name in kept.files}


def test_the_weights_are_plain_arrays_of_numbers() -> None:
    assert {one.dtype.kind for one in weights().values()} <= {"f", "i", "u"}
    content = files("fleet.charts.reading").joinpath("weights.npz").read_bytes()
    assert len(content) < 600_000


def test_the_answers_are_those_of_the_training() -> None:
    w = weights()
    cells = len(w["check.figures"])
    told = judges().logits(
        Seen(w["check.figures"], w["check.windows"].astype(np.float32) / 200, np.arange(cells))
    )

    np.testing.assert_allclose(told.trees, w["check.trees"], atol=1e-3)
    np.testing.assert_allclose(told.net, w["check.net"], atol=1e-3)
    assert w["check.windows"].shape[1:] == (4, WINDOW, WINDOW)
    assert w["check.figures"].shape[1] == len(FIGURES)


def test_the_judges_are_unsure_between_two_logits() -> None:
    low, high = judges().sure
    assert low < 0 < high
    assert judges().agree > 0
