"""One question for every value that a command needs and that has no question of its own."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from fecallab.cli.ask import pick
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import Question, Script, choice, day, path, words
from fecallab.cli.ask.talk import Talk

Path = tuple[str, ...]


def needed(path_of_command: Path, command: Any, desk: Desk, without: Collection[str] = ()) -> Script:
    """Ask for what a command needs, in the order in which it names it."""
    for param in command.params:
        if param.required and param.name not in without:
            yield question_for(path_of_command, param, desk)
    return ()


def question_for(path_of_command: Path, param: Any, desk: Desk) -> Question:
    """Return the question for one value: a choice from the records, of a few words, or its help text."""
    make = BY_PLACE.get((*path_of_command, param.name)) or BY_NAME.get(param.name)
    if make is not None:
        return make(desk, param.name)
    return from_help(param)


def from_help(param: Any) -> Question:
    """Return a question in the words of the option's help."""
    text = (getattr(param, "help", None) or param.name.replace("_", " ")).strip().rstrip(".")
    many = getattr(param, "multiple", False) or param.nargs != 1
    return Question(
        key=param.name,
        label=param.name.replace("_", " "),
        text=text + (" (several: with a space between)" if many else "?" if not text.endswith("?") else ""),
        read=_several(param.name) if many else words(param.name, optional=False),
        fills=(param.name,),
        why=f"{text}. As an option: {max(param.opts, key=len)}",
    )


def _several(name: str) -> Callable[[str, Talk], Any]:
    from fecallab.cli.ask.question import Answer

    def read(typed: str, talk: Talk) -> Answer:
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
    import re

    pieces = re.findall(r"""(?:"[^"]*"|'[^']*'(?=\s|$)|\S)+""", typed)
    return [re.sub(r'"([^"]*)"', r"\1", piece.strip("'") if piece[:1] == "'" else piece) for piece in pieces]


def _case(desk: Desk, name: str) -> Question:
    return pick.case(desk, name)


def _target(desk: Desk, name: str) -> Question:
    from fecallab.domain.organism import TARGET_GROUPS

    groups = tuple(TARGET_GROUPS)
    return pick.organism(name, groups, "Which group?", key=name, label="target", optional=False)


def _words_of(
    label: str, text: str, options: Callable[[], tuple[str, ...]]
) -> Callable[[Desk, str], Question]:
    def make(desk: Desk, name: str) -> Question:
        values = options()
        return Question(
            key=name, label=label, text=text, read=choice(name, values), fills=(name,), choices=values
        )

    return make


def _event_kinds() -> tuple[str, ...]:
    from fecallab.domain.animal import EVENT_KINDS

    return EVENT_KINDS


def _collected(desk: Desk, name: str) -> Question:
    return Question(
        key=name,
        label="collected",
        text="On which day was the sample collected? For example 2026-03-04, yesterday",
        read=day(name, desk.now.date()),
        fills=(name,),
    )


def _folder(text: str, default: str | None = None) -> Callable[[Desk, str], Question]:
    def make(desk: Desk, name: str) -> Question:
        return Question(key=name, label="folder", text=text, read=path(name), fills=(name,), default=default)

    return make


BY_NAME: dict[str, Callable[[Desk, str], Question]] = {
    "animal": pick.animal,
    "case": _case,
    "sample": pick.sample,
    "exam": pick.exam,
    "vet": pick.vet,
    "target": _target,
}
"""Values that mean the same in every command."""

BY_PLACE: dict[Path, Callable[[Desk, str], Question]] = {
    ("report", "case", "code"): _case,
    ("report", "exam", "code"): pick.exam,
    ("animal", "event", "kind"): _words_of("what", "What happened?", _event_kinds),
    ("exam", "elsewhere", "result"): _words_of(
        "result", "What is the result?", lambda: ("positive", "negative", "inconclusive")
    ),
    ("exam", "elsewhere", "collected"): _collected,
    ("records", "make", "folder"): _folder("In which new folder?", "fecallab-records"),
    ("records", "backup", "target"): _folder("Into which folder? A new one, or an earlier backup"),
    ("records", "restore", "backup_folder"): _folder("Which backup? Its folder"),
    ("records", "restore", "folder"): _folder("Into which new folder?"),
}
"""Values of one command alone."""
