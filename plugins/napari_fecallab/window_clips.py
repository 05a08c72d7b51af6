"""Clips in the window: what moves is worked out on demand, shown over the film, and kept under the person's name."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from fecallab.domain.errors import FecallabError
from napari_fecallab.window_proposals import ProposalControl

if TYPE_CHECKING:
    from napari.components import ViewerModel

    from fecallab.imaging.motility import MotilityResult
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.views import FieldView
    from napari_fecallab.window_background import Background

NO_CLIP = "This field is no clip."
NOT_YET = "What moves is not worked out yet: press T first."
KEPT_ANSWERS = 6
"""Answers that are kept, so that going to another field and back does not work them out again (own choice)."""


class ClipControl(ProposalControl):
    """Work out, show, hide, keep."""

    def __init__(
        self,
        viewer: ViewerModel,
        session: MarkingSession,
        background: Background | None = None,
        later: Callable[[Callable[[], None]], None] | None = None,
    ) -> None:
        self.moving: MotilityResult | None = None
        """What moves in the clip that is shown; None while nobody has asked."""
        self.moving_rate: float | None = None
        """The frames per second that were given for it."""
        self._answers: dict[tuple[str, float | None], tuple[MotilityResult, float | None]] = {}
        super().__init__(viewer, session, background, later)

    def _show_pixels(self, view: FieldView) -> None:
        self.moving, self.clip = None, None
        super()._show_pixels(view)
        self._take_answer(view)

    def _scale_changed(self) -> None:
        super()._scale_changed()
        if self.clip is not None and self._shown_field == self.session.current:
            self._take_answer(self.session.field())

    def _take_answer(self, view: FieldView) -> None:
        """Show what was worked out before at this scale; what was worked out at another scale is wrong now."""
        if self.clip is None:
            return
        known = self._answers.get((view.uid, view.um_per_px))
        if known is not None:
            self._show_moving(*known)
        elif self.moving is not None:
            self.moving = None
            self.layers.show_tracks(None)
            self.say("The scale changed: T works out anew what moves.")
            self._tell("moving")

    def do_tell_moving(self) -> None:
        """Work out what moves; when that is done, hide the tracks and show them."""
        if self.clip is None:
            self.say(NO_CLIP)
        elif self.moving is not None:
            shown = self.layers.toggle_tracks()
            self.say("The tracks are shown." if shown else "The tracks are hidden; T shows them.")
        else:
            self.work_out_moving(self.session.clip_rate())

    def do_ask_rate(self) -> None:
        """Without a window no rate can be typed."""
        self.say("The rate is typed in the window." if self.clip is not None else NO_CLIP)

    def work_out_moving(self, fps: float | None = None) -> None:
        """Work out what moves in the clip that is shown, in the background.

        Parameters
        ----------
        fps : float, optional
            Frames per second, where the file has false ones (slow motion).
        """
        view = self.session.field()
        steps = self.session.moving_steps(fps=fps)
        self.say("Working out what moves …")

        def done(found: MotilityResult) -> None:
            self._answers[view.uid, view.um_per_px] = found, fps
            while len(self._answers) > KEPT_ANSWERS:
                self._answers.pop(next(iter(self._answers)))
            if view.uid == self._shown_field:
                self._show_moving(found, fps)
                self.say(self._said_of(found))

        self.background.run(f"Working out what moves in {view.clip_name}", steps, done, self._not_worked_out)

    def try_rate(self, fps: float) -> None:
        """Work out what moves at another rate; what cannot be is one line."""
        try:
            self.work_out_moving(fps)
        except FecallabError as error:
            self._not_worked_out(error)

    def _not_worked_out(self, error: Exception) -> None:
        if not isinstance(error, FecallabError):
            self.say(f"What moves could not be worked out: {type(error).__name__}.")
        elif error.reason.code == "stopped":
            self.say("Stopped. T begins anew.")
        else:
            self.say(str(error))

    def _show_moving(self, found: MotilityResult, fps: float | None) -> None:
        from napari_fecallab.clip_work import places_in_stack

        assert self.clip is not None
        self.moving, self.moving_rate = found, fps
        self.layers.show_tracks(found, places_in_stack(self.clip.times_s, found, fps))
        self._tell("moving")

    def _said_of(self, found: MotilityResult) -> str:
        from fecallab.report.moving import moving_facts

        facts = moving_facts(found)
        if not facts.assessable:
            return facts.lines[0]
        if found.motile_count:
            return f"{facts.headline}. C and a number keeps that under a name."
        return f"{facts.headline}. C keeps that."

    def do_keep_swimmers(self) -> None:
        """Put how many swim into the field; where something swims its name comes next."""
        if self.clip is None:
            self.say(NO_CLIP)
        elif self.moving is None:
            self.say(NOT_YET)
        elif self.moving.motile_count:
            self.waiting.add("swimmers")
            self._tell("waiting")
        else:
            self._keep_swimmers("")

    def _keep_swimmers(self, name: str, *, sure: bool = True) -> None:
        assert self.moving is not None
        self._did(self.session.keep_swimmers(self.moving, name, sure=sure, fps=self.moving_rate))
        self._tell("moving")
