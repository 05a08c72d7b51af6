"""Parts of the search: tiles, suppression, matching, long objects, what is kept, and learning over exams."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fecallab.imaging.detect import propose
from fecallab.imaging.detect.absorption import absorbed_in, ground_of, without_surround
from fecallab.imaging.detect.examples import Field, Known
from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.kept import keep, kept_path, read_kept
from fecallab.imaging.detect.learn import OwnExamples, learn
from fecallab.imaging.detect.long_thin import LONG_THRESHOLD
from fecallab.imaging.detect.matching import matched
from fecallab.imaging.detect.patterns import PATTERN_NAMES, patterns
from fecallab.imaging.detect.propose import _on_one_scale
from fecallab.imaging.detect.ranker import drawn_ranker
from fecallab.imaging.detect.relations import RELATION_NAMES, relations
from fecallab.imaging.detect.suppression import suppress
from fecallab.imaging.detect.tiles import tiles_of
from fecallab.imaging.detect.trace import Ellipses, trace
from fecallab.imaging.detect.train import TABLE, data_folder, read_table


@pytest.mark.parametrize(
    ("height", "width", "scale"), [(3000, 4000, 0.25), (10_000, 20_000, 0.25), (9000, 9000, 2.0)]
)
def test_every_place_belongs_to_one_tile(height: int, width: int, scale: float) -> None:
    tiles = tiles_of(height, width, scale)
    rng = np.random.default_rng(0)
    x, y = rng.uniform(-0.5, width - 0.5, 2000), rng.uniform(-0.5, height - 0.5, 2000)
    assert (sum(tile.holds(x, y).astype(int) for tile in tiles) == 1).all()
    for tile in tiles:
        assert (tile.bottom - tile.top) * (tile.right - tile.left) * min(1.0, (scale / 0.6) ** 2) < 2.5e7


def test_beyond_the_lit_circle_its_ground_goes_on() -> None:
    x, y = np.meshgrid(np.arange(300.0), np.arange(240.0))
    away = np.hypot(x - 150, y - 120)
    grey = np.where(away < 100, 200, 3) - 60 * (np.abs(np.hypot(x - 215, y - 120) - 20) < 2)
    pixels = np.clip(grey, 0, 255).astype(np.uint8)
    ground = ground_of(pixels)
    before = absorbed_in(pixels, ground, 240, 300)
    after = without_surround(before.copy(), ground)
    assert before[away > 110].mean() > 2
    assert after[away > 110].max() < 0.3, "the black surround has become ground"
    inside = away < 85
    np.testing.assert_array_equal(after[inside], before[inside])


def test_rays_pores_and_spines_are_told_by_their_waves() -> None:
    x, y = np.meshgrid(np.arange(200.0) - 100, np.arange(200.0) - 100)
    turn, away = np.arctan2(y, x), np.hypot(x, y)
    one = Ellipses(*(np.array([value]) for value in (100.0, 100.0, 60.0, 60.0, 0.0)))

    def strength(name: str, inside: np.ndarray) -> float:
        level = np.where(away < 60, 0.3 + inside, 0).astype(np.float32)
        traced = trace(level, one)
        found = patterns(level, traced, np.array([0.3]), np.array([0.0]))
        return float(found[0, PATTERN_NAMES.index(name)])

    plain = np.zeros_like(away)
    rays, pores = 0.1 * np.sin(10 * turn), -0.2 * (np.cos(3 * turn) > 0.8) * (away > 48)
    off_centre = 0.1 * (np.hypot(x - 25, y) < 20)
    assert strength("body_waves_7", rays) > strength("body_waves_7", plain) + 1
    assert strength("skin_waves_3", pores) > strength("skin_waves_3", plain) + 1
    assert strength("heart_waves_1", off_centre) > strength("heart_waves_1", plain) + 0.5


def test_what_lies_within_a_better_outline_is_told_by_its_rival() -> None:
    one = np.ones(3)
    ellipses = Ellipses(
        np.array([50.0, 52.0, 200.0]), 50 * one, np.array([40.0, 15.0, 30.0]), 14 * one, 0 * one
    )
    found = relations(ellipses, one, np.array([1.0, 0.6, 0.8]), one, one, one)
    larger = found[:, RELATION_NAMES.index("rival_larger")]
    assert larger[1] == pytest.approx(0.4)
    assert larger[[0, 2]].tolist() == [-2, -2], "nothing better lies around these"


def test_of_two_outlines_on_each_other_the_better_stays() -> None:
    one = np.ones(3)
    ellipses = Ellipses(np.array([50.0, 53.0, 150.0]), 50 * one, 20 * one, 12 * one, 0 * one)
    assert suppress(ellipses, np.array([0.6, 0.9, 0.3])).tolist() == [1, 2]


def test_each_thing_is_met_once_and_look_alikes_never() -> None:
    field = Field(
        np.zeros((10, 10), np.uint8), 0.5, (Known(True, 50, 50, 40, 30), Known(False, 150, 50, 40, 40)), "", 0
    )
    met, wrong, missed, which = matched(np.array([52.0, 48.0, 150.0]), np.array([50.0, 50.0, 50.0]), field)
    assert (met, wrong, missed) == (1, 2, 0)
    assert which.tolist() == [0, -1, -1]


def test_a_bent_grey_body_is_proposed_as_long() -> None:
    y, x = np.mgrid[0:260, 0:420].astype(float)
    middle = 130 + 25 * np.sin(x / 70)
    along = np.clip(np.minimum(x - 60, 360 - x) / 60, 0, 1)
    depth = 9 * along - np.abs(y - middle)
    grey = 200 * np.exp(-0.28 * np.clip(depth + 0.5, 0, 1)) + np.random.default_rng(0).normal(0, 1.5, x.shape)
    long_ones = [p for p in propose(grey.clip(0, 255).astype(np.uint8), 1.0).proposals if p.kind == "long"]
    assert len(long_ones) == 1
    assert 240 < long_ones[0].length_um < 330
    assert abs(long_ones[0].x_px - 210) < 30


def test_what_is_kept_is_read_back_for_its_scale_and_edition_only(tmp_path: Path) -> None:
    grey = np.random.default_rng(0).normal(180, 3, (90, 120)).clip(0, 255).astype(np.uint8)
    found = propose(grey, 0.5, threshold=0.0)
    keep(tmp_path, "ab12", found, 0.5, "one")
    assert read_kept(tmp_path, "ab12", 0.5, "one") == found
    assert read_kept(tmp_path, "ab12", 0.6, "one") is None
    assert read_kept(tmp_path, "ab12", 0.5, "two") is None
    kept_path(tmp_path, "ab12").write_text("[]")
    assert read_kept(tmp_path, "ab12") is None


def own(exams: int, turned: bool, seed: int = 0) -> list[OwnExamples]:
    """Rows of a lab: drawn rows as they are, or with one feature that means the opposite here."""
    features, positive, _ = read_table(data_folder() / TABLE)
    rng = np.random.default_rng(seed)
    rows = rng.permutation(len(features))[: 150 * exams]
    told = positive[rows]
    if turned:
        told = features[rows, NAMES.index("aspect")] > np.log(2.0)
    return [OwnExamples(f"E{k}", "10x", features[rows[k::exams]], told[k::exams]) for k in range(exams)]


def test_learning_helps_where_the_lab_is_different_and_says_so() -> None:
    lesson = learn(own(3, turned=True), read_table(data_folder() / TABLE), drawn_ranker(), "own")
    assert lesson.ranker is not None
    assert lesson.before is not None
    assert lesson.after is not None
    assert lesson.after > lesson.before + 0.1
    assert "10x" in lesson.ranker.thresholds
    assert lesson.why.startswith("Better")


def test_learning_nothing_new_keeps_the_old_one() -> None:
    lesson = learn(own(3, turned=False), read_table(data_folder() / TABLE), drawn_ranker(), "own")
    assert lesson.ranker is None
    assert "Nothing was changed" in lesson.why


@pytest.mark.parametrize("threshold", [0.2, 0.5, 0.8])
def test_long_ones_and_ovals_are_judged_on_one_scale(threshold: float) -> None:
    assert _on_one_scale(LONG_THRESHOLD, threshold) == pytest.approx(threshold)
    strengths = [_on_one_scale(score, threshold) for score in (0.0, 0.2, 0.45, 0.9, 1.0)]
    assert strengths == sorted(strengths)
    assert strengths[0] >= 0 and strengths[-1] < 1
