"""Numbers as they were given, checked once: counts, amounts, chances; each refusal says what to type next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from numbers import Integral, Real

from fecallab.domain.errors import BadInput

MOST_COUNTED = 10_000_000
"""Largest count in one field or chamber that is believed (common sense, no source)."""
MOST_FIELDS = 100_000
"""Largest number of fields in one list (common sense, no source)."""


def whole_count(value: object, name: str, *, most: int = MOST_COUNTED) -> int:
    """Return ``value`` as a count, or say in one line why it is none.

    Parameters
    ----------
    value : object
        What was given; whole numbers from 0 to ``most`` pass.
    name : str
        What the count is of, for the message.
    most : int
        Largest number that is believed.

    Raises
    ------
    BadInput
        For text, true/false, fractions, negative or absurd numbers, not-a-number and infinity.
    """
    whole = (isinstance(value, Integral) and not isinstance(value, bool)) or (
        isinstance(value, float) and value.is_integer()
    )
    if not whole or not 0 <= int(value) <= most:  # type: ignore[call-overload]
        raise BadInput(
            f"{name} is {value!r}; a count is a whole number from 0 to {most:,}.",
            next="Give what was seen, as a whole number.",
            code="not-a-count",
        )
    return int(value)  # type: ignore[call-overload, no-any-return]


def whole_counts(values: Sequence[object], name: str) -> list[int]:
    """Return a list of counts, checked one by one; an empty or endless list is refused.

    Examples
    --------
    >>> whole_counts([0, 2, 1], "fields")
    [0, 2, 1]
    """
    if not 1 <= len(values) <= MOST_FIELDS:
        raise BadInput(
            f"{name}: {len(values)} counts were given; 1 to {MOST_FIELDS:,} can be worked on.",
            next="Give one whole number per field or animal, separated by commas: 0,2,1",
            code="no-counts",
        )
    return [whole_count(value, f"{name}, entry {place}") for place, value in enumerate(values, start=1)]


def positive_number(value: object, name: str, *, most: float, least: float = 0.0, unit: str = "") -> float:
    """Return a number above 0, from ``least`` to ``most``, or say in one line why it is none.

    Examples
    --------
    >>> positive_number(4, "the sample", least=0.0001, most=1000, unit="g")
    4.0
    """
    number = float(value) if isinstance(value, Real) and not isinstance(value, bool) else math.nan
    if not (0 < number <= most and number >= least):
        bottom = f"at least {least:,.10g}" if least > 0 else "above 0"
        top = "finite" if math.isinf(most) else f"at most {most:,.10g}"
        raise BadInput(
            f"{name} is {value!r}; it must be {bottom} and {f'{top} {unit}'.strip()}.",
            next="Check the number and its unit.",
            code="number-out-of-range",
        )
    return number


def fraction(value: object, name: str) -> float:
    """Return a chance or share from 0 to 1, or say in one line why it is none."""
    number = float(value) if isinstance(value, Real) and not isinstance(value, bool) else math.nan
    if not 0 <= number <= 1:
        raise BadInput(
            f"{name} is {value!r}; chances and shares go from 0 to 1.",
            next="Write 75 percent as 0.75.",
            code="not-a-fraction",
        )
    return number


def confidence(level: object) -> float:
    """Return a confidence level strictly between 0 and 1."""
    number = fraction(level, "the confidence level")
    if not 0 < number < 1:
        raise BadInput(
            f"the confidence level is {level!r}; it must lie between 0 and 1.",
            next="Usual is 0.95.",
            code="not-a-confidence",
        )
    return number
