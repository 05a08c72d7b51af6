"""Which command or option was meant by a word that is none."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from typing import Any

MOST = 3
"""How many commands are named at most."""
ALIKE = 0.6
"""How much of two words must be the same, 0 to 1, as `difflib` counts it; own choice."""

SHORTEST = 4
"""Letters of a word from which on it is compared; a shorter one is like too many."""

MEANT = {
    **dict.fromkeys(("delete", "remove", "del", "rm", "undo", "erase", "cancel"), ("withdraw", "correct")),
    **dict.fromkeys(("edit", "change", "modify", "fix", "rename", "update"), ("correct", "withdraw")),
}
"""Words that no command has, and what does what they mean: nothing is deleted here, and nothing written over."""


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
    scores: dict[str, float] = {}
    for path, _ in every_command(program):
        parts = path.split()
        first = max(difflib.SequenceMatcher(None, typed[0], part).ratio() for part in parts)
        if typed[0] in parts[1:] or (first >= ALIKE and len(typed[0]) >= SHORTEST):
            more = max((_ratio(typed[1], part) for part in parts), default=0.0) if len(typed) > 1 else 0.0
            scores[path] = first + (more if more >= ALIKE else 0.0)
    if not scores:
        return []
    best = max(scores.values())
    return [path for path in sorted(scores, key=lambda path: -scores[path]) if scores[path] > best - 0.15][
        :MOST
    ]


def _ratio(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one, other).ratio()


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
    near = difflib.get_close_matches(typed.lower(), [name for name in known if name.startswith("--")], n=1)
    return near[0] if near else ""
