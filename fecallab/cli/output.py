"""Printing for people and for machines: ``--json`` prints one object on stdout and nothing else there."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import Any

from fecallab.domain.errors import BadInput, FecallabError, Refused


def prepare_streams() -> None:
    """Keep an odd code page from stopping an answer: what it cannot show becomes a question mark."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _plain(value: Any) -> Any:
    """Turn dates, decimals, tuples and numpy numbers into what JSON knows."""
    if hasattr(value, "isoformat"):
        return value.isoformat()
    if hasattr(value, "as_dict"):
        return value.as_dict()
    if hasattr(value, "tolist"):
        return value.tolist()
    return float(value)


def dump_json(payload: Mapping[str, Any]) -> str:
    """Return one JSON object; not-a-number and infinity are refused because JSON has neither."""
    return json.dumps(payload, default=_plain, allow_nan=False, indent=2)


def emit(payload: Mapping[str, Any], text: str, as_json: bool) -> None:
    """Print the answer: the object for a machine, the text for a person."""
    print(dump_json(payload) if as_json else text)


def say(text: str) -> None:
    """Print a progress line or a remark to stderr, where it never mixes with the answer."""
    print(text, file=sys.stderr, flush=True)


def emit_error(error: FecallabError, as_json: bool) -> None:
    """Print a problem in one line (stderr), or as an object on stdout for ``--json``."""
    if as_json:
        if isinstance(error, Refused):
            print(dump_json({"refused": True, "reasons": [reason.as_dict() for reason in error.reasons]}))
        else:
            print(dump_json({"error": error.reason.as_dict()}))
        return
    if isinstance(error, Refused):
        for reason in error.reasons:
            say(f"Refused ({reason.code}): {reason}")
        return
    kind = "Not understood" if isinstance(error, BadInput) else "Could not"
    say(f"{kind}: {error}")
