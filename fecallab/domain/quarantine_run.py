"""What each animal of a contact group still needs, and from which day its part is done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fecallab.domain.errors import Reason
from fecallab.domain.quarantine_exams import CRYPTOSPORIDIUM, Stool, counted_run, spaced
from fecallab.domain.quarantine_exposure import Situation
from fecallab.domain.quarantine_starts import Start
from fecallab.domain.spoken import number_of, say_date

WAITS_FOR_A_PERSON = (
    "protocol-missing",
    "enclosure-unknown",
    "case-open",
    "unsure-mark",
    "cryptosporidium-found",
)
"""Codes of what no date can be given for: a person has to act first."""


@dataclass(frozen=True)
class MemberRun:
    """One animal (or tub) in quarantine.

    Attributes
    ----------
    animal, name : str
        Its code and name.
    number : int
        How many animals it stands for; 1 for an animal.
    clock, run : Start or None
        Since when its days and its clean exams count, and why.
    k, n : int
        Clean exams that counted, and how many are needed.
    pcrs, pcrs_needed : int
        The same for laboratory PCRs.
    counted : tuple of (date, str)
        Days and stools that counted.
    days_end : date or None
        The day on which the days are over.
    next_sample_on_or_after : date or None
        First day whose stool can count; None when no exam is missing.
    earliest_on : date or None
        The day on which its part can be done if all goes well; None when a person has to act first.
    missing : tuple of Reason
        What is missing; empty when its part is done.
    harmless : tuple of (str, date)
        Groups found that do not block, with the last day.
    held : int
        Of how many of a tub's animals every exam that counted is known to hold stool; 1 for an animal.
    """

    animal: str
    name: str
    number: int
    clock: Start | None
    run: Start | None
    k: int
    n: int
    pcrs: int
    pcrs_needed: int
    counted: tuple[tuple[date, str], ...]
    days_end: date | None
    next_sample_on_or_after: date | None
    earliest_on: date | None
    missing: tuple[Reason, ...]
    harmless: tuple[tuple[str, date], ...] = ()
    held: int = 1

    @property
    def done(self) -> bool:
        """Whether nothing is missing for it."""
        return not self.missing


def member_run(animal: str, situation: Situation) -> MemberRun:
    """Return what one animal in quarantine still needs today."""
    protocol = situation.protocol_of(animal)
    name, number = situation.name_of(animal), situation.number_of(animal)
    if protocol is None:
        text = f"No protocol is recorded for the arrival of {name}."
        step = "Take a template or the vet's numbers: fecallab arrivals protocol"
        reason = Reason("protocol-missing", text, step)
        return MemberRun(animal, name, number, None, None, 0, 0, 0, 0, (), None, None, None, (reason,))
    today = situation.today
    clock, run = situation.clock_starts[animal], situation.run_start(animal)
    missing: list[Reason] = [*_waits(animal, name, situation)]
    days_end = situation.days_end(animal, protocol)
    if today < days_end:
        text = f"{number_of(protocol.days_at_least, 'day')} count{'s' if protocol.days_at_least == 1 else ''} from {say_date(clock.day)}: {clock.why}."
        missing.append(Reason("days-left", text, f"They are over on {say_date(days_end)}."))
    clean = situation.clean_days(animal)
    not_before, after = situation.last_exam_from(animal, situation.last_exposures)
    counted = counted_run(clean, protocol.negatives_needed, protocol.spacing_days, not_before)
    end = situation.exams_end(animal, situation.last_exposures)
    k, n = min(len(counted), protocol.negatives_needed), protocol.negatives_needed
    ends = [days_end, today]
    next_sample = None
    if end is not None:
        next_sample, done_on = end
        ends.append(done_on)
        missing.append(_exams_missing(name, k, n, next_sample, run, after, situation, animal))
    pcrs = spaced(situation.pcr_days(animal), 1)
    if len(pcrs) < protocol.laboratory_pcrs:
        text = (
            f"{name}: {len(pcrs)} of {protocol.laboratory_pcrs} laboratory PCRs against Cryptosporidium are "
            "negative since the run began."
        )
        step = "Send a stool to the laboratory; a stain at home can only be positive."
        missing.append(Reason("pcr-missing", text, step))
        ends.append(today + timedelta(days=protocol.laboratory_pcrs - len(pcrs) - 1))
    waits = any(reason.code in WAITS_FOR_A_PERSON for reason in missing)
    harmless: dict[str, date] = {}
    held = {stool.defecation: stool.held for stool in situation.stools_of(animal)}
    for stool in situation.stools_of(animal):
        if stool.harmless:
            harmless |= dict.fromkeys(stool.harmless, stool.taken_on)
    return MemberRun(
        animal,
        name,
        number,
        clock,
        run,
        k,
        n,
        min(len(pcrs), protocol.laboratory_pcrs),
        protocol.laboratory_pcrs,
        tuple(counted),
        days_end,
        next_sample,
        None if waits else max(ends),
        tuple(missing),
        tuple(sorted(harmless.items())),
        min((held[stool] for _, stool in counted), default=1),
    )


def _waits(animal: str, name: str, situation: Situation) -> list[Reason]:
    """Return what only a person can lift."""
    found: list[Reason] = []
    if not any(p.start <= situation.today <= p.end for p in situation.graph.of_animal.get(animal, ())):
        text = f"Where {name} lives is not recorded, so nobody knows whom it meets."
        found.append(Reason("enclosure-unknown", text, "Record it: fecallab animal move"))
    for code, target in situation.blocking_cases(animal):
        text = f"{name} has an open case ({code}, {target}): its repeat exams go by the vet's plan."
        step = f"See: fecallab case show {code}"
        if len(situation.group_of(animal)) > 1:
            step += "  (or move it out, with the date, so that the others go on: fecallab animal move)"
        found.append(Reason("case-open", text, step))
    for stool in situation.unsure_stools(animal):
        text = (
            f"{name}: an unsure mark ({', '.join(stool.found)}) of {say_date(stool.taken_on)} waits for the "
            "vet's word."
        )
        found.append(Reason("unsure-mark", text, "Send the picture to the vet."))
    found += _cryptosporidium(animal, name, situation)
    return found


def _cryptosporidium(animal: str, name: str, situation: Situation) -> list[Reason]:
    """Return why a carrier never leaves by stool exams: no number of clean ones speaks against it."""
    day = situation.positives.get(CRYPTOSPORIDIUM, {}).get(animal)
    if day is None or not situation.blocks(animal, CRYPTOSPORIDIUM):
        return []
    text = (
        f"Cryptosporidium was found in {name} on {say_date(day)}: it is carried for life, and no number of clean "
        "stools speaks against it."
    )
    return [Reason("cryptosporidium-found", text, "Keep it apart for good, or as a named vet orders.")]


def _exam_of(stool: Stool) -> str:
    """Name the exams of a stool with its day: a positive of the same day is another one."""
    day = say_date(stool.taken_on)
    return f"Exam {' and '.join(stool.exams)} (stool of {day})" if any(stool.exams) else f"The exam of {day}"


def _exams_missing(
    name: str, k: int, n: int, next_sample: date, run: Start, after: str, situation: Situation, animal: str
) -> Reason:
    protocol = situation.protocol_of(animal)
    left_out = [
        stool
        for stool in situation.stools_of(animal)
        if stool.word == "inconclusive" and stool.taken_on >= run.day
    ]
    text = f"{name}: {k} of {n} clean exams count since {say_date(run.day)} ({run.why})."
    if after:
        text += f" The last one must lie {after}."
    if left_out:
        stool = left_out[-1]
        text += f" {_exam_of(stool)} neither counts nor resets; it lacks: {', '.join(stool.lacks)}."
    from_day = max(next_sample, situation.counts_from(animal))
    step = "Examine the next stool"
    if from_day > situation.today:
        step = f"Examine a stool passed on or after {say_date(from_day)}"
    if protocol is not None and protocol.preparations:
        step += f" ({', '.join(word.replace('_', ' ') for word in protocol.preparations)})"
    return Reason("exams-missing", text, f"{step}.")
