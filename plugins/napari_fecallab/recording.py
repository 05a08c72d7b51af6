"""From the draft to the records: what is new, what is a correction, and both in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from fecallab.domain.clip_words import clip_remark
from fecallab.domain.errors import Reason, Refused
from fecallab.domain.exam import Exam, Reading
from fecallab.domain.exam import Mark as RecordedMark
from napari_fecallab.core import DONE_STATES
from napari_fecallab.names import label_of
from napari_fecallab.state import Field, Mark, uid_order

if TYPE_CHECKING:
    from fecallab.records.writer import Writer
    from napari_fecallab.core import SessionCore

FIRST_LOOK = "marked in the marking window"
"""The reason of what only fills in what was open: first marks, a first scale."""
SHOWN_OR_OFF = "off"


@dataclass(frozen=True)
class ToRecord:
    """What finishing would record.

    Attributes
    ----------
    new : dict of str to list of Reading
        By preparation, in order; `new_uids` are their fields.
    filled : dict of str to Reading
        Recorded readings to which only something open is added (first marks, first scale), by code.
    corrected : dict of str to Reading
        Recorded readings that change what they said; these need a reason.
    gone : list of str
        Codes of readings that are withdrawn.
    behind : list of str
        New fields that stay behind because nothing was said of them.
    wordless : list of str
        Recorded fields that lost all they said and got no word instead.
    """

    new: dict[str, list[Reading]] = field(default_factory=dict)
    new_uids: list[str] = field(default_factory=list)
    filled: dict[str, Reading] = field(default_factory=dict)
    corrected: dict[str, Reading] = field(default_factory=dict)
    gone: list[str] = field(default_factory=list)
    behind: list[str] = field(default_factory=list)
    wordless: list[str] = field(default_factory=list)

    @property
    def nothing(self) -> bool:
        """Whether there is nothing to record."""
        return not (self.new_uids or self.filled or self.corrected or self.gone)

    @property
    def needs_reason(self) -> bool:
        """Whether something that was recorded changes."""
        return bool(self.corrected or self.gone)


def to_record(session: SessionCore) -> ToRecord:
    """Compare the draft with what is recorded."""
    found = ToRecord()
    standing = readings_of(session.facts.exam)
    base = session._history.base_fields
    for uid in session._order():
        done = session._state(uid) in DONE_STATES
        if uid not in base:
            if not done:
                found.behind.append(uid)
                continue
            place = session._place(uid)
            found.new.setdefault(place.preparation, []).append(_reading(session, uid, Reading()))
            found.new_uids.append(uid)
            continue
        changed = session._history.is_changed(uid)
        looked = done and base[uid].picture != "" and not base[uid].read_here and _was_empty(session, uid)
        if not changed and not (looked and session._place(uid).nothing):
            continue
        if not done and not _was_empty(session, uid):
            found.wordless.append(uid)
            continue
        reading = _reading(session, uid, standing[uid])
        if reading == standing[uid]:
            continue
        (found.filled if _only_fills(session, uid) else found.corrected)[uid] = reading
    found.gone.extend(sorted(base.keys() - session._draft.fields.keys(), key=uid_order))
    return found


def readings_of(exam: Exam) -> dict[str, Reading]:
    """Return the readings of an exam by their codes."""
    return {reading.code: reading for made in exam.preparations for reading in made.readings}


def record(writer: Writer, session: SessionCore, wanted: ToRecord, reason: str) -> Exam:
    """Record everything with an open writer, and return the exam as it stands then.

    Raises
    ------
    Refused
        When somebody corrected the same readings meanwhile.
    """
    standing = readings_of(writer.exam(session.exam_code))
    known = readings_of(session.facts.exam)
    touched = [*wanted.filled, *wanted.corrected, *wanted.gone]
    clash = [code for code in touched if standing.get(code) != known[code]]
    if clash:
        raise Refused(
            [
                Reason(
                    "changed-meanwhile",
                    f"{', '.join(clash)} changed in the records while this window was open; nothing was recorded.",
                    "Close this window and open the exam again: your marks are kept and laid over it.",
                )
            ]
        )
    for preparation, readings in wanted.new.items():
        writer.add_readings(preparation, readings)
    for code, reading in wanted.filled.items():
        if reading == replace(known[code], marks=reading.marks) and not known[code].marks:
            writer.add_marks(code, reading.marks)
        else:
            writer.correct(code, reading, FIRST_LOOK)
    for code, reading in wanted.corrected.items():
        writer.correct(code, reading, reason)
    for code in wanted.gone:
        for mark in known[code].marks:
            writer.withdraw(mark.code, reason)
        writer.withdraw(code, reason)
    return writer.exam(session.exam_code)


def _was_empty(session: SessionCore, uid: str) -> bool:
    """Say whether a recorded field said nothing when it was opened, and nobody had looked at it here."""
    place = session._history.base_fields[uid]
    said = place.counts or place.unsure or session._history.base_marks[uid]
    return not said and not place.nothing


def _only_fills(session: SessionCore, uid: str) -> bool:
    """Say whether a change only adds what was open: first marks on an unread picture, a first scale."""
    before, after = session._history.base_fields[uid], session._place(uid)
    marks_before, marks_after = session._history.base_marks[uid], session._content(uid).marks
    marks_kept = marks_before == marks_after or _was_empty(session, uid)
    if not marks_kept and before.um_per_px is None:  # sizes that a first scale gives are no corrections
        marks_kept = marks_before.keys() == marks_after.keys() and all(
            _unsized(marks_before[one]) == _unsized(marks_after[one]) and marks_before[one].length_um is None
            for one in marks_before
        )
    filled = replace(
        after,
        um_per_px=before.um_per_px if before.um_per_px is None else after.um_per_px,
        scale_half_width=before.scale_half_width,
        scale_from=before.scale_from,
        objective=before.objective if before.objective is None else after.objective,
        field_number=before.field_number if before.field_number is None else after.field_number,
        nothing=before.nothing if _was_empty(session, uid) else after.nothing,
    )
    return marks_kept and filled == before


def _unsized(mark: Mark) -> Mark:
    return replace(
        mark,
        length_um=None,
        length_half_um=None,
        width_um=None,
        width_half_um=None,
        angle_deg=None,
        shape="",
        points_px=(),
    )


def _reading(session: SessionCore, uid: str, standing: Reading) -> Reading:
    """Return a field as it is recorded, on top of what stands (so that nothing else of it is lost)."""
    place, content = session._place(uid), session._content(uid)
    known = {mark.code: mark for mark in standing.marks}
    marks = tuple(_mark(content.marks[one], known.get(one)) for one in sorted(content.marks, key=uid_order))
    return replace(
        standing,
        kind=place.kind,
        objective=place.objective,
        field_number=place.field_number,
        cover_share=place.cover_share,
        um_per_px=place.um_per_px,
        picture=place.picture,
        counts={} if marks and uid not in session._history.base_fields else dict(place.counts),
        unsure={} if marks and uid not in session._history.base_fields else dict(place.unsure),
        marks=marks,
        proposals=_proposals(session, uid, standing),
        mean_swimming=place.swimming[0] if place.swimming else None,
        mean_swimming_low=place.swimming[1] if place.swimming else None,
        mean_swimming_high=place.swimming[2] if place.swimming else None,
        clip_seconds=place.clip_seconds,
        remark=_remark(place),
    )


def _proposals(session: SessionCore, uid: str, standing: Reading) -> str:
    """Return what is kept of proposals: only pictures have any, and a word once recorded stays the stricter one."""
    place = session._place(uid)
    shown = session._content(uid).seen.proposals
    if not place.picture and not place.clip:
        return standing.proposals
    if standing.proposals not in ("", SHOWN_OR_OFF):
        return standing.proposals
    return shown or SHOWN_OR_OFF


def _remark(place: Field) -> str:
    if not place.clip:
        return place.remark
    return clip_remark(place.clip_name, place.clip, place.clip_fps, place.remark)


def _mark(mark: Mark, standing: RecordedMark | None) -> RecordedMark:
    base = standing if standing is not None else RecordedMark(x_px=0, y_px=0, name=mark.name)
    return replace(
        base,
        x_px=mark.x_px,
        y_px=mark.y_px,
        name=mark.name,
        sure=mark.sure,
        length_um=mark.length_um,
        width_um=mark.width_um,
        angle_deg=mark.angle_deg,
        named_by=mark.named_by,
    )


def counted_words(sure: Mapping[str, int], unsure: Mapping[str, int]) -> str:
    """Say counts in words.

    Examples
    --------
    >>> counted_words({"oxyurid": 3}, {"oxyurid": 1}), counted_words({}, {})
    ('3 oxyurid, 1 oxyurid unsure', 'nothing')
    """
    said = [f"{n} {label_of(name)}" for name, n in sure.items()]
    said += [f"{n} {label_of(name)} unsure" for name, n in unsure.items()]
    return ", ".join(said) or "nothing"
