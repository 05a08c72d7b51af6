"""What tells two bodies from one is fitted again from the table that is kept, and gathered again from a drawn clip."""

import json

import numpy as np
import pytest

from fecallab.imaging.motility.clips import open_clip
from fecallab.imaging.motility.drawn import ClipSpec, draw_clip
from fecallab.imaging.motility.fit_sides import (
    COEFFICIENTS,
    EDITION,
    TABLE,
    WHERE,
    Pairs,
    bodies_named,
    fit,
    fit_table,
    pairs_of,
    read_table,
    write_table,
)
from fecallab.imaging.motility.link import Track
from fecallab.imaging.motility.pipeline import take_in
from fecallab.imaging.motility.sides import data_folder, drawn_odds


def test_the_kept_table_gives_the_kept_coefficients():
    fitted = fit_table(data_folder() / TABLE)
    for where in WHERE:
        kept = drawn_odds(where)
        # two decimals are kept; a processor may round the last one the other way
        assert np.abs(fitted[where].weights - kept.weights).max() <= 0.011
        assert fitted[where].two_from == pytest.approx(kept.two_from, abs=0.011)


def test_the_coefficients_say_what_they_were_fitted_to():
    told = json.loads((data_folder() / COEFFICIENTS).read_text(encoding="utf-8"))
    pairs = read_table(data_folder() / TABLE)
    assert told["edition"] == EDITION
    for where in WHERE:
        two = [two for at, two in zip(pairs.where, pairs.two, strict=True) if at == where]
        assert (told[where]["pairs"], told[where]["of_two_bodies"]) == (len(two), sum(two))


def test_the_fit_is_better_than_telling_by_chance():
    """Places in tracks: few are hops, and of these a fit must cut some while it cuts hardly any body in two."""
    pairs = read_table(data_folder() / TABLE)
    where, two = np.array(pairs.where), np.array(pairs.two)
    for one, least, most in (("hops", 0.2, 0.015), ("meetings", 0.8, 0.2)):
        mine = where == one
        told = np.array(pairs.differ)[mine] @ drawn_odds(one).weights > drawn_odds(one).two_from
        assert told[two[mine]].mean() > least
        assert told[~two[mine]].mean() < most


def test_a_logistic_that_made_the_pairs_is_found_again():
    rng = np.random.default_rng(0)
    differ = rng.exponential(1.0, (20_000, 5))
    chance = 1 / (1 + np.exp(4.0 - differ @ [1.0, 0.0, 0.5, 2.0, 0.0]))
    found = fit(differ, rng.random(20_000) < chance)
    assert np.abs(found.weights - [1.0, 0.0, 0.5, 2.0, 0.0]).max() < 0.12
    assert found.two_from == pytest.approx(4.0, abs=0.2)
    assert found.weights.min() >= 0


def test_a_table_is_read_as_it_was_written(tmp_path):
    pairs = Pairs([], [], [])
    pairs.add("hops", np.array([0.123, 1.0, 2.0, 3.0, 4.0]), True)
    pairs.add("meetings", np.zeros(5), False)
    write_table(tmp_path / "one.csv.gz", pairs)
    again = read_table(tmp_path / "one.csv.gz")
    assert again.where == ["hops", "meetings"] and again.two == [True, False]
    assert again.differ[0].tolist() == [0.12, 1.0, 2.0, 3.0, 4.0]
    write_table(tmp_path / "two.csv.gz", again)
    assert (tmp_path / "one.csv.gz").read_bytes() == (tmp_path / "two.csv.gz").read_bytes()


@pytest.fixture(scope="module")
def crowded():
    spec = ClipSpec(
        width_px=300, height_px=240, um_per_px=0.4, seconds=2.0, swimmers=16, trembling=20, stuck=3, noise=1.5
    )
    drawn = draw_clip(spec, 12)
    return drawn, take_in(open_clip(drawn.frames, spec.fps), spec.um_per_px)


def test_a_drawn_clip_names_bodies_and_gives_pairs_of_both_kinds(crowded):
    pairs = pairs_of(*crowded)
    mine = np.array(pairs.where) == "meetings"
    two, differ = np.array(pairs.two), np.array(pairs.differ)
    assert two[mine].sum() >= 5 and (~two[mine]).sum() >= 5
    sums = differ[mine].sum(axis=1)
    assert np.median(sums[two[mine]]) > 2 * np.median(sums[~two[mine]])


def test_a_row_on_a_swimmer_is_named_after_it_and_one_in_the_void_is_not(crowded):
    drawn, _ = crowded
    um = drawn.spec.um_per_px
    row = np.zeros(8)
    row[:2] = drawn.swimmers[3, 10] * um
    void = np.array([-500.0, -500.0, *np.zeros(6)])
    named = bodies_named(Track([10, 11], [row, void]), drawn, 0, np.zeros((60, 2)), 1)
    assert named.tolist() == ["s3", "-"]
