"""One way to make each row about dilution, tubes, fluids, feeding and typing speak."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from fecallab.domain.care_plan import CareOrder, CareToday, care_today
from fecallab.domain.dilution import read_factor
from fecallab.domain.dose_tube import tube_figures, weighed_tube_ml
from fecallab.domain.dosing import DilutionOrder, DoseAnswer, Found, TubeUse
from fecallab.domain.figures import read_figure
from fecallab.domain.fluids import FluidAnswer, FluidOrder, ml_per_kg_with_deficit, work_out_fluids
from fecallab.domain.tube import tube_mark
from fecallab.reference.care import tube_landmarks
from fecallab.reference.drugs import dose_facts
from fecallab.reference.taxa import resolve_taxon

_spec = importlib.util.spec_from_file_location("dosing_cases", Path(__file__).with_name("dosing_cases.py"))
assert _spec is not None and _spec.loader is not None
cases = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(cases)

OIL = DilutionOrder(diluent="the pharmacy's carrier oil", named_by="Dr. Iva Marrow")


def thinned(order: DilutionOrder | None = OIL, **more: Any) -> DoseAnswer:
    """Work out 0.2 mg per kg of a 1 % ivermectin for a ball python of 600 g: too small to measure."""
    asked = {"weight_g": 600, "dose": "0.2", "strength": 10, "drug": "ivermectin", "animal": "ball python"}
    return cases.ask(**{**asked, "interval_hours": 336, "dilution": order, **more})


def through(**more: Any) -> DoseAnswer:
    """Give the usual dose, 0.21 ml for a snake of 420 g, through a tube."""
    use = TubeUse(**{"priming_ml": "0.03", "way": "flush", "hours_since_meal": 100, **more})
    return cases.by_plan(tube=use)


def weak_gavage(**more: Any) -> DoseAnswer:
    """Give the usual dose with fluid through a tube to a weak animal."""
    use = TubeUse(priming_ml="0.03", way="flush", hours_since_meal=100, fluid_ml=5, **more)
    return cases.by_plan(tube=use, animal=replace(cases.ANIMAL, findings=frozenset({"debilitated"})))


def fluids(ml_per_kg: Any, **more: Any) -> FluidAnswer:
    """Work out the fluids of a tortoise of 350 g."""
    return work_out_fluids(FluidOrder(weight_g=350, ml_per_kg=ml_per_kg, **more), dose_facts())


def missing_water(dry: Any, days: Any = None) -> Found:
    """Work out maintenance and what is missing."""
    found = Found(dose_facts())
    ml_per_kg_with_deficit(15, dry, days, found)
    return found


def measured(length_mm: Any) -> Found:
    """Ask how far a tube goes into a tortoise."""
    found = Found(dose_facts())
    tube_mark(resolve_taxon("Hermann's tortoise"), length_mm, tube_landmarks(), found)
    return found


def fed_dry() -> CareToday:
    animal = replace(cases.ANIMAL, hydration="dry")
    return care_today(
        CareOrder(vet="Dr. Iva Marrow", feeding="a pinkie"),
        cases.WEIGHT,
        cases.TODAY,
        animal,
        (),
        dose_facts(),
    )


CASES: dict[tuple[str, str], Callable[[], Any]] = {
    ("dilution-diluent-missing", ""): lambda: thinned(replace(OIL, named_by="")),
    ("dilution-too-many-steps", ""): lambda: thinned(weight_g=2),
    ("dilution-factor-unknown", ""): lambda: thinned(replace(OIL, factor=7)),
    ("dilution-stock-draw-small", ""): lambda: thinned(replace(OIL, stock_draw_ml=Decimal("0.2"))),
    ("dilution-stock-draw-too-small", ""): lambda: thinned(replace(OIL, stock_draw_ml=Decimal("0.1"))),
    ("dilution-in-dosing-syringe", ""): lambda: thinned(replace(OIL, mixed_in="dosing syringe")),
    ("dilution-not-with-water", ""): lambda: thinned(replace(OIL, diluent="sterile water")),
    ("dilution-error", ""): lambda: thinned(),
    ("dilution-error-too-large", ""): lambda: thinned(
        replace(OIL, factor=50, stock_draw_ml=Decimal("0.2")), weight_g=60
    ),
    ("dilution-used", ""): lambda: thinned(),
    ("tube-priming-unknown", ""): lambda: through(priming_ml=None),
    ("tube-way-missing", ""): lambda: through(way=""),
    ("tube-two-ways", ""): lambda: through(way="overfill", flush_ml="0.1"),
    ("tube-flush-too-small", ""): lambda: through(flush_ml="0.02"),
    ("tube-dead-volume-large", ""): lambda: through(priming_ml="0.1"),
    ("tube-overfill-too-small", ""): lambda: through(way="overfill", priming_ml="0.25"),
    ("tube-length-not-measured", ""): lambda: measured(None),
    ("stomach-too-full", ""): lambda: through(fluid_ml=9),
    ("stomach-first-gavages", ""): lambda: weak_gavage(gavages_before=2),
    ("stomach-beyond-published", ""): lambda: through(feed_ml=50, total_written_ml=60),
    ("stomach-by-vets-volume", ""): lambda: through(fluid_ml=9, total_written_ml=10),
    ("gavage-after-meal", "refuse"): lambda: through(hours_since_meal=47),
    ("gavage-after-meal", "warn"): lambda: through(hours_since_meal=71),
    ("gavage-after-meal", "unknown"): lambda: through(hours_since_meal=None),
    ("fluids-much", ""): lambda: fluids(31),
    ("fluids-too-much", ""): lambda: fluids("40.1"),
    ("fluids-by-vets-volume", ""): lambda: fluids(50, volume_written_ml="17.5"),
    ("fluids-per-site", "SC"): lambda: fluids(21, sites=2, route="SC"),
    ("fluids-per-site", "IM"): lambda: fluids(5, sites=2, route="IM"),
    ("fluids-per-site", ""): lambda: fluids(21, sites=2),
    ("fluids-route-not-at-home", ""): lambda: fluids(20, route="ICe"),
    ("fluids-product-missing", ""): lambda: fluids(20, by_plan=True),
    ("fluids-places-unlikely", ""): lambda: fluids(20, sites=13),
    ("fluids-deficit-days", ""): lambda: missing_water(5, 1),
    ("fluids-dryness-unlikely", ""): lambda: missing_water(16),
    ("feeding-cold-or-dry", ""): fed_dry,
}
"""What makes each of these rows speak, by code and scope."""

TYPED: dict[tuple[str, str], Callable[[], Any]] = {
    ("number-unreadable", ""): lambda: read_figure("inf", "g", "--weight-g"),
    ("number-ambiguous", ""): lambda: read_figure("1,234", "g", "--weight-g"),
    ("unit-wrong", ""): lambda: read_figure("200 µg/kg", "mg_per_kg", "--dose-mg-per-kg"),
    ("strength-percent", ""): lambda: read_figure("7.5 %", "mg_per_ml", "--concentration-mg-per-ml"),
    ("strength-ratio", ""): lambda: read_figure("1:10", "mg_per_ml", "--concentration-mg-per-ml"),
    ("strength-per-gram", "typed"): lambda: read_figure("150 mg/g", "mg_per_ml", "--concentration-mg-per-ml"),
    ("dilution-ratio", ""): lambda: read_factor("1:10", dose_facts()),
    ("tube-size-unlikely", ""): lambda: tube_figures(Decimal(41), None, Decimal(400), dose_facts()),
    ("tube-length-unlikely", ""): lambda: tube_figures(Decimal(5), None, Decimal("0.4"), dose_facts()),
    ("tube-inner-unlikely", ""): lambda: tube_figures(Decimal(5), Decimal(2), Decimal(400), dose_facts()),
    ("tube-weighing-unlikely", ""): lambda: weighed_tube_ml(Decimal(3), Decimal(3), dose_facts()),
}
"""What is bad input by a row of the table."""
