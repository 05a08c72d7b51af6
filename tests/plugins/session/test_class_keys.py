"""Class keys: proposed by host and method, never beside a key that deletes, changed and kept by the person."""

from __future__ import annotations

import pytest
from napari_fecallab.keys import (
    AZERTY_ROW,
    CLASS_KEYS,
    DELETING,
    DIGITS,
    ROWS,
    SHIFT_ROWS,
    laid_out,
    read_key,
)

from fecallab.cli.tally_start import keys_for
from fecallab.domain.errors import BadInput


def _neighbours(rows: tuple[tuple[str, ...], ...], key: str) -> set[str]:
    """Keys that touch one: left and right, and two above and two below, rows being half a key apart."""
    found: set[str] = set()
    for r, row in enumerate(rows):
        for k, one in enumerate(row):
            if one != key:
                continue
            found |= set(row[max(0, k - 1) : k + 2])
            for other, reach in ((r - 1, (k, k + 1)), (r + 1, (k - 1, k))):
                if 0 <= other < len(rows):
                    found |= {rows[other][at] for at in reach if 0 <= at < len(rows[other])}
    return found - {key}


def _all(session):
    keys = session.keys()
    return list(keys)


@pytest.mark.parametrize("layout", ROWS)
def test_no_key_that_an_organism_may_have_lies_beside_one_that_deletes(layout):
    rows = ROWS[layout]
    assert {"9", "0"} & {one for row in rows for one in row} == {"9", "0"}
    beside = _neighbours(rows, "Backspace")
    assert beside and not beside & set(CLASS_KEYS)
    assert _neighbours(rows, "9") >= {"8", "0"} and "Backspace" not in _neighbours(rows, "9")


def test_no_class_key_deletes_and_no_deleting_key_can_become_one(session):
    assert not set(DELETING) & set(CLASS_KEYS)
    for key in ("Backspace", "delete", "Delete"):
        with pytest.raises(BadInput, match="deletes"):
            session.set_key(key, "oxyurid")


@pytest.mark.parametrize("sign", range(9))
def test_every_usual_keyboard_types_the_same_nine_keys(sign):
    digit = DIGITS[sign]
    assert read_key(digit) == (digit, True)
    assert read_key(AZERTY_ROW[sign]) == (digit, True)
    assert read_key(digit, shift=True) == (digit, False)  # AZERTY with Shift
    for row in SHIFT_ROWS.values():
        assert len(set(row)) == 9
        assert read_key(row[sign], shift=True, shift_row=row) == (digit, False)


def test_keys_are_those_of_the_tally_for_the_same_animal_and_method(with_pictures):
    first, second = keys_for(with_pictures.facts.animal, "simple_flotation", 10, ())
    keys = with_pictures.keys()
    assert [(k.key, k.name) for k in keys if not k.second_row] == list(zip(DIGITS, first, strict=False))
    assert [k.name for k in keys if k.second_row] == list(second)


def test_keys_count_what_is_marked_in_the_field_and_in_the_exam(with_pictures):
    with_pictures.add_marks([("oxyurid", 1, 1), ("oxyurid", 2, 2)])
    with_pictures.go_to("f2")
    with_pictures.add_mark("oxyurid", 3, 3)
    with_pictures.add_mark("oxyurid", 4, 4, sure=False)
    (key,) = [k for k in _all(with_pictures) if k.name == "oxyurid"]
    assert (key.sure, key.unsure, key.sure_here, key.unsure_here) == (
        2 + 2 + 1,
        1,
        1,
        1,
    )  # two at the eyepiece
    with_pictures.undo()
    (key,) = [k for k in _all(with_pictures) if k.name == "oxyurid"]
    assert (key.unsure, key.unsure_here) == (0, 0)


def test_what_is_counted_without_a_key_of_its_own_is_told_beside_the_keys(with_pictures):
    assert with_pictures.without_key() == ()
    lost = next(k.name for k in _all(with_pictures) if k.key == "1")
    with_pictures.add_mark(lost, 1, 1)
    with_pictures.add_mark("spirurid", 2, 2, sure=False)
    with_pictures.set_key("1", "yeast")
    with_pictures.go_to("f2")
    with_pictures.add_mark("spirurid", 3, 3)
    told = {
        k.name: (k.key, k.sure, k.unsure, k.sure_here, k.unsure_here) for k in with_pictures.without_key()
    }
    assert told == {lost: ("", 1, 0, 0, 0), "spirurid": ("", 1, 1, 1, 0)}
    with_pictures.undo()
    with_pictures.set_key("s", "spirurid")
    assert [k.name for k in with_pictures.without_key()] == [lost]


def test_a_changed_key_is_kept_for_this_person_alone(session, opened):
    lost = next(k.name for k in _all(session) if k.key == "1")
    outcome = session.set_key("1", "spirurid")
    assert outcome.words == "spirurid is on 1"
    assert outcome.told == (f"{lost.replace('_', ' ')} has no key now.",)  # all nine digits were taken
    session.set_key("e", "yeast")
    assert session.key_name("1") == ("spirurid", True) and session.key_name("E", shift=True) == (
        "yeast",
        False,
    )
    session.close()
    other = opened(by="Bram Osei")
    assert other.key_name("1") == (lost, True)
    other.close()
    again = opened()
    assert again.key_name("1") == ("spirurid", True)
    again.reset_keys()
    assert again.key_name("1") == (lost, True)


def test_an_organism_has_one_key_and_an_emptied_key_stays_empty(session):
    session.set_key("9", "oxyurid")
    assert [k.key for k in _all(session) if k.name == "oxyurid"] == ["9"]
    session.set_key("9", "")
    assert "9" not in [k.key for k in _all(session) if not k.second_row]


def test_a_key_of_the_window_is_refused_with_what_it_does(session):
    session.reserve_keys({"n": "next field", "Z": "undo"})
    for key, what in (("n", "next field"), ("z", "undo"), ("0", "look-alikes")):
        with pytest.raises(BadInput, match=what):
            session.set_key(key, "oxyurid")
    for key in ("", "ab", "F5", "é", "=", " "):
        with pytest.raises(BadInput):
            session.set_key(key, "oxyurid")
    with pytest.raises(BadInput):
        session.set_key("1", "unicorn")


def test_settings_that_somebody_spoiled_are_as_if_nothing_was_chosen(folder, opened):
    file = folder / "drafts" / "marking.json"
    file.parent.mkdir(exist_ok=True)
    for content in (
        "",
        "[]",
        '{"Mara Quell": 3}',
        '{"Mara Quell": {"keys": {"1": 7}, "proposals": "x"}}',
        "\0",
    ):
        file.write_text(content, encoding="utf-8")
        session = opened()
        assert session.keys()[0].key == "1" and session.proposals_when == "after reading"
        session.close()


def test_what_shift_types_can_be_learned(session):
    with pytest.raises(BadInput, match="Nine different"):
        session.learn_shift_row("!!!")
    session.learn_shift_row(SHIFT_ROWS["qwertz"])
    assert session.key_name("/", shift=True)[0] == session.key_name("7")[0]


def test_every_name_can_be_given_and_likely_ones_come_first(session):
    names = session.names()
    assert len({name for name, _, _ in names}) == len(names) > 60
    assert [name for name, _, _ in names[:3]] == [k.name for k in session.keys()[:3]]


def test_laying_out_never_loses_an_organism_while_a_digit_is_free():
    first, _ = laid_out(list("abcdefg"), [], {"1": "z", "3": ""})
    assert set(first.values()) == set("abcdefgz") and "3" not in first
