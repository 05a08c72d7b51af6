"""How wide the field of view is, with its uncertainty: from the numbers on the microscope or from a plain ruler."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fecallab.domain.checked import positive_number
from fecallab.domain.measuring import Z95, Amount

FIELD_NUMBER_SE_MM = 0.29
"""A field number is printed to the whole millimetre: half a step, evenly spread (derived: 0.5 / √3)."""
OBJECTIVE_SE_SHARE = 0.025
"""Half of the 5 % by which objectives may miss their magnification (common practice, no source)."""
RULER_READING_SE_MM = 0.2
"""How well a field is read on a plain millimetre ruler (own choice, no source)."""


@dataclass(frozen=True)
class FieldDiameter:
    """Diameter of the field of view, and where it comes from."""

    diameter: Amount
    from_words: str


def field_from_numbers(field_number: float, objective: float) -> FieldDiameter:
    """Return the field's diameter in µm from the numbers on eyepiece and objective, with its uncertainty.

    Examples
    --------
    >>> found = field_from_numbers(20, 40).diameter
    >>> round(found.value), round(found.half_width)
    (500, 28)
    """
    from fecallab.domain.field import field_diameter_mm

    diameter = 1000 * field_diameter_mm(field_number, objective)
    share = math.hypot(FIELD_NUMBER_SE_MM / field_number, OBJECTIVE_SE_SHARE)
    words = f"field number {field_number:g} / objective {objective:g}"
    return FieldDiameter(Amount(diameter, Z95 * share * diameter), words)


def field_from_ruler(
    ruler_mm: float, ruler_objective: float, objective: float | None = None
) -> FieldDiameter:
    """Return the field's diameter in µm from a plain ruler read under the lowest objective.

    Parameters
    ----------
    ruler_mm : float
        Millimetres of the ruler that span the field.
    ruler_objective : float
        Objective with which it was read.
    objective : float, optional
        Objective now; the same when left out. The two magnifications make it less certain.

    Examples
    --------
    >>> found = field_from_ruler(4.5, 4, 40).diameter
    >>> round(found.value), round(found.half_width)
    (450, 50)
    """
    from fecallab.domain.field import field_diameter_mm

    positive_number(ruler_mm, "what the ruler shows", least=0.05, most=100, unit="mm")
    same = objective is None or objective == ruler_objective
    ratio = 1.0 if same else field_diameter_mm(20, objective or 1) / field_diameter_mm(20, ruler_objective)
    share = math.hypot(RULER_READING_SE_MM / ruler_mm, 0.0 if same else math.sqrt(2) * OBJECTIVE_SE_SHARE)
    diameter = 1000 * ruler_mm * ratio
    words = f"{ruler_mm:g} mm on a ruler at {ruler_objective:g}×" + ("" if same else f", now {objective:g}×")
    return FieldDiameter(Amount(diameter, Z95 * share * diameter), words)
