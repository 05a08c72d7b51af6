"""What moves in a clip, drawn for the page: over its stills, as a picture for paper, and as a small sign for a table."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fecallab.imaging.motility import MotilityResult, MovingBody

_MOST_POINTS = 60
"""A way is drawn with these at most: more is not seen on a still (own choice)."""
_WITH_WAY = ("swimming", "cannot-tell", "drifting")
PICTURE_LONGEST_PX, PICTURE_QUALITY = 1000, 85


def tracks_svg(found: MotilityResult, frame: int) -> str:
    """Return what moves at one frame as an SVG fragment, in the pixels of the clip.

    Parameters
    ----------
    found : MotilityResult
    frame : int
        Which frame the still is.

    Returns
    -------
    str
        For each body that is there its shape, for what moves its way so far, for swimmers their number; the
        scale bar. Numbers and ``#RRGGBB`` only: nothing of it was typed by anybody.
    """
    from fecallab.imaging.motility.paint import KIND_STYLE
    from fecallab.imaging.overlay import scale_bar_svg
    from fecallab.report.moving import MEANS

    unit = max(4.0, max(found.width_px, found.height_px) / 75)
    drawn = []
    for kind in reversed(MEANS):
        for one in found.of_kind(kind):
            way = _way(one, found, frame)
            if way is None:
                continue
            colour = KIND_STYLE[kind].colour
            if kind in _WITH_WAY and len(way) > 1:
                points = " ".join(f"{x:.1f},{y:.1f}" for x, y in way)
                line = f'<polyline points="{points}" fill="none" stroke-linejoin="round"'
                drawn.append(f'{line} stroke="#000000" stroke-width="{0.42 * unit:.1f}"/>')
                drawn.append(f'{line} stroke="{colour}" stroke-width="{0.26 * unit:.1f}"/>')
            x, y = way[-1]
            size = unit * (0.8 if kind in ("swimming", "cannot-tell") else 0.5)
            drawn.append(_shape(kind, x, y, size))
            if kind == "swimming":
                drawn.append(
                    f'<text class="number" x="{x + 1.1 * unit:.1f}" y="{y:.1f}" font-size="{2.2 * unit:.1f}"'
                    f' stroke-width="{0.35 * unit:.1f}">{one.number}</text>'
                )
    return "".join(drawn) + scale_bar_svg(found.um_per_px, found.width_px, found.height_px)


def kind_sign(kind: str) -> str:
    """Return the shape of a kind of track as a small SVG for a line of text."""
    return (
        f'<svg class="kind-sign" viewBox="-1.3 -1.3 2.6 2.6" aria-hidden="true">{_shape(kind, 0, 0, 1)}</svg>'
    )


def _shape(kind: str, x: float, y: float, size: float) -> str:
    from fecallab.imaging.mark_style import SHAPES
    from fecallab.imaging.motility.paint import KIND_STYLE

    style = KIND_STYLE[kind]
    points = " ".join(f"{x + size * px:.2f},{y + size * py:.2f}" for px, py in SHAPES[style.shape])
    return (
        f'<polygon points="{points}" fill="{style.colour}" stroke="#000000" stroke-width="{0.2 * size:.2f}"/>'
    )


def _way(one: MovingBody, found: MotilityResult, frame: int) -> NDArray[np.float64] | None:
    """Return where a body went up to a frame, as seen from that frame; None where it is not there then."""
    if not one.frames[0] <= frame <= one.frames[-1]:
        return None
    so_far = one.frames <= frame
    frames, way = one.frames[so_far], one.xy_px[so_far]
    if len(found.camera_px) > frame:
        way = way - found.camera_px[frames] + found.camera_px[frame]
    if one.kind == "stuck":
        way = way[:1]
    return np.asarray(way[:: -max(1, -(-len(way) // _MOST_POINTS))][::-1])


def tracks_jpeg(file: Path, fps: float | None, found: MotilityResult) -> bytes:
    """Return the ways of the first field of a clip with legend and scale bar, as a JPEG for paper."""
    from PIL import Image

    from fecallab.imaging.motility import open_clip
    from fecallab.imaging.motility.paint import tracks_png

    with Image.open(io.BytesIO(tracks_png(open_clip(file, fps), found))) as drawn:
        image = drawn.convert("RGB")
    image.thumbnail((PICTURE_LONGEST_PX, PICTURE_LONGEST_PX))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=PICTURE_QUALITY)
    return out.getvalue()
