"""Kinematics, swimming and trembling as numbers, against published and derived check values."""

import math

import numpy as np
import pytest

from fecallab.domain import motility
from fecallab.imaging.motility.paths import going, persistence


def test_velocities_of_a_zigzag_by_hand(check_row):
    """Derived by hand: four legs of 5 µm in 2 s, 12 µm as the crow flies."""
    row = check_row("mo2")
    xy, dt = row["inputs"]["xy_um"], row["inputs"]["dt_s"]
    found = motility.kinematics(xy, [k * dt for k in range(len(xy))], 1)
    assert [found.vcl_um_s, found.vsl_um_s, found.linearity] == pytest.approx([10, 6, 0.6], abs=1e-9)


@pytest.mark.check_rows("mo2")
def test_average_path_of_a_zigzag(row):
    xy, dt = row["inputs"]["xy_um"], row["inputs"]["dt_s"]
    found = motility.kinematics(xy, [k * dt for k in range(len(xy))], row["inputs"]["window"])
    assert [found.vap_um_s, found.straightness, found.wobble] == pytest.approx(
        row["expected"], abs=row["tolerance"]
    )


@pytest.mark.check_rows("mo3")
def test_a_closed_circle_goes_nowhere(row):
    r, n, dt = row["inputs"]["radius_um"], row["inputs"]["points"], row["inputs"]["dt_s"]
    turn = [2 * math.pi * k / (n - 1) for k in range(n)]
    found = motility.kinematics(
        [(r * math.cos(a), r * math.sin(a)) for a in turn], [k * dt for k in range(n)]
    )
    assert [found.vsl_um_s, found.linearity, found.vcl_um_s] == pytest.approx(row["expected"], abs=1e-9)


@pytest.mark.check_rows("mo4")
def test_linearity_is_straightness_times_wobble(row, check_row):
    zigzag = check_row("mo2")["inputs"]  # the note of the row: its track is the zigzag of mo2
    times = [k * zigzag["dt_s"] for k in range(len(zigzag["xy_um"]))]
    found = motility.kinematics(zigzag["xy_um"], times, 3)
    assert found.straightness * found.wobble == pytest.approx(row["expected"], abs=row["tolerance"])
    assert found.linearity == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("mo5")
def test_straight_swimming_goes_with_the_square_of_time(row):
    path = [(row["inputs"]["v"] * k * row["inputs"]["dt"], 0.0) for k in range(10)]
    found = motility.mean_squared_displacement(path, [1, 3, 5])
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("mo6")
def test_diffusion_of_a_nanometre(row):
    given = row["inputs"]
    found = motility.diffusion_um2_s(given["r"] * 1e6, given["T"], given["eta"]) * 1e-12
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("mo7")
def test_diffusion_of_a_micrometre(row):
    given = row["inputs"]
    found = motility.diffusion_um2_s(given["r_um"], given["T"], given["eta"])
    assert found == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.check_rows("mo8")
def test_trembling_goes_with_time(row):
    msd = motility.trembling_msd_um2(row["inputs"]["D"], row["inputs"]["t"])
    assert [msd, math.sqrt(msd)] == pytest.approx(row["expected"], abs=row["tolerance"])
    rng = np.random.default_rng(5)  # the same from drawn steps: within four standard errors
    walk = np.cumsum(rng.normal(0, math.sqrt(2 * row["inputs"]["D"] / 30), (60_000, 2)), axis=0)
    drawn = motility.mean_squared_displacement(walk.tolist(), [30])[0]
    assert drawn == pytest.approx(msd, rel=0.12)


@pytest.mark.check_rows("mo9")
def test_a_persistent_walk_at_first_and_in_the_end(row):
    given = row["inputs"]
    found = [motility.wandering_msd_um2(given["S"], given["P"], t) for t in given["t"]]
    assert found == pytest.approx(row["expected"], rel=1e-3)


def test_trembling_paths_pass_neither_test_for_swimming():
    """Derived: P(way²/sum of steps² > q) = exp(-q) for white steps in the plane."""
    rng = np.random.default_rng(2)
    times = np.arange(90) / 30
    walks = np.cumsum(rng.normal(size=(2000, 90, 2)), axis=1)
    reached = np.array([going(one) for one in walks])
    assert np.mean(reached > 3) == pytest.approx(math.exp(-3), abs=0.02)
    assert np.mean([persistence(one, times).z > 4 for one in walks]) < 0.002


def test_a_persistent_walk_shows_its_speed():
    """Derived: the products of steps of a straight path give its speed, whatever the errors of place."""
    rng = np.random.default_rng(3)
    times = np.arange(90) / 30
    path = np.column_stack([12 * times, 5 * times]) + rng.normal(0, 0.15, (90, 2))
    found = persistence(path, times)
    assert found.z > 4 and found.speed_um_s == pytest.approx(13.0, rel=0.05)
