"""Pointing: by the mouse, or by a cross that the arrow keys move."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from napari_fecallab.window_base import FieldControl, Point

if TYPE_CHECKING:
    from napari_fecallab.views import Outcome

STEP_SCREEN_PX, FAR_SCREEN_PX = 8, 60
"""How far an arrow key moves the cross."""


class CrossControl(FieldControl):
    """Where the next mark goes."""

    @property
    def pointer(self) -> Point:
        """Column and row of the picture that the mouse or the cross points at."""
        return self._cross or self.mouse_place()

    @property
    def mark_at_pointer(self) -> str:
        """Uid of the mark at the pointer; the chosen one when none is there."""
        near = self.layers.marks.near(*self.pointer, self.layers.screen_per_px)
        return near or (self.chosen if self.layers.marks.mark(self.chosen) else "")

    def mouse_moved(self) -> None:
        """Let the mouse point again after arrow keys did."""
        if self._cross is not None:
            self._cross = None
            self.layers.pointer.point_at(None, self.layers.screen_per_px)

    def hold_pointer(self, place: Point) -> None:
        """Go on pointing at a place, though the mouse went elsewhere meanwhile."""
        self._cross = place

    def hover(self) -> str:
        """Return the mark that the mouse is over."""
        return self.layers.marks.near(*self.pointer, self.layers.screen_per_px)

    def _needed_mark(self) -> str:
        uid = self.mark_at_pointer
        if not uid:
            self.say("There is no mark at the pointer.")
        return uid

    def _did(self, outcome: Outcome) -> None:
        self.say(". ".join([outcome.words, *outcome.told]) if outcome.told else outcome.words)

    def do_whole_field(self) -> None:
        """See all."""
        self.layers.look_at_all()

    def do_zoom_in(self) -> None:
        """Larger, around the pointer."""
        self._zoom(1.25)

    def do_zoom_out(self) -> None:
        """Smaller."""
        self._zoom(0.8)

    def _zoom(self, by: float) -> None:
        x, y = self.pointer
        self.layers.camera.zoom *= by
        if self._cross is not None:
            centre = (y * self.layers.scale, x * self.layers.scale)
            self.layers.camera.center = (*self.layers.camera.center[:-2], *centre)
            self.layers.pointer.point_at(self._cross, self.layers.screen_per_px)

    def _move_cross(self, right: int, down: int, modifier: str) -> None:
        step = {"": STEP_SCREEN_PX, "Shift-": FAR_SCREEN_PX}.get(modifier, 0) / self.layers.screen_per_px
        step = max(step, 1.0)
        if modifier == "Control-":
            step = 1.0
        x, y = self._cross or self._start()
        view = self.session.field()
        self.point_at(
            (
                min(max(x + right * step, 0.0), max(view.width_px - 1.0, 0.0)),
                min(max(y + down * step, 0.0), max(view.height_px - 1.0, 0.0)),
            )
        )

    def _start(self) -> Point:
        view = self.session.field()
        x, y = self.mouse_place()
        if 0 < x < view.width_px and 0 < y < view.height_px:
            return x, y
        centre = self.layers.camera.center
        return self.layers.to_px(centre)

    def point_at(self, place: Point) -> None:
        """Put the cross on a place of the picture, and have it in view."""
        self._cross = place
        self.layers.pointer.point_at(place, self.layers.screen_per_px)
        self._keep_in_view(place)
        near = self.hover()
        if near and near != self.chosen:
            self.choose(near)

    def _keep_in_view(self, place: Point) -> None:
        height, width = getattr(self.viewer, "_canvas_size", (600, 800))
        across = self.layers.screen_per_px
        centre = self.layers.to_px(self.layers.camera.center)
        out = (
            abs(place[0] - centre[0]) * across > 0.45 * width
            or abs(place[1] - centre[1]) * across > 0.45 * height
        )
        if out:
            scale = self.layers.scale
            self.layers.camera.center = (
                *self.layers.camera.center[:-2],
                place[1] * scale,
                place[0] * scale,
            )

    def do_next_mark(self) -> None:
        """Cross to the next mark."""
        self._jump([(mark.uid, (mark.x_px, mark.y_px)) for mark in self.session.marks()], 1)

    def do_previous_mark(self) -> None:
        """Cross to the mark before."""
        self._jump([(mark.uid, (mark.x_px, mark.y_px)) for mark in self.session.marks()], -1)

    def _jump(self, places: Sequence[tuple[str, Point]], by: int) -> None:
        if not places:
            self.say("There is none in this field.")
            return
        uids = [uid for uid, _ in places]
        at = uids.index(self.chosen) + by if self.chosen in uids else (0 if by > 0 else -1)
        uid, place = places[at % len(places)]
        self.point_at(place)
        self.choose(uid)
