"""A burden in one line: what was seen in a sweep is never called none because single fields showed none."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .conftest import Said

Do = Callable[..., dict[str, Any]]
SMEAR = ["--method", "direct_saline_smear", "--room-c", "24", "--read-at"]


def test_what_a_sweep_showed_is_not_none_found_where_the_fields_are_empty(
    do: Do, fecallab: Callable[..., Said]
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    do("sample", "add", "Saffron", "--passed-from", "2025-03-04 08:00", "--passed-to", "2025-03-04 08:10")
    do(
        "exam",
        "add",
        "S1",
        *SMEAR,
        "2025-03-04 08:30",
        *["--objective", "40", "--share", "0.4", "--seen", "oxyurid=2"],
    )
    do(
        "exam",
        "read",
        "E1-1",
        *["--objective", "40", "--field-number", "20", "--counts", "0,0", "--of", "oxyurid"],
    )
    said = fecallab("exam", "show", "E1").out
    assert "2 seen in all, 0 of them in the 2 fields counted one by one, mean 0 per field" in said
    assert "none found" not in said


def test_none_anywhere_is_said_with_its_limit(do: Do, fecallab: Callable[..., Said]) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    do("sample", "add", "Saffron", "--passed-from", "2025-03-04 08:00", "--passed-to", "2025-03-04 08:10")
    do(
        "exam",
        "add",
        "S1",
        *SMEAR,
        "2025-03-04 08:30",
        *["--objective", "40", "--share", "0.4", "--seen", "oxyurid=0"],
    )
    do(
        "exam",
        "read",
        "E1-1",
        *["--objective", "40", "--field-number", "20", "--counts", "0,0", "--of", "oxyurid"],
    )
    said = fecallab("exam", "show", "E1", "--target", "oxyurid").out
    assert "0 seen in 2 fields, mean 0 per field" in said and "none found, limit" in said
