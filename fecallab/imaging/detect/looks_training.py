"""Fit the network of :mod:`.looks` to unrolled outlines that are told right or wrong.

Plain gradient descent with a moment (Adam), written out: the same rows in the same order give the same weights.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.looks import LAYERS, Array, Looks, side_by_side, thinned_around
from fecallab.imaging.detect.unrolled import Unrolled

ROWS_PER_STEP, LAPS = 256, 10
_FASTEST, _SHRINK, _DROPPED = 3e-3, 0.02, 0.2
_FIRST, _SECOND, _TINY = 0.9, 0.99, 1e-8
_OVERLAY, _BEND, _GAIN, _RING_GAIN, _SHIFT, _GRAIN = 0.4, 0.2, 0.15, 0.08, 0.1, 0.2
"""How much light and shade are varied by lot while learning, so that no way of drawing is learnt by heart."""
_DOUBT = 0.01
Say = Callable[[int, int, float], None]


@dataclass
class _Moments:
    """Running means of the slopes and of their squares."""

    first: list[Array]
    second: list[Array]
    steps: int = 0


@dataclass
class _Way:
    """What each layer took and gave on the way forward, for the way back."""

    taken: list[Array] = field(default_factory=list)
    given: list[Array] = field(default_factory=list)
    kept: list[Array] = field(default_factory=list)


def fit_looks(
    patches: Unrolled,
    right: NDArray[np.bool_],
    *,
    edition: str,
    laps: float = LAPS,
    seed: int = 0,
    say: Say | None = None,
) -> Looks:
    """Fit the network.

    Parameters
    ----------
    patches : ndarray, shape (rows, NORMALS, RINGS)
    right : ndarray of bool, shape (rows,)
    edition : str
    laps : float, optional
        How often every row is seen.
    seed : int, optional
    say : callable, optional
        Called now and then with steps done, steps in all and the mean loss.

    Returns
    -------
    Looks
    """
    rng = np.random.default_rng([seed, 31])
    values = _start(rng)
    moments = _Moments([np.zeros_like(v) for v in values], [np.zeros_like(v) for v in values])
    per_lap = max(1, len(patches) // ROWS_PER_STEP)
    steps = max(1, round(laps * per_lap))
    told, losses = right.astype(np.float32) * (1 - 2 * _DOUBT) + _DOUBT, []
    order = rng.permutation(len(patches))
    for step in range(steps):
        at = step % per_lap
        if step and at == 0:
            order = rng.permutation(len(patches))
        rows = np.sort(order[at * ROWS_PER_STEP : (at + 1) * ROWS_PER_STEP])
        slopes, loss = _slopes(values, _varied(patches[rows].astype(np.float32), rng), told[rows], rng)
        _move(values, slopes, moments, _speed(step / steps))
        losses.append(loss)
        if say is not None and (step + 1) % 200 == 0:
            say(step + 1, steps, float(np.mean(losses[-200:])))
    return Looks(edition, tuple(values[0::2]), tuple(values[1::2]))


def _start(rng: np.random.Generator) -> list[Array]:
    """Weights and biases by lot, in turn."""
    values: list[Array] = []
    for _, span, taken, given in LAYERS:
        wide = math.sqrt(1 / (span * taken))
        values.append(rng.uniform(-wide, wide, (span * taken, given)).astype(np.float32))
        values.append(rng.uniform(-wide, wide, given).astype(np.float32))
    return values


def _varied(x: Array, rng: np.random.Generator) -> Array:
    """Another outline shining through, other contrast, gain, level and grain; half are read the other way around."""
    n, lines, rings = x.shape
    one = (n, 1, 1)
    from_line = (np.arange(lines) + rng.integers(0, lines, (n, 1))) % lines
    other = x[rng.permutation(n)[:, None], from_line]
    x = x + np.float32(_OVERLAY) * rng.random(one, np.float32) ** 3 * other
    x = np.sign(x) * np.abs(x) ** np.exp(np.float32(_BEND) * rng.standard_normal(one, np.float32))
    gain = _GAIN * rng.standard_normal(one, np.float32) + _RING_GAIN * rng.standard_normal(
        (n, 1, rings), np.float32
    )
    x = x * (1 + gain) + _SHIFT * rng.standard_normal(one, np.float32)
    x += _GRAIN * rng.random(one, np.float32) * rng.standard_normal(x.shape, np.float32)
    turned = rng.random(n) < 0.5
    x[turned] = x[turned][:, ::-1]
    return np.asarray(x, np.float32)


def _speed(share: float) -> float:
    """Slow, then fast, then ever slower."""
    if share < 0.3:
        return _FASTEST * (0.04 + 0.96 * 0.5 * (1 - math.cos(math.pi * share / 0.3)))
    return _FASTEST * 0.5 * (1 + math.cos(math.pi * (share - 0.3) / 0.7)) + 1e-7


def _slopes(
    values: list[Array], x: Array, told: Array, rng: np.random.Generator
) -> tuple[list[Array], float]:
    """Slopes of the mean loss by every value, and that loss."""
    way = _Way()
    for k in range(3):
        x = _layer(values, k, side_by_side(x, LAYERS[k][1]), way)
        x = thinned_around(x) if k < 2 else x
    build = x
    top = build.argmax(axis=1)
    x = np.concatenate([build.mean(axis=1), np.take_along_axis(build, top[:, None], 1)[:, 0]], axis=1)
    x = _layer(values, 3, _dropped(x, rng, way), way)
    x = _dropped(x, rng, way)
    odds = (x @ values[8] + values[9])[:, 0]
    loss = float(np.mean(np.logaddexp(0, odds) - told * odds))
    back = ((1 / (1 + np.exp(-odds)) - told) / np.float32(len(told)))[:, None].astype(np.float32)
    slopes: list[Array] = [np.zeros(0, np.float32)] * len(values)
    slopes[8], slopes[9] = x.T @ back, back.sum(axis=0)
    back = _back(values, 3, (back @ values[8].T) * way.kept[1], way, slopes) * way.kept[0]
    half = back.shape[1] // 2
    grown = np.repeat(back[:, None, :half] / np.float32(build.shape[1]), build.shape[1], axis=1)
    np.put_along_axis(
        grown, top[:, None], np.take_along_axis(grown, top[:, None], 1) + back[:, None, half:], 1
    )
    for k in (2, 1, 0):
        wide = _back(values, k, grown, way, slopes)
        if k:
            grown = np.repeat(_folded(wide, LAYERS[k][1]) * np.float32(0.5), 2, axis=1)
    return slopes, loss


def _layer(values: list[Array], k: int, taken: Array, way: _Way) -> Array:
    given: Array = np.maximum(taken @ values[2 * k] + values[2 * k + 1], 0)
    way.taken.append(taken)
    way.given.append(given)
    return given


def _dropped(x: Array, rng: np.random.Generator, way: _Way) -> Array:
    """Leave out some of the numbers by lot, so that none is leant on."""
    kept = np.asarray((rng.random(x.shape, np.float32) >= _DROPPED) / np.float32(1 - _DROPPED), np.float32)
    way.kept.append(kept)
    return np.asarray(x * kept, np.float32)


def _back(values: list[Array], k: int, back: Array, way: _Way, slopes: list[Array]) -> Array:
    """Slopes by the values of a layer are noted; the slopes by what it took are returned."""
    back = back * (way.given[k] > 0)
    flat = back.reshape(-1, back.shape[-1])
    slopes[2 * k] = way.taken[k].reshape(flat.shape[0], -1).T @ flat
    slopes[2 * k + 1] = flat.sum(axis=0)
    return np.asarray(back @ values[2 * k].T, np.float32)


def _folded(wide: Array, span: int) -> Array:
    """Undo :func:`side_by_side` for slopes: what a line gave to its neighbours comes back to it."""
    parts = np.split(wide, span, axis=2)
    total = np.zeros_like(parts[0])
    for k, part in enumerate(parts):
        total += np.roll(part, k - span // 2, axis=1)
    return total


def _move(values: list[Array], slopes: list[Array], moments: _Moments, speed: float) -> None:
    moments.steps += 1
    for k, (value, slope) in enumerate(zip(values, slopes, strict=True)):
        moments.first[k] += np.float32(1 - _FIRST) * (slope - moments.first[k])
        moments.second[k] += np.float32(1 - _SECOND) * (slope * slope - moments.second[k])
        first = moments.first[k] / np.float32(1 - _FIRST**moments.steps)
        second = moments.second[k] / np.float32(1 - _SECOND**moments.steps)
        if value.ndim == 2:
            value *= np.float32(1 - speed * _SHRINK)
        value -= np.float32(speed) * first / (np.sqrt(second) + np.float32(_TINY))
