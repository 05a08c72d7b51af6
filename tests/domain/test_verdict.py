"""Words of vets applied to an exam: against an oracle that asks the words one by one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.casework import counts_of
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.organism import NEVER_A_CASE
from fecallab.domain.verdict import (
    adequacy_by_vets,
    differ,
    grade_by_vets,
    known_on,
    missed_once,
    ruled,
    standing_words,
)
from fecallab.domain.vet_words import (
    NO_VERDICTS,
    ExamVerdict,
    MarkVerdict,
    MissedOrganism,
    Verdicts,
    VetAnswer,
)

GROUP = {
    "oxyurid": "oxyurid",
    "oxyurid_egg_a": "oxyurid",
    "coccidian": "coccidian",
    "pollen_pine": "artefact",
    "artefact": "artefact",
}
VETS = ("Dr A", "dr  a", "Dr B", "Dr C")
MARKS = 3


def answer(code: str, vet: str, hour: int) -> VetAnswer:
    return VetAnswer(code=code, vet=vet, answered_at=datetime(2026, 5, 1 + hour // 24, hour % 24))


@st.composite
def exams(draw: st.DrawFn) -> Exam:
    """An exam with three marks (or two counts), and words of up to four answers on them."""
    names = st.sampled_from(sorted(GROUP))
    if draw(st.booleans()):
        marks = tuple(
            Mark(code=f"E1-1-1-{n}", x_px=1.0, y_px=1.0, name=draw(names), sure=draw(st.booleans()))
            for n in range(1, MARKS + 1)
        )
        reading = Reading(code="E1-1-1", marks=marks)
        items = [(mark.code, mark.name, mark.sure, 1) for mark in marks]
    else:
        counts = draw(st.dictionaries(names, st.integers(0, 4), max_size=2))
        unsure = draw(st.dictionaries(names, st.integers(1, 4), max_size=1))
        reading = Reading(code="E1-1-1", counts=counts, unsure=unsure)
        items = [(f"E1-1-1:{name}", name, True, n) for name, n in counts.items() if n]
        items += [(f"E1-1-1:{name}?", name, False, n) for name, n in unsure.items()]
    answers = {
        f"Y{n}": answer(f"Y{n}", draw(st.sampled_from(VETS)), draw(st.integers(0, 30)))
        for n in range(1, draw(st.integers(1, 4)) + 1)
    }
    words = []
    for code in answers:
        for item, name, sure, count in items:
            word = draw(
                st.sampled_from(["", "agree", "agree with the rest", "other", "artefact", "cannot tell"])
            )
            if not word or (word == "agree with the rest" and not sure):
                continue
            called, certain = {
                "agree": (name, True),
                "agree with the rest": (name, sure),
                "artefact": ("artefact", True),
                "cannot tell": (name, False),
            }.get(word) or (draw(names), draw(st.booleans()))
            words.append(
                MarkVerdict(
                    code=f"U{len(words) + 1}",
                    answer=code,
                    exam="E1",
                    reading="E1-1-1",
                    item=item,
                    word=word,
                    name=called,
                    sure=certain,
                    eye_group=GROUP[called],
                    seen_name=name,
                    seen_sure=sure,
                    count=count,
                )
            )
    order = draw(st.permutations(words))
    preparation = Preparation(code="E1-1", method="simple_flotation", readings=(reading,))
    return Exam(
        code="E1",
        sample="S1",
        examined_at=datetime(2026, 4, 30),
        preparations=(preparation,),
        verdicts=Verdicts(answers=answers, marks=tuple(order)),
    )


def last_words(exam: Exam, item: str) -> list[MarkVerdict]:
    """The last word of every vet on an item, found by asking each word whether a later one beats it."""
    said = exam.verdicts

    def when(word: MarkVerdict) -> tuple[datetime, int, int]:
        return said.answers[word.answer].answered_at, int(word.answer[1:]), int(word.code[1:])

    def of(word: MarkVerdict) -> str:
        return " ".join(said.answers[word.answer].vet.lower().split())

    mine = [word for word in said.marks if word.item == item]
    return [w for w in mine if not any(of(o) == of(w) and when(o) > when(w) for o in mine)]


def expected(exam: Exam, target: str) -> tuple[int, int]:
    """How many are surely of a target, and how many unsurely, item by item."""
    surely = unsurely = 0
    reading = exam.preparations[0].readings[0]
    items = [(mark.code, mark.name, mark.sure, 1) for mark in reading.marks]
    if not items:
        items = [(f"E1-1-1:{name}", name, True, n) for name, n in reading.counts.items()]
        items += [(f"E1-1-1:{name}?", name, False, n) for name, n in reading.unsure.items()]
    for item, name, sure, count in items:
        words = last_words(exam, item)
        if not words:
            surely += count * (GROUP[name] == target and sure)
            unsurely += count * (GROUP[name] == target and not sure)
        elif any(GROUP[word.name] == target and word.sure for word in words):
            surely += count
        elif any(GROUP[word.name] == target for word in words):
            unsurely += count
    return surely, unsurely


def counted(exam: Exam, target: str) -> tuple[int, int]:
    """How many the rules count, sure and unsure."""
    both = (counts_of(exam, sure=which) for which in (True, False))
    sure, unsure = (sum(n for name, n in seen.items() if GROUP[name] == target) for seen in both)
    return sure, unsure


@settings(max_examples=150, deadline=None)
@given(exams())
def test_every_item_counts_once_and_the_strictest_word_holds(exam: Exam) -> None:
    for target in ("oxyurid", "coccidian"):
        assert counted(exam, target) == expected(exam, target)


@settings(max_examples=100, deadline=None)
@given(exams())
def test_the_keepers_own_names_stay_and_applying_twice_changes_nothing(exam: Exam) -> None:
    before = exam.preparations
    once = ruled(exam)
    assert exam.preparations == before
    assert ruled(once) == once
    assert [mark.code for mark in once.preparations[0].readings[0].marks][:1] == [
        mark.code for mark in before[0].readings[0].marks
    ][:1]


@settings(max_examples=100, deadline=None)
@given(exams(), st.randoms(use_true_random=False))
def test_the_order_in_which_words_are_stored_does_not_matter(exam: Exam, chance: object) -> None:
    words = list(exam.verdicts.marks)
    chance.shuffle(words)  # type: ignore[attr-defined]
    other = replace(exam, verdicts=replace(exam.verdicts, marks=tuple(words)))
    assert counts_of(other) == counts_of(exam) and counts_of(other, sure=False) == counts_of(exam, sure=False)


@settings(max_examples=100, deadline=None)
@given(exams(), st.sampled_from(["oxyurid", "coccidian"]))
def test_another_vet_never_makes_a_negative_more_likely(exam: Exam, target: str) -> None:
    """Where vets have named every item, one more vet can add doubt, never take it away."""
    items = {word.item for word in exam.verdicts.marks}
    if not items or "Dr New" in {one.vet for one in exam.verdicts.answers.values()}:
        return
    more = tuple(
        replace(
            word,
            code=f"U{900 + n}",
            answer="Y9",
            word="artefact",
            name="artefact",
            sure=True,
            eye_group="artefact",
        )
        for n, word in enumerate(
            next(w for w in exam.verdicts.marks if w.item == item) for item in sorted(items)
        )
    )
    said = exam.verdicts
    after = replace(
        exam,
        verdicts=replace(
            said, answers={**said.answers, "Y9": answer("Y9", "Dr New", 40)}, marks=(*said.marks, *more)
        ),
    )
    mine = {item: last_words(exam, item) for item in items}
    for item, words in mine.items():
        named = any(GROUP[word.name] == target for word in words)
        still = any(GROUP[word.name] == target for word in standing_words(after.verdicts)[item])
        assert not named or still
    assert counted(after, target) == counted(exam, target)


def test_an_exam_without_words_is_returned_as_it_is() -> None:
    exam = Exam(sample="S1", examined_at=datetime(2026, 5, 1))
    assert ruled(exam) is exam and exam.verdicts is NO_VERDICTS
    assert known_on(exam, date(2020, 1, 1)) is exam


def test_words_of_an_answer_that_no_longer_stands_are_not_heard() -> None:
    word = MarkVerdict(
        answer="Y1", exam="E1", reading="E1-1-1", item="E1-1-1-1", word="artefact", name="artefact",
        eye_group="artefact", seen_name="oxyurid", seen_sure=True,
    )  # fmt: skip
    mark = Mark(code="E1-1-1-1", x_px=0.0, y_px=0.0, name="oxyurid")
    reading = Reading(code="E1-1-1", marks=(mark,))
    exam = Exam(
        sample="S1",
        examined_at=datetime(2026, 5, 1),
        preparations=(Preparation(method="simple_flotation", readings=(reading,)),),
        verdicts=Verdicts(answers={}, marks=(word,)),
    )
    assert counts_of(exam) == {"oxyurid": 1}
    heard = replace(exam, verdicts=Verdicts(answers={"Y1": answer("Y1", "Dr A", 1)}, marks=(word,)))
    assert counts_of(heard) == {"artefact": 1}
    assert counts_of(known_on(heard, date(2026, 4, 30))) == {"oxyurid": 1}


@pytest.mark.parametrize(
    ("told", "number"),
    [([(10, 10), (12, 14)], 1), ([(10, 10), (80, 10)], 2), ([None, None], 3), ([(10, 10), None], 4)],
)
def test_missed_organisms_are_counted_once(told: list[tuple[int, int] | None], number: int) -> None:
    """Within 30 px they are one; of those told without a place the largest number stands (here 3)."""
    missed = tuple(
        MissedOrganism(
            code=f"O{n}",
            answer=f"Y{n}",
            exam="E1",
            reading="E1-1-1",
            x_px=None if place is None else float(place[0]),
            y_px=None if place is None else float(place[1]),
            name="oxyurid",
            eye_group="oxyurid",
            count=3 if place is None else 1,
        )
        for n, place in enumerate(told, start=1)
    )
    said = Verdicts(answers={f"Y{n}": answer(f"Y{n}", f"Dr {n}", n) for n in (1, 2)}, missed=missed)
    assert sum(one.count for one in missed_once(said)) == number


@pytest.mark.parametrize(
    ("words", "holds"),
    [
        (["accept"], "accept"),
        (["agree"], ""),
        (["accept", "agree"], ""),
        (["accept", "accept"], "accept"),
        (["accept", "not adequate"], "not adequate"),
        ([""], ""),
    ],
)
def test_the_strictest_word_on_adequacy_holds(words: list[str], holds: str) -> None:
    exam = Exam(
        sample="S1",
        examined_at=datetime(2026, 5, 1),
        verdicts=Verdicts(
            answers={f"Y{n}": answer(f"Y{n}", f"Dr {n}", n) for n in range(len(words))},
            exams=tuple(
                ExamVerdict(
                    code=f"J{n}", answer=f"Y{n}", exam="E1", adequacy=word, target="oxyurid" if n else ""
                )
                for n, word in enumerate(words)
            ),
        ),
    )
    assert adequacy_by_vets(exam, "oxyurid")[0] == holds
    assert adequacy_by_vets(exam, "coccidian")[0] == {"accept": "accept"}.get(words[0], "")


def test_the_heaviest_grade_of_vets_holds_and_words_of_two_scales_are_not_compared() -> None:
    def graded(*grades: str) -> Exam:
        return Exam(
            sample="S1",
            examined_at=datetime(2026, 5, 1),
            verdicts=Verdicts(
                answers={f"Y{n}": answer(f"Y{n}", f"Dr {n}", n) for n in range(len(grades))},
                exams=tuple(
                    ExamVerdict(code=f"J{n}", answer=f"Y{n}", exam="E1", grade=word)
                    for n, word in enumerate(grades)
                ),
            ),
        )

    assert grade_by_vets(graded("many", "few"), "oxyurid") == "many"
    assert grade_by_vets(graded("many", "1+"), "oxyurid") == "1+", "the last, where they cannot be compared"
    assert grade_by_vets(graded(), "oxyurid") == ""


def test_vets_differ_in_group_or_in_doubt() -> None:
    word = MarkVerdict(
        answer="Y1", exam="E1", reading="E1-1-1", item="E1-1-1-1", word="agree", name="oxyurid",
        eye_group="oxyurid", seen_name="oxyurid", seen_sure=True,
    )  # fmt: skip
    same = replace(word, name="oxyurid_egg_a")
    assert not differ([word, same])
    assert differ([word, replace(word, sure=False)]) and differ([word, replace(word, eye_group="coccidian")])
    assert set(NEVER_A_CASE) == {"pseudoparasite", "artefact"}
