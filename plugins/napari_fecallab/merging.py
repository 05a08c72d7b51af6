"""A draft and records that changed since it began: what nobody else touched is taken over, the rest is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

from napari_fecallab.history import History
from napari_fecallab.state import Change, Thing

T = TypeVar("T", bound=Thing)


def same_base(kept: History, now: Sequence[Change]) -> bool:
    """Say whether the records are as they were when the draft began."""
    fresh = History(now)
    return kept.base_fields == fresh.base_fields and kept.base_marks == fresh.base_marks


def rehoused(history: History, preparations: Sequence[str]) -> tuple[History, list[str]]:
    """Put fields of a preparation that is no more into the last one that there is, and tell it."""
    lost = {
        uid: place for uid, place in history.draft.fields.items() if place.preparation not in preparations
    }
    if not lost:
        return history, []
    moved = [
        Change("field", uid, uid, place, replace(place, preparation=preparations[-1]))
        for uid, place in lost.items()
    ]
    gone = ", ".join(sorted({place.preparation for place in lost.values()}))
    are = "1 field of it is" if len(lost) == 1 else f"{len(lost)} fields of it are"
    return History(history.base, [*_from_base(history), *moved]), [
        f"{gone} was withdrawn from the records; {are} in {preparations[-1]} now: look whether that is right."
    ]


def _from_base(history: History) -> list[Change]:
    """Return what makes a draft out of what is recorded, in one go."""
    draft, base = history.draft, History(history.base)
    changes: list[Change] = []
    for uid in [*base.draft.fields, *(one for one in draft.fields if one not in base.draft.fields)]:
        was, now = base.draft.fields.get(uid), draft.fields.get(uid)
        old = base.base_marks.get(uid, {})
        new = draft.content[uid].marks if now is not None else {}
        if now is not None and now != was:
            changes.append(Change("field", uid, uid, was, now))
        marks = [*old, *(one for one in new if one not in old)]
        changes += [
            Change("mark", uid, one, old.get(one), new.get(one))
            for one in marks
            if old.get(one) != new.get(one)
        ]
        if now is None:
            changes.append(Change("field", uid, uid, was, None))
        else:
            changes += _notes(history, uid)
    return changes


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
    ours, old, new = kept.draft.fields, kept.base_fields, fresh.base_fields
    for uid in [*new, *(one for one in ours if one not in new)]:
        if uid not in old and uid in ours:
            left += _whole_field(kept, uid)
            continue
        if uid not in old:
            continue  # new in the records
        if uid not in new:
            if uid in ours and kept.is_changed(uid):
                told.append(f"{uid} was withdrawn from the records; what was marked in it is left out.")
            continue
        place, clash = _chosen(ours.get(uid), old[uid], new[uid])
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
    """Return what stands of two versions, each value for itself, and whether both changed the same to another."""
    if ours in (old, new):
        return new, False
    if ours is None or old is None or new is None:
        return ours, new != old
    values: dict[str, Any] = {}
    clash = False
    for each in fields(ours):
        mine, was, now = (getattr(thing, each.name) for thing in (ours, old, new))
        values[each.name] = now if mine == was else mine
        clash = clash or now not in (was, values[each.name])
    return replace(ours, **values), clash


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
