"""Numbers, shares and counts as a person types them at a question."""

from __future__ import annotations

import re
from collections.abc import Mapping

from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number, read_number
from fecallab.domain.errors import BadInput

GRAMS: Mapping[str, float] = {"g": 1, "gram": 1, "grams": 1, "kg": 1000, "mg": 0.001}
_UNIT = re.compile(r"(.*?[\d.,])\s*([^\d\s.,/]+|%)", re.DOTALL)
_SHARES = {
    "all": 1.0,
    "whole": 1.0,
    "the whole": 1.0,
    "half": 0.5,
    "a half": 0.5,
    "third": 1 / 3,
    "a third": 1 / 3,
}


def read_amount(typed: str, talk: Talk, *, units: Mapping[str, float], low: float, high: float) -> float:
    """Return a number that was typed, with its unit if one stands behind it.

    "0,5" is 0.5. What could be thousands as well (1,234) is asked; both marks together are not ambiguous.

    Parameters
    ----------
    typed : str
        ``318``, ``0,5``, ``0.3 kg``.
    talk : Talk
        Where an ambiguous number is asked.
    units : mapping of str to float
        What may stand behind the number, and how many of the asked unit it is.
    low, high : float
        The range that is believed, both ends allowed.

    Raises
    ------
    BadInput
        When it is no number, has another unit, or lies outside the range.
    """
    figure = typed.strip().replace("−", "-")
    factor = 1.0
    if re.match(r"-\s*\d", figure):
        factor, figure = -1.0, figure[1:].strip()
    found = _UNIT.fullmatch(figure)
    if found:
        figure, unit = found.group(1), found.group(2).lower()
        if unit not in units:
            asked = ", ".join(units) or "no unit"
            raise BadInput(f"{unit!r} is not asked here ({asked}).", next="Type the number alone.")
        factor *= units[unit]
    value = _figure(figure, talk) * factor
    if not low <= value <= high:
        text = f"{plain_number(value)} lies outside {plain_number(low)} to {plain_number(high)}."
        raise BadInput(text, next="Check the number and its unit.")
    return float(f"{value:.12g}")


def _figure(figure: str, talk: Talk) -> float:
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", figure, re.ASCII):
        readings = [figure.replace(",", "."), figure.replace(",", "")]
        said = [f"{readings[0]} (the comma is the decimal mark)", f"{readings[1]} (it marks the thousands)"]
        return float(readings[talk.pick(f"{figure} can be read in two ways:", said)])
    both = re.fullmatch(r"(\d{1,3}(?:([.,])\d{3})+)([.,])(\d+)", figure, re.ASCII)
    if both and both.group(2) != both.group(3):
        return float(f"{both.group(1).replace(both.group(2), '')}.{both.group(4)}")
    return _plain(figure)


def _plain(figure: str) -> float:
    try:
        return read_number(figure, "This")
    except BadInput:
        text = f"{figure[:40]!r} is not one plain number."
        raise BadInput(text, next="Type it like 12 or 0.5, without a thousands mark.") from None


def read_share(typed: str, talk: Talk) -> float:
    """Return a share between 0 and 1 from 0.4, 40 %, 1/3, half or all."""
    word = typed.strip().lower()
    if word in _SHARES:
        return _SHARES[word]
    parts = re.fullmatch(r"(\d{1,3})\s*/\s*(\d{1,3})", word, re.ASCII)
    if parts and 0 < int(parts.group(1)) <= int(parts.group(2)):
        return int(parts.group(1)) / int(parts.group(2))
    if word.endswith("%"):
        return read_amount(word, talk, units={"%": 0.01}, low=0, high=1)
    value = read_amount(word, talk, units={}, low=0, high=100)
    if value > 1:
        raise BadInput(
            f"{plain_number(value)} is more than the whole, which is 1.", next="40 percent: 0.4 or 40 %."
        )
    return value


def read_count_list(typed: str) -> list[int]:
    """Return whole counts with spaces or commas between them.

    Examples
    --------
    >>> read_count_list("0 2, 1,0")
    [0, 2, 1, 0]
    """
    pieces = [piece for piece in re.split(r"[\s,;]+", typed.strip()) if piece]
    for place, piece in enumerate(pieces, start=1):
        if not re.fullmatch(r"\d{1,7}", piece, re.ASCII):
            text = f"Entry {place} is {piece[:20]!r}; a count is a whole number, 0 or more."
            raise BadInput(text, next="Type them with spaces between: 0 2 1 0")
    if not pieces:
        raise BadInput("No count was typed.", next="Type them with spaces between: 0 2 1 0")
    return [int(piece) for piece in pieces]
