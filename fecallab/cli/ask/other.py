"""One question for every value that a command needs and that has no question of its own."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any

from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.other_choices import ALSO, BY_NAME, BY_PLACE
from fecallab.cli.ask.question import Answer, Question, Reader, Script, is_unknown, words, yes_no
from fecallab.cli.ask.talk import Talk

Path = tuple[str, ...]


def needed(path_of_command: Path, command: Any, desk: Desk, without: Collection[str] = ()) -> Script:
    """Ask for what a command needs and for the optional things that matter, in the order in which it has them."""
    also = ALSO.get(path_of_command, ())
    for param in command.params:
        if param.name in without:
            continue
        if param.required or param.name in also:
            yield question_for(path_of_command, param, desk)
    return ()


def question_for(path_of_command: Path, param: Any, desk: Desk) -> Question:
    """Return the question for one value: a choice from the records, of a few words, or its help text."""
    make = BY_PLACE.get((*path_of_command, param.name)) or BY_NAME.get(param.name)
    return make(desk, param.name) if make is not None else from_help(param)


def from_help(param: Any) -> Question:
    """Return a question in the words of the option's help; Enter leaves an optional one out."""
    text = (getattr(param, "help", None) or param.name.replace("_", " ")).strip().rstrip(".?")
    many = getattr(param, "multiple", False) or param.nargs != 1
    read: Reader = words(param.name, optional=not param.required)
    if getattr(param, "is_flag", False):
        read = yes_no(param.name)
    elif many:
        read = _several(param.name)
    return Question(
        key=param.name,
        label=param.name.replace("_", " "),
        text=text + ("? (several: a space between)" if many else "?"),
        read=read,
        fills=(param.name,),
        default=None if param.required else "-",
        default_said="" if param.required else "left out",
        why=f"{text}. As an option: {max(param.opts, key=len)}",
    )


def _several(name: str) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer("none", {name: None}, "-")
        pieces = split_words(typed)
        return Answer(", ".join(pieces), {name: tuple(pieces)}, typed)

    return read


def split_words(typed: str) -> list[str]:
    r"""Split a line at spaces; quotes keep words together, and a backslash is only a backslash.

    Examples
    --------
    >>> split_words(r'report case C1 --to "D:\My Pages"')[-1] == r"D:\My Pages"
    True
    >>> split_words("it's one")
    ["it's", 'one']
    """
    pieces = re.findall(r"""(?:"[^"]*"|'[^']*'(?=\s|$)|\S)+""", typed)
    return [re.sub(r'"([^"]*)"', r"\1", piece.strip("'") if piece[:1] == "'" else piece) for piece in pieces]
