"""From the store to the standing: what a vet's word changes, and what it never does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from fecallab.domain.casework import NO_LONGER_SUPPORTED, counts_of
from fecallab.gather import as_on, case_standing, judge_alone, targets_seen

from .conftest import Rescue, float_of

Do = Callable[..., dict[str, Any]]
TODAY = date(2026, 5, 20)


def standing(rescue: Rescue, case: str = "C1", today: date = TODAY) -> Any:
    with rescue.open() as store:
        return case_standing(store.case_file(case), today)


def judged(rescue: Rescue, exam: str, target: str) -> Any:
    with rescue.open() as store:
        whole = store.exam(exam)
        sample = store.sample(whole.sample)
        return judge_alone(whole, sample, store.animal(sample.animal), target)


def open_case_with_negatives(rescue: Rescue, last: tuple[tuple[str, bool], ...] = ()) -> None:
    """A case of oxyurids, treated in April, with two exams after the wait."""
    rescue.exam("2026-03-20", float_of(("oxyurid", True)))
    rescue.case("oxyurid", "2026-03-20", "E1")
    rescue.plan("C1", "2026-03-21", "2026-04-01", "2026-04-15")
    rescue.exam("2026-05-01", float_of(counts={"oxyurid": 0}))
    rescue.exam("2026-05-09", float_of(*last) if last else float_of(counts={"oxyurid": 0}))


def test_agreeing_with_an_unsure_mark_makes_it_sure_and_brings_the_case_back(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("oxyurid", False),))
    assert standing(rescue)[1].standing == "waiting for the vet's word"
    page = rescue.page("C1", "E3")
    answer = rescue.answer(page, marks=[{"mark": "E3-1-1-1", "verdict": "agree"}])
    told = do("vet", "take-in", rescue.file(answer), "--yes")
    assert told["recorded"] and told["standings"][0]["before"] == "waiting for the vet's word"
    assert told["standings"][0]["after"] == "positive again: back to the vet"
    assert standing(rescue)[1].standing == "positive again: back to the vet"
    with rescue.open() as store:
        mark = store.exam("E3").preparations[0].readings[0].marks[0]
    assert (mark.name, mark.sure) == ("oxyurid", False), "the keeper's own word stays as it was"


def test_an_artefact_is_taken_away_and_the_negative_counts(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("oxyurid", False),))
    page = rescue.page("C1", "E3")
    answer = rescue.answer(page, marks=[{"mark": "E3-1-1-1", "verdict": "artefact", "remark": "pollen"}])
    do("vet", "take-in", rescue.file(answer), "--yes")
    found = standing(rescue)[1]
    assert (found.standing, found.k) == ("clear by the rule", 2)


def test_cannot_tell_keeps_it_unsure(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("oxyurid", False),))
    page = rescue.page("C1", "E3")
    answer = rescue.answer(page, marks=[{"mark": "E3-1-1-1", "verdict": "cannot tell"}])
    do("vet", "take-in", rescue.file(answer), "--yes")
    assert standing(rescue)[1].standing == "waiting for the vet's word"


def test_rest_agreed_does_not_reach_an_unsure_mark(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("pollen_pine", True), ("oxyurid", False)))
    page = rescue.page("C1", "E3")
    told = do("vet", "take-in", rescue.file(rescue.answer(page, rest_agreed=True)), "--yes")
    assert (told["agreed_with_the_rest"], told["still_unsure"]) == (1, [2])
    assert standing(rescue)[1].standing == "waiting for the vet's word"


def test_a_missed_organism_counts_and_opens_a_case(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("pollen_pine", True)))
    page = rescue.page("E1", "E1")
    missed = [{"reading": "E1-1-1", "x_px": 611.5, "y_px": 240, "name": "isospora_amphiboluri_unsporulated"}]
    told = do("vet", "take-in", rescue.file(rescue.answer(page, missed=missed)), "--yes")
    assert told["cases_opened"] == ["C1"] and told["would_open"][0]["target"] == "coccidian"
    assert judged(rescue, "E1", "coccidian").result == "positive"
    with rescue.open() as store:
        case = store.case("C1")
        assert (case.target, case.opened_by_exam) == ("coccidian", "E1")
        assert counts_of(store.exam("E1")) == {"pollen_pine": 1, "isospora_amphiboluri_unsporulated": 1}


def test_two_vets_who_point_at_the_same_place_add_one_organism(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("pollen_pine", True)))
    page = rescue.page("E1", "E1")
    for number, (vet, x) in enumerate(((None, 600.0), ("Dr Tomas Ebner", 612.0), ("Dr Tomas Ebner", 900.0))):
        missed = [{"reading": "E1-1-1", "x_px": x, "y_px": 240.0, "name": "oxyurid"}]
        more = {"vet": {"name": vet}} if vet else {}
        at = f"2026-05-12T18:4{number}"
        do("vet", "take-in", rescue.file(rescue.answer(page, missed=missed, answered_at=at, **more)), "--yes")
    with rescue.open() as store:
        assert counts_of(store.exam("E1"))["oxyurid"] == 2


@pytest.mark.parametrize(
    ("first", "second", "result"),
    [
        ({"verdict": "agree"}, {"verdict": "artefact"}, "positive"),
        ({"verdict": "artefact"}, {"verdict": "agree"}, "positive"),
        ({"verdict": "artefact"}, {"verdict": "cannot tell"}, "unsure"),
        ({"verdict": "cannot tell"}, {"verdict": "artefact"}, "unsure"),
        ({"verdict": "artefact"}, {"verdict": "other", "name": "pollen_pine"}, "negative"),
        ({"verdict": "other", "name": "coccidian"}, {"verdict": "agree"}, "positive"),
        ({"verdict": "other", "name": "oxyurid", "sure": False}, {"verdict": "artefact"}, "unsure"),
    ],
)
def test_where_vets_differ_the_stricter_reading_holds_for_a_negative(
    rescue: Rescue, do: Do, first: dict[str, Any], second: dict[str, Any], result: str
) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    page = rescue.page("E1", "E1")
    for vet, word in (("Dr Ilse Varnholt", first), ("Dr Tomas Ebner", second)):
        marks = [{"mark": "E1-1-1-1", **word}]
        answer = rescue.answer(page, marks=marks, vet={"name": vet})
        told = do("vet", "take-in", rescue.file(answer), "--yes")
    found = judged(rescue, "E1", "oxyurid")
    assert found.result == result
    assert sum(burden.total for burden in found.burdens) <= 1, "one mark is never counted twice"
    assert told["names"][0]["vets_differ"] is (result != "negative")


def test_a_vet_who_answers_again_replaces_that_word_only(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("coccidian", False)))
    page = rescue.page("E1", "E1")
    both = [{"mark": f"E1-1-1-{n}", "verdict": "artefact"} for n in (1, 2)]
    do("vet", "take-in", rescue.file(rescue.answer(page, marks=both)), "--yes")
    again = [{"mark": "E1-1-1-2", "verdict": "agree"}]
    later = rescue.answer(page, marks=again, answered_at="2026-05-13T08:00", vet={"name": "dr ilse VARNHOLT"})
    do("vet", "take-in", rescue.file(later), "--yes")
    assert judged(rescue, "E1", "oxyurid").result == "negative"
    assert judged(rescue, "E1", "coccidian").result == "positive"


def test_a_count_without_a_picture_can_be_answered_too(rescue: Rescue, do: Do) -> None:
    whole = float_of()
    unsure = whole.readings[0].__class__(kind="sweep", objective=10.0, cover_share=1.0, unsure={"oxyurid": 2})
    rescue.exam("2026-05-09", whole.__class__(**{**vars(whole), "readings": (unsure,)}))
    page = rescue.page("E1", "E1")
    assert judged(rescue, "E1", "oxyurid").result == "unsure"
    answer = rescue.answer(page, marks=[{"mark": "E1-1-1:oxyurid?", "verdict": "agree"}])
    told = do("vet", "take-in", rescue.file(answer), "--yes")
    assert told["counts"]["E1"] == {"before": {"oxyurid (not sure)": 2}, "after": {"oxyurid": 2}}
    assert judged(rescue, "E1", "oxyurid").result == "positive"


def test_a_closing_that_a_vet_contradicts_shows_as_no_longer_supported(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("pollen_pine", True),))
    do("case", "close", "C1", "--on", "2026-05-10")
    page = rescue.page("C1", "E3")
    answer = rescue.answer(page, marks=[{"mark": "E3-1-1-1", "verdict": "other", "name": "oxyurid"}])
    told = do("vet", "take-in", rescue.file(answer), "--yes")
    assert told["standings"][0]["after"] == NO_LONGER_SUPPORTED
    assert standing(rescue)[2] == NO_LONGER_SUPPORTED


def test_adequacy_can_only_be_made_stricter_unless_the_vet_accepts(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-01", float_of(counts={"oxyurid": 0}))
    rescue.exam("2026-05-09", float_of(counts={"oxyurid": 0}, share=0.2))
    page = rescue.page("E1", "E1", "E2")
    assert [judged(rescue, code, "oxyurid").result for code in ("E1", "E2")] == ["negative", "inconclusive"]

    def say_of_both(word: str, vet: str, at: str) -> list[str]:
        exams = [{"exam": code, "adequacy": word} for code in ("E1", "E2")]
        answer = rescue.answer(page, exams=exams, vet={"name": vet}, answered_at=f"2026-05-12T{at}")
        do("vet", "take-in", rescue.file(answer), "--yes")
        return [judged(rescue, code, "oxyurid").result for code in ("E1", "E2")]

    assert say_of_both("agree", "Dr A", "10:00") == ["negative", "inconclusive"]
    assert say_of_both("accept", "Dr A", "11:00") == ["negative", "negative"]
    assert say_of_both("agree", "Dr B", "12:00") == ["negative", "inconclusive"], "not every vet accepts it"
    assert say_of_both("not adequate", "Dr B", "13:00") == ["inconclusive", "inconclusive"]
    assert "vet-not-adequate" in [reason.code for reason in judged(rescue, "E1", "oxyurid").reasons]


def test_a_vets_grade_takes_the_place_of_the_counted_one(rescue: Rescue, do: Do) -> None:
    from fecallab.domain.casework import history_of
    from fecallab.reference.adequacy import adequacy_facts

    rescue.exam("2026-05-09", float_of(("oxyurid", True)))
    rescue.case("oxyurid", "2026-05-09", "E1")
    page = rescue.page("E1", "E1")
    for vet, grade in (("Dr A", "few"), ("Dr B", "many"), ("Dr B", "moderate")):
        at = f"2026-05-12T1{len(grade)}:00"
        exams = [{"exam": "E1", "target": "oxyurid", "grade": grade}]
        answer = rescue.answer(page, exams=exams, vet={"name": vet}, answered_at=at)
        do("vet", "take-in", rescue.file(answer), "--yes")
    with rescue.open() as store:
        file = store.case_file("C1")
    found = case_standing(file, TODAY)[0]
    facts = history_of(file.case, file.plans, found, file.doses, file.events, adequacy_facts())
    assert facts.exams[0].grade == "moderate", "the heaviest of each vet's last word"


def test_a_mark_that_a_vet_named_counts_on_when_the_keeper_takes_it_away(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("pollen_pine", True)))
    page = rescue.page("E1", "E1")
    answer = rescue.answer(page, marks=[{"mark": "E1-1-1-1", "verdict": "agree"}], rest_agreed=True)
    do("vet", "take-in", rescue.file(answer), "--yes")
    do("withdraw", "E1-1-1-1", "--reason", "was nothing")
    assert judged(rescue, "E1", "oxyurid").result == "positive"
    do("withdraw", "U1", "--reason", "the vet took it back by telephone")
    assert judged(rescue, "E1", "oxyurid").result == "negative"


def test_what_was_known_on_an_earlier_day_leaves_later_answers_out(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("oxyurid", False),))
    page = rescue.page("C1", "E3")
    answer = rescue.answer(page, marks=[{"mark": "E3-1-1-1", "verdict": "agree"}])
    do("vet", "take-in", rescue.file(answer), "--yes")
    with rescue.open() as store:
        file = store.case_file("C1")
    earlier = as_on(file, date(2026, 5, 11))
    assert case_standing(earlier, date(2026, 5, 11))[1].standing == "waiting for the vet's word"
    assert case_standing(file, TODAY)[1].standing == "positive again: back to the vet"


def test_counting_in_the_database_changes_nothing_where_a_vet_has_spoken(rescue: Rescue, do: Do) -> None:
    open_case_with_negatives(rescue, last=(("oxyurid", False), ("pollen_pine", True)))
    page = rescue.page("C1", "E3")
    answer = rescue.answer(page, marks=[{"mark": "E3-1-1-1", "verdict": "agree"}], rest_agreed=True)
    do("vet", "take-in", rescue.file(answer), "--yes")
    with rescue.open() as store:
        whole, short = store.open_case_files(), store.open_case_files(tallies_only=True)
    assert [case_standing(file, TODAY)[1:] for file in whole] == [case_standing(f, TODAY)[1:] for f in short]
    assert targets_seen(short[0].exams[2], unsure=False) == ["oxyurid"]


def test_taking_in_twice_changes_nothing(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    page = rescue.page("E1", "E1")
    path = rescue.file(rescue.answer(page, marks=[{"mark": "E1-1-1-1", "verdict": "artefact"}]))
    first = do("vet", "take-in", path)
    assert first["recorded"] is False, "without a yes nothing is recorded"
    with rescue.open() as store:
        assert not store.exam("E1").verdicts
    assert do("vet", "take-in", path, "--yes")["answer"] == "Y1"
    again = do("vet", "take-in", path, "--yes")
    assert again == {"recorded": False, "answer": "Y1", "withdrawn": False, "signed_since": False}
    with rescue.open() as store:
        assert len(store.exam("E1").verdicts.marks) == 1


def test_what_the_keeper_withdrew_meanwhile_is_left_out_and_the_rest_taken_in(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)), float_of(("coccidian", False)))
    page = rescue.page("E1", "E1")
    do("withdraw", "E1-2-1", "--reason", "another animal's slide")
    missed = [{"reading": "E1-2-1", "x_px": 5, "y_px": 5, "name": "oxyurid"}]
    marks = [{"mark": f"E1-{n}-1-1", "verdict": "agree"} for n in (1, 2)]
    told = do("vet", "take-in", rescue.file(rescue.answer(page, marks=marks, missed=missed)), "--yes")
    assert [one["item"] for one in told["names"]] == ["E1-1-1-1"] and told["missed"] == []
    assert told["notes"] == [
        "No longer in the records, so it is left out: 2 (E1-2-1-1).",
        "No longer in the records, so it is left out: oxyurid in E1-2-1.",
    ]


def test_a_mark_that_the_keeper_renamed_meanwhile_is_what_the_vet_saw(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    page = rescue.page("E1", "E1")
    do("correct", "E1-1-1-1", "name=pollen_pine", "sure=yes", "--reason", "looked again")
    answer = rescue.answer(page, marks=[{"mark": "E1-1-1-1", "verdict": "agree"}])
    told = do("vet", "take-in", rescue.file(answer), "--yes")
    assert told["names"][0]["keeper"] == "oxyurid (not sure)"
    assert judged(rescue, "E1", "oxyurid").result == "positive", "the vet agreed with what stood on the page"


def test_a_vets_name_that_is_nearly_a_known_one_is_asked_about(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    page = rescue.page("E1", "E1")
    marks = [{"mark": "E1-1-1-1", "verdict": "artefact"}]
    assert do("vet", "take-in", rescue.file(rescue.answer(page, marks=marks)), "--yes")["notes"] == []
    other = rescue.answer(page, marks=marks, vet={"name": "Dr Ilse Varnholdt"})
    assert "known here as 'Dr Ilse Varnholt'" in do("vet", "take-in", rescue.file(other))["notes"][0]


def test_a_case_says_where_vets_differ(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    rescue.case("oxyurid", "2026-05-09", "E1")
    page = rescue.page("C1", "E1")
    for vet, word in (("Dr Ilse Varnholt", "agree"), ("Dr Odo Tamm", "artefact")):
        marks = [{"mark": "E1-1-1-1", "verdict": word}]
        do("vet", "take-in", rescue.file(rescue.answer(page, marks=marks, vet={"name": vet})), "--yes")
    notes = do("case", "show", "C1")["notes"]
    assert "Exam E1: vets differ on E1-1-1-1. The stricter reading holds for a negative." in notes
