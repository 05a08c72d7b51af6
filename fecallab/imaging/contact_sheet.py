"""A numbered contact sheet of marks, that somebody far away can answer by number.

Each field stands whole, with the numbers in place; below it every mark is cut out, with its number, its size and
its place in the field. There are no scores, and the keeper's own names only when asked for, so that they do not
lead the eye.
"""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark
from fecallab.imaging.overlay import PictureMark, draw_overlay, font_file, scale_bar
from fecallab.imaging.samples import PictureArray, to_8bit

_FIELD_PX, _CROP_PX, _GAP_PX, _COLUMNS = 1020, 240, 20, 4
_ROOM, _LEAST_CROP_UM, _LEAST_CROP_PX = 1.7, 40.0, 64
MOST_MARKS = 400
"""More marks than this are no contact sheet (own choice)."""


@dataclass(frozen=True)
class SheetField:
    """One field with its marks.

    Attributes
    ----------
    name : str
        Name of the picture.
    pixels : ndarray
        As :func:`fecallab.imaging.read.open_picture` returns it.
    um_per_px : float or None
        Scale, when known.
    marks : tuple of Mark
        In the order of their numbers.
    numbers : tuple of int
        Numbers that the marks have elsewhere; empty numbers them 1, 2, 3 … through all fields.
    """

    name: str
    pixels: PictureArray
    um_per_px: float | None
    marks: tuple[Mark, ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True)
class Crop:
    """One mark cut out."""

    number: int
    mark: Mark
    image: Image.Image
    words: str


def numbered(fields: Sequence[SheetField]) -> list[tuple[SheetField, list[int]]]:
    """Give every mark its number, 1, 2, 3 … through all fields.

    Raises
    ------
    BadInput
        When there are no marks, more than a sheet holds, or one lies outside its picture.
    """
    total = sum(len(field.marks) for field in fields)
    if not 1 <= total <= MOST_MARKS:
        raise BadInput(
            f"There are {total} marks; a contact sheet shows 1 to {MOST_MARKS}.",
            next="Name the pictures that the marks are on; make several sheets of many.",
            code="sheet-marks",
        )
    result, next_number = [], 1
    for field in fields:
        height, width = field.pixels.shape[:2]
        for mark in field.marks:
            if not (-0.5 <= mark.x_px < width and -0.5 <= mark.y_px < height):
                raise BadInput(
                    f"A mark at {mark.x_px:g}, {mark.y_px:g} lies outside {field.name} ({width} × {height} pixels).",
                    next="Check that the marks belong to this picture.",
                    code="mark-outside",
                )
        numbers = list(field.numbers) or list(range(next_number, next_number + len(field.marks)))
        next_number += len(field.marks)
        result.append((field, numbers))
    return result


def picture_marks(marks: Sequence[Mark], numbers: Sequence[int], groups: Sequence[str]) -> list[PictureMark]:
    """Turn recorded marks into marks to draw."""
    return [
        PictureMark(one.x_px, one.y_px, one.length_um, one.width_um, one.angle_deg, group, one.sure, number)
        for one, number, group in zip(marks, numbers, groups, strict=True)
    ]


def _overview(field: SheetField, numbers: Sequence[int]) -> NDArray[np.uint8]:
    """The whole field, smaller, with plain numbered rings: no colours or shapes that would tell a name."""
    height, width = field.pixels.shape[:2]
    step = max(1, int(max(height, width) / (2 * _FIELD_PX)))
    image = Image.fromarray(to_8bit(field.pixels[::step, ::step])).convert("RGB")
    scale = min(1.0, _FIELD_PX / max(image.size))
    small = image.resize((max(1, round(image.width * scale)), max(1, round(image.height * scale))))
    share = small.width / width
    marks = [
        PictureMark(
            (m.x_px + 0.5) * share - 0.5,
            (m.y_px + 0.5) * share - 0.5,
            m.length_um,
            m.width_um,
            m.angle_deg,
            "",
            True,
            number,
        )
        for m, number in zip(field.marks, numbers, strict=True)
    ]
    return draw_overlay(np.asarray(small), marks, field.um_per_px / share if field.um_per_px else None)


def cut_out(field: SheetField, mark: Mark) -> Image.Image:
    """Cut a square around a mark out of its picture, unscaled; grey where it reaches beyond the edge."""
    height, width = field.pixels.shape[:2]
    side = float(_LEAST_CROP_PX)
    if field.um_per_px:
        side = max(side, _LEAST_CROP_UM / field.um_per_px)
        side = max(side, _ROOM * max(mark.length_um or 0, mark.width_um or 0) / field.um_per_px)
    half = max(int(min(side, max(height, width)) / 2), 4)
    x, y = round(mark.x_px), round(mark.y_px)
    cut = field.pixels[max(y - half, 0) : y + half + 1, max(x - half, 0) : x + half + 1]
    canvas = Image.new("RGB", (2 * half + 1, 2 * half + 1), "#dddddd")
    whole = to_8bit(cut) if cut.dtype == np.uint8 else _like_whole(field.pixels, cut)
    canvas.paste(Image.fromarray(whole).convert("RGB"), (max(half - x, 0), max(half - y, 0)))
    return canvas


def _crop(field: SheetField, mark: Mark, number: int, with_name: bool) -> Crop:
    height, width = field.pixels.shape[:2]
    cut = cut_out(field, mark)
    image = cut.resize((_CROP_PX, _CROP_PX), Image.Resampling.LANCZOS)
    if field.um_per_px:
        _bar(image, field.um_per_px * cut.width / _CROP_PX)
    parts = []
    if mark.length_um and mark.width_um:
        parts.append(f"{mark.length_um:.0f} × {mark.width_um:.0f} µm")
    elif mark.length_um:
        parts.append(f"{mark.length_um:.0f} µm long")
    parts.append(
        f"at {100 * (mark.x_px + 0.5) / width:.0f} % right, {100 * (mark.y_px + 0.5) / height:.0f} % down"
    )
    if with_name:
        parts.append(f"{mark.name}{'' if mark.sure else ' ?'}")
    return Crop(number, mark, image, ", ".join(parts))


def _like_whole(pixels: PictureArray, cut: PictureArray) -> NDArray[np.uint8]:
    """Bring a part of a 16-bit picture to 8 bits with the white of the whole."""
    brightest = int(pixels.max())
    depth = next(bits for bits in (8, 10, 12, 14, 16) if brightest < 2**bits)
    return np.asarray(cut >> (depth - 8), np.uint8)


def _bar(image: Image.Image, um_per_px: float) -> None:
    bar = scale_bar(um_per_px, image.width, 0.4)
    pen = ImageDraw.Draw(image)
    right, bottom = image.width - 8, image.height - 8
    pen.rectangle([right - bar.length_px, bottom - 5, right, bottom], fill="#000000", outline="#ffffff")
    font = ImageFont.truetype(font_file(), 14)
    middle = (right - bar.length_px / 2, bottom - 15)
    pen.text(middle, bar.label, "#000000", font, "mm", stroke_width=2, stroke_fill="#ffffff")


def sheet_crops(field: SheetField, numbers: Sequence[int], *, with_names: bool = False) -> list[Crop]:
    """Cut out every mark of a field."""
    return [_crop(field, mark, number, with_names) for mark, number in zip(field.marks, numbers, strict=True)]


def sheet_png(fields: Sequence[SheetField], *, title: str = "", with_names: bool = False) -> bytes:
    """Draw the sheet as one PNG, for a messenger.

    Parameters
    ----------
    fields : sequence of SheetField
        Fields with at least one mark in all.
    title : str, optional
        First line.
    with_names : bool, optional
        Also write the keeper's own names.

    Returns
    -------
    bytes
    """
    out = io.BytesIO()
    sheet_image(fields, title=title, with_names=with_names).save(out, "PNG", optimize=True)
    return out.getvalue()


def _heading(name: str) -> str:
    """Return what stands over a field; a name that says already what it is stays as it is."""
    return name if "field" in name.casefold() else f"Field {name}"


def sheet_image(fields: Sequence[SheetField], *, title: str = "", with_names: bool = False) -> Image.Image:
    """Draw the sheet; parameters as :func:`sheet_png`."""
    blocks: list[Image.Image] = []
    width = _COLUMNS * _CROP_PX + (_COLUMNS + 1) * _GAP_PX
    for field, numbers in numbered(fields):
        overview = Image.fromarray(_overview(field, numbers))
        crops = sheet_crops(field, numbers, with_names=with_names)
        rows = -(-len(crops) // _COLUMNS)
        top = overview.height + 60
        block = Image.new("RGB", (width, top + rows * (_CROP_PX + 70) + _GAP_PX), "white")
        pen = ImageDraw.Draw(block)
        pen.text((_GAP_PX, 14), _heading(field.name)[:90], "#000000", ImageFont.truetype(font_file(), 20))
        block.paste(overview, (_GAP_PX, 46))
        for k, crop in enumerate(crops):
            x = _GAP_PX + k % _COLUMNS * (_CROP_PX + _GAP_PX)
            y = top + _GAP_PX // 2 + k // _COLUMNS * (_CROP_PX + 70)
            block.paste(crop.image, (x, y + 30))
            pen.text((x, y), f"{crop.number}", "#000000", ImageFont.truetype(font_file(), 24))
            pen.text((x + 44, y + 2), _fold(crop.words), "#000000", ImageFont.truetype(font_file(), 10))
        blocks.append(block)
    head = Image.new("RGB", (width, 50), "white")
    words = title or "Which number is what?"
    ImageDraw.Draw(head).text((_GAP_PX, 14), words[:80], "#000000", ImageFont.truetype(font_file(), 22))
    sheet = Image.new("RGB", (width, head.height + sum(block.height for block in blocks)), "white")
    at = 0
    for part in (head, *blocks):
        sheet.paste(part, (0, at))
        at += part.height
    return sheet


def _fold(words: str) -> str:
    """Break a caption into two lines."""
    parts = words.split(", ")
    cut = 1 if len(parts) > 2 else len(parts)
    return ", ".join(parts[:cut]) + ("\n" + ", ".join(parts[cut:]) if parts[cut:] else "")


_STYLE = """
body{font:14px/1.4 system-ui,sans-serif;margin:16px auto;max-width:1040px;padding:0 12px;color:#111;background:#fff}
h1{font-size:20px}h2{font-size:16px;margin:24px 0 6px}.field{max-width:100%;height:auto;border:1px solid #777}
.marks{display:grid;grid-template-columns:repeat(auto-fill,minmax(210px,1fr));gap:14px;margin-top:12px}
figure{margin:0;break-inside:avoid}figure img{width:100%;height:auto;border:1px solid #777}
figcaption b{font-size:20px;margin-right:8px}.answer{border-bottom:1px solid #111;height:22px}
@media print{body{max-width:none;margin:0}.marks{grid-template-columns:repeat(4,1fr)}h2{break-after:avoid}}
"""


def sheet_html(fields: Sequence[SheetField], *, title: str = "", with_names: bool = False) -> str:
    """Write the sheet as one page that needs no other file, with a line for each answer; it prints on paper.

    Parameters as :func:`sheet_png`.
    """
    words = html.escape(title or "Which number is what?")
    parts = []
    for field, numbers in numbered(fields):
        name = html.escape(field.name)
        figures = []
        for crop in sheet_crops(field, numbers, with_names=with_names):
            caption = f"<b>{crop.number}</b>{html.escape(crop.words)}"
            picture = f'<img src="{_inline(crop.image)}" alt="Mark {crop.number} of field {name}">'
            figures.append(
                f'<figure id="mark-{crop.number}">{picture}<figcaption>{caption}</figcaption>'
                '<div class="answer"></div></figure>'
            )
        whole = _inline(Image.fromarray(_overview(field, numbers)))
        parts.append(
            f'<section><h2>{_heading(name)}</h2><img class="field" src="{whole}" alt="The whole field {name}">'
            f'<div class="marks">{"".join(figures)}</div></section>'
        )
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{words}</title>'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<style>{_STYLE}</style></head><body><h1>{words}</h1>"
        "<p>Answer by number. The place of each number is shown in the whole field above it.</p>"
        f"{''.join(parts)}</body></html>\n"
    )


def _inline(image: Image.Image) -> str:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")
