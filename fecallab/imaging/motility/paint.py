"""Tracks by kind over the field: a picture with a scale bar, and the clip itself with what was found, for the vet."""

from __future__ import annotations

import io
from pathlib import Path as FilePath

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fecallab.imaging.mark_style import OKABE_ITO, SHAPES, MarkStyle
from fecallab.imaging.motility.clips import Clip
from fecallab.imaging.motility.film import write_video
from fecallab.imaging.motility.result import KINDS, MotilityResult, MovingBody
from fecallab.imaging.overlay import font_file, scale_bar

KIND_STYLE: dict[str, MarkStyle] = {
    "swimming": MarkStyle(OKABE_ITO["vermillion"], "triangle up"),
    "drifting": MarkStyle(OKABE_ITO["sky blue"], "diamond"),
    "trembling": MarkStyle(OKABE_ITO["yellow"], "circle"),
    "stuck": MarkStyle(OKABE_ITO["bluish green"], "square"),
    "cannot-tell": MarkStyle(OKABE_ITO["reddish purple"], "cross"),
}
"""Colour and shape of each kind of track; every shape occurs once."""

_FINER, _TRAIL_S, _LARGEST_PX = 2, 1.2, 1280
RGB = NDArray[np.uint8]


def tracks_png(clip: Clip, result: MotilityResult, scene: int = 0) -> bytes:
    """Draw the tracks of one field over its first frame.

    Parameters
    ----------
    clip : Clip
    result : MotilityResult
        Of this clip.
    scene : int, optional
        Which field, where the clip is cut.

    Returns
    -------
    bytes
        A PNG: swimmers with their way and number, the others as small shapes, a legend and a scale bar below.
    """
    start = ([0.0, *result.cuts_s])[scene]
    ground = next(pixels for time, pixels in clip.frames(colour=True) if time >= start - 1e-9)
    mine = [one for one in result.tracks if one.scene == scene]
    shift = (
        result.camera_px[min((int(one.frames[0]) for one in mine), default=0)] if len(result.camera_px) else 0
    )
    pen = _Pen(ground)
    for one in sorted(mine, key=lambda one: -KINDS.index(one.kind)):
        way = one.xy_px - result.camera_px[np.clip(one.frames, 0, len(result.camera_px) - 1)] + shift
        pen.track(one, way, with_way=one.kind in ("swimming", "cannot-tell", "drifting"))
    picture = pen.reduced()
    framed = _with_legend(picture, result)
    store = io.BytesIO()
    framed.save(store, "PNG")
    return store.getvalue()


def write_film(clip: Clip, result: MotilityResult, target: FilePath) -> int:
    """Write the clip with every track drawn at its time, as MP4 that any phone plays.

    Parameters
    ----------
    clip : Clip
    result : MotilityResult
        Of this clip.
    target : Path
        Where to write; an existing file is replaced when the new one is whole.

    Returns
    -------
    int
        Frames written.

    Raises
    ------
    CouldNot
        The disk or its permissions stand in the way.
    """
    shrink = max(1.0, max(clip.width_px, clip.height_px) / _LARGEST_PX)
    drawn = (
        (time, _film_frame(pixels, k, time, result, shrink))
        for k, (time, pixels) in enumerate(clip.frames(colour=True))
    )
    return write_video(target, drawn, result.fps)


def _film_frame(pixels: RGB, k: int, time: float, result: MotilityResult, shrink: float) -> RGB:
    image = Image.fromarray(pixels)
    if shrink > 1:
        image = image.resize(
            (round(image.width / shrink), round(image.height / shrink)), Image.Resampling.BOX
        )
    pen = _Pen(np.asarray(image), finer=1, scale=1 / shrink)
    swimming = 0
    for one in result.tracks:
        now = (one.frames >= k - round(_TRAIL_S * result.fps)) & (one.frames <= k)
        if one.kind == "stuck":
            if one.frames[0] <= k <= one.frames[-1]:
                at = one.xy_px[0] - result.camera_px[one.frames[0]] + result.camera_px[k]
                pen.track(one, at[None], with_way=False, numbered=False)
            continue
        if not now.any() or one.frames[-1] < k or one.frames[0] > k:
            continue
        swimming += one.kind == "swimming"
        way = (
            one.xy_px[now]
            - result.camera_px[one.frames[now]]
            + result.camera_px[min(k, len(result.camera_px) - 1)]
        )
        pen.track(one, way, with_way=one.kind != "trembling", at_end=True)
    pen.words(f"{time:.1f} s   {swimming} swimming", 0)
    bar = scale_bar(result.um_per_px, result.width_px)
    pen.bar(bar.length_px, bar.label)
    return np.asarray(pen.image)


class _Pen:
    """Draws over a picture, finer than its pixels, then averaged."""

    def __init__(self, ground: RGB, finer: int = _FINER, scale: float = 1.0) -> None:
        image = Image.fromarray(np.ascontiguousarray(ground))
        self.finer, self.scale = finer, scale
        self.unit = max(4.0, max(image.size) / 150) * finer
        self.image = image.resize((image.width * finer, image.height * finer)) if finer > 1 else image
        self.draw = ImageDraw.Draw(self.image)

    def _at(self, xy: NDArray[np.float64]) -> list[tuple[float, float]]:
        return [(float(x), float(y)) for x, y in ((xy + 0.5) * self.scale * self.finer - 0.5)]

    def track(
        self,
        one: MovingBody,
        way: NDArray[np.float64],
        with_way: bool,
        at_end: bool = False,
        numbered: bool = True,
    ) -> None:
        style, unit = KIND_STYLE[one.kind], self.unit
        points = self._at(way)
        if with_way and len(points) > 1:
            line = max(1, round(unit * 0.22))
            self.draw.line(points, fill="#000000", width=line + 2 * max(1, round(unit * 0.1)), joint="curve")
            self.draw.line(points, fill=style.colour, width=line, joint="curve")
        x, y = points[-1]
        size = unit * (0.75 if one.kind in ("swimming", "cannot-tell") else 0.5)
        if at_end and one.kind == "swimming":  # a ring around the body keeps it visible
            r = 1.6 * unit
            self.draw.ellipse(
                (x - r, y - r, x + r, y + r), outline="#000000", width=max(2, round(unit * 0.4))
            )
            self.draw.ellipse(
                (x - r + 1, y - r + 1, x + r - 1, y + r - 1),
                outline=style.colour,
                width=max(1, round(unit * 0.25)),
            )
            x, y = x + 1.6 * unit, y - 1.6 * unit
        shape = [(x + size * px, y + size * py) for px, py in SHAPES[style.shape]]
        self.draw.polygon(shape, fill=style.colour, outline="#000000", width=max(1, round(unit * 0.14)))
        if numbered and one.kind == "swimming":
            self._text((x + 1.1 * unit, y), str(one.number), 2.0 * unit, "lm")

    def _text(self, at: tuple[float, float], words: str, size: float, anchor: str) -> None:
        font = ImageFont.truetype(font_file(), size)
        stroke = max(1, round(size / 9))
        self.draw.text(at, words, "#000000", font, anchor, stroke_width=stroke, stroke_fill="#ffffff")

    def words(self, words: str, line: int) -> None:
        self._text((self.unit, (1.8 + 2.4 * line) * self.unit), words, 2.2 * self.unit, "lm")

    def bar(self, length_px: float, label: str) -> None:
        right, bottom = self.image.width - 2 * self.unit, self.image.height - 2 * self.unit
        left = right - length_px * self.scale * self.finer
        self.draw.rectangle(
            (left, bottom - 0.7 * self.unit, right, bottom), fill="#000000", outline="#ffffff"
        )
        self._text(((left + right) / 2, bottom - 2.2 * self.unit), label, 2.2 * self.unit, "mm")

    def reduced(self) -> Image.Image:
        return self.image.reduce(self.finer) if self.finer > 1 else self.image


def _with_legend(picture: Image.Image, result: MotilityResult) -> Image.Image:
    unit = max(4.0, max(picture.size) / 150)
    present = [kind for kind in KINDS if result.of_kind(kind)]
    finer = _FINER
    u = unit * finer
    font = ImageFont.truetype(font_file(), 2.3 * u)
    entries = [(kind, f"{len(result.of_kind(kind))} {kind.replace('-', ' ')}") for kind in present]
    widths = [3.2 * u + font.getlength(words) + 2 * u for _, words in entries]
    bar = scale_bar(result.um_per_px, picture.width)
    room = picture.width * finer - bar.length_px * finer - 6 * u
    rows: list[list[int]] = [[]]
    used = 0.0
    for k, width in enumerate(widths):
        if rows[-1] and used + width > room:
            rows.append([])
            used = 0.0
        rows[-1].append(k)
        used += width
    tall = max(round((len(rows) * 3.4 + 1.6) * u), round(6.4 * u))
    strip = Image.new("RGB", (picture.width * finer, tall), "white")
    pen = ImageDraw.Draw(strip)
    for line, row in enumerate(rows):
        x, y = 2.2 * u, (2.4 + 3.4 * line) * u
        for k in row:
            style = KIND_STYLE[entries[k][0]]
            shape = [(x + 0.9 * u * px, y + 0.9 * u * py) for px, py in SHAPES[style.shape]]
            pen.polygon(shape, fill=style.colour, outline="#000000", width=max(1, round(0.14 * u)))
            pen.text((x + 1.6 * u, y), entries[k][1], "#000000", font, "lm")
            x += widths[k]
    right, bottom = strip.width - 2 * u, 5.2 * u
    pen.rectangle((right - bar.length_px * finer, bottom - 0.7 * u, right, bottom), fill="#000000")
    pen.text((right - bar.length_px * finer / 2, bottom - 2.3 * u), bar.label, "#000000", font, "mm")
    whole = Image.new("RGB", (picture.width, picture.height + tall // finer), "white")
    whole.paste(picture, (0, 0))
    whole.paste(strip.reduce(finer), (0, picture.height))
    return whole
