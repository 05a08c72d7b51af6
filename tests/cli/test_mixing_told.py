"""A move that mixes animals which are kept apart is recorded, since it happened, and told at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .conftest import Said

Do = Callable[..., dict[str, Any]]


def test_who_meets_whom_too_early_is_told_with_the_move(do: Do, fecallab: Callable[..., Said]) -> None:
    for number, tub in enumerate(("tub 1", "tub 2", "tub 3"), start=1):
        do("enclosure", "add", tub, "--room", "room 1")
        species = ("--species", "Correlophus ciliatus", "--enclosure", tub, "--arrived", "2025-03-02")
        do("animal", "add", f"clutch {number}", "--kind", "tub", "--number", "4", *species)
    for number, name in ((1, "north"), (2, "south")):
        origin = ("--arrived", "2025-03-02", "--origin", "captive bred")
        do("arrivals", "add", f"clutch {number}", "--name", name, *origin)
    said = fecallab("animal", "move", "clutch 1", "tub 2", "--on", "2025-03-09").out
    assert "! Not free to mix yet (I1): with this move it stands in one group with clutch 2." in said
    back = fecallab("animal", "move", "clutch 1", "tub 1", "--on", "2025-03-10").out
    assert "Not free to mix" not in back
    chances = fecallab("arrivals", "show", "I1", "--on", "2025-03-11").out
    assert not [line for line in chances.splitlines() if "57.1 % to 57.1 %" in line]
