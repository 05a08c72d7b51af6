"""Tables that a spreadsheet would take and the rules do not: names, samples, readings, plans and doses."""

from __future__ import annotations

from typing import Any

from .batch_refused import WEIGHTS, codes, pixel, refused
from .conftest import contents

__all__ = ["pixel", "refused"]


def test_names_and_labels_stand_once(refused, pixel):
    errors = refused(
        animals="name\nTilda\ntilda\nPIXEL\n",
        samples="sample,animal,collected at\na,Tilda,2025-03-01\nA,Tilda,2025-03-02\n",
    )
    assert [(e["file"], e["line"], e["code"]) for e in errors] == [
        ("animals.csv", 3, "name-twice"),
        ("animals.csv", 4, "recorded-already"),
        ("samples.csv", 3, "label-twice"),
    ]


def test_an_error_of_a_row_is_not_told_again_for_those_that_refer_to_it(refused):
    errors = refused(
        animals="name,adult\nTilda,perhaps\n",
        weights=WEIGHTS + "Tilda,2025-03-01,312\n",
        samples="sample,animal,collected at\na,Tilda,2025-03-01 08:00\n",
        readings=READINGS + "a,simple_flotation,2025-03-01 09:00,10,1,oxyurid,1\n",
    )
    assert [(e["file"], e["code"]) for e in errors] == [("animals.csv", "not-yes-or-no")]


def test_samples_are_held_to_the_order_of_times(refused, pixel):
    errors = refused(
        samples="sample,animal,passed from,passed to,collected at,mass (g),same stool as\n"
        "a,Pixel,2025-03-01 08:00,2025-03-01 06:00,,1,\n"
        "b,Pixel,,2025-03-01 08:00,,1,\n"
        "c,Pixel,2025-03-01 08:00,2025-03-01 09:00,2025-03-01 07:00,1,\n"
        "d,Pixel,,,,1,\n"
        "e,Pixel,2025-03-01 08:00,2025-03-01 06:00,,-1,\n"
        "f,Pixel,,,2025-03-01 08:00,1,g\n"
        "g,Pixel,,,2025-03-01 08:00,1,S9\n"
    )
    assert [(e["line"], e["code"]) for e in errors] == [
        (2, "end-before-start"),
        (3, "window-open"),
        (4, "collected-before-passed"),
        (5, "time-missing"),
        (6, "out-of-range"),
        (6, "end-before-start"),
        (7, "sample-below"),
        (8, "unknown-sample"),
    ]
    assert errors[0]["text"].startswith("'passed to' 1 March 2025, 06:00 is before 'passed from'")


READINGS = "sample,method,read at,objective,share of cover glass,organism,count\n"
FLOAT = "simple_flotation,2025-03-01 09:00,10,1"


def test_readings_are_held_to_the_rules_of_exams(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    stool("Pixel", "2025-03-01")
    errors = refused(
        a=READINGS + "S1,simple_flotation,2025-03-01 05:00,10,1,oxyurid,1\n",
        b=READINGS + "S2,simple_flotatoin,2025-03-01 09:00,10,1,oxiurid,-1\nS2,,,,40,oxyurid,1.5\n",
        c=READINGS.replace("share", "exam,share") + "S1,simple_flotation,2025-03-01 09:00,,x,1,oxyurid,1\n",
        d=READINGS.replace("sample", "exam,sample") + f"y,S1,{FLOAT},oxyurid,\ny,,,,,,,3\ny,,,,,,oxyurid,3\n",
        e=READINGS.replace("sample", "exam,sample")
        + f"z,S1,{FLOAT},oxyurid,1\nz,,,2025-03-01 10:00,,,flagellate,3\n",
        f=READINGS.replace("sample", "exam,sample") + f"u,S9,{FLOAT},oxyurid,1\n,,{FLOAT},oxyurid,1\n",
    )
    found = [(e["file"], e["line"], e["column"], e["code"]) for e in errors]
    assert found == [
        ("a.csv", 2, "", "exam-before-sample"),
        ("b.csv", 2, "method", "not-a-choice"),
        ("b.csv", 2, "organism", "unknown-organism"),
        ("b.csv", 2, "count", "not-a-count"),
        ("b.csv", 3, "share of cover glass (0 to 1)", "out-of-range"),
        ("b.csv", 3, "count", "not-a-count"),
        ("c.csv", 2, "", "objective-missing"),
        ("d.csv", 2, "count", "count-missing"),
        ("e.csv", 3, "read at", "differs"),
        ("f.csv", 2, "sample", "unknown-sample"),
        ("f.csv", 3, "sample", "cell-empty"),
    ]
    assert "Did you mean" in errors[1]["next"] and "oxyurid" in errors[2]["next"]


def test_chamber_volumes_and_limits_are_those_of_the_single_command(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    errors = refused(
        r="sample,method,read at,gravity,stool used (g),suspension (ml),counted (ml),organism,count\n"
        "S1,mcmaster,2025-03-01 09:00,1.2,1,0.3,15,oxyurid,1\n",
        s="exam,sample,method,read at,gravity,organism,count\nx,S1,mcmaster,2025-03-01 09:00,12,oxyurid,1\n",
    )
    assert [(e["file"], e["column"], e["code"]) for e in errors] == [
        ("r.csv", "counted (ml)", "volumes"),
        ("s.csv", "gravity", "out-of-range"),
    ]
    assert errors[0]["text"] == "'counted (ml)' 15 is more than 'suspension (ml)' 0.3."


def test_the_same_organism_twice_in_a_field_asks_for_numbers(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    (error,) = refused(
        r="sample,method,read at,objective,organism,count\n"
        "S1,simple_flotation,2025-03-01 09:00,10,oxyurid,1\nS1,,,10,oxyurid,0\n"
    )
    assert (error["line"], error["code"]) == (3, "given-twice") and "'reading'" in error["next"]


def test_a_grid_is_whole(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    head = "sample,method,read at,objective,organism,field 1,field 2,field 3,field 4\n"
    errors = refused(g=head + "S1,simple_flotation,2025-03-01 09:00,10,oxyurid,1,,2,x\n")
    assert [(e["column"], e["code"]) for e in errors] == [
        ("field 4", "not-a-count"),
        ("field 2", "field-empty"),
    ]
    errors = refused(
        g=head + "S1,simple_flotation,2025-03-01 09:00,10,oxyurid,1,0,2,\nS1,,,,flagellate,1,0,,\n"
    )
    assert [(e["line"], e["code"]) for e in errors] == [(3, "field-numbers")]


def test_results_from_elsewhere_are_checked(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    errors = refused(
        elsewhere="animal,target,result,from,method,collected,reported,sample,stage\n"
        "Pixel,oxyurid,negative,a laboratory,flotation,2025-03-05,2025-03-03,,\n"
        "Pixel,pollen,positive,a laboratory,flotation,2025-03-01,2025-03-03,,\n"
        "Pixel,oxyurid,perhaps,,flotation,2025-03-01,2025-03-03,,chick\n"
        "Pixel,oxyurid,negative,a laboratory,flotation,2025-03-02,2025-03-03,S1,\n"
    )
    assert [(e["line"], e["column"], e["code"]) for e in errors] == [
        (2, "reported", "reported-before-collected"),
        (3, "target", "no-target"),
        (4, "result", "not-a-choice"),
        (4, "from", "cell-empty-merged"),
        (4, "stage", "not-a-choice"),
        (5, "collected", "other-day"),
    ]


PLANS = "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses\n"
ORDER = "fenbendazole,50,100,by mouth,14,2"


def test_plans_and_doses_are_checked(refused, pixel):
    errors = refused(
        plans=PLANS
        + "a,Pixel,oxyurid,Dr Ilse Varnholt,2025-03-01,fenbendazole,50,,by mouth,14,2\n"
        + f"b,Pixel,flagellate,Dr Ilse Varnholt,2025-03-05,{ORDER}\n"
        + f"b,Pixel,flagellate,Dr Ilse Varnholt,2025-03-06,{ORDER}\n"
        + "c,Pixel,coccidian,Dr Ilse Varnholt,2025-03-06,,,,,,\n"
        + "d,Pixel,ascarid,Dr Ilse Varnholt,2025-03-06,fenbendazole,50,100,by mouth,400,20\n",
        doses="plan,animal,given at,volume (ml)\n"
        "b,Pixel,2025-03-04 08:00,0.2\n"
        "b,Pixel,2025-03-05 08:00,0.2\nb,Pixel,2025-03-05 08:00,0.2\n"
        "c,Pixel,2025-03-07 08:00,0.2\nz,Pixel,2025-03-07 08:00,0.2\na,Pixel,2025-03-07 08:00,0.2\n",
    )
    assert [(e["file"], e["line"], e["code"]) for e in errors] == [
        ("doses.csv", 2, "dose-before-plan"),
        ("doses.csv", 4, "dose-twice"),
        ("doses.csv", 5, "order-missing"),
        ("doses.csv", 6, "unknown-plan"),
        ("plans.csv", 2, "order-incomplete"),
        ("plans.csv", 4, "label-twice"),
        ("plans.csv", 6, "course-too-long"),
    ]
    assert errors[4]["column"] == "strength (mg/ml)"


def test_a_dose_without_a_plan_or_with_two_is_asked(refused, pixel):
    doses = "animal,given at,volume (ml)\nPixel,2025-03-07 08:00,0.2\n"
    assert codes(refused(doses=doses)) == ["order-missing"]
    plans = "".join(
        f"{t[0]},Pixel,{t},Dr Ilse Varnholt,2025-03-05,{ORDER}\n" for t in ("flagellate", "oxyurid")
    )
    assert codes(refused(doses=doses, plans=PLANS + plans)) == ["plan-unclear"]


def test_a_plan_older_than_the_one_in_force_is_refused(refused, case, do):
    do(
        *("plan", "add", case, "--vet", "Dr Ilse Varnholt", "--written", "2025-03-06"),
        *("--goal", "watch, no treatment"),
    )
    errors = refused(plans=PLANS + f"a,Saffron,oxyurid,Dr Ilse Varnholt,2025-03-05,{ORDER}\n")
    assert codes(errors) == ["plan-older"] and errors[0]["column"] == "written"


def test_what_only_the_records_can_refuse_leaves_nothing_behind(
    folder, tmp_path, fecallab, pixel, monkeypatch
):
    """The last line of defence: a refusal in the middle of the writing takes everything back."""
    from fecallab.domain.errors import BadInput
    from fecallab.records.writer import Writer

    path = tmp_path / "tables"
    path.mkdir()
    (path / "weights.csv").write_text(WEIGHTS + "Pixel,2025-03-01,312\n", encoding="utf-8")
    (path / "samples.csv").write_text("sample,animal,collected at\na,Pixel,2025-03-01\n", encoding="utf-8")
    before = contents(folder)
    add = Writer.add

    def refuse_samples(self: Writer, fact: Any) -> Any:
        if type(fact).__name__ == "Sample":
            raise BadInput("No samples today.", next="Try tomorrow.", code="closed")
        return add(self, fact)

    monkeypatch.setattr(Writer, "add", refuse_samples)
    said = fecallab("batch", "take-in", path, "--json")
    assert said.code == 2 and [(e["file"], e["line"], e["code"]) for e in said.json["errors"]] == [
        ("samples.csv", 2, "closed")
    ]
    assert contents(folder) == before
