"""What a picture itself says to whoever marks in it: its lit circle, its blur, and whether to take it again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fecallab.imaging.field import LitCircle
    from fecallab.imaging.read import PictureArray


@dataclass(frozen=True)
class PictureFacts:
    """What was found in a picture.

    Attributes
    ----------
    circle : LitCircle or None
        The round field of a phone at the eyepiece.
    blur_px : float
        Standard deviation of the blur of the edges; 0 where it cannot be told.
    verdict : str
        ``good``, ``usable`` or ``take it again``.
    lines : tuple of str
        What is wrong with it and what to do, one line each.
    """

    circle: LitCircle | None
    blur_px: float
    verdict: str
    lines: tuple[str, ...] = ()

    def outside_circle(self, x_px: float, y_px: float) -> bool:
        """Say whether a place lies outside the lit circle."""
        circle = self.circle
        return (
            circle is not None and math.hypot(x_px - circle.x_px, y_px - circle.y_px) > circle.diameter_px / 2
        )


def facts_of_pixels(pixels: PictureArray) -> PictureFacts:
    """Judge a picture; one of a single pixel or all black has its words too."""
    from fecallab.imaging.quality import check_picture

    found = check_picture(pixels)
    return PictureFacts(
        circle=found.circle,
        blur_px=found.blur_px or 0.0,
        verdict=found.verdict,
        lines=tuple(f"{one.text} {one.next}".strip() for one in found.findings),
    )
