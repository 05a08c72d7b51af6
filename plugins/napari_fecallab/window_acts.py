"""What can be done to fields and marks."""

from __future__ import annotations

from fecallab.domain.spoken import number_of
from napari_fecallab.layers_proposals import PROPOSAL_LAYERS
from napari_fecallab.window_base import NO_PICTURE, STILL_READING
from napari_fecallab.window_measures import MeasureControl


class ActControl(MeasureControl):
    """Marks, undo, fields."""

    def mark_here(self, name: str, x_px: float, y_px: float, *, sure: bool = True) -> None:
        """Mark one organism at a place of the picture."""
        view = self.session.field()
        if not self.ready:
            self.say(STILL_READING)
            return
        if not view.picture and not view.clip_name:
            self.say(NO_PICTURE)
            return
        if view.width_px and not (
            -0.5 <= x_px <= view.width_px - 0.5 and -0.5 <= y_px <= view.height_px - 0.5
        ):
            self.say("The pointer is outside the picture; nothing was marked.")
            return
        outcome = self.session.add_mark(name, float(x_px), float(y_px), sure=sure)
        self._did(outcome)
        self.choose(outcome.uids[0])

    def do_toggle_sure(self) -> None:
        """Sure becomes unsure, unsure sure."""
        if uid := self._needed_mark():
            self._did(self.session.set_sure([uid]))
            self.choose(uid)

    def do_delete(self) -> None:
        """Take a mark away; undo brings it back."""
        if uid := self._needed_mark():
            self._did(self.session.delete_marks([uid]))
            self.choose("")

    def do_undo(self) -> None:
        """Take the last step back."""
        self._after_history(self.session.undo(), "There is nothing to take back.")

    def do_redo(self) -> None:
        """Do it again."""
        self._after_history(self.session.redo(), "There is nothing to do again.")

    def _after_history(self, words: str, nothing: str) -> None:
        if self.session.current != self._shown_field:
            self._show(self.session.field())
        if self.chosen and self.layers.marks.mark(self.chosen) is None:
            self.choose("")
        self.say(words or nothing)

    def do_next_field(self) -> None:
        """Go on."""
        before = self._shown_field
        if come := self.session.have_read():
            self.say(
                f"You have read this field: {number_of(come, 'proposal')} for it. P goes there, Space goes on."
            )
            return
        self._show(self.session.next_field())
        if self._shown_field == before:
            self.say("This is the last field. Q reads over and records.")

    def do_previous_field(self) -> None:
        """Go back."""
        self._show(self.session.previous_field())

    def do_next_undone(self) -> None:
        """Go to where something is still to be said."""
        view = self.session.next_undone()
        if view is None:
            self.say("Something is said of every field. Q reads over and records.")
        else:
            self._show(view)

    def do_nothing_here(self) -> None:
        """Store a zero and go on."""
        self._did(self.session.nothing_here())
        message = self.message
        self._show_proposals()
        if self._proposals:
            self.say(f"{message}. Proposals wait in this field: P goes to them, Space goes on.")
            return
        self._show(self.session.next_field())
        self.say(message)

    def do_hide_marks(self) -> None:
        """Look under the marks, and under what is proposed."""
        layer = self.layers.marks.layer
        layer.visible = not layer.visible
        for name in PROPOSAL_LAYERS:
            if name in self.viewer.layers:
                self.viewer.layers[name].visible = layer.visible
        self._tell("layers")

    def do_back_to_marks(self) -> None:
        """Make the marks active."""
        self.layers.make_active()
        self._tell("layers")

    def do_cancel(self) -> None:
        """Call off."""
        self._forget_drawing()
        self.layers.make_active()
        self.choose("")
        self.say("")
