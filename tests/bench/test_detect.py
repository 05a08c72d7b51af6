"""How well and how fast proposals are made; ``pytest tests/bench/test_detect.py --benchmark-enable -s``.

Fields come from seeds that no training or tuning used, in four styles: drawn micrographs, sketches and reliefs (other
seeds of the styles that trained the ranker) and stamps (a style that it never saw). ``FECALLAB_DETECT_FIELDS`` sets how
many of each style and crowding are drawn, ``FECALLAB_DETECT_CURVES`` names a PNG for precision–recall curves, and
``FECALLAB_OPEN_PICTURES`` a folder of real pictures with ``boxes.csv`` (skipped without).
"""

from __future__ import annotations

import csv
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from fecallab.imaging.detect import Detection, propose
from fecallab.imaging.detect.examples import CROWDING, Field, Known, training_field
from fecallab.imaging.detect.matching import f1_of, matched
from fecallab.imaging.detect.ranker import drawn_ranker
from fecallab.imaging.detect.reliefs import relief
from fecallab.imaging.detect.sketches import sketch

from .stamps import stamped_field

FIRST_SEED = 900_000
STYLES = ("micrograph", "sketch", "relief", "stamp")
FIELDS = int(os.environ.get("FECALLAB_DETECT_FIELDS", "4"))
Row = tuple[float, list[tuple[Field, Detection]]]


def field(style: str, crowding: float, k: int) -> Field:
    if style == "stamp":
        return stamped_field(FIRST_SEED + k, crowding, um_per_px=(0.5, 0.3, 0.65, 0.5)[k % 4])
    return training_field(seed_of(crowding, k), style, crowding)


def seed_of(crowding: float, k: int) -> int:
    return FIRST_SEED + 1000 * int(100 * crowding) + k


def counts(found: Detection, truth: Field, threshold: float) -> tuple[int, int, int]:
    strong = [one for one in found.proposals if one.score >= threshold]
    return matched(np.array([one.x_px for one in strong]), np.array([one.y_px for one in strong]), truth)[:3]


def contrasts(truth: Field, k: int) -> np.ndarray:
    """By how much each thing that counts in relief field `k` makes its place darker or lighter, as a share of the ground.

    The field is drawn with and without it; 95 in 100 of its pixels differ less, evened over a pixel. Not a number for
    what does not count.
    """
    y, x = np.mgrid[: truth.pixels.shape[0], : truth.pixels.shape[1]]
    found = np.full(len(truth.known), np.nan)
    for j, one in enumerate(truth.known):
        if one.counts:
            less = relief(seed_of(truth.crowding, k), truth.crowding, um_per_px=truth.um_per_px, without=j)[0]
            change = ndimage.gaussian_filter(truth.pixels.mean(axis=2) - less.mean(axis=2), 1)
            turn, um = np.radians(one.angle_deg), truth.um_per_px
            u, v = (
                np.cos(turn) * (x - one.x_px) + np.sin(turn) * (y - one.y_px),
                np.cos(turn) * (y - one.y_px) - np.sin(turn) * (x - one.x_px),
            )
            inside = np.hypot(2 * u * um / one.length_um, 2 * v * um / one.width_um) < 1
            found[j] = np.percentile(np.abs(change[inside]), 95) / np.median(less)
    return found


def counts_of_plain(
    found: Detection, truth: Field, threshold: float, plain: np.ndarray
) -> tuple[int, int, int]:
    """The same as `counts`, of the things that are plain; the others are open: neither met nor missed."""
    strong = [one for one in found.proposals if one.score >= threshold]
    x, y = np.array([one.x_px for one in strong]), np.array([one.y_px for one in strong])
    _, wrong, _, which = matched(x, y, truth)
    met = int(plain[which[which >= 0]].sum())
    return met, wrong, int(plain.sum()) - met


def blobs(truth: Field, sigmas: tuple[float, float], threshold: float) -> tuple[int, int, int]:
    """What `skimage.feature.blob_log` finds, on the absorption at about 1.5 µm per pixel."""
    from skimage.feature import blob_log

    from fecallab.imaging.detect.absorption import absorbed_in, ground_of

    shrink = max(1.0, 1.5 / truth.um_per_px)
    rows, columns = (round(side / shrink) for side in truth.pixels.shape[:2])
    grey = absorbed_in(truth.pixels, ground_of(truth.pixels), rows, columns)
    grey = (grey - grey.min()) / max(float(np.ptp(grey)), 1e-6)
    seen = blob_log(grey, min_sigma=sigmas[0], max_sigma=sigmas[1], num_sigma=8, threshold=threshold)
    return matched((seen[:, 1] + 0.5) * shrink - 0.5, (seen[:, 0] + 0.5) * shrink - 0.5, truth)[:3]


def test_accuracy_by_style_and_crowding(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    threshold = drawn_ranker().threshold
    all_found: dict[tuple[str, float], list[tuple[Field, Detection]]] = {}

    def find_all() -> None:
        for style in STYLES:
            for crowding in CROWDING:
                fields = [field(style, crowding, k) for k in range(FIELDS)]
                all_found[style, crowding] = [
                    (f, propose(f.pixels, f.um_per_px, threshold=0.02)) for f in fields
                ]

    benchmark.pedantic(find_all, rounds=1, iterations=1)
    print(f"\nF1 at score {threshold:g}, {FIELDS} fields each; blob_log with its best threshold")
    errors: list[float] = []
    for style in STYLES:
        for crowding in CROWDING:
            found = all_found[style, crowding]
            f1 = f1_of(counts(d, f, threshold) for f, d in found)
            blob = max(f1_of(blobs(f, (2.0, 16.0), t) for f, _ in found[:3]) for t in (0.1, 0.2, 0.3))
            errors += axis_errors(found, threshold)
            benchmark.extra_info[f"{style} {crowding:g}"] = f1
            print(f"  {style:<11}{100 * crowding:3.0f} %  F1 {f1:.2f}   blob_log {blob:.2f}")
    contrast = {c: [contrasts(f, k) for k, (f, _) in enumerate(all_found["relief", c])] for c in CROWDING}
    usual = np.nanmedian(np.concatenate([row for rows in contrast.values() for row in rows]))
    for crowding in CROWDING:
        plain = [np.nan_to_num(row) >= usual / 2 for row in contrast[crowding]]
        pairs = zip(all_found["relief", crowding], plain, strict=True)
        f1 = f1_of(counts_of_plain(d, f, threshold, p) for (f, d), p in pairs)
        share = sum(p.sum() for p in plain) / sum(np.isfinite(row).sum() for row in contrast[crowding])
        print(
            f"  relief     {100 * crowding:3.0f} %  F1 {f1:.2f}   of those with at least half the usual contrast"
            f" ({100 * share:.0f} %)"
        )
    low, high = np.percentile(np.abs(errors), [50, 95])
    print(f"  axes: off by {100 * low:.1f} % (median), 95 in 100 within {100 * high:.1f} %")
    if os.environ.get("FECALLAB_DETECT_CURVES"):
        draw_curves(all_found, Path(os.environ["FECALLAB_DETECT_CURVES"]))
    assert len(errors) > 20


def large_field(style: str, crowding: float, k: int) -> Field:
    seed = 500_000 + seed_of(crowding, k)
    if style == "stamp":
        return stamped_field(seed, crowding, width=2048, height=1536, things=40)
    draw = {"sketch": sketch, "relief": relief}[style]
    pixels, truth = draw(seed, crowding, um_per_px=0.5, width_px=2048, height_px=1536, things=40)
    known = tuple(Known(o.counts, o.x_px, o.y_px, o.length_um, o.width_um, o.angle_deg) for o in truth)
    return Field(pixels, 0.5, known, style, crowding)


def test_accuracy_in_large_pictures(benchmark: Any) -> None:
    """Small fields are searched at half their own pixel, which time does not allow for a picture of 3 megapixels."""
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    threshold, found = drawn_ranker().threshold, {}

    def find_all() -> None:
        for style in ("sketch", "relief", "stamp"):
            for crowding in CROWDING:
                fields = [large_field(style, crowding, k) for k in range(max(1, FIELDS // 3))]
                found[style, crowding] = [(f, propose(f.pixels, 0.5)) for f in fields]

    benchmark.pedantic(find_all, rounds=1, iterations=1)
    print(f"\n3 megapixels at 0.5 µm/px with 40 organisms, {max(1, FIELDS // 3)} fields each")
    for (style, crowding), pairs in found.items():
        met, wrong, missed = np.sum([counts(d, f, threshold) for f, d in pairs], axis=0)
        f1 = f1_of([(met, wrong, missed)])
        print(
            f"  {style:<11}{100 * crowding:3.0f} %  F1 {f1:.2f}   {met} met, {wrong} wrong, {missed} missed"
        )
    assert len(found) == 12


def axis_errors(found: list[tuple[Field, Detection]], threshold: float) -> list[float]:
    errors = []
    for truth, detection in found:
        strong = [one for one in detection.proposals if one.score >= threshold and one.kind == "oval"]
        x, y = np.array([one.x_px for one in strong]), np.array([one.y_px for one in strong])
        for one, j in zip(strong, matched(x, y, truth)[3], strict=True):
            if j >= 0:
                known = truth.known[j]
                errors += [one.length_um / known.length_um - 1, one.width_um / known.width_um - 1]
    return errors


def draw_curves(all_found: dict[tuple[str, float], list[tuple[Field, Detection]]], path: Path) -> None:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(14, 4), layout="constrained")
    for axes, style in zip(figure.subplots(1, len(STYLES), sharey=True), STYLES, strict=True):
        for crowding in CROWDING:
            curve = []
            for threshold in np.linspace(0.03, 0.97, 40):
                met, wrong, missed = np.sum(
                    [counts(d, f, threshold) for f, d in all_found[style, crowding]], axis=0
                )
                if met + wrong:
                    curve.append((met / (met + missed), met / (met + wrong)))
            axes.plot(*zip(*curve, strict=True), label=f"{100 * crowding:.0f} % under debris")
        axes.set(title=style, xlabel="recall", xlim=(0, 1.02), ylim=(0, 1.02))
        axes.grid(alpha=0.3)
    axes.legend(loc="lower left")
    figure.axes[0].set_ylabel("precision")
    figure.savefig(path, dpi=110)


def test_speed_against_one_gaussian_pass(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    from scipy.ndimage import gaussian_filter

    print()
    for width, height, scale, bound in ((2048, 1536, 0.5, 25), (4000, 3000, 0.25, 8)):
        pixels = sketch(77, 0.35, um_per_px=scale, width_px=width, height_px=height, things=40)[0]
        grey = pixels.mean(axis=2, dtype=np.float32)
        passes, runs, cpu = [], [], []
        for _ in range(3):
            began = time.process_time()
            gaussian_filter(grey, 2.0)
            passes.append(time.process_time() - began)
            began, wall = time.process_time(), time.perf_counter()
            propose(pixels, scale)
            cpu.append(time.process_time() - began)
            runs.append(time.perf_counter() - wall)
        ratio, all_cores = min(runs) / min(passes), min(cpu) / min(passes)
        benchmark.extra_info[f"{width}x{height}"] = ratio
        print(
            f"  {width} × {height} at {scale} µm/px: {ratio:.1f} × one pass by the clock, {all_cores:.1f} × in"
            f" processor time (budget {bound} ×)"
        )
    benchmark.pedantic(lambda: propose(pixels, 0.25), rounds=1, iterations=1)
    print(
        f"  peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB, drawing included"
    )


def test_first_call_of_a_process(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    code = (
        "import time, numpy as np\n"
        "from fecallab.imaging.detect import propose\n"
        "p = np.random.default_rng(0).integers(90, 200, (600, 800), dtype=np.uint8)\n"
        "t = time.perf_counter(); propose(p, 0.5); a = time.perf_counter() - t\n"
        "t = time.perf_counter(); propose(p, 0.5); print(a - (time.perf_counter() - t))"
    )
    said = benchmark.pedantic(
        lambda: subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True),
        rounds=1,
        iterations=1,
    )
    print(f"\n  the first call takes {float(said.stdout):.2f} s more than the second")
    assert float(said.stdout) < 3


def test_real_pictures(benchmark: Any) -> None:
    named = os.environ.get("FECALLAB_OPEN_PICTURES")
    if benchmark.disabled or not named:
        pytest.skip("measured with --benchmark-enable and FECALLAB_OPEN_PICTURES=FOLDER")
    from fecallab.imaging.read import open_picture

    scales = {"schisto_eggs": 1.3, "living_dead_cells": 0.8, "paramecium": 4.0}  # guessed: none is published
    print()
    for folder, scale in scales.items():
        table = Path(named) / folder / "boxes.csv"
        if not table.is_file():
            continue
        boxes: dict[str, list[tuple[float, float, float]]] = {}
        for row in csv.DictReader(table.open()):
            x, y, w, h = (float(row[key]) for key in ("x_px", "y_px", "width_px", "height_px"))
            boxes.setdefault(row["image"], []).append((x + w / 2, y + h / 2, max(w, h)))
        met = wrong = missed = ranked = 0
        ranks = []
        for name, known in boxes.items():
            found = propose(open_picture(table.parent / "images" / name), scale, threshold=0.02).proposals
            near = [
                [np.hypot(one.x_px - x, one.y_px - y) < max(6, 0.35 * size) for x, y, size in known]
                for one in found
            ]
            rank = next((k + 1 for k, row_ in enumerate(near) if any(row_)), None)
            ranks.append(rank)
            ranked += rank is not None and rank <= 5
            strong = [
                row_ for one, row_ in zip(found, near, strict=True) if one.score >= drawn_ranker().threshold
            ]
            hit = int(np.any(strong, axis=0).sum()) if strong else 0
            met, missed, wrong = met + hit, missed + len(known) - hit, wrong + sum(not any(r) for r in strong)
        print(f"  {folder}: among the first five {ranked} of {len(boxes)}", ranks if len(ranks) < 12 else "")
        print(f"    at the threshold: {met} met, {wrong} wrong, {missed} missed")
    benchmark.pedantic(lambda: None, rounds=1, iterations=1)
