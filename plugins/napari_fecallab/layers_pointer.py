"""The pointer: where the next mark goes, by mouse or by arrow keys, and which mark is chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from napari.layers import Points

Point = tuple[float, float]
CROSS_SCREEN_PX, RING_SCREEN_PX = 34, 46


def quiet_points(*data: Any, **options: Any) -> Points:
    """Make a Points layer that does not say what lies under the mouse.

    napari asks for that in a thread of its own, while rows come and go in the main thread, and shows a traceback
    when it meets the layer half changed. The panel says more, and says it from the session.
    """
    from napari.layers import Points

    class QuietPoints(Points):  # type: ignore[misc]
        def get_value(self, position: Any, **_options: Any) -> None:
            return None

    return QuietPoints(*data, **options)


class PointerLayer:
    """One Points layer with at most four rows: a cross and a ring, each a white line on a black one."""

    def __init__(self) -> None:
        self.cross: Point | None = None
        self.ring: Point | None = None
        self._ring_px = 0.0
        self._screen_per_px = 1.0
        self.layer: Points = quiet_points(
            np.empty((0, 2)), ndim=2, name="pointer", face_color="transparent", border_color="black"
        )
        self.layer.editable = False

    def point_at(self, place: Point | None, screen_per_px: float) -> None:
        """Show the cross at a place (x, y) in pixels, or no cross while the mouse points."""
        self.cross, self._screen_per_px = place, max(screen_per_px, 1e-9)
        self._draw()

    def choose(self, place: Point | None, outer_px: float, screen_per_px: float) -> None:
        """Show the ring around the chosen mark, or none."""
        if place is None and self.ring is None:
            return
        self.ring, self._ring_px, self._screen_per_px = place, outer_px, max(screen_per_px, 1e-9)
        self._draw()

    def _draw(self) -> None:
        rows: list[tuple[Point, str, float, str, float]] = []
        across = self._screen_per_px
        if self.ring is not None:
            size = max(self._ring_px * 1.3, RING_SCREEN_PX / across)
            rows += [(self.ring, "disc", size, colour, rim) for colour, rim in _rims(size * across, 4.0)]
        if self.cross is not None:
            size = CROSS_SCREEN_PX / across
            rows += [(self.cross, "cross", size, colour, rim) for colour, rim in _rims(CROSS_SCREEN_PX, 3.0)]
        layer = self.layer
        layer.data = np.array([row[0] for row in rows], float).reshape(-1, 2)[:, ::-1]
        if rows:
            layer.symbol = [row[1] for row in rows]
            layer.size = np.array([row[2] for row in rows])
            layer.border_color = [row[3] for row in rows]
            layer.border_width = np.array([row[4] for row in rows])


def _rims(size_screen_px: float, wide_screen_px: float) -> tuple[tuple[str, float], tuple[str, float]]:
    """Return a black rim and a narrower white one inside it, as shares of the symbol."""
    share = min(0.3, wide_screen_px / max(size_screen_px, 1.0))
    return ("black", share), ("white", share / 2)
