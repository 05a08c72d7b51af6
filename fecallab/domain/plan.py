"""What the vet wrote: treatment and follow-up; never edited, only replaced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

GOALS = ("clear", "low burden", "not clearable by stool exam", "watch, no treatment")
OUTCOMES = ("given", "partly given", "missed", "spat", "vomited")


@dataclass(frozen=True, kw_only=True)
class Plan:
    """One plan. ``doses_planned`` 0 means that nothing is given; numbers left None follow the defaults.

    ``follow_up_source`` says where the follow-up numbers come from (the vet, or the default with its source);
    they are copied in when the plan is recorded, so that a new edition never moves an old conclusion.
    """

    code: str = ""
    case: str
    vet: str
    written_on: date
    goal: str = "clear"
    drug: str = ""
    component: str = ""
    dose_mg_per_kg: str = ""
    concentration_mg_per_ml: str = ""
    route: str = ""
    interval_days: float | None = None
    doses_planned: int = 0
    weight_max_age_days: float | None = None
    negatives_needed: int | None = None
    spacing_days: int | None = None
    wait_after_last_dose_days: int | None = None
    grade_at_most: str = ""
    grade_scale: str = ""
    follow_up_source: str = ""
    fluids: str = ""
    feeding: str = ""
    warm_end_at_least_c: float | None = None
    picture: str = ""
    edition: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class DoseGiven:
    """One line of the treatment log: what really happened with one dose."""

    code: str = ""
    plan: str
    given_at: datetime
    outcome: str = "given"
    volume_ml: str = ""
    weight_g: float | None = None
    by: str = ""
    lot: str = ""
    remark: str = ""
