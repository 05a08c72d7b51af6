"""Signs that a terminal's code page lacks, written with plain ones instead of a question mark."""

from __future__ import annotations

import codecs

PLAIN_SIGNS = "fecallab-plain"
"""Name of the error handler for a stream: ``reconfigure(errors=PLAIN_SIGNS)``."""

_INSTEAD = {
    "×": "x",
    "–": "-",
    "—": "-",
    "−": "-",
    "…": "...",
    "°": " deg ",
    "µ": "u",
    "μ": "u",
    "≥": ">=",
    "≤": "<=",
    "±": "+/-",
    "·": "-",
    "→": "->",
    "“": '"',
    "”": '"',
    "„": '"',
    "‘": "'",
    "’": "'",
    "½": "1/2",
    "²": "2",
    "\u00a0": " ",
    "\u202f": " ",
    "\u2009": " ",
}


def plain_signs(error: UnicodeError) -> tuple[str, int]:
    """Return plain signs for those that a code page lacks; the base letter of one with an accent.

    Examples
    --------
    >>> prepare_code_page()
    >>> "40× in 0.15–0.30 ml, Łukasz".encode("cp437", errors=PLAIN_SIGNS)
    b'40x in 0.15-0.30 ml, ?ukasz'
    """
    import unicodedata

    if not isinstance(error, UnicodeEncodeError):
        raise error
    said = ""
    for sign in error.object[error.start : error.end]:
        base = unicodedata.normalize("NFKD", sign)[0]
        said += _INSTEAD.get(sign) or (base if base.isascii() and base.isprintable() else "?")
    return said, error.end


def prepare_code_page() -> None:
    """Make the handler known by its name."""
    codecs.register_error(PLAIN_SIGNS, plain_signs)
