"""What all parts of the session stand on: the exam, the draft, its journal, and who listens."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.spoken import say_time
from fecallab.records.journal import Journal, JournalWords, go_on_with_journal
from napari_fecallab import merging
from napari_fecallab.draft_file import Kept, head_line, path_of, read_journal
from napari_fecallab.facts import ExamFacts, facts_of, was_recorded
from napari_fecallab.history import BASE, History
from napari_fecallab.opening import changes_of
from napari_fecallab.saving import Saver
from napari_fecallab.settings import MarkingSettings, read_settings
from napari_fecallab.state import Change, Draft, Field, FieldContent, Mark, Step, uid_order
from napari_fecallab.views import (
    COUNTED,
    COUNTED_IN_CLIP,
    LOOKED_AT,
    MARKED,
    NOT_LOOKED_AT,
    NOTHING_HERE,
    RECORDED_EMPTY,
    SaveState,
    SessionEvent,
)

DONE_STATES = (MARKED, NOTHING_HERE, COUNTED, COUNTED_IN_CLIP)


class SessionCore:
    """Opens an exam with what was left of an earlier window, and keeps every change."""

    def __init__(
        self,
        records_folder: Path | str,
        exam_code: str,
        by: str,
        clock: Callable[[], datetime] | None = None,
        *,
        read_only: bool = False,
    ) -> None:
        from fecallab.records.store import open_records

        self.folder = Path(records_folder)
        self.by = by.strip()
        self.read_only = read_only
        if not self.by:
            raise BadInput("Nobody is named who marks.", next="Type: --by NAME", code="nobody")
        self._clock = clock or datetime.now
        self._listeners: list[Callable[[SessionEvent], None]] = []
        self._notices: list[str] = []
        self._saver: Saver | None = None
        self._stale = False
        """Whether the exam was recorded and could not be read again: what is shown has no ids of the records yet."""
        self._order_cache: tuple[Draft | None, int, list[str]] = (None, -1, [])
        with open_records(self.folder) as store:
            self.facts: ExamFacts = facts_of(store, exam_code.strip().upper())
        self.settings: MarkingSettings = read_settings(self.folder, self.by)
        self._path = path_of(self.folder, self.facts.exam.code)
        if read_only:
            self._history = self._settled(self._looked_into())
            self._history.write = _refuse_to_change
        else:
            self._open_journal()
        order = self._order()
        last = getattr(self, "_last_field", "")
        self._current = last if last in order else next(iter(order), "")

    # --- opening and closing

    def _looked_into(self) -> Kept:
        try:
            content = self._path.read_bytes()
        except FileNotFoundError:
            content = b""
        return read_journal(self._path, content)

    def _open_journal(self) -> None:
        journal = go_on_with_journal(self._path, self._lock_words(), make=True)
        try:
            kept = self._looked_into()
            journal.cut(kept.good_bytes)
            self._history = self._settled(kept)
            if not kept.head:
                journal.append(head_line(self.exam_code, self.by, self._clock().isoformat()))
            self._take_up(journal, going_on=self._history is kept.history)
        except BaseException:
            journal.close()
            raise

    def _take_up(self, journal: Journal, *, going_on: bool) -> None:
        last = datetime.fromtimestamp(self._path.stat().st_mtime) if going_on else None
        self._saver = Saver(journal, self._clock, lambda: self._tell("saved"), last)
        self._base_written = going_on
        self._history.write = self._write
        if not going_on and self._history.left:
            self._write_base()

    def _settled(self, kept: Kept) -> History:
        """Return the history to go on with, and note what the person should know."""
        history, told = merging.rehoused(self._merged(kept), tuple(self.facts.preparations))
        self._notices += told
        return history

    def _merged(self, kept: Kept) -> History:
        """Lay what was kept over the records as they are."""
        now = changes_of(self.facts.exam, dict(self.facts.pictures))
        if kept.history is None:
            return History(now)
        self._last_field = kept.field
        began = f"{kept.head.get('by', '')}, {_begun(kept.head)}"
        if kept.recording is not None and self._is_recorded(kept.recording):
            self._notices.append(
                "The window closed just after this exam was recorded; nothing is recorded twice."
            )
            states = {uid: _state_in(kept.history, uid) in DONE_STATES for uid in kept.history.draft.fields}
            return History(now, merging.not_recorded_yet(kept.history, states))
        steps = len(kept.history.done)
        if steps:
            self._notices.append(f"{steps} unfinished step{'s' * (steps != 1)} came back ({began}).")
        if merging.same_base(kept.history, now):
            return kept.history
        history, told = merging.merged(kept.history, now)
        self._notices.append(
            "The exam was changed in the records meanwhile; earlier steps cannot be taken back now."
        )
        self._notices += told
        return history

    def _is_recorded(self, line: Any) -> bool:
        at = datetime.fromisoformat(str(line["at"]))
        return was_recorded(self.folder, self.facts.exam.code, at, str(line["by"]))

    def _lock_words(self) -> JournalWords:
        """Return what is said when another window has the exam."""
        who = ""
        with suppress(OSError, ValueError, IndexError, KeyError, TypeError):
            head = json.loads(self._path.read_bytes().split(b"\n")[0])
            who = f" ({head['by']}, since {_begun(head)})"
        return JournalWords(
            not_kept="This could not be kept ({why}).",
            not_kept_next="Free some space on the disk; it is tried again every second.",
            open_elsewhere=f"{self.facts.exam.code} is open in another marking window{who}.",
            open_elsewhere_next="Go on there, or close that window first; to look only: --read",
            open_elsewhere_code="exam-open",
        )

    def _write(self, kind: str, about: Any) -> None:
        assert self._saver is not None
        if not self._base_written:
            self._write_base()
        self._saver.put(kind, about)

    def _write_base(self) -> None:
        assert self._saver is not None
        self._base_written = True
        self._saver.put(BASE, (self._history.base, self._history.left))

    def close(self) -> None:
        """Have everything on the disk and let another window open the exam. The draft is kept."""
        if self._saver is None:
            return
        state = self._saver.end()
        if not state.trouble and not self._worth_keeping():
            self._saver.journal.remove()
        else:
            self._saver.journal.close()
        self._saver = None
        self._history.write = _refuse_to_change
        self.read_only = True

    def _worth_keeping(self) -> bool:
        seen = any(content.seen.proposals for content in self._draft.content.values())
        return self._history.worth_keeping or seen

    # --- what the parts need

    @property
    def exam_code(self) -> str:
        """Code of the exam."""
        return self.facts.exam.code

    @property
    def saved(self) -> SaveState:
        """What is on the disk; ask often, or listen for ``saved``."""
        return self._saver.state if self._saver is not None else SaveState()

    @property
    def current(self) -> str:
        """Uid of the current field; empty when the exam has none yet."""
        return self._current if self._current in self._draft.fields else ""

    def subscribe(self, listener: Callable[[SessionEvent], None]) -> None:
        """Have a function called after every change, on the thread that made it (``saved``: any thread)."""
        self._listeners.append(listener)

    @property
    def _draft(self) -> Draft:
        return self._history.draft

    def _order(self) -> list[str]:
        """Return the fields in order: by preparation, recorded ones first, then as they came."""
        draft, version, order = self._order_cache
        if draft is not self._draft or version != self._draft.fields_version:
            places = {code: k for k, code in enumerate(self.facts.preparations)}
            fields = self._draft.fields
            order = sorted(fields, key=lambda uid: (places[fields[uid].preparation], uid_order(uid)))
            self._order_cache = (self._draft, self._draft.fields_version, order)
        return order

    def _uid(self, uid: str | None) -> str:
        wanted = self._current if uid is None else uid
        if wanted not in self._draft.fields:
            if not self._draft.fields:
                raise BadInput(
                    f"The exam {self.exam_code} has no field yet.",
                    next="Add a picture first.",
                    code="no-field",
                )
            raise BadInput(f"There is no field {wanted!r} in this exam.", code="unknown-field")
        return wanted

    def _place(self, uid: str) -> Field:
        return self._draft.fields[uid]

    def _content(self, uid: str) -> FieldContent:
        return self._draft.content[uid]

    def _number(self, uid: str) -> str:
        return f"field {self._order().index(uid) + 1}"

    def _field_of(self, uid: str) -> str:
        field = self._draft.field_of.get(uid, "")
        if field not in self._draft.fields:
            raise BadInput(f"There is no mark {uid!r} (any more).", code="unknown-mark")
        return field

    def _mark(self, uid: str) -> Mark:
        mark = self._content(self._field_of(uid)).marks.get(uid)
        if mark is None:
            raise BadInput(f"{uid!r} is no mark.", code="unknown-mark")
        return mark

    def _state(self, uid: str) -> str:
        return _state_in(self._history, uid)

    def _do(self, words: str, changes: Sequence[Change], *, kind: str = "marks") -> None:
        """Make a step; marks in a field that was said to be empty take that word back in the same step."""
        self._refuse_if_read_only()
        wanted = [change for change in changes if change.before != change.after]
        if not wanted:
            return
        marked = {c.field for c in wanted if c.kind == "mark" and c.after is not None}
        for field in marked:
            place = self._draft.fields.get(field)
            if place is not None and place.nothing:
                wanted.append(Change("field", field, field, place, replace(place, nothing=False)))
        self._history.do(Step(words, tuple(wanted)))
        self._tell_of(wanted, kind)

    def _note(self, changes: Sequence[Change]) -> None:
        if not self.read_only:
            self._history.note(changes)

    def _read_to_its_end(self, field: str) -> None:
        """Keep that a person went through a field once: from then on proposals blind nobody."""
        seen = self._content(field).seen
        if self._content(field).marks and not seen.read:
            self._note([Change("seen", field, field, seen, replace(seen, read=True))])

    def _tell_of(self, changes: Iterable[Change], kind: str = "marks") -> None:
        fields = {change.field: [] for change in changes}  # type: dict[str, list[str]]
        for change in changes:
            fields[change.field].append(change.uid)
        if any(c.kind == "field" and (c.before is None or c.after is None) for c in changes):
            self._tell("fields")
        for field, uids in fields.items():
            self._tell(kind, field, tuple(uids))

    def _tell(self, kind: str, field: str = "", uids: tuple[str, ...] = ()) -> None:
        for listener in tuple(self._listeners):
            listener(SessionEvent(kind, field, uids))

    def _refuse_if_read_only(self) -> None:
        if self._stale:
            raise CouldNot(
                f"{self.exam_code} is recorded, but it could not be read again here.",
                next="Close this window and open the exam again; nothing is lost.",
                code="exam-not-read-again",
            )
        if self.read_only:
            raise BadInput(
                "This session only looks; nothing can be changed.",
                next="Open it without --read.",
                code="read-only",
            )


def _refuse_to_change(kind: str, about: Any) -> None:
    """Stand for the journal where nothing may be changed."""
    raise BadInput("This session only looks; nothing can be changed.", code="read-only")


def _begun(head: Any) -> str:
    """Say when a draft was begun, from the head of its journal; empty when it does not say."""
    try:
        return say_time(datetime.fromisoformat(head["began"]))
    except (KeyError, TypeError, ValueError):
        return ""


def _state_in(history: History, uid: str) -> str:
    """Say where a field of a draft stands."""
    place, content = history.draft.fields[uid], history.draft.content[uid]
    if content.marks:
        return MARKED
    if place.counts or place.unsure:
        return COUNTED_IN_CLIP if place.clip else COUNTED
    if place.nothing:
        return NOTHING_HERE
    if content.seen.opened or history.base_marks.get(uid):
        return LOOKED_AT
    return RECORDED_EMPTY if uid in history.base_fields and not place.read_here else NOT_LOOKED_AT
