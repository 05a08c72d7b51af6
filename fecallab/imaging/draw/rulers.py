"""Drawn stage micrometers and counting grids with their truth, for teaching and for tests.

Drawn by rule and by lot: nothing is a photograph or was made from one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.draw.form import Map, grain, step

__all__ = ["GridSpec", "RulerSpec", "Shot", "draw_grid", "draw_ruler"]


@dataclass(frozen=True, kw_only=True)
class Shot:
    """How the picture is taken.

    Attributes
    ----------
    width_px, height_px : int
        Size of the picture.
    blur_px : float
        Standard deviation of the blur.
    contrast : float
        Darkness of a wide line, 0 to 1.
    uneven : float
        How much darker the dark side is, 0 to about 0.6.
    noise : float
        Standard deviation of the grain, in grey values of 255.
    inverted : bool
        Bright lines on a dark ground.
    text : tuple of str
        Lines of text burned into the picture, as camera programs do it.
    """

    width_px: int = 640
    height_px: int = 480
    blur_px: float = 0.7
    contrast: float = 0.75
    uneven: float = 0.2
    noise: float = 2.0
    inverted: bool = False
    text: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RulerSpec:
    """A ruler of lines.

    Attributes
    ----------
    px_per_division : float
        Truth: distance of neighbouring lines.
    angle_deg : float
        Direction along which lines are counted, from +x towards +y (down).
    lines : int or None
        Number of lines; None for more than the picture holds.
    line_px : float
        Thickness of a line.
    lengths_px : (float, float, float)
        Length of ordinary, fifth and tenth lines.
    longer_every : (int, int)
        Which lines are the longer ones: every fifth, every tenth; 0 for none.
    thicker_tenth : float
        Thickness of the longest lines, as a multiple.
    one_sided : bool
        Lines stand on a base line (else they are centred on it).
    base_line : bool
        Draw the base line.
    offset_px : (float, float)
        The middle of the ruler from the middle of the picture.
    wobble_px : float
        Standard deviation by which single lines lie beside their place.
    """

    px_per_division: float
    angle_deg: float = 0.0
    lines: int | None = None
    line_px: float = 2.0
    lengths_px: tuple[float, float, float] = (60.0, 90.0, 130.0)
    longer_every: tuple[int, int] = (5, 10)
    thicker_tenth: float = 1.0
    one_sided: bool = False
    base_line: bool = False
    offset_px: tuple[float, float] = (0.0, 0.0)
    wobble_px: float = 0.0
    shot: Shot = field(default_factory=Shot)


@dataclass(frozen=True, kw_only=True)
class GridSpec:
    """A counting grid: lines in two directions at right angles.

    Attributes
    ----------
    px_per_square : float
        Truth: distance of neighbouring lines.
    angle_deg : float
        Direction of one family's count, from +x towards +y (down).
    line_px : float
        Thickness of a line.
    triple_every : int
        Every so many lines are three lines close together, as chambers have them; 0 for none.
    """

    px_per_square: float
    angle_deg: float = 0.0
    line_px: float = 2.5
    triple_every: int = 0
    offset_px: tuple[float, float] = (0.0, 0.0)
    shot: Shot = field(default_factory=Shot)


def draw_ruler(spec: RulerSpec, seed: int) -> NDArray[np.uint8]:
    """Draw a stage micrometer; its truth is `spec.px_per_division` and `spec.angle_deg`.

    Returns
    -------
    ndarray of uint8, shape (height, width)
    """
    rng = np.random.default_rng([seed, 11])
    u, v = _axes(spec.shot, spec.angle_deg, spec.offset_px)
    pitch = spec.px_per_division
    reach = float(np.abs(u).max()) / pitch + 1
    half = int(reach) + 1 if spec.lines is None else (spec.lines - 1) // 2
    last = half if spec.lines is None else spec.lines - 1 - half
    shift = rng.uniform(-0.5, 0.5) * pitch
    wobble = rng.normal(0, 1, half + last + 1) * spec.wobble_px
    ink = np.zeros(u.shape, np.float32)
    usual, fifth, tenth = spec.lengths_px
    nearest = np.round((u - shift) / pitch).astype(np.int32)
    for offset in (-1, 0, 1):  # a thick or blurred line reaches into the next division
        n = np.clip(nearest + offset, -half, last)
        length = np.full(u.shape, usual, np.float32)
        thick = np.full(u.shape, spec.line_px, np.float32)
        if spec.longer_every[0]:
            length[n % spec.longer_every[0] == 0] = fifth
        if spec.longer_every[1]:
            tens = n % spec.longer_every[1] == 0
            length[tens] = tenth
            thick[tens] *= spec.thicker_tenth
        across = _covered(u - shift - n * pitch - wobble[n + half], thick)
        along = _covered(v + length / 2 if spec.one_sided else v, length)
        ink = np.maximum(ink, across * along)
    if spec.base_line:
        wide = (half + last) * pitch + spec.line_px
        middle = shift + (last - half) * pitch / 2
        ink = np.maximum(ink, _covered(v, np.float32(spec.line_px)) * _covered(u - middle, np.float32(wide)))
    return _taken(ink, spec.shot, rng)


def draw_grid(spec: GridSpec, seed: int) -> NDArray[np.uint8]:
    """Draw a counting grid; its truth is `spec.px_per_square` and `spec.angle_deg`.

    Returns
    -------
    ndarray of uint8, shape (height, width)
    """
    rng = np.random.default_rng([seed, 12])
    ink = np.zeros((spec.shot.height_px, spec.shot.width_px), np.float32)
    for place in _axes(spec.shot, spec.angle_deg, spec.offset_px):
        shift = rng.uniform(-0.5, 0.5) * spec.px_per_square
        n = np.round((place - shift) / spec.px_per_square)
        distance = place - shift - n * spec.px_per_square
        ink = np.maximum(ink, _covered(distance, np.float32(spec.line_px)))
        if spec.triple_every:
            for side in (-2.5, 2.5):
                beside = _covered(distance + side * spec.line_px, np.float32(spec.line_px))
                ink = np.maximum(ink, np.where(n % spec.triple_every == 0, beside, 0))
    return _taken(ink, spec.shot, rng)


def _axes(shot: Shot, angle_deg: float, offset_px: tuple[float, float]) -> tuple[Map, Map]:
    """Places of all pixels along and across a direction through the middle of the picture."""
    x = (np.arange(shot.width_px) - (shot.width_px - 1) / 2 - offset_px[0])[None, :]
    y = (np.arange(shot.height_px) - (shot.height_px - 1) / 2 - offset_px[1])[:, None]
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return (c * x + s * y).astype(np.float32), (c * y - s * x).astype(np.float32)


def _covered(distance: NDArray[Any], thick: Map | np.float32) -> Map:
    """Share of a pixel that lies under a line of a thickness, its middle at a distance."""
    return np.asarray(
        np.clip(0.5 + thick / 2 - np.abs(distance), 0, np.minimum(thick, np.float32(1))), np.float32
    )


def _taken(ink: Map, shot: Shot, rng: np.random.Generator) -> NDArray[np.uint8]:
    ink = ndimage.gaussian_filter(ink, shot.blur_px) if shot.blur_px else ink
    y, x = np.mgrid[-1 : 1 : shot.height_px * 1j, -1 : 1 : shot.width_px * 1j].astype(np.float32)
    a = rng.uniform(0, 2 * np.pi)
    lamp = 1 - shot.uneven * step(np.cos(a) * x + np.sin(a) * y, -1.2, 1.2)
    light = 0.10 + 0.75 * shot.contrast * ink if shot.inverted else 0.88 * (1 - shot.contrast * ink)
    picture = 255 * light * lamp + shot.noise * grain(ink.shape, 0.8, rng)
    stored = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    return _with_text(stored, shot.text) if shot.text else stored


def _with_text(pixels: NDArray[np.uint8], lines: tuple[str, ...]) -> NDArray[np.uint8]:
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(pixels)
    pen = ImageDraw.Draw(image)
    size = max(12, pixels.shape[0] // 28)
    font = ImageFont.load_default(size=size)
    for k, line in enumerate(lines):
        pen.text((size, pixels.shape[0] - (len(lines) - k) * 1.5 * size), line, fill=10, font=font)
    pen.rectangle([pixels.shape[1] - 9 * size, pixels.shape[0] - 2 * size, pixels.shape[1] - 2 * size,
                   pixels.shape[0] - 1.2 * size], fill=20)  # fmt: skip
    return np.array(image)
