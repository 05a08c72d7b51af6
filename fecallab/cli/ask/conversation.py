"""One act, question by question: forward, back, changed, read back, and only then done."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import typer

from fecallab.cli.ask.question import Answer, Question, Script
from fecallab.cli.ask.talk import BACK, EXPLAIN, HELP, STOP, GoBack, Talk, in_columns
from fecallab.domain.errors import BadInput

USUAL = ("by the named defaults", "none", "nothing", "not known")
"""What neighbours may say together in one line of the read-back."""


@dataclass(frozen=True)
class Step:
    """A question with its answer; ``given`` when it came with the command (as ``typed``) and was not asked."""

    question: Question
    answer: Answer
    given: bool
    typed: str = ""


class Conversation:
    """Asks the questions of a script until all are answered.

    Parameters
    ----------
    talk : Talk
        The person.
    script : callable
        Starts the script; it is run again after every way back, with what is answered by then.
    given : mapping
        What was given with the command, by the names of its parameters.
    """

    def __init__(self, talk: Talk, script: Callable[[], Script], given: Mapping[str, object]) -> None:
        self.talk = talk
        self._script = script
        self._given = given
        self._answers: dict[str, Answer] = {}
        self._former: dict[str, str] = {}
        self._asked: list[str] = []
        self._wanted: set[str] = set()

    def ask_all(self) -> tuple[list[Step], Sequence[str]]:
        """Ask what is open; return every step and the lines that the script adds to the read-back."""
        while True:
            found = self._walk()
            if found is not None:
                return found

    def _walk(self) -> tuple[list[Step], Sequence[str]] | None:
        """Run the script once, or up to a way back (None)."""
        script = self._script()
        steps: list[Step] = []
        try:
            question = next(script)
            while True:
                step = self._step(question)
                steps.append(step)
                question = script.send(step.answer)
        except GoBack:
            script.close()
            if not self.go_back():
                self.talk.say("This is the first question. q stops.")
            return None
        except StopIteration as end:
            return steps, end.value or ()

    def _step(self, question: Question) -> Step:
        given = {name: self._given[name] for name in question.fills if name in self._given}
        if given and question.of_records:
            typed = _said(next(iter(given.values())))
            return Step(question, question.read(typed, self.talk), given=True, typed=typed)
        if given:
            said = ", ".join(_said(value) for value in given.values())
            values = {
                name: value if isinstance(value, bool) else _said(value) for name, value in given.items()
            }
            return Step(question, Answer(said, values, said), given=True)
        answer = self._answers.get(question.key)
        if answer is None and question.quiet and question.key not in self._wanted:
            assert question.default is not None
            return Step(question, question.read(question.default, self.talk), given=False)
        if answer is None:
            answer = self.ask(question, self._former.get(question.key))
            self._answers[question.key] = answer
            self._asked.append(question.key)
        return Step(question, answer, given=False)

    def go_back(self) -> bool:
        """Take the last answer back; False when none was given yet."""
        if not self._asked:
            return False
        self._take_back(self._asked[-1])
        return True

    def change(self, question: Question) -> None:
        """Have one question asked again."""
        self._take_back(question.key)
        self._wanted.add(question.key)

    def _take_back(self, key: str) -> None:
        if key in self._asked:
            self._asked.remove(key)
            self._former[key] = self._answers.pop(key).typed

    def ask(self, question: Question, former: str | None = None) -> Answer:
        """Ask one question until its answer can be read.

        Raises
        ------
        GoBack
            When the person wants the question before.
        """
        default = former or question.default
        shown = former or question.default_said or question.default
        hint = f" [Enter = {'not known' if shown == '-' else shown}]" if default is not None else ""
        text = self._put(question, hint)
        while True:
            typed = self.talk.line(text, hint)
            if typed == BACK:
                raise GoBack
            if typed == STOP:
                raise typer.Abort
            if typed == EXPLAIN:
                self.talk.say(question.why or question.text)
                self.talk.say(HELP)
                text = self._put(question, hint, explained=True)
                continue
            if not typed and default is None:
                self.talk.say("This one is needed. ? explains, < goes back, q stops.")
                continue
            try:
                return question.read(typed or default or "", self.talk)
            except BadInput as error:
                self.talk.say(f"{error}")
            except GoBack:
                text = self._put(question, hint)

    def _put(self, question: Question, hint: str, *, explained: bool = False) -> str:
        """Say a question with its choices; return what stands before the cursor."""
        if question.before:
            self.talk.say(question.before)
        listed = [f"{number} {choice}" for number, choice in enumerate(question.choices, start=1)]
        if not listed or (question.seen_before and not explained):
            return question.text
        one_line = f"{question.text} {', '.join(listed)}"
        if len(one_line) + len(hint) < self.talk.width and not any("," in choice for choice in listed):
            return one_line
        self.talk.say(question.text)
        numbered = [f"{number:>2} {choice}" for number, choice in enumerate(question.choices, start=1)]
        for line in in_columns(numbered, self.talk.width - 2):
            self.talk.say(line, indent=" ")
        return "Number or name"

    def read_back(self, title: str, steps: Sequence[Step], notes: Sequence[str], command: str) -> bool:
        """Read everything back; True when it is to be done, False when a question came open again."""
        steps = [step for step in steps if step.question.label]
        open_ones = [step for step in steps if not step.given]
        numbers = {id(step): f"{number}" for number, step in enumerate(open_ones, start=1)}
        width = max(len(step.question.label) for step in steps)
        self.talk.say()
        self.talk.say(title)
        for line in _lines(steps, numbers, width):
            self.talk.say(line, indent=" ")
        for note in notes:
            self.talk.say(note, indent=" ")
        lines = f"1-{len(open_ones)}" if len(open_ones) > 1 else "1"
        while True:
            typed = self.talk.line(
                "Record this?", f" [Enter = yes, {lines} = change a line, < = back, q = no]"
            )
            word = typed.lower()
            if word in ("", "y", "yes"):
                return True
            if word == BACK:
                if self.go_back():
                    return False
            elif word in (STOP, "n", "no"):
                raise typer.Abort
            elif word == EXPLAIN:
                self.talk.say("Enter records it, a number changes that line, < goes back, q records nothing.")
                self.talk.say(f"The same as one command: {command}")
            elif word.isdecimal() and 1 <= int(word) <= len(open_ones):
                self.change(open_ones[int(word) - 1].question)
                return False
            else:
                self.talk.say("Enter = yes, a number = change that line, < = back, q = no.")


def _lines(steps: Sequence[Step], numbers: Mapping[int, str], width: int) -> list[str]:
    """Return a line for every step; neighbours that were not asked and say the same share one."""
    lines: list[str] = []
    for (shared, said), group in groupby(steps, key=_shared):
        together = list(group)
        if shared and len(together) > 1:
            named = [f"{numbers[id(step)]} {step.question.label}" for step in together]
            lines.append(f"{', '.join(named)}: {said}")
            continue
        for step in together:
            lines.append(f"{numbers.get(id(step), ''):>2} {step.question.label:<{width}}  {step.answer.said}")
    return lines


def _shared(step: Step) -> tuple[bool, str]:
    usual = step.question.quiet and not step.given and step.answer.said in USUAL
    return usual, step.answer.said if usual else ""


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return ", ".join(map(str, value))
    return str(value)
