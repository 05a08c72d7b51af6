"""Form: where a drawn body is, how deep a point lies in it, and the fine grain of real material.

Lengths are micrometres. ``u`` runs along the long axis of a body, ``v`` along its short axis.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Map: TypeAlias = NDArray[np.float32]
Values: TypeAlias = NDArray[np.floating[Any]]
Colour: TypeAlias = tuple[float, float, float]

_TURN = np.linspace(0.0, 2 * np.pi, 721)


@dataclass(frozen=True)
class Grid:
    """The pixels around one body, in the body's own axes.

    Attributes
    ----------
    u, v : ndarray, shape (rows, columns)
        Place along the long and the short axis, 0 at the body's centre.
    pitch_um : float
        Distance of two pixels.
    """

    u: Map
    v: Map
    pitch_um: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.u.shape[0], self.u.shape[1]

    def moved(self, u_um: float, v_um: float, turn_deg: float = 0.0) -> Grid:
        """Return the same pixels seen from a part of the body at (`u_um`, `v_um`), turned by `turn_deg`."""
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        du, dv = self.u - u_um, self.v - v_um
        return Grid((c * du + s * dv).astype(np.float32), (c * dv - s * du).astype(np.float32), self.pitch_um)


def grid_around(
    x_px: float, y_px: float, angle_deg: float, half_um: float, pitch_um: float, within: tuple[int, int]
) -> tuple[Grid, int, int] | None:
    """Return the grid of a square around a place, and the column and row of its first pixel.

    The square is cut to the canvas of `within` (rows, columns) and a few pixels around; None when nothing of
    it lies there.
    """
    reach, rim = int(np.ceil(half_um / pitch_um)), 8
    left, top = max(round(x_px) - reach, -rim), max(round(y_px) - reach, -rim)
    right, bottom = min(round(x_px) + reach, within[1] + rim), min(round(y_px) + reach, within[0] + rim)
    if right - left < 4 or bottom - top < 4:
        return None
    dx = (np.arange(left, right + 1) - x_px)[None, :] * pitch_um
    dy = (np.arange(top, bottom + 1) - y_px)[:, None] * pitch_um
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    u, v = (c * dx + s * dy).astype(np.float32), (c * dy - s * dx).astype(np.float32)
    return Grid(u, v, pitch_um), left, top


@dataclass
class Body:
    """What a body does to light: absorbance per colour and optical thickness (thickness × index step, µm)."""

    grid: Grid
    absorbance: Map = field(init=False)
    phase_um: Map = field(init=False)

    def __post_init__(self) -> None:
        self.absorbance = np.zeros((*self.grid.shape, 3), np.float32)
        self.phase_um = np.zeros(self.grid.shape, np.float32)

    def colour(self, amount: Values, colour: Colour) -> None:
        """Add absorbing material."""
        self.absorbance += amount[..., None] * np.asarray(colour, np.float32)

    def refract(self, thickness_um: Values, index_step: float) -> None:
        """Add refracting material."""
        self.phase_um += thickness_um * np.float32(index_step)


class Outline:
    """A closed outline that every ray from its centre meets once.

    Parameters
    ----------
    radius : ndarray, shape (721,)
        Radius at 0 … 360° from +u towards +v, first equal to last.
    """

    def __init__(self, radius: NDArray[np.float64]) -> None:
        self.radius = radius

    @classmethod
    def of(cls, u: NDArray[np.float64], v: NDArray[np.float64]) -> Outline:
        """Make an outline from points in order, around their area's centre."""
        cross = u * np.roll(v, -1) - np.roll(u, -1) * v
        area = cross.sum() / 2
        cu = ((u + np.roll(u, -1)) * cross).sum() / (6 * area)
        cv = ((v + np.roll(v, -1)) * cross).sum() / (6 * area)
        angle = np.arctan2(v - cv, u - cu) % (2 * np.pi)
        order = np.argsort(angle)
        radius = np.interp(_TURN, angle[order], np.hypot(u - cu, v - cv)[order], period=2 * np.pi)
        return cls(radius)

    @property
    def points(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Points of the outline (u, v)."""
        return self.radius * np.cos(_TURN), self.radius * np.sin(_TURN)

    def fitted(self, length_um: float, width_um: float) -> Outline:
        """Stretch to an outer length and width; the centre of its area stays the centre."""
        u, v = self.points
        return Outline.of(u[:-1] * length_um / np.ptp(u), v[:-1] * width_um / np.ptp(v))

    def roughened(self, amount: float, coarse: int, rng: np.random.Generator) -> Outline:
        """Add a random ripple with about `coarse` waves around; `amount` is a share of the radius."""
        waves = np.arange(2, coarse + 1)
        strength = rng.normal(size=waves.size) * 1.3 / waves**0.75
        phase = rng.uniform(0, 2 * np.pi, waves.size)
        ripple = (strength[:, None] * np.cos(waves[:, None] * _TURN + phase[:, None])).sum(axis=0)
        return Outline(self.radius * (1 + amount * ripple).clip(0.3))

    def depth(self, grid: Grid) -> Map:
        """Return the distance to the outline in µm, positive inside."""
        theta = np.arctan2(grid.v, grid.u) % (2 * np.pi)
        radius = np.interp(theta, _TURN, self.radius)
        slope = np.interp(theta, _TURN, np.gradient(self.radius, _TURN)) / radius
        near = (radius - np.hypot(grid.u, grid.v)) / np.sqrt(1 + slope**2)
        far = _deepened(near, grid.pitch_um)
        return np.where(np.abs(near) < 1.5 * grid.pitch_um, near, far).astype(np.float32)


def _deepened(near: NDArray[np.float64], pitch_um: float) -> NDArray[np.float64]:
    """True distances far from the zero line of a function that is a distance near it."""
    inside = near > 0
    if not inside.any() or inside.all():
        return near
    result = np.empty_like(near)
    for part, sign in ((inside, 1.0), (~inside, -1.0)):
        distance, nearest = ndimage.distance_transform_edt(part, return_indices=True)
        beyond = sign * near[nearest[0], nearest[1]]  # how far the nearest pixel lies beyond the line
        result[part] = (sign * (distance * pitch_um + beyond))[part]
    return result


def superellipse(
    length: float, width: float, power: float = 2.0, taper: float = 0.0, bend: float = 0.0
) -> Outline:
    """Make an oval: `power` over 2 is blunter, `taper` narrows the +u end, `bend` flattens the -v side."""
    t = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    c, s = np.cos(t), np.sin(t)
    along = np.sign(c) * np.abs(c) ** (2 / power)
    across = np.sign(s) * np.abs(s) ** (2 / power)
    u = along
    v = across * (1 - taper * along) + bend * (1 - along**2)
    return Outline.of(u, v * width / length).fitted(length, width)


def chord(depth_um: Values, radius_um: float) -> Map:
    """Return the thickness of a round body of a radius, `depth_um` inside its outline."""
    inside = np.clip(depth_um, 0, radius_um)
    return (2 * np.sqrt(inside * (2 * radius_um - inside))).astype(np.float32)


def shell(depth_um: Values, radius_um: float, wall_um: float) -> Map:
    """Return the thickness of a hollow wall."""
    return chord(depth_um, radius_um) - chord(depth_um - np.float32(wall_um), radius_um - wall_um)


def step(values: Values, start: float, end: float) -> Map:
    """Go smoothly from 0 at `start` to 1 at `end` (which may lie below)."""
    t = np.clip((values - start) / (end - start), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)


def bump(values: Values, centre: float, half_width: float) -> Map:
    """Return a smooth line, 1 at `centre`."""
    return np.asarray(np.exp(-(((values - centre) / half_width) ** 2)), np.float32)


def grain(shape: tuple[int, int], size_px: float, rng: np.random.Generator) -> Map:
    """Return random lumps of about `size_px`, with mean 0 and standard deviation 1."""
    if size_px > 6:  # coarse lumps are drawn coarse and stretched
        shrink = size_px / 3.0
        small = (int(np.ceil(shape[0] / shrink)) + 3, int(np.ceil(shape[1] / shrink)) + 3)
        coarse = grain(small, 3.0, rng)
        tall = _stretched(coarse, shape[0], shrink)
        return np.ascontiguousarray(_stretched(np.ascontiguousarray(tall.T), shape[1], shrink).T)
    noise = rng.standard_normal(shape, dtype=np.float32)
    if size_px < 0.3:
        return noise
    soft = ndimage.gaussian_filter(noise, size_px / 2.0, mode="wrap")
    return (soft / max(float(soft.std()), 1e-6)).astype(np.float32)


def _stretched(coarse: Map, rows: int, shrink: float) -> Map:
    """Stretch the rows of a map by a cubic spline, and bring back the contrast that it smooths away."""
    place = 1 + np.arange(rows) / shrink
    first = np.minimum(place.astype(int), coarse.shape[0] - 3)
    f = (place - first).astype(np.float32)[:, None]
    weights = (
        (1 - f) ** 3 / 6,
        (3 * f**3 - 6 * f**2 + 4) / 6,
        (-3 * f**3 + 3 * f**2 + 3 * f + 1) / 6,
        f**3 / 6,
    )
    fine = np.zeros((rows, coarse.shape[1]), np.float32)
    for k, weight in enumerate(weights):
        fine += weight * coarse[first - 1 + k]
    return fine * np.float32(1.12)


def cloud(shape: tuple[int, int], coarsest_px: float, finest_px: float, rng: np.random.Generator) -> Map:
    """Return lumps of many sizes, coarse ones strongest; mean about 0, standard deviation about 1."""
    total = np.zeros(shape, np.float32)
    size, strength, power = coarsest_px, 1.0, 0.0
    while size >= finest_px:
        total += np.float32(strength) * grain(shape, size, rng)
        power += strength**2
        size, strength = size / 2, strength * 0.62
    return total / np.float32(np.sqrt(max(power, 1e-6)))


def tube_depth(
    grid: Grid, path_u: NDArray[np.float64], path_v: NDArray[np.float64], radius: NDArray[np.float64]
) -> tuple[Map, Map]:
    """Return how deep points lie in a bent tube, and how far along it (0 to 1).

    Parameters
    ----------
    grid : Grid
    path_u, path_v : ndarray, shape (n,)
        Middle line.
    radius : ndarray, shape (n,)
        Half thickness at each point of the middle line.
    """
    deepest = np.full(grid.shape, -1e3, np.float32)
    along = np.zeros(grid.shape, np.float32)
    columns, rows = _pixels_of(grid, path_u, path_v)
    last = len(path_u) - 1
    for k in range(last):
        reach = max(radius[k], radius[k + 1]) / grid.pitch_um + 6
        x0, x1 = sorted((columns[k], columns[k + 1]))
        y0, y1 = sorted((rows[k], rows[k + 1]))
        cut = (
            slice(max(int(y0 - reach), 0), max(int(y1 + reach) + 2, 0)),
            slice(max(int(x0 - reach), 0), max(int(x1 + reach) + 2, 0)),
        )
        pu, pv = grid.u[cut] - path_u[k], grid.v[cut] - path_v[k]
        if pu.size == 0:
            continue
        du, dv = path_u[k + 1] - path_u[k], path_v[k + 1] - path_v[k]
        t = np.clip((pu * du + pv * dv) / max(du * du + dv * dv, 1e-12), 0, 1)
        here = radius[k] + t * (radius[k + 1] - radius[k]) - np.hypot(pu - t * du, pv - t * dv)
        better = here > deepest[cut]
        deepest[cut] = np.where(better, here, deepest[cut])
        along[cut] = np.where(better, (k + t) / last, along[cut])
    return deepest, along


def _pixels_of(
    grid: Grid, u: NDArray[np.float64], v: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Columns and rows of places on a grid (which is a turned and shifted raster)."""
    rows, columns = grid.shape
    right = np.array([grid.u[0, -1] - grid.u[0, 0], grid.v[0, -1] - grid.v[0, 0]], float) / (columns - 1)
    down = np.array([grid.u[-1, 0] - grid.u[0, 0], grid.v[-1, 0] - grid.v[0, 0]], float) / (rows - 1)
    du, dv = u - float(grid.u[0, 0]), v - float(grid.v[0, 0])
    area = right[0] * down[1] - right[1] * down[0]
    return (du * down[1] - dv * down[0]) / area, (dv * right[0] - du * right[1]) / area
