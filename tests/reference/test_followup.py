"""Follow-up defaults: the narrowest row wins, and doubt goes the stricter way."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.reference.followup import followup_default, followup_defaults, retest_windows
from fecallab.reference.hosts import hosts


@pytest.mark.parametrize(
    ("target", "host", "plant", "adult", "row"),
    [
        ("oxyurid", "tortoise", True, True, ("plant eater adult", 30, 14, 2, "low burden")),
        ("oxyurid", "tortoise", True, False, ("any", 30, 14, 3, "clear")),
        ("oxyurid", "tortoise", True, None, ("any", 30, 14, 3, "clear")),
        ("oxyurid", "lizard", False, True, ("any", 30, 14, 3, "clear")),
        ("ciliate", "iguana", True, None, ("plant eater", 7, 14, 2, "low burden")),
        ("ciliate", "iguana", True, True, ("plant eater", 7, 14, 2, "low burden")),
        ("ciliate", "snake", False, True, ("any", 7, 14, 3, "clear")),
        ("coccidian", "gecko", False, None, ("lizard", 25, 14, 3, "clear")),
        ("coccidian", "snake", False, None, ("any", 25, 14, 3, "clear")),
        ("pentastomid", "monitor", False, True, ("any", 90, 30, 3, "clear")),
        ("cryptosporidium", "snake", False, True, ("any", None, None, None, "not clearable by stool exam")),
    ],
)
def test_the_narrowest_row(
    target: str, host: str, plant: bool, adult: bool | None, row: tuple[object, ...]
) -> None:
    found = followup_default(target, host, plant, adult)
    assert (
        found.host,
        found.wait_after_last_dose_days,
        found.spacing_days,
        found.negatives_needed,
        found.goal,
    ) == row


def test_an_amoeba_must_be_gone_in_both_stages() -> None:
    assert followup_default("amoeba", "snake", False).stages == ("trophozoite", "cyst")
    assert followup_default("rhabditid", "snake", False).stages == ("egg", "larva")


@pytest.mark.parametrize("target", TARGET_GROUPS)
def test_every_target_has_a_default_in_every_host(target: str) -> None:
    for host in hosts():
        assert followup_default(target, host, False).target == target


@pytest.mark.parametrize("target", ["artefact", "pseudoparasite", "oxyurids"])
def test_what_no_case_is_about_has_none(target: str) -> None:
    with pytest.raises(BadInput, match="no follow-up default"):
        followup_default(target, "lizard", False)


def test_a_row_without_a_published_figure_says_so() -> None:
    for row in followup_defaults():
        if row.source_kind in ("common practice", "proposal") and row.negatives_needed:
            assert "No figure" in row.note or "No wait" in row.note, row


def test_windows_never_start_before_the_prepatent_period_is_over() -> None:
    for window in retest_windows():
        longest = window.prepatent_days[1] or window.prepatent_days[0]
        if window.first_day is not None and longest is not None:
            assert window.first_day > longest, window.key
