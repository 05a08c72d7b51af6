"""Counting in a terminal that is poor or not there: lines, questions, and windows that closed in between."""

from __future__ import annotations

import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.cli import tally_journal
from fecallab.cli.tally_draft import drafts_in
from fecallab.cli.tally_keys import LETTERS, NEXT_FIELD, NO_KEY, LineKeys, keys_of_line
from fecallab.domain.errors import CouldNot

from .counting import DAY


@pytest.fixture
def lines_in(fecallab, folder, monkeypatch):
    """Type lines into a tally, in this process; the input ends behind them."""

    def run_it(text, *words):
        monkeypatch.setattr("sys.stdin", io.StringIO(text))
        return fecallab("exam", "tally", *words)

    return run_it


def test_lines_are_fields_in_a_dumb_terminal(lines_in, do, preparation):
    done = lines_in("1 1 2\n\n1 u2\nq\n\n", preparation, "--objective", "10", "--field-number", "20")
    assert done.code == 0, done.err
    exam = do("exam", "show", "E1")["exam"]
    readings = exam["preparations"][0]["readings"]
    assert [r["counts"] for r in readings] == [{"coccidian": 2, "oxyurid": 1}, {}, {"coccidian": 1}]
    assert [r["unsure"] for r in readings] == [{}, {}, {"oxyurid": 1}]
    assert {(r["objective"], r["field_number"]) for r in readings} == {(10.0, 20.0)}
    assert do("case", "list", "--on", DAY)["cases"]


def test_the_answer_is_one_object_on_stdout(process, preparation):
    words = (preparation, "--objective", "10", "--field-number", "20", "--json")
    done = process("exam", "tally", *words, input="\nq\n\n", capture_output=True)
    assert json.loads(done.stdout)["exam"]["code"] == "E1"


def test_a_sample_is_counted_as_a_new_exam_with_what_was_not_given_asked(lines_in, do, stool):
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    sample = stool("Saffron", DAY)
    text = "5\n10\n18\n2\n\nq\n\n"  # the fifth method, the objective, the eyepiece
    done = lines_in(text, sample, "--gravity", "1.2", "--read-at", f"{DAY} 09:00")
    assert done.code == 0, done.err
    (made,) = do("exam", "show", "E1")["exam"]["preparations"]
    assert (made["method"], made["specific_gravity"]) == ("simple_flotation", 1.2)
    assert [r["counts"] for r in made["readings"]] == [{"oxyurid": 1}, {}]
    again = lines_in("", "E1-1", "--objective", "10")  # the eyepiece is asked once
    assert "field number 18" in again.err


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((), "preparation-missing"),
        (("E9-1",), "unknown-exam"),
        (("E1-7", "--objective", "10"), "unknown-preparation"),
        (("E1-1", "--objective", "10", "--gravity", "1.2"), "preparation-there"),
        (("E1-1", "--objective", "1000"), "out-of-range"),
        (("E1-1",), "answer-missing"),
        (("E1-1", "--objective", "10", "--remark", "a\x1bb"), "control-character"),
        (("--resume",), "no-tally"),
    ],
)
def test_what_cannot_be_counted_says_so_and_leaves_no_draft(lines_in, folder, preparation, words, code):
    done = lines_in("", *words, "--json")
    assert done.code == 2, done.err
    assert done.error["code"] == code
    assert not drafts_in(folder)


def test_the_end_of_input_keeps_the_draft_and_resume_finishes_it(lines_in, do, folder, preparation):
    words = (preparation, "--objective", "10", "--field-number", "20")
    stopped = lines_in("1\n2 2\n", *words)
    assert stopped.code == 130 and "--resume" in stopped.err
    assert do("exam", "show", "E1")["exam"]["preparations"][0]["readings"] == []
    assert drafts_in(folder)[0].course.now.total() == 3
    finished = lines_in("1\nq\n\n", "--resume")
    assert finished.code == 0, finished.err
    readings = do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]
    assert [r["counts"] for r in readings] == [{"coccidian": 1}, {"oxyurid": 2}, {"coccidian": 1}]
    assert not drafts_in(folder)


def test_nothing_named_offers_what_was_not_read_yet(lines_in, do, stool, folder, preparation, monkeypatch):
    monkeypatch.setenv("FECALLAB_ASK", "1")
    stool("Saffron", "2025-03-05")
    done = lines_in("1\n10\n20\n1\nq\n\n")
    assert done.code == 0, done.err
    assert "1  E1-1 Saffron, simple flotation, not read yet" in done.err
    assert "2  S2 Saffron, stool of 5 March 2025" in done.err
    assert "E1-1" not in lines_in("").err.partition("Number")[0]


def test_beginning_again_offers_the_unfinished_one(lines_in, folder, preparation):
    words = (preparation, "--objective", "10", "--field-number", "20")
    lines_in("1\n", *words)
    assert "Unfinished: E1-1 (Saffron)" in lines_in("\n2\n", *words).err
    assert [d.course.now.total() for d in drafts_in(folder)] == [2]
    lines_in("n\n2\n", *words)
    assert [d.course.now.total() for d in drafts_in(folder)] == [2, 1]
    chosen = lines_in("1\nq\n\n", "--resume")
    assert chosen.code == 0 and [d.course.now.total() for d in drafts_in(folder)] == [1]


def test_a_window_that_closed_between_recording_and_clearing_up_records_nothing_twice(
    fecallab, do, folder, preparation, monkeypatch
):
    class Died(BaseException):
        pass

    def died(self):
        self.close()
        raise Died

    words = ("exam", "tally", preparation, "--objective", "10", "--field-number", "20")
    monkeypatch.setattr("sys.stdin", io.StringIO("1\nq\n\n"))
    with monkeypatch.context() as patch, pytest.raises(Died):
        patch.setattr(tally_journal.Journal, "remove", died)
        fecallab(*words)
    assert len(do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]) == 1
    said = fecallab("exam", "tally", "--resume")
    assert said.code == 0 and "in the records already, as E1-1" in said.err
    assert len(do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]) == 1
    assert not drafts_in(folder)


def test_a_record_that_fails_keeps_the_counts(fecallab, do, folder, preparation, monkeypatch):
    from fecallab.records.writer import Writer

    def full(*_):
        raise CouldNot("The disk is full.", next="Free some space.")

    monkeypatch.setattr("sys.stdin", io.StringIO("1\nq\n\n"))
    with monkeypatch.context() as patch:
        patch.setattr(Writer, "add_readings", full)
        said = fecallab("exam", "tally", preparation, "--objective", "10", "--field-number", "20")
    assert said.code == 3 and "The counts are kept" in said.err
    monkeypatch.setattr("sys.stdin", io.StringIO("q\n\n"))
    assert fecallab("exam", "tally", "--resume").code == 0
    assert do("exam", "show", "E1")["exam"]["preparations"][0]["readings"][0]["counts"] == {"coccidian": 1}


def test_a_thrown_away_tally_leaves_nothing(lines_in, do, folder, preparation):
    words = (preparation, "--objective", "10", "--field-number", "20")
    done = lines_in("1\nq\nx\nyes\n", *words)
    assert done.code == 0 and "Nothing was recorded" in done.err
    assert not drafts_in(folder)
    assert do("exam", "show", "E1")["exam"]["preparations"][0]["readings"] == []


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("113", ["1", "1", "3", "end-of-line"]),
        ("1 . . 2", ["1", NEXT_FIELD, NEXT_FIELD, "2", "end-of-line"]),
        ("1 .", ["1", NEXT_FIELD]),
        ("u1+", ["u", "1"]),
        ("b", ["back"]),
        ("1, 2", ["1", "2", "end-of-line"]),
        ("eleven", [NO_KEY]),
    ],
)
def test_a_line_is_read_whole_or_not_at_all(line, expected):
    assert keys_of_line(line) == expected


@given(st.text(alphabet=st.sampled_from(LETTERS + "0123456789 .,+bx"), max_size=30))
def test_no_line_counts_more_than_its_digits(line):
    assert sum(key in "123456789" for key in keys_of_line(line)) <= sum(sign in "123456789" for sign in line)


def test_a_poor_terminal_shows_a_line_only_once():
    out = io.StringIO()
    typed = LineKeys(io.StringIO("1 1 3\n"), out)
    assert [typed.key() for _ in range(4)] == ["1", "1", "3", "end-of-line"]
    with pytest.raises(EOFError):
        typed.key()
