"""A cell of text: what stands for nothing, what is guarded against being run, what a spreadsheet has spoilt."""

from __future__ import annotations

from fecallab.domain.errors import BadInput

NOTHING_SAID = frozenset({"", "n/a", "n.a.", "k.a.", "-", "–", "—", "?"})
"""What stands for nothing in every column."""
NO_VALUE = NOTHING_SAID | {"na", "nan", "null", "none", "unknown", "not known", "unbekannt"}
"""The same in columns that hold no free text (an animal may be called Nan)."""
ERROR_CELLS: tuple[str, ...] = (
    "#REF!",
    "#DIV/0!",
    "#NAME?",
    "#VALUE!",
    "#NUM!",
    "#NULL!",
    "#N/A",
    "#SPILL!",
    "#CALC!",
)
ERROR_CELLS += ("#BEZUG!", "#WERT!", "#ZAHL!", "#NV", "#ÜBERLAUF!")
"""What a spreadsheet shows where it could not work a cell out, in English and in German."""
_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\u3000\t"), " ") | dict.fromkeys(
    map(ord, "\u200b\u200c\u2060\ufeff"), ""
)
_TRIMMED = " \t\r\n\x0b\x0c\u00a0\u2007\u2009\u202f\u3000\u200b\u2060\ufeff"


def needs_guard(text: str) -> bool:
    """Return whether a text would not come back as it is, or could be run as a formula.

    Examples
    --------
    >>> [needs_guard(text) for text in ("=1+1", "-", " a", "'=1", "'tis", "a=1")]
    [True, True, True, True, False, False]
    """
    if not text:
        return False
    if text[0] == "'":
        return needs_guard(text[1:])
    if text[0] in "=+-@#\t\r" or text.strip(_TRIMMED) != text or text.casefold() in NOTHING_SAID:
        return True
    return _ungarbled(text) != text


def guarded(text: str) -> str:
    """Return a text as it is written into a cell: an apostrophe before it where a guard is needed.

    Examples
    --------
    >>> guarded("=HYPERLINK(1)"), guarded("thin, quiet")
    ("'=HYPERLINK(1)", 'thin, quiet')
    """
    return f"'{text}" if needs_guard(text) else text


def free_text(cell: str) -> str:
    """Return what a cell of free text says; the guard of `guarded` is taken off again.

    Examples
    --------
    >>> free_text("'=1+1"), free_text(" n/a "), free_text("'tis a start")
    ('=1+1', '', "'tis a start")
    """
    start = cell.lstrip(_TRIMMED)
    if start.startswith("'") and needs_guard(start[1:]):
        return start[1:]
    trimmed = cell.strip(_TRIMMED)
    return "" if trimmed.casefold() in NOTHING_SAID else trimmed


def plain(cell: str) -> str:
    """Return a cell with ordinary spaces and nothing around it; empty where it stands for nothing.

    Examples
    --------
    >>> plain("\N{NO-BREAK SPACE}12 g "), plain("N/A")
    ('12 g', '')
    """
    text = " ".join(cell.translate(_SPACES).split())
    return "" if text.casefold() in NO_VALUE else text


def _ungarbled(text: str) -> str:
    """Return what letters of UTF-8 that were read as Windows-1252 were meant to be; else the text itself."""
    if text.isascii():
        return text
    try:
        return text.encode("cp1252").decode("utf-8")
    except UnicodeError:
        return text


def refuse_garbled(text: str) -> None:
    """Refuse letters that a program has read in the wrong alphabet, such as ``GrÃ¶ÃŸe`` for Größe."""
    meant = _ungarbled(text)
    if meant == text or text.lstrip(_TRIMMED).startswith("'"):
        return
    raise BadInput(
        f"The letters are garbled; {meant[:40]!r} was meant.",
        next="Open the CSV anew in the spreadsheet as UTF-8 (or give it out with --bom), then save it again.",
        code="letters-garbled",
    )


def refuse_uncalculated(cell: str) -> None:
    """Refuse a formula, and what a spreadsheet shows where it could not work one out."""
    text = cell.strip(_TRIMMED)
    if text.startswith("="):
        raise BadInput(
            "This is a formula, not what it gives.",
            next="In the spreadsheet copy the column and paste it as values, then save as CSV again.",
            code="formula",
        )
    if text.upper() in ERROR_CELLS or set(text) == {"#"}:
        raise BadInput(
            "The spreadsheet could not work this cell out.",
            next="Mend the formula in the spreadsheet, or type the value.",
            code="error-cell",
        )
