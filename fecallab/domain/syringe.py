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
    kind : str
        ``insulin U-100``, ``slip tip``, or ``oral`` for a syringe that takes no needle.
    dead_space_ml : Decimal
        The most that stays in tip and hub behind the zero mark.
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
    kind: str = ""
    dead_space_ml: Decimal = Decimal(0)

    @property
    def oral(self) -> bool:
        """Whether it takes no needle."""
        return self.kind == "oral"

    @property
    def mixes(self) -> bool:
        """Whether it is one to mix a dilution with: plain, no units, no needle fixed to it."""
        return not self.oral and self.units_per_ml is None

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


def draw_error_share(volume_ml: Decimal, syringe: Syringe, graduation_ml: Decimal) -> Decimal:
    """Return how far one draw may be off, as a share: the standard's tolerance and half a mark of reading.

    Both are independent, so they are added as squares under a root.
    """
    with localcontext(prec=40):
        tolerance, reading = syringe.tolerance_ml(volume_ml), graduation_ml / 2
        return (tolerance * tolerance + reading * reading).sqrt() / volume_ml


def smallest_holding(
    volume_ml: Decimal, syringes: Iterable[Syringe], *, oral: bool = False, to_mix: bool = False
) -> Syringe | None:
    """Return the smallest proposed syringe that holds the whole volume in one draw, or None.

    ``oral`` looks among the syringes without a needle only, ``to_mix`` among those for a dilution.
    """
    fitting = (
        item
        for item in syringes
        if item.default and item.nominal_ml >= volume_ml and item.oral == oral and (item.mixes or not to_mix)
    )
    return min(fitting, key=lambda item: (item.nominal_ml, item.graduation_ml), default=None)


def with_size(nominal_ml: Decimal, syringes: Iterable[Syringe], *, oral: bool = False) -> Syringe | None:
    """Return the syringe of this size, the proposed one first, or None when no such syringe exists.

    ``oral`` prefers one without a needle where both kinds have the size.
    """
    same = (item for item in syringes if item.nominal_ml == nominal_ml)
    return min(same, key=lambda item: (item.oral != oral, not item.default), default=None)
