"""What dosing answers: a volume with everything that was found, or reasons and no volume."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fecallab.domain.dilution import Recipe
from fecallab.domain.dose_facts import DrugRow
from fecallab.domain.dose_found import Found, WordGiven
from fecallab.domain.errors import Reason
from fecallab.domain.tube import TubeAnswer

VOLUMES = (
    "volume_ml",
    "draw_ml",
    "delivered_mg_per_kg",
    "error_percent",
    "syringe_ml",
    "graduation_ml",
    "percent_of_body_weight",
    "syringe",
    "dilution",
    "tube",
    "volume_with_last_weight_ml",
)
"""Keys of an answer that say how much to draw, of what and with what."""


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
    dilution : Recipe or None
        How the drug is thinned first; the volumes are then of the mixture.
    tube : TubeAnswer or None
        How the dose goes through a tube.
    volume_with_last_weight_ml : Decimal or None
        The exact volume with the weight of the last dose, to show beside the new one.
    lifted : tuple of str
        Codes of the refusals that a recorded word has lifted; at most one.
    words_used : tuple of WordGiven
        The recorded words that counted: to be kept with the dose.
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
    dilution: Recipe | None = None
    tube: TubeAnswer | None = None
    volume_with_last_weight_ml: Decimal | None = None
    lifted: tuple[str, ...] = ()
    words_used: tuple[WordGiven, ...] = ()
    syringe_key: str = ""

    def __post_init__(self) -> None:
        figures = (self.volume_ml, self.draw_ml, self.delivered_mg_per_kg, self.error_percent)
        beside = (self.dilution, self.tube, self.volume_with_last_weight_ml)
        if self.refused and any(item is not None for item in beside):
            raise ValueError("no recipe and no tube leave dosing while a refusal applies")
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
            "syringe": self.syringe_key,
            "dilution": self.dilution.as_dict() if self.dilution else None,
            "tube": self.tube.as_dict() if self.tube else None,
            "volume_with_last_weight_ml": plain(self.volume_with_last_weight_ml),
            "lifted": list(self.lifted),
        }

    def as_dict_until_confirmed(self) -> dict[str, Any]:
        """Return the same, but every volume null while a warning waits for the vet's word."""
        return self.as_dict() | (dict.fromkeys(VOLUMES) if self.to_confirm else {})


@dataclass(frozen=True)
class Drawn:
    """A volume on a real syringe, of the bottle or of a dilution."""

    volume_ml: Decimal
    draw_ml: Decimal
    delivered_mg_per_kg: Decimal
    error_percent: Decimal
    percent_of_body_weight: Decimal
    syringe_ml: Decimal
    graduation_ml: Decimal
    concentration_mg_per_ml: Decimal
    syringe_key: str = ""
    error_share: Decimal = Decimal(0)
    dilution: Recipe | None = None


def conclude(
    found: Found,
    range_used: RangeUsed | None,
    drawn: Drawn | None,
    *,
    tube: TubeAnswer | None = None,
    with_last_weight_ml: Decimal | None = None,
) -> DoseAnswer:
    """Put an answer together; a refusal leaves every figure of the volume out."""
    found.close()
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
        dilution=kept.dilution if kept else None,
        tube=tube if kept else None,
        volume_with_last_weight_ml=with_last_weight_ml if kept else None,
        lifted=tuple(dict.fromkeys(found.lifted)),
        words_used=tuple(dict.fromkeys(found.words_used)),
        syringe_key=kept.syringe_key if kept else "",
    )


def _once(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Keep each reason once, in order."""
    return tuple(dict.fromkeys(reasons))
