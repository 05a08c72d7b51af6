"""A syringe, drawn to scale: every mark, the numbers that find room, the plunger at the volume."""

from __future__ import annotations

from decimal import Decimal

from fecallab.domain.spoken import volume_in_digits
from fecallab.report.sheet_paper import Paper

LABEL_STEPS = tuple(Decimal(step) for step in ("0.05", "0.1", "0.2", "0.5", "1", "2", "5", "10", "20"))
"""Numbers on a barrel stand this many ml apart; the smallest that leaves them room is taken."""
_LABEL_MM = 9.5
_BARREL_MM, _TIP_MM = 13.0, 9.0


def draw_syringe(
    pdf: Paper,
    x: float,
    y: float,
    length: float,
    nominal_ml: Decimal,
    graduation_ml: Decimal,
    draw_ml: Decimal,
    units: str = "",
) -> None:
    """Draw a lying syringe to scale, tip to the left, filled to a mark.

    Parameters
    ----------
    x, y : float
        Left end of the tip and upper edge of the barrel, mm.
    length : float
        From the tip to the nominal capacity, mm; volumes on the barrel are proportional to it.
    nominal_ml, graduation_ml : Decimal
        Size of the syringe and volume between two marks.
    draw_ml : Decimal
        Where the edge of the plunger stands.
    units : str
        The volume in units, if its marks are units.
    """
    start = x + _TIP_MM
    barrel = length - _TIP_MM

    def at(volume: Decimal) -> float:
        return start + barrel * float(volume / nominal_ml)

    here, bottom = at(draw_ml), y + _BARREL_MM
    pdf.shade(start, y, here - start, _BARREL_MM)
    pdf.set_line_width(0.4)
    pdf.rect(x, y + _BARREL_MM / 2 - 1.6, _TIP_MM, 3.2)
    pdf.rect(start, y, barrel + 6, _BARREL_MM)
    pdf.set_fill_color(0)
    pdf.rect(here, y + 0.5, min(3.2, start + barrel + 5 - here), _BARREL_MM - 1, style="F")
    pdf.set_fill_color(255)
    pdf.rect(here + 3.2, y + _BARREL_MM / 2 - 2, start + barrel + 16 - here - 3.2, 4)
    pdf.rect(start + barrel + 16, y + 1, 2, _BARREL_MM - 2)
    step = label_step(nominal_ml, graduation_ml, barrel)
    marks = int(nominal_ml / graduation_ml)
    for number in range(marks + 1):
        volume = number * graduation_ml
        tall = 4.6 if volume % step == 0 else 3.4 if (number * 2) % 10 == 0 else 2.2
        pdf.set_line_width(0.3 if tall > 4 else 0.15)
        pdf.line(at(volume), bottom - tall, at(volume), bottom)
        if volume % step == 0 and number:
            pdf.put(at(volume) - 5, bottom + 0.8, volume_in_digits(volume), 8, width=10, align="C")
    pdf.put(start + barrel + 7, bottom + 0.8, "ml", 8)
    pdf.set_line_width(0.6)
    pdf.line(here, y - 5.5, here, bottom + 0.5)
    said = f"edge of the plunger at {volume_in_digits(draw_ml)} ml"
    wide = pdf.width_of(said, 10, bold=True)
    pdf.put(min(here + 1.5, x + length + 18 - wide), y - 6.2, said, 10, bold=True)
    about = f"syringe of {volume_in_digits(nominal_ml)} ml, a mark every {volume_in_digits(graduation_ml)} ml"
    pdf.put(
        x, bottom + 5.6, f"{about}; drawn to scale, larger than it is. No air in it, no air in the tip.", 8.5
    )


def label_step(nominal_ml: Decimal, graduation_ml: Decimal, barrel_mm: float) -> Decimal:
    """Return how many ml apart the numbers on a barrel stand.

    Examples
    --------
    >>> label_step(Decimal("1"), Decimal("0.01"), 150), label_step(Decimal("10"), Decimal("0.2"), 150)
    (Decimal('0.1'), Decimal('1'))
    """
    fitting = (
        step
        for step in LABEL_STEPS
        if step % graduation_ml == 0 and barrel_mm * float(step / nominal_ml) >= _LABEL_MM
    )
    return next(fitting, nominal_ml)
