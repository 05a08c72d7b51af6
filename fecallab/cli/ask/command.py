"""From a command that was typed in part to a whole one: find it, ask what is missing, run it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import typer

from fecallab.cli.ask.conversation import Conversation, Step
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.known import Known
from fecallab.cli.ask.question import Value
from fecallab.cli.ask.scripts import THOROUGH, TITLES, script_of
from fecallab.cli.ask.talk import Talk
from fecallab.domain.errors import BadInput

Invoke = Callable[[list[str]], Any]
USAGE: type[Exception] = typer.BadParameter.__mro__[2]
"""What typer raises for a wrong option or a missing word, whichever copy of click it carries."""
_ASIDE = frozenset({"records", "by"})
"""Options that say where and by whom, not what."""


def with_questions(program: Any, words: list[str], invoke: Invoke, talk: Talk | None = None) -> Any:
    """Run a command; ask for what was not given, read it back, and run it whole.

    Parameters
    ----------
    program : Command
        The whole program.
    words : list of str
        What was typed after ``fecallab``.
    invoke : callable
        Runs the program with whole words.
    talk : Talk, optional
        The person; the terminal when omitted.

    Returns
    -------
    object
        What `invoke` returns.

    Raises
    ------
    typer.Abort
        When the person stops; nothing was recorded then.
    """
    found = find_command(program, words)
    given = None if found is None else given_with(*found)
    if found is None or given is None:
        return invoke(words)
    path, command, rest = found
    if not lacks_something(path, command, given):
        return invoke(words)
    return _Asking(path, command, rest, given, invoke, talk or Talk()).run()


class _Asking:
    """One command, asked for and run."""

    def __init__(
        self,
        path: tuple[str, ...],
        command: Any,
        rest: list[str],
        given: Mapping[str, object],
        invoke: Invoke,
        talk: Talk,
    ) -> None:
        from fecallab.cli.common import now

        self.path, self.command, self.rest, self.talk, self.invoke = path, command, rest, talk, invoke
        names = frozenset(param.name for param in command.params)
        self.known = Known(str(given["records"]) if "records" in given else None)
        self.desk = Desk(talk, self.known, given, names, now())
        self.conversation = Conversation(talk, lambda: script_of(path, command, self.desk), given)
        self.records_something = "by" in names
        self.done_before: list[tuple[str, ...]] = []

    def run(self) -> Any:
        title = TITLES.get(self.path, " ".join(self.path)).capitalize()
        self.talk.say(f"{title}. ? explains, < goes back one question, q stops.")
        try:
            while True:
                steps, notes = self.conversation.ask_all()
                line = whole_words(self.path, self.command, self.rest, steps)
                if self.records_something and not self._agreed(steps, notes, line):
                    continue
                self.known.close()
                try:
                    return self._do(steps, line)
                except (BadInput, USAGE) as error:
                    if not self.records_something:
                        raise
                    self.talk.say(f"Not recorded: {error}")
        finally:
            self.known.close()

    def _agreed(self, steps: list[Step], notes: Sequence[str], line: list[str]) -> bool:
        title = f"To be recorded: {TITLES.get(self.path, ' '.join(self.path))}"
        return self.conversation.read_back(title, steps, notes, shown(line))

    def _do(self, steps: list[Step], line: list[str]) -> Any:
        for step in steps:
            before = step.answer.first
            if before and before not in self.done_before:
                aside = [f"--{name}={self.desk.given[name]}" for name in _ASIDE if name in self.desk.given]
                self.invoke([*before[:2], *aside, *before[2:]])
                self.done_before.append(before)
        return self.invoke(line)


def find_command(program: Any, words: Sequence[str]) -> tuple[tuple[str, ...], Any, list[str]] | None:
    """Return the path of the command that the words name, the command, and the words behind it."""
    command = program
    path: list[str] = []
    for place, word in enumerate(words):
        inner = getattr(command, "commands", None)
        if inner is None:
            return tuple(path), command, list(words[place:])
        if word not in inner:
            return None
        command = inner[word]
        path.append(word)
    return None if getattr(command, "commands", None) is not None else (tuple(path), command, [])


def given_with(path: tuple[str, ...], command: Any, rest: list[str]) -> dict[str, object] | None:
    """Return what came with the command by parameter, or None when it cannot be read."""
    try:
        context = command.make_context(path[-1], list(rest), resilient_parsing=True)
    except (USAGE, BadInput):
        return None
    found: dict[str, object] = {}
    for param in command.params:
        source = context.get_parameter_source(param.name)
        value = context.params.get(param.name)
        if source is not None and source.name == "COMMANDLINE" and value not in (None, (), []):
            found[param.name] = value
    return found


def lacks_something(path: tuple[str, ...], command: Any, given: Mapping[str, object]) -> bool:
    """Say whether to ask: a needed value is missing, or a long command came without a single option."""
    if any(param.required and param.name not in given for param in command.params):
        return True
    options = {param.name for param in command.params if param.param_type_name == "option"}
    return path in THOROUGH and not (options - _ASIDE) & given.keys()


def whole_words(path: tuple[str, ...], command: Any, rest: Sequence[str], steps: Sequence[Step]) -> list[str]:
    """Return the words of the whole command: options by their names first, then what was typed, then the rest."""
    filled: dict[str, Value] = {}
    rest = list(rest)
    for step in steps:
        if step.given and step.question.of_records:
            _put_code(rest, step)
        if not step.given:
            filled.update({name: value for name, value in step.answer.values.items() if value is not None})
    options: list[str] = []
    places: list[str] = []
    for param in command.params:
        value = filled.get(param.name)
        if value is None:
            continue
        if param.param_type_name == "argument":
            places += list(value) if isinstance(value, tuple) else [str(value)]
        else:
            options += _option_words(param, value)
    tail = [] if not places else places if "--" in rest else ["--", *places]
    return [*path, *options, *rest, *tail]


def _put_code(rest: list[str], step: Step) -> None:
    """Put the code in place of the part of a name that was typed."""
    if step.typed in rest:
        rest[rest.index(step.typed)] = step.answer.only


def _option_words(param: Any, value: Value) -> list[str]:
    name = max(param.opts, key=len)
    if isinstance(value, bool):
        if value:
            return [name]
        return [max(param.secondary_opts, key=len)] if param.secondary_opts else []
    if isinstance(value, tuple):
        return [f"{name}={one}" for one in value]
    return [f"{name}={value}"]


def shown(words: Sequence[str]) -> str:
    """Return words as they are typed in a shell, in double quotes where one holds a space.

    Examples
    --------
    >>> shown(["care", "log", "--", "Saffron", "warm end", "38"])
    'fecallab care log Saffron "warm end" 38'
    """
    plain = (
        [word for word in words if word != "--"]
        if not any(w[:1] == "-" and w[1:2].isdigit() for w in words)
        else words
    )
    return " ".join(["fecallab", *(f'"{word}"' if " " in word or not word else word for word in plain)])
