"""Whether an exam counts towards the goal of its case, and why not, in short words for a table."""

from __future__ import annotations

from fecallab.domain.casework import JudgedExam
from fecallab.domain.followup_model import (
    COURSE_INCOMPLETE,
    MANAGED,
    NOT_TREATED,
    ON_TREATMENT,
    POSITIVE_AGAIN,
    VETS_WORD,
    WATCHING,
    Standing,
)

_BY_STANDING = {
    NOT_TREATED: "not treated yet",
    ON_TREATMENT: "the course is running",
    COURSE_INCOMPLETE: "the course is not whole",
    POSITIVE_AGAIN: "positive again",
    MANAGED: "no exams clear it",
    WATCHING: "watched, not treated",
    VETS_WORD: "waits for the vet",
}


def counts_towards(judged: JudgedExam, standing: Standing) -> tuple[bool, str]:
    """Return whether an exam is one of those that count, and the reason: ``(True, "1 of 3")``.

    Parameters
    ----------
    judged : JudgedExam
    standing : Standing
        Of its case, with the exams that counted.
    """
    codes = [exam.code for exam in standing.counted]
    if judged.exam.code in codes:
        place = codes.index(judged.exam.code) + 1
        needed = standing.n or 0
        return True, f"{place} of {needed}" if place <= needed else f"{place}, {needed} are needed"
    if not judged.of_case:
        return False, "before this case"
    left_out = dict(standing.left_out)
    if judged.exam.code in left_out:
        return False, left_out[judged.exam.code]
    if judged.result == "unsure":
        return False, "an unsure mark"
    if judged.result != "negative":
        return False, judged.result
    return False, _BY_STANDING.get(standing.standing, "from elsewhere than where it was found")
