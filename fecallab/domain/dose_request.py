"""What is asked of dosing."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation

from fecallab.domain.dilution import DilutionOrder
from fecallab.domain.dose_found import Found
from fecallab.domain.spoken import number_of, say_date
from fecallab.domain.taxon import Taxon

Figure = Decimal | float | int | str
"""A figure as it comes in; floats are read by their shortest decimal form, never by their binary one."""


@dataclass(frozen=True)
class OtherDrug:
    """A dose of another drug, or of an earlier course of this one; ``days_ago`` 0 means running.

    ``hours_ago`` tells apart yesterday evening and yesterday morning, where it is known.
    """

    drug: str
    days_ago: int = 0
    dose_mg_per_kg: Figure | None = None
    given_on: date | None = None
    doses: int = 1
    hours_ago: Figure | None = None

    @property
    def words(self) -> str:
        """The dose in words: drug, day, mg per kg."""
        when = f"on {say_date(self.given_on)}" if self.given_on else f"{number_of(self.days_ago, 'day')} ago"
        amount = exact(self.dose_mg_per_kg)
        much = "" if amount is None else f", {amount.normalize():f} mg per kg"
        times = f", {self.doses} doses" if self.doses != 1 else ""
        return f"{self.drug} {when}{much}{times}"


@dataclass(frozen=True, kw_only=True)
class DoseRequest:
    """One dose to work out.

    Attributes
    ----------
    weight_g, dose_mg_per_kg, concentration_mg_per_ml : figure
        As ordered, weighed and printed on the bottle.
    drug : str
        Generic name; empty only with ``arithmetic_only``.
    taxon : Taxon or None
        The animal, as closely as it is known.
    taxon_text : str
        The animal's name as typed, where it was not found.
    near_names : tuple of str
        Known names near to ``taxon_text``.
    interval_hours : figure or None
        Time between two doses.
    route : str
        Route by letters or words; empty when not said.
    syringe_ml, graduation_ml : figure or None
        The syringe at hand; the table proposes one when omitted.
    arithmetic_only : bool
        Ask for the bare sum where drug or animal is not known.
    findings : frozenset of str or None
        What is known about the animal (``renal-failure``, ``dehydrated`` …); None when nobody asked.
    other_drugs : tuple of OtherDrug or None
        Other drugs, and earlier courses of this one; None when nobody asked.
    doses_planned : int or None
        Largest number of doses.
    specialist_word : str
        Name and date of a reptile specialist's written word, or empty.
    strength_typed_twice : bool or None
        Whether the strength was read a second time from the label; None when nobody asked.
    volume_written_ml : figure or None
        The volume on the vet's sheet: it lifts the limits on volumes.
    dilution : DilutionOrder or None
        With what the drug may be thinned, and who said so.
    injection_taught : bool or None
        Whether the vet has taught this person to inject; None when nobody asked.
    """

    weight_g: Figure
    dose_mg_per_kg: Figure
    concentration_mg_per_ml: Figure
    drug: str = ""
    taxon: Taxon | None = None
    taxon_text: str = ""
    near_names: tuple[str, ...] = ()
    interval_hours: Figure | None = None
    route: str = ""
    syringe_ml: Figure | None = None
    graduation_ml: Figure | None = None
    arithmetic_only: bool = False
    findings: frozenset[str] | None = None
    other_drugs: tuple[OtherDrug, ...] | None = None
    doses_planned: int | None = None
    specialist_word: str = ""
    strength_typed_twice: bool | None = None
    volume_written_ml: Figure | None = None
    dilution: DilutionOrder | None = None
    injection_taught: bool | None = None


def exact(figure: Figure | None) -> Decimal | None:
    """Return a figure exactly as written, or None for what is no number.

    Examples
    --------
    >>> exact(0.1) == Decimal("0.1"), exact("abc") is None
    (True, True)
    """
    if figure is None or isinstance(figure, bool):
        return None
    try:
        value = Decimal(str(figure))
    except InvalidOperation:
        return None
    return value if value.is_finite() else None


@dataclass(frozen=True)
class Figures:
    """The figures of a request, read exactly."""

    weight_g: Decimal
    dose: Decimal
    concentration: Decimal
    interval_hours: Decimal | None
    syringe_ml: Decimal | None
    graduation_ml: Decimal | None
    weight_kg: Decimal = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "weight_kg", self.weight_g / 1000)


def read_figures(request: DoseRequest, found: Found) -> Figures | None:
    """Read every figure of a request, or refuse: each must be a finite number above zero and in reach."""
    named = {
        "weight in g": request.weight_g,
        "dose in mg per kg": request.dose_mg_per_kg,
        "strength in mg per ml": request.concentration_mg_per_ml,
        "interval in hours": request.interval_hours,
        "syringe in ml": request.syringe_ml,
        "mark in ml": request.graduation_ml,
    }
    values: list[Decimal | None] = []
    reach = found.facts.rule("number-out-of-reach")
    for position, (words, figure) in enumerate(named.items()):
        value = exact(figure)
        values.append(value)
        if figure is None and position >= 3:
            continue
        shown = str(figure)[:30]
        if value is None or value <= 0:
            found.say("number-not-positive", f"The {words} is {shown}: it must be a number above zero.")
        elif not reach.at_low() <= value <= reach.at_high():
            found.say(
                "number-out-of-reach", f"The {words} is {shown}: no animal, bottle or syringe has that."
            )
    if found.refused:
        return None
    weight, dose, concentration, interval, syringe, graduation = values
    if weight is None or dose is None or concentration is None:
        raise AssertionError("figures were checked above")
    return Figures(weight, dose, concentration, interval, syringe, graduation)
