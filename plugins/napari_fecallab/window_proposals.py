"""Proposals: they stand in place, and count for nothing until a person accepts them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from napari_fecallab.settings import OFF
from napari_fecallab.window_acts import ActControl

if TYPE_CHECKING:
    from napari_fecallab.views import ProposalView


class ProposalControl(ActControl):
    """Accept, name, put away."""

    @property
    def proposal_at_pointer(self) -> ProposalView | None:
        """The open proposal at the pointer."""
        x, y = self.pointer
        reach = 24 / max(self.layers.screen_per_px, 1e-9)
        near = [(max(abs(one.x_px - x), abs(one.y_px - y)), one) for one in self.session.proposals()]
        near = [(away, one) for away, one in near if away <= max(reach, 0.5 * self._px(one.length_um))]
        return min(near, key=lambda pair: pair[0])[1] if near else None

    def _px(self, length_um: float | None) -> float:
        return length_um / self.layers.um_per_px if length_um and self.layers.um_per_px else 0.0

    def do_next_proposal(self) -> None:
        """Cross to the next proposal."""
        self.session.have_read()
        open_ones = self.session.proposals()
        if not open_ones:
            self.say(self._why_none())
            return
        here = self.pointer
        places = sorted((one.y_px, one.x_px) for one in open_ones)
        later = [place for place in places if place > (here[1] + 0.01, here[0])]
        row, column = (later or places)[0]
        self.point_at((column, row))
        one = self.proposal_at_pointer
        self.say(one.words or one.name.replace("_", " ") if one else "")

    def _why_none(self) -> str:
        view = self.session.field()
        if self.session.proposals_when == OFF:
            return "Proposals are off: the button Proposals turns them on."
        if view.proposals_open and not view.done:
            return "Read the field first: mark what you see, or E for nothing. Then proposals come."
        return self.session.take_kept_proposals().says or "No proposal waits in this field."

    def do_accept(self) -> None:
        """Make a mark of a proposal."""
        one = self.proposal_at_pointer
        if one is None:
            self.say("There is no proposal at the pointer.")
            return
        self._accept(one, "", sure=True)

    def _accept(self, one: ProposalView, name: str, *, sure: bool) -> None:
        outcome = self.session.accept_proposals([one.uid], name, sure=sure)
        self._show_marks()
        self._did(outcome)
        if outcome.uids:
            self.choose(outcome.uids[-1])

    def do_dismiss(self) -> None:
        """Put a proposal away."""
        one = self.proposal_at_pointer
        if one is None:
            self.say("There is no proposal at the pointer.")
            return
        outcome = self.session.dismiss_proposals([one.uid])
        self._show_marks()
        self._did(outcome)
