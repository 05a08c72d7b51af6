"""How much a field of view shows: its size, its share of the cover glass, and counts per area."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fecallab.domain.checked import fraction, positive_number, whole_count
from fecallab.domain.errors import BadInput

COVER_GLASS_SIDES_MM = {
    "18x18": (18.0, 18.0),
    "20x20": (20.0, 20.0),
    "22x22": (22.0, 22.0),
    "22x50": (22.0, 50.0),
}
"""Nominal sides of usual cover glasses (trade sizes; common practice)."""
FIELD_NUMBER_RANGE_MM = (4.0, 40.0)
"""Field numbers that eyepieces have (common practice, no source)."""
OBJECTIVE_RANGE = (0.25, 250.0)
"""Magnifications that objectives have, stereo microscopes included (common practice, no source)."""


def cover_glass_area_mm2(cover_glass: str) -> float:
    """Return the area of a cover glass from its nominal sides.

    Examples
    --------
    >>> cover_glass_area_mm2("22x22"), cover_glass_area_mm2("22x50")
    (484.0, 1100.0)
    """
    wide, long = _sides_mm(cover_glass)
    return wide * long


def _sides_mm(cover_glass: str) -> tuple[float, float]:
    try:
        return COVER_GLASS_SIDES_MM[cover_glass]
    except KeyError:
        raise BadInput(
            f"{cover_glass!r} is no cover glass that is known here.",
            next=f"Known are {', '.join(COVER_GLASS_SIDES_MM)} (mm).",
            code="cover-glass-unknown",
        ) from None


def _objective(power: float) -> float:
    least, most = OBJECTIVE_RANGE
    return positive_number(power, "the objective", least=least, most=most, unit="times")


def field_diameter_mm(field_number: float, objective: float, *, tube_factor: float = 1.0) -> float:
    """Return the diameter of the field of view.

    Parameters
    ----------
    field_number : float
        The number on the eyepiece (FN), in mm: 18, 20, 22.
    objective : float
        Magnification of the objective, not of the whole microscope.
    tube_factor : float
        Extra tube lens factor, 1 on most microscopes.

    Notes
    -----
    Field number / (objective x tube factor) (read: 20 / 40 = 0.50 mm; FN 18 gives 0.18 mm at 100x).

    Examples
    --------
    >>> field_diameter_mm(20, 40), field_diameter_mm(18, 100)
    (0.5, 0.18)
    """
    least, most = FIELD_NUMBER_RANGE_MM
    number = positive_number(
        field_number, "the field number (as in 10x/20)", least=least, most=most, unit="mm"
    )
    power = _objective(objective)
    return number / (power * positive_number(tube_factor, "the tube factor", least=0.1, most=10))


def field_area_mm2(diameter_mm: float) -> float:
    """Return the area of a round field.

    Examples
    --------
    >>> round(field_area_mm2(1.8), 3)
    2.545
    """
    return math.pi / 4 * positive_number(diameter_mm, "the diameter", least=0.001, most=1000, unit="mm") ** 2


def covered_share(diameter_mm: float, *, fields: int = 1, cover_glass: str = "22x22") -> float:
    """Return the share of the cover glass that these fields show, if none overlaps another (at most 1).

    A field wider than the glass is cut at the glass's edges.

    Examples
    --------
    >>> round(covered_share(0.45, fields=10), 4)
    0.0033
    """
    sides = _sides_mm(cover_glass)
    radius = positive_number(diameter_mm, "the diameter", least=0.001, most=1000, unit="mm") / 2
    whole = sides[0] * sides[1]
    seen = field_area_mm2(diameter_mm)
    if radius >= math.hypot(*sides) / 2:
        seen = whole
    else:
        for half in (sides[0] / 2, sides[1] / 2):
            if radius > half:
                cut = radius**2 * math.acos(half / radius) - half * math.sqrt(radius**2 - half**2)
                seen -= 2 * cut
    return min(1.0, whole_count(fields, "the number of fields") * seen / whole)


def fields_to_cover(share: float, diameter_mm: float, *, cover_glass: str = "22x22") -> int:
    """Return the least number of fields, none overlapping, that together show this share of the glass.

    Rounded up, since a part of a field is a field.

    Examples
    --------
    >>> fields_to_cover(1 / 3, 0.5)
    822
    """
    wanted = fraction(share, "the share of the cover glass")
    return math.ceil(wanted / covered_share(diameter_mm, cover_glass=cover_glass) * (1 - 1e-12))


def camera_field_mm(
    sensor_width_mm: float, sensor_height_mm: float, objective: float, *, adapter_factor: float = 1.0
) -> tuple[float, float]:
    """Return width and height of what a camera sees: sensor / (objective x adapter factor).

    Examples
    --------
    >>> [round(side, 2) for side in camera_field_mm(6.4, 4.8, 40, adapter_factor=0.5)]
    [0.32, 0.24]
    """
    power = _objective(objective)
    power *= positive_number(adapter_factor, "the adapter factor", least=0.01, most=100)
    width = positive_number(sensor_width_mm, "the sensor's width", least=0.1, most=100, unit="mm")
    height = positive_number(sensor_height_mm, "the sensor's height", least=0.1, most=100, unit="mm")
    return width / power, height / power


def per_mm2(per_field: float, area_mm2: float) -> float:
    """Return organisms per mm2 from organisms per field, so that microscopes can be compared.

    Examples
    --------
    >>> wide, narrow = field_area_mm2(2.2), field_area_mm2(1.8)
    >>> round(per_field(per_mm2(10, wide), narrow), 2)  # 10 per field with FN 22 is 6.69 with FN 18
    6.69
    """
    return _not_negative(per_field) / positive_number(
        area_mm2, "the field's area", least=1e-6, most=1e6, unit="mm2"
    )


def per_field(per_square_mm: float, area_mm2: float) -> float:
    """Return organisms per field from organisms per mm2; the way back from `per_mm2`."""
    return _not_negative(per_square_mm) * positive_number(
        area_mm2, "the field's area", least=1e-6, most=1e6, unit="mm2"
    )


def _not_negative(value: float) -> float:
    return 0.0 if value == 0 else positive_number(value, "the number of organisms", least=1e-12, most=1e12)


@dataclass(frozen=True)
class GramEstimate:
    """A burden per gram guessed from fields: an order of magnitude and no more.

    Attributes
    ----------
    per_g : float
        The scaled-up number; never to be shown bare.
    ten_to : int or None
        The power of ten at or below ``per_g``; None when nothing was seen.
    """

    per_g: float
    ten_to: int | None

    def __str__(self) -> str:
        if self.ten_to is None:
            return "none seen"
        low, high = 10.0**self.ten_to, 10.0 ** (self.ten_to + 1)
        return f"order of magnitude only: between {low:,.10g} and {high:,.10g} per gram"


def per_gram_from_fields(
    mean_per_field: float, area_mm2: float, grams_under_glass: float, *, cover_glass: str = "22x22"
) -> GramEstimate:
    """Scale a mean per field up to a gram, as an order of magnitude.

    Parameters
    ----------
    mean_per_field : float
        Organisms per field.
    area_mm2 : float
        Area of one field.
    grams_under_glass : float
        Faeces under the cover glass in g; a low cone on a stick end is about 0.002 g (read, a human
        diagnostic manual) and a guess unless weighed.

    Notes
    -----
    Mean x (cover glass / field area) / grams (computed). The counting error and the guessed mass both
    go straight into the result.

    Examples
    --------
    >>> print(per_gram_from_fields(0.4, field_area_mm2(1.8), 0.002))
    order of magnitude only: between 10,000 and 100,000 per gram
    """
    grams = positive_number(
        grams_under_glass, "the faeces under the cover glass", least=1e-6, most=10, unit="g"
    )
    value = per_mm2(mean_per_field, area_mm2) * cover_glass_area_mm2(cover_glass) / grams
    return GramEstimate(value, math.floor(math.log10(value)) if value > 0 else None)
