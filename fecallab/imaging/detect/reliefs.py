"""Relief fields: a third way to draw for the ranker, in which light is bent as much as it is taken away.

Everything has a height as well as a dye. The picture is what the dyes leave, brightened and darkened by the slope of
the heights (a lamp that stands aside) and by their bend (a focus that is a little off: fringes beside each edge).
Bodies are outlines given by a few waves around, debris are heaps of small ovals, plant cells and threads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.detect.sketched_parts import Sketched, flake, stored, thick_bubble

Plane = NDArray[np.floating]
Rng = np.random.Generator
_BROWNS = (
    (0.5, 0.75, 1.25),
    (0.75, 0.85, 1.0),
    (0.6, 0.8, 0.8),
    (0.35, 0.7, 1.3),
    (1.0, 1.0, 1.0),
    (0.7, 0.6, 0.9),
)
_GRAIN_UM = (1.0, 5.0)
"""Before a lot of up to 1.2: under 6 µm in the end, or a grain would be drawn as a small solid body is."""
_MOST_UM, _LEAST_UM, _LEAST_PX = 130.0, 9.0, 16.0


@dataclass
class _Slide:
    """What lies on the slide: a dye of three colours and a height, in pixels of the picture."""

    rng: Rng
    um: float
    dye: Plane
    height: Plane

    def box(self, x: float, y: float, reach_um: float) -> tuple[tuple[slice, slice], Plane, Plane] | None:
        """Part of the picture around a place, with distances from it in µm."""
        rows, columns = self.height.shape
        reach = reach_um / self.um + 2
        top, bottom = max(0, int(y - reach)), min(rows, int(y + reach) + 2)
        left, right = max(0, int(x - reach)), min(columns, int(x + reach) + 2)
        if top >= bottom or left >= right:
            return None
        v, u = np.mgrid[top:bottom, left:right].astype(np.float32)
        return (slice(top, bottom), slice(left, right)), (u - x) * self.um, (v - y) * self.um

    def add(self, cut: tuple[slice, slice], tone: Plane, colour: tuple[float, ...], height: Plane) -> None:
        """Lay something on the slide."""
        self.dye[cut] += tone[..., None].astype(np.float32) * np.array(colour, np.float32)
        self.height[cut] += height.astype(np.float32)

    def colour(self) -> tuple[float, ...]:
        return _BROWNS[int(self.rng.integers(len(_BROWNS)))]


def relief(
    seed: int,
    crowding: float,
    *,
    um_per_px: float = 0.5,
    width_px: int = 760,
    height_px: int = 580,
    things: int = 6,
    look_alikes: int | None = None,
    flakes: int = 0,
    bubbles: int = 0,
    without: int | None = None,
) -> tuple[NDArray[np.uint8], list[Sketched]]:
    """Draw a field.

    Parameters
    ----------
    seed : int
    crowding : float
        Share of the field over which debris lies, loosely: it covers about a third of that.
    um_per_px, width_px, height_px
        Scale and size.
    things : int
        Organisms, as many as fit.
    look_alikes : int, optional
        Bubbles, drops and starch; none to three by lot when left out.
    flakes, bubbles : int
        Angular flakes and thick black bubbles; the rest of the field is the same with them and without.
    without : int, optional
        Number in `truth` of a thing that is left out of the picture, all else being the same: what differs is the thing.

    Returns
    -------
    pixels : ndarray of uint8, shape (height, width, 3)
    truth : list of Sketched
    """
    rng = np.random.default_rng([seed, 97])
    shape = (height_px, width_px)
    slide = _Slide(rng, um_per_px, np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32))
    _heaps(slide, crowding)
    area = width_px * height_px * um_per_px**2 / 120_000
    for _ in range(int(rng.poisson(1 + 5 * crowding * area))):
        (_thread, _plant_cells, _clump)[int(rng.integers(3))](slide)
    lot = np.random.default_rng([seed, 113])
    for _ in range(flakes):
        _flake(slide, lot)
    for _ in range(bubbles):
        _bubble(slide, lot)
    truth: list[Sketched] = []
    more = int(rng.integers(0, 4)) if look_alikes is None else look_alikes
    for counts in [False] * more + [True] * things:
        before = (slide.dye.copy(), slide.height.copy()) if len(truth) == without else None
        _place(slide, truth, counts)
        if before is not None:
            slide.dye, slide.height = before
    for _ in range(int(rng.poisson(0.5 + 2 * crowding * area))):
        (_thread, _clump)[int(rng.integers(2))](slide)
    return _photograph(slide), truth


def _oval(u: Plane, v: Plane, a: float, b: float, turn: float) -> Plane:
    """Height of a smooth oval, 1 in its middle and 0 from its edge on."""
    c, s = math.cos(turn), math.sin(turn)
    return np.asarray(
        np.clip(1 - ((c * u + s * v) / a) ** 2 - ((c * v - s * u) / b) ** 2, 0, None), np.float32
    )


def _heaps(slide: _Slide, share: float) -> None:
    """Small ovals, strewn where a slow random landscape is high, over a share of the field."""
    rng, (rows, columns) = slide.rng, slide.height.shape
    if share <= 0:
        return
    coarse = max(4, int(rng.uniform(12, 45) / slide.um / 3))
    land = ndimage.gaussian_filter(rng.normal(size=(rows // coarse + 2, columns // coarse + 2)), 1.5)
    high = land > np.quantile(land, 1 - share)
    strong = float(rng.uniform(0.15, 0.7))
    sizes = rng.uniform(*_GRAIN_UM, 3)
    count = int(high.mean() * rows * columns * slide.um**2 / float((sizes**2).mean()) / 0.9)
    places = np.argwhere(high)
    for _ in range(min(count, 9000)):
        row, column = (places[int(rng.integers(len(places)))] + rng.random(2)) * coarse
        size = float(sizes[int(rng.integers(3))]) * float(rng.uniform(0.5, 1.2)) / 2
        box = slide.box(float(column), float(row), 1.1 * size)
        if box is not None:
            cut, u, v = box
            dome = _oval(u, v, size, size * float(rng.uniform(0.35, 1)), float(rng.uniform(0, 3.1)))
            flat = np.minimum(2 * dome, 1)
            slide.add(cut, flat * strong * float(rng.uniform(0.1, 1)), slide.colour(), dome * size * 0.4)


def _thread(slide: _Slide) -> None:
    """A bent thread or tube, its walls higher than its middle."""
    rng, (rows, columns) = slide.rng, slide.height.shape
    long, wide = float(rng.uniform(30, 250)), float(np.exp(rng.uniform(math.log(1.5), math.log(16))))
    box = slide.box(float(rng.uniform(0, columns)), float(rng.uniform(0, rows)), 0.55 * long)
    if box is None:
        return
    cut, u, v = box
    turn = float(rng.uniform(0, 6.3))
    u, v = math.cos(turn) * u + math.sin(turn) * v, math.cos(turn) * v - math.sin(turn) * u
    v = v - float(rng.normal(0, 0.1)) * long * np.sin(u / long * float(rng.uniform(2, 6)))
    inside = np.clip((wide / 2 - np.abs(v)) / 0.5, 0, 1) * np.clip((long / 2 - np.abs(u)) / 1.0, 0, 1)
    wall = inside * np.clip(1 - (wide / 2 - np.abs(v)) / max(0.25 * wide, 0.8), 0, 1)
    tone = inside * float(rng.uniform(0, 0.3)) + wall * float(rng.uniform(0.1, 0.6))
    slide.add(cut, tone, slide.colour(), (0.5 * inside + wall) * float(rng.uniform(0, 0.8)))


def _plant_cells(slide: _Slide) -> None:
    """A scrap of tissue: cells with thin common walls."""
    rng, (rows, columns) = slide.rng, slide.height.shape
    size = float(rng.uniform(30, 90))
    box = slide.box(float(rng.uniform(0, columns)), float(rng.uniform(0, rows)), 0.6 * size)
    if box is None:
        return
    cut, u, v = box
    seeds = rng.uniform(-0.7 * size, 0.7 * size, (int(rng.integers(8, 30)), 2))
    away = np.sort(np.hypot(u[..., None] - seeds[:, 0], v[..., None] - seeds[:, 1]), axis=2)
    edge = np.exp(-(((away[..., 1] - away[..., 0]) / 1.6) ** 2))
    ragged = np.hypot(u, v) + float(rng.uniform(2, 8)) * np.sin(4 * np.arctan2(v, u) + rng.uniform(0, 6))
    inside = np.clip((0.5 * size - ragged) / 2.0, 0, 1)
    tone = inside * (edge * float(rng.uniform(0.2, 0.7)) + float(rng.uniform(0, 0.15)))
    slide.add(cut, tone, slide.colour(), inside * edge * float(rng.uniform(0, 1.0)))


def _clump(slide: _Slide) -> None:
    """Some large soft ovals on a heap: a lump without a shell."""
    rng, (rows, columns) = slide.rng, slide.height.shape
    size = float(np.exp(rng.uniform(math.log(8), math.log(60))))
    x, y = float(rng.uniform(0, columns)), float(rng.uniform(0, rows))
    box = slide.box(x, y, size)
    if box is None:
        return
    cut, u, v = box
    heap = np.zeros_like(u)
    for _ in range(int(rng.integers(3, 9))):
        du, dv = rng.normal(0, 0.22 * size, 2)
        a = float(rng.uniform(0.15, 0.4)) * size
        heap = np.maximum(
            heap, _oval(u - du, v - dv, a, a * float(rng.uniform(0.5, 1)), float(rng.uniform(0, 3.1)))
        )
    rough = ndimage.gaussian_filter(rng.normal(size=u.shape), float(rng.uniform(0.8, 3)) / slide.um)
    rough = rough / (rough.std() + 1e-6)
    tone = np.minimum(float(rng.uniform(1, 4)) * heap, 1) * np.clip(1 + 0.4 * rough, 0, 2)
    slide.add(cut, tone * float(rng.uniform(0.1, 0.9)), slide.colour(), heap * float(rng.uniform(0, 3)))


def _anywhere(
    slide: _Slide, rng: Rng, least_um: float, most_um: float, reach: float
) -> tuple[float, tuple[tuple[slice, slice], Plane, Plane] | None]:
    """A size by lot, and the part of the picture around a place by lot, `reach` times the size to each side."""
    rows, columns = slide.height.shape
    size = float(np.exp(rng.uniform(math.log(least_um), math.log(most_um))))
    return size, slide.box(rng.uniform(0, columns), rng.uniform(0, rows), reach * size)


def _flake(slide: _Slide, rng: Rng) -> None:
    size, box = _anywhere(slide, rng, max(8.0, 16 * slide.um), 70, 0.75)
    if box is not None:
        cut, u, v = box
        tone = flake(rng, u, v, size)
        colour = _BROWNS[int(rng.integers(len(_BROWNS)))]
        slide.add(cut, tone, colour, tone * float(rng.uniform(0, 1.5)))


def _bubble(slide: _Slide, rng: Rng) -> None:
    size, box = _anywhere(slide, rng, max(12.0, 24 * slide.um), 120, 0.6)
    if box is not None:
        cut, u, v = box
        beside = np.hypot(u, v) > 0.5 * size
        slide.dye[cut] *= beside[..., None]
        slide.height[cut] *= beside
        tone = thick_bubble(rng, u, v, size)
        slide.add(cut, tone, (1.0, 1.0, 1.0), tone * float(rng.uniform(0, 0.5)))


def _place(slide: _Slide, truth: list[Sketched], counts: bool) -> None:
    rng, (rows, columns) = slide.rng, slide.height.shape
    kind = str(rng.choice(("walled", "shelled", "filled") if counts else ("bubble", "drop", "starch")))
    least = max(_LEAST_UM, _LEAST_PX * slide.um)
    most = max(min(_MOST_UM, 0.4 * min(rows, columns) * slide.um), 1.2 * least)
    long = float(np.exp(rng.uniform(math.log(least), math.log(most))))
    wide = long / float(rng.choice([rng.uniform(1.0, 1.15), rng.uniform(1.1, 2.6)])) if counts else long
    for _ in range(60):
        reach = 0.0 if rng.random() < 0.06 else 0.5 * long / slide.um
        x, y = float(rng.uniform(reach, columns - reach)), float(rng.uniform(reach, rows - reach))
        if all(math.hypot(x - o.x_px, y - o.y_px) * slide.um > 0.55 * (long + o.length_um) for o in truth):
            break
    else:
        return
    turn = float(rng.uniform(0, math.pi))
    box = slide.box(x, y, 0.6 * long + 3)
    if box is None:
        return
    cut, du, dv = box
    u, v = math.cos(turn) * du + math.sin(turn) * dv, math.cos(turn) * dv - math.sin(turn) * du
    around = np.arctan2(v / wide, u / long)
    t = np.linspace(-math.pi, math.pi, 361)
    form = np.ones_like(t)
    if kind in ("shelled", "filled", "walled"):
        form += float(rng.normal(0, 0.035)) * np.cos(t) + float(rng.normal(0, 0.02)) * np.cos(2 * t)
        form += float(rng.normal(0, 0.012)) * np.cos(3 * t + rng.uniform(0, 6))
        form += float(rng.choice([0.0, 0.0, rng.uniform(-0.05, 0.05)])) * np.cos(4 * t)
    along, across = long / 2 * form * np.cos(t), wide / 2 * form * np.sin(t)
    rim = np.interp(around, t, form)
    share = np.hypot(2 * u / long, 2 * v / wide) / rim
    depth = np.asarray((1 - share) * wide / 2, np.float32)
    inside = np.clip(depth / 0.4 + 0.5, 0, 1)
    slide.dye[cut] *= (1 - float(rng.uniform(0.4, 1)) * inside)[..., None]
    slide.height[cut] *= 1 - float(rng.uniform(0.4, 1)) * inside
    tone, colour, height = _built(slide, kind, depth, share, u, v, wide)
    soft = abs(float(rng.normal(0, 0.35))) / slide.um
    slide.add(
        cut, ndimage.gaussian_filter(tone * inside, soft), colour, ndimage.gaussian_filter(height, soft)
    )
    truth.append(
        Sketched(kind, counts, x, y, float(np.ptp(along)), float(np.ptp(across)), math.degrees(turn))
    )


def _built(
    slide: _Slide, kind: str, depth: Plane, share: Plane, u: Plane, v: Plane, wide: float
) -> tuple[Plane, tuple[float, ...], Plane]:
    """Tone, colour and height of a body."""
    rng = slide.rng
    dome = np.sqrt(np.clip(1 - share**2, 0, 1))
    clear = (1.0, 1.0, 1.0)
    if kind in ("bubble", "drop"):
        rim = np.exp(-(np.clip(depth, 0, None) / (wide * float(rng.uniform(0.06, 0.16)))))
        strong = float(rng.uniform(1.2, 3)) if kind == "bubble" else float(rng.uniform(0.2, 0.7))
        return rim * strong, clear, dome * float(rng.uniform(-0.15, 0.3)) * wide
    if kind == "starch":
        off = float(rng.uniform(0, 0.3)) * wide
        rings = 0.5 + 0.5 * np.cos(np.hypot(u - off, v) / (wide * 0.05))
        cross = np.cos(2 * np.arctan2(v, u - off)) ** 8
        return 0.1 * rings + 0.3 * cross * (share < 0.9) + 0.05, clear, dome * 0.2 * wide
    thick = float(np.clip(wide * rng.uniform(0.02, 0.1), 0.5, 3.5 if kind == "shelled" else 1.2))
    shell = np.clip(depth / 0.4 + 0.5, 0, 1) * np.clip((thick - depth) / 0.4 + 0.5, 0, 1)
    if kind == "filled":
        grains = ndimage.gaussian_filter(rng.normal(size=u.shape), float(rng.uniform(0.5, 2)) / slide.um)
        tone = np.clip(depth / float(rng.uniform(0.5, 2)), 0, 1) * float(rng.uniform(0.25, 1.0))
        rough = float(rng.choice([0.0, rng.uniform(0.02, 0.1), rng.uniform(0.1, 0.4)]))  # a third is smooth
        tone *= np.clip(1 + rough * grains / (grains.std() + 1e-6), 0, 2)
        tone += shell * float(rng.choice([0.0, rng.uniform(0, 0.4)]))
        return tone, slide.colour(), dome * float(rng.uniform(0, 0.15)) * wide
    tone = shell * float(rng.uniform(0.1, 0.7)) + float(rng.uniform(0, 0.08))
    height = shell * float(rng.uniform(0.2, 1.6)) + dome * float(rng.uniform(0, 0.08)) * wide
    if rng.random() < 0.5:  # a second wall within
        gap = thick * float(rng.uniform(1.5, 3.5))
        inner = np.exp(-(((depth - gap) / (0.5 * thick)) ** 2))
        tone, height = tone + inner * float(rng.uniform(0, 0.4)), height + inner * float(rng.uniform(0, 0.8))
    for _ in range(int(rng.choice([0, 1, 1, 2, 4, 8]))):  # cells, a larva's loops, granules
        r = float(rng.uniform(0.1, 0.33)) * wide
        far, way = float(rng.uniform(0, 0.5)) * (0.5 * wide - thick - r), float(rng.uniform(0, 6.3))
        ball = _oval(u - far * math.cos(way), v - far * math.sin(way), r, r * float(rng.uniform(0.6, 1)), way)
        tone = tone + np.minimum(3 * ball, 1) * float(rng.uniform(0, 0.3))
        height = height + np.sqrt(ball) * r * float(rng.uniform(0, 0.4))
    if rng.random() < 0.4:
        grains = ndimage.gaussian_filter(rng.normal(size=u.shape), float(rng.uniform(0.5, 1.5)) / slide.um)
        core = np.clip((depth - 1.5 * thick) / 1.0, 0, 1)
        tone = tone + core * float(rng.uniform(0.05, 0.4)) * np.clip(1 + grains / (grains.std() + 1e-6), 0, 2)
    return np.asarray(tone, np.float32), slide.colour() if rng.random() < 0.5 else clear, height


def _photograph(slide: _Slide) -> NDArray[np.uint8]:
    rng, (rows, columns) = slide.rng, slide.height.shape
    height = ndimage.gaussian_filter(slide.height, 0.5 / slide.um)
    slope_y, slope_x = np.gradient(height, slide.um)
    bend = ndimage.laplace(ndimage.gaussian_filter(height, 0.4 / slide.um)) / slide.um**2
    way, aside = float(rng.uniform(0, 6.3)), float(rng.choice([0.0, rng.uniform(0, 0.35)]))
    bent = 1 + aside * (math.cos(way) * slope_x + math.sin(way) * slope_y)
    bent += np.clip(float(rng.normal(0, 0.12)) * bend, -0.6, 0.6)
    light = np.exp(-float(rng.uniform(0.5, 1)) * slide.dye) * np.clip(bent, 0.1, 1.8)[..., None]
    y, x = np.linspace(-1, 1, rows)[:, None], np.linspace(-1, 1, columns)[None, :]
    light = light * (1 - float(rng.uniform(0, 0.2)) * ((x - rng.normal(0, 0.3)) ** 2 + y**2) / 2)[..., None]
    light = np.clip(light, 1e-3, 2) ** float(np.exp(rng.uniform(math.log(0.5), math.log(2))))
    blur = float(rng.choice([rng.uniform(0.3, 1.2), rng.uniform(0.3, 2.6)]))
    light = ndimage.gaussian_filter(light, (blur, blur, 0))
    picture = light * rng.uniform(120, 215, 3)
    noise = float(rng.uniform(0.5, 5))
    picture += noise * rng.normal(size=(rows, columns, 1)) + 0.5 * noise * rng.normal(size=picture.shape)
    return stored(picture, rng)
