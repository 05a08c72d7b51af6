"""From the records to the question whether animals may mix: the glue between records, tables and the rule."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any

from fecallab.domain.errors import BadInput
from fecallab.domain.quarantine import MixAnswer, may_mix, release_state
from fecallab.domain.quarantine_exams import ArrivalExam, arrival_exam
from fecallab.domain.quarantine_exposure import Situation
from fecallab.domain.quarantine_state import Present, QuarantineFacts
from fecallab.domain.vet_words import NO_VERDICTS
from fecallab.gather_arrivals_reading import came_again, linked_before, narrowed

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.exam import Exam, Preparation
    from fecallab.domain.followup import Pause
    from fecallab.domain.housing import Arrival, Housing, Release
    from fecallab.domain.quarantine_rules import NotShown, Spread
    from fecallab.domain.sample import Sample
    from fecallab.records.reader import Reader

ANY_HOST = "reptile"


@cache
def known_host(host: str) -> str:
    """Return a host group by which the tables know it; all reptiles where they do not.

    Examples
    --------
    >>> known_host("gecko"), known_host("a griffin")
    ('gecko', 'reptile')
    """
    from fecallab.reference.hosts import lineage

    try:
        lineage(host)
    except BadInput:
        return ANY_HOST
    return host


@cache
def wider_groups(host: str) -> tuple[str, ...]:
    """Return a host group and its wider groups."""
    from fecallab.reference.hosts import lineage

    return tuple(lineage(known_host(host)))


def _spread(group: str, host: str) -> Spread:
    from fecallab.reference.quarantine import spread_for

    return spread_for(group, known_host(host))


def _not_shown(hosts: Iterable[str]) -> Sequence[NotShown]:
    from fecallab.reference.quarantine import not_shown

    return not_shown(sorted({known_host(host) for host in hosts}))


def situation_of(
    store: Reader, today: date, *, housing: Housing | None = None, only: Collection[str] | None = None
) -> Situation:
    """Return the state of quarantine on a day.

    Parameters
    ----------
    store : Reader
        The records, of one moment.
    today : date
        The day.
    housing : Housing, optional
        Instead of what is recorded of who lives where, for the question what would hold without a release.
    only : collection of str, optional
        Codes of the animals that are asked about; all in quarantine when left out. Others are read as far as
        they matter to these.

    Notes
    -----
    Read are the exams of animals in quarantine, and of others those with a finding, if a chain of contacts leads
    from them to an animal in quarantine. What is stored besides is not looked at.
    """
    from fecallab.domain.followup import Pause
    from fecallab.reference.quarantine import never_mixed

    whole = came_again(store.housing() if housing is None else housing)
    plain = QuarantineFacts(
        housing=whole,
        exams={},
        spread=_spread,
        lineage=wider_groups,
        never_mixed=never_mixed(),
        not_shown=_not_shown,
        cleaned=_cleaned(store, whole),
    )
    present = Present(plain, today)
    inside = set(present.quarantined)
    if only is not None:
        inside &= set(only)
    if not inside:
        return Situation(plain, today)
    before = linked_before(present.graph, inside)
    house = narrowed(present, before)
    kept = set(house.animals)
    mine = kept & set(present.quarantined)
    pauses: dict[str, list[Pause]] = defaultdict(list)
    for event in store.events_of_kind("brumation"):
        pauses[event.animal].append(Pause(event.start, event.end))
    cases: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for case in store.cases(open_only=True):
        if case.animal in mine and case.opened_on <= today:
            cases[case.animal].append((case.code, case.target))
    facts = replace(
        plain,
        housing=house,
        exams=_exams(store, Present(replace(plain, housing=house), today), mine, kept - mine),
        open_cases=cases,
        pauses=pauses,
    )
    return Situation(facts, today)


def contact_situation(store: Reader, today: date) -> Present:
    """Return who was where and met whom, with the cleanings; no exam is looked at."""
    house = store.housing()
    facts = QuarantineFacts(
        housing=house, exams={}, spread=_spread, lineage=wider_groups, cleaned=_cleaned(store, house)
    )
    return Present(facts, today)


def _exams(
    store: Reader, present: Present, inside: Collection[str], others: Collection[str]
) -> dict[str, list[ArrivalExam]]:
    from fecallab.reference.adequacy import adequacy_facts
    from fecallab.reference.quarantine import protocol_template
    from fecallab.reference.tables import EDITION

    facts = adequacy_facts()
    stages: dict[tuple[str, bool, bool | None], _StagesOf] = {}
    found: dict[str, list[ArrivalExam]] = defaultdict(list)
    judged: dict[tuple[Any, ...], ArrivalExam] = {}
    fallback: dict[str, Any] = {}
    for exam, sample in store.exams_of(inside, others):
        animal = present.facts.housing.animals.get(sample.animal)
        if animal is None:
            continue
        protocol = present.protocol_of(animal.code)
        if protocol is None:
            host = known_host(animal.host_group)
            if host not in fallback:
                fallback[host] = protocol_template(host).protocol("", present.today, EDITION)
            protocol = fallback[host]
        kind = (animal.host_group, animal.plant_eater, animal.adult)
        key = (protocol.code or animal.host_group, kind, animal.kind, *shape_of(exam, sample))
        alike = judged.get(key)
        if alike is None:
            if kind not in stages:
                stages[kind] = _StagesOf(animal)
            alike = judged[key] = arrival_exam(exam, sample, animal, protocol, stages[kind], facts)
        found[animal.code].append(
            replace(
                alike,
                code=exam.code,
                animal=animal.code,
                taken_on=sample.taken_on,
                defecation=sample.same_stool_as or sample.code,
                stools_of=sample.stools_of,
            )
        )
    return found


def shape_of(exam: Exam, sample: Sample) -> tuple[Any, ...]:
    """Return everything of an exam that its judgement rests on; two exams with the same shape are judged alike.

    Whose it is, its codes and its days are left out; ages of the stool stand in minutes. An exam with marks or
    with words of a vet keeps its code, so that it is like no other.
    """
    own = exam.verdicts != NO_VERDICTS or any(r.marks for p in exam.preparations for r in p.readings)
    return (
        exam.code if own else "",
        exam.as_told,
        exam.stated_adequate,
        exam.by if exam.as_told else "",
        (sample.origin, sample.form, sample.kept, sample.mass_g, sample.whole_stool_used),
        tuple(_preparation_shape(one, exam, sample) for one in exam.preparations),
        tuple(
            (one.target, one.stage, one.result, one.stated_adequate, one.method, one.who)
            for one in exam.elsewhere
        ),
    )


def _preparation_shape(one: Preparation, exam: Exam, sample: Sample) -> tuple[Any, ...]:
    return (
        one.method,
        sample.passed_minutes_ago(one.read_at or exam.examined_at),
        (one.cover_glass, one.room_c, one.slide_warmed, one.solution, one.specific_gravity),
        (one.gravity_checked, one.standing_minutes, one.sample_g, one.suspension_ml, one.counted_ml),
        tuple(
            (
                (each.kind, each.objective, each.field_number, each.cover_share),
                tuple(each.counts.items()),
                tuple(each.unsure.items()),
            )
            for each in one.readings
        ),
    )


class _StagesOf(dict[str, tuple[str, ...]]):
    """The stages that must be negative, by target group, for one kind of animal."""

    def __init__(self, animal: Animal) -> None:
        super().__init__()
        self._animal = animal

    def get(self, target: str, default: Any = None) -> Any:
        if target not in self:
            from fecallab.gather import stages_of

            self[target] = stages_of(target, self._animal)
        return self[target] or default


def _cleaned(store: Reader, housing: Housing) -> dict[str, list[date]]:
    from fecallab.records.clean import name_key

    codes = {name_key(place.name): place.code for place in housing.enclosures}
    found: dict[str, list[date]] = defaultdict(list)
    for entry in store.cleanings():
        code = codes.get(name_key(entry.enclosure)) if entry.enclosure else None
        if code is not None:
            found[code].append(entry.at.date())
    return found


# --- one arrival -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class GroupAnswer:
    """A contact group of an arrival with its answer and the chances beside it."""

    animals: tuple[str, ...]
    answer: MixAnswer


def groups_of(arrival: Arrival, situation: Situation) -> list[GroupAnswer]:
    """Return the contact groups that hold animals of an arrival in quarantine, each with its answer."""
    mine = {animal for animal in situation.quarantined if situation.arrival_of[animal] == arrival.code}
    return [GroupAnswer(group, may_mix(group, situation)) for group in situation.groups if mine & set(group)]


def releases_of(store: Reader, arrival: Arrival, situation: Situation) -> list[tuple[Release, str]]:
    """Return the releases of an arrival up to the day, each with how it stands by all that is known now."""
    housing = store.housing()
    acts = [one for one in housing.releases if one.arrival == arrival.code and one.on <= situation.today]
    acts.sort(key=lambda one: (one.on, one.code))
    return [(act, state_of_release(store, act, housing)) for act in acts]


def situation_before(store: Reader, release: Release, housing: Housing) -> Situation:
    """Return the state on the day of a release as it was without it, by all that is known now."""
    without = replace(
        housing,
        releases=tuple(one for one in housing.releases if one.on < release.on and one.code != release.code),
        events=tuple(one for one in housing.events if one.start <= release.on),
        stays=_as_they_were(housing, release.on),
    )
    return situation_of(store, release.on, housing=without, only=release.animals)


def state_of_release(store: Reader, release: Release, housing: Housing) -> str:
    """Return how a release stands today: by all that is known now of the day on which it was done."""
    then = situation_before(store, release, housing)
    inside = [animal for animal in release.animals if animal in then.quarantined]
    answers = [may_mix(group, then) for group in {then.group_of(animal) for animal in inside}]
    worst = next((one for one in answers if not one.may_release), answers[0] if answers else None)
    return release_state(release, worst)


def _as_they_were(housing: Housing, day: date) -> tuple[Any, ...]:
    """Return the stays without those that the release itself began on its day."""
    ended = {stay.animal for stay in housing.stays if stay.end == day and not stay.visit}
    kept = []
    for stay in housing.stays:
        if stay.animal in ended and not stay.visit:
            if stay.start == day and stay.end != day:
                continue
            if stay.end == day:
                stay = replace(stay, end=None)
        kept.append(stay)
    return tuple(kept)
