"""What do the two judges learn from samples, and from which logit on is each of them sure?

    pip install torch scikit-learn
    python -m tests.studies.chart_reading.training FOLDER fleet/charts/reading/weights.npz

reads the samples in FOLDER (`samples.py` makes them) and writes the weights that are shipped. The
charts of one sample in six are kept back; from them come the logits between which a judge is not
sure. The net is trained with torch, the trees with scikit-learn; the program needs neither.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import torch
from sklearn.ensemble import HistGradientBoostingClassifier
from torch import nn

from fleet.charts.reading.figures import FIGURES, WINDOW, WINDOW_SCALE
from tests.studies.chart_reading.filled import DAMAGES
from tests.studies.chart_reading.samples import Samples, gathered

__all__ = ["wanted"]

BLANK, STAIN, DOUBT, MARKED = 0.0, 0.15, 0.5, 1.0
_LEAST, _PLAIN, _SLIGHT, _PALE = 0.1, 0.05, 0.35, 0.12
"""Ink below which nothing was left, blackness below which nothing is seen; ink and blackness below
which one is in doubt."""
_HANGS, _STAINED = 0.9, 0.5
"""Ink of others, ink of nobody in mm2, from which a blank cell leaves one in doubt."""
_EPOCHS, _BATCH, _RATE = 16, 512, 3e-3
_IN_DOUBT = 0.5
"""How much a cell in doubt counts."""
_KEPT_BACK = 6
_WIDE, _SEEN = 9.0, 8
"""From so many mm on a cell has several windows; what lies so near a window's edge, in pixels, is
seen better in the next."""


class Net(nn.Module):  # type: ignore[misc]
    """The net of `fleet.charts.reading.judges`, to be trained."""

    def __init__(self) -> None:
        super().__init__()
        self.a = nn.Conv2d(4, 12, 5, stride=2)
        self.b = nn.Conv2d(12, 24, 3, stride=2)
        self.c = nn.Conv2d(24, 32, 3, stride=2)
        self.d = nn.Linear(32 * 9, 48)
        self.e = nn.Linear(48, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """Logits of windows, n x 4 x 40 x 40."""
        for layer in (self.a, self.b, self.c):
            x = torch.relu(layer(x))
        # Channels last, as the program unfolds them.
        flat = x.permute(0, 2, 3, 1).flatten(1)
        return self.e(torch.relu(self.d(flat)))[:, 0]


def wanted(samples: Samples) -> np.ndarray:
    """What each cell is taken to be, as a person would say: 0 blank, 0.5 in doubt, 1 marked.

    A blank one with a stain is 0.15: more likely blank, but to be looked at.
    """
    is_seen = (samples.plain > _PLAIN) & (samples.plain > 3 * samples.rough + 0.02)
    is_seen &= samples.left > _LEAST
    is_slight = (samples.left < _SLIGHT) | (samples.plain < _PALE)
    written = np.select([~is_seen, is_slight], [BLANK, DOUBT], MARKED)
    doubtful = np.where(is_seen | (samples.left > 0.03) & (samples.plain > _PALE), DOUBT, BLANK)
    nothing = np.select([samples.left > _HANGS, samples.stained > _STAINED], [DOUBT, STAIN], BLANK)
    return np.select([samples.told == 1, samples.told == 2], [written, doubtful], nothing)


def _of_windows(samples: Samples, want: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What each window is taken to be, and how much it counts.

    Windows of a wide cell in which nothing of its writing lies say nothing.
    """
    own = want[samples.cell_of_window].astype(np.float32)
    weights = np.where(own == DOUBT, _IN_DOUBT, 1.0).astype(np.float32)
    is_wide = samples.figures[samples.cell_of_window, FIGURES.index("width")] > _WIDE
    for turn in np.flatnonzero(is_wide & (own > 0)):
        ink, _, _, part = samples.windows[turn]
        rows, columns = np.flatnonzero(part.any(1)), np.flatnonzero(part.any(0))
        middle = slice(max(columns[0] + 2, _SEEN), min(columns[-1] - 1, WINDOW - _SEEN))
        inside = ink[rows[0] + 2 : rows[-1] - 1, middle]
        if inside.sum() / 200 / WINDOW_SCALE**2 < _SLIGHT:
            weights[turn] = 0
    return own, weights


def _batches(rows: np.ndarray, epoch: int) -> Iterator[np.ndarray]:
    order = np.random.default_rng(epoch).permutation(rows)
    for start in range(0, len(order) - _BATCH + 1, _BATCH):
        yield order[start : start + _BATCH]


def _changed(x: torch.Tensor, own: torch.Generator) -> torch.Tensor:
    """Windows a little paler, noisier, shifted, mirrored."""
    count = len(x)
    gain = torch.rand(count, 1, 1, 1, generator=own) * 0.5 + 0.7
    rough = torch.rand(count, 1, 1, 1, generator=own) ** 2 * 0.08
    noise = torch.randn(count, 2, WINDOW, WINDOW, generator=own) * rough
    ink = torch.clamp(x[:, :2] * gain + noise, 0, 1.25)
    shift = torch.randint(-1, 2, (2,), generator=own).tolist()
    x = torch.cat([torch.roll(ink, shift, (2, 3)), x[:, 2:]], 1)
    for axis in (2, 3):
        if torch.rand(1, generator=own) < 0.5:
            x = x.flip(axis)
    return x


def trained_net(samples: Samples, want: np.ndarray, is_learned: np.ndarray) -> Net:
    """The net after some epochs; the same for the same samples and version of torch."""
    torch.manual_seed(0)
    own = torch.Generator().manual_seed(0)
    values, weights = _of_windows(samples, want)
    rows = np.flatnonzero(is_learned[samples.cell_of_window] & (weights > 0))
    shown, goal, counts = (torch.from_numpy(a) for a in (samples.windows, values, weights))
    net = Net()
    steps = _EPOCHS * (len(rows) // _BATCH)
    how = torch.optim.AdamW(net.parameters(), lr=_RATE, weight_decay=1e-3)
    pace = torch.optim.lr_scheduler.OneCycleLR(how, _RATE, total_steps=steps + 1)
    for epoch in range(_EPOCHS):
        whole = 0.0
        for batch in _batches(rows, epoch):
            picked = torch.from_numpy(batch)
            logits = net(_changed(shown[picked].float() / 200, own))
            loss = nn.functional.binary_cross_entropy_with_logits(
                logits, goal[picked], weight=counts[picked]
            )
            how.zero_grad()
            loss.backward()
            how.step()
            pace.step()
            whole += loss.item()
        sys.stdout.write(f"epoch {epoch}: {whole / max(1, len(rows) // _BATCH):.4f}\n")
    return net


def net_logits(net: Net, samples: Samples) -> np.ndarray:
    """A logit a cell: the highest of its windows."""
    found = np.full(len(samples.told), -np.inf, np.float32)
    with torch.no_grad():
        for start in range(0, len(samples.windows), 4096):
            part = torch.from_numpy(samples.windows[start : start + 4096]).float() / 200
            logits = net(part).numpy()
            np.maximum.at(found, samples.cell_of_window[start : start + 4096], logits)
    return found


def trained_trees(
    samples: Samples, want: np.ndarray, is_learned: np.ndarray
) -> HistGradientBoostingClassifier:
    """The trees; a cell in doubt is learned as both, each by its share."""
    doubt = is_learned & (want > BLANK) & (want < MARKED)
    clear, shares = is_learned & ~doubt, want[doubt]
    figures = np.concatenate([samples.figures[m] for m in (clear, doubt, doubt)])
    goal = np.concatenate([want[clear], np.zeros(len(shares)), np.ones(len(shares))])
    parts = np.ones(clear.sum()), _IN_DOUBT * (1 - shares), _IN_DOUBT * shares
    weights = np.concatenate(parts)
    return HistGradientBoostingClassifier(
        max_iter=160,
        learning_rate=0.1,
        max_leaf_nodes=20,
        min_samples_leaf=25,
        l2_regularization=1.0,
        early_stopping=False,
        random_state=0,
    ).fit(figures, goal, sample_weight=weights)


def tree_arrays(trees: HistGradientBoostingClassifier) -> dict[str, np.ndarray]:
    """The trees as arrays: a row a node, all trees one after the other; a leaf leads to itself."""
    parts: dict[str, list[np.ndarray]] = {
        name: [] for name in ("feature", "limit", "left", "right", "value")
    }
    roots, depth, start = [], 0, 0
    for (one,) in trees._predictors:
        nodes = one.nodes
        is_leaf = nodes["is_leaf"].astype(bool)
        own = np.arange(len(nodes))
        parts["feature"].append(np.where(is_leaf, 0, nodes["feature_idx"]).astype(np.int16))
        parts["limit"].append(np.where(is_leaf, 0, nodes["num_threshold"]).astype(np.float32))
        for side in ("left", "right"):
            parts[side].append((start + np.where(is_leaf, own, nodes[side])).astype(np.int32))
        parts["value"].append(np.where(is_leaf, nodes["value"], 0).astype(np.float32))
        roots.append(start)
        depth, start = max(depth, int(nodes["depth"].max())), start + len(nodes)
    arrays = {f"trees.{name}": np.concatenate(some) for name, some in parts.items()}
    base = np.asarray(trees._baseline_prediction, np.float32).ravel()
    return {
        **arrays,
        "trees.root": np.array(roots, np.int32),
        "trees.depth": np.array(depth),
        "trees.base": base,
    }


def net_arrays(net: Net) -> dict[str, np.ndarray]:
    """The net's weights, as the program multiplies them: filters and outputs last."""
    found = {}
    for name, value in net.state_dict().items():
        array = value.numpy()
        if name.endswith("weight"):
            array = array.transpose(2, 3, 1, 0) if array.ndim == 4 else array.T
        found[f"net.{name}"] = np.ascontiguousarray(array)
    return found


SURE, AGREE = (-5.0, 5.0), 0.5
"""Of the sum of both logits, and of each of them; chosen by the table that is printed. A blank cell
that is missed is the worse error.
"""


def _table(samples: Samples, want: np.ndarray, trees: np.ndarray, net: np.ndarray) -> None:
    """What limits would do to the cells kept back."""
    both, low_one, high_one = trees + net, np.minimum(trees, net), np.maximum(trees, net)
    is_blank, is_mark, is_doubt = want < DOUBT, want == MARKED, want == DOUBT
    out = sys.stdout.write
    for limit in (2.0, 3.0, 4.0, 5.0, 6.0, 7.0):
        blank = (both <= -limit) & (high_one <= -AGREE)
        marked = (both >= limit) & (low_one >= AGREE)
        out(
            f"{limit}: blank {is_blank.sum()} shown {(is_blank & ~blank & ~marked).sum()}"
            f" missed {(is_blank & marked).sum()}; mark {is_mark.sum()}"
            f" shown {(is_mark & ~blank & ~marked).sum()} lost {(is_mark & blank).sum()};"
            f" doubt {is_doubt.sum()} marked {(is_doubt & marked).sum()}"
            f" blank {(is_doubt & blank).sum()}\n"
        )
    blank = (both <= SURE[0]) & (high_one <= -AGREE)
    unsure = ~blank & ~((both >= SURE[1]) & (low_one >= AGREE))
    for turn, damage in enumerate(DAMAGES):
        own = samples.damage == turn
        kinds = (is_blank, is_mark, is_doubt)
        shares = " ".join(f"{100 * unsure[own & kind].mean():.2f}" for kind in kinds)
        out(f"{damage}: shown of blank, marked, doubt {shares} %\n")


def main(folder: str, weights: str) -> None:
    """Train both judges and write what they learned."""
    parts = []
    for path in sorted(Path(folder).glob("*.npz")):
        with np.load(path) as kept:
            parts.append(Samples(**{name: kept[name] for name in kept.files}))
    samples = gathered(parts)
    want = wanted(samples)
    is_learned = (samples.page // 20) % _KEPT_BACK != 0
    trees = trained_trees(samples, want, is_learned)
    net = trained_net(samples, want, is_learned)
    tree_logits, net_all = trees.decision_function(samples.figures), net_logits(net, samples)
    back = ~is_learned
    _table(
        samples._replace(damage=samples.damage[back]), want[back], tree_logits[back], net_all[back]
    )
    single = np.flatnonzero(np.bincount(samples.cell_of_window) == 1)[::997][:40]
    first = np.searchsorted(samples.cell_of_window, single)
    check: dict[str, Any] = {
        "check.figures": samples.figures[single],
        "check.windows": samples.windows[first],
        "check.trees": tree_logits[single].astype(np.float32),
        "check.net": net_all[single],
    }
    limits = {"sure": np.array(SURE, np.float32), "agree": np.array(AGREE, np.float32)}
    arrays: Any = {**tree_arrays(trees), **net_arrays(net), **limits, **check}
    np.savez_compressed(weights, **arrays)


if __name__ == "__main__":
    main(*sys.argv[1:3])
