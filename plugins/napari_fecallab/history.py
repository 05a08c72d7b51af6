"""Steps forth and back over the whole draft, each written down before it is shown as saved."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from napari_fecallab.state import Change, Draft, Field, Mark, Step

STEP, UNDO, REDO, NOTE, BASE, RECORDING = "step", "undo", "redo", "note", "base", "recording"
Write = Callable[[str, Any], None]
"""Takes the kind of a line and what it is about."""


def _nowhere(kind: str, about: Any) -> None:
    """Write nothing down."""


class History:
    """A draft, what it began from, and the steps between.

    Parameters
    ----------
    base : sequence of Change
        What makes the exam as it is recorded out of nothing.
    left : sequence of Change
        What was there besides when these steps began.
    write : callable, optional
        Writes lines down; nothing when omitted.
    """

    def __init__(self, base: Sequence[Change], left: Sequence[Change] = (), write: Write = _nowhere) -> None:
        self.base = tuple(base)
        self.base_fields: dict[str, Field] = {}
        self.base_marks: dict[str, dict[str, Mark]] = {}
        for change in self.base:
            if isinstance(change.after, Field):
                self.base_fields[change.uid] = change.after
                self.base_marks.setdefault(change.uid, {})
            elif isinstance(change.after, Mark):
                self.base_marks[change.field][change.uid] = change.after
        self.draft = Draft()
        self.draft.apply(self.base)
        self.draft.apply(left)
        self.done: list[Step] = []
        self.undone: list[Step] = []
        self.write = write
        self.left = tuple(left)

    def do(self, step: Step) -> None:
        """Make a step; what had been taken back is gone then."""
        self.draft.apply(step.changes)
        self.done.append(step)
        self.undone.clear()
        self.write(STEP, step)

    def note(self, changes: Iterable[Change]) -> None:
        """Make changes that are no step: they happened and cannot be taken back."""
        noted = tuple(changes)
        self.draft.apply(noted)
        self.write(NOTE, noted)

    def undo(self) -> Step | None:
        """Take the last step back and return it; None when there is none."""
        if not self.done:
            return None
        step = self.done.pop()
        self.draft.apply(step.back.changes)
        self.undone.append(step)
        self.write(UNDO, None)
        return step

    def redo(self) -> Step | None:
        """Do the step again that was taken back last and return it; None when there is none."""
        if not self.undone:
            return None
        step = self.undone.pop()
        self.draft.apply(step.changes)
        self.done.append(step)
        self.write(REDO, None)
        return step

    def is_changed(self, field: str) -> bool:
        """Say whether a field is new, or differs from what is recorded."""
        place = self.draft.fields[field]
        if self.base_fields.get(field) != place:
            return True
        return self.base_marks[field] != self.draft.content[field].marks

    @property
    def changed(self) -> bool:
        """Whether anything differs from what is recorded."""
        gone = self.base_fields.keys() - self.draft.fields.keys()
        return bool(gone) or any(map(self.is_changed, self.draft.fields))

    @property
    def worth_keeping(self) -> bool:
        """Whether there is anything that the records do not hold."""
        return self.changed or bool(self.done or self.undone)
