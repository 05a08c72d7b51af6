"""Numbers as a person types them, and numbers as a person reads them."""

from __future__ import annotations

import re

from fecallab.domain.errors import BadInput

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


def read_number(text: str, option: str) -> float:
    """Return the number in what was typed; a decimal comma is read when it cannot mean thousands.

    Examples
    --------
    >>> read_number("0,5", "--sample-g"), read_number(" 12.5 ", "--sample-g")
    (0.5, 12.5)
    """
    given = text.strip()
    if re.fullmatch(r"0,\d+|\d+,(\d{1,2}|\d{4,})", given, re.ASCII):
        given = given.replace(",", ".")
    if len(given) > 40 or not _NUMBER.fullmatch(given):
        example = f"{option} 0.5" if option.startswith("-") else "0.5"
        raise BadInput(
            f"{option} is {text[:40]!r}; that is not one plain number.",
            next=f"Type it with a point and without a unit or thousands mark: {example}",
            code="not-a-number",
        )
    return float(given)


def plain_number(value: float) -> str:
    """Return a number with every figure that was typed, and no exponent.

    Examples
    --------
    >>> plain_number(25.0), plain_number(1234.5678), plain_number(0.00001)
    ('25', '1234.5678', '0.00001')
    """
    from decimal import Decimal

    text = f"{Decimal(repr(value)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def read_counts(text: str, option: str) -> list[int]:
    """Return whole counts typed with commas between them.

    Examples
    --------
    >>> read_counts("0,2, 1", "--counts")
    [0, 2, 1]
    """
    pieces = [piece.strip() for piece in text.split(",")]
    for place, piece in enumerate(pieces, start=1):
        if not re.fullmatch(r"\d{1,12}", piece, re.ASCII):
            raise BadInput(
                f"{option}, entry {place} is {piece[:40]!r}; a count is a whole number, 0 or more.",
                next=f"Type whole numbers with commas between them: {option} 0,2,1",
                code="not-a-count",
            )
    return [int(piece) for piece in pieces]


def read_count(text: str, option: str) -> int:
    """Return one whole count.

    Examples
    --------
    >>> read_count("12", "--count")
    12
    """
    if not re.fullmatch(r"\d{1,12}", text.strip(), re.ASCII):
        raise BadInput(
            f"{option} is {text[:40]!r}; one whole number, 0 or more, is asked for.",
            next=f"Type it without commas or a fraction: {option} 12",
            code="not-a-count",
        )
    return int(text)


def say_number(value: float) -> str:
    """Return a number for reading: three figures, no exponent for large ones.

    Examples
    --------
    >>> say_number(1350.4), say_number(0.29957)
    ('1,350', '0.3')
    """
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"
