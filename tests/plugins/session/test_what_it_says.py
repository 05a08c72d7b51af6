"""What the marks say: sizes with their shortlist, and the running burden, the same as the rules say at the end."""

from __future__ import annotations

import random

import pytest

from fecallab.cli.typed import say_number
from fecallab.domain.burden import burdens_of
from fecallab.domain.casework import judge_exam
from fecallab.domain.measuring import Amount
from fecallab.gather import judge_alone, scale_for, stages_of
from fecallab.imaging.identify import identify
from fecallab.records.store import open_records
from fecallab.reference.adequacy import adequacy_facts

from .conftest import KEEPER


def test_the_size_of_a_mark_comes_with_its_uncertainty_and_a_shortlist_with_reasons(with_pictures):
    session = with_pictures
    session.set_scale(0.5, 0.005)
    uid = session.add_mark("coccidian", 10, 10).uids[0]
    session.measure_ellipse(uid, (20, 20), 49, 48, 0)
    mark, said = session.mark(uid), session.size_words(uid)
    expected = identify(
        "bearded_dragon",
        length=Amount(mark.length_um, mark.length_half_width_um),
        width=Amount(mark.width_um, mark.width_half_width_um),
        method="simple_flotation",
    )
    assert said.size.startswith("24 ± 1.") and " µm long, 24 ± 1." in said.size
    assert [key for key, _, _ in said.fits] == [one.key for one in expected.fits][:6]
    assert said.own_name == "fits" and any("fits: 22 to 27 µm" in line for line in said.lines)
    session.rename_marks([uid], "oxyurid")
    assert session.size_words(uid).own_name == "no oxyurid of this host has this size"
    assert not any("%" in line.replace("95 %", "") and "probab" in line for line in said.lines)


def test_a_size_follows_every_change_at_once(with_pictures):
    session = with_pictures
    uid = session.add_mark("oxyurid", 10, 10).uids[0]
    assert session.size_words(uid).size == "no scale, not measured"
    session.measure_line(uid, (0, 0), (48, 0))
    assert session.size_words(uid).size == "no scale: set one, and the size is told"
    session.set_scale(0.5)
    assert session.size_words(uid).size.startswith("24 ± ")
    session.set_scale(2.5)
    assert session.size_words(uid).size.startswith("120 ± ")
    session.remove_measure([uid])
    assert session.size_words(uid).size.startswith("not measured")


def test_a_recorded_size_says_that_its_uncertainty_is_not_recorded(with_pictures):
    session = with_pictures
    session.set_scale(0.5)
    uid = session.add_mark("coccidian", 10, 10).uids[0]
    session.measure_ellipse(uid, (20, 20), 48, 47, 0)
    session.finish()
    said = session.size_words("E1-1-3-1")
    assert said.size == "24 ± 1.0 µm long, 24 ± 1.0 µm wide (how certain is not recorded)" and said.fits


def _expected(session, target):
    """What the rules say of the draft, worked out from nothing, as rows of total, mean, interval, share, grade."""
    from dataclasses import replace

    from fecallab.domain.exam import Reading

    by_preparation = {code: [] for code in session.facts.preparations}
    for view in session.fields():
        if view.done:
            by_preparation[view.preparation].append(
                Reading(
                    kind=view.kind,
                    objective=view.objective,
                    field_number=view.field_number,
                    counts=dict(view.sure),
                    unsure=dict(view.unsure),
                )
            )
    exam = replace(
        session.facts.exam,
        preparations=tuple(
            replace(p, readings=tuple(by_preparation[c])) for c, p in session.facts.preparations.items()
        ),
    )
    stages = stages_of(target, session.facts.animal)
    found = burdens_of(exam, target, adequacy_facts().group_of, scale_for(target, stages))
    judged = judge_exam(exam, session.facts.sample, session.facts.animal, target, stages, adequacy_facts())
    return found, judged


@pytest.mark.parametrize("seed", [1, 2])
def test_the_running_burden_is_at_every_moment_what_the_rules_say(with_pictures, seed):
    session, dice = with_pictures, random.Random(seed)
    for _ in range(25):
        field = dice.choice([view.uid for view in session.fields() if view.picture])
        act = dice.random()
        marks = [mark.uid for mark in session.marks(field)]
        if act < 0.4:
            session.add_mark(
                dice.choice(["oxyurid", "coccidian", "yeast"]), 1, 1, sure=dice.random() < 0.8, field=field
            )
        elif act < 0.55 and marks:
            session.delete_marks(marks[:1])
        elif act < 0.65 and marks:
            session.rename_marks(marks, "coccidian")
        elif act < 0.75:
            session.set_objective(dice.choice([10, 40]), 20, [field])
        elif act < 0.9:
            session.undo()
        elif not marks:
            session.nothing_here(field)
        table = session.burden_table()
        for target in {row.target for row in table.rows}:
            found, judged = _expected(session, target)
            rows = [row for row in table.rows if row.target == target]
            assert [row.total for row in rows] == [str(one.total) for one in found]
            for row, one in zip(rows, found, strict=True):
                if one.per_field is not None:
                    assert row.mean_per_field.startswith(say_number(one.per_field.mean_per_field) + " in ")
                    assert say_number(one.per_field.ci95[1]) in row.interval or "none found" in row.interval
                assert row.grade == (one.grade.word if one.grade else "")
                assert row.scale == (one.grade.scale_name if one.grade else "")
            for line in table.adequacy:
                if line.target == target and judged.answers[line.stage].result == "positive":
                    assert line.says == "positive" and line.missing == "seen, so no negative"


def test_the_table_says_interval_grade_with_scale_covered_share_and_what_is_missing(with_pictures):
    session = with_pictures
    session.set_objective(10, 20, ["f1", "f2", "f3"])
    for field in ("f1", "f2", "f3"):
        session.nothing_here(field)
    table = session.burden_table()
    (row,) = table.rows
    assert (row.target, row.preparation, row.objective, row.total) == (
        "oxyurid",
        "E1-1 simple flotation",
        "10×",
        "2",
    )
    assert row.mean_per_field == "0.4 in 5" and row.interval.endswith("1.44")  # exact Poisson, 2 in 5
    assert row.grade and row.scale and row.covered_share == "3.25 %"
    by_target = {(line.target, line.stage): line for line in table.adequacy}
    assert by_target["oxyurid", "egg"].says == "positive"
    assert "more fields at 10× for the whole glass" in by_target["ascarid", "egg"].missing
    assert by_target["flagellate", "trophozoite"].missing == "this simple flotation cannot give a negative"


def test_an_unsure_mark_waits_for_the_vet_in_the_table(with_pictures):
    with_pictures.add_mark("ascarid", 1, 1, sure=False)
    table = with_pictures.burden_table()
    (line,) = [one for one in table.adequacy if one.target == "ascarid"]
    assert line.says == "waiting for the vet's word (unsure marks)"
    assert line.missing == "not sure, so no negative before the vet's word"
    (row,) = [one for one in table.rows if one.target == "ascarid"]
    assert (row.total, row.unsure) == ("0", "1")


def test_after_finishing_the_table_is_what_exam_show_says(with_pictures, folder):
    session = with_pictures
    session.add_marks([("oxyurid", 1, 1)] * 4)
    session.nothing_here("f2")
    session.remove_field("f3")
    before = session.burden_table()
    session.finish()
    assert session.burden_table().rows == before.rows
    with open_records(folder) as store:
        exam = store.exam("E1")
        judged = judge_alone(exam, store.sample(exam.sample), store.animal("A1"), "oxyurid")
    assert [str(one.total) for one in judged.burdens] == [row.total for row in before.rows] == ["6"]
    assert judged.result == "positive"


def test_a_word_of_a_vet_goes_before_the_keepers_name_in_the_table_as_in_every_rule(
    with_pictures, folder, opened
):
    from fecallab.cli.main import run

    session = with_pictures
    session.add_marks([("oxyurid", 1, 1), ("oxyurid", 2, 2)])
    session.finish()
    session.close()
    said = ("--vet", "Dr Ilse Varnholt", "--yes", "--records", str(folder), "--by", KEEPER)
    words = ("verdict", "add", "E1", "2 ascarid", *said)
    assert run(list(words)) == 0
    again = opened()
    assert [(mark.name, mark.vets_say) for mark in again.marks("E1-1-3")] == [
        ("oxyurid", "Dr Ilse Varnholt: ascarid"),
        ("oxyurid", ""),
    ]
    again.add_mark("oxyurid", 3, 3, field="E1-1-3")
    rows = {row.target: row.total for row in again.burden_table().rows}
    assert rows == {
        "oxyurid": "4",
        "ascarid": "1",
    }  # two typed, one the vet left, one new; one named by the vet
    again.delete_marks(["E1-1-3-2"])
    assert {row.target: row.total for row in again.burden_table().rows} == {"oxyurid": "3", "ascarid": "1"}
    again.finish("was debris")
    with open_records(folder) as store:
        exam = store.exam("E1")
        judged = judge_alone(exam, store.sample(exam.sample), store.animal("A1"), "ascarid")
    assert [one.total for one in judged.burdens] == [1] and judged.result == "positive"
