"""What swims is found, what does not is not called swimming, and what cannot be told is said."""

import json

import numpy as np
import pytest
from scipy import ndimage

from fecallab.imaging.motility import KINDS, assess_motility


def near(result, drawn, kind="swimming"):
    """Numbers of the drawn swimmers that tracks of a kind follow for most of their time."""
    found = []
    for one in result.of_kind(kind):
        gaps = np.hypot(*(drawn.swimmers[:, one.frames] - one.xy_px[None]).transpose(2, 0, 1))
        best = int(np.median(gaps, axis=1).argmin())
        # a body that comes in or goes is seen in part, so its middle lies off by up to half of its length
        assert np.median(gaps[best]) * drawn.spec.um_per_px < max(4, 0.5 * drawn.lengths_um[best]), one.number
        found.append(best)
    return found


def visible(drawn, least_s=0.8):
    h, w = drawn.spec.height_px, drawn.spec.width_px
    x, y = drawn.swimmers[..., 0], drawn.swimmers[..., 1]
    inside = ((x > 4) & (x < w - 5) & (y > 4) & (y < h - 5)).sum(axis=1) / drawn.spec.fps
    return set(np.flatnonzero(inside >= least_s).tolist())


def test_every_swimmer_is_found_with_its_speed(swimming):
    result = assess_motility(swimming.frames, 0.8, 25)
    found = near(result, swimming)
    assert visible(swimming) <= set(found)
    assert len(found) == len(set(found))
    for one, which in zip(result.of_kind("swimming"), found, strict=True):
        assert one.motion.vcl_um_s == pytest.approx(swimming.speeds_um_s[which], rel=0.12)
        assert one.length_um == pytest.approx(swimming.lengths_um[which], rel=0.3)
        assert "swim" in one.why or "course" in one.why
    low, high = result.mean_swimming_interval
    assert low < result.mean_swimming_at_once < high
    assert json.loads(json.dumps(result.as_dict()))["motile_count"] == len(found)


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"stream_um_s": (12, -7)},
        {"jumps": 1},
        {"flicker": 0.06, "circle": True},
        {"stream_um_s": (12, -7), "particle_um": (4.0, 20.0)},  # what floats is as large as swimmers are
    ],
)
def test_nothing_swims_where_nothing_swims(draw, more):
    drawn = draw(seed=8, swimmers=0, trembling=30, **more)
    result = assess_motility(drawn.frames, 0.8, 25)
    assert result.assessable and result.motile_count == 0
    assert result.drift_um_s == pytest.approx(drawn.stream_um_s, abs=0.8)
    assert result.mean_swimming_interval[1] == pytest.approx(3.69, abs=0.01)
    assert {one.kind for one in result.tracks} <= set(KINDS) - {"swimming"}


@pytest.mark.parametrize("style", ["dark", "ring", "bright", "grainy", "long"])
def test_any_look_is_found(draw, style):
    drawn = draw(seed=11, style=style, length_um=(14, 20) if style == "long" else (9, 14))
    found = near(assess_motility(drawn.frames, 0.8, 25), drawn)
    assert visible(drawn) <= set(found)


def test_a_stream_is_taken_from_speeds(draw):
    drawn = draw(seed=5, trembling=45, stream_um_s=(15, 0), width_px=400, height_px=300)
    result = assess_motility(drawn.frames, 0.8, 25)
    assert result.drift_um_s[0] == pytest.approx(15, abs=1)
    assert result.of_kind("drifting")
    found = near(result, drawn)
    assert visible(drawn) <= set(found)
    ratios = [
        one.motion.vcl_um_s / drawn.speeds_um_s[which]
        for one, which in zip(result.of_kind("swimming"), found, strict=True)
    ]
    assert np.median(ratios) == pytest.approx(1, abs=0.08)


def test_a_cut_to_another_field_is_found(draw):
    one, other = draw(seed=1, stuck=20), draw(seed=2, stuck=20)
    result = assess_motility(np.concatenate([one.frames, other.frames]), 0.8, 25)
    assert result.cuts_s == pytest.approx((2.0,), abs=0.05)
    assert any(reason.code == "clip-cut" for reason in result.warnings)
    assert {track.scene for track in result.of_kind("swimming")} == {0, 1}


def test_a_nudge_is_no_cut_and_no_swimming(draw):
    drawn = draw(seed=21, swimmers=0, trembling=10, stuck=25, jumps=1)
    result = assess_motility(drawn.frames, 0.8, 25)
    assert result.cuts_s == () and result.motile_count == 0
    moved = result.camera_px[-1] - result.camera_px[0]
    assert moved == pytest.approx(drawn.stuck[0, -1] - drawn.stuck[0, 0], abs=0.5)


@pytest.mark.parametrize(
    ("frames", "fps", "code"),
    [
        (np.full((1, 60, 80), 90, np.uint8), 25, "clip-too-short"),
        (np.full((2, 60, 80), 90, np.uint8), 25, "clip-too-short"),
        (np.full((40, 60, 80), 90, np.uint8), 1, "clip-too-slow"),
        (np.zeros((60, 60, 80), np.uint8), 25, "clip-dark"),
        (np.full((60, 60, 80), 90, np.uint8), 25, "nothing-seen"),
    ],
)
def test_a_clip_that_cannot_answer_says_so(frames, fps, code):
    result = assess_motility(frames, 0.8, fps)
    assert not result.assessable and result.motile_count is None and result.mean_swimming_at_once is None
    assert [reason.code for reason in result.reasons] == [code]
    assert result.reasons[0].next


def test_a_clip_out_of_focus_is_not_assessable(swimming):
    blurred = ndimage.gaussian_filter(swimming.frames.astype(np.float32), (0, 7, 7))
    blurred += np.random.default_rng(0).normal(0, 1.5, blurred.shape)
    result = assess_motility(np.clip(blurred, 0, 255).astype(np.uint8), 0.8, 25)
    assert not result.assessable and result.motile_count is None
    assert [reason.code for reason in result.reasons] == ["clip-blurred"]


def test_a_jet_is_flagged_and_not_counted(draw):
    drawn = draw(seed=6, swimmers=0, trembling=60, stuck=5, jet_um_s=60)
    result = assess_motility(drawn.frames, 0.8, 25)
    told = [reason.code for reason in (*result.reasons, *result.warnings)]
    assert any(code.startswith("flow") for code in told)
    assert not result.motile_count or result.motile_count <= 1
