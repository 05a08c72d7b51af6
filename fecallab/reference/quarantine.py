"""Templates for arrivals, ways of spread, hosts kept apart, and what stools cannot show."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.domain.quarantine_rules import NeverMixed, NotShown, ProtocolTemplate, Spread, TemplateValue
from fecallab.reference.cleaning import working_rows
from fecallab.reference.figures import Prior, priors_for
from fecallab.reference.followup import retest_windows
from fecallab.reference.hosts import lineage
from fecallab.reference.tables import parts, read_rows

_ANSWER = {"yes": True, "no": False, "": None}


@cache
def _values() -> dict[str, tuple[str, dict[str, TemplateValue]]]:
    """Return the rows by template: its host group and its own values."""
    found: dict[str, tuple[str, dict[str, TemplateValue]]] = {}
    for row in read_rows("quarantine_protocols"):
        _, values = found.setdefault(row["template"], (row["host_group"], {}))
        note = " ".join(filter(None, (row["source_parts"], row["note"])))
        values[row["item"]] = TemplateValue(
            row["item"], row["value"], row["source"], row["source_kind"], note
        )
    return found


def template_names() -> tuple[str, ...]:
    """Return the names of all templates, in table order.

    Examples
    --------
    >>> template_names()[:3]
    ('reptile', 'chelonian', 'tortoise')
    """
    return tuple(_values())


def protocol_template(host: str, name: str = "") -> ProtocolTemplate:
    """Return the template for a host: of every default the narrowest row that fits it.

    Parameters
    ----------
    host : str
        A key or another name of the host table.
    name : str
        A template by name, whose own values go before those of the host; empty for the host's own.

    Raises
    ------
    BadInput
        When the host or the template is unknown, or the template is meant for other hosts.

    Examples
    --------
    >>> snake = protocol_template("corn snake")
    >>> snake.key, snake.number("days_at_least"), snake.number("spacing_days")
    ('snake', 90, 7)
    >>> protocol_template("snake", "zoo standard 2007").number("days_at_least")
    30
    """
    rows = _values()
    words = [word for word in lineage(host) if word in rows]
    key = words[0] if words else "reptile"
    order = [*words] if "reptile" in words else [*words, "reptile"]
    if name and name != key:
        if name not in rows:
            raise BadInput(
                f"There is no template '{name}'.",
                next=f"Names: {', '.join(template_names())}",
                code="template-unknown",
            )
        meant_for = rows[name][0]
        if meant_for not in lineage(host):
            raise BadInput(
                f"The template '{name}' is for {meant_for.replace('_', ' ')}, not for {host}.",
                next=f"Take the template '{key}', or let the vet set the numbers.",
                code="template-other-host",
            )
        key, order = name, [name, *order]
    values: dict[str, TemplateValue] = {}
    for word in reversed(order):
        values |= rows[word][1]
    return ProtocolTemplate(key, rows[key][0], values)


@cache
def spread_for(group: str, host: str = "reptile") -> Spread:
    """Return how a target group spreads in a host, the narrowest row that fits.

    Raises
    ------
    BadInput
        When it is no target group, or the host is unknown.

    Examples
    --------
    >>> spread_for("ascarid", "corn snake").ways, spread_for("ascarid", "tortoise").ways[1]
    (('enclosure',), 'water')
    """
    rows = {row["host_group"]: row for row in read_rows("spread_ways") if row["group"] == group}
    if not rows:
        raise BadInput(
            f"No way of spread is known for '{group}'.",
            next=f"Name a group: {', '.join(TARGET_GROUPS)}",
            code="target-unknown",
        )
    row = next(rows[word] for word in (*lineage(host), "any") if word in rows)
    outside = working_rows().get(group)
    prepatent = [
        window.prepatent_days[1]
        for window in retest_windows()
        if window.target == group and window.prepatent_days[1] is not None
    ]
    return Spread(
        group=group,
        direct=_ANSWER[row["direct"]],
        ways=parts(row["ways"]),
        survival_days=outside.survival_days_max if outside else None,
        latest_shedding_days=max(prepatent, default=None),
        words=row["words"],
        source=row["source"],
        source_kind=row["source_kind"],
    )


@cache
def never_mixed() -> tuple[NeverMixed, ...]:
    """Return the hosts that are kept apart whatever stools say, in table order."""
    return tuple(
        NeverMixed(
            row["key"],
            row["carriers"],
            row["towards"],
            row["organism"],
            row["words"],
            row["source"],
            row["source_kind"],
        )
        for row in read_rows("never_mixed")
    )


def not_shown(hosts: Iterable[str]) -> tuple[NotShown, ...]:
    """Return what stools cannot show in some hosts, what holds for all reptiles first.

    Examples
    --------
    >>> [row.what for row in not_shown(["leopard gecko"])][-1]
    'Cryptosporidium'
    """
    words = {word for host in hosts for word in lineage(host)}
    return tuple(
        NotShown(row["key"], row["host_group"], row["what"], row["words"], row["source"], row["source_kind"])
        for row in read_rows("not_shown")
        if row["host_group"] in words or row["host_group"] == "reptile"
    )


def prior_for(target: str, host: str) -> Prior | None:
    """Return the published share to start from for a target in a host, or None where none was found.

    Examples
    --------
    >>> prior_for("oxyurid", "tortoise").share
    0.4318
    >>> prior_for("trematode", "snake") is None
    True
    """
    return next(iter(priors_for(target, host)), None)
