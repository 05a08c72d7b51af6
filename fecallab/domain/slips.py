"""Slips of the decimal point and of units, named in words."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from fecallab.domain.figures import figure_text

POUNDS_PER_KG = 1 / Decimal("0.45359237")
"""Exact by definition of the pound."""
GRAMS_PER_OUNCE = Decimal("28.349523125")
"""Exact by definition of the ounce."""

_WORDS = (
    (Decimal(10), "the decimal point by one place", "ten times"),
    (Decimal(100), "the decimal point by two places", "a hundred times"),
    (Decimal(1000), "a unit: grams, milligrams and micrograms, or kg and g", "a thousand times"),
    (POUNDS_PER_KG, "pounds and kg", "2.2 times"),
    (GRAMS_PER_OUNCE, "ounces and grams", "28 times"),
)


@dataclass(frozen=True)
class Slip:
    """A usual slip that would explain a figure.

    Attributes
    ----------
    factor : Decimal
        10, 100, 1000, 2.2046 or 28.35.
    too_large : bool
        Whether the figure typed is the larger one.
    corrected : Decimal
        The figure without the slip.
    words : str
        The slip in plain words.
    """

    factor: Decimal
    too_large: bool
    corrected: Decimal
    words: str

    @property
    def of_units(self) -> bool:
        """Whether units were mixed up, and not only the decimal point moved."""
        return self.factor not in (10, 100)


def find_slips(typed: Decimal, low: Decimal, high: Decimal, tolerance: Decimal) -> tuple[Slip, ...]:
    """Name the usual slips that would bring a figure into a range.

    Parameters
    ----------
    typed : Decimal
        The figure as typed.
    low, high : Decimal
        The range it should lie in, both ends inclusive.
    tolerance : Decimal
        Share by which the corrected figure may miss the range (units are rounded in the head).

    Returns
    -------
    tuple of Slip
        Empty when the figure lies in the range or no slip explains it.

    Examples
    --------
    >>> [slip.words for slip in find_slips(Decimal(200), Decimal(20), Decimal(50), Decimal("0.02"))]
    ['200 is ten times 20, which would fit: was it the decimal point by one place?']
    """
    if low <= typed <= high:
        return ()
    slips = []
    for factor, what, times in _WORDS:
        for too_large in (True, False):
            corrected = typed / factor if too_large else typed * factor
            if low * (1 - tolerance) <= corrected <= high * (1 + tolerance):
                first, second = figure_text(typed), figure_text(Decimal(f"{corrected:.4g}"))
                than = f"{times} {second}" if too_large else f"{times} less than {second}"
                words = f"{first} is {than}, which would fit: was it {what}?"
                slips.append(Slip(factor, too_large, corrected, words))
    return tuple(slips)


def celsius_if_fahrenheit(value: Decimal) -> Decimal:
    """Return what a figure would be in °C if it had been read in °F; exact by definition.

    Examples
    --------
    >>> celsius_if_fahrenheit(Decimal(86))
    Decimal('30')
    """
    return (value - 32) * 5 / 9
