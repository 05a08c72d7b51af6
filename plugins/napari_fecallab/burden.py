"""The running burden: every number from the rules of `fecallab.domain`, worked out again only where it changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fecallab.cli.typed import say_number
from fecallab.domain.adequacy import ExamAnswer
from fecallab.domain.burden import Burden, burdens_of
from fecallab.domain.casework import judge_exam
from fecallab.domain.exam import Exam, Mark, Reading, method_words
from fecallab.domain.organism import is_target_group
from fecallab.domain.spoken import say_percent
from fecallab.domain.tally_missing import still_missing
from fecallab.domain.verdict import ruled
from fecallab.gather import stages_of
from napari_fecallab.core import DONE_STATES
from napari_fecallab.names import group_of
from napari_fecallab.views import AdequacyRow, BurdenRow, BurdenTable

if TYPE_CHECKING:
    from napari_fecallab.core import SessionCore

Groups = dict[str, tuple[int, int]]
"""Sure and unsure counts by group."""


class BurdenBook:
    """Remembers what was worked out and what it rested on."""

    def __init__(self) -> None:
        self._draft: object = None
        self._readings: dict[str, tuple[object, Reading, Groups]] = {}
        self._burdens: dict[str, tuple[object, tuple[BurdenRow, ...]]] = {}
        self._adequacy: dict[tuple[str, ...], tuple[object, tuple[AdequacyRow, ...]]] = {}

    def table(self, session: SessionCore) -> BurdenTable:
        """Return the burden of the draft as it is now."""
        if self._draft is not session._draft:  # another draft: nothing of the old one holds
            self._readings, self._burdens, self._adequacy = {}, {}, {}
            self._draft = session._draft
        by_preparation: dict[str, list[Reading]] = {code: [] for code in session.facts.preparations}
        groups: list[tuple[str, Groups]] = []
        unseen = 0
        for uid in session._order():
            if session._state(uid) not in DONE_STATES:
                unseen += 1
                continue
            _, reading, held = self._reading(session, uid)
            by_preparation[session._place(uid).preparation].append(reading)
            groups.append((uid, held))
        exam = replace(
            session.facts.exam,
            preparations=tuple(
                replace(made, readings=tuple(by_preparation[code]))
                for code, made in session.facts.preparations.items()
            ),
        )
        if exam.verdicts.marks or exam.verdicts.missed:
            exam, groups = _by_vets(session, exam)
        seen = dict.fromkeys(group for _, held in groups for group in held if is_target_group(group))
        targets = tuple(dict.fromkeys((*session.facts.open_targets, *seen)))
        rows = [row for target in targets for row in self._rows(session, exam, target, groups)]
        notes = []
        if unseen:
            are = "1 picture is" if unseen == 1 else f"{unseen} pictures are"
            notes.append(f"{are} not looked at yet and not counted here.")
        adequacy = self._adequacy_rows(session, exam, targets, groups)
        return BurdenTable(tuple(rows), adequacy, tuple(notes))

    def _reading(self, session: SessionCore, uid: str) -> tuple[object, Reading, Groups]:
        """Return a field as a reading with counts, and its counts by group."""
        place, content = session._place(uid), session._content(uid)
        version = (content.version, place)
        known = self._readings.get(uid)
        if known is not None and known[0] == version:
            return known
        sure, unsure = (
            dict(content.tallies[word]) if content.marks else dict(place.counts if word else place.unsure)
            for word in (True, False)
        )
        reading = Reading(
            code=uid,
            kind=place.kind,
            objective=place.objective,
            field_number=place.field_number,
            cover_share=place.cover_share,
            um_per_px=place.um_per_px,
            counts=sure,
            unsure=unsure,
        )
        self._readings[uid] = (version, reading, _groups(sure, unsure))
        return self._readings[uid]

    def _rows(
        self, session: SessionCore, exam: Exam, target: str, groups: Sequence[tuple[str, Groups]]
    ) -> tuple[BurdenRow, ...]:
        rests_on = (
            [(uid, held.get(target, (0, 0))) for uid, held in groups],
            [
                (r.objective, r.field_number, r.kind, r.cover_share)
                for p in exam.preparations
                for r in p.readings
            ],
        )
        known = self._burdens.get(target)
        if known is None or known[0] != rests_on:
            from fecallab.reference.adequacy import adequacy_facts

            scale = session.facts.scale(target, stages_of(target, session.facts.animal))
            found = burdens_of(exam, target, adequacy_facts().group_of, scale)
            rows = tuple(_row(burden, target, exam) for burden in found)
            self._burdens[target] = known = (rests_on, rows)
        return known[1]

    def _adequacy_rows(
        self, session: SessionCore, exam: Exam, targets: Sequence[str], groups: Sequence[tuple[str, Groups]]
    ) -> tuple[AdequacyRow, ...]:
        """Return what the exam says of every target and of what this method could show."""
        from fecallab.reference.adequacy import adequacy_facts

        place = session._draft.fields.get(session._current)
        code = place.preparation if place else next(iter(session.facts.preparations))
        power, number = (place.objective, place.field_number) if place else (None, None)
        asked = session_targets(session, code, targets)
        positive: dict[str, list[bool]] = {}
        for _, held in groups:
            for group, (sure, unsure) in held.items():
                both = positive.setdefault(group, [False, False])
                both[0] |= sure > 0
                both[1] |= unsure > 0
        glass = [
            (p.code, r.kind, r.objective, r.field_number, r.cover_share)
            for p in exam.preparations
            for r in p.readings
        ]
        rows: list[AdequacyRow] = []
        for target in asked:
            rests_on = (positive.get(target), glass, power, number)
            key = (target, code)
            known = self._adequacy.get(key)
            if known is None or known[0] != rests_on:
                facts, animal, sample = adequacy_facts(), session.facts.animal, session.facts.sample
                stages = stages_of(target, animal)
                judged = judge_exam(exam, sample, animal, target, stages, facts)
                missing = still_missing(
                    exam,
                    next(p for p in exam.preparations if p.code == code),
                    sample,
                    animal,
                    [(target, stage) for stage in stages],
                    facts,
                    objective=power,
                    field_number=number,
                )
                made = tuple(
                    AdequacyRow(target, one.stage, _says(judged.answers[one.stage]), one.says)
                    for one in missing
                )
                self._adequacy[key] = known = (rests_on, made)
            rows += known[1]
        return tuple(rows)


def _groups(sure: Mapping[str, int], unsure: Mapping[str, int]) -> Groups:
    """Return sure and unsure counts by group."""
    held: Groups = {}
    for which, counts in enumerate((sure, unsure)):
        for name, n in counts.items():
            both = list(held.get(group_of(name), (0, 0)))
            both[which] += n
            held[group_of(name)] = (both[0], both[1])
    return held


def _by_vets(session: SessionCore, exam: Exam) -> tuple[Exam, list[tuple[str, Groups]]]:
    """Return an exam on which vets have a word as the rules see it, in counts, with its counts by group."""

    def with_marks(reading: Reading) -> Reading:
        marks = session._content(reading.code).marks
        told = (
            Mark(code=uid if uid[0].isupper() else "", x_px=m.x_px, y_px=m.y_px, name=m.name, sure=m.sure)
            for uid, m in marks.items()
        )
        return replace(reading, counts={}, unsure={}, marks=tuple(told)) if marks else reading

    def each(whole: Exam, how: Callable[[Reading], Reading]) -> Exam:
        made = (replace(p, readings=tuple(map(how, p.readings))) for p in whole.preparations)
        return replace(whole, preparations=tuple(made))

    seen = each(
        ruled(each(exam, with_marks)),
        lambda one: replace(one, counts=one.tally(), unsure=one.tally(sure=False), marks=()),
    )
    readings = [reading for made in seen.preparations for reading in made.readings]
    return seen, [(reading.code, _groups(reading.counts, reading.unsure)) for reading in readings]


def session_targets(session: SessionCore, preparation: str, targets: Sequence[str]) -> tuple[str, ...]:
    """Return what the exam is judged for: open cases, what was seen, and what this method could show here."""
    from fecallab.reference.adequacy import adequacy_routes
    from napari_fecallab.part_keys import _proposed

    facts = session.facts
    method = facts.preparations[preparation].method
    first, _ = _proposed(facts.host, method, None, facts.animal.plant_eater, facts.open_targets)
    shown = [
        group
        for group in dict.fromkeys(map(group_of, first))
        if is_target_group(group)
        and any(group in route.targets and method in route.methods for route in adequacy_routes())
    ]
    return tuple(dict.fromkeys((*targets, *shown)))


def _says(answer: ExamAnswer) -> str:
    if answer.unsure and answer.result != "positive":
        return "waiting for the vet's word (unsure marks)"
    if answer.result != "negative":
        return answer.result
    return f"none found, limit {answer.bound.says}" if answer.bound else "none found, enough for a negative"


def _row(burden: Burden, target: str, exam: Exam) -> BurdenRow:
    readings = [
        reading
        for made in exam.preparations
        if made.code == burden.preparation
        for reading in made.readings
        if reading.objective == burden.objective
    ]
    unsure = sum(n for r in readings for name, n in r.unsure.items() if group_of(name) == target)
    density, grade = burden.per_field, burden.grade
    interval = ""
    if density is not None:
        interval = f"{say_number(density.ci95[0])} to {say_number(density.ci95[1])}"
        if burden.total == 0 and density.upper95_if_zero is not None:
            interval = f"none found, below {say_number(density.upper95_if_zero)} (one-sided 95 %)"
    per_gram = ""
    if burden.per_gram is not None and burden.per_gram_ci95 is not None:
        low, high = burden.per_gram_ci95
        per_gram = f"{say_number(burden.per_gram)} ({say_number(low)} to {say_number(high)})"
    notes = (grade.note, *burden.cautions) if grade is not None else burden.cautions
    return BurdenRow(
        target=target,
        preparation=f"{burden.preparation} {method_words(burden.method)}",
        objective=f"{burden.objective:g}×" if burden.objective else "not known",
        total=str(burden.total),
        unsure=str(unsure) if unsure else "",
        mean_per_field=f"{say_number(density.mean_per_field)} in {density.fields}"
        if density is not None
        else "",
        interval=interval,
        grade=grade.word if grade is not None else "",
        scale=grade.scale_name if grade is not None else "",
        covered_share=say_percent(burden.cover_share) if burden.cover_share is not None else "not known",
        per_gram=per_gram,
        cautions=tuple(note for note in notes if note),
    )
