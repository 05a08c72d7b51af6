"""What the keys do: session on one side, layers on the other; no Qt in here."""

from __future__ import annotations

from fecallab.domain.errors import FecallabError
from napari_fecallab.window_base import NO_FIELD, Point
from napari_fecallab.window_clips import ClipControl
from napari_fecallab.window_keys import ACTION_OF, ARROWS, DIGITS, FRAMES, ROW_KEY

WITHOUT_A_FIELD = ("finish", "help", "change_keys", "to_dock", "undo", "redo", "cancel", "back_to_marks")


class MarkingControl(ClipControl):
    """Takes keys and clicks, changes the session, keeps the canvas in step.

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

    def press(self, key: str) -> bool:
        """Do what a key means; says what was done, and never raises what a person can mend."""
        self.keys_pressed += 1
        try:
            return self._press(key)
        except FecallabError as error:
            self.waiting.clear()
            self.say(f"{error} {getattr(error, 'next', '')}".strip())
            return True

    def _press(self, key: str) -> bool:
        if not self.session.current and ACTION_OF.get(key) not in WITHOUT_A_FIELD:
            self.say(NO_FIELD)
            return True
        digit = key.removeprefix("Shift-")
        if digit == ROW_KEY and key == digit:
            self.waiting.add("row")
            self._tell("waiting")
            return True
        name = self._name_on(digit)
        if name is not None:
            self.use_name(name, sure=key == digit)
            return True
        if digit in DIGITS:
            self.waiting.clear()
            self.say("No organism is on this key. K puts one there.")
            return True
        if key in ARROWS:
            self._move_cross(*ARROWS[key])
            return True
        if key in FRAMES:
            self._step_frames(FRAMES[key])
            return True
        action = ACTION_OF.get(key)
        if action is None:
            return False
        if action not in ("wait_unsure", "wait_rename", "other_name"):
            self.waiting.clear()
        if action in self.wishes:
            self.wishes[action]()
        else:
            getattr(self, f"do_{action}")()
        return True

    def _name_on(self, digit: str) -> str | None:
        second = "row" in self.waiting
        for one in self.class_keys:
            if one.key.upper() == digit and one.second_row == second:
                return one.name
        return None

    def use_name(self, name: str, *, sure: bool = True) -> None:
        """Mark or rename by a name: what a number key, a click in the legend or a typed name does."""
        sure = sure and "unsure" not in self.waiting
        renames, swims = "rename" in self.waiting, "swimmers" in self.waiting
        self.waiting.clear()
        self.last_name = name
        if swims:
            self._keep_swimmers(name, sure=sure)
            return
        if renames:
            uid = self.mark_at_pointer
            if not uid:
                self.say("There is no mark at the pointer to rename.")
                return
            self._did(self.session.rename_marks([uid], name))
            self.choose(uid)
            return
        proposal = self.proposal_at_pointer
        if proposal is not None:
            self._accept(proposal, name, sure=sure)
            return
        self.mark_here(name, *self.pointer, sure=sure)

    def click_mark(self, place: Point) -> None:
        """Mark where the mouse was clicked, by the name that was used last or chosen in the legend."""
        name = self.last_name or next((one.name for one in self.class_keys), "")
        if not name:
            self.say("No organism is chosen yet: press its number once.")
            return
        try:
            self.mark_here(name, *place, sure="unsure" not in self.waiting)
        except FecallabError as error:
            self.say(str(error))

    def move_mark(self, uid: str, place: Point) -> None:
        """Move a mark to where it was dragged."""
        try:
            self._did(self.session.move_marks({uid: place}))
        except FecallabError as error:
            self.say(str(error))
        self.choose(uid)

    def do_wait_unsure(self) -> None:
        """The next number marks as not sure."""
        self.waiting ^= {"unsure"}
        self._tell("waiting")

    def do_wait_rename(self) -> None:
        """The next number renames."""
        if not self.mark_at_pointer:
            self.say("There is no mark at the pointer to rename.")
            return
        self.waiting ^= {"rename"}
        self._tell("waiting")

    def _step_frames(self, by: int) -> None:
        if self.layers.frames:
            at = (int(self.viewer.dims.current_step[0]) + by) % self.layers.frames
            self.viewer.dims.set_current_step(0, at)

    def do_play(self) -> None:
        """Without a window nothing plays; the frames can be stepped through."""
        self.say("This field is no clip." if not self.layers.frames else "Alt and an arrow step through it.")

    def do_other_name(self) -> None:
        """Ask for a name."""
        self.say("Names are typed in the window.")

    do_finish = do_help = do_change_keys = do_to_dock = do_other_name
