"""How many µm one pixel is: from a stage micrometer, a counting grid, a known object or the lit circle.

A pixel size in the file's metadata is shown and never used: it knows nothing of the objective that was in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fecallab.domain.checked import positive_number
from fecallab.domain.errors import BadInput
from fecallab.domain.field_diameter import FieldDiameter
from fecallab.domain.measuring import POINTING_SE_PX, Z95, Point, Scale
from fecallab.imaging.field import LitCircle, find_lit_circle
from fecallab.imaging.grey import working_copy
from fecallab.imaging.grid import find_grid
from fecallab.imaging.ruler import find_lines
from fecallab.imaging.samples import PictureArray

_BEND_WORTH_SAYING = 0.01
_BY_HAND = "Or give two ends whose distance you know: --known-um 100 --from x,y --to x,y"


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """A scale and where it comes from.

    Attributes
    ----------
    um_per_px : float
        Scale of the picture.
    ci95 : (float, float)
        Its 95 % interval.
    angle_deg : float or None
        Direction of the ruler from +x towards +y (down), 0 ≤ angle < 180; None for a circle.
    how : str
        In words.
    lines : int or None
        Lines that were placed.
    remarks : tuple of str
        What the reader should know: distortion, few lines.
    circle : LitCircle or None
        The lit circle, where it gave the scale.
    """

    um_per_px: float
    ci95: tuple[float, float]
    angle_deg: float | None
    how: str
    lines: int | None = None
    remarks: tuple[str, ...] = ()
    circle: LitCircle | None = None

    @property
    def scale(self) -> Scale:
        """The scale for measuring."""
        return Scale(self.um_per_px, max(self.ci95[1] - self.um_per_px, self.um_per_px - self.ci95[0]))


def _interval(value: float, share: float) -> tuple[float, float]:
    return value * (1 - share), value * (1 + share)


def by_ruler(pixels: PictureArray, division_um: float, near_px: float | None = None) -> Calibration:
    """Calibrate from a picture of a stage micrometer.

    Parameters
    ----------
    pixels : ndarray
        The picture, as :func:`fecallab.imaging.read.open_picture` returns it.
    division_um : float
        Distance of two neighbouring lines, the finest ones, in µm (10 on most stage micrometers).
    near_px : float, optional
        Their distance in pixels, roughly, when the picture holds several scales.

    Raises
    ------
    BadInput
        When no ruler is found.
    """
    division_um = positive_number(
        division_um, "the distance of two lines", least=0.01, most=100_000, unit="µm"
    )
    copy = working_copy(pixels)
    found = find_lines(copy.grey, near_px=None if near_px is None else near_px / copy.shrink)
    if found is None or not found.convincing:
        raise BadInput(
            "No ruler was found in this picture: five or more evenly spaced lines are needed.",
            next=f"Focus on the lines and let them fill the picture. {_BY_HAND}",
            code="no-ruler",
        )
    um_per_px = division_um / found.spacing_px / copy.shrink
    share = found.half_width_px() / found.spacing_px
    remarks = []
    if abs(found.bend) > _BEND_WORTH_SAYING:
        remarks.append(
            f"The lines lie {100 * abs(found.bend):.1f} % closer at one end than at the other: lens or tilt."
            " Measure near the middle of the picture."
        )
    if found.lines < 15:
        remarks.append(f"Only {found.lines} lines were used; let more of the ruler be seen if you can.")
    return Calibration(
        um_per_px=um_per_px,
        ci95=_interval(um_per_px, share),
        angle_deg=found.angle_deg,
        how=f"{found.lines} lines of {division_um:g} µm, {found.spacing_px * copy.shrink:.3f} pixels apart",
        lines=found.lines,
        remarks=tuple(remarks),
    )


def by_grid(pixels: PictureArray, square_um: float, near_px: float | None = None) -> Calibration:
    """Calibrate from a counting grid; parameters as :func:`by_ruler`, `square_um` is the side of a square."""
    square_um = positive_number(square_um, "the side of a square", least=0.01, most=100_000, unit="µm")
    copy = working_copy(pixels)
    found = find_grid(copy.grey, None if near_px is None else near_px / copy.shrink)
    if found is None:
        raise BadInput(
            "No grid was found in this picture: five or more evenly spaced lines in two directions are needed.",
            next=f"Say how many pixels a square is wide: --about-px 120. {_BY_HAND}",
            code="no-grid",
        )
    um_per_px = square_um / found.spacing_px / copy.shrink
    apart = abs(found.across.spacing_px / found.down.spacing_px - 1)
    remarks = (
        (f"The two directions differ by {100 * apart:.1f} %: lens or tilt.",)
        if apart > _BEND_WORTH_SAYING
        else ()
    )
    lines = found.across.lines + found.down.lines
    return Calibration(
        um_per_px=um_per_px,
        ci95=_interval(um_per_px, found.half_width_px() / found.spacing_px),
        angle_deg=found.across.angle_deg,
        how=f"{lines} lines of a grid of {square_um:g} µm, {found.spacing_px * copy.shrink:.3f} pixels apart",
        lines=lines,
        remarks=remarks,
    )


def by_known_object(
    known_um: float, start: Point, end: Point, *, pointing_se_px: float = POINTING_SE_PX
) -> Calibration:
    """Calibrate from two points whose distance is known.

    Examples
    --------
    >>> found = by_known_object(1000, (10, 20), (3210, 20))
    >>> found.um_per_px, [round(limit, 5) for limit in found.ci95]
    (0.3125, [0.31236, 0.31264])
    """
    known_um = positive_number(known_um, "the known distance", least=0.01, most=1_000_000, unit="µm")
    length = math.dist(start, end)
    if not (math.isfinite(length) and length >= 5):
        raise BadInput(
            f"The two ends are {length:.1f} pixels apart; five or more are needed.",
            next="Take the longest distance that fits into the picture.",
            code="known-too-short",
        )
    um_per_px = known_um / length
    share = Z95 * math.sqrt(2) * pointing_se_px / length
    angle = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0])) % 180 % 180
    short = length < 200
    return Calibration(
        um_per_px=um_per_px,
        ci95=_interval(um_per_px, share),
        angle_deg=angle,
        how=f"{known_um:g} µm between two points {length:.1f} pixels apart",
        remarks=("Take the longest distance that fits: each end is placed to half a pixel at best.",)
        if short
        else (),
    )


def by_lit_circle(pixels: PictureArray, field: FieldDiameter) -> Calibration:
    """Calibrate from the round field of a phone at the eyepiece.

    Parameters
    ----------
    pixels : ndarray
        The picture.
    field : FieldDiameter
        What the field's diameter is: :func:`fecallab.domain.field_diameter.field_from_numbers` or
        :func:`~fecallab.domain.field_diameter.field_from_ruler`.

    Raises
    ------
    BadInput
        When there is no round field in a dark surround.
    """
    circle = find_lit_circle(working_copy(pixels))
    if circle is None:
        raise BadInput(
            "No round field in a dark surround was found in this picture.",
            next="Hold the phone so that the edge of the field is seen, or photograph a stage micrometer.",
            code="no-lit-circle",
        )
    um_per_px = field.diameter.value / circle.diameter_px
    share = math.hypot(
        field.diameter.half_width / field.diameter.value, Z95 * circle.diameter_se_px / circle.diameter_px
    )
    remarks = ["This scale holds for this picture alone: a hand-held phone has no fixed scale."]
    if circle.arc < 0.5:
        remarks.append(f"Only {100 * circle.arc:.0f} % of the field's edge is in the picture.")
    if share > 0.05:
        by_ruler = "ruler" in field.from_words
        other = "" if by_ruler else " or a ruler under the lowest objective"
        remarks.append(f"A stage micrometer{other} would be more certain.")
    return Calibration(
        um_per_px=um_per_px,
        ci95=_interval(um_per_px, share),
        angle_deg=None,
        how=f"{field.from_words} = {field.diameter.value:.0f} µm across {circle.diameter_px:.0f} pixels",
        remarks=tuple(remarks),
        circle=circle,
    )
