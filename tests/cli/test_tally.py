"""Counting at the eyepiece: what each key does, what is journalled, and what the screen shows."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fecallab.cli import tally_journal
from fecallab.cli.tally_count import RECORD, THROW_AWAY
from fecallab.cli.tally_draft import read_draft
from fecallab.cli.tally_keys import NEXT_FIELD
from fecallab.cli.tally_screen import Facts, read_back_lines, screen_lines
from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.tally import COUNT, NEXT, SWEEP, Act, new_tally
from fecallab.domain.tally_course import Course

from .counting import counted, counter

# Keys


def test_every_kind_of_key_has_its_own_number_of_bells(tmp_path):
    made = counted(tmp_path, ["1", NEXT_FIELD, "back", "r", "x", "8"])
    assert made.terminal.bells == [1, 2, 3, 3, 4, 4]


def test_u_before_a_number_is_not_sure_and_ends_with_it(tmp_path):
    made = counted(tmp_path, ["u", "1", "1", "u", "back", "1", "u", "0", "2"])
    tally = made.course.now
    assert (tally.in_all("coccidian"), tally.in_all("coccidian", sure=False)) == (2, 1)
    assert tally.in_all("pollen_pine", sure=False) == 1


def test_backspace_after_u_takes_back_the_u_and_no_count(tmp_path):
    made = counted(tmp_path, ["1", "u", "back"])
    assert made.course.now.in_all("coccidian") == 1


def test_shift_is_not_sure_where_it_was_learned(tmp_path):
    made = counted(tmp_path, ["!", "k", "!", '"', "2"], ['!"§$%&/()'])
    assert made.terminal.bells == [4, 3, 1, 1, 1]
    assert made.course.now.in_all("coccidian", sure=False) == 1
    assert made.course.now.in_all("oxyurid", sure=False) == 1
    assert read_draft(made.journal.path).shift_keys == '!"§$%&/()'


def test_a_keyboard_that_types_one_sign_for_two_numbers_is_not_learned(tmp_path):
    made = counted(tmp_path, ["k"], ["!!!!!!!!!"])
    assert made.terminal.bells == [4] and not made.shift_keys


@pytest.mark.parametrize(
    ("typed", "share"), [("0,4", 0.4), ("40 %", 0.4), ("2/5", 0.4), ("all", 1.0), ("?", None)]
)
def test_a_sweep_is_ended_by_its_share(tmp_path, typed, share):
    made = counted(tmp_path, ["s", "2", "2", "s"], [typed])
    (reading,) = made.course.now.readings()
    assert (reading.kind, reading.cover_share, dict(reading.counts)) == ("sweep", share, {"oxyurid": 2})


@pytest.mark.parametrize("typed", ["40", "1.2", "much", "-1", "4/3", ""])
def test_a_share_that_cannot_be_meant_leaves_the_sweep_going(tmp_path, typed):
    made = counted(tmp_path, ["s", "2", "s"], [typed])
    assert made.course.now.sweeping and made.terminal.bells[-1] == 4


def test_space_in_a_sweep_says_how_the_sweep_ends(tmp_path):
    made = counted(tmp_path, ["s", NEXT_FIELD])
    assert made.terminal.bells[-1] == 4 and "End the sweep with s" in made.message


def test_n_gives_another_organism_a_key_by_name_or_by_number(tmp_path):
    made = counted(
        tmp_path, ["n", "3", "n", "4", "n", "n"], ["ciliates", "syphacia", "2", "no such thing", ""]
    )
    tally = made.course.now
    assert tally.first == ("coccidian", "oxyurid", "ciliate", "syphacia_muris_egg")
    assert tally.in_all("ciliate") == tally.in_all("syphacia_muris_egg") == 1
    assert made.terminal.bells == [3, 1, 3, 1, 4, 4]


def test_o_and_f_change_what_is_looked_through(tmp_path):
    made = counted(tmp_path, ["1", "o", "1", "f", "1", "o", "f"], ["40x", "10x/22", "900", "x"])
    readings = made.course.now.readings()
    assert [(r.objective, r.field_number) for r in readings] == [(10, 20), (40, 20), (40, 22)]
    assert made.terminal.bells[-2:] == [4, 4]


def test_q_reads_back_and_records_after_enter(tmp_path):
    made = counter(tmp_path, ["1", NEXT_FIELD, NEXT_FIELD, "q"], [""])
    readings = made.run()
    assert made.ending == RECORD
    assert [dict(r.counts) for r in readings] == [{"coccidian": 1}, {}]
    shown = "\n".join(made.terminal.frames[-1])
    assert "2 fields at 10x" in shown and "1 = 1,0" in shown and "field 3 has no key" in shown


def test_q_takes_the_open_field_in_as_a_zero_when_the_person_says_that_it_was_looked_at(tmp_path):
    assert len(counter(tmp_path, [NEXT_FIELD, "q"], ["+"]).run()) == 2


def test_q_goes_back_to_counting_and_throws_away_only_after_yes(tmp_path):
    made = counter(tmp_path, ["1", "q", "q", "1", "q"], ["b", "x", "no", "x", "yes"])
    assert made.run() == () and made.ending == THROW_AWAY
    assert made.course.now.in_all("coccidian") == 2


def test_nothing_counted_is_not_recorded_by_enter(tmp_path):
    made = counter(tmp_path, ["q"], [""])
    with pytest.raises(EOFError):
        made.run()
    assert not made.ending


def test_q_in_a_sweep_asks_its_share_first(tmp_path):
    made = counter(tmp_path, ["s", "1", "q", "q"], ["", "1/3", ""])
    (reading,) = made.run()
    assert reading.cover_share == pytest.approx(1 / 3)


# The journal

keys = st.lists(
    st.sampled_from(["1", "2", "u", "0", NEXT_FIELD, "back", "r", "s", "x", "n", "o"]), max_size=60
)


@given(keys, st.lists(st.sampled_from(["", "0.4", "all", "40", "ciliate", "2"]), max_size=20))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
def test_the_journal_plays_to_the_same_state_after_every_key(tmp_path, pressed, answers):
    made = counter(tmp_path, (), answers)
    try:
        for key in pressed:
            made.press(key)
            assert read_draft(made.journal.path).course == made.course
    except EOFError:  # no answer was left: the window closed at the question
        assert read_draft(made.journal.path).course == made.course
    made.journal.remove()


def test_a_line_cut_short_by_a_crash_is_left_out_and_written_over(tmp_path):
    made = counted(tmp_path, ["1", "1"])
    whole = made.journal.path.read_bytes()
    for tail in (b'{"act":"cou', b"\0" * 40, b"\0" * 40 + b"\n"):
        made.journal.path.write_bytes(whole + tail)
        assert read_draft(made.journal.path).course.now.total() == 2
        journal, _ = tally_journal.resume(made.journal.path)
        journal.act(Act(COUNT, "oxyurid"))
        journal.close()
        assert made.journal.path.read_bytes().startswith(whole)
        assert read_draft(made.journal.path).course.now.total() == 3


def test_damage_in_the_middle_is_said_and_never_counted_over(tmp_path):
    made = counted(tmp_path, ["1", "1", "1"])
    lines = made.journal.path.read_bytes().split(b"\n")
    lines[2] = b"\0\0\0"
    made.journal.path.write_bytes(b"\n".join(lines))
    with pytest.raises(CouldNot, match="damaged"):
        read_draft(made.journal.path)
    made.journal.path.write_text('{"what":"something else"}\n', encoding="utf-8")
    with pytest.raises(BadInput, match="no tally"):
        read_draft(made.journal.path)


def test_a_full_disk_refuses_the_key_and_keeps_what_was_counted(tmp_path, monkeypatch):
    made = counter(tmp_path)
    made.press("1")
    real = os.write

    def full(handle, content):
        if handle == made.journal.handle:
            real(handle, content[:5])
            raise OSError(28, "No space left on device")
        return real(handle, content)

    monkeypatch.setattr(os, "write", full)
    made.press("1")
    assert made.terminal.bells == [1, 4] and "it is not counted" in made.message
    monkeypatch.setattr(os, "write", real)
    made.press("2")
    assert read_draft(made.journal.path).course == made.course
    assert (made.course.now.in_all("coccidian"), made.course.now.in_all("oxyurid")) == (1, 1)


@pytest.mark.skipif(os.name != "posix", reason="locks of one process on itself differ on Windows")
def test_two_windows_never_count_in_one_journal(tmp_path):
    made = counter(tmp_path)
    with pytest.raises(CouldNot, match="another window"):
        tally_journal.resume(made.journal.path)
    made.journal.close()
    tally_journal.resume(made.journal.path)[0].close()


# The screen


@pytest.mark.parametrize("rows", [0, 3, 9])
@pytest.mark.parametrize("sweeping", [False, True])
def test_the_screen_fits_80_by_24_in_plain_letters(rows, sweeping):
    tally = new_tally(40, 20, [f"{'organism_' * 5}{i}" for i in range(rows)], [f"look_{i}" for i in range(9)])
    course = Course(tally)
    for _ in range(150):
        for name in tally.first:
            course = course.do(Act(COUNT, name))
            course = course.do(Act(COUNT, name, sure=False))
        course = course.do(Act(NEXT))
    if sweeping:
        course = course.do(Act(SWEEP))
    facts = Facts(
        "E123-45  " + "A very long name " * 5, 0.123456, ("821 more fields: " + "flagellate, " * 30,) * 5
    )
    for second in (False, True):
        lines = screen_lines(course.now, facts, message="m" * 200, second_row=second)
        assert len(lines) <= 24 and max(map(len, lines)) <= 79
        assert all(line.isascii() and line.isprintable() for line in lines)
        assert "q finish" in lines[-1]


def test_the_screen_shows_counts_mean_share_and_what_is_missing():
    course = Course(new_tally(40, 20, ["oxyurid", "ciliate"]))
    for act in (
        Act(COUNT, "oxyurid"),
        Act(NEXT),
        Act(NEXT),
        Act(COUNT, "oxyurid"),
        Act(COUNT, "oxyurid", False),
    ):
        course = course.do(act)
    text = "\n".join(screen_lines(course.now, Facts("E1-1  Saffron", 0.0008, ("291 more fields",))))
    assert "FIELD 3" in text and "40x / field number 20" in text
    assert any(
        line.split() == ["1", "oxyurid", "2", "2", "1", "0.5", "(0.0127-2.79)"] for line in text.splitlines()
    )
    assert "0 (under 1.5)" in text  # -ln 0.05 over two fields
    assert "Finished: 2 fields; counted in all 3; 0.08 % of the glass read at 40x" in text
    assert "291 more fields" in text


def test_a_low_window_keeps_the_counts_and_lets_the_help_go():
    tally = new_tally(40, 20, ["oxyurid"])
    lines = screen_lines(tally, Facts("E1-1", 0.1, ("x",) * 4), height=8, width=40)
    assert len(lines) == 8 and "oxyurid" in lines[2]


def test_the_read_back_says_every_field():
    course = Course(new_tally(40, 20, ["oxyurid"]))
    for count in (2, 0, 1):
        for _ in range(count):
            course = course.do(Act(COUNT, "oxyurid"))
        course = course.do(Act(NEXT))
    text = read_back_lines(course.now, Facts("E1-1"))
    assert any(line.split() == ["oxyurid", "3", "=", "2,0,1"] for line in text)
