"""How well swimmers are told over many drawn clips, and how fast, beside trackpy; ``pytest tests/bench --benchmark-enable -s``.

Seeds from 1000 on are kept apart: nothing was tuned on them; the style ``organism`` was never tuned on at all. Seeds
from 8000, 9000, 50000, 60000, 61000, 62000 and 63000 on were looked at once each, when all limits of an edition were
set: the last ones for this edition. Seeds from 0 to 999 and from 30000 to 39999 are for tuning.
An open clip can be named in FECALLAB_OPEN_CLIP (with FECALLAB_OPEN_SCALE, µm per pixel) to be counted too.

Matching: a *stay* is the time in which a drawn swimmer is inside the picture, half a second or more. It is found when
tracks called swimming lie within 0.6 of its length (4 µm at least) for half of that time or more. A track of which
less than half lies near any swimmer is false. Of the others each stay gets one track and each track one stay, so that
they lie as near as can be for as long as can be; a track that is left over is a double (one swimmer counted twice, or
in two pieces). Two tracks that exchanged their swimmers where they crossed are two swimmers counted as two; how many
tracks were left over if each went to the stay that it follows longest is said beside it.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from fecallab.imaging.motility import MotilityResult, assess_motility, judge
from fecallab.imaging.motility import link as linking
from fecallab.imaging.motility.clips import Clip, open_clip
from fecallab.imaging.motility.drawn import ClipSpec, DrawnClip, clip_by_lot, draw_clip, stream_at
from fecallab.imaging.motility.film import write_video

Track = tuple[np.ndarray, np.ndarray, float]
CLIPS = int(os.environ.get("FECALLAB_BENCH_CLIPS", "24"))


@dataclass
class Tally:
    """What was found over some clips."""

    name: str
    clips: int = 0
    stays: int = 0
    found: int = 0
    false: int = 0
    doubles: int = 0
    mixed: int = 0
    false_where_none: int = 0
    speed_errors: list[float] = field(default_factory=list)
    clip_speed_errors: list[float] = field(default_factory=list)
    clip_way_errors: list[float] = field(default_factory=list)
    crowded_with_errors: int = 0
    stream_errors: list[float] = field(default_factory=list)
    seconds_per_second: list[float] = field(default_factory=list)

    def line(self) -> str:
        def middle(values: list[float], share: float = 0.5) -> str:
            return f"{np.quantile(np.abs(values), share):.2f}" if values else "-"

        return (
            f"{self.name:28s} clips {self.clips:3d} | found {self.found}/{self.stays}"
            f" ({100 * self.found / max(self.stays, 1):.1f} %) | false {self.false}, doubles {self.doubles}"
            f" ({(self.false + self.doubles) / max(self.clips, 1):.2f} a clip; {self.mixed} with those that took up another's path) | false without swimmers"
            f" {self.false_where_none} | speed off: each {middle(self.speed_errors)},"
            f" clip medians {middle(self.clip_speed_errors)}, sway counted {middle(self.clip_way_errors)} | stream off {middle(self.stream_errors)}"
            f" (90 % {middle(self.stream_errors, 0.9)}) µm/s | more than one false or double in {self.crowded_with_errors} clips | processor {middle(self.seconds_per_second)} × playing"
        )


def stays_of(drawn: DrawnClip) -> list[tuple[int, int, int, bool]]:
    spec = drawn.spec
    found = []
    for k, path in enumerate(drawn.swimmers):
        x, y = path.T
        inside = (x > 2) & (x < spec.width_px - 3) & (y > 2) & (y < spec.height_px - 3)
        if spec.circle:
            far = np.hypot(x - spec.width_px / 2, y - spec.height_px / 2)
            inside &= far < 0.46 * min(spec.width_px, spec.height_px)
        inside[1:] &= np.hypot(*np.diff(path, axis=0).T) < 100
        edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]]))).reshape(-1, 2)
        found += [(k, int(a), int(b), (b - a) / spec.fps >= 0.5) for a, b in edges]
    return found


def way_um_s(drawn: DrawnClip, swimmer: int, frames: np.ndarray) -> float:
    """Return the drawn speed along the way in the fluid with its sway, pauses and nudges of the stage left out."""
    spec = drawn.spec
    path = drawn.swimmers[swimmer, frames[0] : frames[-1] + 1] * spec.um_per_px
    own = np.diff(path, axis=0) * spec.fps - stream_at(spec, path[:-1])
    speed = np.hypot(*own.T)
    moving = (speed > 0.3 * drawn.speeds_um_s[swimmer]) & (speed < 4 * np.median(speed) + 1)
    return float(speed[moving].mean()) if moving.any() else float(drawn.speeds_um_s[swimmer])


def score(tally: Tally, drawn: DrawnClip, tracks: list[Track], stream: tuple[float, float] | None) -> None:
    um, stays = drawn.spec.um_per_px, stays_of(drawn)
    covered = [np.zeros(b - a, bool) for _, a, b, _ in stays]
    closeness = np.zeros((len(tracks), len(stays)))
    false = 0
    for number, (frames, xy, _) in enumerate(tracks):
        gaps = np.hypot(*(drawn.swimmers[:, frames] - xy[None]).transpose(2, 0, 1)) * um
        room = np.maximum(0.6 * drawn.lengths_um, 4)[:, None]
        if not len(gaps) or (gaps < room).any(axis=0).mean() < 0.5:
            false += 1
            continue
        for stay, (k, a, b, _) in enumerate(stays):
            near = (frames >= a) & (frames < b) & (gaps[k] < room[k])
            covered[stay][frames[near] - a] = True
            closeness[number, stay] = float((1 - gaps[k][near] / room[k]).sum())
    followed = {
        int(stay): int(number)
        for number, stay in zip(*linear_sum_assignment(-closeness), strict=True)
        if closeness[number, stay] > 0
    }
    owners = [int(row.argmax()) for row in closeness if row.size and row.max() > 0]
    tally.mixed += len(owners) - len(set(owners))
    speeds = []
    for stay, (k, _, _, counts) in enumerate(stays):
        if not counts:
            continue
        tally.stays += 1
        tally.found += bool(covered[stay].mean() >= 0.5)
        if stay in followed:
            frames, _, speed = tracks[followed[stay]]
            speeds.append((speed, drawn.speeds_um_s[k], way_um_s(drawn, k, frames)))
    tally.clips += 1
    tally.false += false
    tally.false_where_none += false if drawn.spec.swimmers == 0 else 0
    tally.doubles += len(owners) - len(followed)
    tally.crowded_with_errors += false + len(owners) - len(followed) > 1
    if speeds:
        got, true, way = np.array(speeds).T
        tally.clip_way_errors.append(float(np.median(got) / np.median(way) - 1))
        tally.speed_errors += list(got / true - 1)
        tally.clip_speed_errors.append(float(np.median(got) / np.median(true) - 1))
    if stream is not None:
        tally.stream_errors.append(float(np.hypot(*(np.array(stream) - drawn.stream_um_s))))


def swimming_tracks(result: MotilityResult) -> list[Track]:
    return [
        (one.frames, one.xy_px, one.motion.vcl_um_s if one.motion else 0.0)
        for one in result.of_kind("swimming")
    ]


def by_this_program(tally: Tally, drawn: DrawnClip, clip: Clip) -> MotilityResult:
    start = time.process_time()
    result = assess_motility(clip, drawn.spec.um_per_px)
    tally.seconds_per_second.append((time.process_time() - start) / drawn.spec.seconds)
    score(tally, drawn, swimming_tracks(result), result.drift_um_s)
    return result


def by_trackpy(tally: Tally, drawn: DrawnClip, net_um_s: float) -> None:
    """Locate dark and bright spots of the bodies' size, link, take the mean drift away, cut by net speed."""
    import trackpy

    trackpy.quiet()
    spec = drawn.spec
    diameter = round(float(np.mean(spec.length_um)) * 0.8 / spec.um_per_px) // 2 * 2 + 1
    start = time.process_time()
    ground = np.median(drawn.frames[:: max(1, len(drawn.frames) // 24)], axis=0)
    change = np.abs(drawn.frames.astype(np.float32) - ground).astype(np.uint8)  # no still things
    found = trackpy.batch(change, diameter, minmass=300, processes=1)
    reach = max(2.0, 1.1 * spec.speed_um_s[1] / spec.fps / spec.um_per_px)
    while True:
        try:
            linked = trackpy.link(found, reach, memory=3)
            break
        except trackpy.SubnetOversizeException:
            reach *= 0.8
    linked = trackpy.filter_stubs(linked, int(0.4 * spec.fps))
    drift = trackpy.compute_drift(linked)
    tracks: list[Track] = []
    if len(linked):
        linked = linked.reset_index(drop=True)
        own = trackpy.subtract_drift(linked.copy(), drift).reset_index(drop=True)
        for number, rows in own.groupby("particle"):
            rows = rows.sort_values("frame")
            seconds = (rows.frame.iloc[-1] - rows.frame.iloc[0]) / spec.fps
            way = np.hypot(np.diff(rows.x), np.diff(rows.y)).sum() * spec.um_per_px
            net = (
                np.hypot(rows.x.iloc[-1] - rows.x.iloc[0], rows.y.iloc[-1] - rows.y.iloc[0]) * spec.um_per_px
            )
            if seconds > 0 and net / seconds > net_um_s:
                lab = linked[linked.particle == number].sort_values("frame")
                tracks.append((lab.frame.to_numpy(), lab[["x", "y"]].to_numpy(), way / seconds))
    tally.seconds_per_second.append((time.process_time() - start) / spec.seconds)
    stream = None
    if len(drift) > 1:
        ends = drift.iloc[-1] - drift.iloc[0]
        rate = spec.fps * spec.um_per_px / len(drift)
        stream = (float(ends.x) * rate, float(ends.y) * rate)
    score(tally, drawn, tracks, stream)


def linked_by_laptrack(tables: Any, times_s: Any, fastest_um_s: float = 300.0) -> list[linking.Track]:
    """Join the same bodies to tracks by laptrack: place and log of area, gaps of five frames, no splits.

    The reach and the weight of the area are the best of three settings on clips that were used for tuning.
    """
    import laptrack
    import pandas as pd

    rows = [
        np.column_stack([np.full(len(one), k), one, 3 * np.log(np.maximum(one[:, 2], 1e-6))])
        for k, one in enumerate(tables)
        if len(one)
    ]
    if not rows:
        return []
    names = ["frame", "x", "y", "area", "length", "width", "angle", "peak", "partly", "look"]
    places = pd.DataFrame(np.vstack(rows), columns=names).astype({"frame": int})
    reach = 2 + fastest_um_s * float(np.median(np.diff(times_s)))
    tracker = laptrack.LapTrack(
        cutoff=reach**2,
        gap_closing_cutoff=(1.5 * reach) ** 2,
        gap_closing_max_frame_count=5,
        splitting_cutoff=False,
        merging_cutoff=False,
    )
    found, _, _ = tracker.predict_dataframe(
        places, coordinate_cols=["x", "y", "look"], frame_col="frame", only_coordinate_cols=False
    )
    found = found.reset_index(drop=True)
    frame = "frame" if "frame" in found else "frame_y"
    return [
        linking.Track(one[frame].astype(int).tolist(), list(one[names[1:9]].to_numpy()))
        for _, one in found.sort_values(frame).groupby("track_id")
    ]


def films(folder: Any, styles: tuple[str, ...], first: int, count: int, **fixed: Any) -> Any:
    """Draw clips by lot; every second one goes through H.264."""
    for seed in range(first, first + count):
        spec = clip_by_lot(seed, styles[seed % len(styles)], **fixed)
        drawn = draw_clip(spec, seed)
        if seed % 2:
            shown = zip(drawn.times_s, drawn.frames, strict=True)
            write_video(folder / "clip.mp4", shown, spec.fps, crf=26, repeatable=True)
            yield drawn, open_clip(folder / "clip.mp4")
        else:
            yield drawn, open_clip(drawn.frames, spec.fps)


LOOKS = ("dark", "ring", "bright", "grainy")
LONG: dict[str, Any] = {"length_um": (40.0, 120.0), "swimmers": 5, "aspect": (4, 9)}
SLOW: dict[str, Any] = {"speed_um_s": (5.0, 15.0), "swimmers": 10}
SETS: dict[str, tuple[tuple[str, ...], int, dict[str, Any]]] = {
    "four styles, kept apart": (LOOKS, 1000, {}),
    "style never tuned on": (("organism",), 2000, {}),
    "four styles, looked at once": (LOOKS, 8000, {}),
    "four styles, looked at last": (LOOKS, 9000, {}),
    "four styles, nothing swims": (LOOKS, 9500, {"swimmers": 0}),
    "style never tuned on, once": (("organism",), 8100, {}),
    "four styles, edition before": (LOOKS, 61000, {}),
    "nothing swims, edition before": (LOOKS, 61500, {"swimmers": 0}),
    "long bodies, edition before": (("long", "worm"), 61300, LONG),
    "slow, edition before": (LOOKS, 61400, SLOW),
    "four styles, this edition": (LOOKS, 63000, {}),
    "nothing swims, this edition": (LOOKS, 63500, {"swimmers": 0}),
    "long bodies, this edition": (("long", "worm"), 63300, LONG),
    "slow, this edition": (LOOKS, 63400, SLOW),
    "long bodies, 4:1 to 9:1": (("long", "worm"), 3000, LONG),
    "slow: 5 to 15 µm/s": (LOOKS, 4000, SLOW),
}
LEAST_FOUND = {3000: 0.7, 61300: 0.65, 63300: 0.65, 4000: 0.8, 61400: 0.8, 63400: 0.8}


@pytest.mark.parametrize("name", list(SETS))
def test_swimmers_of_clips_drawn_by_lot(benchmark: Any, name: str, tmp_path: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    styles, first, fixed = SETS[name]
    tally = Tally(name)
    count = CLIPS if first in (1000, 8000, 9000, 61000, 63000, 63500) else max(4, CLIPS // 3)

    def run() -> None:
        for drawn, clip in films(tmp_path, styles, first, count, **fixed):
            by_this_program(tally, drawn, clip)

    benchmark.pedantic(run, rounds=1, iterations=1)
    print("\n" + tally.line())
    assert tally.found >= LEAST_FOUND.get(first, 0.9) * tally.stays
    assert (tally.false + tally.doubles) <= 1.5 * tally.clips


def test_jets_and_shake_are_flagged_and_not_counted(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    told: list[str] = []

    def run() -> None:
        for seed in range(4):
            for what, more in (
                ("jet", {"jet_um_s": 40.0 + 20 * seed, "trembling": 60}),
                ("shake", {"shake_px": 1.5}),
            ):
                spec = ClipSpec(width_px=480, height_px=360, um_per_px=0.5, seconds=2.5, swimmers=0, **more)  # type: ignore[arg-type]
                result = assess_motility(draw_clip(spec, 5000 + seed).frames, 0.5, 30)
                codes = [one.code for one in (*result.reasons, *result.warnings)]
                told.append(f"{what}: counted {result.motile_count}, {codes}")
                assert not result.motile_count or result.motile_count <= 2 or codes

    benchmark.pedantic(run, rounds=1, iterations=1)
    print("\n" + "\n".join(told))


def test_speed_and_count_beside_trackpy(benchmark: Any) -> None:
    """3 s, 30 frames a second, 720 × 540, about 80 objects: the budget is half of the playing time on two cores."""
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    pytest.importorskip("trackpy")
    ours, theirs = Tally("this program"), Tally("trackpy, still things removed")

    def run() -> None:
        for seed, (style, stream) in enumerate(
            (("dark", (0.0, 0.0)), ("ring", (8.0, 3.0)), ("grainy", (15.0, -5.0)))
        ):
            spec = ClipSpec(
                style=style, swimmers=12, trembling=45, stuck=25, stream_um_s=stream, flicker=0.02
            )
            drawn = draw_clip(spec, 6000 + seed)
            by_this_program(ours, drawn, open_clip(drawn.frames, 30.0))
            by_trackpy(theirs, drawn, net_um_s=8.0)

    benchmark.pedantic(run, rounds=1, iterations=1)
    print("\n" + ours.line() + "\n" + theirs.line())
    assert np.median(ours.seconds_per_second) < np.median(theirs.seconds_per_second)


def test_linking_beside_laptrack(benchmark: Any, tmp_path: Any, monkeypatch: Any) -> None:
    """The same bodies joined by our own linking and by laptrack, the rest of the way the same."""
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    pytest.importorskip("laptrack")
    ours, theirs = Tally("own linking"), Tally("laptrack")

    def run() -> None:
        for drawn, clip in films(tmp_path, ("dark", "ring", "bright", "grainy"), 8000, 8):
            by_this_program(ours, drawn, clip)
            with monkeypatch.context() as patched:
                patched.setattr(judge, "link", linked_by_laptrack)
                by_this_program(theirs, drawn, clip)

    benchmark.pedantic(run, rounds=1, iterations=1)
    print("\n" + ours.line() + "\n" + theirs.line())
    assert ours.found >= theirs.found


def test_memory_of_a_long_clip(benchmark: Any, tmp_path: Any) -> None:
    """One minute of 1080p in a process of its own, under 1.5 GB."""
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    import subprocess
    import sys

    spec = ClipSpec(width_px=1920, height_px=1080, um_per_px=0.4, seconds=1.0, swimmers=15)
    drawn = draw_clip(spec, 7000)
    there_and_back = [*range(30), *range(28, 0, -1)]
    frames = ((k / 30, drawn.frames[there_and_back[k % len(there_and_back)]]) for k in range(1800))
    write_video(tmp_path / "minute.mp4", frames, 30, crf=26)
    program = (
        "import resource, sys; from fecallab.imaging.motility import assess_motility;"
        f" found = assess_motility({str(tmp_path / 'minute.mp4')!r}, 0.4);"
        " print(found.frames, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6)"
    )
    said: list[str] = []

    def run() -> None:
        said.append(
            subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True).stdout
        )

    benchmark.pedantic(run, rounds=1, iterations=1)
    frames_read, gigabytes = said[0].split()
    print(
        f"\n{frames_read} frames of 1080p: at most {float(gigabytes):.2f} GB, {benchmark.stats['mean']:.0f} s"
    )
    assert int(frames_read) == 1800 and float(gigabytes) < 1.5


@pytest.mark.skipif("FECALLAB_OPEN_CLIP" not in os.environ, reason="no open clip was named")
def test_an_open_clip_is_counted(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    scale = float(os.environ.get("FECALLAB_OPEN_SCALE", "1"))
    rate = os.environ.get("FECALLAB_OPEN_FPS")
    result = benchmark.pedantic(
        lambda: assess_motility(os.environ["FECALLAB_OPEN_CLIP"], scale, float(rate) if rate else None),
        rounds=1,
    )
    picks = np.linspace(0.07, 0.9, 5) * result.frames
    counts = [
        sum(one.frames[0] <= k <= one.frames[-1] for one in result.of_kind("swimming"))
        for k in picks.astype(int)
    ]
    print(f"\nframes {picks.astype(int).tolist()}: swimming {counts}; mean {result.mean_swimming_at_once}")
    assert result.assessable
