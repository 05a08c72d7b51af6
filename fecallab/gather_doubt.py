"""Which exams a standing or a release rests on although a failed control run puts them in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from fecallab.domain.control_note import counted_in_doubt, doubt

if TYPE_CHECKING:
    from fecallab.domain.casework import JudgedExam
    from fecallab.domain.control import ControlRun
    from fecallab.domain.due import Due
    from fecallab.domain.followup import Standing
    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.domain.quarantine_run import MemberRun
    from fecallab.gather_arrivals import GroupAnswer
    from fecallab.records.reader import Reader

CLOSE, RELEASE = "close the case", "release anybody"
"""What shall not be done on exams that are not proven, before the vet's word."""


def case_in_doubt(
    controls: Sequence[ControlRun], judged: Sequence[JudgedExam], standing: Standing
) -> list[str]:
    """Return the exams that count for a case and are not proven."""
    counted = {exam.code for exam in standing.counted}
    return counted_in_doubt(controls, [one.exam for one in judged if one.exam.code in counted])


def after_doubt(
    thing: Due, controls: Sequence[ControlRun], judged: Sequence[JudgedExam], standing: Standing
) -> Due:
    """Return what comes next for a case: before it may be closed, a word about the exams in doubt."""
    codes = case_in_doubt(controls, judged, standing) if thing.may_close else []
    if not codes:
        return thing
    said = doubt(codes, CLOSE)
    return replace(
        thing,
        what=f"{thing.what}, but not proven: {', '.join(codes)}",
        why=f"{thing.why} {said.text}",
        next=f"fecallab case show {thing.case}",
        counted_not_proven=tuple(codes),
    )


def arrivals_in_doubt(
    store: Reader, situation: Situation, members: Iterable[MemberRun], today: date
) -> list[str]:
    """Return the exams that count for animals in quarantine and are not proven.

    Where no control run ever failed, no exam is read.
    """
    return _doubted(store, failed_controls(store, today), situation, members)


def with_doubt(
    store: Reader, situation: Situation, groups: Sequence[GroupAnswer], today: date, act: str = ""
) -> list[GroupAnswer]:
    """Return the answers for contact groups, with a remark first where one rests on exams that are not proven.

    Parameters
    ----------
    today : date
        Control runs up to this day are known.
    act : str, optional
        What shall not be done before the vet's word, for `control_note.doubt`.
    """
    controls = failed_controls(store, today)
    said = []
    for one in groups:
        codes = _doubted(store, controls, situation, one.answer.members)
        remarks = (*([doubt(codes, act)] if codes else []), *one.answer.remarks)
        said.append(replace(one, answer=replace(one.answer, remarks=remarks)))
    return said


def failed_controls(store: Reader, today: date) -> list[ControlRun]:
    """Return the control runs up to a day; none where all of them passed."""
    controls = [run for run in store.controls() if run.done_at.date() <= today]
    return [] if all(run.passed for run in controls) else controls


def _doubted(
    store: Reader, controls: Sequence[ControlRun], situation: Situation, members: Iterable[MemberRun]
) -> list[str]:
    if not controls:
        return []
    codes: list[str] = []
    for member in members:
        counted = {stool for _, stool in member.counted}
        for stool in situation.stools_of(member.animal):
            codes += stool.exams if stool.defecation in counted else ()
    return counted_in_doubt(controls, [store.exam(code) for code in dict.fromkeys(codes)])
