"""Pictures of a page: the JPEG as text, and its marks drawn over it as lean SVG.

The geometry (where outline, shape and number of a mark lie) is that of `imaging.overlay`; only the writing
differs: an ellipse instead of a polygon and every shape defined once, so that thousands of marks stay within
the page's budget.
"""

from __future__ import annotations

import base64
import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from html import escape
from pathlib import Path

from fecallab.imaging.mark_style import SHAPES, UNKNOWN_STYLE, style_of
from fecallab.imaging.overlay import PictureMark, mark_geometry, scale_bar_svg
from fecallab.imaging.read import scaled_jpeg
from fecallab.report.figures import size
from fecallab.report.model import MarkLine, PictureBlock
from fecallab.report.words import seen_words

LONGEST_PX = 1000
"""Longest side of an embedded picture (own choice: sharp on a phone and at 180 dots per inch on paper; usual
phone pictures are four times as wide, which their decoder can skip quickly)."""
JPEG_QUALITY = 80
_OUTLINE_ROOM = 1.12
_SHARE_OF_SIDE = 115
"""The radius of a group's shape is the longer side through this (own choice: legible on a phone)."""


def jpeg_of(picture: PictureBlock) -> bytes:
    """Return the JPEG that is embedded: the bytes as given, or the file scaled down.

    Raises
    ------
    BadInput, CouldNot
        When the file is no picture or cannot be read.
    """
    if isinstance(picture.picture, Path):
        return scaled_jpeg(picture.picture, LONGEST_PX, JPEG_QUALITY)
    return picture.picture


def jpegs_of(shown: Sequence[PictureBlock]) -> list[bytes]:
    """Return the JPEG of every picture, read and scaled side by side (decoders let other threads run)."""
    if len(shown) < 2:
        return [jpeg_of(picture) for picture in shown]
    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        return list(pool.map(jpeg_of, shown))


def data_uri(jpeg: bytes) -> str:
    """Return a JPEG as a ``data:`` address."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def shape_defs(pictures: Iterable[PictureBlock]) -> str:
    """Return one hidden SVG that defines every shape that these pictures use, each in the unit circle."""
    names = sorted({style_of(line.group).shape for picture in pictures for line in picture.marks})
    drawn = "".join(
        f'<path id="shape-{_word(name)}" vector-effect="non-scaling-stroke" d="{_path(name)}"/>'
        for name in names
    )
    return (
        f'<svg class="defs" width="0" height="0" aria-hidden="true"><defs>{drawn}</defs></svg>'
        if names
        else ""
    )


def shape_key(group: str, *, sure: bool = True) -> str:
    """Return a small SVG of a group's shape, for the table of marks; hollow when unsure."""
    style = style_of(group)
    fill = style.colour if sure else "#fff"
    return (
        '<svg class="key" viewBox="-1.3 -1.3 2.6 2.6" aria-hidden="true">'
        f'<use href="#shape-{_word(style.shape)}" fill="{fill}" stroke="#000" stroke-width="1.2"/></svg>'
    )


def overlay(picture: PictureBlock, name: str) -> str:
    """Return the marks and the scale bar of a picture as one SVG element to lay over it.

    Parameters
    ----------
    picture : PictureBlock
        With its marks in the pixels of the full picture.
    name : str
        A word that is unique on the page; ids start with it.
    """
    width, height = picture.width_px, picture.height_px
    unit = max(3.0, max(width, height) / _SHARE_OF_SIDE)
    layers = _layers(picture, unit, name)
    bar = scale_bar_svg(picture.um_per_px, width, height) if picture.um_per_px else ""
    if not layers and not bar:
        return ""
    return (
        f'<svg class="overlay" viewBox="0 0 {width} {height}" style="--side:{max(width, height)}"'
        f' aria-hidden="true">{layers}{bar}</svg>'
    )


def alt_text(picture: PictureBlock) -> str:
    """Describe a picture and its marks for those who do not see it."""
    if picture.marks:
        found = f"{len(picture.marks)} mark" + ("" if len(picture.marks) == 1 else "s")
        found += ", listed in the table below"
    elif picture.counts:
        found = f"not marked; counted: {seen_words(picture.counts)}"
    else:
        found = "no marks"
    scale = "with a scale bar" if picture.um_per_px else "no scale known"
    return f"Micrograph, {picture.title}: {found}; {scale}."


def mark_rows(picture: PictureBlock) -> list[dict[str, object]]:
    """Return the rows of the table under a picture."""
    return [
        {
            "number": f"{line.number}" if line.mark.sure else f"{line.number}?",
            "key": shape_key(line.group, sure=line.mark.sure),
            "words": line.words,
            "sure": line.mark.sure,
            "size": size(line.mark.length_um, line.mark.width_um),
            "named_by": line.mark.named_by,
            "vets_word": line.vets_word,
            "keepers_word": line.keepers_word,
        }
        for line in picture.marks
    ]


def _layers(picture: PictureBlock, unit: float, name: str) -> str:
    by_look: dict[tuple[str, bool], list[MarkLine]] = {}
    for line in picture.marks:
        by_look.setdefault((line.group, line.mark.sure), []).append(line)
    drawn, labels = [], []
    for number, ((group, sure), lines) in enumerate(by_look.items()):
        style = style_of(group) if group else UNKNOWN_STYLE
        fill = style.colour if sure else "#fff"
        dash = "" if sure else f' stroke-dasharray="{unit:.1f} {0.8 * unit:.1f}"'
        outlines, badges = [], []
        for line in lines:
            mark = picture_mark(line)
            place = mark_geometry(mark, picture.um_per_px, unit, (picture.width_px, picture.height_px))
            outlines.append(_ellipse(mark, picture.um_per_px, unit))
            x, y = place.text_at[0] + 0.5, place.text_at[1] + 0.5
            shape = f'<use href="#shape-{_word(style.shape)}"'
            badges.append(f'{shape} transform="translate({x - 1.45 * unit:.1f} {y:.1f})scale({unit:.1f})"/>')
            labels.append(f'<text x="{x:.1f}" y="{y:.1f}">{escape(place.text)}</text>')
        own = f"{name}-{number}"
        strokes = "".join(
            f'<use href="#{own}" stroke="{colour}" stroke-width="{part * unit:.1f}"/>'
            for colour, part in (("#fff", 0.62), ("#000", 0.42), (style.colour, 0.2))
        )
        drawn.append(
            f'<g fill="none"{dash}><g id="{own}">{"".join(outlines)}</g>{strokes}</g>'
            f'<defs><g id="{own}b">{"".join(badges)}</g></defs>'
            f'<use href="#{own}b" fill="#fff" stroke="#fff" stroke-width="3.5"/>'
            f'<use href="#{own}b" fill="{fill}" stroke="#000" stroke-width="1.2"/>'
        )
    if not drawn:
        return ""
    return (
        f"{''.join(drawn)}"
        f'<g class="number" font-size="{2.6 * unit:.1f}" stroke-width="{0.5 * unit:.1f}">'
        f"{''.join(labels)}</g>"
    )


def picture_mark(line: MarkLine) -> PictureMark:
    """Return a line of the page as a mark to draw."""
    mark = line.mark
    return PictureMark(
        x_px=mark.x_px,
        y_px=mark.y_px,
        length_um=mark.length_um,
        width_um=mark.width_um,
        angle_deg=mark.angle_deg,
        group=line.group,
        sure=mark.sure,
        number=line.number,
    )


def _ellipse(mark: PictureMark, um_per_px: float | None, unit: float) -> str:
    """Return the outline that `mark_geometry` gives as a polygon, written as an ellipse."""
    if um_per_px and mark.length_um and mark.width_um:
        half = [side / um_per_px / 2 for side in (mark.length_um, mark.width_um)]
        long_px, short_px = (max(side * _OUTLINE_ROOM, side + 2) for side in half)
    else:
        long_px = short_px = 2.2 * unit
    turn = f"rotate({mark.angle_deg:.1f})" if mark.angle_deg else ""
    place = f"translate({mark.x_px + 0.5:.1f} {mark.y_px + 0.5:.1f}){turn}"
    return f'<ellipse transform="{place}" rx="{long_px:.1f}" ry="{short_px:.1f}"/>'


def _path(shape: str) -> str:
    points: Sequence[tuple[float, float]] = SHAPES[shape]
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points) + "Z"


def _word(shape: str) -> str:
    return shape.replace(" ", "-")
