"""Fit a network of :mod:`.looks` to unrolled outlines that are told right or wrong, and where the true ones run.

Plain gradient descent with a moment (Adam), written out: the same rows in the same order give the same weights.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from fecallab.imaging.detect.lessons import Lessons
from fecallab.imaging.detect.looks import (
    DEEPER,
    LAYERS,
    LEAST_DOUBT,
    MOST_DOUBT,
    SMALL,
    Array,
    Looks,
    Widths,
    beside_whole,
    shapes_of,
    side_by_side,
    thinned_around,
)

ROWS_PER_STEP, LAPS = 256, 6
FASTEST, _SHRINK, _DROPPED = 3e-3, 0.02, 0.2
_FIRST, _SECOND, _TINY = 0.9, 0.99, 1e-8
_OVERLAY, _BEND, _GAIN, _RING_GAIN, _SHIFT, _GRAIN = 0.4, 0.2, 0.15, 0.08, 0.1, 0.2
"""How much light and shade are varied by lot while learning, so that no way of drawing is learnt by heart."""
_FITS_AROUND = 0.03
"""An outline fits all around where the true one is, on the mean, not farther from its mean distance (short half axes)."""
_DOUBT, _EDGE_SHARE = 0.01, 0.3
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
    lessons: Lessons,
    *,
    edition: str,
    widths: Widths = SMALL,
    laps: float = LAPS,
    seed: int = 0,
    begin: Looks | None = None,
    fastest: float = FASTEST,
    varied: float = 1.0,
    evened: float = 0.0,
    say: Say | None = None,
) -> Looks:
    """Fit the network.

    Parameters
    ----------
    lessons : Lessons
    edition : str
    widths : tuple of int, optional
        Of its layers.
    laps : float, optional
        How often every row is seen.
    seed : int, optional
    begin : Looks, optional
        A network of the same widths to go on with; of pairs of further layers it may have fewer.
    fastest : float, optional
        Speed at its highest.
    varied : float, optional
        How much light and shade are varied by lot, as a share of what is usual.
    evened : float, optional
        Share of the outlines that fit something, be it right or wrong, which are made more even around by lot: drawn
        look-alikes are rounder and more even than drawn organisms, and that must not be what tells them apart.
    say : callable, optional
        Called now and then with steps done, steps in all and the mean loss.

    Returns
    -------
    Looks
    """
    rng = np.random.default_rng([seed, 31])
    values = _start(rng, widths)
    if begin is not None:
        _go_on_with(begin, values)
    moments = _Moments([np.zeros_like(v) for v in values], [np.zeros_like(v) for v in values])
    rows = len(lessons.patches)
    per_lap = max(1, rows // ROWS_PER_STEP)
    steps = max(1, round(laps * per_lap))
    losses, order = [], rng.permutation(rows)
    for step in range(steps):
        at = step % per_lap
        if step and at == 0:
            order = rng.permutation(rows)
        here = np.sort(order[at * ROWS_PER_STEP : (at + 1) * ROWS_PER_STEP])
        patches, offset = lessons.patches[here].astype(np.float32), lessons.offset[here]
        turned = rng.random(len(here)) < 0.5
        patches[turned], offset[turned] = patches[turned][:, ::-1], offset[turned][:, ::-1]
        if evened:
            patches = _evened(patches, offset, rng, evened)
        slopes, loss = _slopes(values, _varied(patches, rng, varied), lessons.right[here], offset, rng)
        _move(values, slopes, moments, fastest * _speed(step / steps))
        losses.append(loss)
        if say is not None and (step + 1) % 200 == 0:
            say(step + 1, steps, float(np.mean(losses[-200:])))
    return Looks(edition, tuple(values[0::2]), tuple(values[1::2]))


def _start(rng: np.random.Generator, widths: Widths = SMALL) -> list[Array]:
    """Weights and biases by lot, in turn."""
    values: list[Array] = []
    for taken, given in shapes_of(widths):
        wide = math.sqrt(1 / taken)
        values.append(rng.uniform(-wide, wide, (taken, given)).astype(np.float32))
        values.append(rng.uniform(-wide, wide, given).astype(np.float32))
    return values


def _go_on_with(begun: Looks, values: list[Array]) -> None:
    """Begin with a network; pairs of layers that it lacks add nothing at first."""
    known = 2 * len(begun.weights)
    values[0:known:2] = [weight.copy() for weight in begun.weights]
    values[1:known:2] = [bias.copy() for bias in begun.biases]
    for k in range(known, len(values), 4):
        values[k + 2][:], values[k + 3][:] = 0, 0


def _evened(x: Array, offset: Array, rng: np.random.Generator, share: float) -> Array:
    """Make some of those that fit all around more even around."""
    known = np.isfinite(offset)
    count = np.maximum(known.sum(axis=1), 1)
    mean = np.where(known, offset, 0).sum(axis=1) / count
    apart = np.where(known, np.abs(offset - mean[:, None]), 0).sum(axis=1) / count
    fits = known.all(axis=1) & (apart < _FITS_AROUND) & (rng.random(len(x)) < share)
    by = np.where(fits, rng.random(len(x)), 0).astype(np.float32)[:, None, None]
    return np.asarray(x + by * (x.mean(axis=1, keepdims=True) - x), np.float32)


def _varied(x: Array, rng: np.random.Generator, share: float = 1.0) -> Array:
    """Another outline shining through, other contrast, gain, level and grain."""
    n, lines, rings = x.shape
    one = (n, 1, 1)
    from_line = (np.arange(lines) + rng.integers(0, lines, (n, 1))) % lines
    other = x[rng.permutation(n)[:, None], from_line]
    x = x + np.float32(share * _OVERLAY) * rng.random(one, np.float32) ** 3 * other
    x = np.sign(x) * np.abs(x) ** np.exp(np.float32(share * _BEND) * rng.standard_normal(one, np.float32))
    gain = _GAIN * rng.standard_normal(one, np.float32) + _RING_GAIN * rng.standard_normal(
        (n, 1, rings), np.float32
    )
    x = x * (1 + share * gain) + share * _SHIFT * rng.standard_normal(one, np.float32)
    x += share * _GRAIN * rng.random(one, np.float32) * rng.standard_normal(x.shape, np.float32)
    return np.asarray(x, np.float32)


def _speed(share: float) -> float:
    """Slow, then fast, then ever slower, as a share of the highest speed."""
    if share < 0.3:
        return 0.04 + 0.96 * 0.5 * (1 - math.cos(math.pi * share / 0.3))
    return 0.5 * (1 + math.cos(math.pi * (share - 0.3) / 0.7)) + 3e-5


def _slopes(
    values: list[Array], x: Array, right: Array, offset: Array, rng: np.random.Generator
) -> tuple[list[Array], float]:
    """Slopes of the mean loss by every value, and that loss."""
    way = _Way()
    for k in range(3):
        x = _layer(values, k, side_by_side(x, LAYERS[k][1]), way)
        x = thinned_around(x) if k < 2 else x
    deep = _Way()
    for k in range(len(LAYERS), len(values) // 2, 2):
        within = _layer(values, k, side_by_side(x, DEEPER[1]), deep)
        deep.taken.append(side_by_side(within, DEEPER[1]))
        x = np.maximum(x + (deep.taken[-1] @ values[2 * k + 2] + values[2 * k + 3]), 0)
        deep.given.append(x)
    build = x
    top = build.argmax(axis=1)
    x = np.concatenate([build.mean(axis=1), np.take_along_axis(build, top[:, None], 1)[:, 0]], axis=1)
    whole = _layer(values, 3, _dropped(x, rng, way), way)
    x = _dropped(whole, rng, way)
    odds = (x @ values[8] + values[9])[:, 0]
    beside = _layer(values, 5, side_by_side(beside_whole(build, whole), LAYERS[5][1]), way)
    runs = beside @ values[12] + values[13]
    first, back_odds = _loss_of_looks(odds, right)
    second, back_runs = _loss_of_edge(runs, offset)

    slopes: list[Array] = [np.zeros(0, np.float32)] * len(values)
    flat = back_runs.reshape(-1, 2)
    slopes[12], slopes[13] = beside.reshape(len(flat), -1).T @ flat, flat.sum(axis=0)
    wide = _folded(_back(values, 5, 4, back_runs @ values[12].T, way, slopes), LAYERS[5][1])
    numbers = build.shape[2]
    back = back_odds[:, None]
    slopes[8], slopes[9] = x.T @ back, back.sum(axis=0)
    to_whole = (back @ values[8].T) * way.kept[1] + wide[:, :, numbers:].sum(axis=1)
    back = _back(values, 3, 3, to_whole, way, slopes) * way.kept[0]
    grown = wide[:, :, :numbers] + back[:, None, :numbers] / np.float32(build.shape[1])
    np.put_along_axis(
        grown, top[:, None], np.take_along_axis(grown, top[:, None], 1) + back[:, None, numbers:], 1
    )
    for k in range(len(values) // 2 - 1, len(LAYERS), -2):
        turn = k - len(LAYERS)
        grown = grown * (deep.given[turn] > 0)
        within = _folded(_back(values, k, turn, grown, deep, slopes), DEEPER[1])
        grown = grown + _folded(_back(values, k - 1, turn - 1, within, deep, slopes), DEEPER[1])
    for k in (2, 1):
        wide = _back(values, k, k, grown, way, slopes)
        grown = np.repeat(_folded(wide, LAYERS[k][1]) * np.float32(0.5), 2, axis=1)
    _noted(0, 0, grown, way, slopes)
    return slopes, first + second


def _loss_of_looks(odds: Array, right: Array) -> tuple[float, Array]:
    """Cross-entropy of what is told right or wrong, and its slope by the odds."""
    known = np.isfinite(right)
    told = np.where(known, right, 0) * (1 - 2 * _DOUBT) + _DOUBT
    count = max(int(known.sum()), 1)
    loss = float((known * (np.logaddexp(0, odds) - told * odds)).sum() / count)
    return loss, np.asarray(known * (1 / (1 + np.exp(-odds)) - told) / count, odds.dtype)


def _loss_of_edge(runs: Array, offset: Array) -> tuple[float, Array]:
    """Mean unlikelihood of the true offsets if errors fall off on both sides (Laplace), and its slope by both numbers."""
    known = np.isfinite(offset)
    count = max(int(known.sum()), 1)
    doubt = np.clip(runs[..., 1], LEAST_DOUBT, MOST_DOUBT)
    off = np.where(known, runs[..., 0] - np.where(known, offset, 0), 0)
    per = np.exp(-doubt)
    loss = _EDGE_SHARE * float((known * (np.abs(off) * per + doubt)).sum() / count)
    back = np.empty_like(runs)
    back[..., 0] = np.sign(off) * per
    back[..., 1] = (1 - np.abs(off) * per) * (doubt == runs[..., 1])
    return loss, np.asarray(back * (known[..., None] * (_EDGE_SHARE / count)), runs.dtype)


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


def _back(values: list[Array], k: int, turn: int, back: Array, way: _Way, slopes: list[Array]) -> Array:
    """Slopes by the values of layer `k`, the `turn`-th on the way, are noted; the slopes by what it took are returned."""
    return np.asarray(_noted(k, turn, back, way, slopes) @ values[2 * k].T, np.float32)


def _noted(k: int, turn: int, back: Array, way: _Way, slopes: list[Array]) -> Array:
    """Note the slopes by the values of a layer; those by its sums are returned."""
    back = np.asarray(back * (way.given[turn] > 0), np.float32)
    flat = back.reshape(-1, back.shape[-1])
    slopes[2 * k] = way.taken[turn].reshape(flat.shape[0], -1).T @ flat
    slopes[2 * k + 1] = flat.sum(axis=0)
    return back


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
