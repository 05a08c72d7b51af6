"""A field of view: what lies where, drawn with its truth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.draw import debris
from fecallab.imaging.draw.form import Grid, Map, grid_around
from fecallab.imaging.draw.kinds import EVENLY_ROUND, KINDS, LITTER, ROUND, Kind
from fecallab.imaging.draw.optics import LENSES, Lens, light_log
from fecallab.imaging.draw.render import Camera, Light, RoundView, photograph


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Things of one kind that a field shall show.

    Attributes
    ----------
    key : str
        Key of the organism table, one of `KINDS`.
    count : int
        How many; places are drawn by lot, apart from one another.
    at_px : (float, float), optional
        Column and row of the centre of the first one; the others still by lot.
    length_um, width_um : float, optional
        Size of each; by lot from the kind's range when left out.
    angle_deg : float, optional
        Long axis; by lot when left out.
    sure : bool
        Written into the truth: False for a thing that a careful reader would leave open.
    defocus_um : float, optional
        Blur of its own (standard deviation); by lot when left out.
    """

    key: str
    count: int = 1
    at_px: tuple[float, float] | None = None
    length_um: float | None = None
    width_um: float | None = None
    angle_deg: float | None = None
    sure: bool = True
    defocus_um: float | None = None


@dataclass(frozen=True, kw_only=True)
class FieldSpec:
    """How a field is made.

    Attributes
    ----------
    width_px, height_px, um_per_px
        Size and scale of the picture.
    objective : str
        ``4x``, ``10x``, ``20x`` or ``40x``.
    things : tuple of Wanted
        Organisms and look-alikes with truth.
    litter : mapping
        Debris without truth: word of `LITTER` to number of pieces.
    crowding : float
        Share of the field under translucent grainy debris, 0 to 1.
    germs : int
        Bacteria and finest dust, number of dots.
    depth_um : float
        Spread of focus: standard deviation of the blur that things get by lot.
    as_many_as_fit : bool
        Leave out things that find no free place, instead of refusing.
    light, camera, view
        Lamp, camera, and the circle of a phone at the eyepiece.
    """

    width_px: int = 1024
    height_px: int = 768
    um_per_px: float = 0.65
    objective: str = "10x"
    things: tuple[Wanted, ...] = ()
    litter: Mapping[str, int] = field(default_factory=dict)
    crowding: float = 0.0
    germs: int = 0
    depth_um: float = 0.4
    as_many_as_fit: bool = False
    light: Light = field(default_factory=Light)
    camera: Camera = field(default_factory=Camera)
    view: RoundView | None = None


@dataclass(frozen=True)
class Truth:
    """What was drawn where.

    Attributes
    ----------
    name : str
        Key of the organism table.
    group : str
        Group that the eye can tell; ``artefact`` for look-alikes, which never count.
    x_px, y_px : float
        Centre of its area, column and row, 0 at the centre of the first pixel (larvae and pine pollen: the
        middle of length and width).
    length_um, width_um : float
        Outer long and short axes, without flagella and cilia (larvae: along the body, and its thickness).
    angle_deg : float
        Long axis from +x towards +y (down), 0 ≤ angle < 180.
    sure : bool
        Whether a careful reader would be sure.
    """

    name: str
    group: str
    x_px: float
    y_px: float
    length_um: float
    width_um: float
    angle_deg: float
    sure: bool


def draw_field(spec: FieldSpec, seed: int) -> tuple[NDArray[np.uint8], list[Truth]]:
    """Draw a field.

    Parameters
    ----------
    spec : FieldSpec
        What it shows and how it is lit and taken.
    seed : int
        The same `spec` and `seed` give the same picture.

    Returns
    -------
    pixels : ndarray of uint8, shape (height, width, 3)
    truth : list of Truth
        Every organism and look-alike, in the order of `spec.things`.

    Raises
    ------
    KeyError
        An unknown key, litter word or objective.
    ValueError
        There is no room for so many things.
    """
    lens = LENSES[spec.objective]
    finer = max(1, int(np.ceil(1.15 * spec.um_per_px / (2.0 * lens.softness_um))))
    place_rng, body_rng, litter_rng, ground_rng, camera_rng = (
        np.random.default_rng([seed, k]) for k in range(5)
    )
    canvas = _Canvas(spec, finer, lens)
    truth = _placed(spec, place_rng)
    if spec.crowding > 0 or spec.germs:
        canvas.add_ground(ground_rng)
    _scatter_litter(canvas, spec, litter_rng, share=0.75)
    for wanted_defocus, one, turn in truth:
        blur = spec.depth_um * body_rng.normal() if wanted_defocus is None else wanted_defocus
        kind = KINDS[one.name]
        canvas.add_thing(
            kind, one, turn, blur, np.random.default_rng([seed, 99, int(body_rng.integers(2**31))])
        )
    _scatter_litter(canvas, spec, litter_rng, share=0.25)
    pixels = photograph(canvas.averaged(), spec.light, spec.camera, spec.view, camera_rng)
    return pixels, [one for _, one, _ in truth]


def field_truth(spec: FieldSpec, seed: int) -> list[Truth]:
    """Return the truth of :func:`draw_field` without drawing, which is quick."""
    return [one for _, one, _ in _placed(spec, np.random.default_rng([seed, 0]))]


class _Canvas:
    """The logarithm of the light, drawn `finer` times as fine as the picture."""

    def __init__(self, spec: FieldSpec, finer: int, lens: Lens) -> None:
        self.spec, self.finer, self.lens = spec, finer, lens
        self.pitch_um = spec.um_per_px / finer
        self.log = np.zeros((spec.height_px * finer, spec.width_px * finer, 3), np.float32)

    def fine(self, at_px: float) -> float:
        """Place of a picture column or row on the finer canvas."""
        return (at_px + 0.5) * self.finer - 0.5

    def grid_at(self, x_px: float, y_px: float, turn: float, half_um: float) -> tuple[Grid, int, int] | None:
        shape = (self.log.shape[0], self.log.shape[1])
        return grid_around(self.fine(x_px), self.fine(y_px), turn, half_um, self.pitch_um, shape)

    def add_ground(self, rng: np.random.Generator) -> None:
        zeros = np.zeros(self.log.shape[:2], np.float32)
        grid = Grid(zeros, zeros, self.pitch_um)
        if self.spec.crowding > 0:
            below = debris.ground(grid, rng, 0.8 * self.spec.crowding)
            self.log += light_log(below, self.lens, 4.0 * self.lens.softness_um)
            above = debris.ground(grid, rng, 0.75 * self.spec.crowding)
            self.log += light_log(above, self.lens, 0.3 * self.lens.softness_um)
        if self.spec.germs:
            low_power = self.lens.aperture < 0.3
            dots = debris.speckle(grid, rng, self.spec.germs, 0.9, 0.10 if low_power else 0.22)
            self.log += light_log(dots, self.lens, 0.5 * self.lens.softness_um)

    def add(self, patch: Map, left: int, top: int, displaces: Map | None = None) -> None:
        height, width = self.log.shape[:2]
        rows, columns = patch.shape[:2]
        y0, y1, x0, x1 = max(top, 0), min(top + rows, height), max(left, 0), min(left + columns, width)
        if y0 >= y1 or x0 >= x1:
            return
        cut = (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
        target = self.log[y0:y1, x0:x1]
        if displaces is not None:
            target *= 1 - displaces[cut][..., None]
        target += patch[cut]

    def add_thing(self, kind: Kind, one: Truth, turn: float, blur: float, rng: np.random.Generator) -> None:
        half = max(kind.reach * one.length_um, 0.62 * one.width_um) + 6 * self.pitch_um + 2 * abs(blur)
        placed = self.grid_at(one.x_px, one.y_px, turn, half)
        if placed is None:
            return
        grid, left, top = placed
        body = kind.paint(grid, rng, one.length_um, one.width_um)
        self.add(light_log(body, self.lens, blur), left, top, 0.75 * debris.footprint(body))

    def averaged(self) -> Map:
        """Average the light of the fine pixels, in light and not in its logarithm."""
        if self.finer == 1:
            return self.log
        f, (h, w) = self.finer, (self.spec.height_px, self.spec.width_px)
        light = np.exp(self.log).reshape(h, f, w, f, 3).mean(axis=(1, 3))
        return np.asarray(np.log(np.maximum(light, 1e-4)), np.float32)


def _scatter_litter(canvas: _Canvas, spec: FieldSpec, rng: np.random.Generator, share: float) -> None:
    for word, total in spec.litter.items():
        litter = LITTER[word]
        for _ in range(round(total * share)):
            low, high = litter.length_um
            length = float(np.exp(rng.uniform(np.log(low), np.log(high))))
            width = length * rng.uniform(*litter.aspect)
            x, y = rng.uniform(-0.03, 1.03) * spec.width_px, rng.uniform(-0.03, 1.03) * spec.height_px
            blur = 1.6 * spec.depth_um * rng.normal()
            half = litter.reach * length + 2 * abs(blur) + 3 * canvas.pitch_um
            placed = canvas.grid_at(x, y, rng.uniform(0, 360), half)
            if placed is None:
                continue
            grid, left, top = placed
            body = litter.paint(grid, rng, length, max(width, 1.0))
            canvas.add(light_log(body, canvas.lens, blur), left, top)


def _placed(spec: FieldSpec, rng: np.random.Generator) -> list[tuple[float | None, Truth, float]]:
    """Choose sizes and places: inside the picture or the circle, apart from one another."""
    taken: list[tuple[float, float, float]] = []
    result = []
    for wanted in spec.things:
        kind = KINDS[wanted.key]
        for k in range(wanted.count):
            length, width = _size(kind, wanted, rng)
            half = 0.53 * max(length, width) / spec.um_per_px
            place = wanted.at_px if k == 0 and wanted.at_px else _free_place(spec, half, taken, rng)
            if place is None and spec.as_many_as_fit:
                continue
            if place is None:
                picture = f"{spec.width_px} × {spec.height_px} px"
                raise ValueError(f"there is no room left for another {wanted.key} in {picture}")
            x, y = place
            turn = rng.uniform(0, 360) if wanted.angle_deg is None else wanted.angle_deg
            taken.append((x, y, half))
            truth = Truth(kind.key, kind.group, x, y, length, width, float(turn % 180), wanted.sure)
            result.append((wanted.defocus_um, truth, float(turn)))
    return result


def _size(kind: Kind, wanted: Wanted, rng: np.random.Generator) -> tuple[float, float]:
    low, high = kind.length_um
    length = wanted.length_um if wanted.length_um is not None else float(rng.uniform(low, high))
    if wanted.width_um is not None:
        return length, wanted.width_um
    if kind.key in EVENLY_ROUND:
        return length, length
    if kind.key in ROUND:
        return length, float(max(length * rng.uniform(0.95, 1.0), min(kind.width_um[0], length)))
    share = (length - low) / max(high - low, 1e-9)
    middle = kind.width_um[0] + share * (kind.width_um[1] - kind.width_um[0])
    width = np.clip(middle * rng.uniform(0.9, 1.1), *kind.width_um)
    return length, float(min(width, 0.97 * length))


def _free_place(
    spec: FieldSpec, half: float, taken: list[tuple[float, float, float]], rng: np.random.Generator
) -> tuple[float, float] | None:
    roomy = 2 * half + 7 < min(spec.width_px, spec.height_px)
    for _ in range(4000 if roomy else 0):
        x, y = (
            rng.uniform(half + 3, spec.width_px - half - 4),
            rng.uniform(half + 3, spec.height_px - half - 4),
        )
        view = spec.view
        if view is not None and np.hypot(x - view.x_px, y - view.y_px) > 0.96 * view.radius_px - half:
            continue
        if all(np.hypot(x - a, y - b) > half + r + 4 for a, b, r in taken):
            return float(x), float(y)
    return None
