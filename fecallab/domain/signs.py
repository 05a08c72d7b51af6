"""Signs that must not wait for a microscope: a yes goes to the vet now, and never blocks recording."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

SIGN_ANSWERS = ("yes", "no", "vet knows")
"""Seen; looked for and not seen (any more); seen and in the vet's hands."""


@dataclass(frozen=True, kw_only=True)
class SignAnswer:
    """One answer to one question about a danger sign; the last answer for an animal holds.

    Attributes
    ----------
    sign : str
        Key of the table of signs.
    answer : str
        One of `SIGN_ANSWERS`.
    sample : str
        Code of the sample with which it was asked; empty when it was noted by itself.
    """

    code: str = ""
    animal: str
    sign: str
    answer: str = "yes"
    seen_at: datetime
    sample: str = ""
    by: str = ""
    remark: str = ""
