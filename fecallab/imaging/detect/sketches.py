"""Sketched fields: drawings by other rules than the drawn micrographs, to train the ranker on many styles.

Bodies are painted by their distance from an outline, walls as lines or bands, debris as thresholded lumps, stamped
grains, ragged clumps, tubes, polygons and rings; lamp, camera and colours are drawn by lot over wide ranges.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.detect.sketched_parts import Sketched, contents, flake, pollen, stored, thick_bubble

Plane = NDArray[np.float32]
Rng = np.random.Generator


_DYES = ((1.0, 1.0, 1.0), (0.4, 0.7, 1.0), (0.3, 0.8, 1.4), (0.9, 0.5, 0.9), (0.5, 0.5, 1.0), (1.0, 0.7, 0.3))


def sketch(
    seed: int,
    crowding: float,
    *,
    um_per_px: float = 0.5,
    width_px: int = 800,
    height_px: int = 600,
    things: int = 6,
    harsh: bool = True,
    look_alikes: int | None = None,
    flakes: int = 0,
    bubbles: int = 0,
) -> tuple[NDArray[np.uint8], list[Sketched]]:
    """Sketch a field.

    Parameters
    ----------
    seed : int
    crowding : float
        Share of the field under granular debris.
    um_per_px, width_px, height_px
        Scale and size.
    things : int
        Organisms, as many as fit.
    harsh : bool
        Blur to 3 pixels, half contrast and gamma 0.5 to 2 by lot too.
    look_alikes : int, optional
        Bubbles, drops and pollen, as many as fit; none to three by lot when left out.
    flakes, bubbles : int
        Angular flakes and thick black bubbles; the rest of the field is the same with them and without.

    Returns
    -------
    pixels : ndarray of uint8, shape (height, width, 3)
    truth : list of Sketched
    """
    rng = np.random.default_rng([seed, 71])
    field = _Field(height_px, width_px, um_per_px, rng)
    if harsh:
        field.blur_px = float(rng.choice([rng.uniform(0.3, 1.2), rng.uniform(0.3, 3.0)]))
    field.debris(crowding)
    area = width_px * height_px * um_per_px**2 / 120_000
    for _ in range(int(rng.poisson(3 + 14 * crowding * area))):
        field.litter()
    lot = np.random.default_rng([seed, 113])
    for _ in range(flakes):
        field.flake(lot)
    for _ in range(bubbles):
        field.bubble(lot)
    truth: list[Sketched] = []
    some = int(rng.integers(0, 4))
    for _ in range(some if look_alikes is None else look_alikes):
        field.place(truth, counts=False)
    for _ in range(things):
        field.place(truth, counts=True)
    for _ in range(int(rng.poisson(1 + 3 * crowding * area))):
        field.litter()
    return field.photograph(harsh), truth


class _Field:
    def __init__(self, rows: int, columns: int, um_per_px: float, rng: Rng) -> None:
        self.rows, self.columns, self.um, self.rng = rows, columns, um_per_px, rng
        self.absorbed = np.zeros((rows, columns, 3), np.float32)
        self.blur_px = 0.6
        self.circle_px = float(rng.uniform(0.45, 0.58)) * rows if rng.random() < 0.15 else None
        self.focus_um = float(rng.uniform(0.25, 0.6)) * max(1.0, um_per_px / 0.4)

    # -- ground and litter ------------------------------------------------------------------------------

    def lumps(self, size_um: float) -> Plane:
        """Random lumps of about a size, mean 0 and spread 1."""
        shrink = max(1, int(size_um / self.um / 3))
        small = self.rng.standard_normal(
            (self.rows // shrink + 4, self.columns // shrink + 4), dtype=np.float32
        )
        soft = ndimage.gaussian_filter(small, max(size_um / self.um / shrink / 2, 0.4))
        if shrink > 1:
            soft = ndimage.zoom(soft, shrink, order=1)
        soft = soft[: self.rows, : self.columns]
        return np.asarray(soft / (soft.std() + 1e-6), np.float32)

    def debris(self, share: float) -> None:
        rng = self.rng
        if share <= 0:
            return
        shape = self.lumps(rng.uniform(25, 110)) + 0.6 * self.lumps(rng.uniform(8, 25))
        cover = (shape > np.quantile(shape, 1 - share)).astype(np.float32)
        cover = ndimage.gaussian_filter(cover, rng.uniform(0.3, 3.0) / self.um)
        tone = np.zeros_like(cover)
        style = rng.integers(3)
        if style in (0, 2):  # lumpy translucent matter
            for size in (9.0, 4.0, 2.0, 1.1):
                tone += np.float32(rng.uniform(0.2, 1.0)) * self.lumps(size)
            tone = np.float32(0.35) * np.maximum(tone + rng.uniform(0.2, 1.0), 0)
        if style in (1, 2):  # stamped grains
            for size in rng.uniform(0.8, 5.5, 5):
                tone += self.grains(size, cover, float(rng.uniform(0.2, 0.8)))
        dye = np.array(_DYES[int(rng.integers(len(_DYES)))], np.float32)
        amount = cover * tone * np.float32(rng.uniform(0.15, 0.6))
        mixed = 0.5 + 0.25 * self.lumps(40.0)[..., None] * (dye - dye.mean())
        self.absorbed += amount[..., None] * np.clip(dye * 0.6 + mixed, 0.05, 2)

    def grains(self, size_um: float, cover: Plane, dark: float) -> Plane:
        count = int(cover.sum() * self.um**2 / (6 * size_um**2))
        dots = np.zeros_like(cover)
        rows, columns = (
            self.rng.integers(0, self.rows, 3 * count),
            self.rng.integers(0, self.columns, 3 * count),
        )
        chosen = cover[rows, columns] > self.rng.random(3 * count)
        dots[rows[chosen], columns[chosen]] = self.rng.uniform(0.3, 1.0, int(chosen.sum()))
        radius = max(size_um / 2 / self.um, 0.7)
        reach = int(np.ceil(radius)) + 1
        y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
        away = np.hypot(x, y)
        kernel = np.clip(radius + 0.5 - away, 0, 1)
        if self.rng.random() < 0.5:  # a rim instead of a disc
            kernel = kernel * np.clip(away / radius, 0.15, 1) ** 3
        from scipy.signal import fftconvolve

        return np.asarray(np.clip(fftconvolve(dots, kernel, mode="same"), 0, 1.5) * dark, np.float32)

    def litter(self) -> None:
        rng = self.rng
        kind = rng.choice(
            ["clump", "grain", "tube", "hair", "polygon", "arc", "needle"],
            p=[0.3, 0.25, 0.1, 0.1, 0.1, 0.1, 0.05],
        )
        x, y = rng.uniform(0, self.columns), rng.uniform(0, self.rows)
        size = float(np.exp(rng.uniform(np.log(6), np.log(70))))
        if kind in ("tube", "hair", "needle"):
            self._tube(kind, x, y)
            return
        if kind == "grain":
            size = float(rng.uniform(2, 12))
        box = self.box(x, y, 0.75 * size)
        if box is None:
            return
        cut, dx, dy = box
        theta, radius = np.arctan2(dy, dx), np.hypot(dx, dy)
        if kind == "polygon":
            corners = int(rng.integers(3, 8))
            # a corner that the picture does not resolve is none: with more of them the crystal would be a disc
            while (
                corners > 3 and 0.5 * size / self.um * (1 - np.cos(np.pi / corners)) < 1 + 0.7 * self.blur_px
            ):
                corners -= 1
            turn = rng.uniform(0, 6.28)
            sector = (theta + turn) % (2 * np.pi / corners) - np.pi / corners
            depth = 0.5 * size * np.cos(np.pi / corners) * rng.uniform(0.8, 1.0) - radius * np.cos(sector)
        elif kind == "arc":
            depth = 0.5 * size - radius
            gone = np.cos(theta - rng.uniform(0, 6.28)) > rng.uniform(-0.6, 0.6)
            self.add(cut, np.exp(-((depth / 0.7) ** 2)) * ~gone * rng.uniform(0.2, 0.7), (1.0, 1.0, 1.0))
            return
        else:
            ripple = sum(
                rng.normal() / k**0.8 * np.cos(k * theta + rng.uniform(0, 6.28)) for k in range(2, 9)
            )
            stretch = rng.uniform(0.6, 1.0)
            depth = 0.5 * size * stretch * np.clip(1 + rng.uniform(0.1, 0.22) * ripple, 0.3, 1.6) - radius
        soft = rng.uniform(0.4, 1.5) + (0.1 * size if kind == "clump" else 0)
        inside = np.clip(depth / soft + 0.5, 0, 1)
        tone = inside * rng.uniform(0.1, 0.9) * (2.0 if kind == "grain" else 1.0)
        if kind != "polygon":
            texture = ndimage.gaussian_filter(
                rng.standard_normal(depth.shape), rng.uniform(0.7, 2.5) / self.um
            )
            tone = tone * np.clip(1 + rng.uniform(0.1, 0.9) * texture / (texture.std() + 1e-6), 0, 3)
        if kind == "polygon" or rng.random() < 0.3:
            tone = 0.3 * tone + np.exp(-(((depth - 0.5) / 0.7) ** 2)) * rng.uniform(0.1, 0.6)
        self.add(cut, tone, _DYES[int(rng.integers(len(_DYES)))])

    def _tube(self, kind: str, x: float, y: float) -> None:
        rng = self.rng
        long = float(rng.uniform(40, 300))
        wide = {"tube": rng.uniform(5, 20), "hair": rng.uniform(1, 4), "needle": rng.uniform(1, 2.5)}[kind]
        box = self.box(x, y, 0.55 * long)
        if box is None:
            return
        cut, dx, dy = box
        a = rng.uniform(0, 6.28)
        u, v = np.cos(a) * dx + np.sin(a) * dy, np.cos(a) * dy - np.sin(a) * dx
        bend = 0.0 if kind == "needle" else rng.normal(0, 0.12) * long
        v = v - bend * ((2 * u / long) ** 2 - 0.5)
        half = 0.5 * wide * (1 - (0.7 * (u / long + 0.5) if kind == "hair" else 0))
        depth = np.minimum(half - np.abs(v), 0.5 * long - np.abs(u))
        inside = np.clip(depth / 0.5 + 0.5, 0, 1)
        tone = inside * rng.uniform(0.02, 0.4) + np.exp(-(((depth - 0.4) / 0.6) ** 2)) * rng.uniform(0.1, 0.6)
        self.add(cut, tone, _DYES[int(rng.integers(len(_DYES)))])

    def flake(self, rng: Rng) -> None:
        size = float(np.exp(rng.uniform(np.log(max(8.0, 16 * self.um)), np.log(70))))
        box = self.box(rng.uniform(0, self.columns), rng.uniform(0, self.rows), 0.75 * size)
        if box is not None:
            cut, dx, dy = box
            self.add(cut, flake(rng, dx, dy, size), _DYES[int(rng.integers(len(_DYES)))])

    def bubble(self, rng: Rng) -> None:
        size = float(np.exp(rng.uniform(np.log(max(12.0, 24 * self.um)), np.log(120))))
        box = self.box(rng.uniform(0, self.columns), rng.uniform(0, self.rows), 0.6 * size)
        if box is not None:
            cut, dx, dy = box
            self.absorbed[cut] *= (np.hypot(dx, dy) > 0.5 * size)[..., None]
            self.add(cut, thick_bubble(rng, dx, dy, size), (1.0, 1.0, 1.0))

    # -- bodies -----------------------------------------------------------------------------------------

    def place(self, truth: list[Sketched], counts: bool) -> None:
        rng = self.rng
        kinds = (
            ("oocyst", "egg", "solid", "cyst", "trophozoite")
            if counts
            else ("bubble", "pollen", "drop", "spiny")
        )
        kind = str(rng.choice(kinds))
        most = min(130.0, 0.4 * min(self.rows, self.columns) * self.um)
        least = max(8.0, (14 + 6 * self.blur_px) * self.um)
        if kind in ("pollen", "spiny"):  # large enough to show the pores, net or spines that tell it
            least = max(16.0, (34 + 14 * self.blur_px) * self.um)
        long = float(np.exp(rng.uniform(np.log(least), np.log(max(most, least + 1)))))
        aspect = (
            1.0
            if kind in ("bubble", "drop")
            else float(1 + abs(rng.normal(0, 0.1 if kind == "spiny" else 0.55)))
        )
        wide = long / min(aspect, 3.2)
        for _ in range(60):
            reach = 0.0 if rng.random() < 0.08 else 0.5 * long / self.um  # some are cut by the border
            x = float(rng.uniform(reach, max(self.columns - reach, reach + 1)))
            y = float(rng.uniform(reach, max(self.rows - reach, reach + 1)))
            if (
                self.circle_px
                and np.hypot(x - self.columns / 2, y - self.rows / 2) > self.circle_px - 0.4 * long / self.um
            ):
                continue
            gap = 0.9 if rng.random() < 0.1 else 1.1  # some touch
            if all(
                np.hypot(x - o.x_px, y - o.y_px) * self.um > gap * 0.5 * (long + o.length_um) for o in truth
            ):
                break
        else:
            return
        angle = float(rng.uniform(0, 180))
        box = self.box(x, y, 0.6 * long + 4)
        if box is None:
            return
        cut, dx, dy = box
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        u, v = c * dx + s * dy, c * dy - s * dx
        depth, long, wide = self._depth(kind, u, v, long, wide)
        tone, dye, hollow = self._body(kind, depth, u, v, wide)
        blur = self.focus_um * abs(rng.normal(0, 0.6)) / self.um
        self.absorbed[cut] *= 1 - (hollow * np.clip(depth / 0.5, 0, 1))[..., None]
        self.add(cut, ndimage.gaussian_filter(tone, blur), dye)
        truth.append(Sketched(kind, counts, x, y, long, wide, angle))

    def _depth(self, kind: str, u: Plane, v: Plane, long: float, wide: float) -> tuple[Plane, float, float]:
        """Distance inside the outline in µm (close to it), and its true axes."""
        rng = self.rng
        t = np.linspace(0, 2 * np.pi, 361)
        power = 2.0 if kind in ("bubble", "drop", "spiny") else float(rng.uniform(1.85, 2.5))
        taper = 0.0 if kind in ("bubble", "drop", "spiny") else float(rng.choice([0.0, rng.uniform(0, 0.2)]))
        pu = np.sign(np.cos(t)) * np.abs(np.cos(t)) ** (2 / power) * long / 2
        pv = np.sign(np.sin(t)) * np.abs(np.sin(t)) ** (2 / power) * wide / 2 * (1 - taper * np.cos(t))
        radius = np.hypot(pu, pv)
        if kind == "trophozoite":
            radius = radius * (
                1 + 0.03 * rng.normal() * np.cos(3 * t + rng.uniform(0, 6)) + 0.02 * np.cos(5 * t)
            )
        if kind == "spiny":
            radius = radius * (1 + 0.09 * np.cos(int(rng.integers(9, 20)) * t))
        around = np.arctan2(pv, pu) % (2 * np.pi)
        order = np.argsort(around)
        at = np.interp(np.arctan2(v, u) % (2 * np.pi), around[order], radius[order], period=2 * np.pi)
        away = np.hypot(u, v)
        slope = np.hypot(2 * u / long**2, 2 * v / wide**2) * 2
        depth = (1 - away / at) / np.maximum(slope, 1e-3) * np.minimum(away / at, 1.0)
        depth = np.where(away < 0.5 * at, np.minimum(0.5 * wide * (1 - away / at), depth), depth)
        full = radius * np.cos(around), radius * np.sin(around)
        return depth.astype(np.float32), float(np.ptp(full[0])), float(np.ptp(full[1]))

    def _body(
        self, kind: str, depth: Plane, u: Plane, v: Plane, wide: float
    ) -> tuple[Plane, tuple[float, float, float], float]:
        rng = self.rng
        inside = np.clip(depth / 0.6 + 0.5, 0, 1)
        texture = ndimage.gaussian_filter(rng.standard_normal(depth.shape), rng.uniform(0.5, 1.6) / self.um)
        texture = (texture / (texture.std() + 1e-6)).astype(np.float32)
        dye = _DYES[int(rng.integers(len(_DYES)))]
        if kind in ("oocyst", "cyst"):
            thin = float(np.clip(wide * rng.uniform(0.01, 0.06), 0.35, 1.6))
            tone = np.exp(-(((depth - thin) / thin) ** 2)) * rng.uniform(0.3, 0.8)
            if rng.random() < 0.5:
                tone += np.exp(-(((depth - 3.4 * thin) / thin) ** 2)) * rng.uniform(0.1, 0.4)
            tone += inside * rng.uniform(0, 0.06)
            tone += contents(rng, u, v, wide)
            return tone, (1.0, 1.0, 1.05), float(rng.uniform(0.4, 0.95))
        if kind == "egg":
            thick = float(np.clip(wide * rng.uniform(0.02, 0.09), 0.8, 4.0))
            band = np.clip(depth / 0.4 + 0.5, 0, 1) * np.clip((thick - depth) / 0.4 + 0.5, 0, 1)
            tone = band * rng.uniform(-0.05, 0.45) + np.exp(-(((depth - 0.4) / 0.5) ** 2)) * rng.uniform(
                0.2, 0.6
            )
            tone += np.exp(-(((depth - thick) / 0.6) ** 2)) * rng.uniform(0, 0.4)
            core = np.clip((depth - thick - rng.uniform(0, 0.12) * wide) / 1.0, 0, 1)
            tone += core * rng.uniform(0.02, 0.5) * np.clip(1 + rng.uniform(0.1, 0.6) * texture, 0, 3)
            return tone, dye if rng.random() < 0.6 else (1.0, 1.0, 1.0), float(rng.uniform(0.5, 1.0))
        if kind in ("solid", "trophozoite"):
            soft = rng.uniform(0.5, 2.0) if kind == "solid" else rng.uniform(0.5, 1.2)
            tone = np.clip(depth / soft, 0, 1) * rng.uniform(0.3, 1.1)
            tone *= np.clip(1 + rng.uniform(0.03, 0.35) * texture, 0, 3)
            tone *= 1 + rng.uniform(-0.3, 0.3) * np.clip(depth / (0.5 * wide), 0, 1)
            tone += np.exp(-(((depth - 0.6) / 0.7) ** 2)) * rng.choice([0.0, rng.uniform(0, 0.5)])
            return tone, dye, float(rng.uniform(0.5, 1.0))
        if kind == "bubble":
            rim = rng.uniform(0.15, 0.6) * wide / 2
            tone = (
                np.clip(depth / 0.8, 0, 1)
                * np.clip((rim - depth) / (0.4 * rim) + 0.5, 0, 1)
                * rng.uniform(0.9, 2.2)
            )
            tone -= np.exp(-(((depth - 1.2 * rim) / (0.2 * rim)) ** 2)) * 0.1
            return tone, (1.0, 1.0, 1.0), 0.95
        if kind == "drop":  # fat: thin dark line, bright middle
            tone = np.exp(-(((depth - 0.4) / 0.6) ** 2)) * rng.uniform(0.3, 0.9)
            tone -= np.clip(depth / (0.4 * wide), 0, 1) * rng.uniform(0.08, 0.25)
            return tone, (1.0, 1.0, 1.0), 0.95
        return (
            pollen(self.rng, depth, u, v, wide, self.um, spiny=kind == "spiny"),
            _DYES[int(rng.choice([1, 2, 4]))],
            0.9,
        )

    # -- canvas and camera ------------------------------------------------------------------------------

    def box(self, x: float, y: float, reach_um: float) -> tuple[tuple[slice, slice], Plane, Plane] | None:
        """Return the pixels around a place, and their distance from it in µm."""
        reach = int(np.ceil(reach_um / self.um)) + 2
        top, bottom = max(round(y) - reach, 0), min(round(y) + reach + 1, self.rows)
        left, right = max(round(x) - reach, 0), min(round(x) + reach + 1, self.columns)
        if bottom - top < 3 or right - left < 3:
            return None
        dx = ((np.arange(left, right) - x) * self.um)[None, :] + np.zeros((bottom - top, 1))
        dy = ((np.arange(top, bottom) - y) * self.um)[:, None] + np.zeros((1, right - left))
        return (slice(top, bottom), slice(left, right)), dx.astype(np.float32), dy.astype(np.float32)

    def add(
        self, cut: tuple[slice, slice], tone: NDArray[np.floating], dye: tuple[float, float, float]
    ) -> None:
        self.absorbed[cut] += np.asarray(tone, np.float32)[..., None] * np.array(dye, np.float32)

    def photograph(self, harsh: bool) -> NDArray[np.uint8]:
        rng = self.rng
        contrast = rng.uniform(0.5, 1.1) if harsh else 1.0
        light = np.exp(-np.float32(contrast) * self.absorbed)
        y, x = np.linspace(-1, 1, self.rows)[:, None], np.linspace(-1, 1, self.columns)[None, :]
        lamp = 1 - rng.uniform(0, 0.25) * ((x - rng.normal(0, 0.3)) ** 2 + (y - rng.normal(0, 0.3)) ** 2) / 2
        light *= lamp.astype(np.float32)[..., None]
        if self.circle_px:  # a phone at the eyepiece
            away = np.hypot(x * self.columns / 2, y * self.rows / 2)
            light *= np.clip((self.circle_px - away) / 4, 0.02, 1).astype(np.float32)[..., None]
        if harsh:
            light = np.clip(light, 1e-3, 2) ** np.float32(np.exp(rng.uniform(np.log(0.5), np.log(2))))
        light = ndimage.gaussian_filter(light, (self.blur_px, self.blur_px, 0))
        picture = light * (np.array(rng.uniform(150, 235, 3), np.float32))
        noise = rng.uniform(0.5, 6) if harsh else 1.5
        picture += noise * rng.standard_normal((self.rows, self.columns, 1), dtype=np.float32)
        picture += 0.5 * noise * rng.standard_normal(picture.shape, dtype=np.float32)
        if rng.random() < 0.2:
            picture = np.repeat(picture.mean(axis=2, keepdims=True), 3, axis=2)
        return stored(picture, rng)
