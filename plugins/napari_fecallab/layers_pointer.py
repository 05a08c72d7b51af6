"""The pointer: where the next mark goes, by mouse or by arrow keys, and which mark is chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from napari.layers import Points

Point = tuple[float, float]
CROSS_SCREEN_PX, RING_SCREEN_PX = 34, 46


class PointerLayer:
    """One Points layer with at most four rows: a cross and a ring, each white on black."""

    def __init__(self) -> None:
        from napari.layers import Points

        self.cross: Point | None = None
        self.ring: Point | None = None
        self._ring_px = 0.0
        self._screen_per_px = 1.0
        self.layer: Points = Points(
            np.empty((0, 2)), ndim=2, name="pointer", face_color="white", border_width=0, border_color="black"
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
        places, symbols, sizes, colours = [], [], [], []
        if self.ring is not None:
            size = max(self._ring_px * 1.3, RING_SCREEN_PX / self._screen_per_px)
            for colour, larger in (("black", 1.0), ("white", 0.94)):
                places.append(self.ring)
                symbols.append("ring")
                sizes.append(size * larger)
                colours.append(colour)
        if self.cross is not None:
            size = CROSS_SCREEN_PX / self._screen_per_px
            for colour, larger in (("black", 1.0), ("white", 0.8)):
                places.append(self.cross)
                symbols.append("x" if larger < 0 else "cross")
                sizes.append(size * larger)
                colours.append(colour)
        layer = self.layer
        layer.data = np.array(places, float).reshape(-1, 2)[:, ::-1]
        if places:
            layer.symbol = symbols
            layer.size = np.array(sizes)
            layer.face_color = colours
