"""Reading JSON that a stranger wrote: bounded in size and depth, nothing given twice, no number that is none."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from fecallab.domain.errors import BadInput

MOST_BYTES = 4_000_000
"""Largest answer that is read: 2,000 marks with a remark each are under a quarter of it."""
MOST_DEPTH = 12
"""Deepest nesting; an answer needs five."""

_STRINGS = re.compile(r'"(?:[^"\\]|\\.)*"', re.DOTALL)
_TURNS_LINES = {chr(code) for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A))}


def refuse(what: str, *, next: str = "Ask the vet to send the answer again.", code: str) -> BadInput:
    """Return the one clear line with which a strange answer is refused."""
    return BadInput(f"{what} Nothing was changed.", next=next, code=code)


def read_json(data: bytes, *, most_bytes: int = MOST_BYTES) -> Any:
    """Return the value of a JSON text, or refuse it in one line.

    Raises
    ------
    BadInput
        For too many bytes, wrong encoding, half a file, deep nesting, a key given twice, NaN or Infinity,
        a number too long to be meant, a control character or half of a character in a text.

    Examples
    --------
    >>> read_json(b'{"a": [1, 0.5]}')
    {'a': [1, 0.5]}
    """
    if len(data) > most_bytes:
        raise too_large(len(data), most_bytes)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse("The answer is not text in UTF-8.", code="answer-not-text") from None
    depth = deepest = 0
    for character in _STRINGS.sub("", text):
        if character in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif character in "]}":
            depth -= 1
    if deepest > MOST_DEPTH:
        raise refuse(
            f"The answer is nested {deepest} deep; {MOST_DEPTH} is the limit.", code="answer-too-deep"
        )
    try:
        value = json.loads(text, object_pairs_hook=_once, parse_constant=_no_number)
    except BadInput:
        raise
    except (ValueError, RecursionError):
        raise refuse(
            "The answer is not whole: it is cut off or was changed on the way.", code="answer-not-whole"
        ) from None
    _check(value)
    return value


def too_large(size: int, most_bytes: int = MOST_BYTES) -> BadInput:
    """Return the refusal of a file by its size, before it is read."""
    return refuse(
        f"The file has {size:,} bytes; an answer has {most_bytes:,} at most.",
        next="Give the file that the vet's page saved.",
        code="answer-too-large",
    )


def _once(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise refuse(f"The answer says {key[:40]!r} twice.", code="answer-says-twice")
        found[key] = value
    return found


def _no_number(word: str) -> Any:
    raise refuse(f"The answer holds {word}, which is no number.", code="answer-no-number")


def _check(value: Any) -> None:
    """Refuse what no person can have typed: control characters, halves of characters, infinite numbers."""
    if isinstance(value, str):
        for character in value:
            kind = unicodedata.category(character)
            if kind == "Cs" or (kind == "Cc" and character not in "\n\t\r") or character in _TURNS_LINES:
                raise refuse(
                    f"A text of the answer holds a character that cannot be recorded (U+{ord(character):04X}).",
                    code="control-character",
                )
    elif isinstance(value, float):
        if value != value or value in (float("inf"), float("-inf")):
            raise refuse("The answer holds a number that is not finite.", code="answer-no-number")
    elif isinstance(value, int):
        if not -(2**53) < value < 2**53:
            raise refuse("The answer holds a number too large to be meant.", code="answer-no-number")
    elif isinstance(value, list):
        for each in value:
            _check(each)
    elif isinstance(value, dict):
        for key, each in value.items():
            _check(key)
            _check(each)
