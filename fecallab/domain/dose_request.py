"""What is asked of dosing, and what it answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from fecallab.domain.dose_facts import DrugRow, Found
from fecallab.domain.errors import Reason
from fecallab.domain.taxon import Taxon

Figure = Decimal | float | int | str
"""A figure as it comes in; floats are read by their shortest decimal form, never by their binary one."""


@dataclass(frozen=True)
class OtherDrug:
    """A drug besides the one asked about, or an earlier course of it; ``days_ago`` 0 means running."""

    drug: str
    days_ago: int = 0


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


@dataclass(frozen=True)
class RangeUsed:
    """The published range that a dose was compared with."""

    key: str
    low_mg_per_kg: Decimal
    high_mg_per_kg: Decimal
    ceiling_mg_per_kg: Decimal | None
    basis: str
    row: DrugRow | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        row = self.row
        return {
            "row": self.key,
            "basis": self.basis,
            "low_mg_per_kg": float(self.low_mg_per_kg),
            "high_mg_per_kg": float(self.high_mg_per_kg),
            "ceiling_mg_per_kg": None if self.ceiling_mg_per_kg is None else float(self.ceiling_mg_per_kg),
            "studied_in": row.studied_in if row else "",
            "course": row.course if row else "",
            "source": row.source if row else "",
            "source_kind": row.source_kind if row else "",
            "confidence": row.confidence if row else "",
        }


@dataclass(frozen=True)
class DoseAnswer:
    """What dosing answers. While anything refuses, no volume is in it.

    Attributes
    ----------
    volume_ml : Decimal or None
        The exact volume; None when refused.
    draw_ml : Decimal or None
        The volume on the syringe's marks; None when refused.
    delivered_mg_per_kg, error_percent : Decimal or None
        What the drawn volume delivers, and its signed difference from the exact volume in percent.
    refused : bool
        Whether any rule refused.
    reasons, warnings, not_checked : tuple of Reason
        Refusals with their way forward; warnings; rules that nothing here could check.
    to_confirm : tuple of str
        Codes of the warnings that need the vet's word before the dose is given.
    range_used : RangeUsed or None
        The published range the dose was compared with.
    """

    volume_ml: Decimal | None
    draw_ml: Decimal | None
    delivered_mg_per_kg: Decimal | None
    error_percent: Decimal | None
    refused: bool
    reasons: tuple[Reason, ...]
    warnings: tuple[Reason, ...]
    not_checked: tuple[Reason, ...]
    range_used: RangeUsed | None = None
    to_confirm: tuple[str, ...] = ()
    syringe_ml: Decimal | None = None
    graduation_ml: Decimal | None = None
    percent_of_body_weight: Decimal | None = None

    def __post_init__(self) -> None:
        figures = (self.volume_ml, self.draw_ml, self.delivered_mg_per_kg, self.error_percent)
        if self.refused != bool(self.reasons):
            raise ValueError("a refusal needs a reason, and a reason refuses")
        if self.refused and any(figure is not None for figure in figures):
            raise ValueError("no volume leaves dosing while a refusal applies")
        if not self.refused and any(figure is None for figure in figures):
            raise ValueError("an answer that does not refuse needs its figures")

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""

        def plain(figure: Decimal | None) -> float | None:
            return None if figure is None else float(figure)

        return {
            "volume_ml": plain(self.volume_ml),
            "draw_ml": plain(self.draw_ml),
            "delivered_mg_per_kg": plain(self.delivered_mg_per_kg),
            "error_percent": plain(self.error_percent),
            "refused": self.refused,
            "reasons": [reason.as_dict() for reason in self.reasons],
            "warnings": [reason.as_dict() for reason in self.warnings],
            "not_checked": [reason.as_dict() for reason in self.not_checked],
            "range_used": self.range_used.as_dict() if self.range_used else None,
            "to_confirm": list(self.to_confirm),
            "syringe_ml": plain(self.syringe_ml),
            "graduation_ml": plain(self.graduation_ml),
            "percent_of_body_weight": plain(self.percent_of_body_weight),
        }


@dataclass(frozen=True)
class Drawn:
    """A volume on a real syringe."""

    volume_ml: Decimal
    draw_ml: Decimal
    delivered_mg_per_kg: Decimal
    error_percent: Decimal
    percent_of_body_weight: Decimal
    syringe_ml: Decimal
    graduation_ml: Decimal


def conclude(found: Found, range_used: RangeUsed | None, drawn: Drawn | None) -> DoseAnswer:
    """Put an answer together; a refusal leaves every figure of the volume out."""
    kept = drawn if not found.refused else None
    return DoseAnswer(
        volume_ml=kept.volume_ml if kept else None,
        draw_ml=kept.draw_ml if kept else None,
        delivered_mg_per_kg=kept.delivered_mg_per_kg if kept else None,
        error_percent=kept.error_percent if kept else None,
        refused=found.refused,
        reasons=_once(found.reasons),
        warnings=_once(found.warnings),
        not_checked=_once(found.not_checked),
        range_used=range_used,
        to_confirm=tuple(dict.fromkeys(found.to_confirm)),
        syringe_ml=kept.syringe_ml if kept else None,
        graduation_ml=kept.graduation_ml if kept else None,
        percent_of_body_weight=kept.percent_of_body_weight if kept else None,
    )


def _once(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Keep each reason once, in order."""
    return tuple(dict.fromkeys(reasons))


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
