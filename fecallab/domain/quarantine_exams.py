"""Exams as the rule of quarantine sees them: one answer for each stool, and the run of clean ones."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from fecallab.domain.adequacy import AdequacyFacts
from fecallab.domain.animal import Animal
from fecallab.domain.casework import counts_of, judge_exam
from fecallab.domain.exam import Exam, method_words
from fecallab.domain.housing import ArrivalProtocol
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.domain.quarantine_rules import STANDS_FOR
from fecallab.domain.sample import Sample

CRYPTOSPORIDIUM = "cryptosporidium"
NEVER_ASKED = (CRYPTOSPORIDIUM, "microsporidian", "mite")
"""Groups that no stool exam clears: finding them blocks, a negative is never asked for."""

TUB_RULES = ("every member's share", "tub as it stands", "each animal")
"""When an exam of a tub counts for the tub as one: the sample holds stool of every member (known to); always;
never, since every animal is examined by itself. Whatever the rule: it confirms no animal of the tub."""


@dataclass(frozen=True, kw_only=True)
class ArrivalExam:
    """One exam as this rule sees it.

    Attributes
    ----------
    code, animal : str
        The exam and the owner of its sample.
    taken_on : date
        The day that counts: the older end of the passing.
    defecation : str
        Code of the stool; exams of one stool speak together.
    results : mapping of str to str
        For each group that was judged: ``positive``, ``negative``, ``inconclusive`` or ``unsure``.
    preparations : tuple of str
        Methods that were read.
    laboratory_pcr : str
        Result of a laboratory PCR against *Cryptosporidium*: ``positive``, ``negative`` or empty.
    stools_of : int or None
        Of how many of a tub's animals the sample holds stool; None when not known.
    """

    code: str = ""
    animal: str
    taken_on: date
    defecation: str = ""
    results: Mapping[str, str] = field(default_factory=dict)
    preparations: tuple[str, ...] = ()
    laboratory_pcr: str = ""
    stools_of: int | None = None


def required_groups(protocol: ArrivalProtocol) -> tuple[str, ...]:
    """Return the groups that each exam that counts must have been able to show, and did not.

    Examples
    --------
    >>> required_groups(ArrivalProtocol(arrival="I1", written_on=date(2026, 5, 1), days_at_least=90,
    ...     negatives_needed=3, spacing_days=14, blocking=("coccidian", "mite")))
    ('coccidian',)
    """
    return tuple(
        group
        for group in protocol.blocking
        if group not in protocol.not_blocking and group not in NEVER_ASKED
    )


def arrival_exam(
    exam: Exam,
    sample: Sample,
    animal: Animal,
    protocol: ArrivalProtocol,
    stages_of: Mapping[str, Sequence[str]],
    facts: AdequacyFacts,
    *,
    stools_of: int | None = None,
) -> ArrivalExam:
    """Judge one exam for everything that its arrival's protocol asks, and for whatever was seen besides.

    Parameters
    ----------
    stages_of : mapping of str to sequence of str
        The stages of each group that must be negative in this animal.
    facts : AdequacyFacts
        The tables; adequacy is judged as for a case.
    stools_of : int, optional
        Of how many of a tub's animals the sample holds stool.
    """
    seen = {
        facts.group_of.get(name, name)
        for sure in (True, False)
        for name, number in counts_of(exam, sure=sure).items()
        if number > 0
    } | {result.target for result in exam.elsewhere}
    groups = dict.fromkeys((*required_groups(protocol), *sorted(seen & set(TARGET_GROUPS))))
    results = {
        group: judge_exam(exam, sample, animal, group, stages_of.get(group, ("adult",)), facts).result
        for group in groups
    }
    pcr = [
        one.result
        for one in exam.elsewhere
        if one.target == CRYPTOSPORIDIUM
        and "pcr" in one.method.casefold()
        and (one.result == "positive" or one.stated_adequate)
    ]
    methods = [preparation.method for preparation in exam.preparations if preparation.readings]
    return ArrivalExam(
        code=exam.code,
        animal=animal.code,
        taken_on=sample.taken_on,
        defecation=sample.same_stool_as or sample.code,
        results=results,
        preparations=tuple(dict.fromkeys([*methods, *(["from_elsewhere"] if exam.elsewhere else [])])),
        laboratory_pcr=("positive" if "positive" in pcr else pcr[0]) if pcr else "",
        stools_of=stools_of,
    )


_Verdict = tuple[str, tuple[str, ...], tuple[str, ...], tuple[str, ...], str, int]


@dataclass(frozen=True)
class Stool:
    """All exams of one stool together.

    ``word`` is ``positive``, ``unsure``, ``clean`` or ``inconclusive``; ``found`` names the blocking groups that
    were seen (sure, or unsure), ``lacks`` what kept it from being clean; ``held``
    of how many of the owner's animals it is known to hold stool (at least one).
    """

    animal: str
    taken_on: date
    defecation: str
    exams: tuple[str, ...]
    word: str
    found: tuple[str, ...]
    harmless: tuple[str, ...]
    lacks: tuple[str, ...]
    pcr: str
    held: int = 1


def stools(
    exams: Iterable[ArrivalExam],
    protocol: ArrivalProtocol,
    *,
    number_on: Callable[[date], int] = lambda day: 1,
    tub_rule: str = "",
    known: dict[object, _Verdict] | None = None,
) -> tuple[Stool, ...]:
    """Put the exams of each stool together, the earliest stool first; the order within a day does not matter.

    Parameters
    ----------
    exams : iterable of ArrivalExam
        Of one owner.
    number_on : callable
        How many animals the owner stands for on a day.
    tub_rule : str
        One of `TUB_RULES` for a tub or pen; empty for one animal.
    known : dict, optional
        Verdicts on the same readings, kept between calls for one protocol and one rule.
    """
    by_stool: dict[str, list[ArrivalExam]] = defaultdict(list)
    for exam in exams:
        by_stool[exam.defecation or exam.code].append(exam)
    asks = _Asks(
        frozenset(required_groups(protocol)),
        frozenset(protocol.not_blocking),
        tuple((method, frozenset((method, *STANDS_FOR.get(method, ())))) for method in protocol.preparations),
        tub_rule,
    )
    memory: dict[object, _Verdict] = {} if known is None else known
    found = [_one_stool(rows, asks, number_on, memory) for rows in by_stool.values()]
    return tuple(sorted(found, key=lambda stool: (stool.taken_on, stool.defecation)))


@dataclass(frozen=True)
class _Asks:
    """What a protocol asks of one stool, looked up once."""

    required: frozenset[str]
    harmless: frozenset[str]
    preparations: tuple[tuple[str, frozenset[str]], ...]
    tub_rule: str


def _one_stool(
    rows: Sequence[ArrivalExam],
    asks: _Asks,
    number_on: Callable[[date], int],
    known: dict[object, _Verdict],
) -> Stool:
    """Return what all exams of one stool say; what the same readings said before is looked up in ``known``."""
    first = rows[0] if len(rows) == 1 else min(rows, key=lambda exam: (exam.taken_on, exam.code))
    number = number_on(first.taken_on) if asks.tub_rule else 1
    said = [(*e.results.items(), e.preparations, e.laboratory_pcr, e.stools_of) for e in rows]
    same = (number, *said)
    verdict = known.get(same)
    if verdict is None:
        verdict = known[same] = _verdict(rows, asks, number)
    codes = (first.code,) if len(rows) == 1 else tuple(sorted(exam.code for exam in rows))
    word, found, harmless, lacks, pcr, held = verdict
    return Stool(
        first.animal,
        first.taken_on,
        first.defecation or first.code,
        codes,
        word,
        found,
        harmless,
        lacks,
        pcr,
        held,
    )


def _verdict(rows: Sequence[ArrivalExam], asks: _Asks, number: int) -> _Verdict:
    negative: set[str] = set()
    other: dict[str, set[str]] = {"positive": set(), "unsure": set(), "inconclusive": set()}
    methods: set[str] = set()
    for exam in rows:
        for group, result in exam.results.items():
            (negative if result == "negative" else other[result]).add(group)
        methods.update(exam.preparations)
    pcr = {exam.laboratory_pcr for exam in rows}
    held = max(exam.stools_of or 0 for exam in rows)
    if "positive" in pcr:
        other["positive"].add(CRYPTOSPORIDIUM)
    positive = other["positive"] - asks.harmless
    unsure = other["unsure"] - asks.harmless
    lacks = sorted(asks.required - negative)
    if "from_elsewhere" not in methods:
        lacks += [method_words(method) for method, any_of in asks.preparations if not methods & any_of]
    if asks.tub_rule == "each animal":
        lacks.append("a stool of each animal by itself")
    elif asks.tub_rule == "every member's share" and held < number:
        lacks.append(f"stool of each of {number} animals ({held or 'number not noted'})")
    word = "positive" if positive else "unsure" if unsure else "inconclusive" if lacks else "clean"
    return (
        word,
        tuple(sorted(positive or unsure)),
        tuple(sorted(other["positive"] & asks.harmless)),
        tuple(lacks),
        "positive" if "positive" in pcr else "negative" if "negative" in pcr else "",
        max(held, 1),
    )


def spaced(days: Iterable[tuple[date, str]], spacing_days: int) -> list[tuple[date, str]]:
    """Return the days that count: each at least the spacing after the one before, the earliest possible.

    Examples
    --------
    >>> [day.day for day, _ in spaced([(date(2026, 5, n), str(n)) for n in (1, 5, 9, 16)], 7)]
    [1, 9, 16]
    """
    counted: list[tuple[date, str]] = []
    for day, stool in sorted(days):
        if not counted or (day - counted[-1][0]).days >= max(spacing_days, 1):
            counted.append((day, stool))
    return counted


def counted_run(
    days: Iterable[tuple[date, str]], needed: int, spacing_days: int, not_before: date
) -> list[tuple[date, str]]:
    """Return the stools that count: spaced, and the last one needed on or after a day where there is one.

    Examples
    --------
    >>> seen = [(date(2026, 5, n), str(n)) for n in (1, 8, 15, 22, 23)]
    >>> [day.day for day, _ in counted_run(seen, 3, 7, date(2026, 5, 23))]
    [1, 8, 23]
    """
    seen = sorted(days)
    plain = spaced(seen, spacing_days)
    if needed == 0 or any(day >= not_before for day, _ in plain[needed - 1 :]):
        return plain
    before = plain[: needed - 1]
    if len(before) < needed - 1:
        return plain
    least = not_before
    if before:
        least = max(least, before[-1][0] + timedelta(days=max(spacing_days, 1)))
    later = spaced([one for one in seen if one[0] >= least], spacing_days)
    return [*before, *later] if later else plain


def earliest_end(
    days: Iterable[tuple[date, str]],
    needed: int,
    spacing_days: int,
    *,
    since: date,
    not_before: date,
    today: date,
) -> tuple[date, date] | None:
    """Return (first day of the next stool that counts, day on which the run can be whole), None when it is.

    Parameters
    ----------
    days : iterable of (date, str)
        Clean stools of the run, each with its name.
    needed : int
        How many must count; the last of them on or after ``not_before``.
    since : date
        First day on which a stool may count.
    not_before : date
        Earliest day for the last one.
    today : date
        From today on a clean stool may come on any day.

    Notes
    -----
    The k-th of the earliest possible chain is never later than the k-th of any other chain, so that one more
    clean stool never puts the end off, and one fewer never brings it forward.
    """
    gap = timedelta(days=max(spacing_days, 1))
    clean = sorted({day for day, _ in days})
    at: date | None = None
    next_stool: date | None = None

    def first_from(day: date) -> date:
        nonlocal next_stool
        have = next((one for one in clean if one >= day), None)
        if have is not None and have <= today:
            return have
        if next_stool is None:
            next_stool = day
        return max(day, today)

    for place in range(needed):
        least = since if at is None else at + gap
        if place == needed - 1:
            least = max(least, not_before)
        at = first_from(least)
    return None if at is None or next_stool is None else (next_stool, at)
