"""The pointer: where the next mark goes, by mouse or by arrow keys, and which mark is chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from napari.layers import Image, Points

Point = tuple[float, float]
CROSS_SCREEN_PX, RING_SCREEN_PX, LARGEST_RING_SCREEN_PX, RIM_SCREEN_PX = 34, 46, 160, 4.0


def quiet_points(*data: Any, **options: Any) -> Points:
    """Make a Points layer that does not say what lies under the mouse.

    napari asks for that in a thread of its own, while rows come and go in the main thread, and shows a traceback
    when it meets the layer half changed. The panel says more, and says it from the session. It has no small
    picture of itself either: nobody looks at one of marks, and it costs a few ms four times for every key.
    """
    from napari.layers import Points

    class QuietPoints(Points):  # type: ignore[misc]
        def get_value(self, position: Any, **_options: Any) -> None:
            return None

        def _update_thumbnail(self) -> None:
            return None

    return QuietPoints(*data, **options)


def quiet_image(*data: Any, **options: Any) -> Image:
    """Make an Image layer that does not say what lies under the mouse (see `quiet_points`)."""
    from napari.layers import Image

    class QuietImage(Image):  # type: ignore[misc]
        def get_value(self, position: Any, **_options: Any) -> None:
            return None

    return QuietImage(*data, **options)


def set_places(layer: Points, places: Any) -> None:
    """Give a layer other places without telling the viewer.

    The viewer would work out anew, twice for every mark, how far its layers reach; marks lie inside the picture.
    """
    with layer.events.data.blocker():
        layer.data = places


class PointerLayer:
    """One Points layer with at most four rows: a ring and a cross, each a white line on a black one."""

    def __init__(self) -> None:
        self.cross: Point | None = None
        self.ring: Point | None = None
        self._ring_px = self._cross_px = 1.0
        self._ring_rim = 0.08
        self._drawn: tuple[object, ...] = ()
        self.layer: Points = quiet_points(
            np.empty((0, 2)),
            ndim=2,
            name="pointer",
            face_color="transparent",
            border_color="black",
            visible=False,
        )
        self.layer.editable = False

    def point_at(self, place: Point | None, screen_per_px: float) -> None:
        """Show the cross at a place (x, y) in pixels, or no cross while the mouse points."""
        self.cross, self._cross_px = place, CROSS_SCREEN_PX / max(screen_per_px, 1e-9)
        self._draw()

    def choose(self, place: Point | None, outer_px: float, screen_per_px: float) -> None:
        """Show the ring around the chosen mark, or none."""
        across = max(screen_per_px, 1e-9)
        self.ring = place
        self._ring_px = min(max(outer_px * 1.2, RING_SCREEN_PX / across), LARGEST_RING_SCREEN_PX / across)
        self._ring_rim = min(0.1, RIM_SCREEN_PX / (self._ring_px * across))
        self._draw()

    def _draw(self) -> None:
        rows = [
            (self.ring, "disc", self._ring_px, self._ring_rim),
            (self.cross, "cross", self._cross_px, 0.1),
        ]
        pairs = [
            (*row, colour, thin) for row in rows if row[0] for colour, thin in (("black", 1), ("white", 0.5))
        ]
        layer = self.layer
        if not pairs:
            if layer.visible:
                layer.visible = False
            return
        set_places(layer, np.array([row[0] for row in pairs], float)[:, ::-1])
        drawn = tuple(row[1:] for row in pairs)
        if drawn != self._drawn:
            self._drawn = drawn
            layer.symbol = [row[1] for row in pairs]
            layer.border_color = [row[4] for row in pairs]
            layer.border_width = np.array([row[3] * row[5] for row in pairs])
            layer.size = np.array([row[2] for row in pairs])
        if not layer.visible:
            layer.visible = True
