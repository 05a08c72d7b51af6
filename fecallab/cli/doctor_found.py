"""One thing that ``fecallab doctor`` looked at: what is there, and what to do where it is not as it should be."""

from __future__ import annotations

from dataclasses import dataclass

from fecallab.domain.errors import Reason

OK, NOTE, PROBLEM = "fine", "to know", "problem"


@dataclass(frozen=True)
class Check:
    """One thing that was looked at.

    Attributes
    ----------
    name : str
    found : str
        What is there; without names of people, computers or folders.
    state : str
        ``fine``, ``to know`` or ``problem``.
    reason : Reason or None
        What is the matter and what to do; None where all is fine.
    """

    name: str
    found: str
    state: str = OK
    reason: Reason | None = None


def problem(name: str, found: str, reason: Reason) -> Check:
    """Return what must be mended."""
    return Check(name, found, PROBLEM, reason)


def note(name: str, found: str, reason: Reason) -> Check:
    """Return what is good to know and stops nothing."""
    return Check(name, found, NOTE, reason)
