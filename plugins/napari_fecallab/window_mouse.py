"""What the mouse does on the canvas: point, choose, move a mark, and mark by Shift and a click.

A click with Shift never moves the picture, however fast or unsteady the hand is, and the second click of a
double click counts like any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from napari.components import ViewerModel

    from napari_fecallab.window_control import MarkingControl

MOVED_SCREEN_PX = 5.0
"""A shorter way is a click, not a drag."""


def _zooms(callback: Any) -> bool:
    return getattr(callback, "__name__", "") == "double_click_to_zoom"


class Mouse:
    """Callbacks on the viewer itself, so that they work whichever layer is active."""

    def __init__(self, viewer: ViewerModel, control: MarkingControl) -> None:
        self.viewer, self.control = viewer, control
        self._callbacks = (
            (viewer.mouse_move_callbacks, self._moved),
            (viewer.mouse_drag_callbacks, self._pressed),
            (viewer.mouse_double_click_callbacks, self._twice),
        )
        self._zooms = [one for one in viewer.mouse_double_click_callbacks if _zooms(one)]
        for zooms in self._zooms:  # two quick clicks are two marks here; the wheel and + zoom
            viewer.mouse_double_click_callbacks.remove(zooms)
        for callbacks, ours in self._callbacks:
            callbacks.append(ours)

    def close(self) -> None:
        """Take the callbacks off."""
        for callbacks, ours in self._callbacks:
            if ours in callbacks:
                callbacks.remove(ours)
        self.viewer.mouse_double_click_callbacks.extend(self._zooms)

    def _moved(self, _viewer: Any, event: Any) -> None:
        self.control.mouse_moved()
        over = self.control.hover()
        if over and over != self.control.chosen:
            self.control.choose(over)

    def _pressed(self, viewer: Any, event: Any) -> Iterator[None]:
        if event.button != 1:
            return
        control = self.control
        control.mouse_moved()
        start = control.layers.to_px(event.position)
        if "Shift" in event.modifiers:
            control.clicks += 1
            panned, control.layers.camera.mouse_pan = control.layers.camera.mouse_pan, False
            self._mark(start)
            yield
            while event.type == "mouse_move":
                event.handled = True
                yield
            control.layers.camera.mouse_pan = panned
            return
        uid = control.layers.marks.near(*start, control.layers.screen_per_px)
        chosen_before = bool(uid) and uid == control.chosen
        if not uid:
            return
        panned, control.layers.camera.mouse_pan = control.layers.camera.mouse_pan, False
        yield
        while event.type == "mouse_move":
            event.handled = True
            yield
        last = control.layers.to_px(event.position)
        control.layers.camera.mouse_pan = panned
        control.clicks += 1
        far = max(abs(last[0] - start[0]), abs(last[1] - start[1])) * control.layers.screen_per_px
        if chosen_before and far > MOVED_SCREEN_PX:
            mark = control.layers.marks.mark(uid)
            if mark is not None:
                place = (mark.x_px + last[0] - start[0], mark.y_px + last[1] - start[1])
                control.move_mark(uid, place)
                return
        control.choose(uid)

    def _twice(self, _viewer: Any, event: Any) -> None:
        if "Shift" in event.modifiers:
            self.control.clicks += 1
            self._mark(self.control.layers.to_px(event.position))
            event.handled = True

    def _mark(self, place: tuple[float, float]) -> None:
        self.control.click_mark(place)
