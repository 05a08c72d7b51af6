"""One way only to write a JSON value, so that a hash or a signature of it is always the same.

As RFC 8785 (JSON Canonicalization Scheme) asks: keys sorted, no blanks, numbers as ECMAScript writes them.
"""

from __future__ import annotations

import json
import math
from hashlib import sha256
from typing import Any


def canonical(value: Any) -> bytes:
    """Return the canonical JSON of a value in UTF-8.

    Raises
    ------
    ValueError
        For NaN, an infinite number, or half of a character.

    Examples
    --------
    >>> canonical({"b": 1.0, "a": ["é", None, True, 0.5, 1e-7]}).decode()
    '{"a":["é",null,true,0.5,1e-7],"b":1}'
    """
    return _written(value).encode("utf-8")


def content_hash(value: Any) -> str:
    """Return the SHA-256 of the canonical JSON of a value, 64 hexadecimal digits."""
    return sha256(canonical(value)).hexdigest()


def _written(value: Any) -> str:
    if isinstance(value, dict):
        pairs = sorted(value.items(), key=lambda pair: pair[0].encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{_written(key)}:{_written(each)}" for key, each in pairs) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(map(_written, value)) + "]"
    if isinstance(value, float):
        return _number(value)
    if value is None or isinstance(value, (str, bool, int)):
        return json.dumps(value, ensure_ascii=False)
    raise TypeError(f"{type(value).__name__} is no JSON")


def _number(value: float) -> str:
    """Write a number as ECMAScript does: the shortest digits, an exponent only outside of 1e-6 to 1e21."""
    if not math.isfinite(value):
        raise ValueError("a number must be finite")
    if value == 0:
        return "0"
    sign = "-" if value < 0 else ""
    mantissa, _, exponent = repr(abs(value)).partition("e")
    whole, _, part = mantissa.partition(".")
    part = "" if part == "0" else part
    point = len(whole) + int(exponent or 0)
    digits = (whole + part).lstrip("0")
    point -= len(whole + part) - len(digits)
    digits = digits.rstrip("0")
    if 0 < point <= 21:
        text = digits.ljust(point, "0") if len(digits) <= point else f"{digits[:point]}.{digits[point:]}"
    elif -6 < point <= 0:
        text = "0." + "0" * -point + digits
    else:
        power = point - 1
        text = (
            digits[0] + (f".{digits[1:]}" if len(digits) > 1 else "") + f"e{'+' if power > 0 else ''}{power}"
        )
    return sign + text
