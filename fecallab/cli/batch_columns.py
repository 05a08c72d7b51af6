"""What a column and a table of `fecallab batch` are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from fecallab.cli.correct_checks import LIMITS

NUMBER, WHOLE, DAY, TIME, FLAG, TEXT, CHOICE, ORGANISM = (
    "number",
    "whole number",
    "day",
    "time",
    "yes or no",
    "text",
    "word",
    "organism",
)
GRID = re.compile(r"field (\d{1,3})")
"""Columns ``field 1``, ``field 2`` … hold what was counted in one field each, as a printed sheet is filled in."""


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes
    ----------
    key : str
        What the rest of the program calls it: the field of the fact.
    name, unit : str
        What stands in the header, ``weight (g)``.
    kind : str
        What a cell holds: `NUMBER`, `WHOLE`, `DAY`, `TIME`, `FLAG`, `TEXT`, `CHOICE` or `ORGANISM`.
    says, example : str
        For the template.
    needed : bool
        Every row must fill it.
    rare : bool
        Not in the template; comes out only where a row fills it.
    option : str
        The option of the single command that takes the same, to which its messages refer.
    """

    key: str
    name: str
    kind: str
    says: str
    example: str = ""
    unit: str = ""
    needed: bool = False
    rare: bool = False
    option: str = ""
    choices: tuple[str, ...] = ()
    limits: tuple[float, float] = (0, 1e6)

    @property
    def title(self) -> str:
        """The header cell."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


@dataclass(frozen=True)
class Table:
    """One kind of table; ``one`` and ``many`` are what a row is called in the summary."""

    key: str
    one: str
    many: str
    columns: tuple[Column, ...]
    by_key: dict[str, Column] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        self.by_key.update({column.key: column for column in self.columns})

    @property
    def file_name(self) -> str:
        """The name of its file on the way out."""
        return f"{self.key}.csv"


def column(title: str, key: str, kind: str, says: str, example: str = "", **more: object) -> Column:
    """Make a column; ``*`` before the title marks a needed one, ``~`` a rare one."""
    name, _, unit = title.lstrip("*~").partition(" (")
    values: dict[str, object] = {"limits": LIMITS.get(key, (0, 1e6)), "option": f"--{key.replace('_', '-')}"}
    values |= {"needed": title[0] == "*", "rare": title[0] == "~", **more}
    return Column(key, name, kind, says, example, unit.rstrip(")"), **values)  # type: ignore[arg-type]


def choice(title: str, key: str, words: Sequence[str], says: str, example: str = "") -> Column:
    """Make a column for a word of a closed list."""
    return column(title, key, CHOICE, f"{says}: {', '.join(words)}", example, choices=tuple(words))


ANIMAL = column("*animal", "animal", TEXT, "name or code of the animal, tub or pen", "Saffron")
TOLD = column("as told", "as_told", FLAG, "yes where somebody else told of it", "")
REMARK = column("remark", "remark", TEXT, "kept as typed", "")
