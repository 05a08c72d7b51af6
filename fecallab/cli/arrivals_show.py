"""``fecallab arrivals show``: may they mix? One answer, who still needs what, and the chances beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, ON, RECORDS, fact_dict, number_or_none, open_folder, read_day
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_date, say_percent

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.housing import Arrival, Housing
    from fecallab.domain.quarantine import MixAnswer
    from fecallab.domain.quarantine_chances import GroupChance
    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.domain.quarantine_run import MemberRun
    from fecallab.gather_arrivals import GroupAnswer

NEEDS = {
    "protocol-missing": "protocol",
    "cryptosporidium-found": "Cryptosporidium was found",
    "case-open": "open case",
    "unsure-mark": "the vet's word",
    "enclosure-unknown": "enclosure",
    "exams-missing": "exams",
    "pcr-missing": "laboratory PCRs",
    "days-left": "days",
}
"""What is missing, in a word or two, by the code of the reason."""
MOST_LACKS = 3
"""An exam that lacks more than this was made for something else (a laboratory test, a quick look)."""
MOST_GROUPS = 6
"""So many contact groups are told one by one; more are put together."""


def register(app: typer.Typer) -> None:
    """Add the command ``show``."""
    app.command()(show)


def show(
    arrival: str = typer.Argument(help="Code or name of the arrival."),
    prior: str | None = typer.Option(
        None, help="Your own share of infected animals to start from, 0 to 1, instead of the published one."
    ),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """May they mix? Not yet, with what is missing for whom; or nothing found in stools against it."""
    from fecallab.gather_arrivals import groups_of, releases_of, situation_of
    from fecallab.gather_chances import chances_of
    from fecallab.gather_doubt import RELEASE, with_doubt

    day = read_day(on, "--on", future=True)
    own = number_or_none(prior, "--prior", low=0, high=1)
    with open_folder(records) as store, store.at_one_moment() as reader:
        known = reader.arrival(arrival)
        mine = [one.animal for one in reader.members(known.code)]
        situation = situation_of(reader, day, only=mine)
        groups = with_doubt(reader, situation, groups_of(known, situation), day, RELEASE)
        released = releases_of(reader, known, situation)
    chances = [chances_of(one.answer, situation, own) for one in groups]
    lines = _head(known, situation, groups)
    lines += answer_lines(groups, situation)
    lines += _release_lines(released, situation)
    lines += chance_lines(chances, groups)
    emit(payload_of(known, day, groups, situation, released, chances), "\n".join(lines), as_json)


def _head(arrival: Arrival, situation: Situation, groups: Sequence[GroupAnswer]) -> list[str]:
    from fecallab.cli.arrivals import called
    from fecallab.cli.arrivals_protocol import protocol_lines

    where = f"{arrival.origin}{f', from {arrival.source}' if arrival.source else ''}"
    split = f", split off from {arrival.split_from}" if arrival.split_from else ""
    number = sum(one.answer.number for one in groups)
    head = f"{called(arrival)}: arrived on {say_date(arrival.arrived_on)} ({where}{split})."
    lines = [f"{head} Kept apart today, {say_date(situation.today)}: {number}."]
    protocols = {p.arrival: p for p in situation.facts.housing.protocols if p.written_on <= situation.today}
    if arrival.code in protocols:
        lines += protocol_lines(protocols[arrival.code])
    return lines


def overall(groups: Sequence[GroupAnswer]) -> str:
    """Return the one answer for an arrival, put together from those of its contact groups."""
    from fecallab.domain.quarantine import NOT_YET, NOTHING_AGAINST

    if not groups:
        return "nobody of it is kept apart today"
    if len(groups) == 1:
        return groups[0].answer.headline
    ready = [one.answer for one in groups if one.answer.answer == NOTHING_AGAINST]
    late = [one.answer for one in groups if one.answer.answer == NOT_YET]
    never = len(groups) - len(ready) - len(late)
    parts = []
    if ready:
        number = sum(one.number for one in ready)
        many = _groups(len(ready), len(groups))
        parts.append(f"{NOTHING_AGAINST} for {many} ({number_of(number, 'animal')})")
    if late:
        days = [one.earliest_on for one in late if one.earliest_on is not None]
        soonest = f", the first on {say_date(min(days))} at the earliest" if days else ""
        number = sum(one.number for one in late)
        many = _groups(len(late), len(groups))
        parts.append(f"{NOT_YET} for {many} ({number_of(number, 'animal')}){soonest}")
    if never:
        parts.append(f"{never} hold hosts that are never mixed")
    return "; ".join(parts)


def _groups(some: int, groups: int) -> str:
    """Say how many of the contact groups.

    Examples
    --------
    >>> _groups(1, 1), _groups(2, 2), _groups(3, 3), _groups(1, 3)
    ('the one contact group', 'both contact groups', 'all 3 contact groups', '1 of 3 contact groups')
    """
    if some == groups:
        return {1: "the one contact group", 2: "both contact groups"}.get(some, f"all {some} contact groups")
    return f"{some} of {groups} contact groups"


def answer_lines(groups: Sequence[GroupAnswer], situation: Situation) -> list[str]:
    """Return the answer with its reasons, and a table of who still needs what."""
    lines = ["", f"May they mix? {overall(groups)[:1].upper()}{overall(groups)[1:]}."]
    if not groups:
        return lines
    told = groups if len(groups) <= MOST_GROUPS else []
    for number, one in enumerate(told, start=1):
        if len(groups) > 1:
            lines.append(f"Group {number}, {names_of(one, situation)}: {one.answer.headline}.")
        lines += [f"  - {reason}" for reason in one.answer.reasons]
        lines += [f"  Note: {remark}" for remark in one.answer.remarks]
    if not told:
        lines += _together(groups, situation)
    lines += _positives(groups, situation)
    lines += _why_not_counted(groups, situation)
    lines += ["", "Who still needs what:", who_table(groups, situation.today)]
    hidden = [said.partition(":")[0] for said in _once(one.answer.cannot_show for one in groups)]
    lines += ["", f"Stools cannot show: {'; '.join(hidden)}."] if hidden else []
    lines += [f"Whatever the stools say: {said}" for said in _once(one.answer.never_with for one in groups)]
    return lines


def _once(many: Any) -> list[str]:
    return list(dict.fromkeys(said for some in many for said in some))


def names_of(one: GroupAnswer, situation: Situation) -> str:
    """Return who is in a contact group, in words."""
    names = [situation.name_of(animal) for animal in one.animals]
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return ", ".join(names[:8]) + more


def _together(groups: Sequence[GroupAnswer], situation: Situation) -> list[str]:
    """Tell many contact groups by what they wait for: the number, the names, the first reason in full."""
    lines = []
    by_code: dict[str, list[tuple[GroupAnswer, Any]]] = {}
    for one in groups:
        if one.answer.reasons:
            by_code.setdefault(one.answer.reasons[0].code, []).append((one, one.answer.reasons[0]))
    for rows in by_code.values():
        names = ", ".join(names_of(one, situation) for one, _ in rows[:5])
        more = f" and {len(rows) - 5} more" if len(rows) > 5 else ""
        many = "contact groups" if len(rows) > 1 else "contact group"
        first = "The first: " if len(rows) > 1 else ""
        lines.append(f"  - {len(rows)} {many} ({names}{more}). {first}{rows[0][1]}")
    remarks = _once([f"{remark}" for remark in one.answer.remarks] for one in groups)
    return [*lines, *(f"  Note: {remark}" for remark in remarks[:5])]


def _positives(groups: Sequence[GroupAnswer], situation: Situation) -> list[str]:
    """Return how to see whom a positive of these groups met, the latest finding first."""
    mine = {member.animal: member for one in groups for member in one.answer.members if not member.done}
    found = [
        (day, animal, group)
        for group, days in situation.positives.items()
        for animal, day in days.items()
        if animal in mine and group in required_words(situation, animal)
    ]
    return [
        f"  Whom {mine[animal].name} met: fecallab contacts {animal} --target {group}"
        for _, animal, group in sorted(found, reverse=True)[:3]
    ]


def _why_not_counted(groups: Sequence[GroupAnswer], situation: Situation) -> list[str]:
    """Return where to look why the last exam that could not have shown everything did not count."""
    members = [member for one in groups for member in one.answer.members if member.k < member.n]
    stools = [
        stool
        for member in members
        for stool in situation.stools_of(member.animal)
        if stool.word == "inconclusive" and stool.exams and len(stool.lacks) <= MOST_LACKS
    ]
    if not stools:
        return []
    last = max(stools, key=lambda stool: (-len(stool.lacks), stool.taken_on))
    asked = [word for word in last.lacks if word in required_words(situation, last.animal)]
    code, lacks = last.exams[-1], ", ".join(last.lacks)
    option = f" --target {asked[0]}" if asked else ""
    return [f"  An exam that did not count, {code}, lacks: {lacks}. Why: fecallab exam show {code}{option}"]


def required_words(situation: Situation, animal: str) -> tuple[str, ...]:
    """Return the groups that each exam of an animal must have been able to show."""
    from fecallab.domain.quarantine_exams import required_groups

    protocol = situation.protocol_of(animal)
    return required_groups(protocol) if protocol is not None else ()


def who_table(groups: Sequence[GroupAnswer], today: date) -> str:
    """Return the table of animals with their exams, the end of their days and their next stool."""
    from fecallab.cli.words import table

    rows = []
    for number, one in enumerate(groups, start=1):
        for member in one.answer.members:
            rows.append([f"{number}", *who_cells(member, today)])
    return table(["group", "animal", "exams", "days over on", "next stool from", "waits for"], rows)


def who_cells(member: MemberRun, today: date) -> list[str]:
    """Return what one animal still needs, as cells: name, exams, end of days, next stool, what is missing."""
    many = f" ({member.number})" if member.number != 1 else ""
    exams = f"{member.k} of {member.n}"
    if member.pcrs_needed:
        exams += f", PCR {member.pcrs} of {member.pcrs_needed}"
    waits = ", ".join(NEEDS.get(reason.code, reason.code) for reason in member.missing)
    since = member.next_sample_on_or_after
    stool = "-" if since is None else "now" if since <= today else say_date(since)
    over = (
        "-" if member.days_end is None else "over" if member.days_end <= today else say_date(member.days_end)
    )
    return [f"{member.name}{many}", exams, over, stool, waits or "nothing"]


def _release_lines(released: Sequence[tuple[Any, str]], situation: Situation) -> list[str]:
    lines = []
    for act, state in released:
        names = ", ".join(situation.name_of(animal) for animal in act.animals[:8])
        more = f" and {len(act.animals) - 8} more" if len(act.animals) > 8 else ""
        to = f", to {act.to}" if act.to else ""
        lines.append(f"{act.code}, {say_date(act.on)} by {act.by}: {names}{more}{to}: {state}.")
    return ["", "Released:", *(f"  {line}" for line in lines)] if lines else []


def chance_lines(chances: Sequence[GroupChance | None], groups: Sequence[GroupAnswer]) -> list[str]:
    """Return the chances beside the answer: before and after, twice, with the prior named."""
    from fecallab.cli.typed import say_number

    if not groups:
        return []
    known = [(number, one) for number, one in enumerate(chances, start=1) if one is not None]
    if not known:
        return [
            "",
            "Chances: no published share of infected animals was found for these hosts; give your own: --prior",
        ]
    first = known[0][1]
    lines = [
        "",
        f"Chances beside it, per animal, for {first.target}; exams independent to cautious.",
        f"  Before: {say_percent(first.prior)} ({first.prior_says}). Sensitivity: {first.sensitivity_says}.",
    ]
    for number, one in known[:MOST_GROUPS]:
        lows, highs = [m.independent for m in one.members], [m.cautious for m in one.members]
        now_each = _span(say_percent(min(lows)), say_percent(max(highs)))
        if one.animals == 1:
            lines.append(f"  Group {number}: {now_each} now.")
        else:
            left = _span(say_number(one.expected_left), say_number(one.expected_left_cautious))
            lines.append(
                f"  Group {number}: {now_each} each now; of {one.animals}, {left} carry it on average"
                f" ({say_number(one.expected_before)} before)."
            )
        lines += [f"    {one.found_says}"] if one.found_says else []
    if len(known) > MOST_GROUPS:
        lines.append(f"  ... and {len(known) - MOST_GROUPS} more groups; --json lists all.")
    return [*lines, f"  What would lower it: {first.lowers}"]


def _span(low: str, high: str) -> str:
    """Return two ends, or one where both are the same."""
    return low if low == high else f"{low} to {high}"


def member_dict(member: MemberRun) -> dict[str, Any]:
    """Return what one animal still needs, as plain keys."""
    return {
        "animal": member.animal,
        "name": member.name,
        "number": member.number,
        "done": member.done,
        "clean_exams": member.k,
        "clean_exams_needed": member.n,
        "pcrs": member.pcrs,
        "pcrs_needed": member.pcrs_needed,
        "counts_since": member.run.day if member.run else None,
        "counts_since_why": member.run.why if member.run else "",
        "days_over_on": member.days_end,
        "next_sample_on_or_after": member.next_sample_on_or_after,
        "earliest_on": member.earliest_on,
        "missing": [reason.as_dict() for reason in member.missing],
        "normal_inhabitants": [group for group, _ in member.harmless],
    }


def group_dict(one: GroupAnswer) -> dict[str, Any]:
    """Return a contact group's answer as plain keys."""
    answer: MixAnswer = one.answer
    return {
        "animals": list(one.animals),
        "number": answer.number,
        "answer": answer.answer,
        "headline": answer.headline,
        "may_release": answer.may_release,
        "earliest_on": answer.earliest_on,
        "reasons": [reason.as_dict() for reason in answer.reasons],
        "remarks": [remark.as_dict() for remark in answer.remarks],
        "cannot_show": list(answer.cannot_show),
        "never_with": list(answer.never_with),
        "members": [member_dict(member) for member in answer.members],
    }


def payload_of(
    arrival: Arrival,
    day: date,
    groups: Sequence[GroupAnswer],
    situation: Situation,
    released: Sequence[tuple[Any, str]],
    chances: Sequence[GroupChance | None],
) -> Mapping[str, Any]:
    """Return everything that is shown of an arrival as plain keys."""
    from fecallab.domain.quarantine import NEVER_WITH_THESE, NOT_YET, NOTHING_AGAINST

    words = {one.answer.answer for one in groups}
    answer = next((word for word in (NEVER_WITH_THESE, NOT_YET, NOTHING_AGAINST) if word in words), None)
    days = [one.answer.earliest_on for one in groups]
    return {
        "arrival": fact_dict(arrival),
        "today": day,
        "answer": answer,
        "headline": overall(groups),
        "earliest_on": None if None in days else max((d for d in days if d), default=None),
        "groups": [
            {**group_dict(one), "chance": fact_dict(chance) if chance else None}
            for one, chance in zip(groups, chances, strict=True)
        ],
        "released": [{**fact_dict(act), "state": state} for act, state in released],
    }


def open_members(housing: Housing, arrival: str) -> list[str]:
    """Return the codes of those who belong to an arrival today."""
    return [one.animal for one in housing.members if one.arrival == arrival and one.left_on is None]
