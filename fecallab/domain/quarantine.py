"""May they mix? One answer for a contact group, with reasons; release is the act of a person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fecallab.domain.contacts import FOREVER, Reached
from fecallab.domain.errors import BadInput, Reason, Refused
from fecallab.domain.housing import Release
from fecallab.domain.quarantine_exams import CRYPTOSPORIDIUM
from fecallab.domain.quarantine_exposure import Situation as Situation
from fecallab.domain.quarantine_rules import kept_apart, never_with
from fecallab.domain.quarantine_run import MemberRun, member_run
from fecallab.domain.quarantine_state import QuarantineFacts as QuarantineFacts
from fecallab.domain.quarantine_state import natural
from fecallab.domain.spoken import number_of, say_date

NOT_YET = "not yet"
NOTHING_AGAINST = "nothing found in stools against it"
NEVER_WITH_THESE = "never with these, whatever the stools say"
ANSWERS = (NOT_YET, NOTHING_AGAINST, NEVER_WITH_THESE)

ONLY_MEANS = (
    "It means only: nothing found in stools by these exams. It is no diagnosis; your vet and the law where you "
    "live go before it."
)
BEFORE_TIME_MEANS = (
    "Before time: the exams do not speak for it. Whoever takes them must know, and keep them apart until a vet says "
    "otherwise."
)
NO_LONGER_SUPPORTED = "released, no longer supported"


@dataclass(frozen=True)
class MixAnswer:
    """The answer for one contact group on one day.

    Attributes
    ----------
    answer : str
        One of `ANSWERS`.
    members : tuple of MemberRun
        Those in quarantine, with what each still needs.
    others : tuple of str
        Codes of animals that share with them and are in no quarantine.
    number : int
        How many animals the members stand for.
    earliest_on : date or None
        First day on which the answer can be yes if all goes well; None when a person has to act first.
    reasons : tuple of Reason
        Why not yet, put together for the group, what weighs most first; or what the answer rests on.
    remarks : tuple of Reason
        What does not decide it but should be known (normal inhabitants, tubs, residents that share with them).
    cannot_show : tuple of str
        What stools cannot show in these hosts.
    never_with : tuple of str
        What these hosts are never mixed with.
    """

    answer: str
    today: date
    members: tuple[MemberRun, ...]
    others: tuple[str, ...]
    number: int
    earliest_on: date | None
    reasons: tuple[Reason, ...]
    remarks: tuple[Reason, ...]
    cannot_show: tuple[str, ...]
    never_with: tuple[str, ...]

    @property
    def may_release(self) -> bool:
        """Whether a person may release the group by the rule."""
        return self.answer == NOTHING_AGAINST

    @property
    def headline(self) -> str:
        """The answer in one line."""
        if self.answer != NOT_YET:
            return self.answer
        if self.earliest_on is None:
            return f"{NOT_YET}: a person has to act first"
        return f"{NOT_YET}: {say_date(self.earliest_on)} at the earliest, if every exam until then is clean"


def may_mix(group: Sequence[str], situation: Situation, *, into: Iterable[Sequence[str]] = ()) -> MixAnswer:
    """Answer for one contact group.

    Parameters
    ----------
    group : sequence of str
        Codes of its animals, one of `Situation.groups`.
    situation : Situation
        The day, and everything that is known.
    into : iterable of sequence of str
        Hosts (each a key with its wider groups) of those that they would join; empty when not said.

    Returns
    -------
    MixAnswer
        Worked out from the records each time; nothing of it is stored.

    Raises
    ------
    BadInput
        When none of these animals is in quarantine.
    """
    inside = set(situation.quarantined)
    codes = sorted((animal for animal in group if animal in inside), key=natural)
    if not codes:
        raise BadInput(
            "None of these animals is in quarantine: no arrival holds them, or they were released.",
            next="Type: fecallab arrivals list",
            code="not-in-quarantine",
        )
    members = tuple(member_run(animal, situation) for animal in codes)
    others = tuple(sorted((animal for animal in group if animal not in inside), key=natural))
    here = [*codes, *others]
    lines = {animal: tuple(situation.facts.lineage(situation.host_of(animal))) for animal in here}
    hosts = {situation.name_of(animal): line for animal, line in lines.items()}
    barred = kept_apart(hosts, situation.facts.never_mixed, into)
    late = [member for member in members if not member.done]
    answer = NEVER_WITH_THESE if barred else NOT_YET if late else NOTHING_AGAINST
    days = [member.earliest_on for member in members]
    earliest = None if barred or None in days else max((day for day in days if day), default=None)
    reasons = [*barred, *_together(late)]
    if answer == NOTHING_AGAINST:
        reasons = [_rests_on(members)]
    shown = situation.facts.not_shown(sorted({situation.host_of(animal) for animal in codes}))
    return MixAnswer(
        answer=answer,
        today=situation.today,
        members=members,
        others=others,
        number=sum(member.number for member in members),
        earliest_on=earliest,
        reasons=tuple(reasons),
        remarks=tuple(_remarks(members, others, situation)),
        cannot_show=tuple(f"{row.what}: {row.words}" for row in shown),
        never_with=never_with([lines[animal] for animal in codes], situation.facts.never_mixed),
    )


_WEIGHT = (
    "protocol-missing",
    "cryptosporidium-found",
    "case-open",
    "unsure-mark",
    "enclosure-unknown",
    "exams-missing",
    "pcr-missing",
    "days-left",
)


def _together(late: Sequence[MemberRun]) -> list[Reason]:
    """Put the reasons of many animals together: one for each kind and day, the names with it."""
    by_kind: dict[tuple[int, date, str], list[tuple[MemberRun, Reason]]] = {}
    for member in late:
        for reason in member.missing:
            day = member.days_end if reason.code == "days-left" else member.next_sample_on_or_after
            key = (_WEIGHT.index(reason.code), day or date.min, reason.next)
            by_kind.setdefault(key, []).append((member, reason))
    found = []
    for _, rows in sorted(by_kind.items(), key=lambda item: item[0]):
        reason = rows[0][1]
        if len(rows) > 1:
            reason = Reason(reason.code, _of_many(rows), reason.next)
        found.append(reason)
    return found


def _of_many(rows: Sequence[tuple[MemberRun, Reason]]) -> str:
    """Say one reason for many animals: once when it is the same for all, else with the first as an example."""
    names = ", ".join(member.name for member, _ in rows[:6])
    more = f" and {len(rows) - 6} more" if len(rows) > 6 else ""
    said = [reason.text.removeprefix(f"{member.name}: ") for member, reason in rows]
    same = len(set(said)) == 1
    return f"{names}{more}: {said[0] if same else f'{rows[0][0].name} for one: {said[0]}'}"


def _rests_on(members: Sequence[MemberRun]) -> Reason:
    exams = sum(len(member.counted) for member in members)
    animals = sum(member.number for member in members)
    days = [day for member in members for day, _ in member.counted]
    spread = f", from {say_date(min(days))} to {say_date(max(days))}" if days else ""
    whose = "1 animal" if animals == 1 else f"{animals} animals"
    text = f"{exams} clean exams of {whose} count{spread}; the days are over. {ONLY_MEANS}"
    return Reason("nothing-against", text, "A person may release them: fecallab arrivals release")


def _remarks(members: Sequence[MemberRun], others: Sequence[str], situation: Situation) -> list[Reason]:
    found: list[Reason] = []
    carriers: dict[str, int] = {}
    for member in members:
        for group, _ in member.harmless:
            carriers[group] = carriers.get(group, 0) + 1
    for group, number in sorted(carriers.items()):
        text = (
            f"{group} was seen in {number} of {len(members)}: the protocol counts it as a normal inhabitant."
        )
        found.append(Reason("normal-inhabitant", text, "It blocks nobody; tell whoever takes them."))
    tubs = [member for member in members if situation.kind_of(member.animal) != "animal"]
    if tubs:
        names = ", ".join(f"{member.name} ({number_of(member.number, 'animal')})" for member in tubs)
        text = f"{names}: a tub leaves as one. Its clean exams confirm no single animal of it."
        found.append(Reason("tub-as-one", text, "To sell or mix one animal of it, examine that animal."))
    if others:
        names = ", ".join(situation.name_of(animal) for animal in others)
        text = f"Not in quarantine, but sharing with them: {names}. They have met already."
        found.append(Reason("others-share", text, "Examine them too, and part them until then."))
    unset = [m for m in members if not m.pcrs_needed and _may_carry(m.animal, situation)]
    if unset:
        text = "Cryptosporidium matters in these hosts, and no number of laboratory PCRs is set."
        found.append(
            Reason("pcr-not-set", text, "Ask the vet how many; a stain at home can only be positive.")
        )
    return found


def _may_carry(animal: str, situation: Situation) -> bool:
    rows = situation.facts.not_shown([situation.host_of(animal)])
    return any(row.what.casefold() == CRYPTOSPORIDIUM for row in rows)


def check_release(answer: MixAnswer, *, vet: str = "", reason: str = "") -> bool:
    """Refuse a release that the rules do not support, unless a named vet orders it with a reason.

    Returns
    -------
    bool
        Whether the rules support it (False: on the vet's order).

    Raises
    ------
    Refused
        With everything that is missing, and the earliest day. What must never be mixed is refused whoever
        orders it.
    """
    if answer.may_release:
        return True
    if answer.answer == NEVER_WITH_THESE:
        raise Refused(answer.reasons)
    if vet.strip() and reason.strip():
        return False
    step = 'Wait, or on a named vet\'s order: --vet "NAME" --reason "WHY"'
    raise Refused([Reason("not-yet", f"May they mix? {answer.headline}.", step), *answer.reasons])


def release_state(release: Release, then: MixAnswer | None) -> str:
    """Return how animals were released, and whether what is known today still supports it.

    Parameters
    ----------
    release : Release
        The act.
    then : MixAnswer or None
        The answer for the day of the release by what is known now, worked out without the release itself.
    """
    if release.vet and not release.supported_then:
        return f"released before time on the order of {release.vet}: {release.reason}"
    if then is not None and not then.may_release:
        return NO_LONGER_SUPPORTED
    return f"released on {say_date(release.on)}"


@dataclass(frozen=True)
class ContactFound:
    """A contact of a positive animal that needs an exam.

    ``exam_from`` is the day from which a clean exam of it means something: the last possible contact plus the
    longest time read from infection to shedding; None where no such time was found, or contact lasts.
    """

    animal: str
    name: str
    first_day: date
    path: str
    lasts: bool
    exam_from: date | None
    words: str


def contacts_of_positive(animal: str, group: str, situation: Situation) -> tuple[ContactFound, ...]:
    """Return whom a positive animal can have infected, in time order, by the group's way of spread.

    Only contacts after its earliest possible infection count; where that is not known, all that are recorded.
    """
    spread = situation.facts.spread(group, situation.host_of(animal))
    found = []
    for one in situation.reached_by(group, [animal]).values():
        if one.animal in situation.gone:
            continue
        lasts = one.path[-1].end == FOREVER
        last = one.path[-1].start if one.path[-1].after else one.path[-1].end
        wait = spread.latest_shedding_days
        exam_from = None
        if not lasts and wait is not None:
            exam_from = date.fromordinal(min(last, situation.today).toordinal() + int(wait))
        found.append(
            ContactFound(
                one.animal,
                situation.name_of(one.animal),
                one.first_day,
                situation.graph.say_path(one),
                lasts,
                exam_from,
                _contact_words(one, spread.words, lasts, exam_from, situation),
            )
        )
    return tuple(sorted(found, key=lambda row: (row.first_day, natural(row.animal))))


def _contact_words(
    found: Reached, spread: str, lasts: bool, exam_from: date | None, situation: Situation
) -> str:
    path = situation.graph.say_path(found)
    if lasts:
        when = "The contact lasts: part them first."
    elif exam_from is not None:
        when = f"A clean exam means something from {say_date(exam_from)} on."
    else:
        when = "From when on a clean exam means something is not known: ask the vet."
    return f"{path}. Spread: {spread}. {when}"


def infected_since(cleared_on: date | None, latest_shedding_days: float | None) -> date | None:
    """Return the earliest day on which an animal can have been infected anew, None where nobody knows.

    Parameters
    ----------
    cleared_on : date or None
        Day of the first clean exam of a run after which an earlier case was clear by the rule; None when it
        never was: then every recorded contact counts, since one clean exam excludes nothing.
    latest_shedding_days : float or None
        Longest time from infection to shedding; an infection younger than this was not shed yet on that day.

    Examples
    --------
    >>> infected_since(date(2026, 5, 30), 22)
    datetime.date(2026, 5, 8)
    >>> infected_since(None, 22) is None
    True
    """
    if cleared_on is None or latest_shedding_days is None:
        return None
    return date.fromordinal(max(1, cleared_on.toordinal() - int(latest_shedding_days)))
