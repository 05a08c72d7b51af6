"""What the questions of one act are asked with: the person, the records, what was given, and the time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from fecallab.cli.ask.known import Known
from fecallab.cli.ask.talk import Talk


@dataclass(frozen=True)
class Desk:
    """One act's surroundings.

    Attributes
    ----------
    talk : Talk
        The person.
    known : Known
        The records.
    given : mapping of str to object
        What came with the command, by the names of its parameters.
    takes : frozenset of str
        The names of all parameters of the command; a question that fills none of them is not asked.
    now : datetime
        The time at which the act began.
    """

    talk: Talk
    known: Known
    given: Mapping[str, object]
    takes: frozenset[str]
    now: datetime
