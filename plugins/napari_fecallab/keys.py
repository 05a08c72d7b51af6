"""Which key marks which organism, on every keyboard; no class key lies beside one that deletes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fecallab.domain.errors import BadInput
from fecallab.domain.tally import KEYS_IN_A_ROW

DIGITS = "123456789"
SECOND_ROW = "0"
"""Comes before a digit for the second row: look-alikes."""
LETTERS = "abcdefghijklmnopqrstuvwxyz"
CLASS_KEYS = DIGITS + LETTERS
"""Keys that an organism may have; none of them is beside Backspace or Delete (see `ROWS`)."""
DELETING = ("Backspace", "Delete")
AZERTY_ROW = "&é\"'(-è_ç"
"""What the keys 1 to 9 type without Shift on a French keyboard (ISO/IEC 9995 layout AZERTY; kind: common practice)."""
SHIFT_ROWS = {
    "qwerty": "!@#$%^&*(",
    "qwerty (British)": '!"£$%^&*(',
    "qwertz": '!"§$%&/()'[:9],
    "qwertz (Swiss)": '+"*ç%&/()',
}
"""What Shift and 1 to 9 type (kind: common practice); a keyboard that differs is learned once."""
ROWS: dict[str, tuple[tuple[str, ...], ...]] = {
    "qwerty": (
        ("`", *DIGITS, "0", "-", "=", "Backspace"),
        ("Tab", *"qwertyuiop", "[", "]", "\\"),
        ("CapsLock", *"asdfghjkl", ";", "'", "Enter"),
        ("Shift", *"zxcvbnm", ",", ".", "/"),
    ),
    "qwertz": (
        ("^", *DIGITS, "0", "ß", "´", "Backspace"),
        ("Tab", *"qwertzuiop", "ü", "+", "Enter"),
        ("CapsLock", *"asdfghjkl", "ö", "ä", "#"),
        ("Shift", "<", *"yxcvbnm", ",", ".", "-"),
    ),
    "azerty": (
        ("²", *DIGITS, "0", ")", "=", "Backspace"),
        ("Tab", *"azertyuiop", "^", "$", "Enter"),
        ("CapsLock", *"qsdfghjklm", "ù", "*"),
        ("Shift", "<", *"wxcvbn", ",", ";", ":", "!"),
    ),
}
"""The keys that lie side by side, row by row, each half a key further right than the one above (common practice)."""


def read_key(text: str, *, shift: bool = False, shift_row: str = "") -> tuple[str, bool]:
    """Return the class key for what a keyboard typed, and whether it means sure.

    Parameters
    ----------
    text : str
        The character, as the window got it.
    shift : bool
        Whether Shift was held: unsure.
    shift_row : str
        What Shift and 1 to 9 type, if it was learned; else all usual keyboards are tried.

    Returns
    -------
    str
        A key of `CLASS_KEYS`, `SECOND_ROW`, or empty when it is none.
    bool
        True for sure.

    Examples
    --------
    >>> read_key("3"), read_key("#", shift=True), read_key("é"), read_key("2", shift=True)
    (('3', True), ('3', False), ('2', True), ('2', False))
    >>> read_key("/", shift=True, shift_row=SHIFT_ROWS["qwertz"])
    ('7', False)
    """
    if len(text) != 1:
        return "", not shift
    lower = text.lower()
    if lower in CLASS_KEYS or lower == SECOND_ROW:
        return lower, not shift
    if not shift:
        return (
            (DIGITS[AZERTY_ROW.index(text)], True)
            if text in AZERTY_ROW
            else ((text == "à" and "0") or "", True)
        )
    for row in (shift_row,) if shift_row else tuple(SHIFT_ROWS.values()):
        if text in row:
            return DIGITS[row.index(text)], False
    return "", False


def laid_out(
    proposed: Sequence[str], second: Sequence[str], chosen: Mapping[str, str]
) -> tuple[dict[str, str], dict[str, str]]:
    """Return the organism on every key of the first and the second row.

    A proposed organism keeps its place unless the person gave that key or that organism another; what lost
    its key moves to the next free digit.

    Examples
    --------
    >>> laid_out(["coccidian", "oxyurid"], ["artefact"], {"1": "ascarid"})
    ({'1': 'ascarid', '2': 'oxyurid', '3': 'coccidian'}, {'1': 'artefact'})
    """
    first = {key: name for key, name in chosen.items() if name}
    freed = {key for key, name in chosen.items() if not name}
    moved: list[str] = []
    for digit, name in zip(DIGITS, proposed, strict=False):
        if name in first.values():
            continue
        if digit in first or digit in freed:
            moved.append(name)
        else:
            first[digit] = name
    free = [digit for digit in DIGITS if digit not in first and digit not in freed]
    first.update(zip(free, moved, strict=False))
    ordered = {key: first[key] for key in CLASS_KEYS if key in first}
    return ordered, dict(zip(DIGITS, second[:KEYS_IN_A_ROW], strict=False))


def refuse_bad_key(key: str, reserved: Mapping[str, str]) -> str:
    """Return a key that an organism may have.

    Raises
    ------
    BadInput
        When it deletes, is the window's own, or is no single letter or digit 1 to 9.
    """
    wanted = key.strip()
    if wanted.lower() in {one.lower() for one in DELETING}:
        raise BadInput(
            f"{wanted} deletes, so it marks nothing.", next="Choose 1 to 9 or a letter.", code="key-deletes"
        )
    wanted = wanted.lower()
    if wanted in reserved:
        raise BadInput(
            f"The key {wanted} is for: {reserved[wanted]}.", next="Choose another key.", code="key-taken"
        )
    if wanted == SECOND_ROW:
        raise BadInput(
            "The key 0 is for the look-alikes.", next="Choose 1 to 9 or a letter.", code="key-taken"
        )
    if len(wanted) != 1 or wanted not in CLASS_KEYS:
        raise BadInput(
            f"{key[:20]!r} is no key for an organism.", next="Choose 1 to 9 or a letter.", code="no-key"
        )
    return wanted
