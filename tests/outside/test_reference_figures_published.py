"""Figures of the reference tables against the numbers printed in their sources."""

from __future__ import annotations

import pytest

from fecallab.reference.figures import recoveries, sensitivity
from fecallab.reference.followup import followup_default
from fecallab.reference.methods import eggs_that_sink, method
from fecallab.reference.organisms import organism

PRINTED = [
    # R13 Cartwright 1999 (read, abstract): 75.9 % and 92.0 % of those found by three
    ("people_any_1_cartwright", 0.759),
    ("people_any_2_cartwright", 0.920),
    # R12 Nazer 1993 (read, abstract): 58.3 % and 20.6 % more
    ("people_any_1_nazer", 0.583),
    ("people_any_2_nazer", 0.583 + 0.206),
    # R06 Graczyk & Cranfield 1996 (read, abstract): 41 % of antibody-positive stools negative by stain
    ("snake_crypto_acid_fast_1", 1 - 0.41),
    # R14 Branda 2006 (read, abstract)
    ("people_any_1_branda", 0.72),
]


@pytest.mark.parametrize(("key", "printed"), PRINTED)
def test_shares_found_by_exams(key: str, printed: float) -> None:
    assert sensitivity(key).value == pytest.approx(printed, abs=0.003)


def test_two_samples_of_strongyloides_agree_with_independence_as_printed() -> None:
    """R17 (read): 60 and 64 % alone, 86 % together; 1 - 0.40 x 0.36 = 0.856 (derived)."""
    first, second = (
        sensitivity("people_strongyloides_day1").value,
        sensitivity("people_strongyloides_day2").value,
    )
    assert 1 - (1 - first) * (1 - second) == pytest.approx(
        sensitivity("people_strongyloides_2").value, abs=0.005
    )


def test_three_exams_refute_independence_as_printed() -> None:
    """R13 (read): fitted to the first of three, two would catch 95.1 % (derived); printed 92.0 %."""
    from scipy.optimize import brentq

    first = sensitivity("people_any_1_cartwright").value
    p = brentq(lambda q: q / (1 - (1 - q) ** 3) - first, 0.01, 0.999)
    expected = (1 - (1 - p) ** 2) / (1 - (1 - p) ** 3)
    assert expected == pytest.approx(0.951, abs=0.001)
    assert sensitivity("people_any_2_cartwright").value < expected - 0.02


def test_predictive_values_as_printed() -> None:
    """R14 Branda 2006 (read): 98, 97, 95, 93 % at 5, 10, 15, 20 % infected."""
    found = sensitivity("people_any_1_branda").value
    for prior, printed in ((0.05, 0.98), (0.10, 0.97), (0.15, 0.95), (0.20, 0.93)):
        missed = prior * (1 - found)
        assert (1 - prior) / (1 - prior + missed) == pytest.approx(printed, abs=0.0055)


def test_counting_factors_as_printed() -> None:
    """R59 (read): (12 + 15) x 50 = 1350. R61 (read): 0.15 of 45 ml with 3 g. R60 (read): 4 g in 30 ml."""
    assert (12 + 15) * (method("mcmaster_50").multiplication_factor or 0) == 1350
    assert method("stoll_dilution").multiplication_factor == pytest.approx(45 / (3 * 0.15))
    assert method("mcmaster_25").multiplication_factor == pytest.approx(30 / (4 * 0.30))


def test_heavy_eggs_as_printed() -> None:
    """R58 (read): liver fluke eggs 1.2713 to 1.3043; R56 (read): Taenia 1.2251, Physaloptera 1.2376."""
    assert [egg.organism for egg in eggs_that_sink(1.27)] == ["Opisthorchis viverrini"]
    assert {egg.organism for egg in eggs_that_sink(1.2376)} == {"Physaloptera sp.", "Opisthorchis viverrini"}
    assert "Taenia sp." in {egg.organism for egg in eggs_that_sink(1.2251)}


def test_range_from_mean_and_spread() -> None:
    """R30 (read): mean 28.4 (SD 1.5) x 16.8 (SD 1.5); the range is mean plus and minus 2 SD (derived)."""
    found = organism("choleoeimeria_pogonae")
    assert found.length_um == pytest.approx((28.4 - 3.0, 28.4 + 3.0))
    assert found.width_um == pytest.approx((16.8 - 3.0, 16.8 + 3.0))


@pytest.mark.parametrize(
    ("key", "length", "width"),
    [
        ("isospora_amphiboluri_sporulated", 24.2, 23.9),  # R29 (read): printed means
        ("isospora_jaracimrmani", 38.4, 25.6),  # R31 (read)
        ("eimeria_snake", 26.8, 15.1),  # R94 (read)
        ("eimeria_chelonian_mitraria_type", 10.6, 8.9),  # R49 (read)
    ],
)
def test_printed_means_lie_in_the_range_kept(key: str, length: float, width: float) -> None:
    found = organism(key)
    assert found.length_um is not None
    assert found.width_um is not None
    assert found.length_um[0] < length < found.length_um[1]
    assert found.width_um[0] < width < found.width_um[1]


def test_waits_start_after_the_longest_printed_prepatent_period() -> None:
    """R27, R28 (read): 22 days; R50 (read): 10 weeks; R52 (read): about day 80. Three days more (derived)."""
    assert followup_default("coccidian", "bearded dragon", False).wait_after_last_dose_days == 22 + 3
    assert (followup_default("trematode", "turtle", False).wait_after_last_dose_days or 0) >= 70 + 3
    assert (followup_default("pentastomid", "gecko", False).wait_after_last_dose_days or 0) >= 80 + 3


def test_oxyurids_are_not_judged_while_the_printed_counts_still_rise() -> None:
    """R74 (read): counts up a little at day 14, 59.7 % lower at day 33."""
    wait = followup_default("oxyurid", "tortoise", True, True).wait_after_last_dose_days
    assert wait is not None
    assert 14 < wait <= 33


def test_recoveries_fall_with_the_burden_as_printed() -> None:
    """R120 (read): chamber 88, 63, 16 % and spun float 69, 64, 61 % at 60, 30 and 7 eggs per gram."""
    shares = {row.key: row.recovered_share for row in recoveries()}
    assert [shares[f"mcmaster_{epg}"] for epg in (60, 30, 7)] == [0.88, 0.63, 0.16]
    assert [shares[f"centrifugal_{epg}"] for epg in (60, 30, 7)] == [0.69, 0.64, 0.61]
