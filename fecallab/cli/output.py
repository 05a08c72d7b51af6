"""Printing for people and for machines: ``--json`` prints one object on stdout and nothing else there."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Mapping
from typing import Any, TextIO

from fecallab.cli.code_page import PLAIN_SIGNS, prepare_code_page
from fecallab.domain.errors import BadInput, CouldNot, FecallabError, Refused


def prepare_streams() -> None:
    """Keep an odd code page from stopping an answer: what it cannot show becomes a plain sign."""
    prepare_code_page()
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=PLAIN_SIGNS)


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


_NO_BREAKS = {0xA0: " ", 0x202F: " "}

JOINER = "\u200d"
"""What joins the parts of one emoji."""

_HOLD = "\xa0"
_UNIT = re.compile(r"(?<=\d) (?=%|°C|(?:mg|ml|g|kg|µm|mm|cm|h|min)\b)")
"""The blank between a number and its unit."""

_GAP = re.compile(r"(?<=\S) {2,}(?=\S)")
_LEAST_COLUMN = 12
"""Signs that a column must have for its words to be folded in it (own choice)."""


class AnswerNotWritten(CouldNot):
    """The command did its work, but the answer could not be written where it should go."""


def emit(payload: Mapping[str, Any], text: str, as_json: bool) -> None:
    """Print the answer: the object for a machine, the text for a person.

    Raises
    ------
    AnswerNotWritten
        When the output is full or may not be written; what the command recorded stands.
    """
    try:
        print(dump_json(payload) if as_json else _folded(text, sys.stdout), flush=True)
    except BrokenPipeError:
        let_go_of_stdout()
    except OSError as error:
        let_go_of_stdout()
        raise AnswerNotWritten(
            f"The command is done and what it recorded stands, but its answer could not be written"
            f" ({error.strerror or error}).",
            next="Do not repeat it; look with: fecallab history CODE, or fecallab animal show NAME",
            code="answer-not-written",
        ) from error


def one_line(text: str) -> str:
    r"""Return a text in one line, with control characters spelled out and spaces that do not break as plain ones.

    Examples
    --------
    >>> one_line("45\xa0000 g")
    '45 000 g'
    >>> one_line("a\nb\x00c") == r"a b\u0000c"
    True
    """
    joined = " ".join(text.translate(_NO_BREAKS).splitlines())
    return "".join(
        character if character.isprintable() or character == JOINER else f"\\u{ord(character):04x}"
        for character in joined
    )


def say(text: str) -> None:
    """Print a progress line or a remark to stderr, where it never mixes with the answer."""
    print(_folded(text, sys.stderr), file=sys.stderr, flush=True)


def _folded(text: str, stream: TextIO) -> str:
    """Return a text as a stream takes it: in a terminal no word is broken at the edge, elsewhere unchanged."""
    return folded(text, shutil.get_terminal_size((80, 24)).columns) if stream.isatty() else text


def folded(text: str, width: int) -> str:
    r"""Break the lines that are too wide between words, and set what follows in by two blanks.

    What follows in the last column of a table stands below its beginning; a number stays with its unit.

    Examples
    --------
    >>> folded("  - weigh it before every dose", 20)
    '  - weigh it before\n    every dose'
    >>> print(folded("now   C1    examine the next stool that was passed", 30))
    now   C1    examine the next
                stool that was
                passed
    """
    lines = []
    for line in text.split("\n"):
        if len(line) < width:
            lines.append(line)
            continue
        inset = " " * (_last_column(line, width) or min(len(line) - len(line.lstrip(" ")) + 2, width // 2))
        held = _UNIT.sub(_HOLD, line)
        wrapped = textwrap.wrap(
            held, width - 1, subsequent_indent=inset, break_long_words=False, break_on_hyphens=False
        )
        lines += [one.replace(_HOLD, " ") for one in wrapped]
    return "\n".join(lines)


def _last_column(line: str, width: int) -> int:
    """Return where the last column of a row begins when its words can be folded there; 0 when they cannot.

    A row has two gaps of two blanks at least; a sentence with a command in it has one.
    """
    gaps = [gap.end() for gap in _GAP.finditer(line)]
    if len(gaps) < 2:
        return 0
    room = width - 1 - gaps[-1]
    return gaps[-1] if room >= max(_LEAST_COLUMN, *map(len, line[gaps[-1] :].split())) else 0


def emit_error(error: FecallabError, as_json: bool) -> None:
    """Print a problem in one line (stderr), or as an object on stdout for ``--json``."""
    if as_json and not isinstance(error, AnswerNotWritten):
        found: dict[str, Any] = {"error": error.reason.as_dict()}
        if isinstance(error, Refused):
            found = {"refused": True, "reasons": [reason.as_dict() for reason in error.reasons]}
        try:
            print(dump_json(found), flush=True)
            return
        except OSError:
            let_go_of_stdout()
    if isinstance(error, Refused):
        for reason in error.reasons:
            say(one_line(f"Refused ({reason.code}): {reason}"))
        return
    kind = "Not understood" if isinstance(error, BadInput) else "Could not"
    say(one_line(f"{kind}: {error}"))


def let_go_of_stdout() -> None:
    """Let the rest of an answer go when it cannot be written or nobody reads on (a pipe to ``head``)."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return
