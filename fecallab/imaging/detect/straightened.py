"""Narrow bands along lines, straightened: light across each station, and how like a wall each place is to both sides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.trace import Floats, read_at

STATION_UM, ACROSS_UM, HALF_STEPS = 5.0, 0.9, 22
"""Distance of stations along the line, of places across it, and places to each side."""
_LINE_FLOOR, _FALL_SHARE, _HALF = 0.004, 0.6, 0.7
_MIDDLES, _HALVES, _APART = 11, 9, 2
_ASIDE_COST = 0.006
_MOVES = ((0, 0, 0.0), (1, 0, 0.08), (-1, 0, 0.08), (0, 1, 0.05), (0, -1, 0.05))
"""Steps of middle and half width from station to station, with their costs."""


@dataclass(frozen=True)
class Band:
    """Straightened bands: places of stations (lines, stations), normals, light and walls (lines, stations, across)."""

    x: Floats
    y: Floats
    nx: Floats
    ny: Floats
    count: NDArray[np.intp]
    light: Map
    right: Map
    left: Map
    usual: Floats

    @property
    def valid(self) -> NDArray[np.bool_]:
        """Which stations are real: shorter lines are padded."""
        return np.arange(self.x.shape[1]) < self.count[:, None]

    def walls(self, half_um: float) -> Map:
        """The weaker of both walls at a half width, (lines, stations)."""
        at = float(np.clip(half_um / ACROSS_UM, 0.5, HALF_STEPS - 1))
        low = int(at)
        pair = [
            np.minimum(self.right[:, :, HALF_STEPS + k], self.left[:, :, HALF_STEPS - k])
            for k in (low, low + 1)
        ]
        return np.asarray(pair[0] + np.float32(at - low) * (pair[1] - pair[0]), np.float32)


def band_along(level: Map, lines: list[Floats], um_per_px: float) -> Band:
    """Straighten the bands along lines (columns, rows) of a level."""
    count = np.array([max(round(arc(line)[-1] * um_per_px / STATION_UM), 8) for line in lines])
    table = np.zeros((4, len(lines), count.max()))
    for k, (line, n) in enumerate(zip(lines, count, strict=True)):
        at = arc(line)
        here = np.linspace(0, at[-1], n)
        x, y = np.interp(here, at, line[:, 0]), np.interp(here, at, line[:, 1])
        dx, dy = (np.gradient(ndimage.gaussian_filter1d(v, 1.5, mode="nearest")) for v in (x, y))
        size = np.maximum(np.hypot(dx, dy), 1e-6)
        table[:, k, :n] = x, y, -dy / size, dx / size
        table[:, k, n:] = table[:, k, n - 1 : n]
    x, y, nx, ny = table
    across = np.arange(-HALF_STEPS, HALF_STEPS + 1) * (ACROSS_UM / um_per_px)
    light = read_at(level, x[..., None] + nx[..., None] * across, y[..., None] + ny[..., None] * across)
    soft = ndimage.gaussian_filter1d(light, 1.2, axis=1, mode="nearest", truncate=2.5)
    soft = ndimage.gaussian_filter1d(soft, 0.8, axis=2, mode="nearest", truncate=2.5)
    fall, line_ = np.zeros_like(soft), np.zeros_like(soft)
    fall[..., 2:-2] = soft[..., :-4] - soft[..., 4:]
    line_[..., 2:-2] = 2 * soft[..., 2:-2] - soft[..., :-4] - soft[..., 4:]
    valid = np.arange(x.shape[1]) < count[:, None]
    usual = (
        np.sqrt((line_ * line_ * valid[..., None]).sum(axis=(1, 2)) / (count * light.shape[2])) + _LINE_FLOOR
    )
    per = (1 / usual[:, None, None]).astype(np.float32)
    right, left = (
        np.maximum(line_ + _FALL_SHARE * fall, 0) * per,
        np.maximum(line_ - _FALL_SHARE * fall, 0) * per,
    )
    right /= right + np.float32(_HALF)
    left /= left + np.float32(_HALF)
    return Band(x, y, nx, ny, count, light, right, left, usual)


def middles(band: Band) -> Floats:
    """How far the middle between the walls lies from each station, in µm: the best smooth way through all widths."""
    middles = (np.arange(_MIDDLES) - _MIDDLES // 2) * _APART
    halves = 1 + np.arange(_HALVES) * _APART
    to_right = HALF_STEPS + middles[:, None] + halves
    to_left = HALF_STEPS + middles[:, None] - halves
    gain = np.minimum(
        band.right[:, :, np.clip(to_right, 0, 2 * HALF_STEPS)],
        band.left[:, :, np.clip(to_left, 0, 2 * HALF_STEPS)],
    )
    gain -= (_ASIDE_COST * np.abs(middles)[:, None]).astype(np.float32)
    gain *= band.valid[:, :, None, None]
    gain = np.ascontiguousarray(gain.transpose(1, 0, 2, 3))
    stations, n = gain.shape[:2]
    total = gain[0].copy()
    back = np.zeros(gain.shape, np.int8)
    padded = np.full((n, _MIDDLES + 2, _HALVES + 2), -1e9, np.float32)
    for k in range(1, stations):
        padded[:, 1:-1, 1:-1] = total
        for move, (i, j, cost) in enumerate(_MOVES[1:], start=1):
            moved = padded[:, 1 + i : 1 + i + _MIDDLES, 1 + j : 1 + j + _HALVES] - np.float32(cost)
            back[k][moved > total] = move
            np.maximum(total, moved, out=total)
        total += gain[k]
    i, j = np.divmod(total.reshape(n, -1).argmax(axis=1), _HALVES)
    steps = np.array([move[:2] for move in _MOVES])
    each = np.arange(n)
    way = np.zeros((n, stations))
    for k in range(stations - 1, -1, -1):
        way[:, k] = middles[i]
        move = steps[back[k, each, i, j]]
        i, j = i + move[:, 0], j + move[:, 1]
    return way * ACROSS_UM


def arc(path: Floats) -> Floats:
    """Return how far along a path each of its points lies."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def drawn_out(path: Floats, by: float) -> Floats:
    """Draw a path out straight at both ends."""
    k = min(6, len(path) - 1)
    head, tail = path[0] - path[k], path[-1] - path[-1 - k]
    head, tail = head / max(np.hypot(*head), 1e-6), tail / max(np.hypot(*tail), 1e-6)
    steps = np.linspace(0, by, 6)[1:, None]
    return np.concatenate([(path[0] + steps * head)[::-1], path, path[-1] + steps * tail])
