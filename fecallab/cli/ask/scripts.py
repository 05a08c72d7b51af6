"""Which questions belong to which command; each set is loaded when its command is asked for."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import Script

EVERYDAY: dict[tuple[str, ...], tuple[str, str]] = {
    ("animal", "add"): ("animals", "add"),
    ("animal", "weigh"): ("animals", "weigh"),
    ("sample", "add"): ("sample", "add"),
    ("exam", "add"): ("exam", "add"),
    ("exam", "prepare"): ("exam", "prepare"),
    ("plan", "add"): ("plan", "add"),
    ("dose", "give"): ("dose", "give"),
    ("care", "log"): ("care", "log"),
}
"""Commands with questions of their own: the module beside this one, and the function in it."""

TITLES: dict[tuple[str, ...], str] = {
    ("animal", "add"): "an animal",
    ("animal", "weigh"): "a weight",
    ("sample", "add"): "a sample",
    ("exam", "add"): "an exam",
    ("exam", "prepare"): "one more preparation of an exam",
    ("plan", "add"): "what the vet wrote",
    ("dose", "give"): "a dose",
    ("care", "log"): "care",
}

THOROUGH: frozenset[tuple[str, ...]] = frozenset(
    {
        ("animal", "add"),
        ("sample", "add"),
        ("exam", "add"),
        ("exam", "prepare"),
        ("plan", "add"),
        ("dose", "give"),
    }
)
"""Commands that ask for the optional things too when they come without any option; a weight does not."""


def script_of(path: tuple[str, ...], command: Any, desk: Desk) -> Script:
    """Return the questions of a command, those of its own or one for every value that it needs."""
    module, name = EVERYDAY.get(path, ("other", ""))
    found = import_module(f"fecallab.cli.ask.{module}")
    if not name:
        script: Script = found.needed(path, command, desk)
        return script
    own: Script = getattr(found, name)(desk)
    return _then_needed(own, path, command, desk)


def _then_needed(own: Script, path: tuple[str, ...], command: Any, desk: Desk) -> Script:
    """Ask the questions of a command's own, then for what it needs besides (a value that came in later)."""
    from fecallab.cli.ask.other import needed

    filled: set[str] = set()
    notes: list[str] = []
    try:
        question = next(own)
        while True:
            filled |= set(question.fills)
            if question.fills and not desk.takes.issuperset(question.fills):
                question = own.send(question.read("-", desk.talk))
                continue
            question = own.send((yield question))
    except StopIteration as end:
        notes += end.value or ()
    yield from needed(path, command, desk, without=filled)
    return notes
