"""Look-alikes of an organism, and what each of them looks like."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from fecallab.domain.organism import Organism

MOST_LOOK_ALIKES = 4


@dataclass(frozen=True)
class TellsApart:
    """A look-alike and what it looks like."""

    name: str
    look: str


def names_of(organisms: Sequence[Organism]) -> dict[str, Organism]:
    """Return organisms by key and scientific name, the words that a look-alike list may call them by."""
    return {f"{item.key.replace('_', ' ')} {item.scientific_name}": item for item in organisms}


def tells_apart(item: Organism, names: Mapping[str, Organism]) -> tuple[TellsApart, ...]:
    """Return the look-alikes of an organism, each with what is to be seen on it where the table says so."""
    told = []
    for words in item.look_alikes[:MOST_LOOK_ALIKES]:
        other = _called(words, item, names)
        told.append(TellsApart(words, other.shape if other else ""))
    return tuple(told)


def _called(words: str, item: Organism, names: Mapping[str, Organism]) -> Organism | None:
    """Find the organism that a look-alike's words mean: by its genus, same stage first, or by all words.

    None rather than a wrong one: no description is better than that of another organism.
    """
    plain = re.sub(r"\(.*?\)", "", words).strip()
    genus = [word for word in re.findall(r"[A-Z][a-z]{3,}", plain) if word not in ("Oxyurid", "Brownian")]
    parts = [part.rstrip("s") for part in re.findall(r"[a-z]{4,}", plain)] if not genus else []
    found = [
        other
        for name, other in names.items()
        if other is not item
        and (
            any(word in _words_of(name) for word in genus)
            or (parts and all(any(w.startswith(part) for w in _words_of(name.lower())) for part in parts))
        )
    ]
    same = [other for other in found if set(other.stages) & set(item.stages)]
    return next(iter(same or found), None)


@cache
def _words_of(name: str) -> tuple[str, ...]:
    return tuple(re.findall(r"\w+", name))
