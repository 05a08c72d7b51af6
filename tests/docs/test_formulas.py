"""The formulas that the reference prints, worked out by hand here, give what the calculators answer."""

import json
import math

import pytest

from fecallab.cli.main import run

Z = 1.959963984540054


@pytest.fixture
def answer(capsys):
    def ask(*words):
        assert run(["calc", *map(str, words), "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return ask


def hypergeometric(drawn, group, infected, tested):
    return math.comb(infected, drawn) * math.comb(group - infected, tested - drawn) / math.comb(group, tested)


def detected(group, infected, tested, sensitivity):
    """Return 1 - sum of Hyp(d; group, infected, tested) (1 - sensitivity)^d."""
    most = min(infected, tested)
    least = max(0, tested - (group - infected))
    missed = sum(
        hypergeometric(d, group, infected, tested) * (1 - sensitivity) ** d for d in range(least, most + 1)
    )
    return 1 - missed


def test_dose(answer):
    found = answer(
        *("dose", "--weight-g", 420, "--dose-mg-per-kg", 20, "--concentration-mg-per-ml", 40),
        "--arithmetic-only",
    )
    assert found["volume_ml"] == pytest.approx(0.420 * 20 / 40)


def test_fluids(answer):
    found = answer("fluids", "--weight-g", 350, "--ml-per-kg", 20, "--sites", 2, "--times", 2)
    assert found["total_ml"] == pytest.approx(0.350 * 20)
    assert found["per_time_ml"] == pytest.approx(found["total_ml"] / 2)
    assert found["per_site_ml"] == pytest.approx(found["total_ml"] / 4)
    dry = answer(
        *("fluids", "--weight-g", 350, "--maintenance-ml-per-kg", 15, "--dry-percent", 4, "--over-days", 4),
    )
    assert dry["total_ml"] == pytest.approx(0.350 * 15 + 0.350 * 4 * 10 / 4)


def test_tube(answer):
    found = answer("tube", "--french", 5, "--inner-diameter-mm", 0.9, "--length-mm", 400)
    assert found["outer_diameter_mm"] == pytest.approx(5 / 3)
    assert found["priming_ml"] == pytest.approx(math.pi / 4 * 0.9**2 * 400 / 1000)


def test_eggs_per_gram(answer):
    found = answer("epg", "--count", 0, "--sample-g", 2, "--suspension-ml", 30, "--counted-ml", 0.3)
    assert found["factor"] == pytest.approx(30 / (2 * 0.3))
    assert found["reliable_epg"] == pytest.approx(50 * math.log(20))
    assert found["upper95_if_zero"] == pytest.approx(-math.log(0.05) * 50)
    assert found["ci95"][1] == pytest.approx(-math.log(0.025) * 50), "half of chi-square(0.975; 2)"


def test_density(answer):
    assert answer("density", "--counts", "0,0,0,0")["upper95_if_zero"] == pytest.approx(-math.log(0.05) / 4)
    found = answer("density", "--counts", "9,0,0,1,0,7,0,0,12,0,0,3")
    mean, k, fields = found["mean_per_field"], found["k"], found["fields"]
    error = math.sqrt((mean + mean**2 / k) / fields)
    assert found["model"] == "negative-binomial"
    assert found["ci95"] == pytest.approx(
        [mean * math.exp(-Z * error / mean), mean * math.exp(Z * error / mean)]
    )


def test_field(answer):
    found = answer("field", "--field-number", 18, "--objective", 10)
    assert found["diameter_mm"] == pytest.approx(1.8)
    assert found["area_mm2"] == pytest.approx(math.pi / 4 * 1.8**2)
    assert found["cover_glass_share"] == pytest.approx(found["area_mm2"] / (22 * 22))


def test_residual(answer):
    p, s, n, rho = 0.3, 0.6, 3, 0.4
    found = answer("residual", "--prior", p, "--sensitivity", s, "--negatives", n, "--correlation", rho)
    assert found["probability_infected"] == pytest.approx(p * (1 - s) ** n / (p * (1 - s) ** n + 1 - p))
    size = (1 - rho) / rho
    missed = math.prod(((1 - s) * size + step) / (size + step) for step in range(n))
    assert found["probability_infected_cautious"] == pytest.approx(p * missed / (p * missed + 1 - p))


def test_reduction(answer):
    found = answer("reduction", "--before", "40,31", "--after", "2,4", "--paired")
    assert found["reduction_percent"] == pytest.approx(100 * (1 - 3 / 35.5))


def test_agreement(answer):
    found = answer("agreement", "--table", "20,5;10,15")
    seen, chance = 35 / 50, (25 / 50) * (30 / 50) + (25 / 50) * (20 / 50)
    mean = ((25 + 30) / 100, (25 + 20) / 100)
    chance_ac1 = sum(share * (1 - share) for share in mean)
    assert found["kappa"] == pytest.approx((seen - chance) / (1 - chance))
    assert found["ac1"] == pytest.approx((seen - chance_ac1) / (1 - chance_ac1))
    assert found["positive_agreement"] == pytest.approx(2 * 20 / (2 * 20 + 15))


def test_groups(answer):
    found = answer("detect", "--group", 60, "--tested", 30, "--infected", 2, "--sensitivity", 0.5)
    assert found["probability_detected"] == pytest.approx(detected(60, 2, 30, 0.5))
    size = answer("group-size", "--group", 60, "--infected", 2, "--confidence", 0.95)["sample_size"]
    assert detected(60, 2, size, 1) >= 0.95 > detected(60, 2, size - 1, 1)
    pooled = answer(
        *("pool", "--group", 60, "--pool-size", 5, "--pools", 8, "--infected", 3),
        *("--sensitivity", 0.75, "--factor", 50),
    )
    alone = 1 - (1 - 0.75) ** (1 / 5)
    assert pooled["sensitivity_in_pool"] == pytest.approx(alone)
    assert pooled["probability_detected"] == pytest.approx(detected(60, 3, 40, alone))
    assert pooled["factor_per_animal"] == 50 * 5
