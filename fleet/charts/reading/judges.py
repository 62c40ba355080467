"""Is a cell blank or marked? Two judges of different kind answer, and both must agree.

One is a set of decision trees over the figures of a cell, the other a small convolutional net over
its windows. Both were trained on made pages (`tests/studies/chart_reading`); what they learned is
kept as plain arrays in weights.npz beside this module. Each answers with a logit: below 0 blank,
above 0 marked, far from 0 sure.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from fleet.charts.reading.figures import Seen

__all__ = ["Judges", "Logits", "judges"]

Floats = NDArray[Any]
"""float32."""
_CHUNK = 64
"""Windows looked at together: what they are unfolded into stays within a processor's cache."""
_STRIDE = 2


@dataclass(frozen=True, slots=True)
class Logits:
    """What the two judges say of each cell."""

    trees: Floats
    net: Floats


@dataclass(frozen=True, slots=True)
class Judges:
    """Both judges, and between which logits they are not sure enough."""

    weights: Mapping[str, NDArray[Any]]
    digest: str
    """SHA-256 of the weights, in hex."""

    def logits(self, seen: Seen) -> Logits:
        """Ask both judges; of a cell with several windows the most marked one counts."""
        net = np.full(len(seen.figures), -np.inf, np.float32)
        np.maximum.at(net, seen.cell_of_window, self._net(seen.windows))
        return Logits(self._trees(seen.figures), net)

    @property
    def sure(self) -> tuple[float, float]:
        """The sum of both logits up to which a cell is blank, and from which on it is marked."""
        low, high = self.weights["sure"].tolist()
        return low, high

    @property
    def agree(self) -> float:
        """How far each of them must be on that side by itself."""
        return float(self.weights["agree"])

    def _trees(self, figures: Floats) -> Floats:
        """Walk all trees at once, a level a step; a leaf leads to itself."""
        w = self.weights
        features, limits = w["trees.feature"], w["trees.limit"]
        left, right = w["trees.left"], w["trees.right"]
        rows = np.arange(len(figures))[:, None]
        at = np.repeat(w["trees.root"][None], len(figures), axis=0)
        for _ in range(int(w["trees.depth"])):
            goes_left = figures[rows, features[at]] <= limits[at]
            at = np.where(goes_left, left[at], right[at])
        sums = w["trees.value"][at].sum(axis=1) + w["trees.base"]
        return np.asarray(sums, np.float32)

    def _net(self, windows: Floats) -> Floats:
        w = self.weights
        parts = [np.zeros(0, np.float32)]
        for start in range(0, len(windows), _CHUNK):
            x = np.ascontiguousarray(windows[start : start + _CHUNK].transpose(0, 2, 3, 1))
            for layer in "abc":
                x = _convolved(x, w[f"net.{layer}.weight"], w[f"net.{layer}.bias"])
            flat = x.reshape(len(x), -1)
            hidden = np.maximum(flat @ w["net.d.weight"] + w["net.d.bias"], 0)
            parts.append((hidden @ w["net.e.weight"] + w["net.e.bias"])[:, 0])
        return np.concatenate(parts)


def _convolved(x: Floats, weight: Floats, bias: Floats) -> Floats:
    """A layer of stride 2 without padding, cut off at 0.

    x: n x height x width x channels; weight: side x side x channels x filters.
    """
    side, _, channels, filters = weight.shape
    views = sliding_window_view(x, (side, side), axis=(1, 2))[:, ::_STRIDE, ::_STRIDE]
    count, high, wide = views.shape[:3]
    unfolded = views.transpose(0, 1, 2, 4, 5, 3).reshape(-1, side * side * channels)
    out = unfolded @ weight.reshape(-1, filters)
    return np.asarray(np.maximum(out + bias, 0).reshape(count, high, wide, filters))


@lru_cache(maxsize=1)
def judges() -> Judges:
    """The judges that are shipped."""
    content = files("fleet.charts.reading").joinpath("weights.npz").read_bytes()
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        weights = {name: kept[name] for name in kept.files}
    return Judges(weights, hashlib.sha256(content).hexdigest())
