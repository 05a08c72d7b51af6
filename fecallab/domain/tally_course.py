"""Back and forth in a tally: every act can be undone, and done again."""

from __future__ import annotations

from dataclasses import dataclass

from fecallab.domain.errors import BadInput
from fecallab.domain.tally import Act, Tally, after


@dataclass(frozen=True)
class Course:
    """A tally with all that went before and all that was undone."""

    now: Tally
    past: tuple[Tally, ...] = ()
    undone: tuple[Tally, ...] = ()

    def do(self, act: Act) -> Course:
        """Return the course after an act; what had been undone is gone then.

        Raises
        ------
        BadInput
            As `after`; nothing changes.
        """
        return Course(after(self.now, act), (*self.past, self.now))

    def undo(self) -> Course:
        """Return the course one act back.

        Raises
        ------
        BadInput
            When nothing was done yet.
        """
        if not self.past:
            raise BadInput("There is nothing to undo.", code="nothing-to-undo")
        return Course(self.past[-1], self.past[:-1], (*self.undone, self.now))

    def redo(self) -> Course:
        """Return the course with the last undone act done again.

        Raises
        ------
        BadInput
            When nothing was undone.
        """
        if not self.undone:
            raise BadInput("There is nothing to do again.", code="nothing-to-redo")
        return Course(self.undone[-1], (*self.past, self.now), self.undone[:-1])
