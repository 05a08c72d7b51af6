"""The end of a session: a summary to read over, then everything recorded at once, or the draft thrown away."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import UTC, datetime

from fecallab.domain.errors import BadInput, CouldNot, Reason, Refused
from fecallab.domain.exam import method_words
from napari_fecallab import merging
from napari_fecallab.core import DONE_STATES, SessionCore
from napari_fecallab.facts import facts_of
from napari_fecallab.history import RECORDING, History
from napari_fecallab.opening import changes_of
from napari_fecallab.recording import ToRecord, counted_words, record, to_record
from napari_fecallab.views import Finished, SaveState, Summary

LONG_WAIT_S = 30.0


class FinishPart(SessionCore):
    """What the session does at its end."""

    def summary(self) -> Summary:
        """Return what `finish` would record, to read over."""
        wanted = to_record(self)
        lines = [f"{self.exam_code} of {self.facts.animal.name}, marked by {self.by}"]
        for code, made in self.facts.preparations.items():
            uids = [uid for uid in self._order() if self._place(uid).preparation == code]
            done = [uid for uid in uids if self._state(uid) in DONE_STATES]
            sure, unsure = self._in_all(done)
            lines.append(
                f"  {code} {method_words(made.method)}: {len(done)} of {len(uids)} read;"
                f" {counted_words(sure, unsure)}"
            )
        lines += self._new_lines(wanted)
        for code in wanted.corrected:
            lines.append(f"  Correction of {code}: {self._correction(code)}")
        lines += [f"  {code} is withdrawn from the records" for code in wanted.gone]
        if wanted.behind:
            lines.append(
                f"  Not looked at, or nothing said yet: {self._numbers(wanted.behind)}. These stay in the draft and count for nothing."
            )
        unread = [u for u in self._order() if u not in wanted.behind and self._state(u) not in DONE_STATES]
        if unread:
            lines.append(
                f"  Recorded without a mark and not looked at here: {self._numbers(unread)}."
                " The records count them as empty: look at them before you believe that."
            )
        lines += [f"  {self._without_word(uid)}" for uid in wanted.wordless]
        lines += self._unsized()
        if unknown := self._without_objective(wanted):
            lines.append(
                f"  Without an objective: {unknown}. Set it first: what a 10× cannot show is no negative."
            )
        if wanted.nothing:
            lines.append("  Nothing is to be recorded: all of it stands in the records.")
        if wanted.needs_reason:
            lines.append("  Recorded things change: say why.")
        return Summary(tuple(lines), wanted.needs_reason, wanted.nothing, len(wanted.behind) + len(unread))

    def _new_lines(self, wanted: ToRecord) -> list[str]:
        lines = []
        if wanted.new_uids:
            empty = sum(not self._content(u).marks and not self._place(u).counts for u in wanted.new_uids)
            zero = f", {empty} of them with nothing in it" if empty else ""
            lines.append(f"  New: {len(wanted.new_uids)} field{'s' * (len(wanted.new_uids) != 1)}{zero}")
        if wanted.filled:
            lines.append(f"  First marks or a first scale: {', '.join(wanted.filled)}")
        return lines

    def _numbers(self, uids: Sequence[str]) -> str:
        """Return which fields are meant: ``field 3``, ``fields 3, 5``."""
        numbers = [self._number(uid).removeprefix("field ") for uid in uids]
        return ("field " if len(numbers) == 1 else "fields ") + ", ".join(numbers)

    def _without_objective(self, wanted: ToRecord) -> str:
        """Return the new fields whose objective nobody has said."""
        lacking = [
            u for u in wanted.new_uids if not self._place(u).objective and self._place(u).kind == "field"
        ]
        return self._numbers(lacking) if lacking else ""

    def _unsized(self) -> list[str]:
        """Say which fields hold measured marks that have no size, because there is no scale."""
        lacking = [
            uid
            for uid in self._order()
            if any(mark.shape and mark.length_um is None for mark in self._content(uid).marks.values())
        ]
        if not lacking:
            return []
        where = self._numbers(lacking)
        return [f"  Measured without a scale: {where}. No size is recorded: set the scale first."]

    def _in_all(self, uids: list[str]) -> tuple[dict[str, int], dict[str, int]]:
        whole: tuple[dict[str, int], dict[str, int]] = ({}, {})
        for uid in uids:
            place, content = self._place(uid), self._content(uid)
            for sure, into in zip((True, False), whole, strict=True):
                typed = dict(place.counts if sure else place.unsure)
                for name, n in (content.tallies[sure] if content.marks else typed).items():
                    into[name] = into.get(name, 0) + n
        return whole

    def _correction(self, code: str) -> str:
        before, after = self._history.base_marks[code], self._content(code).marks
        gone, new = before.keys() - after.keys(), after.keys() - before.keys()
        other = sum(before[one] != after[one] for one in before.keys() & after.keys())
        parts = [
            f"{n} mark{'s' * (n != 1)} {words}"
            for n, words in ((len(new), "more"), (len(gone), "fewer"), (other, "changed"))
            if n
        ]
        if self._history.base_fields[code] != self._place(code):
            parts.append("field changed")
        return ", ".join(parts) or "looked at"

    def _without_word(self, uid: str) -> str:
        return f"{self._number(uid)} ({uid}) lost all its marks, and nobody said that nothing is there."

    def finish(self, reason: str = "") -> Finished:
        """Record everything in one transaction; recorded things that change need a reason.

        What nobody looked at stays in the draft. Opens cases like every command that records an exam.

        Raises
        ------
        BadInput
            A correction without a reason, a new field without its objective, or nothing to record.
        Refused
            A recorded field that lost all it said, or records that changed meanwhile.
        CouldNot
            When the disk refuses; nothing is recorded, and nothing of the draft is lost.
        """
        self._refuse_if_read_only()
        wanted = to_record(self)
        if wanted.wordless:
            raise Refused(
                [
                    Reason(
                        "field-without-word",
                        self._without_word(uid),
                        "Say 'nothing here', or remove the field.",
                    )
                    for uid in wanted.wordless
                ]
            )
        if unknown := self._without_objective(wanted):
            raise BadInput(
                f"The objective of {unknown} is not known: what a 10× cannot show is no negative.",
                next="Set it: 10, 40 …",
                code="objective-missing",
            )
        if wanted.nothing:
            raise BadInput(
                "Nothing is to be recorded.",
                next="Mark something, or say that nothing is here.",
                code="nothing-to-record",
            )
        why = reason.strip()
        if wanted.needs_reason and not why:
            raise BadInput(
                "Recorded things change, and a correction needs a reason.", next="Say why.", code="no-reason"
            )
        at = self._moment()
        self._write(RECORDING, {"at": at.astimezone(UTC).isoformat(), "by": self.by})
        state = self.flush(LONG_WAIT_S)
        if state.trouble or state.pending:
            raise CouldNot(
                f"The draft could not be saved, so nothing was recorded. {state.trouble}",
                next="Free some space on the disk, then finish again.",
                code="journal-not-written",
            )
        finished = self._recorded(wanted, why, at)
        self._stale = True
        self._begin_again()
        self._stale = False
        self._tell("finished")
        return finished

    def _recorded(self, wanted: ToRecord, reason: str, at: datetime) -> Finished:
        from fecallab.cli.exam import open_cases
        from fecallab.cli.exam_words import cleaning_after, preparation_line
        from fecallab.gather import normal_inhabitant_note, targets_seen
        from fecallab.records.store import open_records

        with open_records(self.folder) as store, store.write(by=self.by, now=at) as writer:
            before = writer.exam(self.exam_code)
            exam = record(writer, self, wanted, reason)
            sample = writer.sample(exam.sample)
            animal = writer.animal(sample.animal)
            opened, notes = open_cases(writer, exam, sample, animal, before)
        old = {reading.code for made in before.preparations for reading in made.readings}
        new = [r.code for made in exam.preparations for r in made.readings if r.code not in old]
        lines = [f"{exam.code}: recorded."]
        lines += [f"  {preparation_line(made)}" for made in exam.preparations]
        lines += [f"  Case {case.code} opened: {case.target}. Send the exam to the vet." for case in opened]
        lines += [f"  Note: {note}" for note in notes]
        seen = targets_seen(exam, unsure=False)
        normal = [one for one in seen if normal_inhabitant_note(exam, one, animal) in notes]
        told = cleaning_after(exam, before, normal)
        lines += [
            f"  {line.rstrip(':')}" for line in told if not line.startswith(" ")
        ]  # in short: room for the keys
        lines.append(f"  What it says: fecallab exam show {exam.code}")
        return Finished(tuple(lines), tuple(new), tuple(case.code for case in opened))

    def _begin_again(self) -> None:
        """Go on from what is recorded now, with the fields that stayed behind."""
        from fecallab.records.store import open_records

        states = {uid: self._state(uid) in DONE_STATES for uid in self._draft.fields}
        left = merging.not_recorded_yet(self._history, states)
        here = self._order().index(self._current) if self.current else 0
        with open_records(self.folder) as store:
            self.facts = facts_of(store, self.exam_code)
        last = self._draft.last_number
        self._history = History(changes_of(self.facts.exam, dict(self.facts.pictures)), left)
        self._draft.last_number = max(last, self._draft.last_number)
        self._history.write = self._write
        order = self._order()
        self._current = order[min(here, len(order) - 1)] if order else ""
        self._write_base()

    def discard(self) -> None:
        """Throw the draft away: the exam is as it is recorded again. Cannot be taken back."""
        self._refuse_if_read_only()
        last = self._draft.last_number
        self._history = History(self._history.base)
        self._draft.last_number = last
        self._history.write = self._write
        order = self._order()
        self._current = self._current if self._current in order else next(iter(order), "")
        self._write_base()
        self._tell("fields")

    def flush(self, timeout_s: float = 5.0) -> SaveState:
        """Wait until everything is on the disk, at most so long."""
        return self._saver.flush(timeout_s) if self._saver is not None else SaveState()

    def _moment(self) -> datetime:
        """Return the present time, unlike any other: by it a recording is found again after a crash."""
        now = self._clock()
        return now.replace(microsecond=random.randrange(1, 1_000_000)) if now.microsecond == 0 else now
