"""Group screening against published tables, tools' printed examples and scipy; kinds in the test ids."""

import math

import pytest
from scipy import stats

from fecallab.domain import pooling, sampling, screening


def close(row):
    return pytest.approx(row["expected"], abs=row["tolerance"], rel=1e-12)


def missed_by_scipy(group, tested, infected, sensitivity):
    drawn = stats.hypergeom(group, infected, tested)
    return sum(
        drawn.pmf(seen) * (1 - sensitivity) ** seen
        for seen in range(max(0, tested + infected - group), min(tested, infected) + 1)
    )


@pytest.mark.check_rows(
    "cr1e",
    "exT10",
    "exT10_99",
    "exT20",
    "exT20_99",
    "exT50",
    "exT50_99",
    "exT100",
    "exT100_99",
    "exT200",
    "exT200_99",
    "exT500",
    "exT500_99",
    "exT1000",
    "exT1000_99",
    "exT10000",
    "exT10000_99",
)
def test_exact_sample_sizes(row):
    given = row["inputs"]
    infected = given["D"] if isinstance(given["D"], list) else [given["D"]]
    found = [sampling.group_size(given["N"], ill, given["conf"]).sample_size for ill in infected]
    assert found == (row["expected"] if isinstance(row["expected"], list) else [row["expected"]])


@pytest.mark.check_rows("inf95", "inf99")
def test_sample_sizes_of_a_very_large_group(row):
    given = row["inputs"]
    found = [sampling.large_group_size(share, given["conf"]) for share in given["prevalence"]]
    assert found == row["expected"]


@pytest.mark.parametrize(
    ("group", "infected", "size"),
    [
        (group, infected, size)
        for group, sizes in {
            5: (5, 4, 3, 1, None),
            10: (10, 8, 6, 4, 1),
            20: (19, 16, 12, 9, 4),
            30: (29, 23, 19, 13, 7),
            50: (48, 39, 31, 22, 12),
            100: (95, 78, 63, 45, 25),
        }.items()
        for infected, size in zip((1, 2, 3, 5, 10), sizes, strict=True)
        if size is not None
    ],
    ids=lambda value: f"{value}-derived",
)
def test_exact_table_of_small_collections(group, infected, size):
    assert sampling.group_size(group, infected, 0.95).sample_size == size


def asks_by_approximation(group, infected, wanted, sensitivity):
    """MacDiarmid's published approximation, n = N / Se (1 - (1 - conf)^(1 / D))."""
    return math.ceil(group / sensitivity * (1 - (1 - wanted) ** (1 / infected)) - 1e-9)


@pytest.mark.check_rows("rs1", "rs3")
def test_published_sizes_by_group_are_reached_exactly_with_at_most_one_or_two_fewer(row):
    given = row["inputs"]
    for group, printed in zip(given["N"], row["expected"], strict=True):
        if group == "inf":
            assert sampling.large_group_size(given["p"], given["conf"], given["se"]) == printed
            continue
        infected = round(given["p"] * group)
        assert asks_by_approximation(group, infected, given["conf"], given["se"]) == printed
        exact = sampling.group_size(group, infected, given["conf"], given["se"]).sample_size
        assert 0 <= printed - exact <= 2, (group, exact)


@pytest.mark.check_rows("rs2")
def test_published_sizes_by_sensitivity_and_the_exact_ones_of_the_note(row):
    given = row["inputs"]
    exact = [sampling.group_size(given["N"], given["D"], given["conf"], se).sample_size for se in given["se"]]
    assert exact == [451, 376, 322, 281, 250, 227, 225]  # the row's note
    printed = [asks_by_approximation(given["N"], given["D"], given["conf"], se) for se in given["se"]]
    assert printed == row["expected"]
    assert all(0 <= asked - needed <= 1 for asked, needed in zip(printed, exact, strict=True))


@pytest.mark.check_rows("rs4")
def test_published_group_sensitivities_by_approximation_and_the_exact_ones_of_the_note(row):
    given = row["inputs"]
    triples = list(zip(given["N"], given["n"], given["D"], strict=True))
    exact = [sampling.chance_detected(*triple, given["se"]) for triple in triples]
    assert exact == pytest.approx([0.4, 0.4, 0.4, 0.78516, 0.92293], abs=5e-6)
    approximate = [1 - (1 - given["se"] * tested / group) ** infected for group, tested, infected in triples]
    assert approximate == close(row)
    assert all(found >= near - 1e-12 for found, near in zip(exact, approximate, strict=True))


@pytest.mark.check_rows("rs5")
def test_group_sensitivity_of_a_very_large_group(row):
    given = row["inputs"]
    found = [
        screening.chance_positives(None, tested, given["p"], sensitivity=given["se"]) for tested in given["n"]
    ]
    assert found == close(row)


@pytest.mark.check_rows("rs7")
def test_two_positives_call_a_large_group_positive(row):
    given = row["inputs"]
    found = screening.chance_positives(
        None,
        given["n"],
        given["p"],
        sensitivity=given["se"],
        specificity=given["sp"],
        at_least=given["cut"],
    )
    assert found == close(row)


@pytest.mark.check_rows("rs12")
def test_two_positives_by_sample_size(row):
    given = row["inputs"]
    found = [
        screening.chance_positives(
            None,
            tested,
            given["p"],
            sensitivity=given["se"],
            specificity=given["sp"],
            at_least=2,  # named in the row's quantity
        )
        for tested in given["n"]
    ]
    assert found == close(row)


@pytest.mark.check_rows("rs8")
def test_the_exact_sum_with_false_alarms(row):
    given = row["inputs"]

    def found(infected):
        return screening.chance_positives(
            given["N"],
            given["n"],
            infected,
            sensitivity=given["se"],
            specificity=given["sp"],
            at_least=given["cut"],
        )

    assert found(given["D"]) == close(row)
    assert found(4) == pytest.approx(0.5265, abs=5e-5)  # the row's note: rounding the share up changes it


@pytest.mark.check_rows("rs10", "rs11")
def test_a_clean_group_gives_false_alarms(row):
    given = row["inputs"]
    cut = 2 if "cut 2" in row["quantity"] else 1
    found = [
        1 - screening.chance_positives(None, tested, 0.0, specificity=given["sp"], at_least=cut)
        for tested in given["n"]
    ]
    assert found == close(row)


@pytest.mark.check_rows("ep6", "ep7", "ep8")
def test_sizes_and_cuts_with_false_alarms(row):
    given = row["inputs"]

    def found(tested, infected):
        return screening.chance_positives(
            given["N"],
            tested,
            infected,
            sensitivity=given["se"],
            specificity=given["sp"],
            at_least=given["cut"],
        )

    assert [found(given["n"], given["D"]), 1 - found(given["n"], 0)] == close(row)
    assert found(given["n"] - 1, given["D"]) < found(given["n"], given["D"])


@pytest.mark.check_rows("ep1")
def test_size_of_a_large_group_with_imperfect_exams(row):
    given = row["inputs"]
    assert sampling.large_group_size(given["p"], given["conf"], given["se"]) == row["expected"]


@pytest.mark.check_rows("ep2", "ep3")
def test_printed_sizes_ask_one_more_than_the_exact_ones(row):
    given = row["inputs"]
    exact = sampling.group_size(given["N"], given["D"], given["conf"], given["se"]).sample_size
    assert exact == int(row["note"].rstrip(".").split()[-1])
    assert asks_by_approximation(given["N"], given["D"], given["conf"], given["se"]) == row["expected"]
    assert row["expected"] - exact == 1


@pytest.mark.check_rows("ep4")
def test_printed_group_sensitivity(row):
    given = row["inputs"]
    found = screening.chance_positives(None, given["n"], given["p"], sensitivity=given["se"])
    assert found == close(row)


@pytest.mark.check_rows("ep5")
def test_printed_sensitivity_of_thirty_out_of_a_herd(row):
    given = row["inputs"]
    found = [sampling.chance_detected(group, given["n"], given["D"], given["se"]) for group in given["N"]]
    assert found == close(row)


@pytest.mark.check_rows("pl1")
def test_pools_of_a_large_group(row):
    given = row["inputs"]
    found = [
        pooling.pooled_chance(given["p"], given["pool_size"], pools, finds)
        for pools, finds in zip(given["pools"], given["pool_se"], strict=True)
    ]
    assert found == close(row)


@pytest.mark.check_rows("pl2")
def test_pools_with_false_alarms_count_them_as_finds(row):
    given = row["inputs"]
    holds = 1 - (1 - given["p"]) ** given["pool_size"]
    found = [
        screening.chance_positives(
            None, pools, holds, sensitivity=given["pool_se"], specificity=given["pool_sp"]
        )
        for pools in given["pools"]
    ]
    assert found == close(row)


@pytest.mark.check_rows("pl3")
def test_number_of_pools(row):
    given = row["inputs"]
    found = [
        pooling.pools_needed(given["p"], size, given["conf"], finds)
        for size, finds in zip(given["pool_size"], given["pool_se"], strict=True)
    ]
    assert found == row["expected"]


@pytest.mark.check_rows("pl5")
def test_number_of_pools_without_false_alarms(row):
    given = row["inputs"]
    found = pooling.pools_needed(given["p"], given["pool_size"], given["conf"], given["pool_se"])
    assert found == row["expected"]


@pytest.mark.check_rows("pf1")
def test_chance_of_being_free_after_a_clean_round(row):
    given = row["inputs"]
    found = [
        screening.chance_free(given["prior"], finds, brought_in=given["intro"]) for finds in given["sep"]
    ]
    assert found == close(row)


@pytest.mark.check_rows("pf3", "pf4")
def test_rounds_reach_a_plateau_while_newcomers_bring_it_in(row):
    given = row["inputs"]
    rounds = given["sep"] if isinstance(given["sep"], list) else [given["sep"]]
    found = [screening.highest_chance_free(finds, given["intro"]) for finds in rounds]
    assert (found if isinstance(given["sep"], list) else found[0]) == close(row)
    for finds, top in zip(rounds, found, strict=True):
        free = 0.5
        for _ in range(500):
            free = screening.chance_free(free, finds, brought_in=given["intro"])
        assert free == pytest.approx(top, abs=1e-9)


@pytest.mark.check_rows("pf5")
def test_group_sensitivity_that_a_wanted_chance_needs(row):
    given = row["inputs"]
    found = [screening.group_sensitivity_needed(given["prior"], target) for target in given["target"]]
    assert found == close(row)


@pytest.mark.check_rows("pf6")
def test_size_that_a_wanted_chance_needs(row):
    given = row["inputs"]
    sizes = []
    for prior, share, finds in zip(given["prior"], given["p"], given["se"], strict=True):
        needed = screening.group_sensitivity_needed(prior * (1 - given["intro"]), 0.95)
        sizes.append(sampling.large_group_size(share, needed, finds))
    assert sizes == row["expected"]


@pytest.mark.parametrize(
    ("group", "infected"), [(1, 1), (7, 3), (60, 1), (60, 12), (200, 40), (201, 40), (2000, 25), (40_000, 9)]
)
@pytest.mark.parametrize("sensitivity", [0.0, 0.3, 0.75, 0.999, 1.0])
def test_scipy_gives_the_same_chances(group, infected, sensitivity):
    """Second opinion: scipy's hypergeometric; its own sums are good to about 1e-10."""
    for tested in {0, 1, group // 3, group - 1, group}:
        found = sampling.chance_detected(group, tested, infected, sensitivity)
        assert found == pytest.approx(1 - missed_by_scipy(group, tested, infected, sensitivity), abs=2e-9), (
            tested
        )


def test_scipy_needs_the_same_sample_sizes_in_every_small_group():
    for group in range(1, 41):
        for infected in range(1, group + 1):
            size = sampling.group_size(group, infected, 0.95).sample_size
            chances = [1 - stats.hypergeom.pmf(0, group, infected, n) for n in range(group + 1)]
            least = next(n for n, chance in enumerate(chances) if chance >= 0.95 - 1e-12)
            assert size == least, (group, infected)


def test_thinned_pools_by_drawing_eggs():
    """Drawn truth: one of five animals has 4 eggs on average in a whole portion; its pool holds a fifth."""
    import numpy as np

    draw = np.random.default_rng(7)
    alone = float(np.mean(draw.poisson(1.4, 200_000) > 0))
    pooled = float(np.mean(draw.poisson(1.4 / 5, 200_000) > 0))
    assert pooling.sensitivity_in_pool(alone, 5) == pytest.approx(pooled, abs=0.006)
