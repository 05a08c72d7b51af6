"""The place for proposals: what a detector offers, hidden until a person has read the field once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fecallab.domain.errors import BadInput
from napari_fecallab.core import DONE_STATES, SessionCore
from napari_fecallab.kept_proposals import KeptOfPicture, PictureToPropose, as_offered, is_made, kept_of
from napari_fecallab.measures import place_px
from napari_fecallab.names import checked_name, label_of
from napari_fecallab.settings import AFTER, BEFORE, OFF, PROPOSALS_WHEN, write_settings
from napari_fecallab.state import Change, Mark, Proposal, uid_order
from napari_fecallab.views import Outcome, ProposalView

if TYPE_CHECKING:
    from fecallab.imaging.detect.propose import Proposal as Found

OPEN, ACCEPTED, DISMISSED = "open", "accepted", "dismissed"
LEAST_PX, SHARE_OF_LENGTH = 6.0, 0.35
"""A proposal whose centre lies so near to a mark is of the thing that is marked already."""
Offered = tuple[str, float, float, float | None, float | None, float | None]
"""Name, x, y (px), length and width (µm), angle (deg)."""


class ProposalPart(SessionCore):
    """What the session does with proposals."""

    def offer_proposals(self, field: str, proposals: Sequence[Offered]) -> tuple[str, ...]:
        """Put proposals on a field in place of those that are still open; returns their uids. No undo step.

        They count for nothing. Those that a person accepted or dismissed before stay so.
        """
        self._refuse_if_read_only()
        return self._offer(self._uid(field), [_checked(*offered) for offered in proposals])

    def _offer(self, uid: str, proposals: Sequence[Proposal]) -> tuple[str, ...]:
        held = self._content(uid).proposals
        gone = [Change("proposal", uid, one, held[one], None) for one in held if held[one].state == OPEN]
        new = {self._draft.new_uid("p"): made for made in proposals}
        self._note([*gone, *(Change("proposal", uid, one, None, made) for one, made in new.items())])
        if new and self.settings.proposals == BEFORE and uid == self._current:
            self._shown(uid, BEFORE)
        self._tell("proposals", uid, tuple(new))
        return tuple(new)

    def take_kept_proposals(self, field: str | None = None) -> KeptOfPicture:
        """Put on a field what `fecallab exam propose` keeps of its picture, unless it lies there already.

        What lies where a person accepted or dismissed a proposal before does not come again.
        """
        uid = self._uid(field)
        place = self._place(uid)
        kept = kept_of(self.folder, place)
        if self.read_only or not kept.made:
            return kept
        held = self._content(uid).proposals.values()
        settled = [one for one in held if one.state != OPEN]
        fresh = [one for one in kept.found if not _near(one, settled, place.um_per_px)]
        if [_lies(one) for one in fresh] != [_lies(one) for one in held if one.state == OPEN]:
            method = self.facts.preparations[place.preparation].method
            self._offer(uid, [as_offered(one, self.facts.host, method) for one in fresh])
        return kept

    def pictures_to_propose(self) -> tuple[PictureToPropose, ...]:
        """Return the pictures of this exam that have a scale and no proposals for it yet."""
        found: dict[str, PictureToPropose] = {}
        for uid in self._order():
            place = self._place(uid)
            picture = self.facts.pictures.get(place.picture)
            if picture is None or not place.um_per_px:
                continue
            if not is_made(self.folder, place):
                optics = f"{place.objective:g}x" if place.objective else ""
                found[place.picture] = PictureToPropose(
                    str(self.folder),
                    place.picture,
                    place.um_per_px,
                    optics,
                    str(self.facts.place.path(picture)),
                    place.picture_name or "a picture",
                )
        return tuple(found.values())

    def proposals(self, field: str | None = None) -> tuple[ProposalView, ...]:
        """Return the open proposals that may be shown now; those of things that are marked already are left out.

        None when they are off; none before the field was read once, unless the person wants them before
        reading. A field was read once when something was said of it and the person went on (`have_read`, or to
        another field), or said that nothing is there. Showing them is kept with the field.
        """
        uid = self._uid(field)
        waiting = self._waiting(uid)
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
                words=_words(held),
                state=held.state,
            )
            for one, held in waiting
        )

    def _waiting(self, uid: str) -> list[tuple[str, Proposal]]:
        """Return the open proposals of a field, without those of things that are marked."""
        content = self._content(uid)
        waiting = [
            (one, content.proposals[one])
            for one in sorted(content.proposals, key=uid_order)
            if content.proposals[one].state == OPEN
        ]
        if waiting and content.marks:
            marked = list(content.marks.values())
            scale = self._place(uid).um_per_px
            waiting = [pair for pair in waiting if not _near(pair[1], marked, scale)]
        return waiting

    def _may_show(self, uid: str) -> bool:
        when = self.settings.proposals
        if when == OFF:
            return False
        return when == BEFORE or self._content(uid).seen.proposals != "" or self._was_read(uid)

    def _was_read(self, uid: str) -> bool:
        """Say whether a person went through a field once; one mark alone does not tell it."""
        if self._state(uid) not in DONE_STATES:
            return False
        content = self._content(uid)
        return not content.marks or content.seen.read or bool(self._history.base_marks.get(uid))

    def have_read(self, field: str | None = None) -> int:
        """Say that a field was read to its end; returns how many proposals come up by it."""
        uid = self._uid(field)
        if self.read_only or self._state(uid) not in DONE_STATES or self._may_show(uid):
            return 0
        self._read_to_its_end(uid)
        shown = len(self.proposals(uid))
        if shown:
            self._tell("proposals", uid)
        return shown

    def _shown(self, uid: str, when: str) -> None:
        """Keep when proposals were shown first; what was seen before reading cannot become after."""
        seen = self._content(uid).seen
        if not seen.proposals:
            self._note([Change("seen", uid, uid, seen, replace(seen, proposals=when))])

    def accept_proposals(self, uids: Iterable[str], name: str = "", *, sure: bool = True) -> Outcome:
        """Make marks of proposals, under their own name or another; one step. The marks' uids are returned.

        Raises
        ------
        BadInput
            When one has no name of its own and none is given: more than one organism, or none, has its size.
        """
        known = checked_name(name) if name else ""
        changes: list[Change] = []
        made: list[str] = []
        for uid in dict.fromkeys(uids):
            field, held = self._proposal(uid)
            if not (known or held.name):
                raise BadInput(
                    f"Its size does not say what it is ({held.words}).",
                    next="Press the number of its name, or N; D puts it away.",
                    code="proposal-without-name",
                )
            mark = Mark(
                x_px=held.x_px,
                y_px=held.y_px,
                name=known or held.name,
                sure=sure,
                length_um=held.length_um,
                length_half_um=held.length_half_um,
                width_um=held.width_um,
                width_half_um=held.width_half_um,
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
        """Return an open proposal that is settled now: it was seen, whatever was asked before."""
        field = self._field_of(uid)
        held = self._content(field).proposals.get(uid)
        if held is None or held.state != OPEN:
            raise BadInput(f"There is no open proposal {uid!r}.", code="unknown-proposal")
        if not self.read_only:
            self._shown(field, AFTER if self._state(field) in DONE_STATES else BEFORE)
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


def _words(held: Proposal) -> str:
    if held.words:
        across = f" × {held.width_um:.0f}" if held.width_um else ""
        return f"{held.words}, {held.length_um:.0f}{across} µm" if held.length_um else held.words
    size = f", about {held.length_um:.0f} µm long" if held.length_um else ""
    return f"{label_of(held.name)}?{size}"


def _lies(one: Proposal | Found) -> tuple[float | None, ...]:
    return one.x_px, one.y_px, one.length_um, one.width_um


def _near(one: Proposal | Found, others: Sequence[Mark | Proposal], um_per_px: float | None) -> bool:
    """Say whether a proposal is of a thing that a mark or another proposal is of."""
    if not others:
        return False
    reach = LEAST_PX
    if one.length_um and um_per_px:
        reach = max(reach, SHARE_OF_LENGTH * one.length_um / um_per_px)
    x, y = np.array([(other.x_px, other.y_px) for other in others]).T
    return bool((np.hypot(x - one.x_px, y - one.y_px) <= reach).any())


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
