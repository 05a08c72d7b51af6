"""One of every kind of fact, to be put into records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry, Measurement, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.control import ControlRun
from fecallab.domain.exam import ElsewhereResult, Exam, Mark, Picture, Preparation, Reading
from fecallab.domain.housing import (
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    CountChange,
    Enclosure,
    Release,
    Sharing,
    Stay,
)
from fecallab.domain.plan import DoseGiven, DoseReaction, OtherDrugGiven, Plan, RuleWord
from fecallab.domain.sample import Sample
from fecallab.domain.signs import SignAnswer
from fecallab.records.writer import Writer

from .vets_words import add_words_of_a_vet


@pytest.fixture
def write_everything(
    picture_file: Callable[..., tuple[Path, Picture]],
) -> Callable[[Writer], dict[str, Any]]:
    """Record one of every kind of fact; texts hold quotes, tags and emoji."""

    def write(writer: Writer) -> dict[str, Any]:
        made: dict[str, Any] = {"picture": writer.add_picture(*picture_file())}
        sha = made["picture"].sha256
        made["animal"] = writer.add(
            Animal(
                name="Tilda <b>“the tank”</b> 🐢",
                species="Testudo hermanni",
                host_group="tortoise",
                plant_eater=True,
                adult=True,
                enclosure="north pen",
                arrived_on=date(2026, 2, 1),
                remark="first line\nsecond line",
            )
        )
        animal = made["animal"].code
        made["tub"] = writer.add(Animal(name="Tub 3", kind="tub", number_of_animals=4))
        made["weighing"] = writer.add(
            Weighing(animal=animal, weighed_at=datetime(2026, 3, 1, 8), mass_g=412.5, scale_step_g=0.5)
        )
        made["sample"] = writer.add(
            Sample(
                animal=animal,
                passed_from=datetime(2026, 3, 1, 7),
                passed_to=datetime(2026, 3, 1, 8),
                collected_at=datetime(2026, 3, 1, 8, 10),
                form="soft",
                kept="room",
                mass_g=1.25,
                remark='it\'s "fresh"; DROP TABLE samples;--',
            )
        )
        made["same stool"] = writer.add(
            Sample(animal=animal, collected_at=datetime(2026, 3, 1, 9), same_stool_as=made["sample"].code)
        )
        seen = (
            Reading(objective=40.0, field_number=18.0, counts={"oxyurid": 0}, unsure={"flagellate": 2}),
            Reading(
                kind="sweep",
                objective=10.0,
                cover_share=1.0,
                um_per_px=0.5,
                picture=sha,
                marks=(
                    Mark(x_px=10.5, y_px=20.0, name="oxyurid", length_um=130.0, width_um=40.0, angle_deg=0.0),
                    Mark(x_px=-0.5, y_px=0.0, name="pollen", sure=False, named_by="vet"),
                ),
                proposals="after reading",
                mean_swimming=2.5,
                mean_swimming_low=0.0,
                mean_swimming_high=5.5,
                clip_seconds=3.2,
            ),
        )
        made["exam"] = writer.add(
            Exam(
                sample=made["sample"].code,
                examined_at=datetime(2026, 3, 1, 8, 50),
                by="keeper",
                preparations=(
                    Preparation(
                        method="direct_saline_smear",
                        read_at=datetime(2026, 3, 1, 8, 45),
                        room_c=21.5,
                        slide_warmed=False,
                        readings=seen,
                    ),
                    Preparation(
                        method="simple_flotation",
                        solution="saturated salt",
                        specific_gravity=1.2,
                        gravity_checked=True,
                        standing_minutes=15.0,
                        sample_g=1.0,
                        suspension_ml=15.0,
                        counted_ml=0.3,
                    ),
                ),
                elsewhere=(
                    ElsewhereResult(
                        target="coccidian",
                        stage="oocyst",
                        who="an invented laboratory",
                        method="flotation",
                        reported_on=date(2026, 3, 3),
                        result="none seen",
                        stated_adequate=True,
                        picture=sha,
                    ),
                ),
                question="worms?",
            )
        )
        made["case"] = writer.add(
            Case(
                animal=animal,
                target="oxyurid",
                stages=("egg", "larva"),
                opened_on=date(2026, 3, 1),
                opened_by_exam=made["exam"].code,
            )
        )
        made["plan"] = writer.add(
            Plan(
                case=made["case"].code,
                vet="Dr. Invented",
                written_on=date(2026, 3, 2),
                drug="a drug",
                dose_mg_per_kg="50",
                concentration_mg_per_ml="100.0",
                interval_days=14.0,
                doses_planned=2,
                weight_max_age_days=7.0,
                negatives_needed=3,
                spacing_days=7,
                wait_after_last_dose_days=14,
                picture=sha,
                repeats_allowed=1,
                fluids_ml_per_kg_day=20.0,
                fluid_product="a fluid",
                night_at_least_c=18.5,
                diluent="water",
                diluent_by="the pharmacist",
                volume_written_ml="0.21",
                specialist_word="Dr. Invented, 2 March 2026",
                bottle_ml=10.0,
                tube_french=5.0,
                tube_inner_diameter_mm=0.8,
                tube_length_mm=400.0,
                tube_way="flush",
                label_picture=sha,
                as_told=True,
                confirmed=(
                    RuleWord(rule="weight-some-days-old", by="Dr. Invented", at=datetime(2026, 3, 2, 9)),
                    RuleWord(rule="a-rule", by="Dr. “I”", at=datetime(2026, 3, 2, 10), why="a\nreason 🐢"),
                ),
            )
        )
        made["dose"] = writer.add(
            DoseGiven(
                plan=made["plan"].code,
                given_at=datetime(2026, 3, 3, 18),
                volume_ml="0.20",
                weight_g=412.5,
                second_person="a friend",
                syringe_ml=0.5,
                dilution_factor=4.0,
                diluted_mg_per_ml="25",
                delivered_mg_per_kg="48.48",
                flush_ml=0.3,
                as_told=True,
                overrides=(RuleWord(rule="too-late", by="Dr. Invented", at=datetime(2026, 3, 3, 17)),),
            )
        )
        made["reaction"] = writer.add(
            DoseReaction(
                dose=made["dose"].code,
                at=datetime(2026, 3, 3, 20),
                sign="wobbling",
                text="left\nright",
                by="keeper",
            )
        )
        made["other drug"] = writer.add(
            OtherDrugGiven(
                animal=animal,
                drug="another drug",
                mg_per_kg="25",
                given_on=date(2026, 1, 9),
                doses=2,
                as_told=True,
            )
        )
        made["measurement"] = writer.add(
            Measurement(
                animal=animal, kind="plastron length", value_mm=96.5, measured_at=datetime(2026, 3, 1, 8)
            )
        )
        made["sign"] = writer.add(
            SignAnswer(
                animal=animal,
                sign="watery-stool",
                seen_at=datetime(2026, 3, 1, 8, 10),
                sample=made["sample"].code,
                by="keeper",
            )
        )
        made["control"] = writer.add(
            ControlRun(
                kind="known positive",
                done_at=datetime(2026, 3, 1, 10),
                method="simple_flotation",
                solution="saturated salt",
                bottle="made in February",
                objective=10.0,
                expected="oxyurid eggs",
                found="oxyurid eggs",
                expected_value=20.0,
                value=0.0,
                passed=False,
                judged="0 found where 20 are usual",
            )
        )
        made["event"] = writer.add(
            AnimalEvent(animal=animal, kind="brumation", start=date(2026, 3, 4), end=date(2026, 3, 20))
        )
        made["accepted"] = writer.add(
            AnimalEvent(
                animal=animal, kind="vet accepts course", start=date(2026, 3, 4), case=made["case"].code
            )
        )
        made["care"] = writer.add(
            CareEntry(
                animal=animal, at=datetime(2026, 3, 3, 7), kind="lowest at night", amount=-1.5, unit="°C"
            )
        )
        made["cleaning"] = writer.add(
            CareEntry(enclosure="north pen", at=datetime(2026, 3, 3, 9), kind="cleaning")
        )
        made["enclosure"] = writer.add(Enclosure(name="drawer “4”", room="warm room"))
        drawer = made["enclosure"].code
        made["sharing"] = writer.add(
            Sharing(enclosure=drawer, thing="tools", label="red tongs", start=date(2026, 2, 1))
        )
        made["stay"] = writer.add(
            Stay(
                animal=made["tub"].code,
                enclosure=drawer,
                start=date(2026, 2, 1),
                end=date(2026, 3, 1),
                number_of_animals=4,
            )
        )
        made["count change"] = writer.add(
            CountChange(
                animal=made["tub"].code, on=date(2026, 2, 9), kind="moved out", number=1, other=animal
            )
        )
        made["arrival"] = writer.add(
            Arrival(
                name="from the 🐢 fair", arrived_on=date(2026, 2, 1), origin="captive bred", source="a fair"
            )
        )
        made["member"] = writer.add(
            ArrivalMember(arrival="I1", animal=made["tub"].code, joined_on=date(2026, 2, 1))
        )
        made["protocol"] = writer.add(
            ArrivalProtocol(
                arrival="I1",
                written_on=date(2026, 2, 1),
                vet="Dr. Invented",
                days_at_least=90,
                negatives_needed=3,
                spacing_days=14,
                last_exam_after_days=22,
                preparations=("simple_flotation", "direct_saline_smear"),
                blocking=("coccidian",),
                not_blocking=("oxyurid", "ciliate"),
            )
        )
        made["release"] = writer.add(
            Release(
                arrival="I1",
                animals=(made["tub"].code,),
                on=date(2026, 3, 1),
                to="the collection",
                by="keeper",
                vet="Dr. Invented",
                reason="their word",
                protocol="IP1",
                supported_then=False,
            )
        )
        made["closing"] = writer.add(
            Closing(
                case=made["case"].code,
                closed_on=date(2026, 3, 4),
                by="keeper",
                ending="on a vet's order",
                vet="Dr. Invented",
            )
        )
        made |= add_words_of_a_vet(writer, made)
        made["exam"] = writer.exam(made["exam"].code)
        return made

    return write
