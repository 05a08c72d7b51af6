"""A terminal whose keys are known beforehand, and a count in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from fecallab.cli import tally_journal
from fecallab.cli.tally_count import Counter
from fecallab.cli.tally_screen import Facts

DAY = "2025-03-04"
HEAD = {
    "of": "E1-1",
    "animal": "Saffron",
    "began": "2025-03-04T09:00:00",
    "by": "Mara Quell",
    "objective": 10.0,
    "field_number": 20.0,
    "chamber": False,
    "first": ["coccidian", "oxyurid"],
    "second": ["artefact", "pollen_pine"],
}


class Typed:
    """A terminal whose keys and answers are known beforehand."""

    by_key = True

    def __init__(self, keys=(), answers=()):
        self.keys, self.answers = list(keys), list(answers)
        self.frames, self.bells, self.questions = [], [], []

    def key(self):
        if not self.keys:
            raise EOFError
        return self.keys.pop(0)

    def ask(self, question):
        self.questions.append(question)
        if not self.answers:
            raise EOFError
        return self.answers.pop(0)

    def show(self, lines):
        self.frames.append(lines)
        return True

    def bell(self, times):
        self.bells.append(times)


def counter(folder: Path, keys=(), answers=(), **head) -> Counter:
    journal, draft = tally_journal.begin(folder, {**HEAD, **head})
    return Counter(journal, draft.course, Typed(keys, answers), lambda tally: Facts("E1-1  Saffron", 0.5))


def counted(folder, keys, answers=(), **head):
    """Count until the keys end, as if the window had closed then."""
    made = counter(folder, keys, answers, **head)
    with pytest.raises(EOFError):
        made.run()
    made.journal.close()
    return made
