"""An imaginary rescue on one day, as sheets are printed for it: one animal for every kind of situation."""

from datetime import date, datetime, timedelta
from pathlib import Path

from fecallab.domain.animal import Animal, CareEntry, Weighing
from fecallab.domain.case import Case
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.records.store import create_records, open_records

TODAY = date(2026, 3, 18)
NOW = datetime(2026, 3, 18, 8, 30)
VET = "Dr Ilse Varnholt"


def make_records(folder: Path):
    """Write the records and return the folder."""
    create_records(folder, NOW)
    with open_records(folder) as store, store.write(by="Mara Quell", now=NOW) as writer:
        _on_treatment(writer)
        _under_follow_up(writer)
        _stale_weight(writer)
        _no_plan(writer)
        _thinned_through_a_tube(writer)
    return folder


def _positive(writer, animal, target, stages, days_ago, method="simple_flotation", objective=10.0):
    passed = NOW - timedelta(days=days_ago)
    sample = writer.add(
        Sample(
            animal=animal.code,
            passed_from=passed - timedelta(hours=1),
            passed_to=passed,
            collected_at=passed,
            form="soft",
            kept="room",
            mass_g=1.2,
        )
    )
    exam = writer.add(
        Exam(
            sample=sample.code,
            examined_at=passed + timedelta(minutes=20),
            preparations=(
                Preparation(
                    method=method,
                    read_at=passed + timedelta(minutes=20),
                    readings=(Reading(objective=objective, field_number=20.0, counts={target: 3}),),
                ),
            ),
        )
    )
    return writer.add(
        Case(
            animal=animal.code,
            target=target,
            stages=stages,
            opened_on=passed.date(),
            opened_by_exam=exam.code,
        )
    )


def _plan(writer, case, days_ago, **more):
    facts = {
        "drug": "fenbendazole",
        "dose_mg_per_kg": "50",
        "concentration_mg_per_ml": "100",
        "route": "by mouth",
        "interval_days": 14.0,
        "doses_planned": 2,
        "negatives_needed": 3,
        "spacing_days": 14,
        "wait_after_last_dose_days": 30,
        **more,
    }
    return writer.add(Plan(case=case.code, vet=VET, written_on=TODAY - timedelta(days=days_ago), **facts))


def _on_treatment(writer):
    dragon = writer.add(
        Animal(
            name="Saffron",
            species="Pogona vitticeps",
            host_group="lizard",
            adult=True,
            enclosure="vivarium 4",
        )
    )
    case = _positive(writer, dragon, "oxyurid", ("egg",), 20)
    plan = _plan(
        writer, case, 18, fluids="6 ml by mouth on dose days", feeding="as usual", warm_end_at_least_c=36.0
    )
    before = NOW - timedelta(days=14)
    writer.add(Weighing(animal=dragon.code, weighed_at=before, mass_g=317))
    writer.add(DoseGiven(plan=plan.code, given_at=before, volume_ml="0.16", weight_g=317, by="Mara Quell"))
    writer.add(CareEntry(animal=dragon.code, at=before, kind="cleaning"))
    writer.add(Weighing(animal=dragon.code, weighed_at=NOW - timedelta(minutes=20), mass_g=322))


def _under_follow_up(writer):
    tortoise = writer.add(
        Animal(
            name='Barley „die Große" Ёжик <b>',
            species="Testudo hermanni",
            host_group="tortoise",
            plant_eater=True,
            adult=True,
            enclosure="table 2",
        )
    )
    case = _positive(writer, tortoise, "flagellate", ("trophozoite",), 40, "direct_saline_smear", 40.0)
    plan = _plan(
        writer,
        case,
        38,
        drug="metronidazole",
        component="metronidazole",
        dose_mg_per_kg="25",
        concentration_mg_per_ml="50",
        interval_days=2.0,
        doses_planned=1,
        wait_after_last_dose_days=7,
    )
    given = NOW - timedelta(days=30)
    writer.add(Weighing(animal=tortoise.code, weighed_at=given, mass_g=640))
    writer.add(DoseGiven(plan=plan.code, given_at=given, volume_ml="0.32", weight_g=640))


def _stale_weight(writer):
    gecko = writer.add(
        Animal(
            name="Pip",
            species="Eublepharis macularius",
            host_group="gecko",
            adult=True,
            enclosure="rack 3",
        )
    )
    case = _positive(writer, gecko, "oxyurid", ("egg",), 9)
    _plan(writer, case, 8)
    writer.add(Weighing(animal=gecko.code, weighed_at=NOW - timedelta(days=5), mass_g=48))


def _no_plan(writer):
    tub = writer.add(
        Animal(
            name="Tub 7",
            kind="tub",
            number_of_animals=6,
            species="Pogona vitticeps",
            host_group="lizard",
            adult=False,
            enclosure="tub 7",
        )
    )
    _positive(writer, tub, "coccidian", ("oocyst",), 3)


def _thinned_through_a_tube(writer):
    hatchling = writer.add(
        Animal(
            name="Mote",
            species="Testudo hermanni",
            host_group="tortoise",
            plant_eater=True,
            adult=False,
            enclosure="warm box",
        )
    )
    case = _positive(writer, hatchling, "oxyurid", ("egg",), 6)
    _plan(
        writer,
        case,
        5,
        dose_mg_per_kg="50",
        diluent="water for injections",
        diluent_by=VET,
        tube_french=3.5,
        tube_inner_diameter_mm=0.6,
        tube_length_mm=60.0,
        tube_way="flush",
        fluids_ml_per_kg_day=20.0,
        fluid_product="lactated Ringer",
        night_at_least_c=18.0,
        warm_end_at_least_c=28.0,
    )
    writer.add(
        Weighing(animal=hatchling.code, weighed_at=NOW - timedelta(minutes=30), mass_g=31, scale_step_g=0.1)
    )
