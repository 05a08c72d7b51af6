"""What an unrolled outline looks like to a small network: one number, more is more like something to propose.

Three layers of filters go around the outline, each with weights of its own; they see light and shade only relative to
the outline and its surroundings, so the network knows no size, no direction and no colour. Its number is one feature
of the ranker among others (:mod:`.ranker`); :mod:`.looks_training` fits the weights.
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

from fecallab.imaging.detect.trace import Floats
from fecallab.imaging.detect.unrolled import RINGS, Unrolled

Array: TypeAlias = NDArray[np.float32]
LAYERS = (
    ("ring", 5, RINGS, 24),
    ("part", 5, 24, 32),
    ("build", 3, 32, 32),
    ("sum", 1, 64, 48),
    ("looks", 1, 48, 1),
)
"""Name of each layer, lines around that a filter spans, numbers in, numbers out."""
DECIMALS = 4
LOOKS = "looks.json"
_AT_ONCE = 256


@dataclass(frozen=True)
class Looks:
    """The network.

    Attributes
    ----------
    edition : str
        Which weights these are.
    weights : tuple of ndarray, shape (span * numbers in, numbers out)
        One for each layer of `LAYERS`.
    biases : tuple of ndarray, shape (numbers out,)
    """

    edition: str
    weights: tuple[Array, ...]
    biases: tuple[Array, ...]

    def of(self, patches: Unrolled) -> Floats:
        """Return the number of each unrolled outline, read in both directions around.

        Parameters
        ----------
        patches : ndarray, shape (n, NORMALS, RINGS)
            From :func:`fecallab.imaging.detect.unrolled.unrolled`.
        """
        found = [np.zeros(0)]
        for start in range(0, len(patches), _AT_ONCE):
            part = patches[start : start + _AT_ONCE].astype(np.float32)
            found.append(0.5 * (self._read(part) + self._read(part[:, ::-1])))
        return np.concatenate(found)

    def _read(self, x: Array) -> Floats:
        for k in range(3):
            x = np.maximum(side_by_side(x, LAYERS[k][1]) @ self.weights[k] + self.biases[k], 0)
            x = thinned_around(x) if k < 2 else x
        x = np.concatenate([x.mean(axis=1), x.max(axis=1)], axis=1)
        x = np.maximum(x @ self.weights[3] + self.biases[3], 0)
        return np.asarray((x @ self.weights[4] + self.biases[4])[:, 0], np.float64)


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
            for (name, span, _, _), weight, bias in zip(LAYERS, looks.weights, looks.biases, strict=True)
        ],
    }


def from_dict(told: dict[str, Any]) -> Looks:
    """Read a network as :func:`as_dict` writes it."""
    layers = told["layers"]
    weights = tuple(np.array(layer["weights"], np.float32) for layer in layers)
    if [w.shape for w in weights] != [(span * taken, given) for _, span, taken, given in LAYERS]:
        raise ValueError("other layers")
    return Looks(
        str(told["edition"]), weights, tuple(np.array(layer["bias"], np.float32) for layer in layers)
    )


def write_looks(path: Path, looks: Looks) -> None:
    """Write the weights, those of one filter's place to a line."""

    def line(row: list[float]) -> str:
        return f"@{json.dumps(row, separators=(',', ':'))}@"

    told = as_dict(looks)
    for layer in told["layers"]:
        layer |= {"bias": line(layer["bias"]), "weights": [line(row) for row in layer["weights"]]}
    path.write_text(json.dumps(told, indent=0).replace('"@', "").replace('@"', "") + "\n", encoding="ascii")


@cache
def drawn_looks() -> Looks:
    """Return the network that was fitted on drawings and comes with the program."""
    path = Path(str(resources.files("fecallab.imaging.detect"))) / "data" / LOOKS
    return from_dict(json.loads(path.read_text(encoding="ascii")))
