"""Measuring: a line by two points, an outline by five or more; the mark that lies in it gets the size."""

from __future__ import annotations

import math
from collections.abc import Sequence

from napari_fecallab.window_base import Point
from napari_fecallab.window_cross import CrossControl

LEAST_OUTLINE_POINTS = 5
LINE_REACH = 0.35
"""How far from the middle of a line its mark may lie, as a share of the line."""
NO_MARK_IN_IT = "No mark lies in what was drawn: mark the organism first. Nothing was measured."


class MeasureControl(CrossControl):
    """Sizes of marks."""

    def do_measure_line(self) -> None:
        """One end, then the other end of a marked organism."""
        if not self.drawing:
            self._begin_drawing()
            self.say("One end is set. Point at the other end and press M again.")
            return
        if len(self.drawing) > 1:
            self.say("An outline was begun; Enter ends it, Escape calls it off.")
            return
        start, end = self.drawing[0], self.pointer
        self._forget_drawing()
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        uid = self._nearest(middle, LINE_REACH * math.dist(start, end))
        if not uid:
            self.say(NO_MARK_IN_IT)
            return
        self._did(self.session.measure_line(uid, start, end))
        self.choose(uid)

    def do_measure_outline(self) -> None:
        """One more point around a marked organism."""
        if not self.drawing:
            self._begin_drawing()
        else:
            self.drawing.append(self.pointer)
            self.layers.show_measures(self.session.marks(), self.drawing)
        left = LEAST_OUTLINE_POINTS - len(self.drawing)
        self.say(f"{len(self.drawing)} set. " + (f"{left} more at least." if left > 0 else "Enter ends it."))

    def do_end_outline(self) -> None:
        """Measure the outline."""
        if not self.drawing:
            self.say("No outline was begun: O sets points around a marked organism.")
            return
        if len(self.drawing) < LEAST_OUTLINE_POINTS:
            self.say(f"An outline needs {LEAST_OUTLINE_POINTS} points; {len(self.drawing)} are set.")
            return
        points = self.drawing
        self._forget_drawing()
        middle = (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
        inside = [m for m in self.session.marks() if within((m.x_px, m.y_px), points)]
        if not inside:
            self.say(NO_MARK_IN_IT)
            return
        uid = min(inside, key=lambda mark: math.dist((mark.x_px, mark.y_px), middle)).uid
        self._did(self.session.measure_outline(uid, points))
        self.choose(uid)

    def do_no_measure(self) -> None:
        """Take a size off."""
        if uid := self._needed_mark():
            self._did(self.session.remove_measure([uid]))
            self.choose(uid)

    def _begin_drawing(self) -> None:
        self.drawing = [self.pointer]

    def _nearest(self, place: Point, reach_px: float) -> str:
        marks = [(math.dist((m.x_px, m.y_px), place), m.uid) for m in self.session.marks()]
        away, uid = min(marks, default=(math.inf, ""))
        return uid if away <= reach_px else ""


def within(place: Point, outline: Sequence[Point]) -> bool:
    """Say whether a place lies inside a closed outline.

    Examples
    --------
    >>> within((1, 1), [(0, 0), (2, 0), (2, 2), (0, 2)]), within((3, 1), [(0, 0), (2, 0), (2, 2), (0, 2)])
    (True, False)
    """
    x, y = place
    inside = False
    for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
            inside = not inside
    return inside
