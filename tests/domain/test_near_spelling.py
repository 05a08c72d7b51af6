"""Guesses of what was meant: a slip of the fingers is forgiven, what is merely a little alike is not offered."""

from __future__ import annotations

from difflib import SequenceMatcher

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.near_spelling import allowed_slips, near_spellings, slips

from ..effort import examples

NAMES = ("Saffron", "Bramble", "Pixel", "Tilda", "Drawer 4", "simple_flotation", "oxyurid", "flagellate")
WORDS = st.text("abcde", min_size=0, max_size=7)


@given(
    name=st.sampled_from(NAMES),
    place=st.integers(0, 30),
    slip=st.integers(0, 3),
    letter=st.sampled_from("xyz"),
)
@settings(max_examples=examples(60), deadline=None)
def test_one_slip_in_a_name_is_always_forgiven(name: str, place: int, slip: int, letter: str) -> None:
    at = place % (len(name) - 1)
    typed = (
        name[:at] + name[at + 1 :],
        name[:at] + letter + name[at:],
        name[:at] + letter + name[at + 1 :],
        name[:at] + name[at + 1] + name[at] + name[at + 2 :],
    )[slip]
    assert near_spellings(typed, NAMES)[:1] == [name]


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("stool", ("pool", "protocol", "demo")),
        ("pages", ("image", "care")),
        ("export", ("report", "sort")),
        ("remove", ("move", "due")),
        ("print", ("split", "sign")),
        ("Otto", ("Odin", "Tom", "Orso")),
        ("dragon", ("wagon", "Drake")),
        ("x", ("xi", "x y", "y")),
        ("", NAMES),
    ],
)
def test_what_is_only_a_little_alike_is_not_offered(typed: str, names: tuple[str, ...]) -> None:
    assert near_spellings(typed, names) == []


def test_the_beginning_and_a_word_of_a_name_are_near_after_whole_names() -> None:
    names = ("oxyurid_tortoise_egg", "thelandros_egg", "oxyurid", "oxyurids")
    assert near_spellings("oxyurid", names) == ["oxyurid", "oxyurids", "oxyurid_tortoise_egg"]
    assert near_spellings("thelandros", names) == ["thelandros_egg"]
    assert near_spellings("tortoise", names) == ["oxyurid_tortoise_egg"]


@given(one=WORDS, other=WORDS)
@settings(max_examples=examples(120), deadline=None)
def test_slips_are_a_distance_and_swapping_two_neighbours_is_one(one: str, other: str) -> None:
    found = slips(one, other, 9)
    assert found is not None and found == slips(other, one, 9)
    assert (found == 0) == (one == other)
    assert abs(len(one) - len(other)) <= found <= max(len(one), len(other))
    kept = sum(
        block.size for block in SequenceMatcher(None, one, other, autojunk=False).get_matching_blocks()
    )
    assert found <= max(len(one), len(other)) + min(len(one), len(other)) - kept
    assert slips(one, other, found - 1) is None
    assert slips("ab" + one, "ba" + one, 1) == 1


def test_longer_words_forgive_more() -> None:
    assert [allowed_slips("x" * letters) for letters in (1, 2, 3, 5, 6, 9, 10, 30)] == [
        0,
        0,
        1,
        1,
        2,
        2,
        3,
        3,
    ]
