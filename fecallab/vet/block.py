"""The answer as a block of text to paste into a message: survives line wraps, quoting and smart quotes."""

from __future__ import annotations

import base64
import binascii
import re
import zlib

from fecallab.vet.safe_json import MOST_BYTES, refuse, too_large

LINE = 64
_QUOTE = re.compile(r"^[>|»\s]+", re.MULTILINE)
_BEGIN = re.compile(r"fecallab\s+answer\s+begins\s*\(\s*1\s*,\s*(\d{1,8})\s*,\s*([0-9a-f]{8})\s*\)", re.I)
_END = re.compile(r"fecallab\s+answer\s+ends", re.I)


def to_block(data: bytes) -> str:
    """Return an answer as a block of text.

    The first line names version 1, how many letters follow, and the CRC-32 of the bytes; then base64 in
    lines of 64 without padding; then the last line. No line begins or ends with a sign that a messenger
    would turn into something else.

    Parameters
    ----------
    data : bytes
        The JSON of the answer, UTF-8.

    Examples
    --------
    >>> print(to_block(b"{}"))
    fecallab answer begins (1, 3, a3a6bf43)
    e30
    fecallab answer ends
    """
    letters = base64.b64encode(data).decode("ascii").rstrip("=")
    lines = [letters[start : start + LINE] for start in range(0, len(letters), LINE)]
    head = f"fecallab answer begins (1, {len(letters)}, {zlib.crc32(data):08x})"
    return "\n".join([head, *lines, "fecallab answer ends"])


def from_block(text: str) -> bytes:
    """Return the bytes of the block in a pasted message, whatever stands around it.

    Raises
    ------
    BadInput
        When the block is cut off, changed on the way, or when the message holds two different ones.
    """
    if len(text) > 2 * MOST_BYTES:
        raise too_large(len(text), 2 * MOST_BYTES)
    bare = _bare(text)
    found: set[bytes] = set()
    for begin in _BEGIN.finditer(bare):
        end = _END.search(bare, begin.end())
        if end is None:
            raise refuse(
                "The pasted answer is cut off: its last line 'fecallab answer ends' is missing.",
                next="Copy all of it and paste again.",
                code="answer-not-whole",
            )
        found.add(_bytes(bare[begin.end() : end.start()], int(begin[1]), int(begin[2], 16)))
    if not found:
        raise refuse(
            "The text holds no answer.",
            next="Copy from 'fecallab answer begins' to 'fecallab answer ends'.",
            code="no-answer",
        )
    if len(found) > 1:
        raise refuse(
            f"The message holds {len(found)} different answers.",
            next="Paste one at a time, the oldest first.",
            code="several-answers",
        )
    return found.pop()


def _bare(text: str) -> str:
    """Return the text without quote marks at the beginning of lines, every kind of blank as a space."""
    return _QUOTE.sub("", text.replace("\u00a0", " ").replace("\u200b", ""))


def _bytes(inside: str, letters: int, checksum: int) -> bytes:
    kept = re.sub(r"[^A-Za-z0-9+/]", "", inside)
    try:
        data = base64.b64decode(kept + "=" * (-len(kept) % 4), validate=True)
    except (binascii.Error, ValueError):
        data = b""
    if len(kept) != letters or zlib.crc32(data) != checksum:
        raise refuse(
            f"The pasted answer was changed on the way ({len(kept)} letters of {letters}; its checksum does"
            " not fit).",
            next="Copy all of it and paste again, or ask for the file.",
            code="answer-changed",
        )
    return data
