"""What ``fecallab`` alone opens in a terminal: today's list, the acts by number, and back to the list."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import typer

from fecallab.cli.ask.other import split_words
from fecallab.cli.ask.question import unquoted
from fecallab.cli.ask.talk import BACK, EXPLAIN, STOP, UNKNOWN, GoBack, Talk, in_columns
from fecallab.domain.errors import FecallabError
from fecallab.domain.spoken import say_date

Run = Callable[[list[str]], int]
QUIT_WORDS = (STOP, "quit", "exit", "0")
LETTERS = "abcdefghi"
ROOM_BESIDE_THE_LIST = 14
"""Lines of the screen that are not the list: head, acts, prompt, and what the last act said."""


@dataclass(frozen=True)
class Act:
    """One numbered act: what it is called, and the commands that it runs one after the other."""

    name: str
    commands: Callable[[Path], Sequence[list[str]]]


def _only(*words: str) -> Callable[[Path], Sequence[list[str]]]:
    return lambda folder: [list(words)]


ACTS = (
    Act("new sample", _only("sample", "add")),
    Act("new exam", _only("exam", "add")),
    Act("dose", _only("dose", "give")),
    Act("weigh", _only("animal", "weigh")),
    Act("care", _only("care", "log")),
    Act("look at an animal", _only("animal", "show")),
    Act("look at a case", _only("case", "show")),
    Act("write a page", lambda folder: [["report", "", _to(folder)]]),
    Act("send to the vet", lambda folder: [["vet", "page", _for_the_vet(folder)]]),
    Act("back up", lambda folder: [["records", "backup"]]),
)
NUMBERED = (*(f"{number:>2} {act.name}" for number, act in enumerate(ACTS, start=1)), " q quit")
SIGNS_SHOWN = 3
"""How many danger signs stand above the list; all of them are said by the command due."""
LIKELY_SHOWN = 3
"""For how many groups an exam without a case and a finding says what it could have shown."""
NEW_EXAM, PAGE, BACK_UP = "new exam", "write a page", "back up"


ADD_THE_FIRST = "add the first animal"


def _to(folder: Path) -> str:
    return f"--to={folder / 'reports'}"


def _for_the_vet(folder: Path) -> str:
    return f"--out={folder / 'for-the-vet'}"


def open_start_screen(run: Run, talk: Talk | None = None) -> int:
    """Show the list, do what is chosen, and come back, until the person quits.

    Parameters
    ----------
    run : callable
        Runs one command of the program and returns its exit code.
    talk : Talk, optional
        The person; the terminal when omitted.

    Returns
    -------
    int
        0 when the person quits.

    Raises
    ------
    typer.Abort
        When the input ends or Ctrl-C is typed at the list.
    """
    from fecallab.records.folder import ENVIRONMENT

    before = os.environ.get(ENVIRONMENT)
    try:
        return _Screen(run, talk or Talk()).stay()
    finally:
        if before is None:
            os.environ.pop(ENVIRONMENT, None)
        else:
            os.environ[ENVIRONMENT] = before


class _Screen:
    def __init__(self, run: Run, talk: Talk) -> None:
        self.run, self.talk = run, talk

    def stay(self) -> int:
        from fecallab.cli.start_folder import a_folder

        folder = a_folder(self.run, self.talk)
        if folder is None:
            return 0
        while True:
            rows = self._show(folder)
            typed = self.talk.line("Number, letter or command", " [q = quit]")
            if typed.lower() in QUIT_WORDS:
                return 0
            if typed in (EXPLAIN, BACK) or not typed:
                self._explain(typed)
                continue
            try:
                self._do(typed, rows, folder)
            except (GoBack, typer.Abort):
                continue
            except FecallabError as error:
                self.talk.say(f"{error}")

    def _explain(self, typed: str) -> None:
        if typed == EXPLAIN:
            self.talk.say(
                "A number does an act and comes back here. A letter does what its line says. Any command works"
                " too, without the word fecallab: animal list, exam tally, --help."
            )

    def _show(self, folder: Path) -> list[dict[str, Any]]:
        """Show the head, today's list and the acts; return the rows of the list."""
        code, answer = _quiet(self.run, ["due", "--json"])
        today = str(answer.get("today", ""))
        self.talk.say()
        self.talk.say(f"fecallab - {folder.resolve().name} - {_day(today)}")
        rows: list[dict[str, Any]] = [*answer.get("due", []), *map(_arrival_row, answer.get("arrivals", []))]
        if not rows and not code and not _quiet(self.run, ["animal", "list", "--json"])[1].get("animals"):
            rows = [{"animal": "nobody here yet", "what": ADD_THE_FIRST}]
        if code:
            self.talk.say(f"The list cannot be shown: {answer.get('error', {}).get('text', '')}")
        for sign in answer.get("to_the_vet", [])[:SIGNS_SHOWN]:
            self.talk.say(_sign_line(sign), " ")
        room = max(3, min(len(LETTERS), shutil.get_terminal_size((80, 24)).lines - ROOM_BESIDE_THE_LIST))
        shown = rows[:room]
        for letter, row in zip(LETTERS, shown, strict=False):
            self.talk.say(
                f"{letter} {_when(row, today):<15} {row.get('animal', '')}: {row.get('what', '')}", " "
            )
        if len(rows) > room:
            self.talk.say(f"  and {len(rows) - room} more; all: due", " ")
        if not rows and not code:
            self.talk.say("Nothing is open.", " ")
        for line in in_columns(NUMBERED, self.talk.width):
            self.talk.say(line)
        return shown

    def _do(self, typed: str, rows: Sequence[dict[str, Any]], folder: Path) -> None:
        word = typed.lower()
        if word in LETTERS:
            place = LETTERS.index(word)
            if place < len(rows):
                self._do_row(rows[place], folder)
            else:
                self.talk.say(f"There is no line {word}.")
        elif word.isdecimal():
            if 1 <= int(word) <= len(ACTS):
                self._do_act(ACTS[int(word) - 1], folder)
            else:
                self.talk.say(f"There is no {word}; the acts are 1 to {len(ACTS)}, q quits.")
        else:
            words = split_words(typed)
            self.run(words[1:] if words[0] == "fecallab" else words)

    def _do_act(self, act: Act, folder: Path) -> None:
        for words in act.commands(folder):
            if act.name == PAGE:
                kind = self.talk.pick("Which page?", ["a case, with its exams", "one exam"], 0)
                words = ["report", ("case", "exam")[kind], *words[2:]]
            if act.name == BACK_UP:
                words = [*words, str(self._backup_folder(folder))]
            code = self.run(words)
            if act.name == NEW_EXAM and code == 0:
                self._what_it_says()

    def _question(self) -> list[str]:
        typed = self.talk.line("What do you ask the vet?", " [Enter = no question]")
        if typed == BACK:
            raise GoBack
        return [f"--question={typed}"] if typed and typed not in UNKNOWN else []

    def _what_it_says(self) -> None:
        """Show what the exam that was just recorded says; count it by keys when it was not read yet."""
        from fecallab.cli.ask.exam_seen import likely
        from fecallab.cli.ask.known import Known

        known = Known(None)
        try:
            exam = known.store.exam(known.last_exams[0].code)
            last = exam.preparations[-1]
            if not last.readings:
                known.close()
                if self.talk.pick("Count it now, by keys at the eyepiece?", ["yes", "later"], 0) == 1:
                    return
                self.run(["exam", "tally", last.code])
                exam = known.store.exam(exam.code)
                last = exam.preparations[-1]
            power = last.readings[-1].objective if last.readings else None
            animal = known.animal(known.store.sample(exam.sample).animal)
            cases = known.cases_of(animal.code)
            seen = any(reading.tally() for one in exam.preparations for reading in one.readings)
            groups = () if seen or cases else likely(last.method, animal, cases, power)[:LIKELY_SHOWN]
        finally:
            known.close()
        self.run(["exam", "show", *(f"--target={group}" for group in groups), exam.code])

    def _backup_folder(self, folder: Path) -> Path:
        home = folder.resolve()
        beside = home.with_name(f"{home.name}-backup")
        typed = self.talk.line("Back up into which folder?", f" [Enter = {beside}]")
        if typed == BACK:
            raise GoBack
        return Path(unquoted(typed)).expanduser() if typed else beside

    def _do_row(self, row: dict[str, Any], folder: Path) -> None:
        """Do what a line of the list says."""
        from fecallab.domain.due import MAY_BE_CLOSED

        what, case, animal = str(row.get("what", "")), str(row.get("case", "")), str(row.get("animal", ""))
        if what.startswith("weigh, then dose"):
            self.run(["dose", "give", "--", case])
        elif what.startswith("examine the next stool"):
            self.run(["sample", "add", "--", animal])
        elif what.startswith("ask the vet"):
            self.run(["vet", "page", _for_the_vet(folder), *self._question(), case])
        elif what.startswith(MAY_BE_CLOSED):
            self.run(["case", "show", case])
            if self.talk.pick("Close the case? It is your act.", ["leave it open", "close it"], 0) == 1:
                self.run(["case", "close", case])
        elif what.startswith("read over the vet's plan"):
            self.run(str(row["next"]).split()[1:])
        elif what == ADD_THE_FIRST:
            self.run(["animal", "add"])
        elif row.get("arrival"):
            self.run(["arrivals", "show", str(row["arrival"])])
        elif case:
            self.run(["case", "show", case])
        else:
            self.run(["animal", "show", "--", animal])


def _arrival_row(group: dict[str, Any]) -> dict[str, Any]:
    """Return what comes next for a contact group of an arrival as a line of the list."""
    names = [str(name) for name in group.get("names", [])]
    who = ", ".join(names[:2]) + (f" and {len(names) - 2} more" if len(names) > 2 else "")
    return {**group, "animal": f"{group.get('arrival', '')} {who}", "case": ""}


def _sign_line(sign: dict[str, Any]) -> str:
    """Say in one line what must not wait."""
    told = " (the vet knows)" if sign.get("vet_knows") else ""
    return f"! {sign.get('animal', '')}: to the vet {sign.get('urgency', '')}: {sign.get('words', '')}{told}"


def _quiet(run: Run, words: list[str]) -> tuple[int, dict[str, Any]]:
    """Run a command for its answer alone."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = run(words)
    try:
        found = json.loads(out.getvalue())
    except ValueError:
        return code or 3, {}
    return code, found if isinstance(found, dict) else {}


def _day(iso: str) -> str:
    try:
        day = date.fromisoformat(iso)
    except ValueError:
        return ""
    return f"{day:%A} {say_date(day)}"


def _when(row: dict[str, Any], today: str) -> str:
    day = row.get("on_or_after")
    return "now" if not day or day <= today else f"from {say_date(date.fromisoformat(day))}"
