"""A vet's message in words: read piece by piece, never guessed; typed by the keeper, so marked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.cli.exam_input import organism_name
from fecallab.cli.main import run
from fecallab.domain.errors import BadInput
from fecallab.vet.item_words import Word
from fecallab.vet.message import Told, read_message

from .conftest import Rescue, float_of

Do = Callable[..., dict[str, Any]]


def told(text: str) -> Told:
    return read_message(text, organism_name)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3 pollen", {3: Word("artefact", remark="pollen")}),
        ("3, 4 and 9 oxyurid", {n: Word("other", "oxyurid") for n in (3, 4, 9)}),
        ("3-5 oxyurid eggs", {n: Word("other", "oxyurid") for n in (3, 4, 5)}),
        ("3 to 4 is pinworm", {n: Word("other", "oxyurid") for n in (3, 4)}),
        ("no. 7: cannot tell, #8 can’t tell", {7: Word("cannot tell"), 8: Word("cannot tell")}),
        ("7 = probably a coccidian", {7: Word("other", "coccidian", False)}),
        ("7 coccidian?", {7: Word("other", "coccidian", False)}),
        ("7 ?", {7: Word("cannot tell")}),
        ("2) yes; 4) nothing", {2: Word("agree"), 4: Word("artefact")}),
        ("Marks 1 & 2 agree.", {1: Word("agree"), 2: Word("agree")}),
    ],
)
def test_words_on_numbers(text: str, words: dict[int, Word]) -> None:
    assert told(text) == Told(words=words)


@pytest.mark.parametrize(
    "text", ["rest agree", "The rest agreed.", "I agree", "all agree", "everything else is ok"]
)
def test_the_rest_agreed(text: str) -> None:
    assert told(text) == Told(rest_agreed=True)


def test_a_whole_message() -> None:
    found = told(
        "3 pollen, 7 unsure, rest agree; missed 2 pinworm in e1-1-2, a coccidian; grade few for oxyurid, pictures"
        " good, not adequate\nplan same as P1; see me if it stops eating, or drinks more"
    )
    assert set(found.words) == {3, 7} and found.rest_agreed
    assert found.missed == [("oxyurid", 2, True, "E1-1-2"), ("coccidian", 1, True, "")]
    assert (found.grade, found.grade_target, found.adequacy) == ("few", "oxyurid", "not adequate")
    assert (found.picture_quality, found.plan, found.same_as) == ("good", "same", "P1")
    assert found.advice == ["see me if it stops eating, or drinks more"]


def test_an_answer_as_the_page_suggests_it() -> None:
    found = told(
        "3 pollen; 7 cannot tell; the rest agreed; the same plan as on 4 March 2026; see me if it stops eating."
    )
    assert set(found.words) == {3, 7} and found.rest_agreed
    assert (found.plan, found.same_as) == ("same", "4 march 2026")
    assert found.advice == ["see me if it stops eating"]
    assert told("1 pollen; that is all.") == Told(words={1: Word("artefact", remark="pollen")})
    assert told("agreed.") == Told(rest_agreed=True)
    assert told("the plan: fenbendazole, 50 mg per kg, twice").plan == "fenbendazole, 50 mg per kg, twice"


def test_sentences_with_full_stops() -> None:
    found = told("No. 3 is pollen. 7 I can't tell. The rest is ok. See me on Monday. It may be nothing.")
    assert set(found.words) == {3, 7} and found.rest_agreed
    assert found.advice == ["See me on Monday. It may be nothing"]
    assert told("Plan: 50 mg/kg. Twice. 3 weeks apart").plan == "50 mg/kg. Twice. 3 weeks apart"


def test_a_plan_in_words_is_kept_in_words() -> None:
    assert told("Plan: fenbendazole 50 mg/kg, twice, 14 days apart").plan == (
        "fenbendazole 50 mg/kg, twice, 14 days apart"
    )
    assert told("follow-up: three negatives").plan == "follow-up: three negatives"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("3", "Nothing is said of number 3"),
        ("3 wibble", "no organism"),
        ("3 no", "says what it is not"),
        ("3 pollen, 3 oxyurid", "two words"),
        ("5-3 pollen", "no range"),
        ("1-999999 pollen", "no range"),
        ("rest pollen", "only 'rest agree'"),
        ("12 oxyurid 4 pollen", "no organism"),
        ("hello there", "not understood"),
        ("3, good", "not understood"),
        ("missed", "not understood"),
        ("missed nothing", "not understood"),
        ("plan", "not understood"),
        ("plan same; plan same", "twice"),
        ("x" * 9000, "limit"),
    ],
)
def test_what_cannot_be_read_for_sure_is_refused(text: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        told(text)


@settings(max_examples=150, deadline=None)
@given(
    st.text(max_size=60)
    | st.lists(
        st.sampled_from(
            [
                "3",
                "7",
                "-",
                ",",
                ";",
                "pollen",
                "rest",
                "agree",
                "no",
                "missed",
                "plan",
                "grade",
                "in",
                "E1-1-1",
                "?",
            ]
        ),
        max_size=10,
    ).map(" ".join)
)
def test_any_words_are_read_or_refused_in_one_line(text: str) -> None:
    try:
        found = told(text)
    except BadInput as error:
        assert "\n" not in f"{error}".strip() or "\n" in text
    else:
        assert all(number >= 0 for number in found.words)


def test_a_message_is_recorded_as_typed_and_kept(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("coccidian", False), ("oxyurid", True)))
    rescue.page("E1", "E1")
    words = ("verdict", "add", "E1", "1 agree, 2 pollen, rest agree", "--vet", "Dr Ilse Varnholt")
    shown = do(*words, "--date", "2026-05-12 18:00")
    assert shown["recorded"] is False and [one["number"] for one in shown["names"]] == [1, 2]
    with rescue.open() as store:
        assert not store.exam("E1").verdicts
    done = do(*words, "--date", "2026-05-12 18:00", "--yes")
    assert done["answer"] == "Y1" and done["signed"] == "unsigned" and done["cases_opened"] == ["C1"]
    with rescue.open() as store:
        said = store.exam("E1").verdicts.answers["Y1"]
    assert (said.source, said.message) == ("typed", "1 agree, 2 pollen, rest agree")
    assert do(*words, "--date", "2026-05-12 18:00", "--yes")["recorded"] is False, (
        "typed twice changes nothing"
    )


def test_the_whole_message_is_kept_beside_what_was_typed_of_it(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    letter = rescue.file("Dear Mara,\r\nthe first is an egg. 🐢\r\nI.V.".encode(), "letter.txt")
    do("verdict", "add", "E1", "1 agree", "--vet", "Dr Ilse Varnholt", "--message-file", letter, "--yes")
    with rescue.open() as store:
        assert store.exam("E1").verdicts.answers["Y1"].message == "Dear Mara,\nthe first is an egg. 🐢\nI.V."


def test_numbers_are_those_of_the_page_the_vet_had(rescue: Rescue, do: Do, say: Callable[..., str]) -> None:
    rescue.exam("2026-05-08", float_of(("pollen_pine", True)))
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("coccidian", False)))
    page = rescue.page("A1", "E1", "E2")
    told_now = do("verdict", "add", "E2", "2 artefact, 3 unsure", "--vet", "Dr Ilse Varnholt", "--yes")
    assert told_now["numbers_of"] == page["id"]
    assert [one["item"] for one in told_now["names"]] == ["E2-1-1-1", "E2-1-1-2"]
    assert "There is no number 4" in say("verdict", "add", "E2", "4 agree", "--vet", "Dr I V", code=2)
    assert "No page with the id" in say(
        "verdict", "add", "E2", "1 agree", "--vet", "Dr I V", "--page", "XXXX-XXXX", code=2
    )


def test_advice_goes_to_the_case_of_the_page_or_stays_with_the_answer(
    rescue: Rescue, do: Do, say: Callable[..., str]
) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", True)))
    do("verdict", "add", "E1", "1 agree; see me if it stops eating", "--vet", "Dr I V", "--yes")
    with rescue.open() as store:
        assert store.exam("E1").verdicts.answers["Y1"].words == "see me if it stops eating"
    for target in ("oxyurid", "coccidian"):
        rescue.case(target, "2026-05-09")
    assert "3 open cases" in say("verdict", "add", "E1", "rest agree; call me", "--vet", "Dr I V", code=2)
    rescue.page("C3", "E1")
    told_now = do("verdict", "add", "E1", "rest agree; call me", "--vet", "Dr I V", "--yes")
    assert told_now["cases"][0]["case"] == "C3" and told_now["cases"][0]["advice"] == "call me"


def test_withdrawing_an_answer_takes_all_its_words_back(
    rescue: Rescue, do: Do, say: Callable[..., str]
) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("coccidian", True)))
    do("verdict", "add", "E1", "1 agree, rest agree; grade few", "--vet", "Dr I V", "--yes")
    assert "refers to it" in say("withdraw", "Y1", "--reason", "x", code=2)
    gone = do("verdict", "withdraw", "Y1", "--reason", "of another animal")
    assert gone["words"] == ["U1", "U2", "J1"]
    with rescue.open() as store:
        assert not store.exam("E1").verdicts
    assert say("verdict", "list").startswith("No vet has said anything")


def test_a_word_can_be_corrected_like_any_fact(rescue: Rescue, do: Do, say: Callable[..., str]) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False)))
    do("verdict", "add", "E1", "1 pollen", "--vet", "Dr I V", "--yes")
    done = do("correct", "U1", "name=coccidian", "--reason", "misread the letter")
    assert done["cases_opened"] == ["C1"], "what is sure now opens its case"
    assert done["after"]["eye_group"] == "coccidian" and done["after"]["word"] == "other"
    assert "it is none of" in say("correct", "U1", "seen_name=x", "--reason", "y", code=2)


def test_asked_mark_by_mark(
    rescue: Rescue, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("pollen_pine", True), ("coccidian", False)))
    monkeypatch.setenv("FECALLAB_ASK", "1")
    answers = iter(
        [
            *("Dr Ilse Varnholt", "wibble", "agree", "", "1 pollen", "agree", "9 pollen", "2 oxyurid", ""),
            *("", "few for oxyurid", "perhaps", "", "good", "", "keep it warm; see me", "y"),
        ]
    )
    asked: list[str] = []

    def answer(prompt: str = "") -> str:
        asked.append(prompt)
        return next(answers)

    monkeypatch.setattr("builtins.input", answer)
    assert run(["verdict", "add", "E1"]) == 0
    out = capsys.readouterr().out
    assert "No. 1, you: oxyurid, not sure" in out + "".join(asked)
    with rescue.open() as store:
        said = store.exam("E1").verdicts
    assert {one.item: (one.word, one.name) for one in said.marks} == {
        "E1-1-1-1": ("agree", "oxyurid"),
        "E1-1-1-2": ("other", "oxyurid"),
    }
    assert (said.exams[0].grade, said.exams[0].target) == ("few", "oxyurid")
    assert {one.picture_quality for one in said.exams} == {"", "good"}
    assert said.answers["Y1"].words == "keep it warm, see me"
    assert "'wibble' is no organism" in out and "Number 1 has a word already" in out
    assert out.count("The number stands first, such as 3 pollen") == 1
    assert "Number 9 does not stand there" in out and "'perhaps' is not understood" in out
