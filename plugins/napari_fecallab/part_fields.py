"""Fields of the session: going from one to the next, what each shows, and saying that nothing is there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.checked import positive_number, whole_count
from fecallab.domain.clip_words import short_number
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import method_words
from fecallab.domain.field import FIELD_NUMBER_RANGE_MM, OBJECTIVE_RANGE
from fecallab.domain.spoken import say_date
from napari_fecallab.core import DONE_STATES, SessionCore
from napari_fecallab.names import checked_name
from napari_fecallab.picture_facts import PictureFacts, facts_of_pixels
from napari_fecallab.settings import BEFORE
from napari_fecallab.state import Change, Field
from napari_fecallab.views import FieldView, Outcome

if TYPE_CHECKING:
    from fecallab.imaging.read import PictureArray

NO_SCALE = "no scale: sizes cannot be told"


class FieldPart(SessionCore):
    """What the session does with whole fields."""

    _picture_facts: dict[str, PictureFacts]

    @property
    def title(self) -> str:
        """For the title bar: exam, animal, day."""
        exam = self.facts.exam
        return f"{exam.code} · {self.facts.animal.name} · {say_date(exam.examined_at)}"

    @property
    def notices(self) -> tuple[str, ...]:
        """What the person should read on opening: what came back from the journal, what changed meanwhile."""
        return tuple(self._notices)

    @property
    def preparations(self) -> tuple[tuple[str, str], ...]:
        """Code and words of every preparation."""
        return tuple((p.code, method_words(p.method)) for p in self.facts.preparations.values())

    def fields(self) -> tuple[FieldView, ...]:
        """Return all fields and sweeps in order."""
        return tuple(self.field(uid) for uid in self._order())

    def field(self, uid: str | None = None) -> FieldView:
        """Return one field, the current one when omitted."""
        uid = self._uid(uid)
        place, content = self._place(uid), self._content(uid)
        preparation = self.facts.preparations[place.preparation]
        state = self._state(uid)
        return FieldView(
            uid=uid,
            number=self._order().index(uid) + 1,
            of=len(self._order()),
            preparation=place.preparation,
            method=preparation.method,
            method_words=method_words(preparation.method),
            kind=place.kind,
            objective=place.objective,
            field_number=place.field_number,
            um_per_px=place.um_per_px,
            scale_words=scale_words(place),
            picture=place.picture,
            picture_name=place.picture_name,
            clip_name=place.clip_name,
            width_px=place.width_px,
            height_px=place.height_px,
            sure=self._seen(uid, True),
            unsure=self._seen(uid, False),
            state=state,
            done=state in DONE_STATES,
            recorded=uid in self._history.base_fields,
            changed=self._history.is_changed(uid),
            proposals_open=sum(one.state == "open" for one in content.proposals.values()),
            proposals_shown=content.seen.proposals,
            swimming=_swimming_words(place),
        )

    def _seen(self, uid: str, sure: bool) -> dict[str, int]:
        """Return the counts of a field: marks go before what was typed, as they do in the records."""
        place, content = self._place(uid), self._content(uid)
        if content.marks:
            return dict(content.tallies[sure])
        return dict(place.counts if sure else place.unsure)

    def go_to(self, uid: str) -> FieldView:
        """Make a field the current one; it counts as looked at from now on, not as empty."""
        self._uid(uid)
        if self.current and self.current != uid and self._state(self.current) in DONE_STATES:
            self._read_to_its_end(self.current)
        self._current = uid
        seen = self._content(uid).seen
        first = self.settings.proposals == BEFORE and bool(self._content(uid).proposals)
        word = (
            BEFORE if first and not seen.proposals and self._state(uid) not in DONE_STATES else seen.proposals
        )
        after = replace(seen, opened=True, proposals=word)
        if after != seen:
            self._note([Change("seen", uid, uid, seen, after)])
        self._tell("field", uid)
        return self.field(uid)

    def next_field(self) -> FieldView:
        """Go to the next field; stays at the last one."""
        return self._step(1)

    def previous_field(self) -> FieldView:
        """Go to the field before; stays at the first one."""
        return self._step(-1)

    def _step(self, by: int) -> FieldView:
        order = self._order()
        here = order.index(self._uid(None))
        return self.go_to(order[min(len(order) - 1, max(0, here + by))])

    def next_undone(self) -> FieldView | None:
        """Go to the next field that nothing was said of, from here on and around; None when all are done."""
        order = self._order()
        here = order.index(self._current) + 1 if self.current else 0
        for uid in (*order[here:], *order[:here]):
            if self._state(uid) not in DONE_STATES:
                return self.go_to(uid)
        return None

    def picture_path(self, field: str | None = None) -> Path | None:
        """Return where the picture of a field lies; None where it has none."""
        picture = self.facts.pictures.get(self._place(self._uid(field)).picture)
        return None if picture is None else self.facts.place.path(picture)

    def pixels(self, field: str | None = None) -> PictureArray | None:
        """Return the upright picture of a field, shape (h, w) or (h, w, 3), ``uint8`` or ``uint16``.

        Decoding a large picture takes long: call it from a worker thread. None where there is no picture.
        """
        from fecallab.imaging.read import open_picture

        path = self.picture_path(field)
        return None if path is None else open_picture(path)

    def picture_facts(
        self, field: str | None = None, pixels: PictureArray | None = None
    ) -> PictureFacts | None:
        """Return lit circle, blur and quality of a field's picture; worked out once, best on a worker thread.

        From then on marks outside the lit circle are told, and sizes know the blur. None without a picture.
        """
        sha256 = self._place(self._uid(field)).picture
        if not sha256:
            return None
        known = self._picture_facts.get(sha256)
        if known is None:
            pixels = self.pixels(field) if pixels is None else pixels
            assert pixels is not None
            known = facts_of_pixels(pixels)
            self._picture_facts[sha256] = known
        return known

    def nothing_here(self, field: str | None = None) -> Outcome:
        """Say that a field shows nothing: a zero that counts. Refused while it has marks or counts."""
        uid = self._uid(field)
        place = self._place(uid)
        held = sum(self._seen(uid, True).values()) + sum(self._seen(uid, False).values())
        if held:
            raise BadInput(
                f"There {'is 1 mark' if held == 1 else f'are {held} marks'} in {self._number(uid)},"
                " so it is not empty.",
                next="Delete what is wrong first; undo brings it back.",
                code="not-empty",
            )
        if place.nothing:
            return Outcome((uid,), "nothing here, as said before")
        words = f"nothing in {self._number(uid)}"
        self._do(words, [Change("field", uid, uid, place, replace(place, nothing=True))], kind="field")
        return Outcome((uid,), words)

    def set_counts(
        self, sure: Mapping[str, int], unsure: Mapping[str, int] | None = None, field: str | None = None
    ) -> Outcome:
        """Type how many of each were counted in a field (a sweep, a clip), instead of marks; one step.

        Refused while the field has marks. No counts at all are no word yet: say `nothing_here` for a zero.
        """
        uid = self._uid(field)
        place = self._place(uid)
        if self._content(uid).marks:
            raise BadInput(
                f"{self._number(uid).capitalize()} has marks, and they are what is counted.",
                next="Delete them first, or mark the others too.",
                code="has-marks",
            )
        typed = [
            tuple(
                (checked_name(name), whole_count(n, f"the count of {name}"))
                for name, n in counts.items()
                if n
            )
            for counts in (sure, unsure or {})
        ]
        new = replace(place, counts=typed[0], unsure=typed[1], nothing=False)
        words = f"{sum(n for pairs in typed for _, n in pairs)} counted in {self._number(uid)}"
        self._do(words, [Change("field", uid, uid, place, new)], kind="field")
        return Outcome((uid,), words)

    def set_swimming(
        self,
        mean: float | None,
        low: float | None = None,
        high: float | None = None,
        seconds: float | None = None,
        field: str | None = None,
    ) -> Outcome:
        """Keep how many swim at once in the clip of a field, with its interval; None takes it away. One step."""
        uid = self._uid(field)
        place = self._place(uid)
        for value, what in (
            (mean, "the mean"),
            (low, "the lower limit"),
            (high, "the upper limit"),
            (seconds, "seconds"),
        ):
            if value is not None and not 0 <= value < 1e6:
                raise BadInput(
                    f"{what} is {value!r}; it is 0 or more.", next="Check the number.", code="swimming"
                )
        swimming = None if mean is None else (mean, low, high)
        new = replace(place, swimming=swimming, clip_seconds=seconds)
        words = f"swimming in {self._number(uid)}: {_swimming_words(new) or 'not measured'}"
        self._do(words, [Change("field", uid, uid, place, new)], kind="field")
        return Outcome((uid,), words)

    def remove_field(self, field: str | None = None) -> Outcome:
        """Take a field out of the exam, with its marks; one step."""
        uid = self._uid(field)
        order = self._order()
        here = order.index(uid)
        words = f"{self._number(uid)} removed"
        marks = [Change("mark", uid, m, held, None) for m, held in self._content(uid).marks.items()]
        if uid == self._current:
            self._current = next(iter(order[here + 1 :] or order[:here][::-1]), "")
        self._do(words, [*marks, Change("field", uid, uid, self._place(uid), None)], kind="field")
        told = (f"{uid} stands in the records; it is withdrawn when you finish.",)
        return Outcome((uid,), words, told if uid in self._history.base_fields else ())

    def set_objective(
        self,
        objective: float | None,
        field_number: float | None = None,
        fields: Iterable[str] | None = None,
    ) -> Outcome:
        """Say what fields were looked at with (the current one when omitted); one step.

        A field number (mm) that is not given stays as it is.
        """
        if objective is not None:
            positive_number(objective, "the objective", least=OBJECTIVE_RANGE[0], most=OBJECTIVE_RANGE[1])
        if field_number is not None:
            least, most = FIELD_NUMBER_RANGE_MM
            positive_number(field_number, "the field number", least=least, most=most, unit="mm")
        changes = []
        for uid in map(self._uid, [None] if fields is None else fields):
            place = self._place(uid)
            number = place.field_number if field_number is None else field_number
            new = replace(place, objective=objective, field_number=number)
            changes.append(Change("field", uid, uid, place, new))
        words = f"objective {objective:g}×" if objective else "objective not known"
        self._do(words, changes, kind="field")
        return Outcome(tuple(c.uid for c in changes), words)


def scale_words(place: Field) -> str:
    """Say the scale of a field.

    Examples
    --------
    >>> scale_words(Field(preparation="E1-1", um_per_px=0.65, scale_half_width=0.004, scale_from="the lit circle"))
    '0.65 ± 0.004 µm per pixel, from the lit circle'
    >>> scale_words(Field(preparation="E1-1"))
    'no scale: sizes cannot be told'
    """
    if place.um_per_px is None:
        return NO_SCALE
    within = f" ± {place.scale_half_width:.2g}" if place.scale_half_width else ""
    source = f", from {place.scale_from}" if place.scale_from else ""
    return f"{place.um_per_px:.4g}{within} µm per pixel{source}"


def _swimming_words(place: Field) -> str:
    if place.swimming is None:
        return ""
    mean, low, high = place.swimming
    within = f" ({short_number(low)} to {short_number(high)})" if low is not None and high is not None else ""
    return f"{short_number(mean)} at once{within}"
