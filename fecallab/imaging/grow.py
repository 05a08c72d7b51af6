"""Grow trees that tell how likely something is: gradient boosting with a few questions to a tree.

Each tree is grown to what the ones before still get wrong. The next question is always the one that helps most
wherever it is asked, until the tree has its leaves (Friedman 2001; from memory, believed source).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from fecallab.imaging.trees import Tree, Trees

Values = NDArray[np.float64]
_BINS = 48
_TREES, _LEAVES, _STEP = 400, 16, 0.05
_PULL, _LEAST_ROWS = (
    5.0,
    20,
)  # towards no word at all; in a leaf (own choice, as all here, by tuning clips left out)
_SHARE = 0.7  # of the rows and of the names, for each tree
_EVEN = 1e-6


@dataclass
class _Leaf:
    rows: NDArray[np.intp]
    gain: float = 0.0
    asks: int = -1
    bin: int = 0
    children: tuple[int, int] = (0, 0)
    word: float = 0.0


@dataclass
class _Data:
    codes: NDArray[np.intp]  # (rows, names): bin, each name with its own range of numbers
    edges: list[Values] = field(default_factory=list)


def grown(evidence: Values, right: NDArray[np.bool_], seed: int = 0, trees: int = _TREES) -> Trees:
    """Return trees grown to rows of evidence; the same rows give the same trees.

    Parameters
    ----------
    evidence : ndarray, shape (rows, names)
    right : ndarray of bool, shape (rows,)
    seed : int, optional
        Of the lot by which rows and names are chosen for each tree.
    trees : int, optional
        How many.
    """
    rng = np.random.default_rng(seed)
    data = _binned(evidence)
    before = round(float(logit(np.clip(right.mean(), _EVEN, 1 - _EVEN))), 4)
    odds = np.full(len(right), before)
    found, count = [], evidence.shape[1]
    for _ in range(trees):
        rows = np.flatnonzero(rng.random(len(right)) < _SHARE)
        names = np.sort(rng.choice(count, max(1, round(_SHARE * count)), replace=False))
        chance = expit(odds)
        tree = _tree(data, right - chance, chance * (1 - chance), rows, names)
        found.append(tree)
        odds += tree.said_of(evidence)
    return Trees(before, tuple(found))


def _binned(evidence: Values) -> _Data:
    data = _Data(np.empty(evidence.shape, np.intp))
    for k, column in enumerate(evidence.T):
        edges = np.unique(np.quantile(column, np.linspace(0, 1, _BINS + 1)[1:-1], method="lower"))
        edges = np.array([float(f"{edge:.5g}") for edge in edges])
        data.edges.append(edges)
        data.codes[:, k] = np.searchsorted(edges, column, side="left") + k * _BINS
    return data


def _tree(
    data: _Data,
    slope: Values,
    bend: Values,
    rows: NDArray[np.intp],
    names: NDArray[np.intp],
) -> Tree:
    leaves = [_best_question(_Leaf(rows), data, slope, bend, names)]
    for _ in range(_LEAVES - 1):
        most = max((one for one in leaves if not one.children[0]), key=lambda one: one.gain)
        if most.gain <= _EVEN:
            break
        no = data.codes[most.rows, most.asks] <= most.bin
        most.children = (len(leaves), len(leaves) + 1)
        leaves += [
            _best_question(_Leaf(part), data, slope, bend, names) for part in (most.rows[no], most.rows[~no])
        ]
    asked = [bool(one.children[0]) for one in leaves]
    return Tree(
        asks=np.array([one.asks if more else -1 for one, more in zip(leaves, asked, strict=True)]),
        limit=np.array(
            [
                data.edges[one.asks][one.bin % _BINS] if more else 0.0
                for one, more in zip(leaves, asked, strict=True)
            ]
        ),
        no=np.array([one.children[0] for one in leaves]),
        yes=np.array([one.children[1] for one in leaves]),
        word=np.array(
            [0.0 if more else round(_STEP * one.word, 4) for one, more in zip(leaves, asked, strict=True)]
        ),
    )


def _best_question(leaf: _Leaf, data: _Data, slope: Values, bend: Values, names: NDArray[np.intp]) -> _Leaf:
    """Return the leaf with its word, and the question that helps most there."""
    mine, curved = slope[leaf.rows], bend[leaf.rows]
    all_slope, all_bend = float(mine.sum()), float(curved.sum())
    leaf.word = all_slope / (all_bend + _PULL)
    if len(leaf.rows) < 2 * _LEAST_ROWS:
        return leaf
    count = data.codes.shape[1] * _BINS
    places = data.codes[np.ix_(leaf.rows, names)].ravel()
    each = len(names)
    up = np.bincount(places, np.repeat(mine, each), count).reshape(-1, _BINS)[names].cumsum(axis=1)
    bent = np.bincount(places, np.repeat(curved, each), count).reshape(-1, _BINS)[names].cumsum(axis=1)
    rows = np.bincount(places, minlength=count).reshape(-1, _BINS)[names].cumsum(axis=1)
    gain = up**2 / (bent + _PULL) + (all_slope - up) ** 2 / (all_bend - bent + _PULL)
    gain -= all_slope**2 / (all_bend + _PULL)
    gain[(rows < _LEAST_ROWS) | (len(leaf.rows) - rows < _LEAST_ROWS)] = 0.0
    best = int(gain.argmax())
    name, place = divmod(best, _BINS)
    leaf.gain, leaf.asks = float(gain.flat[best]), int(names[name])
    leaf.bin = leaf.asks * _BINS + place
    return leaf
