"""Templates for arrivals and what stands beside them: whole, sourced, and in agreement with other tables."""

from __future__ import annotations

from datetime import date

import pytest

from fecallab.domain.contacts import WAYS
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import METHODS
from fecallab.domain.housing import WHO_RESTARTS, ArrivalProtocol
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.domain.quarantine_rules import kept_apart, never_with
from fecallab.reference.figures import quarantine_default
from fecallab.reference.followup import followup_default
from fecallab.reference.hosts import hosts, lineage
from fecallab.reference.quarantine import (
    never_mixed,
    not_shown,
    prior_for,
    protocol_template,
    spread_for,
)
from fecallab.reference.tables import read_rows

ITEMS = {
    name
    for name in ArrivalProtocol.__dataclass_fields__
    if name not in ("code", "arrival", "written_on", "template", "edition", "vet", "source", "remark")
}


@pytest.mark.parametrize("host", sorted(hosts()))
def test_every_host_has_a_whole_template(host: str) -> None:
    template = protocol_template(host)
    assert set(template.values) == ITEMS
    protocol = template.protocol("I1", date(2026, 5, 2), "2026.11")
    assert protocol.days_at_least >= 90
    assert protocol.negatives_needed >= 3
    assert protocol.spacing_days >= 7
    assert set(protocol.blocking) <= set(TARGET_GROUPS)
    assert protocol.blocking
    assert set(protocol.not_blocking) <= set(TARGET_GROUPS)
    assert not set(protocol.blocking) & set(protocol.not_blocking)
    assert set(protocol.preparations) <= set(METHODS)
    assert protocol.positive_restarts in WHO_RESTARTS
    assert protocol.newcomer_restarts in WHO_RESTARTS
    for value in template.values.values():
        assert value.source
        assert value.source_kind
        assert value.item.replace("_", " ") in protocol.source


@pytest.mark.parametrize("host", sorted(hosts()))
def test_templates_agree_with_the_table_of_quarantine_lengths(host: str) -> None:
    custom = quarantine_default(host)
    if custom is None:
        assert protocol_template(host).number("days_at_least") == 180, "the longest where none is known"
        return
    found = protocol_template(host)
    assert found.number("days_at_least") == custom.days
    assert found.number("negatives_needed") == custom.negatives_in_a_row
    assert found.number("spacing_days") == custom.spacing_days


def test_what_must_be_shown_can_be_shown_at_home() -> None:
    """Every stage of every group that must be negative has a way that needs no laboratory."""
    ways = {
        (target, stage)
        for row in read_rows("adequacy_routes")
        for target in row["targets"].split(";")
        for stage in row["stages"].split(";")
    }
    asked = {(group, host) for host in hosts() for group in protocol_template(host).words("blocking")}
    for group, host in asked:
        default = followup_default(group, host, plant_eater=False)
        assert default.goal != "not clearable by stool exam", (group, host)
        assert {(group, stage) for stage in default.stages} <= ways, (group, host)


def test_a_vet_can_take_a_shorter_template_of_the_same_hosts_only() -> None:
    assert protocol_template("tortoise", "chelonian captive bred").number("days_at_least") == 90
    assert protocol_template("tortoise", "chelonian captive bred").words("not_blocking") == (
        "ciliate",
        "other protist",
    )
    with pytest.raises(BadInput, match="not for snake"):
        protocol_template("snake", "chelonian captive bred")
    with pytest.raises(BadInput, match="Names: reptile"):
        protocol_template("snake", "short")


@pytest.mark.parametrize("group", TARGET_GROUPS)
def test_every_group_has_a_way_of_spread(group: str) -> None:
    found = spread_for(group)
    assert set(found.ways) <= set(WAYS)
    assert "enclosure" in found.ways, "animals that live together always count"
    assert found.words
    if found.direct:
        assert set(found.ways) == set(WAYS)


def test_ways_of_spread_agree_with_the_table_of_cleaning() -> None:
    from fecallab.reference.cleaning import working_rows

    for group, row in working_rows().items():
        if group != "all" and row.direct_cycle is not None:
            assert spread_for(group, "snake").direct == row.direct_cycle, group
            assert spread_for(group).survival_days == row.survival_days_max


def test_tortoises_are_kept_from_snakes_and_lizards_whatever_the_stools_say() -> None:
    mixed = {"Quill": lineage("tortoise"), "Ember": lineage("corn snake")}
    (reason,) = kept_apart(mixed, never_mixed())
    assert "Entamoeba invadens" in reason.text
    assert "whatever the stools say" in reason.text
    assert kept_apart({"Ember": lineage("corn snake")}, never_mixed(), [lineage("skink")]) == ()
    assert len(kept_apart({"Ember": lineage("corn snake")}, never_mixed(), [lineage("turtle")])) == 1
    assert [words.split(":")[0] for words in never_with([lineage("tortoise")], never_mixed())] == [
        "never with snakes",
        "never with lizards",
    ]


def test_what_stools_cannot_show_is_said_for_the_hosts() -> None:
    of_snakes = {row.key for row in not_shown(["corn snake"])}
    assert {"reptile_viruses", "reptile_mites", "snake_crypto"} <= of_snakes
    assert "boa_virus" not in of_snakes
    assert "boa_virus" in {row.key for row in not_shown(["boa constrictor"])}
    assert {row.host_group for row in not_shown(["uromastyx"])} == {"reptile", "agamid"}


def test_priors_are_published_or_missing() -> None:
    found = prior_for("cryptosporidium", "leopard gecko")
    assert found is not None
    assert (found.share, found.source) == (0.098, "R09")
    assert prior_for("acanthocephalan", "snake") is None


def test_hosts_and_groups_in_the_tables_exist() -> None:
    for table, columns in (
        ("quarantine_protocols", ("host_group",)),
        ("never_mixed", ("carriers", "towards")),
        ("not_shown", ("host_group",)),
    ):
        for row in read_rows(table):
            for column in columns:
                assert row[column] in hosts(), (table, row["key"])
    for row in read_rows("spread_ways"):
        assert row["host_group"] in {*hosts(), "any"}
        assert row["group"] in TARGET_GROUPS
