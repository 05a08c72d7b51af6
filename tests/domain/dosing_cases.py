"""One way to make each rule of the dosing table speak; the tests of dosing share them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from fecallab.domain.dosing import (
    AnimalToday,
    BottleToday,
    DoseAnswer,
    DoseLogged,
    DoseRequest,
    DrugName,
    OtherDrug,
    PlanFacts,
    WarmthFloor,
    WarmthToday,
    WeightFact,
    WordGiven,
    dose_by_plan,
    work_out,
)
from fecallab.reference.care import warm_range
from fecallab.reference.drugs import dose_facts
from fecallab.reference.taxa import group_taxon, resolve_taxon, suggest_taxon

NOW = datetime(2026, 3, 10, 12, 0)
TODAY = NOW.date()


def ask(
    weight_g: Any = 420,
    dose: Any = 20,
    strength: Any = 40,
    drug: str = "metronidazole",
    animal: str = "corn snake",
    group: str = "",
    **more: Any,
) -> DoseAnswer:
    """Work out one dose as the calculator would; 420 g corn snake, 20 mg per kg, 40 mg per ml, every 48 h."""
    taxon = resolve_taxon(animal) if animal else None
    unknown = animal if animal and taxon is None else ""
    more.setdefault("interval_hours", 48)
    request = DoseRequest(
        weight_g=weight_g,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=strength,
        drug=drug,
        taxon=taxon or (group_taxon(group) if group else None),
        taxon_text=unknown,
        near_names=suggest_taxon(unknown) if unknown else (),
        **more,
    )
    return work_out(request, dose_facts())


def ask_with_range(low: str, high: str, *, dose: Any, weight_g: Any) -> DoseAnswer:
    """Work out a dose of an imaginary drug with one range for every reptile."""
    facts = dose_facts()
    row = replace(
        facts.drug_rows[0],
        key="imaginary",
        drug="imaginary",
        taxa=("any",),
        dose_min_mg_per_kg=Decimal(low),
        dose_max_mg_per_kg=Decimal(high),
        ceiling_mg_per_kg=None,
        interval_min_hours=None,
        interval_max_hours=None,
        known_concentrations=(),
        narrow_margin=False,
        component="",
    )
    name = DrugName("imaginary", (), ("imaginary class",))
    own = replace(facts, drug_rows=(row,), drug_names=(name,))
    request = DoseRequest(
        weight_g=weight_g,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=100,
        drug="imaginary",
        taxon=resolve_taxon("corn snake"),
    )
    return work_out(request, own)


PLAN = PlanFacts(
    vet="Dr. Iva Marrow",
    ordered_on=date(2026, 3, 8),
    drug="metronidazole",
    component="metronidazole",
    dose_mg_per_kg="20",
    concentration_mg_per_ml="40",
    route="PO",
    interval_hours=48,
    doses=3,
    animal="A1",
)
WEIGHT = WeightFact(weight_g=420, weighed_on=TODAY)
ANIMAL = AnimalToday(animal="A1", taxon=resolve_taxon("corn snake"))
ORDINARY = replace(PLAN, drug="sulfadimethoxine", component="", dose_mg_per_kg=50, concentration_mg_per_ml=50)
"""A plan with a drug of ordinary margin, so that a weight may be older than today."""


def logged(hours_ago: float, *, outcome: str = "given", weight_g: Any = 420) -> DoseLogged:
    return DoseLogged(given_at=NOW - timedelta(hours=hours_ago), outcome=outcome, weight_g=weight_g)


def by_plan(
    plan: PlanFacts | None = PLAN,
    weight: WeightFact | None = WEIGHT,
    doses: tuple[DoseLogged, ...] = (),
    animal: AnimalToday = ANIMAL,
    now: datetime = NOW,
    **more: Any,
) -> DoseAnswer:
    return dose_by_plan(plan, weight, now, doses, animal, dose_facts(), **more)


def changed(**more: Any) -> DoseAnswer:
    """Work out the dose of the usual plan with something changed in it."""
    return by_plan(replace(PLAN, **more))


def of_age(
    days: int, *, weight_g: Any = 420, growing: bool = False, plan: PlanFacts = ORDINARY
) -> DoseAnswer:
    """Work out a dose with a weight of some days ago."""
    weight = WeightFact(weight_g=weight_g, weighed_on=TODAY - timedelta(days=days))
    return by_plan(plan, weight, animal=replace(ANIMAL, growing=growing))


def weighing(now_g: Any, *, first_g: Any = 420, state: str = "", growing: bool = False) -> DoseAnswer:
    """Work out a dose with a weight that differs from the one at the first dose, 48 h ago."""
    weight = WeightFact(weight_g=now_g, weighed_on=TODAY, state=state)
    return by_plan(PLAN, weight, (logged(48, weight_g=first_g),), replace(ANIMAL, growing=growing))


def after(*doses: DoseLogged, **more: Any) -> DoseAnswer:
    """Work out the next dose of a plan of ten, after some doses."""
    return by_plan(replace(PLAN, doses=10, **more), doses=doses)


def today(first_dose: bool = True, plan: PlanFacts = PLAN, **more: Any) -> DoseAnswer:
    """Work out a dose for the animal as it is today."""
    doses = () if first_dose else (logged(48),)
    return by_plan(plan, doses=doses, animal=replace(ANIMAL, **more))


def warmth(
    warm_end: Any, night: Any, *, first_dose: bool = True, known: bool = True, **floor: Any
) -> DoseAnswer:
    """Work out a dose at some temperatures; a corn snake is kept at 25 to 32 °C."""
    plan = replace(PLAN, floor=WarmthFloor(**floor))
    measured = WarmthToday(warm_end_c=warm_end, lowest_at_night_c=night)
    own = warm_range(ANIMAL.taxon) if known else None
    return today(first_dose, plan, warmth=measured, warm_range=own)


def on_scale(grams: Any, step: Any = None, **more: Any) -> DoseAnswer:
    """Work out a dose with a weight of today, from a scale with some step."""
    weight = WeightFact(weight_g=grams, weighed_on=TODAY, scale_step_g=step)
    return by_plan(replace(ORDINARY, concentration_mg_per_ml=10, **more), weight, graduation_ml="0.005")


def word(code: str, on: date = TODAY, by: str = "Dr. Iva Marrow", role: str = "vet") -> WordGiven:
    return WordGiven(code=code, by=by, on=on, role=role, reason="asked by telephone")


CASES: dict[tuple[str, str], Callable[[], DoseAnswer]] = {
    ("number-not-positive", ""): lambda: ask(weight_g=0),
    ("number-out-of-reach", ""): lambda: ask(weight_g="1e12"),
    ("drug-or-animal-missing", ""): lambda: ask(drug="", animal=""),
    ("drug-unknown", ""): lambda: ask(drug="unobtainium"),
    ("unknown-drug-chelonian", ""): lambda: ask(drug="unobtainium", animal="sulcata", arithmetic_only=True),
    ("no-range-check", ""): lambda: ask(drug="", animal="", arithmetic_only=True),
    ("species-needed", ""): lambda: ask(animal="", group="snake"),
    ("taxon-unknown", ""): lambda: ask(animal="corm snaik"),
    ("taxon-unknown-group-used", ""): lambda: ask(
        drug="ponazuril", animal="corm snaik", group="snake", dose=30, strength=50
    ),
    ("route-unknown", ""): lambda: ask(route="sideways"),
    ("dose-above-ceiling", ""): lambda: ask(dose=51),
    ("dose-beyond-range", ""): lambda: ask(dose=4),
    ("slip-found", ""): lambda: ask(dose=200),
    ("dose-far-outside-range", ""): lambda: ask(dose=7),
    ("dose-outside-range", ""): lambda: ask(dose=15),
    ("dose-above-specialist-limit", ""): lambda: ask(animal="leopard gecko", dose=120, interval_hours=336),
    ("trial-dose", ""): lambda: ask(
        weight_g=55,
        drug="paromomycin",
        animal="bearded dragon",
        dose=360,
        strength=100,
        specialist_word="Dr. Ode Fenn, 2026-03-01",
    ),
    ("range-too-wide", ""): lambda: ask_with_range("10", "100", dose=100, weight_g=1000),
    ("range-weakly-sourced", ""): lambda: ask(animal="Russian tortoise", weight_g=850),
    ("no-range-known", ""): lambda: ask(drug="nitazoxanide", animal="corn snake", dose=25, strength=20),
    ("interval-not-given", ""): lambda: ask(interval_hours=None),
    ("interval-unlike-published", ""): lambda: ask(animal="boa constrictor", dose=40),
    ("strength-unknown", ""): lambda: ask(strength=37),
    ("strength-looks-like-percent", ""): lambda: ask(
        weight_g=40, drug="fenbendazole", dose=25, strength=10, interval_hours=336
    ),
    ("strength-per-gram", ""): lambda: ask(drug="fenbendazole", dose=50, strength=222, interval_hours=336),
    ("component-assumed", ""): lambda: ask(
        weight_g=1000, drug="pyrantel", dose=5, strength=50, interval_hours=336
    ),
    ("volume-by-mouth-too-large", ""): lambda: ask(dose=50, strength="2.4"),
    ("volume-by-mouth-large", ""): lambda: ask(dose=50, strength=4),
    ("volume-per-site-too-large", "IM"): lambda: ask(strength=5, route="IM"),
    ("volume-per-site-too-large", "SC"): lambda: ask(strength="1.9", route="SC"),
    ("rounding-too-coarse", ""): lambda: ask(weight_g=55, dose=20, syringe_ml="0.3", graduation_ml="0.01"),
    ("volume-too-small", ""): lambda: ask(weight_g=600, drug="ivermectin", dose="0.2", strength=10),
    ("volume-near-smallest", ""): lambda: ask(weight_g=200, syringe_ml=1),
    ("syringe-unknown", ""): lambda: ask(syringe_ml="0.7"),
    ("syringe-too-small", ""): lambda: ask(weight_g=2000, syringe_ml="0.3"),
    ("graduation-unlikely", ""): lambda: ask(weight_g=1600, syringe_ml=1, graduation_ml="0.4"),
    ("syringe-in-units", ""): lambda: ask(),
    ("narrow-margin-watch", ""): lambda: ask(),
    ("hydration-first", ""): lambda: ask(),
    ("drug-caution", ""): lambda: ask(),
    ("injection-taught-only", ""): lambda: ask(
        weight_g=2000, drug="levamisole", dose=10, strength=75, route="SC", interval_hours=336
    ),
    ("route-not-listed", ""): lambda: ask(route="SC"),
    **{
        ("weight-implausible", group): (lambda animal=animal, grams=grams: ask(grams, animal=animal))
        for group, animal, grams in (
            ("gecko", "leopard gecko", 55000),
            ("chameleon", "veiled chameleon", 1600),
            ("lizard", "bearded dragon", 310000),
            ("snake", "corn snake", 450000),
            ("tortoise", "Russian tortoise", "0.85"),
            ("turtle", "painted turtle", "0.5"),
            ("crocodilian", "dwarf caiman", 12),
        )
    },
    ("weight-implausible", "any"): lambda: ask("0.1", drug="", animal="", arithmetic_only=True),
    ("order-missing", ""): lambda: by_plan(None),
    ("order-incomplete", ""): lambda: changed(doses=None),
    ("order-in-future", ""): lambda: changed(ordered_on=date(2026, 3, 11)),
    ("order-expired", ""): lambda: changed(ordered_on=date(2026, 2, 1)),
    ("order-for-another-animal", ""): lambda: changed(animal="A2"),
    ("component-missing", ""): lambda: changed(component=""),
    ("doses-used-up", ""): lambda: by_plan(doses=(logged(144), logged(96), logged(48))),
    ("route-differs", ""): lambda: by_plan(route="SC"),
    ("vet-volume-differs", ""): lambda: changed(volume_written_ml="0.3"),
    ("dose-unlike-last", "refuse"): lambda: changed(previous_dose_mg_per_kg=2),
    ("dose-unlike-last", "warn"): lambda: changed(previous_dose_mg_per_kg=5),
    ("too-early", ""): lambda: by_plan(doses=(logged(35.9),)),
    ("late-dose", ""): lambda: by_plan(doses=(logged(61),)),
    ("clock-backwards", ""): lambda: by_plan(doses=(logged(-1),)),
    ("weight-missing", ""): lambda: by_plan(weight=None),
    ("weight-in-future", ""): lambda: of_age(-1),
    ("weight-stale", "small"): lambda: of_age(1, weight_g=99),
    ("weight-stale", "narrow-margin"): lambda: of_age(1, plan=PLAN),
    ("weight-stale", "growing"): lambda: of_age(4, growing=True),
    ("weight-stale", "adult"): lambda: of_age(8),
    ("weight-some-days-old", ""): lambda: of_age(2),
    ("weight-jump", ""): lambda: weighing(4200),
    ("weight-odd", ""): lambda: weighing(640, growing=True),
    ("weight-loss", ""): lambda: weighing(330),
    ("weight-loss-watch", ""): lambda: weighing(370),
    ("weight-gain", "adult"): lambda: weighing(560),
    ("weight-gain", "growing"): lambda: weighing(560, growing=True),
    ("weight-changed", ""): lambda: weighing(442),
    ("brumating", ""): lambda: by_plan(animal=replace(ANIMAL, brumating=True)),
    ("strength-unknown", "typed-once"): lambda: changed(concentration_mg_per_ml=37),
    ("strength-typed-differently", ""): lambda: changed(concentration_again_mg_per_ml="4"),
    ("animal-not-confirmed", ""): lambda: by_plan(animal=replace(ANIMAL, animal="")),
    ("no-positive-exam", ""): lambda: changed(positive_exam=False),
    ("clear-already", ""): lambda: changed(clear_already=True),
    ("word-not-counted", ""): lambda: after(logged(20), words=(word("too-early"),)),
    ("one-word-only", ""): lambda: by_plan(
        replace(PLAN, words=(word("brumating"), word("unwell-today"))),
        animal=replace(ANIMAL, brumating=True, findings=frozenset({"limp"})),
    ),
    ("given-today-already", ""): lambda: by_plan(
        replace(PLAN, interval_hours=24),
        doses=(DoseLogged(given_at=datetime(2026, 3, 10, 0, 30), weight_g=420, by="Ada"),),
        now=datetime(2026, 3, 10, 23, 30),
    ),
    ("too-many-in-a-day", ""): lambda: after(logged(18), logged(9), interval_hours=12),
    ("last-dose-not-kept", ""): lambda: after(logged(48, outcome="spat")),
    ("sign-after-dose", ""): lambda: after(replace(logged(48), reactions=frozenset({"Wobbling"}))),
    ("clock-zone-mixed", ""): lambda: by_plan(doses=(logged(48),), now=NOW.replace(tzinfo=UTC)),
    ("same-drug-elsewhere", ""): lambda: today(other_drugs=(OtherDrug("metronidazole", 1),)),
    ("other-drug-running", ""): lambda: today(other_drugs=(OtherDrug("fenbendazole", 3),)),
    ("scale-coarse", ""): lambda: on_scale(420, 5),
    ("scale-too-coarse", ""): lambda: on_scale(6, 1),
    ("scale-step-unknown", ""): lambda: on_scale(9),
    ("weight-not-empty", ""): lambda: by_plan(weight=replace(WEIGHT, state="just fed")),
    ("unwell-today", ""): lambda: today(findings=frozenset({"regurgitating"})),
    ("too-cold-by-day", ""): lambda: warmth(24, 22, night_at_least_c=20),
    ("too-cold-at-night", ""): lambda: warmth(30, 21),
    ("below-vets-floor", "day"): lambda: warmth(27, 26, warm_end_at_least_c=28),
    ("below-vets-floor", "night"): lambda: warmth(30, 26, night_at_least_c=27),
    ("floor-below-range", ""): lambda: warmth(30, 22, night_at_least_c=20),
    ("too-warm", "day"): lambda: warmth(34, 26),
    ("too-warm", "night"): lambda: warmth(35, 33),
    ("warm-range-unknown", ""): lambda: warmth(30, 22, known=False),
    ("warmth-not-recorded", "first-dose"): lambda: warmth(30, None),
    ("warmth-not-recorded", "later-dose"): lambda: warmth(30, None, first_dose=False),
    ("temperature-implausible", ""): lambda: warmth(86, 26),
    ("temperatures-swapped", ""): lambda: warmth(26, 30),
    ("hydration-unknown", ""): lambda: today(plan=ORDINARY, hydration="not known"),
    **{
        ("delicate-state", state): (lambda state=state: today(findings=frozenset({state})))
        for state in ("gravid", "hatchling", "before-shedding", "just-fed", "after-brumation")
    },
    ("injection-not-taught", ""): lambda: by_plan(replace(PLAN, route="SC"), injection_taught=False),
    ("drug-expired", ""): lambda: by_plan(bottle=BottleToday(expires_on=date(2026, 3, 9))),
    ("discard-passed", ""): lambda: by_plan(bottle=BottleToday(discard_on=date(2026, 3, 9))),
    ("dilution-expired", ""): lambda: by_plan(bottle=BottleToday(mixed_at=NOW - timedelta(days=1))),
    ("stock-short", ""): lambda: by_plan(bottle=BottleToday(left_ml="0.6")),
    ("syringe-without-needle", ""): lambda: ask(2400, route="PO", syringe_ml=2),
    ("volume-by-vets-word", ""): lambda: ask(dose=50, strength="2.4", volume_written_ml="8.75"),
}
"""What makes each row of the rule table speak, by code and scope."""
