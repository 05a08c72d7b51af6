"""A track that took up something else is cut there; what stands out by far may be brief; how a carried thing goes."""

import numpy as np

from fecallab.imaging.motility.hops import without_hops
from fecallab.imaging.motility.link import Track
from fecallab.imaging.motility.odds import swimming_odds, swims_by_odds
from fecallab.imaging.motility.paths import Path, carried_velocity, mean_velocity
from fecallab.imaging.motility.stream import no_stream

FPS = 30.0


def rows(rng, xy, area, peak):
    n = len(xy)
    looks = np.exp(rng.normal(0, 0.05, (n, 2))) * [area, peak]
    out = np.zeros((n, 8))
    out[:, :2] = np.asarray(xy) + rng.normal(0, 0.1, (n, 2))
    out[:, 2], out[:, 3], out[:, 4], out[:, 6] = looks[:, 0], np.sqrt(area), np.sqrt(area), looks[:, 1]
    return list(out)


def test_a_track_that_leaves_a_flaw_for_a_body_is_cut_there():
    rng = np.random.default_rng(0)
    t = np.arange(30)[:, None] / FPS
    flaw = rows(rng, np.tile([20.0, 5.0], (25, 1)), 60, 0.02)
    body = rows(rng, [23, 7] + t * [50, 30], 130, 0.12)
    hopped = Track(list(range(25)) + list(range(27, 57)), flaw + body)
    parts = without_hops([hopped], np.arange(60) / FPS)
    assert len(parts) == 2
    assert abs(len(parts[0].frames) - 25) <= 1
    assert sum(len(one.frames) for one in parts) == len(hopped.frames)


def test_one_body_that_turns_grows_fainter_and_is_lost_for_a_moment_stays_one():
    rng = np.random.default_rng(1)
    heading = np.linspace(0, 2.5, 60)
    xy = 30 + np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)  # 30 µm/s
    body = [
        row * np.array([1, 1, 1, 1, 1, 1, f, 1])
        for row, f in zip(rows(rng, xy, 90, 0.1), np.linspace(1, 0.5, 60), strict=True)
    ]
    kept = [k for k in range(60) if not 28 <= k < 33]
    one = Track(kept, [body[k] for k in kept])
    assert without_hops([one], np.arange(60) / FPS) == [one]


def brief(rng, peak, speed):
    n = 11
    xy = np.arange(n)[:, None] / FPS * [speed, 0.0] + rng.normal(0, 0.15, (n, 2))
    size = np.tile([60.0, 9.0, 6.0, 0.0, peak, 0.0], (n, 1))
    return Path(first=0, times_s=np.arange(n) / FPS, xy_um=xy, own_um=xy, seen=np.ones(n, bool), size=size)


def test_what_stands_out_by_far_may_be_brief_and_what_hardly_does_may_not():
    rng = np.random.default_rng(2)

    def odds_of(path):
        return swimming_odds(path, no_stream(np.zeros(2)), 1.0, 0.12)

    assert swims_by_odds(brief(rng, 0.08, 60.0), odds_of, 0.01)
    assert not swims_by_odds(brief(rng, 0.015, 60.0), odds_of, 0.01)
    assert not swims_by_odds(brief(rng, 0.08, 0.0), odds_of, 0.01)


def test_what_trembles_as_it_is_carried_is_measured_better_by_its_ends_than_by_a_straight_line():
    rng = np.random.default_rng(3)
    off = []
    for _ in range(200):
        steps = rng.normal(0, np.sqrt(2 * 0.25 / FPS), (90, 2))
        xy = (
            np.cumsum(steps, axis=0)
            + np.arange(90)[:, None] / FPS * [12.0, -4.0]
            + rng.normal(0, 0.15, (90, 2))
        )
        size = np.tile([8.0, 3.0, 3.0, 0.0, 0.1, 0.0], (90, 1))
        one = Path(
            first=0, times_s=np.arange(90) / FPS, xy_um=xy, own_um=xy, seen=np.ones(90, bool), size=size
        )
        off.append([np.hypot(*(way(one) - [12, -4])) ** 2 for way in (carried_velocity, mean_velocity)])
    by_ends, by_line = np.sqrt(np.mean(off, axis=0))
    assert by_ends < 0.97 * by_line
    assert abs(by_ends - np.sqrt(2 * 2 * 0.25 / (89 / FPS))) < 0.08  # both axes: 2 D / T each
