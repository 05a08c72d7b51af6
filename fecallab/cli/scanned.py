"""Words that a scanner typed: a label of these records is read as the code that stands on it."""

from __future__ import annotations

from collections.abc import Sequence

SCHEME = "fecallab:"
"""What every label begins with, see `fecallab.report.labels`."""


def is_scanned(word: str) -> bool:
    """Say whether a word looks like what a scanner read from a label.

    Examples
    --------
    >>> is_scanned("fecallab:3f2a91bc:S12"), is_scanned("S12"), is_scanned("fecallab: a note")
    (True, False, False)
    """
    return word[: len(SCHEME)].casefold() == SCHEME and word.count(":") == 2 and " " not in word.strip()


def codes_for(words: Sequence[str]) -> list[str]:
    """Return what was typed with every scanned label read as its code.

    Raises
    ------
    BadInput
        When a label is of another collection.
    """
    from fecallab.records.folder import find_folder, read_marker
    from fecallab.report.labels import code_from_label

    folder = None
    for place, word in enumerate(words):
        if word == "--records" and place + 1 < len(words):
            folder = words[place + 1]
        elif word.startswith("--records="):
            folder = word.partition("=")[2]
    collection = read_marker(find_folder(folder)).collection
    return [code_from_label(word, collection) if is_scanned(word) else word for word in words]
