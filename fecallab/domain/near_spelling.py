"""Which names were probably meant by a word that is none: near spellings alone, no far-fetched ones."""

from __future__ import annotations

from collections.abc import Iterable

SHORT_LETTERS, MIDDLE_LETTERS = 5, 9
"""Up to so many letters one slip is near, up to so many two, in longer words three (own choice)."""

LEAST_LETTERS_OF_A_PIECE = 4
"""Letters from which on a word is looked for at the beginning of a name or among its words (own choice)."""


def near_spellings(asked: str, names: Iterable[str], most: int = 3) -> list[str]:
    """Return the names that differ from what was typed by slips of the fingers, nearest first.

    A slip is a letter too many, too few, another one, or two neighbours that changed places; several are
    forgiven in longer words whose first letter is right. A name is near too when it begins with what was typed,
    or when one of its words is that word but for one slip. Case, blanks, ``-`` and ``_`` make no difference.

    Parameters
    ----------
    asked : str
        What was typed.
    names : iterable of str
        What it may have been.
    most : int, optional
        How many are returned at most.

    Examples
    --------
    >>> near_spellings("Safron", ["Pixel", "Saffron", "Sand"]), near_spellings("oxyurdi", ["oxyurid", "ascarid"])
    (['Saffron'], ['oxyurid'])
    >>> near_spellings("flotation", ["simple_flotation", "sedimentation"])
    ['simple_flotation']
    >>> near_spellings("star", ["share", "start", "stat"], most=1), near_spellings("print", ["split", "sign"])
    (['start'], [])
    """
    typed = _plain(asked)
    if not typed:
        return []
    ranked: list[tuple[int, int, int, str]] = []
    for place, name in enumerate(dict.fromkeys(names)):
        rank = _rank(typed, _plain(name))
        if rank is not None:
            ranked.append((*rank, place, name))
    return [name for *_, name in sorted(ranked)[:most]]


def is_near(asked: str, name: str) -> bool:
    """Return whether one word is a near spelling of another, as a whole.

    Examples
    --------
    >>> is_near("lst", "list"), is_near("stool", "pool"), is_near("stool", "protocol")
    (True, False, False)
    """
    return _near_whole(_plain(asked), _plain(name)) is not None


def allowed_slips(typed: str) -> int:
    """Return how many slips are near in a word of this length; none in one or two letters."""
    if len(typed) < 3:
        return 0
    return 1 if len(typed) <= SHORT_LETTERS else 2 if len(typed) <= MIDDLE_LETTERS else 3


def slips(one: str, other: str, most: int) -> int | None:
    """Return how many slips lie between two words (optimal string alignment); None when more than `most`.

    Examples
    --------
    >>> slips("wieght", "weight", 2), slips("lst", "list", 1), slips("cage", "range", 1)
    (1, 1, None)
    """
    if abs(len(one) - len(other)) > most:
        return None
    if one == other:
        return 0
    if most <= 0:
        return None
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        further = [i]
        for j, against in enumerate(other, start=1):
            least = min(row[j] + 1, further[j - 1] + 1, row[j - 1] + (letter != against))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == against:
                least = min(least, before[j - 2] + 1)
            further.append(least)
        if min(further) > most:
            return None  # no later row can come below this one: one that skips a row costs one more
        before, row = row, further
    return row[-1] if row[-1] <= most else None


def _rank(typed: str, name: str) -> tuple[int, int] | None:
    """Return how near a name is: the whole, then its beginning, then one of its words; None when it is not."""
    whole = _near_whole(typed, name)
    if whole is not None:
        return 0, whole
    if len(typed) < LEAST_LETTERS_OF_A_PIECE:
        return None
    if name.startswith(typed):
        return 1, 0
    words = name.split()
    found = [slips(typed, word, 1) for word in words if len(word) >= LEAST_LETTERS_OF_A_PIECE]
    near = [number for number in found if number is not None]
    return (2, min(near)) if near and len(words) > 1 else None


def _near_whole(typed: str, name: str) -> int | None:
    """Return the slips of a near spelling; two or more are near only where the first letter is right."""
    return slips(typed, name, allowed_slips(typed) if typed[:1] == name[:1] else min(1, allowed_slips(typed)))


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace("_", " ").replace("-", " ").split())
