"""Figures behind chances and bounds."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.reference.figures import (
    priors,
    priors_for,
    quarantine_default,
    recoveries,
    recovery_for_bound,
    sensitivity,
)


@pytest.mark.parametrize(
    ("method", "share"), [("simple_flotation", 0.24), ("centrifugal_flotation", 0.62), ("mcmaster", 0.88)]
)
def test_bounds_are_divided_by_a_marked_mammal_figure(method: str, share: float) -> None:
    found = recovery_for_bound(method)
    assert found is not None
    assert found.recovered_share == share
    assert found.mammal_figure
    assert "Mammal figure" in found.note


@pytest.mark.parametrize("method", ["direct_saline_smear", "sedimentation", "stoll_dilution", "baermann"])
def test_where_no_recovery_was_found_none_is_invented(method: str) -> None:
    assert recovery_for_bound(method) is None


def test_the_poorer_figures_stay_visible_beside_the_defaults() -> None:
    shares = {row.key: row for row in recoveries()}
    assert shares["mcmaster_7"].recovered_share == 0.16
    assert shares["simple_flotation_one_vial"].recovered_share_max == 0.16


def test_survey_figures_come_narrowest_host_first() -> None:
    rows = priors_for("cryptosporidium", "gecko")
    assert [row.key for row in rows] == ["leopard_gecko_colony_crypto", "it_crypto"]
    assert [row.host_group for row in priors_for("oxyurid", "bearded dragon")] == [
        "agamid",
        "agamid",
        "lizard",
        "reptile",
    ]
    assert priors_for("trematode", "snake") == ()


def test_every_survey_figure_warns_that_it_is_one_exam() -> None:
    assert all("itself one exam" in row.note for row in priors())


def test_an_unknown_figure_points_to_the_table() -> None:
    with pytest.raises(BadInput, match="show sensitivities"):
        sensitivity("snake")


@pytest.mark.parametrize(
    ("host", "days", "spacing"),
    [
        ("boa constrictor", 180, 7),
        ("corn snake", 90, 7),
        ("gecko", 90, 14),
        ("tortoise", 180, 14),
        ("skink", 90, 14),
    ],
)
def test_quarantine_by_the_narrowest_group(host: str, days: int, spacing: int) -> None:
    row = quarantine_default(host)
    assert row is not None
    assert (row.days, row.spacing_days, row.negatives_in_a_row) == (days, spacing, 3)


def test_crocodilians_have_no_quarantine_default() -> None:
    assert quarantine_default("crocodilian") is None
