"""One exam on the canvas: fields, their pictures, and what the session says has changed; no Qt in here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.errors import FecallabError
from napari_fecallab.kept_proposals import by_its_name
from napari_fecallab.layers import FieldLayers
from napari_fecallab.layers_parts import write_on_canvas
from napari_fecallab.window_background import AtOnce, Background
from napari_fecallab.window_keys import KEYS, all_keys, bind, unbind

if TYPE_CHECKING:
    from napari.components import ViewerModel
    from napari.layers import Layer

    from napari_fecallab.picture_facts import PictureFacts
    from napari_fecallab.reader_clips import Frames
    from napari_fecallab.reader_pictures import CanvasPicture
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.views import ClassKey, FieldView, MarkView, ProposalView, SessionEvent

Point = tuple[float, float]
LARGE_PX = 40_000_000
NO_PICTURE = "This field has no picture: what was counted at the eyepiece stands in the list."
NO_FIELD = "This exam has no field yet: add pictures below, or open it with a watched folder."
NOTHING_TO_SEE = (
    "No picture was taken of this {kind}, so there is nothing to mark on.",
    "What was counted at the eyepiece stands in the panel, under fields.",
    "Space goes on to the next field.",
    "To mark: Add pictures or Add a clip, in the panel.",
    "To count at the eyepiece: fecallab exam tally {exam}",
)
"""What stands on the canvas where there is no picture."""
NO_FIELD_YET = (
    "This exam has no field yet.",
    "To mark: Add pictures or Add a clip, in the panel.",
    "To count at the eyepiece: fecallab exam tally {exam}",
)
STILL_READING = "The picture is still being read; marks can be set when it is there."


class FieldControl:
    """Opens fields and keeps the canvas in step with the session.

    Parameters
    ----------
    viewer : ViewerModel
        With a window or without.
    session : MarkingSession
    background : Background, optional
        Where large pictures are read.
    later : callable, optional
        Calls a function when the present event is over.
    """

    def __init__(
        self,
        viewer: ViewerModel,
        session: MarkingSession,
        background: Background | None = None,
        later: Callable[[Callable[[], None]], None] | None = None,
    ) -> None:
        self.viewer, self.session = viewer, session
        self.background = background or AtOnce()
        self.listeners: list[Callable[[str], None]] = []
        self.wishes: dict[str, Callable[[], None]] = {}
        """What only a window can do: ``other_name``, ``finish``, ``help``, ``change_keys``, ``to_dock``, ``play``."""
        self.mouse_place: Callable[[], Point] = lambda: self.layers.to_px(viewer.cursor.position)
        """Where the mouse points in the picture; a window knows it better than napari, which drops moves."""
        self.message = ""
        self.remarks: tuple[str, ...] = ()
        self.ready = False
        self.picture: CanvasPicture | None = None
        self.clip: Frames | None = None
        self.chosen = ""
        self.waiting: set[str] = set()
        self.last_name = ""
        self.drawing: list[Point] = []
        self.keys_pressed = self.clicks = 0
        self._proposals: tuple[ProposalView, ...] = ()
        self._cross: Point | None = None
        self._shown_field = ""
        self._bound: tuple[str, ...] = ()
        self.class_keys: tuple[ClassKey, ...] = ()
        session.reserve_keys({key: one.words for one in KEYS for key in one.keys})
        self._rebind_names()
        self.layers = FieldLayers(viewer, self._bind_layer, self.say, later)
        bind(viewer, self._bound, self.press, alone=False)
        viewer.layers.selection.events.active.connect(self._on_layers)
        self.layers.marks.layer.events.visible.connect(self._on_layers)
        session.subscribe(self._on_session)

    def open(self) -> None:
        """Show the current field, or the first one."""
        if self.session.current:
            self._show(self.session.go_to(self.session.current))
        else:
            self._write_on_canvas(NO_FIELD_YET)
            self.say(NO_FIELD)

    def refit(self) -> None:
        """Show the whole field again after the canvas changed its size, unless somebody zoomed."""
        if abs(self.layers.camera.zoom / self.layers.fitted_zoom - 1) < 1e-6:
            self.layers.look_at_all()
            if self._shown_field:
                self._show_marks()  # symbols have a size on the screen

    def go_to(self, uid: str) -> None:
        """Show a field."""
        if uid != self._shown_field:
            self._show(self.session.go_to(uid))

    def reload(self) -> None:
        """Show the open field anew: its picture too."""
        self._shown_field = ""
        if self.session.current:
            self._show(self.session.field())

    def _show(self, view: FieldView) -> None:
        if view.uid == self._shown_field:
            self._tell("field")
            return
        self.background.stop()
        self._shown_field, self.chosen, self._cross = view.uid, "", None
        self.waiting.clear()
        self._forget_drawing()
        self._keys_for_field()
        self.remarks, self.ready, self.picture = (), True, None
        self.layers.pointer.point_at(None, 1.0)
        self.layers.pointer.choose(None, 0, 1.0)
        try:
            self._show_pixels(view)
        except FecallabError as error:
            self._failed(view, error)
        self.session.take_kept_proposals()
        self._show_marks()
        self._tell("field")

    def _write_on_canvas(self, lines: Sequence[str], kind: str = "") -> None:
        words = "\n".join(lines).format(kind=kind or "field", exam=self.session.exam_code)
        write_on_canvas(self.viewer, words)

    def _show_pixels(self, view: FieldView) -> None:
        from napari_fecallab.reader_clips import clip_frames
        from napari_fecallab.reader_pictures import canvas_picture, read_steps

        self._write_on_canvas(())
        clip = self._clip_path(view)
        if clip is not None:
            self.clip = frames = clip_frames(clip, self.session.clip_rate(view.uid))
            self.layers.show_clip(frames.lazily(), frames.fps, view.um_per_px)
            self._remark(view, ())
            return
        path = self.session.picture_path(view.uid)
        if path is None:
            self.layers.show_picture(None, None)
            self._remark(view, (NO_PICTURE,))
            self._write_on_canvas(NOTHING_TO_SEE, view.kind)
            return
        if view.width_px * view.height_px <= LARGE_PX:
            self._picture_read(view, canvas_picture(path))
            return
        self.layers.show_picture(None, view.um_per_px)
        self.ready, self.remarks = False, (STILL_READING,)
        self.background.run(
            f"Reading {view.picture_name or path.name}",
            read_steps(path),
            lambda picture: self._picture_read(view, picture),
            lambda error: self._failed(view, error),
        )

    def _clip_path(self, view: FieldView) -> Path | None:
        return self.session.clip_path(view.uid) if view.clip_name else None

    def _picture_read(self, view: FieldView, picture: CanvasPicture) -> None:
        if view.uid != self._shown_field:
            return
        self.layers.show_picture(picture, view.um_per_px)
        self.picture, self.ready = picture, True
        self._remark(view, picture.remarks)
        self._show_marks()
        self._tell("field")

    def _remark(self, view: FieldView, remarks: Sequence[str]) -> None:
        without = view.um_per_px is None and bool(view.picture or view.clip_name)
        scale = ("No scale: organisms are counted, their sizes cannot be told.",) if without else ()
        self.remarks = (*remarks, *scale)

    def _failed(self, view: FieldView, error: Exception) -> None:
        if view.uid != self._shown_field:
            return
        self.layers.show_picture(None, view.um_per_px)
        self.ready = True
        says = str(error) if isinstance(error, FecallabError) else None
        if says:
            says = by_its_name(says, view.picture, view.picture_name)
        self.remarks = (says or f"The picture cannot be shown: {type(error).__name__}.",)
        self._write_on_canvas(("The picture of this {kind} cannot be shown: the panel says why.",), view.kind)
        self._tell("field")

    def _show_marks(self) -> None:
        marks = self.session.marks()
        self.layers.marks.show(marks, self.layers.um_per_px, self.layers.screen_per_px)
        self.layers.show_measures(marks, self.drawing)
        self._proposals = self.session.proposals()
        self.layers.show_proposals([_in_short_lines(one) for one in self._proposals])

    def take_facts(self, uid: str, facts: PictureFacts) -> None:
        """Show what was found in the picture of a field: the edge of the lit circle, and what is wrong."""
        if uid != self._shown_field or self.picture is None:
            return
        if facts.circle is not None:
            circle = facts.circle
            self.layers.show_edge(circle.x_px, circle.y_px, circle.diameter_px)
            self.layers.make_active()
        self.remarks = tuple(dict.fromkeys((*self.remarks, *facts.lines)))
        self._tell("field")

    def say(self, text: str) -> None:
        """Put a line at the foot of the panel."""
        self.message = text
        self._tell("message")

    def _tell(self, what: str) -> None:
        for listener in self.listeners:
            listener(what)

    def _on_layers(self, _event: object = None) -> None:
        self._tell("layers")

    def _on_session(self, event: SessionEvent) -> None:
        if event.kind in ("saved", "watched"):  # from any thread: the window asks by a timer
            return
        if event.kind == "finished":
            self.reload()
        elif event.kind == "keys":
            self._rebind()
        elif event.kind in ("marks", "proposals") and event.field in ("", self._shown_field):
            self._marks_changed(event)
        if event.kind == "fields" or self._shown_field in event.uids or event.kind == "field":
            self._scale_changed()
        self._tell("fields" if event.kind == "fields" else "counts")

    def _scale_changed(self) -> None:
        if not self._shown_field or self._shown_field != self.session.current:
            return
        view = self.session.field()
        if view.um_per_px != self.layers.um_per_px and self.ready and self.layers.has_picture:
            self.layers.set_scale(view.um_per_px)
            self._remark(view, self.picture.remarks if self.picture else ())
            self._show_marks()
            self._tell("field")

    def _marks_changed(self, event: SessionEvent) -> None:
        if event.kind == "proposals" or not event.uids:
            self._show_marks()
            return
        known = [self._mark_or_none(uid) for uid in event.uids if uid != self._shown_field]
        changed = [mark for mark in known if mark is not None and mark.field == self._shown_field]
        here = {mark.uid for mark in changed}
        before = [self.layers.marks.mark(uid) for uid in event.uids]
        self.layers.marks.change(changed, [uid for uid in event.uids if uid not in here])
        if any(mark is not None and mark.shape for mark in (*before, *changed)):
            self.layers.show_measures(self.session.marks(), self.drawing)
        self._show_proposals()

    def _show_proposals(self) -> None:
        """Proposals come when a field was read once, and go when it is taken back."""
        now = self.session.proposals()
        if now != self._proposals:
            self._proposals = now
            self.layers.show_proposals([_in_short_lines(one) for one in now])

    def _mark_or_none(self, uid: str) -> MarkView | None:
        try:
            return self.session.mark(uid)
        except FecallabError:
            return None

    def choose(self, uid: str) -> None:
        """Choose a mark: its size and shortlist are shown."""
        mark = self.layers.marks.mark(uid) if uid else None
        self.chosen = uid if mark is not None else ""
        place = (mark.x_px, mark.y_px) if mark is not None else None
        outer = self.layers.marks.outer_px(mark) if mark is not None else 0.0
        self.layers.pointer.choose(place, outer, self.layers.screen_per_px)
        self._tell("chosen")

    def _forget_drawing(self) -> None:
        had = len(self.drawing) > 1
        self.drawing = []
        if had:
            self.layers.show_measures(self.session.marks())

    def _keys_for_field(self) -> None:
        """Other preparations have other organisms on their keys."""
        now = self.session.keys()
        if [(one.key, one.name) for one in now] != [(one.key, one.name) for one in self.class_keys]:
            self._rebind()

    def _rebind_names(self) -> None:
        self.class_keys = tuple(self.session.keys())
        self._bound = all_keys(one.key.upper() for one in self.class_keys)

    def _rebind(self) -> None:
        before = self._bound
        self._rebind_names()
        gone = [key for key in before if key not in self._bound]
        for provider in (self.viewer, *self.layers.ours):
            unbind(provider, gone)
            bind(provider, self._bound, self.press, alone=provider is not self.viewer)

    def _bind_layer(self, layer: Layer) -> None:
        bind(layer, self._bound, self.press, alone=True)

    def close(self) -> None:
        """Let go of the viewer, and have everything on the disk."""
        self.background.stop()
        unbind(self.viewer, self._bound)
        self.viewer.layers.selection.events.active.disconnect(self._on_layers)
        self.layers.close()
        self.listeners.clear()
        self.session.close()

    def press(self, key: str) -> bool:
        """Do what a key means (see `MarkingControl`)."""
        raise NotImplementedError


def _in_short_lines(view: ProposalView) -> ProposalView:
    """Return a proposal whose words stand beside it in short lines, so that they hide little of the picture."""
    lines = view.words.replace(" or ", "\nor ").replace(", ", "\n").split("\n")
    return replace(view, words="\n".join(lines))
