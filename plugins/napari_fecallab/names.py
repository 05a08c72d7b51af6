"""Names of organisms as they are recorded, as they are shown, and what was meant by what was typed."""

from __future__ import annotations

from functools import lru_cache

from fecallab.domain.errors import BadInput


def checked_name(text: str) -> str:
    """Return the organism key or group for what was typed or chosen.

    Raises
    ------
    BadInput
        With what is near, when there is no such organism.

    Examples
    --------
    >>> checked_name(" Oxyurid ")
    'oxyurid'
    """
    from fecallab.cli.exam_input import organism_name

    word = text.strip()
    if not word:
        raise BadInput("An organism needs its name.", next="Choose one of the list.", code="organism-missing")
    return _known(word) or organism_name(word)


@lru_cache(maxsize=1024)
def group_of(name: str) -> str:
    """Return the group that the eye can tell; a name of an older table is its own group."""
    from fecallab.reference.adequacy import adequacy_facts

    return adequacy_facts().group_of.get(name, name)


@lru_cache(maxsize=1024)
def label_of(name: str) -> str:
    """Return a name as it is shown.

    Examples
    --------
    >>> label_of("isospora_amphiboluri_sporulated")
    'isospora amphiboluri sporulated'
    """
    return name.replace("_", " ")


@lru_cache(maxsize=1024)
def _known(word: str) -> str:
    """Return a word that is a key or a group as it stands; empty for another."""
    from fecallab.reference.adequacy import adequacy_facts

    groups = adequacy_facts().group_of
    whole = word in groups and ("_" in word or groups[word] == word)
    return word if whole else ""
