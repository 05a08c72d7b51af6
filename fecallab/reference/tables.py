"""The one loader: every reference table is a UTF-8 CSV file under ``reference/data`` with a header."""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources

EDITION = "2026.11"
"""Edition of the reference tables; stored with every act that relies on them."""


@cache
def read_rows(name: str) -> tuple[dict[str, str], ...]:
    """Read one reference table.

    Parameters
    ----------
    name : str
        File name without ``.csv``, for example ``"organisms"``.

    Returns
    -------
    tuple of dict
        One dict per row, in file order; empty cells are empty strings.

    Raises
    ------
    FileNotFoundError
        When there is no such table.
    """
    path = resources.files("fecallab.reference").joinpath("data", f"{name}.csv")
    lines = path.read_text(encoding="utf-8").splitlines()
    return tuple({key: (value or "").strip() for key, value in row.items()} for row in csv.DictReader(lines))


def number(text: str) -> float | None:
    """Return the number in a cell, or None for an empty one.

    Examples
    --------
    >>> number("1.18"), number("")
    (1.18, None)
    """
    return float(text) if text else None


def parts(text: str, separator: str = ";") -> tuple[str, ...]:
    """Split a cell that holds a list.

    Examples
    --------
    >>> parts("trophozoite;cyst")
    ('trophozoite', 'cyst')
    >>> parts("")
    ()
    """
    return tuple(item.strip() for item in text.split(separator) if item.strip())
