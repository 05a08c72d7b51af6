"""Values on their way into the records: the right type, finite, and text without control characters."""

from __future__ import annotations

import math
import unicodedata
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from fecallab.domain.errors import BadInput

LONGEST_TEXT = 20_000
_LARGEST_WHOLE = 2**31 - 1
_MANY_LINES = {
    "remark",
    "question",
    "reason",
    "correction_reason",
    "fluids",
    "feeding",
    "result",
    "why",
    "text",
    "message",
    "words",
    "advice",
    "plan_says",
    "follow_up_says",
    "declined",
}


def clean_text(text: object, what: str, *, lines: bool = False) -> str:
    r"""Return a text as it was given, or refuse it.

    Parameters
    ----------
    text : str
        Quotes, tags, emoji and every script are welcome.
    what : str
        What the text is, for the message.
    lines : bool
        Whether line ends and tabs may stand in it.

    Raises
    ------
    BadInput
        For control characters, halves of characters, and a text that is a whole file.

    Examples
    --------
    >>> clean_text("Tilda “the tank” <b>🐢</b>", "name")
    'Tilda “the tank” <b>🐢</b>'
    """
    if not isinstance(text, str):
        raise BadInput(f"The {what} {text!r} is no text.", next="Give words.", code="not-text")
    if len(text) > LONGEST_TEXT:
        raise BadInput(
            f"The {what} has {len(text)} characters; {LONGEST_TEXT} is the limit.",
            next="Shorten it.",
            code="text-too-long",
        )
    for position, character in enumerate(text, start=1):
        kind = unicodedata.category(character)
        if kind == "Cs" or (kind == "Cc" and not (lines and character in "\n\t\r")):
            raise BadInput(
                f"The {what} holds a control character (U+{ord(character):04X}, character {position});"
                " those cannot be recorded.",
                next="Type the text anew without it.",
                code="control-character",
            )
    return text


def name_key(name: str) -> str:
    """Return the form of a name by which two names count as the same.

    Examples
    --------
    >>> name_key("  Große   Tilda ") == name_key("GROSSE TILDA")
    True
    """
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def clean(value: Any, column: sa.Column[Any], what: str) -> Any:
    """Return a value as its column takes it, or refuse it as bad input."""
    words = f"{column.name.replace('_', ' ')} of the {what}"
    if value is None:
        if column.nullable:
            return None
        raise BadInput(f"The {words} is missing.", next="Give it and repeat.", code="missing")
    kind = column.type
    if isinstance(kind, sa.Text):
        text = clean_text(value, words, lines=column.name in _MANY_LINES)
        return None if text == "" and column.foreign_keys else text
    if isinstance(kind, sa.Boolean):
        return _same_type(value, bool, words, "yes or no")
    if isinstance(kind, sa.Integer):
        return _whole(value, words, 2**63 - 1 if isinstance(kind, sa.BigInteger) else _LARGEST_WHOLE)
    if isinstance(kind, sa.Double):
        return _number(value, words)
    if isinstance(kind, sa.DateTime):
        return _clock(value, words)
    if isinstance(kind, sa.Date):
        if isinstance(value, datetime):
            raise BadInput(f"The {words} is a day, not a time.", next="Give a date.", code="not-a-date")
        return _same_type(value, date, words, "a date")
    raise TypeError(f"no rule for {kind}")


def _same_type(value: Any, wanted: type, words: str, said: str) -> Any:
    if isinstance(value, wanted):
        return value
    raise BadInput(
        f"The {words} is {value!r}; it must be {said}.", next="Correct it and repeat.", code="wrong-kind"
    )


def _whole(value: Any, words: str, largest: int) -> int:
    if isinstance(value, bool) or not hasattr(value, "__index__"):
        raise BadInput(
            f"The {words} is {value!r}; it must be a whole number.", next="Correct it.", code="not-whole"
        )
    number = int(value)
    if abs(number) > largest:
        raise BadInput(
            f"The {words} {number} is too large to be meant.", next="Correct it.", code="too-large"
        )
    return number


def _number(value: Any, words: str) -> float:
    if isinstance(value, (bool, str)) or not hasattr(value, "__float__"):
        raise BadInput(
            f"The {words} is {value!r}; it must be a number.", next="Correct it.", code="not-a-number"
        )
    number = float(value)
    if not math.isfinite(number):
        raise BadInput(f"The {words} is {number}; it must be finite.", next="Correct it.", code="not-finite")
    return number


def _clock(value: Any, words: str) -> datetime:
    if not isinstance(value, datetime):
        raise BadInput(
            f"The {words} is {value!r}; it must be a date with a time.", next="Correct it.", code="no-time"
        )
    if value.tzinfo is not None:
        raise BadInput(
            f"The {words} carries a time zone; times are those of the keeper's own clock.",
            next="Give the time without a zone.",
            code="time-zone",
        )
    return value
