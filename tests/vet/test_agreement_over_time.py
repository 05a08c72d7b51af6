"""How a keeper's names compare with the vet's: counted by hand here, and only what both have seen."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from itertools import pairwise
from typing import Any

import pytest

from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.keeper_and_vet import (
    FEWEST_EXAMS,
    RELIABLE,
    SEND_MORE,
    TOO_FEW,
    exact_share,
    keeper_and_vet,
    sensitivity_of,
)
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.domain.spoken import say_percent
from fecallab.domain.vet_words import MarkVerdict, MissedOrganism, Verdicts, VetAnswer
from fecallab.gather_vet import reading_words

from .conftest import Rescue, float_of

GROUPS = {name: name for name in (*TARGET_GROUPS, "artefact")}
Named = tuple[str, bool, str, str]
"""The keeper's name, whether sure, the vet's word, the vet's name."""


def exam_of(
    *named: Named, missed: tuple[str, ...] = (), code: str = "E1", by: str = "Mara Quell", month: int = 5
) -> Exam:
    """An exam with marks named by a keeper and a vet."""
    marks = tuple(
        Mark(code=f"{code}-1-1-{n}", x_px=1.0, y_px=1.0, name=one[0], sure=one[1])
        for n, one in enumerate(named, start=1)
    )
    frame: dict[str, Any] = {"answer": "Y1", "exam": code, "reading": f"{code}-1-1"}
    words = tuple(
        MarkVerdict(
            **frame,
            code=f"U{n}",
            item=mark.code,
            word=word,
            name=name,
            sure=word != "cannot tell",
            eye_group=name,
            seen_name=mark.name,
            seen_sure=mark.sure,
        )
        for n, (mark, (_, _, word, name)) in enumerate(zip(marks, named, strict=True), start=1)
        if word
    )
    added = tuple(
        MissedOrganism(**frame, code=f"O{n}", x_px=100.0 * n, y_px=0.0, name=name, eye_group=name)
        for n, name in enumerate(missed, start=1)
    )
    reading = Reading(code=f"{code}-1-1", marks=marks)
    return Exam(
        code=code,
        sample="S1",
        examined_at=datetime(2026, month, 1),
        by=by,
        preparations=(Preparation(code=f"{code}-1", method="simple_flotation", readings=(reading,)),),
        verdicts=Verdicts(
            answers={"Y1": VetAnswer(code="Y1", vet="Dr A", answered_at=datetime(2026, month, 2))},
            marks=words,
            missed=added,
        ),
    )


def test_the_table_of_a_target_counts_every_mark_once() -> None:
    exam = exam_of(
        ("oxyurid", True, "agree", "oxyurid"),
        ("oxyurid", True, "agree with the rest", "oxyurid"),
        ("oxyurid", False, "artefact", "artefact"),
        ("oxyurid", False, "agree", "oxyurid"),
        ("coccidian", True, "other", "oxyurid"),
        ("coccidian", True, "agree", "coccidian"),
        ("artefact", True, "agree", "artefact"),
        ("coccidian", False, "cannot tell", "coccidian"),
        ("coccidian", True, "", ""),
        missed=("oxyurid", "flagellate"),
    )
    found = keeper_and_vet([exam], GROUPS, TARGET_GROUPS)
    assert (found.pairs, found.exams, found.cannot_tell, found.with_the_rest) == (9, 1, 1, 1)
    by_target = {one.target: one for one in found.targets}
    oxyurid = by_target["oxyurid"]
    assert oxyurid.table == ((3, 1), (2, 3))
    assert (oxyurid.missed, oxyurid.unsure, oxyurid.unsure_confirmed) == (1, 2, 1)
    assert by_target["coccidian"].table == ((1, 1), (0, 7))
    assert by_target["flagellate"].table == ((0, 0), (1, 8))
    assert oxyurid.found.positive_agreement == pytest.approx(2 * 3 / (2 * 3 + 3))
    assert oxyurid.found.agreement == pytest.approx(6 / 9)
    by_chance = (4 * 5 + 5 * 4) / 81
    assert oxyurid.found.kappa == pytest.approx((6 / 9 - by_chance) / (1 - by_chance))


def test_a_count_without_a_picture_says_nothing_of_the_keepers_eye() -> None:
    exam = exam_of(("oxyurid", True, "agree", "oxyurid"))
    word = exam.verdicts.marks[0]
    from dataclasses import replace

    counted = replace(exam, verdicts=replace(exam.verdicts, marks=(replace(word, item="E1-1-1:oxyurid"),)))
    assert keeper_and_vet([counted], GROUPS, TARGET_GROUPS).pairs == 0


@pytest.mark.parametrize(
    ("right", "wrong", "verdict"),
    [(19, 0, TOO_FEW), (20, 0, RELIABLE), (30, 8, SEND_MORE), (60, 3, RELIABLE), (20, 1, SEND_MORE)],
)
def test_a_keeper_is_called_reliable_by_the_lower_limit_only(right: int, wrong: int, verdict: str) -> None:
    named = [("oxyurid", True, "agree", "oxyurid")] * right + [
        ("oxyurid", True, "artefact", "artefact")
    ] * wrong
    found = keeper_and_vet([exam_of(*named)], GROUPS, TARGET_GROUPS).targets[0]
    assert found.verdict == verdict
    assert found.named_alike is not None
    assert (found.named_alike.low >= 0.8) is (verdict == RELIABLE or right + wrong < 20)


def test_it_is_told_apart_by_person_and_by_quarter() -> None:
    exams = [
        exam_of(("oxyurid", True, "agree", "oxyurid"), code="E1", month=2),
        exam_of(("oxyurid", True, "artefact", "artefact"), code="E2", by="Tam Reed", month=5),
        exam_of(("coccidian", True, "agree", "coccidian"), code="E3", by="mara quell", month=6),
    ]
    assert [one[:3] for one in keeper_and_vet(exams, GROUPS, TARGET_GROUPS).periods] == [
        ("2026, 01 to 03", 1, 1.0),
        ("2026, 04 to 06", 2, 0.5),
    ]
    mine = keeper_and_vet(exams, GROUPS, TARGET_GROUPS, by="Mara Quell")
    assert mine.pairs == 2 and {one.target for one in mine.targets} == {"oxyurid", "coccidian"}


def test_the_keepers_sensitivity_counts_exams_that_a_vet_looked_over_whole() -> None:
    exams = [
        exam_of(("oxyurid", True, "agree with the rest", "oxyurid"), code="E1"),
        exam_of(("artefact", True, "agree with the rest", "artefact"), missed=("oxyurid",), code="E2"),
        exam_of(("oxyurid", False, "agree", "oxyurid"), code="E3"),
        exam_of(("oxyurid", True, "agree", "oxyurid"), ("artefact", True, "", ""), code="E4"),
        exam_of(("oxyurid", True, "artefact", "artefact"), code="E5"),
    ]
    found = sensitivity_of(exams, GROUPS, "oxyurid")
    assert found.share is not None and (found.share.found, found.share.of) == (1, 3)
    assert not found.enough


def test_the_chance_that_is_left_takes_the_keepers_own_reading_in_once_there_is_enough() -> None:
    from fecallab.domain.followup import Standing
    from fecallab.domain.keeper_and_vet import Sensitivity
    from fecallab.domain.residual import residual_chance

    standing = Standing("k of n", 2, 3, None, False, ())
    few = Sensitivity("oxyurid", exact_share(5, 6), 6)
    assert f"from {FEWEST_EXAMS} on it is counted in" in reading_words(standing, few)
    enough = Sensitivity("oxyurid", exact_share(9, 10), 10)
    words = reading_words(standing, enough)
    worst = residual_chance(0.5, 0.5 * exact_share(9, 10).low, 2).cautious
    best = residual_chance(0.5, 0.5 * exact_share(9, 10).high, 2).cautious
    assert "9 of 10 exams" in words and f"{say_percent(best)} to {say_percent(worst)} cautious" in words
    assert best < worst
    assert reading_words(Standing("watching", 0, None, None, False, ()), enough) == ""


def test_the_command_says_it_for_people_and_machines(
    rescue: Rescue, do: Callable[..., dict[str, Any]], say: Callable[..., str]
) -> None:
    assert "No vet has named a mark yet" in say("vet", "agreement")
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("oxyurid", True), ("pollen_pine", True)))
    rescue.page("E1", "E1")
    do("verdict", "add", "E1", "1 pollen, rest agree; missed a coccidian", "--vet", "Dr I V", "--yes")
    told = do("vet", "agreement")
    assert (told["marks"], told["exams"], told["agreed_with_the_rest"]) == (4, 1, 2)
    by_target = {one["target"]: one for one in told["targets"]}
    assert by_target["oxyurid"]["table"] == [[1, 1], [0, 2]]
    assert by_target["coccidian"]["table"] == [[0, 0], [1, 3]] and by_target["coccidian"]["missed"] == 1
    assert by_target["oxyurid"]["verdict"] == TOO_FEW
    shown = say("vet", "agreement", "--by", "mara QUELL")
    assert "too few yet." in shown and "The vet saw your names" in shown
    header, first = next((a, b) for a, b in pairwise(shown.splitlines()) if a.startswith("target"))
    assert header.split("  ")[-1] == "neg." and len(header) < 80 and len(first) < 80


def test_where_all_marks_are_named_alike_no_interval_is_pretended(
    rescue: Rescue, do: Callable[..., dict[str, Any]], say: Callable[..., str]
) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", True), ("pollen_pine", True)))
    rescue.page("E1", "E1")
    do("verdict", "add", "E1", "rest agree", "--vet", "Dr I V", "--yes")
    shown = say("vet", "agreement")
    assert "1.00 (1.00" not in shown and "A kappa without an interval" in shown
    assert "No vet has named a mark that Tam Reed read" in say("vet", "agreement", "--by", "Tam Reed")
    assert "Your own reading" not in say("case", "show", "C1"), "nothing has counted yet"
