"""Trace closed outlines: from many rough ellipses at once to ellipses that lie on the outer edge.

Light is read along lines across each ellipse; the closed path along which absorption falls outwards most, without
jumps, is found by dynamic programming over two laps, and an ellipse is fitted to it with strays damped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import Map

Floats: TypeAlias = NDArray[np.float64]

NORMALS = 64
STEPS = 33
"""Places along each line across the outline."""
_LEAST_REACH_PX = 2.5
ROUNDS = (0.40, 0.30, 0.25, 0.20, 0.15)
"""How far lines reach to each side, in short half axes, round by round."""
_SPARSE_ROUNDS, _SPARSE_STEPS = 2, 25
"""The first rounds, which only come near, use half of the lines and fewer places."""
_JUMP, _JUMP_COST = 2, (0.0, 0.12, 0.4)
_STRAY, _SOFT = 2.5, np.float32(4.0)


@dataclass(frozen=True)
class Ellipses:
    """Many ellipses, in pixels of one level.

    Attributes
    ----------
    x, y, half_long, half_short, angle : ndarray, shape (n,)
        Column, row, half axes, direction of the first axis in radians.
    """

    x: Floats
    y: Floats
    half_long: Floats
    half_short: Floats
    angle: Floats

    def __len__(self) -> int:
        return len(self.x)

    def of(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> Ellipses:
        """Return some of them."""
        return Ellipses(*(column[which] for column in self.columns()))

    def columns(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Return the five numbers of each."""
        return self.x, self.y, self.half_long, self.half_short, self.angle

    def scaled(self, factor: float) -> Ellipses:
        """Return them in pixels that are `factor` times as small."""
        return Ellipses(
            (self.x + 0.5) * factor - 0.5,
            (self.y + 0.5) * factor - 0.5,
            self.half_long * factor,
            self.half_short * factor,
            self.angle,
        )

    def ordered(self) -> Ellipses:
        """Return them with the longer axis first and angles from 0 to under π."""
        swap = self.half_short > self.half_long
        long, short = np.maximum(self.half_long, self.half_short), np.minimum(self.half_long, self.half_short)
        return replace(self, half_long=long, half_short=short, angle=(self.angle + swap * np.pi / 2) % np.pi)


@dataclass(frozen=True)
class Traces:
    """Outlines that were traced.

    Attributes
    ----------
    ellipses : Ellipses
        Fitted to them.
    offset : ndarray, shape (n, NORMALS)
        Distance of the traced outline from the ellipse, outwards, in pixels.
    strength : ndarray, shape (n, NORMALS)
        How strong the edge is there, in units of what is usual along those lines.
    scatter : ndarray, shape (n,)
        Standard deviation of the outline about the ellipse, strays damped, in pixels.
    margin : ndarray, shape (n,)
        By how much the path is better than the mean of all paths.
    """

    ellipses: Ellipses
    offset: Floats
    strength: Floats
    scatter: Floats
    margin: Floats


def ellipses_joined(parts: Sequence[Ellipses]) -> Ellipses:
    """Return several sets of ellipses as one."""
    columns = zip(*(part.columns() for part in parts), strict=True)
    return Ellipses(*(np.concatenate(column) for column in columns))


def around(count: int = NORMALS) -> Floats:
    """Return `count` angles evenly around."""
    return np.asarray(np.arange(count) * (2 * np.pi / count), np.float64)


def normals(ellipses: Ellipses, t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return points on ellipses and outward normals there: x, y, nx, ny, each of shape (n, t)."""
    c, s = np.cos(ellipses.angle)[:, None], np.sin(ellipses.angle)[:, None]
    a, b = ellipses.half_long[:, None], ellipses.half_short[:, None]
    u, v = a * np.cos(t), b * np.sin(t)
    nu, nv = b * np.cos(t), a * np.sin(t)
    size = np.hypot(nu, nv)
    nu, nv = nu / size, nv / size
    return (
        ellipses.x[:, None] + c * u - s * v,
        ellipses.y[:, None] + s * u + c * v,
        c * nu - s * nv,
        s * nu + c * nv,
    )


def profiles(absorbed: Map, ellipses: Ellipses, offsets: Floats, lines: int = NORMALS) -> Map:
    """Read a level along lines across ellipses.

    Parameters
    ----------
    absorbed : ndarray, shape (rows, columns)
    ellipses : Ellipses
    offsets : ndarray, shape (n, steps)
        Distances along the outward normal in pixels.
    lines : int, optional
        How many lines around.

    Returns
    -------
    ndarray of float32, shape (n, lines, steps)
    """
    x, y, nx, ny = (part.astype(np.float32) for part in normals(ellipses, around(lines)))
    out = offsets.astype(np.float32)[:, None, :]
    return read_at(absorbed, x[..., None] + nx[..., None] * out, y[..., None] + ny[..., None] * out)


def read_at(absorbed: Map, x: NDArray[np.floating], y: NDArray[np.floating]) -> Map:
    """Return values between pixels; beyond the border the border goes on."""
    rows, columns = absorbed.shape
    x, y = np.clip(x, 0, columns - 1.001).astype(np.float32), np.clip(y, 0, rows - 1.001).astype(np.float32)
    if columns < 2 or rows < 2:
        row, column = np.minimum(y.astype(int), rows - 1), np.minimum(x.astype(int), columns - 1)
        return np.asarray(absorbed[row, column], np.float32)
    left, top = x.astype(np.int32), y.astype(np.int32)
    x -= left.astype(np.float32)  # what is left over, in single precision: whole numbers would make it double
    y -= top.astype(np.float32)
    flat, at = absorbed.reshape(-1), top * np.int32(columns) + left
    a = flat[at]
    a += x * (flat[at + 1] - a)
    at += columns
    b = flat[at]
    b += x * (flat[at + 1] - b)
    b -= a
    b *= y
    b += a
    return np.asarray(b, np.float32)


def trace(
    absorbed: Map,
    ellipses: Ellipses,
    rounds: tuple[float, ...] = ROUNDS,
    lines: int = NORMALS,
    steps: int = STEPS,
) -> Traces:
    """Move rough ellipses onto the outer edge of what they surround.

    Parameters
    ----------
    absorbed : ndarray of float32
        One level.
    ellipses : Ellipses
        In its pixels.
    rounds : tuple of float, optional
        How far lines reach to each side in short half axes, round by round.
    lines, steps : int, optional
        Lines around, and places along each.

    Returns
    -------
    Traces
        In the same order.
    """
    for k, share in enumerate(rounds):
        sparse = k < _SPARSE_ROUNDS and len(rounds) > _SPARSE_ROUNDS
        offset, strength, margin = _found(
            absorbed,
            ellipses,
            share,
            lines // 2 if sparse else lines,
            min(_SPARSE_STEPS, steps) if sparse else steps,
        )
        ellipses, rest, scatter = fitted(ellipses, offset, np.clip(strength, 0.05, 1.5))
    return Traces(ellipses, rest, strength.astype(float), scatter, margin)


def trace_close(absorbed: Map, ellipses: Ellipses, share: float) -> Traces:
    """Trace the edge close to ellipses that are thought to be right and stay as they are.

    Parameters
    ----------
    absorbed : ndarray of float32
        One level.
    ellipses : Ellipses
        In its pixels.
    share : float
        How far lines reach to each side, in short half axes.
    """
    offset, strength, margin = _found(absorbed, ellipses, share, NORMALS, STEPS)
    return Traces(ellipses, offset, strength.astype(float), _scatter(offset), margin)


def _found(
    absorbed: Map, ellipses: Ellipses, share: float, lines: int, steps: int
) -> tuple[Floats, Map, Floats]:
    """Where the best closed path runs (pixels outwards), how strong the edge is there, and the margin of the path."""
    at = np.linspace(-1, 1, steps)
    reach = np.maximum(share * ellipses.half_short, _LEAST_REACH_PX)
    fall = _fall(profiles(absorbed, ellipses, reach[:, None] * at, lines))
    path, margin = _closed_path(fall)
    rows, columns = np.arange(path.shape[0])[:, None], np.arange(path.shape[1])[None, :]
    offset = reach[:, None] * (at[path] + _finer(fall, path, rows, columns) * (at[1] - at[0]))
    return offset, fall[rows, columns, path], margin


def _fall(light: Map) -> Map:
    """How fast absorption falls outwards beside a dark line, in units of its usual change along these lines."""
    fall = np.zeros_like(light)
    fall[..., 2:-2] = (light[..., :-4] - light[..., 4:]) + 0.5 * (light[..., 1:-3] - light[..., 3:-1])
    # a dark line just inside: thin walls are lines before they are edges
    fall[..., 6:-2] += 2 * light[..., 4:-4] - light[..., :-8] - light[..., 8:]
    beside = np.empty_like(fall)
    np.add(fall[:, :-2], fall[:, 2:], out=beside[:, 1:-1])
    np.add(fall[:, -1], fall[:, 1], out=beside[:, 0])
    np.add(fall[:, -2], fall[:, 0], out=beside[:, -1])
    fall *= np.float32(0.5)
    beside *= np.float32(0.25)
    fall += beside
    usual = np.sqrt((fall * fall).mean(axis=(1, 2), keepdims=True)) + np.float32(1e-4)
    return np.asarray(fall / usual, np.float32)


def _closed_path(fall: Map) -> tuple[NDArray[np.intp], Floats]:
    """Best path that ends where it began: a lap and a half, of which the middle lap is kept."""
    n, lines, steps = fall.shape
    soft = np.maximum(fall, -0.5)
    soft /= 1 + np.maximum(soft, 0) / _SOFT  # single strong edges do not buy a detour
    gain = np.ascontiguousarray(soft.transpose(1, 2, 0))
    padded = np.full((steps + 2 * _JUMP, n), -1e9, np.float32)
    total = gain[0].copy()
    half = lines // 2
    laps = lines + half
    back = np.zeros((laps, steps, n), np.int8)
    better = np.empty((steps, n), bool)
    for k in range(1, laps):
        padded[_JUMP:-_JUMP] = total
        jump = back[k]
        for d in (-2, -1, 1, 2):
            moved = padded[_JUMP + d : _JUMP + d + steps] - _JUMP_COST[abs(d)]
            np.greater(moved, total, out=better)
            jump[better] = d
            np.maximum(total, moved, out=total)
        total += gain[k % lines]
    here = total.argmax(axis=0)
    path = np.zeros((n, laps), np.intp)
    each = np.arange(n)
    for k in range(laps - 1, -1, -1):
        path[:, k] = here
        here = here + back[k, here, each]
    early = half // 2
    middle = np.concatenate([path[:, lines : lines + early], path[:, early:lines]], axis=1)
    margin = total.max(axis=0) / laps - gain.mean(axis=(0, 1))
    return middle, margin.astype(float)


def _finer(fall: Map, path: NDArray[np.intp], rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Floats:
    """Place of the peak between steps, from -0.5 to 0.5."""
    k = np.clip(path, 1, fall.shape[2] - 2)
    before, here, after = (fall[rows, columns, k + d] for d in (-1, 0, 1))
    bend = before - 2 * here + after
    shift = np.where(bend < -1e-6, 0.5 * (before - after) / np.where(bend < -1e-6, bend, 1), 0.0)
    return np.clip(shift, -0.5, 0.5)


def fitted(ellipses: Ellipses, offset: Floats, weight: Floats) -> tuple[Ellipses, Floats, Floats]:
    """Change ellipses so that they follow offsets; strays are damped in a second pass.

    Parameters
    ----------
    ellipses : Ellipses
    offset, weight : ndarray, shape (n, lines)
        Distance of the outline from each ellipse, outwards, in pixels, and how much it counts.

    Returns
    -------
    ellipses, rest, scatter
        Changed ones, what is left of the offsets, and its standard deviation, in pixels.
    """
    lines = offset.shape[1]
    t = around(lines)
    x, y, nx, ny = normals(ellipses, t)
    c, s = np.cos(ellipses.angle)[:, None], np.sin(ellipses.angle)[:, None]
    rx, ry = x - ellipses.x[:, None], y - ellipses.y[:, None]
    slope = np.stack(
        [nx, ny, (nx * c + ny * s) * np.cos(t), (ny * c - nx * s) * np.sin(t), ny * rx - nx * ry], axis=-1
    )
    # a nearly round ellipse has no direction: its turn is held by a light spring
    size = ellipses.half_short
    spring = np.zeros((len(ellipses), 5, 5))
    spring[:, 4, 4] = 1e-3 * lines * size**2
    spring[:, range(4), range(4)] = 1e-6 * lines
    w = weight
    for _ in range(3):
        weighted = slope * w[..., None]
        change = np.linalg.solve(
            weighted.transpose(0, 2, 1) @ slope + spring, weighted.transpose(0, 2, 1) @ offset[..., None]
        )
        rest = offset - (slope @ change)[..., 0]
        scatter = _scatter(rest)
        w = weight / (1 + (rest / (_STRAY * scatter[:, None])) ** 2) ** 2
    limit = 0.5 * size
    change = np.clip(change[..., 0], -limit[:, None], limit[:, None])
    moved = Ellipses(
        ellipses.x + change[:, 0],
        ellipses.y + change[:, 1],
        np.maximum(ellipses.half_long + change[:, 2], 1.5),
        np.maximum(ellipses.half_short + change[:, 3], 1.5),
        ellipses.angle + np.clip(change[:, 4], -0.5, 0.5),
    )
    return moved.ordered(), rest, scatter


def _scatter(rest: Floats) -> Floats:
    """Standard deviation of each row, strays damped."""
    return np.asarray(1.4826 * np.median(np.abs(rest), axis=1) + 0.05)
