"""Which command or option was meant by a word that is none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from fecallab.domain.near_spelling import is_near, near_spellings

MOST = 3
"""How many commands are named at most."""

MEANT = {
    **dict.fromkeys(("delete", "remove", "del", "rm", "undo", "erase", "cancel"), ("withdraw", "correct")),
    **dict.fromkeys(("edit", "change", "modify", "fix", "rename", "update"), ("correct", "withdraw")),
}
"""Words that no command has, and what does what they mean: nothing is deleted here, and nothing written over."""

NOUNS_MEANT = {
    **dict.fromkeys(("stool", "stools", "dropping", "droppings", "poop"), "sample"),
    **dict.fromkeys(("cage", "tank", "terrarium", "vivarium", "tub", "pen"), "enclosure"),
    **dict.fromkeys(("quarantine", "newcomer", "newcomers"), "arrivals"),
}
"""Words for things that have another name here, and that name."""


def meant_otherwise(words: Sequence[str]) -> list[str]:
    """Return the commands that do what one of the first two words means, in our words.

    Examples
    --------
    >>> meant_otherwise(["exam", "delete", "E1"]), meant_otherwise(["weigh", "Saffron"])
    (['withdraw', 'correct'], [])
    """
    return next((list(MEANT[word.lower()]) for word in words[:2] if word.lower() in MEANT), [])


def meant_command(program: Any, words: Sequence[str]) -> list[str]:
    """Return the commands that were probably meant, nearest first.

    Parameters
    ----------
    program : click Group
        The whole program.
    words : sequence of str
        What was typed after ``fecallab``; the options among it are passed over.

    Returns
    -------
    list of str
        Up to three, as ``animal weigh``. The words may stand in another order, or one noun be missing:
        ``weigh``, ``add animal``.
    """
    typed = [word.lower() for word in words if not word.startswith("-")][:2]
    if not typed:
        return []
    if otherwise := meant_otherwise(typed):
        return otherwise
    first, *more = [NOUNS_MEANT.get(word, word) for word in typed]
    scores: dict[str, int] = {}
    for path, _ in every_command(program):
        parts = path.split()
        if near := _likeness(first, parts):
            scores[path] = near + sum(_likeness(word, parts) for word in more)
    best = max(scores.values(), default=0)
    return [path for path, score in scores.items() if score == best][:MOST]


def _likeness(word: str, parts: Sequence[str]) -> int:
    """Return 2 when a word is one of a command's, 1 when it is a near spelling of one, else 0."""
    return 2 if word in parts else int(any(is_near(word, part) for part in parts))


def near_verbs(command: Any, typed: str) -> list[str]:
    """Return the words after a noun, or the first words of the program, that are spelled nearly as what was typed."""
    known = verbs_of(command)
    return [meant] if (meant := NOUNS_MEANT.get(typed, "")) in known else near_spellings(typed, known, MOST)


def every_command(node: Any, words: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Walk the program: every command with the words that call it."""
    below = getattr(node, "commands", None)
    if below is None:
        yield " ".join(words), node
        return
    for name, child in below.items():
        yield from every_command(child, (*words, name))


def verbs_of(command: Any) -> list[str]:
    """Return the words that may follow a noun, in the order of its help."""
    return list(getattr(command, "commands", {}))


def meant_option(command: Any, typed: str) -> str:
    """Return the option of a command that is nearest to what was typed; empty when none is near."""
    known = [name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)]
    near = near_spellings(typed.lower(), [name for name in known if name.startswith("--")], 1)
    return near[0] if near else ""
