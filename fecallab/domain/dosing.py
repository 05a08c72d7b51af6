"""Dosing: weight × dose / concentration, and everything that stands in its way.

The dose is the vet's. Nothing here chooses a drug or a dose, or extends a course; no volume leaves while
a rule refuses. Facts come in as an argument (``fecallab.reference.drugs.dose_facts()``).
"""

from __future__ import annotations

from fecallab.domain.dose_facts import (
    FINDINGS,
    DoseFacts,
    DoseRule,
    DrugName,
    DrugRow,
    HardStop,
    Strength,
    read_route,
)
from fecallab.domain.dose_plan import (
    AnimalToday,
    DoseLogged,
    PlanFacts,
    dose_by_plan,
    last_planned_day,
)
from fecallab.domain.dose_request import DoseAnswer, DoseRequest, Figure, OtherDrug, RangeUsed, exact
from fecallab.domain.dose_volume import volume_ml
from fecallab.domain.dose_weight import EXPLAINED, WeightFact
from fecallab.domain.dose_work import work_out

__all__ = [
    "EXPLAINED",
    "FINDINGS",
    "AnimalToday",
    "DoseAnswer",
    "DoseFacts",
    "DoseLogged",
    "DoseRequest",
    "DoseRule",
    "DrugName",
    "DrugRow",
    "Figure",
    "HardStop",
    "OtherDrug",
    "PlanFacts",
    "RangeUsed",
    "Strength",
    "WeightFact",
    "dose_by_plan",
    "exact",
    "last_planned_day",
    "read_route",
    "volume_ml",
    "work_out",
]
