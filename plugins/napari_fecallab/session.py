"""The marking session: everything of the marking window that needs no screen.

The window calls a method, gets plain values (`views`) back, and redraws what a `SessionEvent` says has changed.
Every operation is one step of undo, and is on the disk within a second.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from fecallab.domain.errors import BadInput
from fecallab.gather import group_of
from napari_fecallab import views
from napari_fecallab.opening import draft_of
from napari_fecallab.state import Change, Mark, Seen, Step, uid_order
from napari_fecallab.views import (
    BurdenTable,
    ClassKey,
    FieldView,
    Finished,
    MarkView,
    Outcome,
    ProposalView,
    SaveState,
    SessionEvent,
    SizeWords,
    Summary,
)

if TYPE_CHECKING:
    from fecallab.imaging.read import PictureArray

Point = tuple[float, float]


class MarkingSession:
    """One exam that is being marked.

    Parameters
    ----------
    records_folder : Path or str
    exam_code : str
    by : str
        Who marks.
    clock : callable, optional
        Returns the present time; this computer's when omitted.
    read_only : bool
        Look only: no journal, no lock.

    Raises
    ------
    BadInput
        No such exam, or one without preparations.
    CouldNot
        The exam is open in another window, or the journal cannot be written.

    Notes
    -----
    Fields and marks are told apart by uids (text): keep nothing else. A uid never changes until `finish`; then
    everything recorded gets the code of the records as its uid and a ``finished`` event says so.
    Methods that take ``field`` mean the current field when it is omitted.
    """

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
        self.by = by
        self.read_only = read_only
        self._clock = clock or datetime.now
        with open_records(self.folder) as store:
            self._exam = store.exam(exam_code)
            self._sample = store.sample(self._exam.sample)
            self._animal = store.animal(self._sample.animal)
            pictures = {picture.sha256: picture for picture in store.pictures()}
        self._draft = draft_of(self._exam, pictures)
        self._done: list[Step] = []
        self._undone: list[Step] = []
        self._current = next(iter(self._draft.fields), "")
        self._listeners: list[Callable[[SessionEvent], None]] = []
        self._saved = SaveState()

    # --- the session itself

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Have everything on the disk and let another window open the exam. The draft is kept."""

    def subscribe(self, listener: Callable[[SessionEvent], None]) -> None:
        """Have a function called after every change, on the thread that made it (``saved``: any thread)."""
        self._listeners.append(listener)

    @property
    def exam_code(self) -> str:
        """Code of the exam."""
        return self._exam.code

    @property
    def title(self) -> str:
        """For the title bar: exam, animal, day."""
        return f"{self._exam.code} · {self._animal.name} · {self._exam.examined_at:%Y-%m-%d}"

    @property
    def notices(self) -> tuple[str, ...]:
        """What the person should read on opening: what came back from the journal, what changed meanwhile."""
        return ()

    @property
    def saved(self) -> SaveState:
        """What is on the disk; ask often, or listen for ``saved``."""
        return self._saved

    def flush(self, timeout_s: float = 5.0) -> SaveState:
        """Wait until everything is on the disk, at most so long."""
        return self._saved

    # --- fields

    @property
    def preparations(self) -> tuple[tuple[str, str], ...]:
        """Code and words of every preparation."""
        return tuple((p.code, p.method.replace("_", " ")) for p in self._exam.preparations)

    def fields(self) -> tuple[FieldView, ...]:
        """Return all fields and sweeps in order."""
        return tuple(self.field(uid) for uid in self._order())

    def field(self, uid: str | None = None) -> FieldView:
        """Return one field, the current one when omitted."""
        uid = self._uid(uid)
        order = self._order()
        place, content = self._draft.fields[uid], self._draft.content[uid]
        preparation = next(p for p in self._exam.preparations if p.code == place.preparation)
        state = self._state(uid)
        return FieldView(
            uid=uid,
            number=order.index(uid) + 1,
            of=len(order),
            preparation=place.preparation,
            method=preparation.method,
            method_words=preparation.method.replace("_", " "),
            kind=place.kind,
            objective=place.objective,
            um_per_px=place.um_per_px,
            scale_words=f"{place.um_per_px:.4g} µm per pixel" if place.um_per_px else "no scale",
            picture=place.picture,
            picture_name=place.picture_name,
            clip_name=place.clip_name,
            width_px=place.width_px,
            height_px=place.height_px,
            sure=dict(content.tallies[True]) or dict(place.counts),
            unsure=dict(content.tallies[False]) or dict(place.unsure),
            state=state,
            done=state in (views.MARKED, views.NOTHING_HERE, views.COUNTED),
            recorded=uid[0].isupper(),
            changed=False,
            proposals_open=0,
            proposals_shown=content.seen.proposals,
        )

    @property
    def current(self) -> str:
        """Uid of the current field; empty when the exam has none yet."""
        return self._current

    def go_to(self, uid: str) -> FieldView:
        """Make a field the current one; it counts as looked at from now on."""
        self._current = self._uid(uid)
        before = self._draft.content[uid].seen
        self._draft.apply([Change("seen", uid, uid, before, Seen(opened=True, proposals=before.proposals))])
        self._tell("field", uid)
        return self.field(uid)

    def next_field(self) -> FieldView:
        """Go to the next field; stays at the last one."""
        order = self._order()
        return self.go_to(order[min(len(order) - 1, order.index(self._current) + 1)])

    def previous_field(self) -> FieldView:
        """Go to the field before; stays at the first one."""
        order = self._order()
        return self.go_to(order[max(0, order.index(self._current) - 1)])

    def next_undone(self) -> FieldView | None:
        """Go to the next field that nothing was said of, from here and around; None when all are done."""
        order = self._order()
        here = order.index(self._current) + 1 if self._current else 0
        for uid in (*order[here:], *order[:here]):
            if not self.field(uid).done:
                return self.go_to(uid)
        return None

    def picture_path(self, field: str | None = None) -> Path | None:
        """Return where the picture of a field lies; None where it has none."""
        from fecallab.records.store import open_records

        sha256 = self._draft.fields[self._uid(field)].picture
        if not sha256:
            return None
        with open_records(self.folder) as store:
            return store.picture_path(sha256)

    def pixels(self, field: str | None = None) -> PictureArray | None:
        """Return the upright picture of a field, shape (h, w) or (h, w, 3), ``uint8`` or ``uint16``.

        Decoding a large picture takes long: call it from a worker thread. None where there is no picture.
        """
        from fecallab.imaging.read import open_picture

        path = self.picture_path(field)
        return None if path is None else open_picture(path)

    def add_pictures(
        self, paths: Iterable[Path], preparation: str | None = None, objective: float | None = None
    ) -> Outcome:
        """Take pictures or clips in as new fields, one step; what is no picture is told, the rest comes in.

        Preparation, objective and (for fixed cameras) scale are those of the current field unless given.
        """
        raise NotImplementedError

    def watch(self, folder: Path) -> None:
        """Watch a folder; what the camera's program puts there waits until `take_watched`."""

    def take_watched(self) -> Outcome | None:
        """Take in what has arrived whole in the watched folder; call it from a timer. None: nothing came."""
        return None

    def stop_watching(self) -> None:
        """Watch no longer."""

    def remove_field(self, field: str | None = None) -> Outcome:
        """Take a field out of the exam, with its marks; one step."""
        raise NotImplementedError

    def nothing_here(self, field: str | None = None) -> Outcome:
        """Say that a field shows nothing: a zero that counts. Refused while it has marks."""
        uid = self._uid(field)
        before = self._draft.fields[uid]
        self._do(f"nothing in field {uid}", [Change("field", uid, uid, before, _with(before, nothing=True))])
        return Outcome((uid,), "nothing here")

    # --- marks

    def marks(self, field: str | None = None) -> tuple[MarkView, ...]:
        """Return the marks of a field in a fixed order."""
        uid = self._uid(field)
        marks = self._draft.content[uid].marks
        return tuple(self.mark(one) for one in sorted(marks, key=uid_order))

    def mark(self, uid: str) -> MarkView:
        """Return one mark."""
        field = self._field_of(uid)
        mark = self._draft.content[field].marks[uid]
        return MarkView(
            uid=uid,
            field=field,
            x_px=mark.x_px,
            y_px=mark.y_px,
            name=mark.name,
            group=group_of(mark.name),
            sure=mark.sure,
            length_um=mark.length_um,
            length_half_width_um=mark.length_half_um,
            width_um=mark.width_um,
            width_half_width_um=mark.width_half_um,
            angle_deg=mark.angle_deg,
            shape=mark.shape,
            points_px=mark.points_px,
            named_by=mark.named_by,
            recorded=uid[0].isupper(),
        )

    def add_mark(
        self, name: str, x_px: float, y_px: float, *, sure: bool = True, field: str | None = None
    ) -> Outcome:
        """Mark one organism; ``x_px`` is the column, ``y_px`` the row. ``uids[0]`` is the new mark."""
        return self.add_marks([(name, x_px, y_px)], sure=sure, field=field)

    def add_marks(
        self, marks: Sequence[tuple[str, float, float]], *, sure: bool = True, field: str | None = None
    ) -> Outcome:
        """Mark several at once (name, x, y); one step."""
        where = self._uid(field)
        new = {
            self._draft.new_uid("m"): Mark(x_px=x, y_px=y, name=name, sure=sure, named_by=self.by)
            for name, x, y in marks
        }
        self._do("marked", [Change("mark", where, uid, None, mark) for uid, mark in new.items()])
        return Outcome(tuple(new), "marked")

    def move_marks(self, places: Mapping[str, Point]) -> Outcome:
        """Move marks to (x, y); one step. What was drawn to measure them moves along."""
        return self._change("moved", {uid: {"x_px": x, "y_px": y} for uid, (x, y) in places.items()})

    def rename_marks(self, uids: Iterable[str], name: str) -> Outcome:
        """Give marks another name; one step."""
        return self._change("renamed", {uid: {"name": name, "named_by": self.by} for uid in uids})

    def set_sure(self, uids: Iterable[str], sure: bool | None = None) -> Outcome:
        """Make marks sure or unsure; omitted: each becomes the other. One step."""
        return self._change(
            "sure", {uid: {"sure": not self.mark(uid).sure if sure is None else sure} for uid in uids}
        )

    def delete_marks(self, uids: Iterable[str]) -> Outcome:
        """Delete marks; one step."""
        wanted = tuple(uids)
        where = {uid: self._field_of(uid) for uid in wanted}
        self._do(
            "deleted",
            [Change("mark", f, u, self._draft.content[f].marks[u], None) for u, f in where.items()],
        )
        return Outcome(wanted, "deleted")

    def measure_line(self, uid: str, start: Point, end: Point) -> Outcome:
        """Measure a mark from end to end, (x, y) in pixels: gives its length."""
        raise NotImplementedError

    def measure_ellipse(
        self, uid: str, centre: Point, long_px: float, short_px: float, angle_deg: float
    ) -> Outcome:
        """Measure a mark by an ellipse laid over it (whole axes in pixels)."""
        raise NotImplementedError

    def measure_outline(self, uid: str, points: Sequence[Point]) -> Outcome:
        """Measure a mark by five or more points around it, (x, y) in pixels."""
        raise NotImplementedError

    def remove_measure(self, uids: Iterable[str]) -> Outcome:
        """Take the sizes off marks; one step."""
        raise NotImplementedError

    # --- scale

    def set_scale(
        self,
        um_per_px: float | None,
        half_width: float = 0.0,
        how: str = "typed",
        fields: Iterable[str] | None = None,
    ) -> Outcome:
        """Set the scale of fields (the current one when omitted), or take it away; sizes follow. One step."""
        raise NotImplementedError

    def scale_from_lit_circle(self, field: str | None = None, field_number: float | None = None) -> Outcome:
        """Set the scale of a field from the edge of its lit circle: field number (mm) and objective."""
        raise NotImplementedError

    def set_objective(
        self,
        objective: float | None,
        field_number: float | None = None,
        fields: Iterable[str] | None = None,
    ) -> Outcome:
        """Say what fields were looked at with; one step."""
        raise NotImplementedError

    # --- undo

    def undo(self) -> str:
        """Take the last step back, go to its field, and say what it was; empty when there is none."""
        if not self._done:
            return ""
        step = self._done.pop()
        self._draft.apply(step.back.changes)
        self._undone.append(step)
        self._tell("marks", step.changes[0].field)
        return f"taken back: {step.words}"

    def redo(self) -> str:
        """Do again what was taken back last; empty when there is nothing."""
        if not self._undone:
            return ""
        step = self._undone.pop()
        self._draft.apply(step.changes)
        self._done.append(step)
        self._tell("marks", step.changes[0].field)
        return f"done again: {step.words}"

    @property
    def undo_words(self) -> str:
        """What undo would take back; empty when nothing."""
        return self._done[-1].words if self._done else ""

    @property
    def redo_words(self) -> str:
        """What redo would do again; empty when nothing."""
        return self._undone[-1].words if self._undone else ""

    # --- keys

    def keys(self) -> tuple[ClassKey, ...]:
        """Return the class keys for the current field with live counts, first row first."""
        return ()

    def set_key(self, key: str, name: str) -> Outcome:
        """Put an organism on a key, for this person and kept; an empty name frees the key."""
        raise NotImplementedError

    def reset_keys(self) -> Outcome:
        """Go back to the keys that the tables propose."""
        raise NotImplementedError

    def names(self) -> tuple[tuple[str, str, str], ...]:
        """Return every name that can be given: key or group, label, group; likely ones first."""
        return ()

    # --- what it says

    def counts(self, field: str | None = None) -> tuple[dict[str, int], dict[str, int]]:
        """Return sure and unsure counts by name of a field; ``""`` is the whole exam."""
        view = self.field(field)
        return dict(view.sure), dict(view.unsure)

    def size_words(self, uid: str) -> SizeWords:
        """Return the size of a mark with the shortlist and its reasons."""
        return SizeWords("not measured")

    def burden_table(self) -> BurdenTable:
        """Return the running burden and what is still missing."""
        return BurdenTable()

    # --- proposals

    def offer_proposals(
        self,
        field: str,
        proposals: Sequence[tuple[str, float, float, float | None, float | None, float | None]],
    ) -> tuple[str, ...]:
        """Put proposals (name, x, y, length µm, width µm, angle) on a field; returns their uids. No undo step."""
        raise NotImplementedError

    def proposals(self, field: str | None = None) -> tuple[ProposalView, ...]:
        """Return the open proposals that may be shown now: none until the field was read once, by default."""
        return ()

    def accept_proposals(self, uids: Iterable[str], name: str = "", *, sure: bool = True) -> Outcome:
        """Make marks of proposals, under their own name or another; one step."""
        raise NotImplementedError

    def dismiss_proposals(self, uids: Iterable[str]) -> Outcome:
        """Put proposals away; one step."""
        raise NotImplementedError

    @property
    def proposals_when(self) -> str:
        """When proposals are shown: ``after reading`` (default), ``before reading`` or ``off``."""
        return "after reading"

    def set_proposals_when(self, when: str) -> None:
        """Change that, for this person and kept."""

    # --- finish

    def summary(self) -> Summary:
        """Return what `finish` would record, to read over."""
        return Summary((), nothing_to_do=True)

    def finish(self, reason: str = "") -> Finished:
        """Record everything in one transaction; recorded things that change need a reason."""
        raise NotImplementedError

    def discard(self) -> None:
        """Throw the draft away: the exam is as it is recorded again. Cannot be taken back."""

    # --- inside

    def _order(self) -> list[str]:
        places = {p.code: k for k, p in enumerate(self._exam.preparations)}
        fields = self._draft.fields
        return sorted(fields, key=lambda uid: (places[fields[uid].preparation], uid_order(uid)))

    def _uid(self, uid: str | None) -> str:
        wanted = self._current if uid is None else uid
        if wanted not in self._draft.fields:
            raise BadInput(f"There is no field {wanted!r} in this exam.", code="unknown-field")
        return wanted

    def _field_of(self, uid: str) -> str:
        try:
            return self._draft.field_of[uid]
        except KeyError:
            raise BadInput(f"There is no mark {uid!r} (any more).", code="unknown-mark") from None

    def _state(self, uid: str) -> str:
        place, content = self._draft.fields[uid], self._draft.content[uid]
        if content.marks:
            return views.MARKED
        if place.counts or place.unsure:
            return views.COUNTED
        if place.nothing or not place.picture:
            return views.NOTHING_HERE
        return views.LOOKED_AT if content.seen.opened else views.NOT_LOOKED_AT

    def _change(self, words: str, wanted: Mapping[str, Mapping[str, object]]) -> Outcome:
        changes = []
        for uid, values in wanted.items():
            field = self._field_of(uid)
            before = self._draft.content[field].marks[uid]
            changes.append(Change("mark", field, uid, before, _with(before, **values)))
        self._do(words, changes)
        return Outcome(tuple(wanted), words)

    def _do(self, words: str, changes: Sequence[Change]) -> None:
        step = Step(words, tuple(changes))
        self._draft.apply(step.changes)
        self._done.append(step)
        self._undone.clear()
        self._tell("marks", step.changes[0].field, tuple(change.uid for change in step.changes))

    def _tell(self, kind: str, field: str = "", uids: tuple[str, ...] = ()) -> None:
        for listener in self._listeners:
            listener(SessionEvent(kind, field, uids))


def _with(thing: Any, **values: object) -> Any:
    from dataclasses import replace

    return replace(thing, **values)
