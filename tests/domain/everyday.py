"""Everyday situations of a dose: what is told, what is asked, how it ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from fecallab.domain.dosing import (
    AnimalToday,
    BottleToday,
    DilutionOrder,
    DoseAnswer,
    DoseLogged,
    OtherDrug,
    PlanFacts,
    TubeUse,
    WarmthFloor,
    WarmthToday,
    WeightFact,
    WordGiven,
    dose_by_plan,
)
from fecallab.domain.figures import read_figure
from fecallab.domain.fluids import FluidOrder, work_out_fluids
from fecallab.reference.care import warm_range
from fecallab.reference.drugs import dose_facts
from fecallab.reference.taxa import resolve_taxon

NOW = datetime(2026, 5, 20, 18, 0)


TODAY = NOW.date()


VET = "Dr. Iva Marrow"


def animal(name: str, **more: Any) -> AnimalToday:
    """An animal that is awake, warm, not dry, and without anything else in its body."""
    taxon = resolve_taxon(name)
    own = warm_range(taxon)
    asked: dict[str, Any] = {
        "animal": "Pip",
        "taxon": taxon,
        "findings": frozenset(),
        "other_drugs": (),
        "hydration": "normal",
        "warm_range": own,
        "warmth": WarmthToday(
            warm_end_c=own.day_low_c if own else 28, lowest_at_night_c=own.low_c if own else 22
        ),
    }
    return AnimalToday(**{**asked, **more})


def plan(drug: str, dose: Any, strength: Any, **more: Any) -> PlanFacts:
    """A whole order of two days ago, by mouth every 48 h, ten doses at most, on a positive exam."""
    asked: dict[str, Any] = {
        "vet": VET,
        "ordered_on": TODAY - timedelta(days=2),
        "route": "PO",
        "interval_hours": 48,
        "doses": 10,
        "animal": "Pip",
        "positive_exam": True,
        "clear_already": False,
    }
    return PlanFacts(drug=drug, dose_mg_per_kg=dose, concentration_mg_per_ml=strength, **{**asked, **more})


def dose(
    order: PlanFacts | None,
    who: AnimalToday,
    grams: Any,
    *log: DoseLogged,
    step: Any = None,
    state: str = "",
    weighed: date = TODAY,
    now: datetime = NOW,
    **more: Any,
) -> DoseAnswer:
    weight = WeightFact(weight_g=grams, weighed_on=weighed, state=state, scale_step_g=step)
    return dose_by_plan(order, weight, now, log, who, dose_facts(), **more)


def ago(hours: float, grams: Any = None, **more: Any) -> DoseLogged:
    return DoseLogged(given_at=NOW - timedelta(hours=hours), weight_g=grams, **more)


METRO = plan("metronidazole", 20, 40, component="metronidazole")


SULFA = plan("sulfadimethoxine", 50, 50, interval_hours=24)


FENBEN = plan("fenbendazole", 50, 100, interval_hours=336, doses=2)


DRAGON, SNAKE, TORTOISE = animal("bearded dragon"), animal("corn snake"), animal("Hermann's tortoise")


def words(code: str) -> tuple[WordGiven, ...]:
    return (WordGiven(code=code, by=VET, on=TODAY, reason="asked by telephone"),)


@dataclass(frozen=True)
class Everyday:
    """A situation, what is asked, and how it ends: with a volume to draw, or with a code and words."""

    told: str
    ask: Callable[[], Any]
    draw_ml: str | None = None
    code: str = ""
    next_says: str = ""
    warns: str = ""
    to_confirm: str = ""


SITUATIONS = [
    Everyday(
        "a growing dragon has put on 40 % through its course: 0.14 kg × 50 / 50 = 0.14 ml",
        lambda: dose(SULFA, replace(DRAGON, growing=True), 140, ago(24, 100, by="Ada")),
        draw_ml="0.14",
        warns="weight-gain",
    ),
    Everyday(
        "a cold night: the lowest was 19 °C",
        lambda: dose(METRO, replace(SNAKE, warmth=WarmthToday(warm_end_c=30, lowest_at_night_c=19)), 420),
        code="too-cold-at-night",
        next_says="warm through the night",
    ),
    Everyday(
        "a cold night, and the vet wrote that 18 °C is enough: 0.42 kg × 20 / 40 = 0.21 ml",
        lambda: dose(
            replace(METRO, floor=WarmthFloor(night_at_least_c=18)),
            replace(SNAKE, warmth=WarmthToday(warm_end_c=30, lowest_at_night_c=19)),
            420,
        ),
        draw_ml="0.21",
        warns="floor-below-range",
    ),
    Everyday(
        "a tortoise lost 22 % and nobody knows why",
        lambda: dose(METRO, TORTOISE, 780, ago(48, 1000)),
        code="weight-loss",
        next_says="Weigh again after a soak",
    ),
    Everyday(
        "a tortoise emptied its bladder before weighing: 0.78 kg × 20 / 40 = 0.39 ml, after the vet's word",
        lambda: dose(METRO, TORTOISE, 780, ago(48, 1000), state="urine passed"),
        draw_ml="0.39",
        to_confirm="weight-loss-watch",
    ),
    Everyday(
        "a weight of three days ago, an adult, a drug of ordinary margin: 0.31 kg × 50 / 50 = 0.31 ml",
        lambda: dose(SULFA, DRAGON, 310, weighed=TODAY - timedelta(days=3)),
        draw_ml="0.31",
        warns="weight-some-days-old",
    ),
    Everyday(
        "a weight of three days ago and a narrow-margin drug",
        lambda: dose(METRO, SNAKE, 420, weighed=TODAY - timedelta(days=3)),
        code="weight-stale",
        next_says="Weigh it now",
    ),
    Everyday(
        "twice a day, Ada in the morning and Ben in the evening: 0.31 kg × 50 / 50 = 0.31 ml",
        lambda: dose(
            replace(SULFA, interval_hours=12), DRAGON, 310, ago(22, 310, by="Ben"), ago(10, 310, by="Ada")
        ),
        draw_ml="0.31",
    ),
    Everyday(
        "twice a day, and Ada has just given it",
        lambda: dose(replace(SULFA, interval_hours=12), DRAGON, 310, ago(1, 310, by="Ada")),
        code="too-early",
        next_says="never double",
    ),
    Everyday(
        "twice a day, and a third dose in one day because both came a little early",
        lambda: dose(
            replace(SULFA, interval_hours=12), DRAGON, 310, ago(18.5, 310, by="Ben"), ago(9.2, 310, by="Ada")
        ),
        code="too-many-in-a-day",
        next_says="Wait until the time",
    ),
    Everyday(
        "the last of 22 doses every 48 h, on day 42 of an order written before: 0.31 ml",
        lambda: dose(
            replace(SULFA, interval_hours=48, doses=22, ordered_on=TODAY - timedelta(days=43)),
            DRAGON,
            310,
            *(ago(48 * number, 310) for number in range(1, 22)),
        ),
        draw_ml="0.31",
    ),
    Everyday(
        "a paste of 150 mg per g",
        lambda: dose(plan("ponazuril", 30, 150), DRAGON, 310),
        code="strength-per-gram",
        next_says="suspension with mg per ml",
    ),
    Everyday(
        "a hatchling of 6 g: too little to measure, and nobody named a liquid",
        lambda: dose(SULFA, replace(DRAGON, growing=True), 6, step="0.1"),
        code="volume-too-small",
        next_says="with what liquid",
    ),
    Everyday(
        "a hatchling of 6 g, thinned 1 in 20 with the pharmacist's liquid: 0.006 × 50 / 50 × 20 = 0.12 ml",
        lambda: dose(
            replace(
                SULFA,
                dilution=DilutionOrder(
                    diluent="simple syrup",
                    named_by="the pharmacy at the bridge",
                    role="pharmacist",
                    factor=20,
                ),
            ),
            replace(DRAGON, growing=True),
            6,
            step="0.1",
        ),
        draw_ml="0.12",
        warns="dilution-used",
    ),
    Everyday(
        "a hatchling of 6 g on a kitchen scale with 1 g steps",
        lambda: dose(SULFA, replace(DRAGON, growing=True), 6, step=1),
        code="scale-too-coarse",
        next_says="finer scale",
    ),
    Everyday(
        "200 typed for 20",
        lambda: dose(replace(METRO, dose_mg_per_kg=200), SNAKE, 420),
        code="slip-found",
        next_says="again from the vet's sheet",
    ),
    Everyday(
        "ten times the last order of the drug for this animal",
        lambda: dose(replace(METRO, previous_dose_mg_per_kg=2), SNAKE, 420),
        code="dose-unlike-last",
        next_says="call the vet",
    ),
    Everyday(
        "0,5 ml typed with a comma as the volume of the vet's sheet: 1 kg × 20 / 40 = 0.5 ml",
        lambda: dose(replace(METRO, volume_written_ml=read_figure("0,5", "ml", "--volume-ml")), SNAKE, 1000),
        draw_ml="0.5",
    ),
    Everyday(
        "the dose before was spat out: the next one in its time and not more, 0.21 ml",
        lambda: dose(METRO, SNAKE, 420, ago(48, 420, outcome="spat")),
        draw_ml="0.21",
        warns="last-dose-not-kept",
    ),
    Everyday(
        "wobbling after the last dose",
        lambda: dose(METRO, SNAKE, 420, ago(48, 420, reactions=frozenset({"wobbling"}))),
        code="sign-after-dose",
        next_says="No further dose",
    ),
    Everyday(
        "a dose forgotten for a day and a half: one dose, never two, 0.21 ml",
        lambda: dose(METRO, SNAKE, 420, ago(84, 420)),
        draw_ml="0.21",
        warns="late-dose",
    ),
    Everyday(
        "she carries eggs: the vet is asked first, then 0.21 ml",
        lambda: dose(METRO, replace(SNAKE, findings=frozenset({"gravid"})), 420),
        draw_ml="0.21",
        to_confirm="delicate-state",
    ),
    Everyday(
        "a sulfonamide, and nobody knows whether the dragon is dry",
        lambda: dose(SULFA, replace(DRAGON, hydration="not known"), 310),
        code="hydration-unknown",
        next_says="sunken eyes",
    ),
    Everyday(
        "a sulfonamide for a dry dragon",
        lambda: dose(SULFA, replace(DRAGON, hydration="dry"), 310),
        code="stop-sulfonamide-kidney-or-dry",
        next_says="Water first",
    ),
    Everyday(
        "fenbendazole again after a course 30 days ago: every dose is shown to the vet, then 0.42 ml",
        lambda: dose(
            FENBEN,
            replace(TORTOISE, other_drugs=(OtherDrug("fenbendazole", 30, 50, date(2026, 4, 20), 5),)),
            850,
        ),
        draw_ml="0.42",
        to_confirm="warn-benzimidazole-again",
    ),
    Everyday(
        "two cases of one animal, both with metronidazole",
        lambda: dose(METRO, replace(SNAKE, other_drugs=(OtherDrug("metronidazole", 1, 20),)), 420),
        code="same-drug-elsewhere",
        next_says="which of the two plans",
    ),
    Everyday(
        "the bottle ran out of date last week",
        lambda: dose(METRO, SNAKE, 420, bottle=BottleToday(expires_on=TODAY - timedelta(days=7))),
        code="drug-expired",
        next_says="new bottle",
    ),
    Everyday(
        "through a tube with a flush into a tortoise: 0.425 ml drawn down to 0.42",
        lambda: dose(replace(METRO), TORTOISE, 850, tube=TubeUse(priming_ml="0.064", way="flush")),
        draw_ml="0.42",
    ),
    Everyday(
        "through a tube into a snake that ate yesterday",
        lambda: dose(METRO, SNAKE, 420, tube=TubeUse(priming_ml="0.03", way="flush", hours_since_meal=24)),
        code="gavage-after-meal",
        next_says="Wait until",
    ),
    Everyday(
        "it is being cooled for brumation",
        lambda: dose(METRO, replace(TORTOISE, brumating=True), 850),
        code="brumating",
        next_says="ask the vet",
    ),
    Everyday(
        "it is being cooled, the vet knows and wants the dose all the same: 0.85 × 20 / 40 = 0.425, down to 0.42",
        lambda: dose(replace(METRO, words=words("brumating")), replace(TORTOISE, brumating=True), 850),
        draw_ml="0.42",
        warns="brumating",
    ),
    Everyday(
        "100 mg per kg of metronidazole for an indigo snake",
        lambda: dose(
            replace(METRO, dose_mg_per_kg=100, interval_hours=336), animal("eastern indigo snake"), 1500
        ),
        code="stop-nitroimidazole-indigo",
        next_says="ask the vet for 40",
    ),
    Everyday(
        "ivermectin for a tortoise, whatever anybody says",
        lambda: dose(
            replace(plan("ivermectin", "0.2", 10), words=words("stop-ivermectin-chelonian")), TORTOISE, 850
        ),
        code="stop-ivermectin-chelonian",
        next_says="Ask your vet for another drug",
    ),
    Everyday(
        "an order that says until negative",
        lambda: dose(replace(METRO, doses=None), SNAKE, 420),
        code="order-incomplete",
        next_says="largest number of doses",
    ),
    Everyday(
        "the course is done and nobody has looked again",
        lambda: dose(replace(METRO, doses=1), SNAKE, 420, ago(48, 420)),
        code="doses-used-up",
        next_says="follow-up samples",
    ),
    Everyday(
        "45 ml per kg of fluids for a tortoise of 350 g",
        lambda: work_out_fluids(FluidOrder(weight_g=350, ml_per_kg=45, route="PO", times=3), dose_facts()),
        code="fluids-too-much",
        next_says="volume of the day in writing",
    ),
    Everyday(
        "no order of a vet at all",
        lambda: dose(None, SNAKE, 420),
        code="order-missing",
        next_says="ask for a plan",
    ),
]
