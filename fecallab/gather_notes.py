"""What stands beside a conclusion: danger signs, control runs, cleaning, and what was only told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from fecallab.domain.animal import AS_TOLD
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal, AnimalEvent, Weighing
    from fecallab.domain.casework import JudgedExam
    from fecallab.domain.control import ControlRun
    from fecallab.domain.due import Due
    from fecallab.domain.exam import Exam
    from fecallab.domain.followup import Standing
    from fecallab.domain.plan import DoseReaction, OtherDrugGiven
    from fecallab.domain.sample import Sample
    from fecallab.domain.signs import SignAnswer, SignFound
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader


def signs_of(
    animal: Animal,
    answers: Sequence[SignAnswer],
    weighings: Sequence[Weighing],
    events: Sequence[AnimalEvent],
    day: date,
) -> list[SignFound]:
    """Return the danger signs of an animal on a day: those noted and not gone, and the weight it lost.

    A loss of weight that somebody explained (``no`` on the day of the weighing or later) is not named again.
    """
    from fecallab.domain.signs import open_signs, weight_signs
    from fecallab.reference.signs import groups_of, signs

    noted = open_signs(answers, signs(), day)
    known = {one.sign.key for one in noted}
    asleep = [
        e.start for e in events if e.kind == "brumation" and e.start <= day and (e.end is None or e.end > day)
    ]
    computed = weight_signs(
        weighings,
        signs(),
        day,
        adult=animal.adult,
        asleep_since=asleep[-1] if asleep else None,
        tortoise="tortoise" in groups_of(animal),
    )
    denied = {
        (one.sign, one.seen_at.date()) for one in answers if one.answer == "no" and one.seen_at.date() <= day
    }
    return [
        *noted,
        *(
            one
            for one in computed
            if animal.kind == "animal"
            and one.sign.key not in known
            and not any(key == one.sign.key and when >= one.since for key, when in denied)
        ),
    ]


def signs_of_animal(store: Reader, animal: Animal, day: date) -> list[SignFound]:
    """Return the danger signs of one animal on a day, from the records."""
    code = animal.code
    return signs_of(animal, store.signs(code), store.weighings(code), store.events(code), day)


def signs_today(store: Reader, day: date, animal: str | None = None) -> list[tuple[Animal, SignFound]]:
    """Return the signs of every animal that the vet does not know of yet, most urgent first.

    An animal that died or left is not named. The number of queries does not grow with the animals.

    Parameters
    ----------
    animal : str, optional
        Name or code of one animal; all of them when omitted.
    """
    owners = [store.animal(animal)] if animal else store.animals()
    answers, weighings = _by_animal(store.signs(animal)), _by_animal(store.weighings(animal))
    events = _by_animal(store.events(animal))
    found = []
    for owner in owners:
        mine = events[owner.code]
        if any(e.kind in ("died", "left") and e.start <= day for e in mine):
            continue
        signs = signs_of(owner, answers[owner.code], weighings[owner.code], mine, day)
        found += [(owner, one) for one in signs if not one.with_vet]
    return sorted(found, key=lambda pair: (pair[1].sign.urgency != "today", pair[1].since, pair[0].name))


def _by_animal(facts: Sequence[Any]) -> defaultdict[str, list[Any]]:
    grouped: defaultdict[str, list[Any]] = defaultdict(list)
    for fact in facts:
        grouped[fact.animal].append(fact)
    return grouped


def stopped_by(file: CaseFile, day: date) -> list[str]:
    """Return the reactions that stop the course of the plan in force until the vet writes anew, a line each."""
    plan = file.plan
    if plan is None or file.closing is not None:
        return []
    of_plan = {dose.code for dose in file.doses if dose.plan == plan.code}
    return [line for reaction, line in _stop_lines(file, day) if reaction.dose in of_plan]


def after_stop(thing: Due, file: CaseFile, standing: Standing, day: date) -> Due:
    """Return what comes next for a case: after a stop sign no dose, but a call to the vet."""
    from dataclasses import replace

    from fecallab.domain.followup import NOT_TREATED, ON_TREATMENT

    lines = stopped_by(file, day)
    if not lines or standing.standing not in (ON_TREATMENT, NOT_TREATED):
        return thing
    step = f"The vet's new plan ends the stop: fecallab plan add {file.case.code} --vet NAME"
    return replace(thing, what="no further dose: call the vet", on_or_after=None, why=lines[-1], next=step)


def _stop_lines(file: CaseFile, day: date) -> list[tuple[DoseReaction, str]]:
    from fecallab.reference.signs import reaction_signs

    found = []
    for reaction in file.reactions:
        known = reaction_signs().get(reaction.sign)
        if reaction.at.date() <= day and known is not None and known.stops:
            said = f" ({reaction.text})" if reaction.text else ""
            when = say_date(reaction.at.date())
            line = f"After dose {reaction.dose}, on {when}: {known.words}{said}. {known.next}"
            found.append((reaction, line))
    return found


def sign_dict(found: SignFound) -> dict[str, Any]:
    """Return a sign as plain keys for ``--json``."""
    return {
        "sign": found.sign.key,
        "words": found.sign.sign,
        "urgency": found.sign.urgency,
        "since": found.since,
        "said": found.said,
        "vet_knows": found.with_vet,
        "until_the_vet": found.sign.until_the_vet,
        "source": found.sign.source,
        "source_kind": found.sign.source_kind,
    }


def control_note_for(controls: Sequence[ControlRun], exam: Exam, result: str) -> str:
    """Return what the control runs say beside a negative; empty for every other result."""
    from fecallab.domain.control_note import control_note

    note = control_note(controls, exam) if result == "negative" else ""
    return f"{note[:1].upper()}{note[1:]}" if note else ""


def exam_notes(
    store: Reader, exam: Exam, sample: Sample, animal: Animal, judged: Sequence[JudgedExam], today: date
) -> tuple[str, ...]:
    """Return what bears on a whole exam: danger signs, controls, the words of vets, what was only told."""
    from fecallab.domain.verdict import known_on
    from fecallab.gather_vet import verdict_lines

    day = min(today, max(sample.collected_at.date(), exam.examined_at.date()))
    found = signs_of_animal(store, animal, day)
    notes = [one.line for one in found]
    notes += _signs_with(store, sample, {one.sign.key for one in found}, today)
    controls = [run for run in store.controls() if run.done_at.date() <= today]
    beside = (control_note_for(controls, exam, one.result) for one in judged)
    notes += [f"Negatives of this exam: {note}." for note in dict.fromkeys(filter(None, beside))]
    notes += [f"A vet's word: {line}." for line in verdict_lines(known_on(exam, today))]
    told = [word for word, fact in (("sample", sample), ("exam", exam)) if fact.as_told]
    if told:
        notes.append(f"{' and '.join(told).capitalize()}: {AS_TOLD}.")
    return tuple(notes)


def _signs_with(store: Reader, sample: Sample, known: set[str], today: date) -> list[str]:
    """Return the signs that were noted with a sample and were gone by the exam; they travel all the same."""
    from fecallab.reference.signs import signs

    return [
        f"Noted with {sample.code} on {say_date(answer.seen_at.date())}: {signs()[answer.sign].sign}."
        for answer in store.signs(sample.animal)
        if answer.sample == sample.code
        and answer.answer != "no"
        and answer.sign in signs()
        and answer.sign not in known
        and answer.seen_at.date() <= today
    ]


def case_notes(
    file: CaseFile,
    judged: Sequence[JudgedExam],
    standing: Standing,
    controls: Sequence[ControlRun],
    today: date,
) -> tuple[str, ...]:
    """Return what stands beside a case: signs, reactions, the vet's words, cleaning, controls, what was told."""
    from fecallab.domain.control_note import doubt, not_proven
    from fecallab.domain.followup import POSITIVE_AGAIN
    from fecallab.gather_doubt import case_in_doubt
    from fecallab.gather_vet import case_word_notes, vets_differ

    notes = [one.line for one in signs_of(file.animal, file.signs, file.weighings, file.events, today)]
    notes += [line for _, line in _stop_lines(file, today)]
    notes += [*case_word_notes(file.words), *vets_differ(one.exam for one in judged)]
    if standing.standing == POSITIVE_AGAIN:
        notes.append(cleaning_note(file, today))
    known_runs = [run for run in controls if run.done_at.date() <= today]
    for one in judged:
        if one.result == "negative":
            notes += [f"Exam {one.exam.code}: {state.text}." for state in not_proven(known_runs, one.exam)]
    if codes := case_in_doubt(known_runs, judged, standing):
        notes.append(str(doubt(codes, "" if file.closing is not None else "close the case")))
    told = told_words(file)
    return (*notes, f"{AS_TOLD.capitalize()}: {told}.") if told else tuple(notes)


def cleaning_note(file: CaseFile, today: date) -> str:
    """Return when the place of a case's animal was cleaned since the last dose."""
    from fecallab.domain.cleaning import cleaned_since_last_dose

    return cleaned_since_last_dose(file.care, file.doses, today)


def told_words(file: CaseFile) -> str:
    """Return what of a case was only told: plans, doses, exams, weights, other drugs; empty when nothing."""
    groups: tuple[tuple[str, Sequence[Any]], ...] = (
        ("plan", file.plans),
        ("dose", file.doses),
        ("exam", file.exams),
        ("weight", file.weighings),
        ("other drug", file.other_drugs),
    )
    pieces = []
    for word, facts in groups:
        codes = [fact.code for fact in facts if fact.as_told]
        if codes:
            pieces.append(f"{word if len(codes) == 1 else word + 's'} {', '.join(codes)}")
    return "; ".join(pieces)


def drug_words(given: OtherDrugGiven) -> str:
    """Return a drug that was given outside of any plan, in words."""
    much = f" {given.mg_per_kg} mg/kg" if given.mg_per_kg else ""
    times = f", {given.doses} doses, the last" if given.doses > 1 else ""
    told = f", {AS_TOLD}" if given.as_told else ""
    return f"{given.drug}{much}{times} ({say_date(given.given_on)}{told})"
