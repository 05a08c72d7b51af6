"""What an unrolled outline looks like to a small network, and where the outline of what it lies on really runs.

Filters go around the outline in three layers, each with weights of its own (then come pairs of further layers, each
pair added to what went into it); they see light and shade only relative to the outline and its surroundings, so the
network knows no size, no direction and no colour. Four of one build are used: the first moves rough outlines to where
the true one runs (:mod:`.refine`), the second judges what came of it, a larger one looks closer at what is likely, and
one like it looks again when the outline was moved to where that expects it. What they say are features of the ranker
among others (:mod:`.ranker`); :mod:`.looks_training` fits the weights.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.trace import NORMALS, Floats
from fecallab.imaging.detect.unrolled import RINGS, Unrolled

Array: TypeAlias = NDArray[np.float32]
LAYERS = (("ring", 5), ("part", 5), ("build", 3), ("sum", 1), ("looks", 1), ("beside", 3), ("edge", 1))
"""Name of each layer, and how many lines around a filter spans."""
DEEPER = ("deeper", 3)
"""The same of the further layers, which come last in the file; they are used, pair by pair, after the layer build."""
Widths: TypeAlias = tuple[int, int, int, int, int, int]
"""Numbers that the layers ring, part, build, sum and beside give, and how many pairs of further layers there are."""
SMALL, LARGE = (32, 48, 48, 48, 48, 0), (64, 96, 96, 96, 48, 0)
DEEPER_SMALL, DEEPER_LARGE, DEEPEST_LARGE = (*SMALL[:5], 2), (*LARGE[:5], 2), (*LARGE[:5], 4)
SECTORS = NORMALS // 4
"""The true outline is told for so many sectors."""
LEAST_DOUBT, MOST_DOUBT = -4.0, 1.0
LIKELY, _LESS_LIKELY = -4.0, 2.0
"""What looks better than this is looked at closer; what does not is told so much lower."""
DECIMALS = 4
REFINER, LOOKS, CLOSER, AGAIN = "refiner.json", "looks.json", "closer.json", "again.json"
_AT_ONCE, _HALF = 256, np.float32(0.5)


@dataclass(frozen=True)
class Seen:
    """What a network says of outlines.

    Attributes
    ----------
    looks : ndarray, shape (n,)
        More is more like something to propose.
    offset : ndarray, shape (n, SECTORS)
        How far outwards the true outline runs, in short half axes.
    doubt : ndarray, shape (n, SECTORS)
        Logarithm of the error that is to be expected of `offset`.
    """

    looks: Floats
    offset: Floats
    doubt: Floats


@dataclass(frozen=True)
class Looks:
    """The network.

    Attributes
    ----------
    edition : str
        Which weights these are.
    weights : tuple of ndarray, shape (span * numbers in, numbers out)
        One for each of `LAYERS`, and for further ones.
    biases : tuple of ndarray, shape (numbers out,)
    """

    edition: str
    weights: tuple[Array, ...]
    biases: tuple[Array, ...]

    def of(self, patches: Unrolled, both_ways: bool = True) -> Seen:
        """Say what each unrolled outline looks like.

        Parameters
        ----------
        patches : ndarray, shape (n, NORMALS, RINGS)
            From :func:`fecallab.imaging.detect.unrolled.unrolled`.
        both_ways : bool, optional
            Whether each is read in both directions around and the means are taken.
        """
        looks, edge = [np.zeros(0, np.float32)], [np.zeros((0, SECTORS, 2), np.float32)]
        for start in range(0, len(patches), _AT_ONCE):
            part = patches[start : start + _AT_ONCE].astype(np.float32)
            number, runs = self._read(part)
            if both_ways:
                other, back = self._read(part[:, ::-1])
                number, runs = (number + other) * _HALF, (runs + back[:, ::-1]) * _HALF
            looks.append(number)
            edge.append(runs)
        told = np.concatenate(edge).astype(float)
        doubt = np.clip(told[..., 1], LEAST_DOUBT, MOST_DOUBT)
        return Seen(np.concatenate(looks).astype(float), told[..., 0], doubt)

    def _read(self, x: Array) -> tuple[Array, Array]:
        for k in range(3):
            x = self._layer(k, side_by_side(x, LAYERS[k][1]))
            x = thinned_around(x) if k < 2 else x
        for k in range(len(LAYERS), len(self.weights), 2):
            within = self._layer(k, side_by_side(x, DEEPER[1]))
            x = np.maximum(
                x + (side_by_side(within, DEEPER[1]) @ self.weights[k + 1] + self.biases[k + 1]), 0
            )
        whole = self._layer(3, np.concatenate([x.mean(axis=1), x.max(axis=1)], axis=1))
        lines = beside_whole(x, whole)
        runs = self._layer(5, side_by_side(lines, LAYERS[5][1])) @ self.weights[6] + self.biases[6]
        return (whole @ self.weights[4] + self.biases[4])[:, 0], runs

    def _layer(self, k: int, x: Array) -> Array:
        given = np.asarray(x @ self.weights[k], np.float32)
        given += self.biases[k]
        return np.maximum(given, 0, out=given)


def shapes_of(widths: Widths) -> list[tuple[int, int]]:
    """Return the shape of the weights of each layer.

    Examples
    --------
    >>> shapes_of(SMALL)[:2]
    [(120, 32), (160, 48)]
    """
    ring, part, build, whole, beside, pairs = widths
    taken = (RINGS, ring, part, 2 * build, whole, build + whole, beside, *(build,) * 2 * pairs)
    given = (ring, part, build, whole, 1, beside, 2, *(build,) * 2 * pairs)
    return [(span * few, many) for (_, span), few, many in zip(layers_with(pairs), taken, given, strict=True)]


def layers_with(pairs: int) -> tuple[tuple[str, int], ...]:
    """Return name and span of every layer of a network with so many pairs of further ones."""
    return (*LAYERS, *(DEEPER,) * 2 * pairs)


def beside_whole(lines: Array, whole: Array) -> Array:
    """Put what was seen in the whole beside what was seen in each sector."""
    spread = np.broadcast_to(whole[:, None], (*lines.shape[:2], whole.shape[1]))
    return np.concatenate([lines, spread], axis=2)


def side_by_side(x: Array, span: int) -> Array:
    """Return for every line the numbers of it and its neighbours, (n, lines, span * numbers); the last line is beside the first.

    Examples
    --------
    >>> side_by_side(np.array([[[1], [2], [3], [4]]], np.float32), 3)[0].astype(int).tolist()
    [[4, 1, 2], [1, 2, 3], [2, 3, 4], [3, 4, 1]]
    """
    half = span // 2
    lapped = np.concatenate([x[:, x.shape[1] - half :], x, x[:, :half]], axis=1)
    return np.concatenate([lapped[:, k : k + x.shape[1]] for k in range(span)], axis=2)


def thinned_around(x: Array) -> Array:
    """Return the means of two lines each."""
    return np.asarray(np.float32(0.5) * (x[:, 0::2] + x[:, 1::2]), np.float32)


def as_dict(looks: Looks) -> dict[str, Any]:
    """Return what is written to the file."""
    return {
        "edition": looks.edition,
        "about": "filters around an unrolled outline; no weight knows a size",
        "layers": [
            {
                "name": name,
                "span": span,
                "bias": np.round(bias.astype(float), DECIMALS).tolist(),
                "weights": np.round(weight.astype(float), DECIMALS).tolist(),
            }
            for (name, span), weight, bias in zip(
                layers_with((len(looks.biases) - len(LAYERS)) // 2), looks.weights, looks.biases, strict=True
            )
        ],
    }


def from_dict(told: dict[str, Any]) -> Looks:
    """Read a network as :func:`as_dict` writes it."""
    layers = told["layers"]
    weights = tuple(np.array(layer["weights"], np.float32) for layer in layers)
    biases = tuple(np.array(layer["bias"], np.float32) for layer in layers)
    pairs, odd = divmod(len(biases) - len(LAYERS), 2)
    if pairs < 0 or odd:
        raise ValueError("other layers")
    widths = (len(biases[0]), len(biases[1]), len(biases[2]), len(biases[3]), len(biases[5]), pairs)
    if [w.shape for w in weights] != shapes_of(widths):
        raise ValueError("other layers")
    return Looks(str(told["edition"]), weights, biases)


def write_looks(path: Path, looks: Looks) -> None:
    """Write the weights, those of one filter's place to a line."""

    def line(row: list[float]) -> str:
        return f"@{json.dumps(row, separators=(',', ':'))}@"

    told = as_dict(looks)
    for layer in told["layers"]:
        layer |= {"bias": line(layer["bias"]), "weights": [line(row) for row in layer["weights"]]}
    path.write_text(json.dumps(told, indent=0).replace('"@', "").replace('@"', "") + "\n", encoding="ascii")


@cache
def drawn_looks(name: str = LOOKS) -> Looks:
    """Return a network that was fitted on drawings and comes with the program: `REFINER`, `LOOKS`, `CLOSER` or `AGAIN`."""
    path = Path(str(resources.files("fecallab.imaging.detect"))) / "data" / name
    return from_dict(json.loads(path.read_text(encoding="ascii")))


def look_closer(patches: Unrolled) -> tuple[Floats, Seen]:
    """Look at all outlines, and closer at what is likely.

    Parameters
    ----------
    patches : ndarray, shape (n, NORMALS, RINGS)

    Returns
    -------
    first : ndarray, shape (n,)
        What each looked like at first.
    seen : Seen
        What the closer look says; of what is unlikely, the first.
    """
    first = drawn_looks(LOOKS).of(patches, both_ways=False)
    likely = first.looks > LIKELY
    closer = drawn_looks(CLOSER).of(patches[likely])
    looks, offset, doubt = first.looks - _LESS_LIKELY, first.offset.copy(), first.doubt.copy()
    looks[likely], offset[likely], doubt[likely] = closer.looks, closer.offset, closer.doubt
    return first.looks, Seen(looks, offset, doubt)
