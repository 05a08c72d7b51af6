"""A corrected reading time says where the old one still stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .conftest import Said

Do = Callable[..., dict[str, Any]]


def test_the_exam_that_keeps_the_old_time_is_named_once(do: Do, fecallab: Callable[..., Said]) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    do("sample", "add", "Saffron", "--passed-from", "2025-03-04 08:00", "--passed-to", "2025-03-04 08:10")
    options = ["--method", "simple_flotation", "--objective", "10", "--share", "1", "--seen", "oxyurid=0"]
    do("exam", "add", "S1", *options, "--read-at", "2025-03-09 12:00")
    said = fecallab("correct", "E1-1", "read_at=2025-03-04 08:40", "--reason", "typed later").out
    assert "E1 itself still says that it was examined on 9 March 2025, 12:00" in said
    assert 'fecallab correct E1 "examined_at=2025-03-04 08:40"' in said
    assert do("correct", "E1", "examined_at=2025-03-04 08:40", "--reason", "the same")["after"]
    again = fecallab("correct", "E1-1", "room_c=24", "--reason", "forgotten").out
    assert "itself still says" not in again


def test_the_history_says_counts_and_days_in_words(
    do: Do, fecallab: Callable[..., Said], float_exam: Do
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    float_exam("Saffron", "2025-03-04", "oxyurid=3")
    said = fecallab("history", "E1-1").out
    assert "counts oxyurid=3" in said and "{" not in said
    assert "read_at 4 March 2025, " in said
