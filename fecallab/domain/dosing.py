"""Dosing: weight × dose / concentration, and everything that stands in its way.

The dose is the vet's. Nothing here chooses a drug or a dose, or extends a course; no volume leaves while
a rule refuses. Facts come in as an argument (``fecallab.reference.drugs.dose_facts()``).
"""

from __future__ import annotations

from fecallab.domain.dilution import DilutionOrder, Recipe
from fecallab.domain.dose_answer import DoseAnswer, RangeUsed
from fecallab.domain.dose_case import HYDRATION, AnimalToday, BottleToday, DoseLogged, PlanFacts
from fecallab.domain.dose_course import stock_needed_ml
from fecallab.domain.dose_facts import (
    DELICATE,
    FINDINGS,
    SIGNS_TODAY,
    STOP_SIGNS,
    DoseFacts,
    DoseRule,
    DrugName,
    DrugRow,
    HardStop,
    Strength,
    read_route,
)
from fecallab.domain.dose_found import Found, WordGiven
from fecallab.domain.dose_order import last_planned_day
from fecallab.domain.dose_plan import dose_by_plan
from fecallab.domain.dose_request import DoseRequest, Figure, OtherDrug, exact
from fecallab.domain.dose_volume import volume_ml
from fecallab.domain.dose_weight import EXPLAINED, WeightFact
from fecallab.domain.dose_work import work_out
from fecallab.domain.tube import TubeAnswer, TubeUse
from fecallab.domain.warmth import WarmRange, WarmthFloor, WarmthToday

__all__ = [
    "DELICATE",
    "EXPLAINED",
    "FINDINGS",
    "HYDRATION",
    "SIGNS_TODAY",
    "STOP_SIGNS",
    "AnimalToday",
    "BottleToday",
    "DilutionOrder",
    "DoseAnswer",
    "DoseFacts",
    "DoseLogged",
    "DoseRequest",
    "DoseRule",
    "DrugName",
    "DrugRow",
    "Figure",
    "Found",
    "HardStop",
    "OtherDrug",
    "PlanFacts",
    "RangeUsed",
    "Recipe",
    "Strength",
    "TubeAnswer",
    "TubeUse",
    "WarmRange",
    "WarmthFloor",
    "WarmthToday",
    "WeightFact",
    "WordGiven",
    "dose_by_plan",
    "exact",
    "last_planned_day",
    "read_route",
    "stock_needed_ml",
    "volume_ml",
    "work_out",
]
