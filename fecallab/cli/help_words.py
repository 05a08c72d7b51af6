"""What kind of value an option takes, in plain words of the help: TEXT, NUMBER, DAY, TIME, FILE, FOLDER."""

from __future__ import annotations

import re
from typing import Any

DAYS = frozenset(
    [
        "arrived",
        "bottle_discard",
        "bottle_expires",
        "collected",
        "date",
        "end",
        "given_on",
        "on",
        "reported",
        "since",
        "start",
        "until",
        "written",
    ]
)
TIMES = frozenset({"at", "read_at", "passed_from", "passed_to"})
FOLDERS = frozenset({"backup_folder", "export_folder", "folder", "watch"})
UNITS = (
    "_c",
    "_days",
    "_g",
    "_hours",
    "_kg",
    "_mb",
    "_min",
    "_minutes",
    "_ml",
    "_mm",
    "_percent",
    "_px",
    "_um",
)
NUMBERS = frozenset(
    [
        "confidence",
        "correlation",
        "count",
        "factor",
        "field_number",
        "hours_since_meal",
        "fps",
        "gravity",
        "infected",
        "objective",
        "prior",
        "sensitivity",
        "share",
        "specific_gravity",
        "threshold",
        "tube_french",
    ]
)

_FOLDER = re.compile(r"^(record |a )?folder\b|into this folder", re.IGNORECASE)
"""How the help of an option begins, or goes on, that takes a folder."""


def plain_kinds(command: Any) -> None:
    """Let the help of a command, and of every command below it, say a plain word where typer says ``<str>``.

    An argument has a name that says it already, and choices keep their list. Older versions of typer write TEXT by
    themselves; nothing is changed there.
    """
    for below in getattr(command, "commands", {}).values():
        plain_kinds(below)
    for param in command.params:
        if not hasattr(param, "display_type") or param.type_descriptor.is_choice:
            continue
        typed = str(param.type_descriptor.annotation)
        word = "" if param.param_type_name == "argument" else kind_word(param.name, typed, param.help or "")
        param.display_type = lambda ctx, word=word: word


def kind_word(name: str, typed: str, says: str = "") -> str:
    """Return the word for an option by its name, by its type in Python, and by what its help says of it.

    Examples
    --------
    >>> kind_word("at", "str"), kind_word("weight_g", "str"), kind_word("marks", "pathlib.Path")
    ('TIME', 'NUMBER', 'FILE')
    >>> kind_word("records", "str", "Record folder (else this folder).")
    'FOLDER'
    """
    if _FOLDER.search(says):
        return "FOLDER"
    if says.startswith("File "):
        return "FILE"
    if "Path" in typed:
        return "FOLDER" if name in FOLDERS else "FILE"
    if name in DAYS:
        return "DAY"
    if name in TIMES:
        return "TIME"
    is_number = name in NUMBERS or name.endswith(UNITS) or "int" in typed or "float" in typed
    return "NUMBER" if is_number else "TEXT"
