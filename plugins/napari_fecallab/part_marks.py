"""Marks of the session: set, moved, renamed, made sure or unsure, deleted, measured; and steps taken back."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from fecallab.domain.errors import BadInput
from fecallab.domain.measuring import measure_ellipse, measure_line, measure_outline
from napari_fecallab.core import SessionCore
from napari_fecallab.measures import ellipse_points, moved_points, place_px, sized
from napari_fecallab.names import checked_name, group_of, label_of
from napari_fecallab.picture_facts import PictureFacts
from napari_fecallab.state import Change, Field, Mark, Point, Step, uid_order
from napari_fecallab.views import MarkView, Outcome


class MarkPart(SessionCore):
    """What the session does with marks."""

    _views: dict[str, tuple[Mark, tuple[int, tuple[int, ...]], MarkView]]
    _picture_facts: dict[str, PictureFacts]

    def marks(self, field: str | None = None) -> tuple[MarkView, ...]:
        """Return the marks of a field in a fixed order: recorded ones by their codes, then as they came."""
        uid = self._uid(field)
        marks = self._content(uid).marks
        known = self._views
        views: list[tuple[tuple[int, tuple[int, ...]], MarkView]] = []
        for one, mark in marks.items():
            kept = known.get(one)
            if kept is None or kept[0] is not mark or kept[2].field != uid:
                kept = known[one] = (mark, uid_order(one), self._view(one, uid, mark))
            views.append(kept[1:])
        views.sort(key=lambda pair: pair[0])
        return tuple(view for _, view in views)

    def mark(self, uid: str) -> MarkView:
        """Return one mark."""
        return self._view(uid, self._field_of(uid), self._mark(uid))

    def _view(self, uid: str, field: str, mark: Mark) -> MarkView:
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
            recorded=uid in self._history.base_marks.get(field, ()),
            vets_say=self.facts.words_of_vets.get(uid, ""),
        )

    def add_mark(
        self, name: str, x_px: float, y_px: float, *, sure: bool = True, field: str | None = None
    ) -> Outcome:
        """Mark one organism; ``x_px`` is the column, ``y_px`` the row. ``uids[0]`` is the new mark."""
        return self.add_marks([(name, x_px, y_px)], sure=sure, field=field)

    def add_marks(
        self, marks: Sequence[tuple[str, float, float]], *, sure: bool = True, field: str | None = None
    ) -> Outcome:
        """Mark several at once (name, x, y); one step.

        A mark outside the picture or the lit circle is made all the same, and told.

        Raises
        ------
        BadInput
            For a field without a picture, a name that is not known, or a place that is no number; nothing is
            marked then.
        """
        where = self._uid(field)
        place = self._place(where)
        if not place.picture and not place.clip:
            raise BadInput(
                f"{self._number(where).capitalize()} was read at the eyepiece: it has no picture to mark in.",
                next="Go to a field with a picture; counts at the eyepiece: fecallab exam tally",
                code="no-picture",
            )
        made = [
            Mark(
                x_px=place_px(x, "column"),
                y_px=place_px(y, "row"),
                name=checked_name(name),
                sure=sure,
                named_by=self.by,
            )
            for name, x, y in marks
        ]
        new = {self._draft.new_uid("m"): mark for mark in made}
        told = self._outside(where, [(mark.x_px, mark.y_px) for mark in made])
        if (place.counts or place.unsure) and not self._content(where).marks:
            told.append("Counts were typed for this field; from now on its marks are counted instead.")
        words = _many([mark.name for mark in made], "marked", sure=sure)
        self._do(words, [Change("mark", where, uid, None, mark) for uid, mark in new.items()])
        return Outcome(tuple(new), words, tuple(told))

    def move_marks(self, places: Mapping[str, Point]) -> Outcome:
        """Move marks to (x, y); one step. What was drawn to measure them moves along."""
        wanted = {}
        for uid, (x, y) in places.items():
            mark = self._mark(uid)
            to = place_px(x, "column"), place_px(y, "row")
            by = to[0] - mark.x_px, to[1] - mark.y_px
            wanted[uid] = {"x_px": to[0], "y_px": to[1], "points_px": moved_points(mark.points_px, by)}
        outcome = self._change("moved", wanted)
        told: list[str] = []
        for field in {self._field_of(uid) for uid in places}:
            told += self._outside(field, [to for uid, to in places.items() if self._field_of(uid) == field])
        return replace(outcome, told=tuple(told))

    def rename_marks(self, uids: Iterable[str], name: str) -> Outcome:
        """Give marks another name; one step."""
        known = checked_name(name)
        return self._change(
            f"named {label_of(known)}", {u: {"name": known, "named_by": self.by} for u in uids}
        )

    def set_sure(self, uids: Iterable[str], sure: bool | None = None) -> Outcome:
        """Make marks sure or unsure; omitted: each becomes the other. One step."""
        wanted = {uid: {"sure": not self._mark(uid).sure if sure is None else sure} for uid in uids}
        said = {values["sure"] for values in wanted.values()}
        words = (
            "made sure" if said == {True} else "made unsure" if said == {False} else "sure and unsure swapped"
        )
        return self._change(words, wanted)

    def delete_marks(self, uids: Iterable[str]) -> Outcome:
        """Delete marks; one step."""
        wanted = tuple(dict.fromkeys(uids))
        held = {uid: self._mark(uid) for uid in wanted}
        words = _many([mark.name for mark in held.values()], "deleted")
        self._do(words, [Change("mark", self._field_of(u), u, mark, None) for u, mark in held.items()])
        return Outcome(wanted, words)

    def _change(self, words: str, wanted: Mapping[str, Mapping[str, Any]]) -> Outcome:
        held = {uid: self._mark(uid) for uid in wanted}
        said = _many([mark.name for mark in held.values()], words)
        changes = [
            Change("mark", self._field_of(uid), uid, mark, replace(mark, **wanted[uid]))
            for uid, mark in held.items()
        ]
        self._do(said, changes)
        return Outcome(tuple(wanted), said)

    def _outside(self, field: str, places: Sequence[Point]) -> list[str]:
        place = self._place(field)
        facts = self._picture_facts.get(place.picture)
        beside = sum(not _inside(place, at) for at in places)
        dark = sum(_inside(place, at) and facts is not None and facts.outside_circle(*at) for at in places)
        told = []
        if beside:
            size = f"{place.width_px} × {place.height_px} pixels"
            told.append(f"{_are(beside)} outside the picture ({size}).")
        if dark:
            told.append(f"{_are(dark)} outside the lit circle.")
        return told

    # --- measuring

    def measure_line(self, uid: str, start: Point, end: Point) -> Outcome:
        """Measure a mark from end to end, (x, y) in pixels: gives its length."""
        return self._measured(uid, "line", (start, end), lambda s, b: measure_line(start, end, s, blur_px=b))

    def measure_ellipse(
        self, uid: str, centre: Point, long_px: float, short_px: float, angle_deg: float
    ) -> Outcome:
        """Measure a mark by an ellipse laid over it: whole axes in pixels, angle from +x towards +y (down)."""
        if not all(map(math.isfinite, (*centre, long_px, short_px, angle_deg))):
            raise BadInput("An ellipse needs numbers for its centre, axes and angle.", code="no-number")
        return self._measured(
            uid,
            "ellipse",
            ellipse_points(centre, long_px, short_px, angle_deg),
            lambda s, b: measure_ellipse(centre, long_px, short_px, angle_deg, s, blur_px=b),
        )

    def measure_outline(self, uid: str, points: Sequence[Point]) -> Outcome:
        """Measure a mark by five or more points around it, (x, y) in pixels."""
        return self._measured(
            uid, "outline", tuple(points), lambda s, b: measure_outline(points, s, blur_px=b)
        )

    def remove_measure(self, uids: Iterable[str]) -> Outcome:
        """Take the sizes off marks; one step."""
        none = {
            "length_um": None,
            "length_half_um": None,
            "width_um": None,
            "width_half_um": None,
            "angle_deg": None,
            "shape": "",
            "points_px": (),
        }
        return self._change("no longer measured", dict.fromkeys(uids, none))

    def _measured(self, uid: str, shape: str, points: Sequence[Point], how: Any) -> Outcome:
        mark, place = self._mark(uid), self._place(self._field_of(uid))
        blur = self._blur(place)
        kept = tuple((place_px(x, "column"), place_px(y, "row")) for x, y in points)
        new = sized(replace(mark, shape=shape, points_px=kept), place, blur, how)
        words = f"{label_of(mark.name)} measured"
        self._do(words, [Change("mark", self._field_of(uid), uid, mark, new)])
        told = () if place.um_per_px else ("No scale yet: its size is told as soon as the field has one.",)
        return Outcome((uid,), words, told)

    def _blur(self, place: Field) -> float:
        facts = self._picture_facts.get(place.picture)
        return facts.blur_px if facts is not None else 0.0

    # --- undo

    def undo(self) -> str:
        """Take the last step back, go to its field, and say what it was; empty when there is none."""
        self._refuse_if_read_only()
        step = self._history.undo()
        return self._moved(step, step.back.changes, "taken back") if step else ""

    def redo(self) -> str:
        """Do again what was taken back last; empty when there is nothing."""
        self._refuse_if_read_only()
        step = self._history.redo()
        return self._moved(step, step.changes, "done again") if step else ""

    def _moved(self, step: Step, changes: Sequence[Change], words: str) -> str:
        field = changes[-1].field
        if field in self._draft.fields:
            self._current = field
        elif self._current not in self._draft.fields:
            self._current = next(iter(self._order()), "")
        self._tell_of(changes, "field" if all(c.kind == "field" for c in changes) else "marks")
        return f"{words}: {step.words}"

    @property
    def undo_words(self) -> str:
        """What undo would take back; empty when nothing."""
        return self._history.done[-1].words if self._history.done else ""

    @property
    def redo_words(self) -> str:
        """What redo would do again; empty when nothing."""
        return self._history.undone[-1].words if self._history.undone else ""


def _inside(place: Field, at: Point) -> bool:
    if not place.width_px:
        return True
    return -0.5 <= at[0] <= place.width_px - 0.5 and -0.5 <= at[1] <= place.height_px - 0.5


def _are(number: int) -> str:
    return "1 mark lies" if number == 1 else f"{number} marks lie"


def _many(names: Sequence[str], words: str, *, sure: bool = True) -> str:
    doubt = "" if sure else " as unsure"
    if len(names) == 1:
        return f"{label_of(names[0])} {words}{doubt}"
    return f"{len(names)} marks {words}{doubt}"
