"""What can go wrong, said so that the person knows what to type next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Reason:
    """One reason in plain words.

    Attributes
    ----------
    code : str
        A word code such as ``weight-stale``; stable, for scripts.
    text : str
        What was found and which rule it meets, in plain words, with dates, numbers and units.
    next : str
        The way forward: what to do or type next. Empty when nothing is to be done.
    """

    code: str
    text: str
    next: str = ""

    def __str__(self) -> str:
        return f"{self.text} {self.next}".strip()

    def as_dict(self) -> dict[str, str]:
        """Return the reason as plain keys for ``--json``."""
        return {"code": self.code, "text": self.text, "next": self.next}


class FecallabError(Exception):
    """A problem that is said in one line: what was given, the rule, what to type next."""

    exit_code = 3

    def __init__(self, text: str, *, next: str = "", code: str = "error") -> None:
        super().__init__(f"{text} {next}".strip())
        self.reason = Reason(code, text, next)


class BadInput(FecallabError):
    """What was given cannot be meant; nothing was changed (exit code 2)."""

    exit_code = 2

    def __init__(self, text: str, *, next: str = "", code: str = "bad-input") -> None:
        super().__init__(text, next=next, code=code)


class CouldNot(FecallabError):
    """Disk, lock or permission stood in the way; nothing was changed (exit code 3)."""

    exit_code = 3

    def __init__(self, text: str, *, next: str = "", code: str = "could-not") -> None:
        super().__init__(text, next=next, code=code)


class Refused(FecallabError):
    """An act or a dose that the rules refuse, with every reason (exit code 1)."""

    exit_code = 1

    def __init__(self, reasons: Sequence[Reason]) -> None:
        if not reasons:
            raise ValueError("a refusal needs at least one reason")
        super().__init__(reasons[0].text, next=reasons[0].next, code=reasons[0].code)
        self.reasons = tuple(reasons)
