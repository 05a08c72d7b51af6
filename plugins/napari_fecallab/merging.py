"""A draft and records that changed since it began: what nobody else touched is taken over, the rest is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from napari_fecallab.history import History
from napari_fecallab.state import Change, Thing

T = TypeVar("T", bound=Thing)


def same_base(kept: History, now: Sequence[Change]) -> bool:
    """Say whether the records are as they were when the draft began."""
    fresh = History(now)
    return kept.base_fields == fresh.base_fields and kept.base_marks == fresh.base_marks


def not_recorded_yet(kept: History, done: Mapping[str, bool]) -> list[Change]:
    """Return what makes the new fields again that nothing had been said of when the draft was recorded."""
    left: list[Change] = []
    for uid in kept.draft.fields:
        if uid not in kept.base_fields and not done[uid]:
            left += _whole_field(kept, uid)
    return left


def merged(kept: History, now: Sequence[Change]) -> tuple[History, list[str]]:
    """Put a draft on top of the records as they are now.

    Returns
    -------
    History
        Without steps to take back: they belong to what is no more.
    list of str
        What the person should look at: both changed the same thing, and the draft's own stands for now.
    """
    fresh = History(now)
    left: list[Change] = []
    told: list[str] = []
    fields, old, new = kept.draft.fields, kept.base_fields, fresh.base_fields
    for uid in fields.keys() | new.keys():
        if uid not in old and uid in fields:
            left += _whole_field(kept, uid)
            continue
        if uid not in old:
            continue  # new in the records
        if uid not in new:
            if uid in fields and kept.is_changed(uid):
                told.append(f"{uid} was withdrawn from the records; what was marked in it is left out.")
            continue
        place, clash = _chosen(fields.get(uid), old[uid], new[uid])
        if clash:
            told.append(f"{uid} was corrected in the records too; look at it before you finish.")
        if place is None:
            left += _all_marks_gone(fresh, uid)
        if place != new[uid]:
            left.append(Change("field", uid, uid, new[uid], place))
        if place is None:
            continue
        left += _marks(kept, fresh, uid, told)
        left += _notes(kept, uid)
    return History(now, left), told


def _marks(kept: History, fresh: History, uid: str, told: list[str]) -> list[Change]:
    changes: list[Change] = []
    ours = kept.draft.content[uid].marks if uid in kept.draft.fields else {}
    old, new = kept.base_marks[uid], fresh.base_marks[uid]
    for mark in [*new, *(m for m in ours if m not in new)]:
        chosen, clash = _chosen(ours.get(mark), old.get(mark), new.get(mark))
        if clash:
            told.append(f"The mark {mark} was corrected in the records too; look at it before you finish.")
        if chosen != new.get(mark) and not (chosen is not None and mark in old and mark not in new):
            changes.append(Change("mark", uid, mark, new.get(mark), chosen))
    return changes


def _chosen(ours: T | None, old: T | None, new: T | None) -> tuple[T | None, bool]:
    """Return which of two versions stands, and whether both differ from the old one and from each other."""
    if ours in (old, new):
        return new, False
    return ours, new != old


def _all_marks_gone(fresh: History, uid: str) -> list[Change]:
    return [Change("mark", uid, mark, held, None) for mark, held in fresh.base_marks[uid].items()]


def _whole_field(kept: History, uid: str) -> list[Change]:
    marks = kept.draft.content[uid].marks
    return [
        Change("field", uid, uid, None, kept.draft.fields[uid]),
        *(Change("mark", uid, mark, None, held) for mark, held in marks.items()),
        *_notes(kept, uid),
    ]


def _notes(kept: History, uid: str) -> list[Change]:
    content = kept.draft.content.get(uid)
    if content is None:
        return []
    noted = [Change("proposal", uid, one, None, held) for one, held in content.proposals.items()]
    return [Change("seen", uid, uid, None, content.seen), *noted]
