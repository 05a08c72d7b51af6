"""What a follow-up looks like when the plan is silent: one row of the default table."""

from __future__ import annotations

from dataclasses import dataclass

GOALS = ("clear", "low burden", "not clearable by stool exam", "watch, no treatment")
"""What a follow-up can aim at."""


@dataclass(frozen=True)
class FollowupDefault:
    """Wait, spacing and number of negatives for one target and host; a plan goes before it.

    Attributes
    ----------
    target : str
        A group that the eye can tell.
    stages : tuple of str
        Stages that an exam must be negative for.
    host : str
        The host word of the row that matched: ``any``, a host group, ``plant eater``, ``plant eater adult``.
    wait_after_last_dose_days, spacing_days, negatives_needed : int or None
        None where stool exams cannot clear the target.
    goal : str
        One of `GOALS`.
    source, source_kind : str
        Source ids joined by ``;`` and what kind of figure it is.
    note : str
        Why these numbers, in plain words; says so where no figure is published.
    """

    target: str
    stages: tuple[str, ...]
    host: str
    wait_after_last_dose_days: int | None
    spacing_days: int | None
    negatives_needed: int | None
    goal: str
    source: str
    source_kind: str
    note: str = ""
