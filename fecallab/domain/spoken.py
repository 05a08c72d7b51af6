"""Numbers as they are read aloud, so that a misplaced point is heard."""

from __future__ import annotations

from decimal import Decimal

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def volume_in_digits(volume_ml: Decimal) -> str:
    """Return a volume with a zero before the point and none behind it.

    Examples
    --------
    >>> volume_in_digits(Decimal("0.50")), volume_in_digits(Decimal("1E+1"))
    ('0.5', '10')
    """
    return f"{volume_ml.normalize():f}"


def volume_in_words(volume_ml: Decimal) -> str:
    """Return a volume digit by digit.

    Examples
    --------
    >>> volume_in_words(Decimal("0.42"))
    'zero point four two millilitres'
    """
    said = " ".join("point" if sign == "." else _DIGITS[int(sign)] for sign in volume_in_digits(volume_ml))
    return f"{said} millilitres"
