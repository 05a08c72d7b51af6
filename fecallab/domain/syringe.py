"""What a real syringe can measure: marks, tolerance, and which one to take for a volume."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal, localcontext


@dataclass(frozen=True)
class Syringe:
    """A syringe as the table knows it.

    Attributes
    ----------
    nominal_ml, graduation_ml : Decimal
        Size and volume between two marks.
    default : bool
        Whether it is proposed when the keeper names none.
    standard : str
        ``ISO 7886-1``, or ``ISO 8537`` for insulin syringes.
    tolerance_of_nominal, tolerance_of_volume_below_half, tolerance_of_volume_from_half : Decimal
        Terms of the capacity tolerance, as shares.
    units_per_ml : Decimal or None
        Units printed on the barrel per ml, for insulin syringes.
    """

    key: str
    nominal_ml: Decimal
    graduation_ml: Decimal
    default: bool
    standard: str
    tolerance_of_nominal: Decimal
    tolerance_of_volume_below_half: Decimal
    tolerance_of_volume_from_half: Decimal
    units_per_ml: Decimal | None = None
    tolerance_source_kind: str = ""
    note: str = ""

    def tolerance_ml(self, volume_ml: Decimal) -> Decimal:
        """Return how far the expelled volume may be off by the standard, in ml.

        Below half of the size it is a share of the size plus a share of the volume, from half on a
        larger share of the volume alone (ISO 7886-1, table 1; ISO 8537 in the same form from memory).
        """
        if volume_ml * 2 < self.nominal_ml:
            return (
                self.tolerance_of_nominal * self.nominal_ml + self.tolerance_of_volume_below_half * volume_ml
            )
        return self.tolerance_of_volume_from_half * volume_ml

    def smallest_ml(self, tolerance: Decimal) -> Decimal:
        """Return the smallest volume whose tolerance stays within a share of it, in ml.

        Raises
        ------
        ValueError
            When no volume below half of the syringe can be that exact.
        """
        spare = tolerance - self.tolerance_of_volume_below_half
        if spare <= 0:
            raise ValueError("a syringe is never more exact than its share of the volume")
        return self.tolerance_of_nominal * self.nominal_ml / spare


def round_to_mark(volume_ml: Decimal, graduation_ml: Decimal, *, down: bool = False) -> Decimal:
    """Round a volume to the marks: to the nearest, half up; down for a narrow-margin drug.

    Examples
    --------
    >>> mark = Decimal("0.01")
    >>> round_to_mark(Decimal("0.425"), mark), round_to_mark(Decimal("0.425"), mark, down=True)
    (Decimal('0.43'), Decimal('0.42'))
    """
    with localcontext(prec=60):
        marks = (volume_ml / graduation_ml).to_integral_value(ROUND_FLOOR if down else ROUND_HALF_UP)
        return marks * graduation_ml


def smallest_holding(volume_ml: Decimal, syringes: Iterable[Syringe]) -> Syringe | None:
    """Return the smallest proposed syringe that holds the whole volume in one draw, or None."""
    fitting = (item for item in syringes if item.default and item.nominal_ml >= volume_ml)
    return min(fitting, key=lambda item: (item.nominal_ml, item.graduation_ml), default=None)


def with_size(nominal_ml: Decimal, syringes: Iterable[Syringe]) -> Syringe | None:
    """Return the syringe of this size, the proposed one first, or None when no such syringe exists."""
    same = (item for item in syringes if item.nominal_ml == nominal_ml)
    return min(same, key=lambda item: not item.default, default=None)
