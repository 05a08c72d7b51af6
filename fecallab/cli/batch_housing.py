"""Rows of enclosures, stays and arrivals: checked beside the records and each other, then written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from fecallab.cli.batch_facts import Rows, owner_of
from fecallab.cli.batch_state import NEW, Batch, Entry, RecordedAlready, blame_row, label_key
from fecallab.cli.batch_typed import Row
from fecallab.domain.errors import BadInput
from fecallab.domain.housing import Arrival, Enclosure, Sharing, Stay
from fecallab.domain.spoken import number_of, say_date
from fecallab.records.finding import refuse_code_as_name

if TYPE_CHECKING:
    from fecallab.domain.housing import ArrivalMember
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer

THINGS = ("water", "tools", "round")


@dataclass
class ArrivalEntry:
    """An arrival of the batch, or one of the records that animals join, with its rows of animals."""

    first: Entry
    code: str = ""
    members: list[tuple[Entry, date]] = field(default_factory=list)


@dataclass
class HousingBatch:
    """What a batch holds of enclosures, stays and arrivals; stays name their enclosure, by its key."""

    enclosures: dict[str, Entry] = field(default_factory=dict)
    shared: dict[str, list[Sharing]] = field(default_factory=dict)
    stays: list[Entry] = field(default_factory=list)
    arrivals: dict[str, ArrivalEntry] = field(default_factory=dict)

    @property
    def housed(self) -> set[str]:
        """References of the animals whose stays stand in the batch."""
        return {entry.owner for entry in self.stays}

    def counted(self) -> dict[str, int]:
        """Return how many there are of each, in plain words."""
        joined = sum(len(one.members) for one in self.arrivals.values())
        return {"enclosures": len(self.enclosures), "stays": len(self.stays), "animals of arrivals": joined}


def add_enclosures(batch: Batch, rows: Rows) -> None:
    """Take in the rows of enclosures."""
    from fecallab.records.clean import name_key

    known = {name_key(one.name): one.code for one in batch.reader.enclosures()} if rows else {}
    for sheet, row in rows:
        name = row.text.get("name", "")
        key = name_key(name)
        if not key:
            continue
        try:
            refuse_code_as_name(name)
            if key in batch.housing.enclosures:
                text = f"{name!r} stands further up already; capitals make no difference."
                raise BadInput(text, next="Give every enclosure once.", code="name-twice")
            if key in known:
                raise RecordedAlready(f"An enclosure called {name!r}", known[key])
            if row.sound:
                fact = Enclosure(
                    name=name.strip(), room=row.text.get("room", ""), remark=row.text.get("remark", "")
                )
                batch.housing.enclosures[key] = Entry(sheet, row, fact)
                batch.housing.shared[key] = [
                    Sharing(enclosure="", thing=thing, label=label, start=row.value.get("shared_from"))
                    for thing in THINGS
                    if (label := " ".join(row.text.get(thing, "").split()))
                ]
        except BadInput as trouble:
            if not batch.pass_over(trouble):
                blame_row(sheet, row, trouble, "name")


def _enclosure_key(batch: Batch, asked: str) -> str:
    """Return the key of an enclosure of the batch or the records, or of one that an animal of the batch names."""
    from fecallab.records.clean import name_key

    key = name_key(asked)
    if key in batch.housing.enclosures:
        return key
    named = {name_key(entry.fact.enclosure) for entry in batch.animals.values()}
    return key if key in named else name_key(batch.reader.enclosure(asked).name)


def add_stays(batch: Batch, rows: Rows) -> None:
    """Take in the rows of stays: every animal in one home at a time, none before it arrived."""
    homes: dict[str, list[tuple[date, date, str]]] = {}
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        if not row.sound or not owner:
            continue
        try:
            stay = _stay(batch, row, owner)
            recorded = [] if owner.startswith(NEW) else batch.reader.stays(owner)
            same = [
                one
                for one in recorded
                if (one.start, one.end, one.visit) == (stay.start, stay.end, stay.visit)
            ]
            for one in same:
                if _key_of_recorded(batch, one) == stay.enclosure:
                    raise RecordedAlready(f"This stay of {batch.animal(owner).name}", one.code)
            if not stay.visit:
                spans = homes.setdefault(
                    owner,
                    [
                        (one.start or date.min, one.end or date.max, one.code)
                        for one in recorded
                        if not one.visit
                    ],
                )
                _refuse_two_places(batch, stay, owner, spans)
                place = f"line {row.raw.line}"
                spans.append((stay.start or date.min, stay.end or date.max, place))
            batch.housing.stays.append(Entry(sheet, row, stay, owner))
        except BadInput as trouble:
            if not batch.pass_over(trouble):
                blame_row(
                    sheet, row, trouble, "enclosure" if trouble.reason.code == "unknown-enclosure" else ""
                )


def _key_of_recorded(batch: Batch, stay: Stay) -> str:
    from fecallab.records.clean import name_key

    return name_key(batch.reader.enclosure(stay.enclosure).name)


def _stay(batch: Batch, row: Row, owner: str) -> Stay:
    start, end = row.value.get("start"), row.value.get("end")
    animal = batch.animal(owner)
    if start is not None and end is not None and end < start:
        text = f"The stay would end on {say_date(end)}, before it begins on {say_date(start)}."
        raise BadInput(text, next="Check both days.", code="end-before-start")
    if start is not None and animal.arrived_on is not None and start < animal.arrived_on:
        text = f"{animal.name} arrived on {say_date(animal.arrived_on)}; a stay from {say_date(start)} would be before that."
        raise BadInput(text, next="Check both days.", code="move-before-arrival")
    number = row.value.get("number")
    if number is not None and number > animal.number_of_animals:
        text = f"{animal.name} has {number_of(animal.number_of_animals, 'animal')}; {number} cannot stay anywhere."
        raise BadInput(text, next="Check the number.", code="more-than-there-are")
    return Stay(
        animal=owner,
        enclosure=_enclosure_key(batch, row.text["enclosure"]),
        start=start,
        end=end,
        number_of_animals=animal.number_of_animals if number is None else number,
        visit=bool(row.value.get("visit")),
        remark=row.text.get("remark", ""),
    )


def _refuse_two_places(batch: Batch, stay: Stay, owner: str, spans: list[tuple[date, date, str]]) -> None:
    first, last = stay.start or date.min, stay.end or date.max
    for begins, ends, where in spans:
        if max(first, begins) < min(last, ends) or (first, last) == (begins, ends):
            text = f"{batch.animal(owner).name} would be in two places at once (see {where})."
            raise BadInput(
                text, next="Give each stay its last day, or write yes under 'visit'.", code="in-two-places"
            )


def add_arrivals(batch: Batch, rows: Rows) -> None:
    """Take in the rows of arrivals: one for each animal; the first of an arrival says when it came in."""
    from fecallab.records.rows import ARRIVAL, kind_of_code

    where: dict[str, str] = {}
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        label = row.text.get("arrival", "")
        if not row.sound or not owner or not label:
            continue
        key = label_key(label)
        try:
            if owner in where:
                text = f"{batch.animal(owner).name} stands under {where[owner]!r} already."
                raise BadInput(text, next="Every animal belongs to one arrival.", code="in-two-arrivals")
            if not owner.startswith(NEW):
                _refuse_two_arrivals(batch, owner)
            entry = batch.housing.arrivals.get(key)
            if entry is None:
                code = ""
                if kind_of_code(label.strip().upper()) is ARRIVAL:
                    code = batch.reader.arrival(label).code
                entry = ArrivalEntry(Entry(sheet, row, _arrival(batch, row, label, code), label=label), code)
                batch.housing.arrivals[key] = entry
            joined = row.value.get("joined") or entry.first.fact.arrived_on
            if joined < entry.first.fact.arrived_on:
                text = f"{label} arrived on {say_date(entry.first.fact.arrived_on)}; nobody joined it on {say_date(joined)}."
                raise BadInput(text, next="Check both days.", code="joined-before-arrival")
            entry.members.append((Entry(sheet, row, None, owner), joined))
            where[owner] = label
        except BadInput as trouble:
            if not batch.pass_over(trouble):
                blame_row(sheet, row, trouble)


def _refuse_two_arrivals(batch: Batch, owner: str) -> None:
    found: list[ArrivalMember] = batch.reader.memberships(owner)
    standing = [one for one in found if one.left_on is None]
    if standing:
        raise RecordedAlready(
            f"{batch.animal(owner).name} belongs to {standing[-1].arrival}: that", standing[-1].code
        )


def _arrival(batch: Batch, row: Row, label: str, code: str) -> Arrival:
    if code:
        return batch.reader.arrival(code)
    arrived = row.value.get("arrived")
    if arrived is None:
        text = f"The first row of {label!r} does not say when it arrived."
        raise BadInput(text, next="Fill 'arrived'.", code="arrived-missing")
    return Arrival(
        name=label,
        arrived_on=arrived,
        origin=row.value.get("origin") or "unknown",
        source=row.text.get("source", ""),
        remark=row.text.get("remark", ""),
    )


def write_places(batch: Batch, writer: Writer, add: Any) -> None:
    """Record the enclosures of a batch, before its animals; `add` records a fact of an entry."""
    for key, entry in batch.housing.enclosures.items():
        made = add(writer, entry, entry.fact)
        writer.add_all([replace(one, enclosure=made.code) for one in batch.housing.shared[key]])


def write_stays(batch: Batch, writer: Writer, codes: Mapping[str, str], add: Any) -> None:
    """Record the stays of a batch, the earliest first, and its arrivals with their protocols."""
    from fecallab.cli.arrivals_protocol import template_for
    from fecallab.domain.housing import ArrivalMember
    from fecallab.records.moving import enclosure_for

    places: dict[str, str] = {}
    for entry in sorted(batch.housing.stays, key=lambda one: one.fact.start or date.min):
        key = entry.fact.enclosure
        if key not in places:
            places[key] = enclosure_for(writer, entry.row.text["enclosure"]).code
        owner = codes.get(entry.owner, entry.owner)
        add(writer, entry, replace(entry.fact, animal=owner, enclosure=places[key]))
    for arrival in batch.housing.arrivals.values():
        owners = [codes.get(entry.owner, entry.owner) for entry, _ in arrival.members]
        code = arrival.code or add(writer, arrival.first, arrival.first.fact).code
        for owner, (entry, joined) in zip(owners, arrival.members, strict=True):
            animal = writer.animal(owner)
            if animal.arrived_on is None:
                writer.correct(owner, replace(animal, arrived_on=joined), f"arrived with {code}")
            add(writer, entry, ArrivalMember(arrival=code, animal=owner, joined_on=joined))
        if not arrival.code:
            animals = [writer.animal(owner) for owner in owners]
            add(writer, arrival.first, template_for(animals, "", code, arrival.first.fact.arrived_on))


def housing_lines(reader: Reader) -> dict[str, list[dict[str, Any]]]:
    """Return the tables of enclosures, stays and arrivals as values by column key.

    Left out is what taking in the animals makes by itself: an enclosure without a room that an animal names, and
    a stay at that place from the day of arrival on.
    """
    from fecallab.records.rows import code_order

    housing = reader.housing()
    names = {place.code: place.name for place in housing.enclosures}
    places = []
    for place in sorted(housing.enclosures, key=lambda one: code_order(one.code)):
        running = [one for one in housing.sharings if one.enclosure == place.code and one.end is None]
        labels = {one.thing: one.label for one in running}
        starts = {one.start for one in running}
        if place.room or place.remark or running:
            line = {**vars(place), **labels, "shared_from": starts.pop() if len(starts) == 1 else None}
            places.append(line)
    of_animal: dict[str, list[Stay]] = {}
    for stay in sorted(reader.stays(), key=lambda one: code_order(one.code)):
        of_animal.setdefault(stay.animal, []).append(stay)
    stays = []
    for code, mine in of_animal.items():
        animal = housing.animals[code]
        alone = replace(mine[0], code="", enclosure="")
        usual = Stay(
            animal=code, enclosure="", start=animal.arrived_on, number_of_animals=animal.number_of_animals
        )
        if len(mine) == 1 and alone == usual:
            continue
        stays += [
            {
                **vars(one),
                "animal": animal.name,
                "enclosure": names[one.enclosure],
                "number": one.number_of_animals,
            }
            for one in mine
        ]
    arrivals = {one.code: one for one in housing.arrivals}
    return {
        "enclosures": places,
        "stays": stays,
        "arrivals": [
            {
                "arrival": arrivals[one.arrival].name
                or f"of {arrivals[one.arrival].arrived_on}, {one.arrival}",
                "animal": housing.animals[one.animal].name,
                "arrived": arrivals[one.arrival].arrived_on,
                "joined": one.joined_on,
                "origin": arrivals[one.arrival].origin,
                "source": arrivals[one.arrival].source,
                "remark": arrivals[one.arrival].remark,
            }
            for one in sorted(housing.members, key=lambda each: code_order(each.code))
            if one.left_on is None and one.animal in housing.animals
        ],
    }
