"""Pictures in the PDF: the JPEG as it is, marks and scale bars as lines and letters over it."""

from __future__ import annotations

from io import BytesIO

from fecallab.imaging.mark_style import style_of
from fecallab.imaging.overlay import PictureMark, mark_geometry, scale_bar
from fecallab.report.model import PictureBlock
from fecallab.report.pictures import picture_mark
from fecallab.vet.page_model import Crop, VetItem, VetPicture
from fecallab.vet.pdf_paper import Letter

_HIGHEST_MM = 103.0
_UNIT_SHARE = 115
_OUTLINE_ROOM = 1.12


def crop_picture(letter: Letter, crop: Crop, x: float, y: float, side_mm: float) -> None:
    """Place a crop with ticks that point to its middle, and its scale bar."""
    letter.image(BytesIO(crop.jpeg), x, y, side_mm, side_mm)
    middle, tick = side_mm / 2, side_mm * 0.06
    for grey, weight in ((255, 0.8), (0, 0.35)):
        letter.set_draw_color(grey)
        letter.set_line_width(weight)
        letter.line(x + middle, y, x + middle, y + tick)
        letter.line(x + middle, y + side_mm - tick, x + middle, y + side_mm)
        letter.line(x, y + middle, x + tick, y + middle)
        letter.line(x + side_mm - tick, y + middle, x + side_mm, y + middle)
    letter.set_draw_color(0)
    if crop.um_per_px:
        _bar(letter, crop.um_per_px, crop.side_px, x, y, side_mm, side_mm, 0.4, 6.5)


def locator(letter: Letter, item: VetItem, picture: VetPicture, x: float, y: float, side_mm: float) -> None:
    """Place the small picture of a whole field with a ring where the mark lies."""
    block, mark = picture.block, item.mark
    if not picture.thumbnail or mark is None:
        return
    share = side_mm / max(block.width_px, block.height_px)
    letter.image(BytesIO(picture.thumbnail), x, y, block.width_px * share, block.height_px * share)
    letter.set_line_width(0.2)
    letter.rect(x, y, block.width_px * share, block.height_px * share)
    for grey, weight in ((255, 1.0), (0, 0.45)):
        letter.set_draw_color(grey)
        letter.set_line_width(weight)
        letter.circle(x + (mark.x_px + 0.5) * share, y + (mark.y_px + 0.5) * share, 1.4)
    letter.set_draw_color(0)


def field_height(letter: Letter, block: PictureBlock) -> float:
    """Return how high a field stands on the paper, mm."""
    return min(_HIGHEST_MM, letter.wide * block.height_px / block.width_px)


def field_picture(letter: Letter, picture: VetPicture, title: str) -> None:
    """Place a whole field with its marks, and its title above."""
    block = picture.block
    height = field_height(letter, block)
    width = height * block.width_px / block.height_px
    letter.keep(height + 16)
    letter.tell(title, 9.5, bold=True)
    x, y, share = letter.left, letter.at + 0.6, width / block.width_px
    letter.image(BytesIO(picture.jpeg), x, y, width, height)
    unit = max(3.0, max(block.width_px, block.height_px) / _UNIT_SHARE)
    size_px = (block.width_px, block.height_px)
    for line in block.marks:
        _mark(letter, picture_mark(line), block.um_per_px, unit, size_px, x, y, share)
    if block.um_per_px:
        _bar(letter, block.um_per_px, block.width_px, x, y, width, height, 0.25, 8)
    letter.at = y + height + 1.5
    if not block.um_per_px:
        letter.tell("The scale of this picture is not known: no scale bar, no sizes.", 8)


def _mark(
    letter: Letter,
    mark: PictureMark,
    um_per_px: float | None,
    unit: float,
    size_px: tuple[float, float],
    x: float,
    y: float,
    share: float,
) -> None:
    place = mark_geometry(mark, um_per_px, unit, size_px)
    half_long = half_short = 2.2 * unit
    if um_per_px and mark.length_um and mark.width_um:
        half = [side / um_per_px / 2 for side in (mark.length_um, mark.width_um)]
        half_long, half_short = (max(side * _OUTLINE_ROOM, side + 2) for side in half)
    middle_x, middle_y = x + (mark.x_px + 0.5) * share, y + (mark.y_px + 0.5) * share
    colour = style_of(mark.group).colour
    rgb = tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))
    with letter.rotation(-(mark.angle_deg or 0.0), middle_x, middle_y):
        for ink, weight in (((255, 255, 255), 0.75), ((0, 0, 0), 0.5), (rgb, 0.22)):
            letter.set_draw_color(*ink)
            letter.set_line_width(weight)
            if not mark.sure:
                letter.set_dash_pattern(dash=1.2, gap=0.9)
            letter.ellipse(
                middle_x - half_long * share,
                middle_y - half_short * share,
                2 * half_long * share,
                2 * half_short * share,
            )
    letter.set_dash_pattern()
    badge = [(x + (px + 0.5) * share, y + (py + 0.5) * share) for px, py in place.badge]
    letter.set_fill_color(*(rgb if mark.sure else (255, 255, 255)))
    for ink, weight, style in (((255, 255, 255), 0.7, "D"), ((0, 0, 0), 0.2, "DF")):
        letter.set_draw_color(*ink)
        letter.set_line_width(weight)
        letter.polygon(badge, style=style)
    letter.set_fill_color(255)
    _halo_text(
        letter, x + (place.text_at[0] + 0.5) * share, y + (place.text_at[1] + 0.5) * share, place.text, 8
    )
    letter.set_draw_color(0)


def _halo_text(letter: Letter, x: float, middle_y: float, text: str, size: float) -> None:
    """Write a short text that stands out from any picture: a white rim under black letters."""
    letter.pen(size, bold=True)
    base = middle_y + size * 0.3528 * 0.36
    letter.set_draw_color(255)
    letter.set_line_width(0.55)
    with letter.local_context(text_mode="STROKE"):
        letter.text(x, base, text)
    letter.text(x, base, text)
    letter.set_draw_color(0)


def _bar(
    letter: Letter,
    um_per_px: float,
    width_px: float,
    x: float,
    y: float,
    width_mm: float,
    height_mm: float,
    share: float,
    size: float,
) -> None:
    bar = scale_bar(um_per_px, width_px, share)
    length = bar.length_px / width_px * width_mm
    right, bottom = x + width_mm * 0.97, y + height_mm * 0.965
    letter.set_fill_color(0)
    letter.set_draw_color(255)
    letter.set_line_width(0.35)
    letter.rect(right - length, bottom - 0.8, length, 0.8, style="DF")
    letter.set_fill_color(255)
    letter.pen(size, bold=True)
    half = letter.get_string_width(bar.label) / 2
    _halo_text(letter, right - length / 2 - half, bottom - 1.4 - size * 0.18, bar.label, size)
