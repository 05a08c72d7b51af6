"""From keys to acts: every key is kept in the journal first, then counted, then answered with a sound."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fecallab.cli.tally_draft import REDO, SHIFT_KEYS, UNDO
from fecallab.cli.tally_journal import Journal
from fecallab.cli.tally_keys import BACK, CANCEL, END_OF_LINE, NEXT_FIELD, Terminal
from fecallab.cli.tally_screen import Facts, brief_lines, read_back_lines, screen_lines, spot_text
from fecallab.cli.tally_typed import names_like, read_share
from fecallab.cli.typed import read_number
from fecallab.domain.errors import BadInput, FecallabError
from fecallab.domain.spoken import say_percent
from fecallab.domain.tally import (
    COUNT,
    FIELD_NUMBER,
    KEYS_IN_A_ROW,
    NEXT,
    OBJECTIVE,
    ORGANISM,
    SHARE,
    SWEEP,
    Act,
    Tally,
)
from fecallab.domain.tally_course import Course

if TYPE_CHECKING:
    from fecallab.domain.exam import Reading

COUNTED_BELLS, NEXT_BELLS, MOVED_BELLS, NOTHING_BELLS = 1, 2, 3, 4
"""One for a count, two for the next field, three for undo and redo, four where nothing was done."""
RECORD, THROW_AWAY = "record", "throw away"


@dataclass
class Counter:
    """Counts until the person finishes.

    Attributes
    ----------
    facts_of : callable
        Gives what stands beside the counts of a tally.
    ending : str
        `RECORD` or `THROW_AWAY` after `run`.
    open_too : bool or None
        Whether the field that was looked at last was finished, though nothing was counted in it.
    """

    journal: Journal
    course: Course
    terminal: Terminal
    facts_of: Callable[[Tally], Facts]
    shift_keys: str = ""
    message: str = ""
    open_too: bool | None = None
    ending: str = ""
    _unsure: bool = field(default=False, init=False)
    _second_row: bool = field(default=False, init=False)
    _whole_screen: bool = field(default=True, init=False)
    _drawn: bool = field(default=False, init=False)

    def run(self) -> tuple[Reading, ...]:
        """Count, and return the readings that are to be recorded (none when the tally is thrown away).

        Raises
        ------
        EOFError, KeyboardInterrupt
            When the person or the terminal went away; the journal holds everything.
        """
        while not self.ending:
            if not self._drawn:
                self._draw()
            self._drawn = False
            self.press(self.terminal.key())
        if self.ending == THROW_AWAY:
            return ()
        return self.course.now.readings(open_too=self.open_too)

    def press(self, key: str) -> None:
        """Do what a key asks for; a key that cannot be meant says so and changes nothing."""
        try:
            self._press(key)
        except FecallabError as error:
            self._answer(str(error), NOTHING_BELLS)

    def _press(self, key: str) -> None:
        if len(key) == 1 and key in self.shift_keys:
            key = f"shift-{self.shift_keys.index(key) + 1}"
        digit = key.removeprefix("shift-")
        if digit in "123456789" and len(digit) == 1:
            self._count(int(digit), sure=not (self._unsure or key != digit))
        elif key == "0":
            self._second_row = not self._second_row
        elif key == "u":
            self._unsure = not self._unsure
        elif key in (CANCEL, BACK) and (self._unsure or self._second_row):
            self._forget_prefix()
        elif key == BACK:
            self._move(UNDO)
        elif key in _ACTS:
            self._forget_prefix()
            _ACTS[key](self)
        elif key != CANCEL:
            self._forget_prefix()
            self._answer(
                "That is no key here." if self.terminal.by_key else "Not understood; ? shows the keys.",
                NOTHING_BELLS,
            )

    def _forget_prefix(self) -> None:
        self._unsure = self._second_row = False

    def _do(self, act: Act) -> None:
        course = self.course.do(act)
        self.journal.act(act)
        self.course = course

    def _answer(self, message: str, bells: int) -> None:
        """Say what a key did: on the screen first, since ringing takes a moment."""
        self.message = message
        if self.terminal.by_key:
            self._draw()
            self._drawn = True
        self.terminal.bell(bells)

    def _draw(self) -> None:
        tally = self.course.now
        facts = self.facts_of(tally)
        size = shutil.get_terminal_size()
        if self.terminal.by_key or self._whole_screen:
            height = size.lines if self.terminal.by_key else 99
            lines = screen_lines(
                tally,
                facts,
                message=self.message,
                unsure=self._unsure,
                second_row=self._second_row,
                width=max(40, size.columns),
                height=max(8, height),
            )
        else:
            lines = brief_lines(tally, facts, self.message)
        if self.terminal.show(lines) and not self.terminal.by_key:
            self._whole_screen, self.message = False, ""

    def _count(self, number: int, *, sure: bool) -> None:
        tally = self.course.now
        row = tally.second if self._second_row else tally.first
        self._forget_prefix()
        if number > len(row):
            raise BadInput(f"No organism is on key {number}.", next="n gives one a key.", code="no-organism")
        name = row[number - 1]
        self._do(Act(COUNT, name, sure))
        now = self.course.now.open
        where = "sweep" if tally.sweeping else f"{tally.unit} {tally.number}"
        self._answer(
            f"{where}: {name.replace('_', ' ')}{'' if sure else ', not sure'} - {spot_text(now)}",
            COUNTED_BELLS,
        )

    def _next(self) -> None:
        self._do(Act(NEXT))
        tally = self.course.now
        self._answer(f"{tally.unit} {tally.number - 1} finished: {spot_text(tally.done[-1])}.", NEXT_BELLS)

    def _end_of_line(self) -> None:
        if not self.course.now.sweeping:
            self._next()

    def _move(self, which: str) -> None:
        course = self.course.undo() if which == UNDO else self.course.redo()
        self.journal.append({"act": which})
        self.course = course
        word = "Undone" if which == UNDO else "Done again"
        self._answer(f"{word}. {self._where()}", MOVED_BELLS)

    def _redo(self) -> None:
        self._move(REDO)

    def _where(self) -> str:
        tally = self.course.now
        where = "The sweep" if tally.sweeping else f"{tally.unit.capitalize()} {tally.number}"
        return f"{where}: {spot_text(tally.open)}"

    def _sweep(self) -> bool:
        if not self.course.now.sweeping:
            self._do(Act(SWEEP))
            self._answer("A sweep: everything counts together until s; then its share is asked.", NEXT_BELLS)
            return True
        typed = self.terminal.ask("Share of the glass that was swept (0.4, 1/3, 40 %, all; ? not known):")
        if not typed:
            self._answer("The sweep goes on.", NOTHING_BELLS)
            return False
        share = read_share(typed)
        self._do(Act(SHARE, value=share))
        said = "not known" if share is None else say_percent(share)
        self._answer(f"Sweep finished, share of the glass {said}.", NEXT_BELLS)
        return True

    def _organism(self) -> None:
        typed = self.terminal.ask("Organism or group (Enter: none):")
        found = names_like(typed) if typed else []
        if len(found) > 1:
            listed = "  ".join(f"{i} {name}" for i, name in enumerate(found, start=1))
            typed = self.terminal.ask(f"{listed}  - which number?")
            found = [found[int(typed) - 1]] if typed in list(map(str, range(1, len(found) + 1))) else []
        if not found:
            self._answer("No organism was added.", NOTHING_BELLS)
            return
        self._do(Act(ORGANISM, found[0]))
        tally = self.course.now
        key = f"0 {len(tally.second)}" if found[0] in tally.second else str(len(tally.first))
        self._answer(f"{found[0].replace('_', ' ')} is on key {key} now.", MOVED_BELLS)

    def _objective(self) -> None:
        typed = self.terminal.ask("Objective (4, 10, 20, 40, 100; Enter: as before):").lower().rstrip("x×")
        if typed:
            self._do(Act(OBJECTIVE, value=read_number(typed, "the objective")))
            self._answer(f"Objective {self.course.now.objective:g}×. {self._where()}", MOVED_BELLS)

    def _field_number(self) -> None:
        typed = self.terminal.ask("Number on the eyepiece, mm (10x/20 is 20; ? not known; Enter: as before):")
        if typed:
            value = None if typed == "?" else read_number(typed.rpartition("/")[2], "the field number")
            self._do(Act(FIELD_NUMBER, value=value))
            self._answer(self._where(), MOVED_BELLS)

    def _learn_shift(self) -> None:
        typed = self.terminal.ask("Hold Shift, press 1 to 9 in order, then Enter (Enter alone: none):")
        if typed and (len(set(typed)) != KEYS_IN_A_ROW or len(typed) != KEYS_IN_A_ROW):
            raise BadInput(
                f"Nine different signs are needed, {len(typed)} came.", next="k tries again.", code="shift"
            )
        self.journal.append({"act": SHIFT_KEYS, "keys": typed})
        self.shift_keys = typed
        self._answer("Shift with a number is not sure now." if typed else "Shift is off.", MOVED_BELLS)

    def _help(self) -> None:
        self._whole_screen = True
        self.message = "k: let Shift and a number be 'not sure'. Enter is the next field too."

    def _finish(self) -> None:
        if self.course.now.sweeping and not self._sweep():
            return
        tally = self.course.now
        lines = read_back_lines(tally, self.facts_of(tally))
        open_empty = tally.open.empty
        if open_empty and (tally.number > 1 or not tally.done):
            lines.append(
                f"  {tally.unit} {tally.number} has no key, so it is left out; + if it was looked at and empty"
            )
        self.terminal.show(["", *lines, ""])
        nothing = not tally.readings()
        record = "" if nothing else "Enter record   "
        answer = self.terminal.ask(f"{record}b back to counting   x throw away:").lower()
        if answer == "x":
            if self.terminal.ask("Throw everything counted away? Type yes:").lower() in ("yes", "y"):
                self.ending = THROW_AWAY
                return
        elif answer == "+" and open_empty:
            self.open_too, self.ending = True, RECORD
            return
        elif answer in ("", "y", "yes") and not nothing:
            self.ending = RECORD
            return
        self._answer(f"Nothing was recorded; the counting goes on. {self._where()}", NOTHING_BELLS)


_ACTS: dict[str, Callable[[Counter], object]] = {
    NEXT_FIELD: Counter._next,
    END_OF_LINE: Counter._end_of_line,
    "r": Counter._redo,
    "s": Counter._sweep,
    "n": Counter._organism,
    "o": Counter._objective,
    "f": Counter._field_number,
    "k": Counter._learn_shift,
    "?": Counter._help,
    "q": Counter._finish,
}
