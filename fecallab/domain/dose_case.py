"""What a dose by the plan stands on: the vet's order, the log, the bottle, and the animal as it is today."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from fecallab.domain.dilution import DilutionOrder
from fecallab.domain.dose_found import WordGiven
from fecallab.domain.dose_request import Figure, OtherDrug
from fecallab.domain.taxon import Taxon
from fecallab.domain.warmth import WarmRange, WarmthFloor, WarmthToday

HYDRATION = ("normal", "dry", "not known")
"""How an animal looks today."""

NOT_KEPT = ("spat", "vomited", "partly given")
"""Outcomes of a dose that count as given and are not repeated."""


@dataclass(frozen=True, kw_only=True)
class PlanFacts:
    """The vet's written order, as far as dosing needs it.

    Attributes
    ----------
    concentration_mg_per_ml, concentration_again_mg_per_ml : figure or None
        The strength as on the bottle, and as read a second time; None where it was typed once.
    doses : int or None
        The largest number of doses; None where the order says only "until negative".
    weight_max_age_days : float or None
        May tighten how old a weight may be, never loosen it.
    volume_written_ml, previous_dose_mg_per_kg : figure or None
        The volume on the vet's sheet, and the last order of the same drug for the same animal.
    specialist_word : str
        Name and date of a reptile specialist's written word.
    confirmed : frozenset of str
        Codes of warnings that the vet has answered.
    words : tuple of WordGiven
        Recorded words on single rules, with who and when; they lift only what their rule allows.
    dilution : DilutionOrder or None
        With what the drug may be thinned; the concentration above is then that of the bottle.
    floor : WarmthFloor
        The least warmth by day and at night that the vet wrote.
    positive_exam, clear_already : bool or None
        Whether the records hold a positive exam of the target, and whether the repeat exams have already
        confirmed that none is found; None when nobody looked.
    """

    vet: str
    ordered_on: date | None
    drug: str
    dose_mg_per_kg: Figure | None
    concentration_mg_per_ml: Figure | None
    route: str
    interval_hours: Figure | None
    doses: int | None
    animal: str = ""
    component: str = ""
    first_dose_on: date | None = None
    weight_max_age_days: float | None = None
    volume_written_ml: Figure | None = None
    previous_dose_mg_per_kg: Figure | None = None
    specialist_word: str = ""
    confirmed: frozenset[str] = frozenset()
    concentration_again_mg_per_ml: Figure | None = None
    words: tuple[WordGiven, ...] = ()
    dilution: DilutionOrder | None = None
    floor: WarmthFloor = field(default_factory=WarmthFloor)
    positive_exam: bool | None = None
    clear_already: bool | None = None


@dataclass(frozen=True, kw_only=True)
class DoseLogged:
    """One line of the log: when, with which weight, by whom, what happened and what was seen after it.

    ``outcome`` is given, partly given, spat, vomited or missed; ``reactions`` are words, of which those
    in ``STOP_SIGNS`` stop the course.
    """

    given_at: datetime
    outcome: str = "given"
    weight_g: Figure | None = None
    by: str = ""
    reactions: frozenset[str] = frozenset()
    volume_ml: Figure | None = None


@dataclass(frozen=True, kw_only=True)
class BottleToday:
    """The bottle or vial in the hand.

    Attributes
    ----------
    expires_on, discard_on : date or None
        Printed on it, and the day on which the opened bottle is to be discarded.
    mixed_at : datetime or None
        When it was thinned; None for an undiluted bottle.
    mixture_discard_on : date or None
        A day that the pharmacist gave for the mixture; None means the session in which it was mixed.
    left_ml : figure or None
        What is left in it.
    """

    expires_on: date | None = None
    discard_on: date | None = None
    mixed_at: datetime | None = None
    mixture_discard_on: date | None = None
    left_ml: Figure | None = None


@dataclass(frozen=True, kw_only=True)
class AnimalToday:
    """The animal as it is today. What is None was not asked, and is then named as not checked.

    Attributes
    ----------
    findings : frozenset of str or None
        Words of ``FINDINGS``, ``SIGNS_TODAY`` and ``DELICATE``.
    other_drugs : tuple of OtherDrug or None
        Doses of every other drug and of earlier courses of this one, as far back as the rules look.
    warmth, warm_range : WarmthToday, WarmRange or None
        What the thermometer showed, and the range of the kind.
    hydration : str or None
        One of :data:`HYDRATION`.
    """

    animal: str = ""
    taxon: Taxon | None = None
    taxon_text: str = ""
    growing: bool = False
    brumating: bool = False
    findings: frozenset[str] | None = None
    other_drugs: tuple[OtherDrug, ...] | None = None
    warmth: WarmthToday | None = None
    warm_range: WarmRange | None = None
    hydration: str | None = None

    @property
    def known_findings(self) -> frozenset[str] | None:
        """The findings, with a dry animal among them where it looks dry."""
        if self.hydration != "dry":
            return self.findings
        return (self.findings or frozenset()) | {"dehydrated"}
