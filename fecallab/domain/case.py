"""One animal (or group) and one target, from the first sure positive on, and how it ends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

ENDINGS = (
    "goal reached",
    "on a vet's order",
    "animal died",
    "animal left",
    "withdrawn: reading corrected",
)


@dataclass(frozen=True, kw_only=True)
class Case:
    """What a case is about.

    ``target`` is a group that the eye can tell; ``species`` is a note. ``stages`` must be negative in an exam
    for it to count.
    """

    code: str = ""
    animal: str
    target: str
    stages: tuple[str, ...]
    species: str = ""
    opened_on: date
    opened_by_exam: str = ""
    remark: str = ""

    @property
    def exams_since(self) -> date:
        """The day from which exams speak for the case: all of them where a vet opened it without one."""
        return self.opened_on if self.opened_by_exam else date.min


@dataclass(frozen=True, kw_only=True)
class Closing:
    """A person's act that ends a case, with what it relied on."""

    code: str = ""
    case: str
    closed_on: date
    by: str
    ending: str
    vet: str = ""
    reason: str = ""
    standing_then: str = ""
    edition: str = ""
