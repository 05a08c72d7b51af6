"""The page of one contact group, for the buyer or the vet: what was found in stools, exam by exam, and what not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from markupsafe import Markup

from fecallab.domain.errors import Reason
from fecallab.domain.spoken import say_date
from fecallab.report.model import PageStamp
from fecallab.report.page import NO_DIAGNOSIS, page_environment, page_style

if TYPE_CHECKING:
    from fecallab.domain.housing import Arrival, ArrivalProtocol, Release
    from fecallab.domain.quarantine import MixAnswer
    from fecallab.domain.quarantine_chances import GroupChance
    from fecallab.domain.quarantine_exams import Stool
    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.domain.quarantine_run import MemberRun
    from fecallab.gather_arrivals import GroupAnswer
    from fecallab.records.reader import Reader

WORDS = {
    "clean": ("negative", "none found"),
    "positive": ("positive", "found"),
    "unsure": ("unsure", "waits for the vet's word"),
    "inconclusive": ("inconclusive", "could not have shown it all"),
}
"""What a stool says, as the name of a drawing in the legend and in words."""


@dataclass(frozen=True, kw_only=True)
class StoolCell:
    """One stool of one animal: its drawing, its word, the day, and which exam of the run it counts as."""

    key: str
    word: str
    taken_on: date
    exams: tuple[str, ...]
    counts_as: str = ""
    more: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class OwnerRow:
    """One animal or tub with its stools, the oldest first."""

    name: str
    code: str
    number: int
    counted: str
    days: str
    waits: str
    since: str
    stools: tuple[StoolCell, ...] = ()


@dataclass(frozen=True, kw_only=True)
class GroupPage:
    """Everything that stands on the page of a contact group."""

    stamp: PageStamp
    arrival: Arrival
    owners: tuple[OwnerRow, ...]
    number: int
    species: tuple[str, ...]
    headline: str
    answer: str
    reasons: tuple[Reason, ...]
    remarks: tuple[Reason, ...]
    released: str = ""
    released_more: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    protocol: ArrivalProtocol | None = None
    protocol_source: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    chance: GroupChance | None = None
    cannot_show: tuple[tuple[str, str], ...] = ()
    never_with: tuple[str, ...] = ()
    others: tuple[str, ...] = field(default=())

    @property
    def most_stools(self) -> int:
        """How many stools the animal with the most of them has."""
        return max((len(owner.stools) for owner in self.owners), default=0)


def group_pages(store: Reader, arrival: Arrival, today: date, *, of: str = "") -> list[tuple[str, GroupPage]]:
    """Return the pages of an arrival's contact groups with a name for each file.

    Parameters
    ----------
    store : Reader
        The records, of one moment.
    arrival : Arrival
        Whose groups.
    today : date
        The day.
    of : str
        Code of an animal, for the page of its group alone.

    Returns
    -------
    list of (str, GroupPage)
        Groups in quarantine as they stand today; those that were released as they stood on that day, by all that
        is known now.
    """
    from fecallab.gather_arrivals import groups_of, releases_of, situation_before, situation_of
    from fecallab.gather_chances import chances_of
    from fecallab.gather_doubt import RELEASE, with_doubt

    mine = [one.animal for one in store.members(arrival.code)]
    situation = situation_of(store, today, only=mine)
    found: list[tuple[str, GroupPage]] = []
    for one in with_doubt(store, situation, groups_of(arrival, situation), today, RELEASE):
        if not of or of in one.animals:
            page = _page(arrival, one, situation, today, chances_of(one.answer, situation))
            found.append((f"arrival-{arrival.code}-{one.animals[0]}", page))
    for act, state in releases_of(store, arrival, situation):
        then = situation_before(store, act, store.housing())
        for one in with_doubt(store, then, groups_of(arrival, then), today):
            if not set(one.animals) & set(act.animals) or (of and of not in one.animals):
                continue
            page = _page(arrival, one, then, today, chances_of(one.answer, then), act, state)
            found.append((f"arrival-{arrival.code}-{act.code}-{one.animals[0]}", page))
    return found


def _page(
    arrival: Arrival,
    one: GroupAnswer,
    situation: Situation,
    today: date,
    chance: GroupChance | None,
    act: Release | None = None,
    state: str = "",
) -> GroupPage:
    from fecallab.domain.quarantine import BEFORE_TIME_MEANS
    from fecallab.report.build import stamp

    answer: MixAnswer = one.answer
    protocol = situation.protocol_of(answer.members[0].animal)
    released: tuple[str, ...] = ()
    if act is not None:
        said = f"On {say_date(act.on)} by {act.by}{f', to {act.to}' if act.to else ''}."
        then = f"The answer then: {act.answer_then} (edition {act.edition})." if act.answer_then else ""
        warned = "" if act.supported_then else BEFORE_TIME_MEANS
        released = tuple(filter(None, (said, then, warned)))
    species = dict.fromkeys(
        situation.facts.housing.animals[m.animal].species or situation.host_of(m.animal)
        for m in answer.members
    )
    return GroupPage(
        stamp=stamp(today),
        arrival=arrival,
        owners=tuple(_owner(member, situation) for member in answer.members),
        number=answer.number,
        species=tuple(species),
        headline=answer.headline,
        answer=answer.answer,
        reasons=answer.reasons,
        remarks=answer.remarks,
        released=state,
        released_more=released,
        found=_found(answer.members, situation),
        protocol=protocol,
        protocol_source=tuple(protocol.source.replace(" | ", "; ").split("; ")) if protocol else (),
        changes=_changes(answer.members, situation),
        chance=chance,
        cannot_show=tuple(_halves(said) for said in answer.cannot_show),
        never_with=answer.never_with,
        others=tuple(situation.name_of(animal) for animal in answer.others),
    )


def _halves(said: str) -> tuple[str, str]:
    what, _, words = said.partition(": ")
    return what, words


def _owner(member: MemberRun, situation: Situation) -> OwnerRow:
    counted = {stool: place for place, (_, stool) in enumerate(member.counted, start=1)}
    exams = f"{member.k} of {member.n}"
    if member.pcrs_needed:
        exams += f"; laboratory PCRs {member.pcrs} of {member.pcrs_needed}"
    over = member.days_end
    days = ""
    if over is not None:
        days = f"over since {say_date(over)}" if over <= situation.today else f"over on {say_date(over)}"
    return OwnerRow(
        name=member.name,
        code=member.animal,
        number=member.number,
        counted=exams,
        days=days,
        waits=", ".join(dict.fromkeys(_WAITS.get(one.code, one.code) for one in member.missing)),
        since=f"counted since {say_date(member.run.day)}: {member.run.why}" if member.run else "",
        stools=tuple(
            _cell(stool, counted.get(stool.defecation), member.n)
            for stool in situation.stools_of(member.animal)
        ),
    )


_WAITS = {
    "protocol-missing": "a protocol",
    "cryptosporidium-found": "Cryptosporidium was found",
    "case-open": "an open case",
    "unsure-mark": "the vet's word",
    "enclosure-unknown": "an enclosure",
    "exams-missing": "exams",
    "pcr-missing": "laboratory PCRs",
    "days-left": "days",
}


def _cell(stool: Stool, place: int | None, needed: int) -> StoolCell:
    key, word = WORDS[stool.word]
    more: list[str] = []
    if stool.word in ("positive", "unsure"):
        word = f"{', '.join(stool.found)} {word}" if stool.word == "positive" else word
        more += list(stool.found) if stool.word == "unsure" else []
    if stool.word == "inconclusive" and stool.lacks:
        more.append(f"lacks {', '.join(stool.lacks[:4])}{' …' if len(stool.lacks) > 4 else ''}")
    if stool.harmless:
        more.append(f"with {', '.join(stool.harmless)}")
    if stool.pcr:
        more.append(f"PCR {stool.pcr}")
    return StoolCell(
        key=key,
        word=word,
        taken_on=stool.taken_on,
        exams=stool.exams,
        counts_as=f"counts as {place} of {needed}" if place is not None and place <= needed else "",
        more=tuple(more),
    )


def _found(members: Sequence[MemberRun], situation: Situation) -> tuple[str, ...]:
    """Return what was found in the group, in words; also when it was nothing."""
    blocking: dict[str, list[str]] = {}
    harmless: dict[str, set[str]] = {}
    for member in members:
        for stool in situation.stools_of(member.animal):
            for group in stool.found if stool.word == "positive" else ():
                blocking.setdefault(group, []).append(f"{member.name} on {say_date(stool.taken_on)}")
            for group in stool.harmless:
                harmless.setdefault(group, set()).add(member.name)
    said = [f"{group}: found in {'; '.join(rows)}." for group, rows in sorted(blocking.items())]
    if not said and any(situation.stools_of(member.animal) for member in members):
        said.append("No parasite that the protocol counts was found in a stool of these animals here.")
    owners = len(members)
    return (
        *said,
        *(
            f"{group}: seen in {len(names)} of {owners}; a normal inhabitant by the protocol."
            for group, names in sorted(harmless.items())
        ),
    )


def _changes(members: Sequence[MemberRun], situation: Situation) -> tuple[str, ...]:
    names = {member.animal: member.name for member in members}
    rows = [
        change
        for change in situation.facts.housing.changes
        if change.animal in names and change.on <= situation.today
    ]
    return tuple(
        f"{say_date(change.on)}: {change.number} of {names[change.animal]} {change.kind}"
        f"{f' ({situation.name_of(change.other)})' if change.other else ''}"
        for change in sorted(rows, key=lambda one: (one.on, one.code))
    )


@cache
def _style() -> str:
    own = resources.files("fecallab.report").joinpath("templates", "group.css").read_text("utf-8")
    return f"{page_style()}\n{own}"


def render_group(page: GroupPage) -> str:
    """Return the page of a contact group as HTML: nothing is fetched, no script is needed."""
    keys = [key for key, _ in WORDS.values() if any(c.key == key for o in page.owners for c in o.stools)]
    return (
        page_environment()
        .get_template("group.html")
        .render(
            page=page,
            title=f"Arrival {page.arrival.code}: {page.owners[0].name}{' and others' if len(page.owners) > 1 else ''}",
            style=Markup(_style()),
            no_diagnosis=NO_DIAGNOSIS,
            any_harmless=any(
                line.startswith("with ") for o in page.owners for c in o.stools for line in c.more
            ),
            shape_defs=Markup(""),
            legend=[(key, word) for key, word in WORDS.values() if key in keys],
        )
    )
