"""What the rows of a batch become: exams of several readings, cases and doses, and what is told of them."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from fecallab.records.store import open_records

from .batch_tables import facts, one_float, put

__all__ = ["put"]


def test_a_filled_grid_is_a_field_for_each_column(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    stool("Pixel", "2025-03-01")
    head = "sample,method,read at,objective,field number,organism,sure," + ",".join(
        f"field {n}" for n in range(1, 6)
    )
    put(
        "grid.csv",
        f"{head}\nS1,simple flotation,2025-03-01 09:00,10,20,oxyurid,,0,2,1,0,\n"
        "S1,,,,,flagellate,no,1,0,0,0,\n",
    )
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"exams": 1, "readings": 4}
    (exam,) = facts(folder)["exams"]
    readings = exam.preparations[0].readings
    assert [dict(reading.counts) for reading in readings] == [{"oxyurid": n} for n in (0, 2, 1, 0)]
    assert [dict(reading.unsure) for reading in readings] == [{"flagellate": n} for n in (1, 0, 0, 0)]
    assert {reading.field_number for reading in readings} == {20}


def test_several_preparations_and_readings_of_one_exam_are_joined(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    stool("Pixel", "2025-03-01")
    put(
        "r.csv",
        "exam,sample,preparation,method,read at,room (°C),reading,objective,share of cover glass,organism,count\n"
        "x,S1,1,direct_saline_smear,2025-03-01 08:20,24,1,40,0.4,flagellate,7\n"
        "x,,1,,,,,,,ciliate,1\n"
        "x,,1,,,,2,10,1,ciliate,5\n"
        "x,,2,simple_flotation,2025-03-01 09:00,,,10,1,oxyurid,0\n",
    )
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"exams": 1, "readings": 3}
    (exam,) = facts(folder)["exams"]
    smear, floated = exam.preparations
    assert [dict(reading.counts) for reading in smear.readings] == [
        {"flagellate": 7, "ciliate": 1},
        {"ciliate": 5},
    ]
    assert (smear.room_c, floated.method, dict(floated.readings[0].counts)) == (
        24,
        "simple_flotation",
        {"oxyurid": 0},
    )
    assert exam.examined_at == datetime(2025, 3, 1, 8, 20)


def test_a_chamber_is_counted_without_an_objective(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    stool("Pixel", "2025-03-01")
    put(
        "r.csv",
        "sample,method,read at,gravity,gravity checked,stood (min),stool used (g),suspension (ml),counted (ml),organism,count\n"
        'S1,mcmaster,2025-03-01 09:00,"1,2",yes,5,1,15,"0,3",oxyurid,4\n',
    )
    do("batch", "take-in", folder.parent / "tables")
    (judged,) = do("exam", "show", "E1")["judged"]
    assert judged["burdens"][0]["per_g"] == pytest.approx(4 * 15 / (1 * 0.3))


def test_a_result_from_elsewhere_brings_its_own_sample_and_opens_a_case(folder, put, do):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    put(
        "elsewhere.csv",
        "exam,animal,target,result,from,method,collected,reported,adequate\n"
        "r,Pixel,oxyurid,positive,a laboratory,flotation,2025-03-01,2025-03-03,\n"
        "r,Pixel,coccidian,negative,a laboratory,flotation,2025-03-01,2025-03-03,yes\n",
    )
    said = do("batch", "take-in", folder.parent / "tables")
    assert said["counts"] == {"results from elsewhere": 2}
    assert [case["target"] for case in said["cases_opened"]] == ["oxyurid"]
    (exam,) = facts(folder)["exams"]
    assert [(one.target, one.result, one.stated_adequate) for one in exam.elsewhere] == [
        ("oxyurid", "positive", None),
        ("coccidian", "negative", True),
    ]
    assert facts(folder)["samples"][0].collected_at == datetime(2025, 3, 1, 12)


def test_an_animal_taken_on_in_mid_course_comes_in_as_told(folder, put, do):
    put("animals.csv", "name,species,adult\nPixel,Pogona vitticeps,yes\n")
    put("weights.csv", "animal,weighed at,weight (g),as told\nPixel,2025-02-20 08:00,315,yes\n")
    put(
        "plans.csv",
        "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses,as told\n"
        "p,Pixel,oxyurid,Dr Ilse Varnholt,2025-02-19,Fenbendazole,50,100,by mouth,14,2,yes\n",
    )
    put(
        "doses.csv",
        "animal,given at,volume (ml),as told\nPixel,2025-02-20 08:15,0.16,yes\n",
    )
    said = do("batch", "take-in", folder.parent / "tables")
    (case,) = said["cases_opened"]
    assert (case["case"], case["target"]) == ("C1", "oxyurid") and "Dr Ilse Varnholt" in case["why"]
    with open_records(folder) as store:
        file = store.case_file("C1")
    assert file.plan is not None and file.plan.as_told and file.plan.drug == "fenbendazole"
    assert [(d.volume_ml, d.as_told) for d in file.doses] == [("0.16", True)]
    assert file.weighings[0].as_told
    assert file.plan.negatives_needed is not None and file.plan.follow_up_source.startswith("default")
    due = do("due", "--on", "2025-03-06")["due"]
    assert [thing["case"] for thing in due] == ["C1"]


def test_doses_that_the_rules_would_have_refused_are_recorded_and_told(folder, put, do, case, say):
    put(
        "plans.csv",
        "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses\n"
        "p,Saffron,oxyurid,Dr Ilse Varnholt,2025-03-06,fenbendazole,50,100,by mouth,14,2\n",
    )
    put("doses.csv", "plan,animal,given at,volume (ml)\np,Saffron,2025-03-07 08:15,0.16\n")
    said = do("batch", "take-in", folder.parent / "tables")
    (note,) = said["notes"]
    assert "doses.csv, line 2" in note and "weight" in note
    with open_records(folder) as store:
        assert [dose.given_at for dose in store.doses("C1")] == [datetime(2025, 3, 7, 8, 15)]


def test_a_dose_takes_the_last_weight_before_it(folder, put, do, case):
    do("care", "log", "Saffron", "warm end", "38", "--at", "2025-03-06 13:00")
    do("care", "log", "Saffron", "lowest at night", "26", "--at", "2025-03-07 07:00")
    put(
        "weights.csv",
        "animal,weighed at,weight (g)\nSaffron,2025-03-07 08:00,320\nSaffron,2025-03-08 08:00,400\n",
    )
    put(
        "plans.csv",
        "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses\n"
        "p,Saffron,oxyurid,Dr Ilse Varnholt,2025-03-06,fenbendazole,50,100,by mouth,14,2\n",
    )
    put("doses.csv", "animal,given at,volume (ml)\nSaffron,2025-03-07 08:15,0.16\n")
    assert do("batch", "take-in", folder.parent / "tables")["notes"] == []
    with open_records(folder) as store:
        (dose,) = store.doses("C1")
    assert (dose.weight_g, dose.delivered_mg_per_kg) == (320, "50")


def test_the_oldest_stool_opens_the_case_whatever_the_order_of_the_rows(folder, put, do):
    put("animals.csv", "name,species\nPixel,Pogona vitticeps\n")
    put(
        "samples.csv",
        "sample,animal,collected at\nlate,Pixel,2025-04-01 08:00\nearly,Pixel,2025-03-01 08:00\n",
    )
    late, early = one_float("late", "2025-04-01 09:00", 2), one_float("early", "2025-03-01 09:00", 2)
    put("readings.csv", late + early.splitlines(keepends=True)[1])
    said = do("batch", "take-in", folder.parent / "tables")
    assert len(said["cases_opened"]) == 1
    (case,) = facts(folder)["cases"]
    assert case.opened_on == date(2025, 3, 1)


def test_weights_far_from_the_one_before_are_told(folder, put, do):
    put("animals.csv", "name\nPixel\n")
    put("weights.csv", "animal,weighed at,weight (g)\nPixel,2025-03-01,312\nPixel,2025-03-08,0.318\n")
    (note,) = do("batch", "take-in", folder.parent / "tables")["notes"]
    assert "weights.csv, line 3" in note and "g, not kg" in note


def test_normal_inhabitants_open_a_note_and_no_case(folder, put, do, stool):
    do("animal", "add", "Barley", "--species", "Testudo hermanni", "--adult")
    stool("Barley", "2025-03-01")
    put("r.csv", one_float("S1", "2025-03-01 09:00", 3).replace("oxyurid", "ciliate"))
    said = do("batch", "take-in", folder.parent / "tables")
    assert said["cases_opened"] == []
    assert any("normal inhabitant" in note for note in said["notes"])
