"""What tells a swimmer: the evidence by hand, trees that ask, and trees that are grown to what is known."""

import json

import numpy as np
import pytest

from fecallab.imaging.grow import grown
from fecallab.imaging.motility.chances import FILE, drawn_chances
from fecallab.imaging.motility.clips import open_clip
from fecallab.imaging.motility.doubts import Doubts, stirred_by
from fecallab.imaging.motility.drawn import ClipSpec, draw_clip
from fecallab.imaging.motility.evidence import NAMES, Surroundings, evidence
from fecallab.imaging.motility.fit_chances import EDITION, held_out, lots, rows_of, written
from fecallab.imaging.motility.judge import few_others
from fecallab.imaging.motility.paths import Path
from fecallab.imaging.motility.pipeline import take_in
from fecallab.imaging.motility.sides import data_folder
from fecallab.imaging.motility.stream import Stream
from fecallab.imaging.trees import Tree, Trees, as_told, read

FPS = 30.0
T = np.arange(61) / FPS
MIDDLE = np.array([100.0, 100.0])


def around(flow=(0.0, 0.0), camera=None):
    return Surroundings(
        stream=Stream(MIDDLE, np.array(flow), np.zeros((2, 2)), 1.0),
        lag=0.1,
        unrest=1.0,
        limit=0.1,
        middle_um=MIDDLE,
        camera_px=np.zeros((61, 2)) if camera is None else camera,
    )


def path(xy, flow=(0.0, 0.0), size=(80.0, 12.0, 8.0), peak=0.5):
    xy = np.asarray(xy, float)
    rows = np.tile([*size, 0.0, peak, 0.0], (len(xy), 1))
    times = np.arange(len(xy)) / FPS
    bare = Path(first=0, times_s=times, xy_um=xy, own_um=xy, seen=np.ones(len(xy), bool), size=rows)
    return around(flow).stream.taken_from(bare)


def told(one, flow=(0.0, 0.0), **more):
    [row] = evidence([one], [], around(flow, **more))
    return dict(zip(NAMES, row, strict=True))


def test_the_evidence_of_a_straight_way_across_a_stream_is_what_a_ruler_says():
    found = told(path([20, 60] + T[:, None] * [10.0, 15.0], flow=(10.0, 0.0)), flow=(10.0, 0.0))
    assert found["own_um_s"] == pytest.approx(15)
    assert found["glass_um_s"] == pytest.approx(np.hypot(10, 15))
    assert (found["along_um_s"], found["across_um_s"]) == pytest.approx((0, 15), abs=1e-6)
    assert found["reach_um"] == pytest.approx(30)
    assert found["straight_um"] == pytest.approx(0, abs=1e-6) and found["even"] == 1
    assert found["moving"] == 1 and found["moves_s"] == pytest.approx(2)
    assert (found["begins_in_um"], found["ends_in_um"]) == pytest.approx((20, 40))
    assert found["stands_out"] == pytest.approx(5)
    assert found["lasts_s"] == pytest.approx(2) and found["seen"] == 1
    assert found["leap"] == pytest.approx(1)
    assert (found["others"], found["would_be"]) == (0, 1)


def test_what_another_swims_beside_is_told():
    both = [path([20, 60 + 40 * k] + T[:, None] * [20.0, 5.0], peak=0.5 * (1 + k)) for k in range(2)]
    rows = evidence(both, [path(np.full((61, 2), 30.0))], around())
    assert rows[:, NAMES.index("others")].tolist() == [1, 1, 2]
    assert rows[:2, NAMES.index("others_peak")] == pytest.approx([-np.log(2), np.log(2)])
    assert rows[:, NAMES.index("would_be")].tolist() == [1, 1, 0]


def test_growing_between_halves_and_a_nudge_are_told():
    one = path(50 + T[:, None] * [8.0, 0.0])
    one.size[31:, 0] *= 2.0
    camera = np.zeros((61, 2))
    camera[1:] = 20.0
    found = told(one, camera=camera)
    assert found["grows"] == pytest.approx(np.log(2)) and found["lengthens"] == 0
    assert found["nudged"] == 1 and told(one)["nudged"] == 0


ONE = Tree(
    asks=np.array([1, -1, 0, -1, -1]),
    limit=np.array([0.5, 0, -2.0, 0, 0]),
    no=np.array([1, 0, 3, 0, 0]),
    yes=np.array([2, 0, 4, 0, 0]),
    word=np.array([0, -1.0, 0, 0.25, 3.0]),
)


def test_a_tree_is_asked_as_it_is_read():
    rows = np.zeros((4, len(NAMES)))
    rows[:, :2] = [(0, 0.5), (9, 0.4), (-2.0, 0.6), (-1.9, 0.6)]
    assert ONE.said_of(rows).tolist() == [-1.0, -1.0, 0.25, 3.0]
    odds = Trees(0.5, (ONE, ONE)).odds(rows)
    assert odds.tolist() == [-1.5, -1.5, 1.0, 6.5]
    assert Trees(0.5, (ONE, ONE)).chance(rows) == pytest.approx(1 / (1 + np.exp(-odds)))
    assert len(ONE.said_of(rows[:0])) == 0


def test_trees_are_read_as_they_were_told_and_those_of_other_evidence_are_not():
    text = as_told(Trees(-0.25, (ONE, ONE)), NAMES, {"edition": "none"})
    again = read(text, NAMES)
    rows = np.random.default_rng(1).normal(0, 2, (200, len(NAMES)))
    assert again.odds(rows).tolist() == Trees(-0.25, (ONE, ONE)).odds(rows).tolist()
    assert json.loads(text)["edition"] == "none"
    with pytest.raises(ValueError, match="other evidence"):
        read(text.replace('"odds", ', "", 1), NAMES)


def test_a_rule_that_no_single_question_tells_is_found_and_noise_is_not():
    rng = np.random.default_rng(2)
    rows = rng.normal(size=(4000, 6))
    either = (rows[:, 1] > 0.3) ^ (rows[:, 4] > -0.2)
    trees = grown(rows[:3000], either[:3000], trees=60)
    right = (trees.chance(rows[3000:]) > 0.5) == either[3000:]
    assert right.mean() > 0.97
    lot = rng.random(4000) < 0.3
    chance = grown(rows[:3000], lot[:3000], trees=60).chance(rows[3000:])
    assert abs(chance.mean() - 0.3) < 0.04 and chance.max() < 0.75


def test_the_same_rows_grow_the_same_trees_and_chances_are_as_often_right_as_they_say():
    rng = np.random.default_rng(3)
    rows = rng.normal(size=(6000, 5))
    true = 1 / (1 + np.exp(-2 * rows[:, 0] - rows[:, 1] * rows[:, 2]))
    swims = rng.random(6000) < true
    clip = np.arange(6000) // 20
    chance = held_out(rows, swims, clip)
    assert np.array_equal(chance, held_out(rows, swims, clip))
    for low, high in ((0.0, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 1.0)):
        mine = (chance >= low) & (chance < high)
        assert chance[mine].mean() == pytest.approx(true[mine].mean(), abs=0.06)


def test_rows_that_all_say_the_same_give_that_chance():
    rows = np.random.default_rng(4).normal(size=(300, 3))
    assert grown(rows, np.zeros(300, bool), trees=5).chance(rows).max() < 1e-4


@pytest.fixture(scope="module")
def crowded():
    spec = ClipSpec(
        width_px=480,
        height_px=360,
        seconds=2.0,
        swimmers=18,
        trembling=40,
        stuck=5,
        particle_um=(3.0, 8.0),
        stream_um_s=(9.0, 4.0),
        noise=1.5,
    )
    drawn = draw_clip(spec, 12)
    taken = take_in(open_clip(drawn.frames, spec.fps), spec.um_per_px)
    return rows_of(drawn, taken)


def test_the_drawing_names_the_paths_of_swimmers_and_the_kept_trees_tell_them(crowded):
    rows, swims = crowded
    assert rows.shape == (len(swims), len(NAMES)) and np.isfinite(rows).all()
    assert swims.sum() >= 8 and (~swims).sum() >= 8
    chance = drawn_chances().chance(rows)
    assert np.mean(chance[swims] > 0.7) >= 0.85
    assert np.mean(chance[~swims] < 0.3) >= 0.9


def test_what_is_kept_says_what_it_was_grown_to(crowded):
    kept = json.loads((data_folder() / FILE).read_text(encoding="utf-8"))
    assert kept["edition"] == EDITION
    assert str(len(list(lots()))) in kept["grown"]
    assert kept["paths"] > 20_000 and 0.1 < kept["of_swimmers"] / kept["paths"] < 0.5
    rows, swims = crowded
    again = np.vstack([rows] * 4), np.concatenate([swims] * 4), np.arange(4 * len(swims)) // len(swims)
    trees, text = written(*again)
    assert f'"paths": {4 * len(swims)}' in text
    assert read(text, NAMES).odds(rows) == pytest.approx(trees.odds(rows), abs=1e-3)


def test_no_clip_for_tuning_is_one_that_is_kept_apart():
    seeds = [one.seed for one in lots()]
    assert len(set(seeds)) == len(seeds)
    assert min(seeds) >= 30_000 and max(seeds) < 40_000


def test_the_only_one_that_goes_dead_straight_may_be_carried_and_one_that_turns_or_has_company_is_not():
    straight = path(20 + T[:, None] * [25.0, 8.0])
    turning = path(60 + 25 * np.column_stack([np.sin(T), 1 - np.cos(T)]))
    doubts = Doubts(around=around(), would_be=[straight, turning], guides=9, flowing=0.0, frames=61)
    assert doubts.may_be_carried(straight, few_others=True)
    assert not doubts.may_be_carried(turning, few_others=True)
    assert not doubts.may_be_carried(straight, few_others=False)
    known = Doubts(around=around((6.0, 0.0)), would_be=[straight], guides=9, flowing=0.0, frames=61)
    assert not known.may_be_carried(straight, few_others=True)  # the stream is told, and this is another way
    assert doubts.kind_and_why(straight, 0.0, True).why.startswith("straight and even as if carried")


def test_more_is_asked_where_hardly_another_surely_swims():
    assert few_others(np.array([0.95, 0.95, 0.6])).tolist() == [True, True, True]
    assert few_others(np.array([0.95, 0.95, 0.95, 0.6])).tolist() == [True, True, True, False]
    assert few_others(np.array([0.95] * 4)).tolist() == [False] * 4
    assert few_others(np.zeros(0)).tolist() == []


def test_small_slow_things_beside_large_swimmers_are_stirred_and_slow_ones_of_their_size_are_not():
    large = [path(20 + T[:, None] * [100.0, 10.0 * k], size=(400.0, 40.0, 12.0)) for k in range(5)]
    small = path(50 + T[:, None] * [6.0, 2.0], size=(40.0, 8.0, 6.0))
    as_large = path(50 + T[:, None] * [6.0, 2.0], size=(380.0, 38.0, 12.0))
    assert stirred_by([*large, small, as_large]) == [False] * 5 + [True, False]
    assert stirred_by([large[0], small]) == [False, False]  # too few tell what is large
