"""Feeding tubes: how much one holds, the two ways to give a dose through it, how far in, how much at once.

A tube in the wrong place kills, and what stays in the tube is no dose. The French size is the outer
diameter; what the tube holds comes from its inner diameter and length, or better from weighing it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.figures import figure_text
from fecallab.domain.taxon import Taxon

WAYS = {
    "flush": "The tube is filled with liquid first, the drug is pushed through it, and a flush follows: "
    "the whole dose arrives, and everything that was pushed counts for the stomach.",
    "overfill": "The tube is filled with drug first, then exactly the dose is pushed by the marks, and the tube "
    "comes out without a flush: what stays in the tube is waste.",
}
"""The two ways of delivery; never both, because a flush would push the waste in as well."""

BACKING_UP = (
    "Push slowly and watch mouth and nostrils. Liquid that wells up, bubbles, coughing or gulping: stop, head "
    "down, let it run out, take the tube out, no more today, call the vet. Inhaled liquid means pneumonia."
)
"""Signs that a stomach does not take it."""

_AIR = "Hold it tip up and push air and surplus back into the bottle"
_NEVER_THROUGH = "Never draw through the tube: it makes bubbles and a false dose."


@dataclass(frozen=True)
class TubeMark:
    """How far a tube goes in, from the animal's own length; ``mark_mm`` is where the tube is marked."""

    low_mm: Decimal
    high_mm: Decimal
    words: str
    source_kind: str


@dataclass(frozen=True)
class TubeLandmark:
    """One row of the table of how far a tube goes in: which length is measured, and what share of it."""

    key: str
    taxa: tuple[str, ...]
    measure: str
    low_share: Decimal
    high_share: Decimal
    words: str
    source: str
    source_kind: str


@dataclass(frozen=True)
class GavageLimit:
    """A published volume for one gavage or one day, as shares of body weight in percent."""

    key: str
    taxa: tuple[str, ...]
    what: str
    per: str
    low_percent: Decimal
    high_percent: Decimal
    words: str
    source: str
    source_kind: str

    def volumes_ml(self, weight_g: Decimal) -> tuple[Decimal, Decimal]:
        """Return the volumes for an animal of this weight, in ml.

        Examples
        --------
        >>> food = GavageLimit("snake-food", (), "food", "one time", Decimal(5), Decimal(10), "", "", "read")
        >>> food.volumes_ml(Decimal(100))
        (Decimal('5'), Decimal('10'))
        """
        return weight_g * self.low_percent / 100, weight_g * self.high_percent / 100


@dataclass(frozen=True)
class TubeSize:
    """One size of tube: French, and the inner diameter that is usual for it."""

    key: str
    french: Decimal
    typical_inner_diameter_mm: Decimal
    inner_source_kind: str
    suits: str
    note: str


@dataclass(frozen=True, kw_only=True)
class TubeUse:
    """A tube at hand and what goes through it at one time.

    Attributes
    ----------
    priming_ml : figure or None
        What the tube holds.
    way : str
        ``flush`` or ``overfill``, see :data:`WAYS`.
    flush_ml : figure or None
        A flush that is planned; with None the flush way takes the table's multiple.
    feed_ml, fluid_ml : figure
        Food and fluid at the same time.
    gavages_before : int or None
        How many came before, for a weak animal; None when nobody knows.
    hours_since_meal : figure or None
        For a snake.
    total_written_ml : figure or None
        All of it together, as written by the vet.
    """

    priming_ml: Figure | None
    way: str
    flush_ml: Figure | None = None
    feed_ml: Figure = 0
    fluid_ml: Figure = 0
    gavages_before: int | None = None
    hours_since_meal: Figure | None = None
    total_written_ml: Figure | None = None


@dataclass(frozen=True)
class TubeAnswer:
    """What is drawn, pushed and flushed, what reaches the stomach, and the steps in words."""

    way: str
    draw_ml: Decimal
    priming_ml: Decimal
    flush_ml: Decimal
    waste_ml: Decimal
    into_stomach_ml: Decimal
    limit_ml: Decimal
    steps: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        names = ("draw_ml", "priming_ml", "flush_ml", "waste_ml", "into_stomach_ml", "limit_ml")
        return {
            "way": self.way,
            **{name: float(getattr(self, name)) for name in names},
            "steps": list(self.steps),
        }


def outer_diameter_mm(french: Decimal) -> Decimal:
    """Return the outer diameter of a French size: a third of a millimetre each (read: French catheter scale).

    Examples
    --------
    >>> outer_diameter_mm(Decimal(9))
    Decimal('3')
    """
    return french / 3


def priming_ml(inner_diameter_mm: Decimal, length_mm: Decimal) -> Decimal:
    """Return what a tube holds, in ml, from its inner diameter and length in mm.

    Examples
    --------
    >>> round(priming_ml(Decimal("0.9"), Decimal(400)), 4)
    Decimal('0.2545')
    """
    with localcontext(prec=28):
        return Decimal(str(math.pi)) / 4 * inner_diameter_mm**2 * length_mm / 1000


def priming_by_weighing_ml(empty_g: Decimal, full_g: Decimal) -> Decimal:
    """Return what a tube holds, in ml, from weighing it empty and full of water: 1 g is 1 ml.

    Examples
    --------
    >>> priming_by_weighing_ml(Decimal("3.1"), Decimal("3.4"))
    Decimal('0.3')
    """
    return full_g - empty_g


def tube_mark(
    taxon: Taxon | None, measured_mm: Figure | None, rows: tuple[TubeLandmark, ...], found: Found
) -> TubeMark | None:
    """Return how far a tube goes into this animal, from a length measured on it, or refuse.

    Parameters
    ----------
    taxon : Taxon or None
        The animal.
    measured_mm : figure or None
        The length that the row of its kind asks for, in mm.
    rows : tuple of TubeLandmark
        The table.
    found : Found
        Collects refusals.
    """
    row = next(
        (row for row in rows if taxon is not None and any(taxon.is_a(entry) for entry in row.taxa)), None
    )
    length = exact(measured_mm)
    if row is None:
        found.say("tube-length-not-measured", "No rule tells how far a tube goes into this kind of animal.")
        return None
    if length is None or length <= 0:
        found.say("tube-length-not-measured", f"Asked for on this animal: {row.measure}.")
        return None
    return TubeMark(length * row.low_share, length * row.high_share, row.words, row.source_kind)


def delivery_steps(
    way: str, dose: Decimal, priming: Decimal, flush: Decimal, besides: Decimal
) -> tuple[str, ...]:
    """Say what to do, in order: air out before the tube is on, and never draw through the tube.

    Volumes in ml: the dose, what the tube holds, the flush, and food and fluid besides.
    """
    given, held = figure_text(dose), _shown(priming)
    mark = "Mark the tube for this animal before it is held; a little sterile lubricant on the rounded end."
    tube_in = "Tube in, to the mark, beside the airway that you see, never against resistance."
    if way == "overfill":
        drawn = _shown(dose + priming)
        return (
            f"Draw up more than {drawn} ml without the tube. {_AIR}, down to {drawn} ml.",
            f"Only now put the tube on, and push until the plunger stands at {given} ml: the tube ({held} ml) is "
            f"full, a drop stands at its end. {_NEVER_THROUGH}",
            mark,
            f"{tube_in} Push exactly {given} ml, slowly, to zero.",
            f"Take the tube out without a flush: the {held} ml in it are waste, never a part of the dose.",
            BACKING_UP,
        )
    first = f"Draw up more than {given} ml without the tube. {_AIR}, down to {given} ml." if dose > 0 else ""
    push = f"Push the {given} ml, slowly." if dose > 0 else ""
    more = (
        f"{'Change syringes, then' if dose > 0 else 'Push'} {_shown(besides)} ml of food and fluid, slowly."
    )
    last = f"Flush with {_shown(flush)} ml from another syringe; then all of it has arrived. Tube out."
    steps = (
        first,
        f"Fill the tube ({held} ml) with lukewarm liquid from a second syringe, until a drop stands at its end. "
        f"Only now put the syringe on. {_NEVER_THROUGH}",
        mark,
        f"{tube_in} {push}".strip(),
        more if besides > 0 else "",
        last,
        BACKING_UP,
    )
    return tuple(step for step in steps if step)


def _shown(volume_ml: Decimal) -> str:
    """Write a volume to hundredths of a ml, as closely as a syringe shows it."""
    return figure_text(round(volume_ml, 2))
