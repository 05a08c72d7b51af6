"""What is typed in words while counting: a share of the glass, the name of an organism."""

from __future__ import annotations

import re

from fecallab.cli.typed import read_number
from fecallab.domain.errors import BadInput
from fecallab.domain.tally import KEYS_IN_A_ROW


def read_share(text: str) -> float | None:
    """Return a share of the cover glass as people say it; None for ``?``, not known.

    Raises
    ------
    BadInput
        For what is no share from 0 to 1.

    Examples
    --------
    >>> [read_share(t) for t in ("0,4", "40 %", "2/5", "all", "?")]
    [0.4, 0.4, 0.4, 1.0, None]
    """
    word = text.strip().lower()
    known = {
        "?": None,
        "all": 1.0,
        "whole": 1.0,
        "half": 0.5,
        "a half": 0.5,
        "third": 1 / 3,
        "a third": 1 / 3,
    }
    if word in known:
        return known[word]
    parts = re.fullmatch(r"(\d{1,3})\s*/\s*(\d{1,3})", word)
    if parts and int(parts[2]):
        share = int(parts[1]) / int(parts[2])
    elif word.endswith("%"):
        share = read_number(word.removesuffix("%").strip(), "the share") / 100
    else:
        share = read_number(word, "the share")
    if not 0 <= share <= 1:
        near = f"Type {share:g} % or {share / 100:g}." if share <= 100 else "All of the glass is 1."
        raise BadInput(f"The share is {share:g}; it lies between 0 and 1.", next=near, code="out-of-range")
    return share


def names_like(text: str) -> list[str]:
    """Return the organisms or groups that a typed name can mean, at most nine.

    Raises
    ------
    BadInput
        When none comes near; it says what does.

    Examples
    --------
    >>> names_like("pinworm"), names_like("syphacia")
    (['oxyurid'], ['syphacia_obvelata_egg', 'syphacia_muris_egg'])
    """
    from fecallab.cli.exam_input import organism_name
    from fecallab.reference.organisms import organisms

    word = " ".join(text.lower().split())
    for exact in (word, word.replace(" ", "_")):
        try:
            return [organism_name(exact)]
        except BadInput as error:
            trouble = error
    inside = [
        item.key
        for item in organisms()
        if word.replace(" ", "_") in item.key or word in item.scientific_name.lower()
    ]
    if not inside:
        raise trouble
    return inside[:KEYS_IN_A_ROW]
