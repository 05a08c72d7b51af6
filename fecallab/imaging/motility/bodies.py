"""How bodies look in drawn clips: dark, ringed, bright, grainy, long, bending; specks and lumps around them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Canvas = NDArray[np.float32]

STYLES = ("dark", "ring", "bright", "grainy", "long", "worm", "organism")
"""Styles of swimmers; ``organism`` uses the drawn flagellates and ciliates of the still pictures."""


@dataclass(frozen=True, kw_only=True)
class Look:
    """One body.

    Attributes
    ----------
    style : str
        One of `STYLES`, or ``speck`` or ``lump``.
    length_um, width_um : float
        Outer axes.
    contrast : float
        Depth of the darkest part, as a logarithm of light.
    softness : float
        Own defocus, times the blur of the picture.
    lot : ndarray, shape (12,)
        Numbers of this body's own texture.
    """

    style: str
    length_um: float
    width_um: float
    contrast: float
    softness: float = 1.0
    lot: NDArray[np.float64] = field(default_factory=lambda: np.zeros(12))

    def stamp(
        self,
        canvas: Canvas,
        x_px: float,
        y_px: float,
        angle: float,
        time_s: float,
        to_px: float,
        blur_px: float,
    ) -> None:
        """Add the body to the logarithm of light; `angle` in radians, `to_px` pixels per µm."""
        a, b = 0.5 * self.length_um * to_px, 0.5 * self.width_um * to_px
        soft = blur_px * self.softness
        reach = int(np.ceil((1.9 if self.style == "organism" else 1.15) * max(a, b) + 4 * soft + 3))
        left, top = round(x_px) - reach, round(y_px) - reach
        x0, x1 = max(left, 0), min(left + 2 * reach + 1, canvas.shape[1])
        y0, y1 = max(top, 0), min(top + 2 * reach + 1, canvas.shape[0])
        if x0 >= x1 or y0 >= y1:
            return
        dx = np.arange(x0, x1, dtype=np.float32)[None, :] - np.float32(x_px)
        dy = np.arange(y0, y1, dtype=np.float32)[:, None] - np.float32(y_px)
        c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        u, v = c * dx + s * dy, c * dy - s * dx
        canvas[y0:y1, x0:x1] += self._light(u, v, a, b, max(soft, 0.5), time_s, to_px)

    def _light(self, u: Canvas, v: Canvas, a: float, b: float, soft: float, t: float, to_px: float) -> Canvas:
        if self.style == "organism":
            return self._drawn(u, v, soft, to_px)
        if self.style == "worm":
            swing = 0.35 * a * np.sin(2.2 * np.pi * u / (2 * a) - 2 * np.pi * self.lot[0] * t)
            v = v - np.asarray(swing, np.float32)
            b = b * 1.0
            taper = np.sqrt(np.clip(1 - (u / a) ** 2, 0.0, 1)).astype(np.float32)
            inside = _edge((b * taper - np.abs(v)) / soft) * (np.abs(u) < a)
            return np.asarray(-self.contrast * inside * (0.8 + 0.2 * np.cos(u * 0.7)), np.float32)
        q = np.sqrt((u / a) ** 2 + (v / b) ** 2)
        if self.style == "lump":
            around = np.arctan2(v, u)
            q = q * (1 + 0.18 * np.cos(2 * around + self.lot[1]) + 0.12 * np.cos(3 * around + self.lot[2]))
        inside = _edge((1 - q) * min(a, b) / soft)
        rim = np.exp(-(((q - 0.92) * min(a, b) / (0.9 * soft + 0.18 * min(a, b))) ** 2))
        if self.style == "ring":
            halo = np.exp(-(((q - 1.25) * min(a, b) / (1.2 * soft + 0.15 * min(a, b))) ** 2))
            return np.asarray(self.contrast * (0.45 * inside - 1.1 * rim + 0.3 * halo), np.float32)
        if self.style == "bright":
            return np.asarray(self.contrast * (0.9 * inside - 0.3 * rim), np.float32)
        if self.style in ("grainy", "lump"):
            grain = sum(
                np.cos(
                    (self.lot[k] - 0.5) * 9 * u / a
                    + (self.lot[k + 3] - 0.5) * 9 * v / b
                    + 6 * self.lot[k + 6]
                )
                for k in range(3, 6)
            )
            return np.asarray(-self.contrast * (inside * (0.45 + 0.22 * grain) + 0.5 * rim), np.float32)
        if self.style == "speck" and self.lot[0] < 0.3:
            return np.asarray(self.contrast * (0.8 * inside - 0.6 * rim), np.float32)
        if self.style == "long":
            return np.asarray(-self.contrast * (0.35 * inside + 0.65 * rim), np.float32)
        return np.asarray(-self.contrast * (0.8 * inside + 0.2 * rim), np.float32)

    def _drawn(self, u: Canvas, v: Canvas, soft: float, to_px: float) -> Canvas:
        patch = _organism(
            int(self.lot[0] * 6), round(self.length_um), round(self.width_um), round(soft / to_px, 1)
        )
        middle = (np.array(patch.shape) - 1) / 2
        scale = _FINE / to_px
        at = np.stack([v * scale + middle[0], u * scale + middle[1]])
        seen = ndimage.map_coordinates(patch, at, order=1, mode="constant", cval=0.0)
        return np.asarray(seen * (0.6 + self.contrast), np.float32)


_FINE = 4.0  # pixels per µm of the kept patches


@cache
def _organism(which: int, length_um: int, width_um: int, blur_um: float) -> Canvas:
    from fecallab.imaging.draw.form import grid_around
    from fecallab.imaging.draw.kinds import KINDS
    from fecallab.imaging.draw.optics import LENSES, light_log

    small = ("tritrichomonas_troph", "monocercomonas_troph", "hexamita_troph")
    large = ("nyctotherus_troph", "balantidium_troph", "nyctotherus_troph")
    kind = KINDS[(small if length_um < 30 else large)[which % 3]]
    pitch = 1 / _FINE
    half = 1.8 * length_um
    side = int(2 * half / pitch) + 17
    placed = grid_around(side / 2, side / 2, 180.0, half, pitch, (side, side))
    assert placed is not None
    body = kind.paint(placed[0], np.random.default_rng(which), float(length_um), float(width_um))
    return np.asarray(light_log(body, LENSES["40x"], blur_um)[..., 1], np.float32)


def look_by_lot(
    style: str, length_um: float, width_um: float, contrast: float, rng: np.random.Generator
) -> Look:
    """Return a body of a style with a texture and a defocus of its own."""
    lot = rng.uniform(size=12)
    if style == "worm":
        lot[0] = rng.uniform(0.8, 2.0)
    softness = float(1 + rng.exponential(1.5)) if style == "lump" else float(rng.uniform(0.8, 1.6))
    return Look(
        style=style,
        length_um=length_um,
        width_um=min(width_um, 0.3 * length_um)
        if style == "long"
        else min(width_um, 0.09 * length_um)
        if style == "worm"
        else width_um,
        contrast=contrast,
        softness=softness,
        lot=lot,
    )


def _edge(signed: NDArray[np.floating[Any]]) -> Canvas:
    return np.asarray(1 / (1 + np.exp(-np.clip(1.6 * signed, -30, 30))), np.float32)
