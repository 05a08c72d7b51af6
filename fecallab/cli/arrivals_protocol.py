"""Options for the protocol of an arrival, and how a protocol is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import one_of
from fecallab.cli.options import Group
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import method_words
from fecallab.domain.housing import WHO_RESTARTS, ArrivalProtocol
from fecallab.domain.spoken import number_of, say_date

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import Arrival

RESTARTS = "the animal, the contact group, the arrival or the room."
PROTOCOL: Group = {
    "template": (
        str,
        typer.Option("", help="Template by name, instead of the one of the host (fecallab reference show)."),
    ),
    "vet": (str, typer.Option("", help="The vet who set or confirmed the numbers.")),
    "days": (int | None, typer.Option(None, help="Days at least.")),
    "negatives": (int | None, typer.Option(None, help="Clean exams in a row.")),
    "spacing": (int | None, typer.Option(None, help="Days between two that count.")),
    "last_exam_after": (
        int | None,
        typer.Option(None, help="One of them so many days or more after the last possible exposure."),
    ),
    "pcrs": (int | None, typer.Option(None, help="Laboratory PCRs against Cryptosporidium.")),
    "preparation": (
        list[str],
        typer.Option([], help="A preparation that each exam must hold; may be repeated."),
    ),
    "blocks": (list[str], typer.Option([], help="A finding that blocks release; may be repeated.")),
    "not_blocking": (
        list[str],
        typer.Option([], help="A finding that does not (a normal inhabitant), by a vet's word."),
    ),
    "positive_restarts": (str, typer.Option("", help=f"Whose run a positive restarts: {RESTARTS}")),
    "newcomer_restarts": (str, typer.Option("", help=f"Whose run a newcomer restarts: {RESTARTS}")),
}
"""Options of ``arrivals add`` and ``arrivals protocol``."""

MOST = {"days": 3650, "negatives": 50, "spacing": 365, "last_exam_after": 3650, "pcrs": 50}
_FIELDS = {
    "days": "days_at_least",
    "negatives": "negatives_needed",
    "spacing": "spacing_days",
    "last_exam_after": "last_exam_after_days",
    "pcrs": "laboratory_pcrs",
}
_SAID = {
    "days": "days",
    "negatives": "clean exams",
    "spacing": "days between exams",
    "last_exam_after": "days after the last exposure",
    "pcrs": "laboratory PCRs",
}


def host_of(animal: Animal) -> str:
    """Return the name by which the tables of hosts know an animal: its species where they do, else its group."""
    from fecallab.reference.hosts import lineage
    from fecallab.reference.taxa import resolve_taxon

    taxon = resolve_taxon(animal.species) if animal.species else None
    genus = animal.species.partition(" ")[0].lower()
    for name in (animal.species, genus, taxon.host_group if taxon else "", animal.host_group):
        if not name or name == "other":
            continue
        try:
            lineage(name)
        except BadInput:
            continue
        return name
    return "reptile"


def template_for(owners: Sequence[Animal], name: str, arrival: str, day: date) -> ArrivalProtocol:
    """Return the template's numbers for the hosts of an arrival; of several hosts the stricter ones."""
    from fecallab.reference.quarantine import protocol_template
    from fecallab.reference.tables import EDITION

    hosts = dict.fromkeys(host_of(owner) for owner in owners) or {"reptile": None}
    found: dict[str, ArrivalProtocol] = {}
    for host in hosts:
        template = protocol_template(host, name)
        found.setdefault(template.key, template.protocol(arrival, day, EDITION))
    made = list(found.values())
    if len(made) == 1:
        return made[0]
    after = [one.last_exam_after_days for one in made if one.last_exam_after_days is not None]

    def both(field: str) -> tuple[str, ...]:
        return tuple(dict.fromkeys(word for one in made for word in getattr(one, field)))

    def wider(field: str) -> str:
        return str(max((getattr(one, field) for one in made), key=WHO_RESTARTS.index))

    return ArrivalProtocol(
        arrival=arrival,
        written_on=day,
        template=" + ".join(found),
        edition=EDITION,
        days_at_least=max(one.days_at_least for one in made),
        negatives_needed=max(one.negatives_needed for one in made),
        spacing_days=max(one.spacing_days for one in made),
        last_exam_after_days=max(after) if after else None,
        laboratory_pcrs=max(one.laboratory_pcrs for one in made),
        preparations=both("preparations"),
        blocking=both("blocking"),
        not_blocking=tuple(
            word for word in both("not_blocking") if all(word in one.not_blocking for one in made)
        ),
        positive_restarts=wider("positive_restarts"),
        newcomer_restarts=wider("newcomer_restarts"),
        source=" | ".join(f"{one.template}: {one.source}" for one in made),
    )


def protocol_from(
    options: Mapping[str, Any],
    arrival: Arrival,
    owners: Sequence[Animal],
    day: date,
    before: ArrivalProtocol | None = None,
) -> ArrivalProtocol:
    """Return the protocol that was typed: the template of the hosts with the numbers that were said.

    Parameters
    ----------
    before : ArrivalProtocol, optional
        The one that stands; what is not said stays as it is there.

    Raises
    ------
    BadInput
        When something asks for less than the template without a vet's name.
    """
    from dataclasses import replace

    template = template_for(owners, options["template"], arrival.code, day)
    base = template
    if before is not None and not options["template"]:
        base = replace(before, code="", written_on=day)
    changes = {**_numbers(options), **_words(options, base)}
    vet = options["vet"].strip()
    made = replace(base, **changes, vet=vet or (base.vet if before is not None else ""))
    changed = [name for name in changes if getattr(made, name) != getattr(base, name)]
    if before is not None and not options["template"] and not changed and not (vet and vet != before.vet):
        text = f"Nothing of the protocol of {arrival.code} would change."
        raise BadInput(text, next="Say what changes: --days 120", code="nothing-changed")
    if not vet:
        _refuse_less(made, base, changed)
    if not changed:
        return made
    said = ", ".join(f"{name.replace('_', ' ')} {_shown(getattr(made, name))}" for name in changed)
    whose = (
        f"by {vet} on {say_date(day)}" if vet else f"by the keeper on {say_date(day)}, stricter than before"
    )
    return replace(
        made,
        template=made.template if vet else f"{made.template.removesuffix(' (custom)')} (custom)",
        source=f"{said}: {whose} | {made.source}",
    )


def _shown(value: object) -> str:
    if isinstance(value, tuple):
        return " + ".join(map(str, value)) or "none"
    return "none" if value is None else str(value)


def _numbers(options: Mapping[str, Any]) -> dict[str, Any]:
    found = {}
    for name, field in _FIELDS.items():
        value = options[name]
        if value is None:
            continue
        if not 0 <= value <= MOST[name]:
            text = f"--{name.replace('_', '-')} is {value}; it lies outside 0 to {MOST[name]}."
            raise BadInput(text, next="Check the number.", code="out-of-range")
        found[field] = value
    return found


def _words(options: Mapping[str, Any], base: ArrivalProtocol) -> dict[str, Any]:
    from fecallab.cli.exam_input import organism_name
    from fecallab.domain.exam import METHODS
    from fecallab.domain.organism import is_target_group
    from fecallab.gather import group_of

    def targets(names: Sequence[str], option: str) -> tuple[str, ...]:
        found = []
        for name in names:
            group = group_of(organism_name(name))
            if not is_target_group(group):
                text = f"{option}: {name!r} is a {group}, no parasite that an exam is about."
                raise BadInput(text, next="Name a group of parasites.", code="no-target")
            found.append(group)
        return tuple(dict.fromkeys(found))

    made = [m for m in METHODS if m != "from_elsewhere"]
    found: dict[str, Any] = {}
    if options["preparation"]:
        ways = (w.replace(" ", "_").replace("-", "_") for w in options["preparation"])
        found["preparations"] = tuple(
            dict.fromkeys(one_of(way, tuple(made), "--preparation") for way in ways)
        )
    blocks = targets(options["blocks"], "--blocks")
    harmless = targets(options["not_blocking"], "--not-blocking")
    both = set(blocks) & set(harmless)
    if both:
        text = f"{', '.join(sorted(both))} cannot block and not block."
        raise BadInput(text, next="Name it once.", code="blocks-and-not")
    if blocks or harmless:
        found["blocking"] = tuple(
            dict.fromkeys(word for word in (*base.blocking, *blocks) if word not in harmless)
        )
        found["not_blocking"] = tuple(
            dict.fromkeys(word for word in (*base.not_blocking, *harmless) if word not in blocks)
        )
    for name in ("positive_restarts", "newcomer_restarts"):
        if options[name]:
            found[name] = one_of(options[name], WHO_RESTARTS, f"--{name.replace('_', '-')}")
    return found


def _refuse_less(made: ArrivalProtocol, base: ArrivalProtocol, changed: Sequence[str]) -> None:
    """Refuse what asks for less than before: that is a vet's word."""
    for name, field in _FIELDS.items():
        if field in changed and (getattr(made, field) or 0) < (getattr(base, field) or 0):
            said = _SAID[name]
            text = (
                f"{getattr(made, field)} {said} are fewer than the {getattr(base, field)} of {base.template}."
            )
            raise BadInput(text, next='A vet may set fewer: --vet "NAME"', code="less-without-a-vet")
    less = [word for word in base.blocking if word not in made.blocking]
    less += [word for word in made.not_blocking if word not in base.not_blocking]
    less += [method_words(word) for word in base.preparations if word not in made.preparations]
    less += [
        name.replace("_", " ")
        for name in ("positive_restarts", "newcomer_restarts")
        if WHO_RESTARTS.index(getattr(made, name)) < WHO_RESTARTS.index(getattr(base, name))
    ]
    if less:
        text = f"The protocol would ask less than {base.template}: {', '.join(dict.fromkeys(less))}."
        raise BadInput(text, next='A vet may decide so: --vet "NAME"', code="less-without-a-vet")


def protocol_lines(protocol: ArrivalProtocol) -> list[str]:
    """Return a protocol in words, a line each."""
    whose = f", by {protocol.vet}" if protocol.vet else ", no vet has confirmed it"
    head = f"  Protocol {protocol.code} ({protocol.template}{whose}): {number_of(protocol.days_at_least, 'day')} at least,"
    head += f" {protocol.negatives_needed} clean exams in a row, {number_of(protocol.spacing_days, 'day')} between"
    if protocol.last_exam_after_days is not None:
        head += f", one {number_of(protocol.last_exam_after_days, 'day')} or more after the last possible exposure"
    if protocol.laboratory_pcrs:
        head += f", {protocol.laboratory_pcrs} laboratory PCRs against Cryptosporidium"
    ways = " and ".join(map(method_words, protocol.preparations))
    return [
        f"{head}.",
        f"  Each exam: {ways or 'as the parasites ask'}. Blocks: {', '.join(protocol.blocking) or 'whatever is found'}"
        f"; does not block: {', '.join(protocol.not_blocking) or 'nothing'}.",
        f"  A positive restarts {protocol.positive_restarts}, a newcomer {protocol.newcomer_restarts}.",
    ]
