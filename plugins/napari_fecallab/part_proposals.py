"""The place for proposals: what a detector offers, hidden until a person has read the field once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from fecallab.domain.errors import BadInput
from napari_fecallab.core import DONE_STATES, SessionCore
from napari_fecallab.measures import place_px
from napari_fecallab.names import checked_name, label_of
from napari_fecallab.settings import AFTER, BEFORE, OFF, PROPOSALS_WHEN, write_settings
from napari_fecallab.state import Change, Mark, Proposal, uid_order
from napari_fecallab.views import Outcome, ProposalView

OPEN, ACCEPTED, DISMISSED = "open", "accepted", "dismissed"
Offered = tuple[str, float, float, float | None, float | None, float | None]
"""Name, x, y (px), length and width (µm), angle (deg)."""


class ProposalPart(SessionCore):
    """What the session does with proposals."""

    def offer_proposals(self, field: str, proposals: Sequence[Offered]) -> tuple[str, ...]:
        """Put proposals on a field in place of those that are still open; returns their uids. No undo step.

        They count for nothing. Those that a person accepted or dismissed before stay so.
        """
        self._refuse_if_read_only()
        uid = self._uid(field)
        held = self._content(uid).proposals
        gone = [Change("proposal", uid, one, held[one], None) for one in held if held[one].state == OPEN]
        new = {self._draft.new_uid("p"): made for made in [_checked(*offered) for offered in proposals]}
        self._note([*gone, *(Change("proposal", uid, one, None, made) for one, made in new.items())])
        if new and self.settings.proposals == BEFORE and uid == self._current:
            self._shown(uid, BEFORE)
        self._tell("proposals", uid, tuple(new))
        return tuple(new)

    def proposals(self, field: str | None = None) -> tuple[ProposalView, ...]:
        """Return the open proposals that may be shown now.

        None when they are off; none before the field was read once (it has a mark, or nothing is here), unless
        the person wants them before reading. Showing them is kept with the field.
        """
        uid = self._uid(field)
        content = self._content(uid)
        waiting = [one for one, held in content.proposals.items() if held.state == OPEN]
        if not waiting or not self._may_show(uid):
            return ()
        if not self.read_only:
            self._shown(uid, AFTER if self._state(uid) in DONE_STATES else BEFORE)
        return tuple(
            ProposalView(
                uid=one,
                field=uid,
                x_px=held.x_px,
                y_px=held.y_px,
                name=held.name,
                length_um=held.length_um,
                width_um=held.width_um,
                angle_deg=held.angle_deg,
                words=self._words(held),
                state=held.state,
            )
            for one in sorted(waiting, key=uid_order)
            for held in (content.proposals[one],)
        )

    def _may_show(self, uid: str) -> bool:
        when = self.settings.proposals
        if when == OFF:
            return False
        seen = self._content(uid).seen.proposals
        return when == BEFORE or seen != "" or self._state(uid) in DONE_STATES

    def _shown(self, uid: str, when: str) -> None:
        """Keep when proposals were shown first; what was seen before reading cannot become after."""
        seen = self._content(uid).seen
        if not seen.proposals:
            self._note([Change("seen", uid, uid, seen, replace(seen, proposals=when))])

    def _words(self, held: Proposal) -> str:
        size = f", about {held.length_um:.0f} µm long" if held.length_um else ""
        return f"{label_of(held.name)}?{size}"

    def accept_proposals(self, uids: Iterable[str], name: str = "", *, sure: bool = True) -> Outcome:
        """Make marks of proposals, under their own name or another; one step. The marks' uids are returned."""
        known = checked_name(name) if name else ""
        changes: list[Change] = []
        made: list[str] = []
        for uid in dict.fromkeys(uids):
            field, held = self._proposal(uid)
            mark = Mark(
                x_px=held.x_px,
                y_px=held.y_px,
                name=known or held.name,
                sure=sure,
                length_um=held.length_um,
                width_um=held.width_um,
                angle_deg=held.angle_deg,
                named_by=self.by,
            )
            made.append(self._draft.new_uid("m"))
            changes.append(Change("proposal", field, uid, held, replace(held, state=ACCEPTED)))
            changes.append(Change("mark", field, made[-1], None, mark))
        words = "1 proposal became a mark" if len(made) == 1 else f"{len(made)} proposals became marks"
        self._do(words, changes)
        self._tell("proposals", changes[0].field if changes else "")
        return Outcome(tuple(made), words)

    def dismiss_proposals(self, uids: Iterable[str]) -> Outcome:
        """Put proposals away; one step."""
        changes = []
        for uid in dict.fromkeys(uids):
            field, held = self._proposal(uid)
            changes.append(Change("proposal", field, uid, held, replace(held, state=DISMISSED)))
        words = f"{len(changes)} proposal{'s' * (len(changes) != 1)} dismissed"
        self._do(words, changes, kind="proposals")
        return Outcome(tuple(change.uid for change in changes), words)

    def _proposal(self, uid: str) -> tuple[str, Proposal]:
        field = self._field_of(uid)
        held = self._content(field).proposals.get(uid)
        if held is None or held.state != OPEN:
            raise BadInput(f"There is no open proposal {uid!r}.", code="unknown-proposal")
        return field, held

    @property
    def proposals_when(self) -> str:
        """When proposals are shown: ``after reading`` (default), ``before reading`` or ``off``."""
        return self.settings.proposals

    def set_proposals_when(self, when: str) -> None:
        """Change that, for this person and kept."""
        if when not in PROPOSALS_WHEN:
            raise BadInput(f"{when!r} is none of: {', '.join(PROPOSALS_WHEN)}.", code="not-a-choice")
        self.settings = replace(self.settings, proposals=when)
        self._tell("proposals")
        write_settings(self.folder, self.by, self.settings)


def _checked(
    name: str, x: float, y: float, length: float | None, width: float | None, angle: float | None
) -> Proposal:
    """Return a proposal that can become a mark as it is; a size that is none is left out."""
    sizes = [s if s is not None and math.isfinite(s) and s > 0 else None for s in (length, width)]
    turned = None if angle is None or not math.isfinite(angle) else float(angle) % 180 % 180
    return Proposal(
        name=checked_name(name),
        x_px=place_px(x, "column"),
        y_px=place_px(y, "row"),
        length_um=sizes[0],
        width_um=sizes[1],
        angle_deg=turned,
    )
