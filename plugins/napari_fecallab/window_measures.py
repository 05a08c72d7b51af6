"""Measuring: a line by two points, an outline by five or more."""

from __future__ import annotations

from napari_fecallab.window_cross import CrossControl

LEAST_OUTLINE_POINTS = 5


class MeasureControl(CrossControl):
    """Sizes of marks."""

    def do_measure_line(self) -> None:
        """One end, then the other end of the mark at the pointer."""
        if not self.drawing:
            uid = self._needed_mark()
            if not uid:
                return
            self._begin_drawing(uid)
            self.say("One end is set. Point at the other end and press M again.")
            return
        uid, points = self._drawing_for, self.drawing
        end = self.pointer
        self._forget_drawing()
        if len(points) > 1:
            self.say("An outline was begun; Enter ends it, Escape calls it off.")
            self.drawing, self._drawing_for = points, uid
            return
        self._did(self.session.measure_line(uid, points[0], end))
        self.choose(uid)

    def do_measure_outline(self) -> None:
        """One more point around the mark."""
        if not self.drawing:
            uid = self._needed_mark()
            if not uid:
                return
            self._begin_drawing(uid)
        else:
            self.drawing.append(self.pointer)
            self.layers.show_measures(self.session.marks(), self.drawing)
        left = LEAST_OUTLINE_POINTS - len(self.drawing)
        self.say(f"{len(self.drawing)} set. " + (f"{left} more at least." if left > 0 else "Enter ends it."))

    def do_end_outline(self) -> None:
        """Measure the outline."""
        if not self.drawing:
            self.say("No outline was begun: O sets points around the mark at the pointer.")
            return
        if len(self.drawing) < LEAST_OUTLINE_POINTS:
            self.say(f"An outline needs {LEAST_OUTLINE_POINTS} points; {len(self.drawing)} are set.")
            return
        uid, points = self._drawing_for, self.drawing
        self._forget_drawing()
        self._did(self.session.measure_outline(uid, points))
        self.choose(uid)

    def do_no_measure(self) -> None:
        """Take a size off."""
        if uid := self._needed_mark():
            self._did(self.session.remove_measure([uid]))
            self.choose(uid)

    def _begin_drawing(self, uid: str) -> None:
        self._drawing_for, self.drawing = uid, [self.pointer]
