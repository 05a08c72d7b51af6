"""Drawn larvae: fit the score of long thin objects, and measure how many larvae are met.

::

    python tests/bench/long_thin_fields.py measure         # seeds from 820 000 on, kept apart
    python tests/bench/long_thin_fields.py fit             # seeds from 720 000 on; writes detect/data/long.json

A larva is met when the centre of a long object lies within the larger of 6 pixels and 0.35 of its length, each once.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2])]

from fecallab.imaging.detect import propose  # noqa: E402
from fecallab.imaging.detect.absorption import absorbed_in, ground_of, without_surround  # noqa: E402
from fecallab.imaging.detect.long_score import LongScore, write_long_score  # noqa: E402
from fecallab.imaging.detect.long_thin import find_long  # noqa: E402
from fecallab.imaging.detect.search import pitch_for, pyramid  # noqa: E402
from fecallab.imaging.draw import draw_field, random_spec  # noqa: E402
from fecallab.imaging.draw.lots import EGGS  # noqa: E402
from fecallab.imaging.draw.scene import Truth, Wanted  # noqa: E402

LARVAE = ("strongyloides_larva", "rhabdias_larva")
FIRST_FIT, FIRST_APART, FIT_FIELDS = 720_000, 820_000, 239
RIDGE = 5.0
Pixels = NDArray[np.uint8]
Floats = NDArray[np.float64]


def fit_field(k: int) -> tuple[Pixels, float, float, list[Truth]]:
    """Draw field `k` for the fit: more fibres and hairs than usual, two of three with a larva."""
    seed = FIRST_FIT + k
    rng = np.random.default_rng([seed, 77])
    scale = (1.0, 1.0, 0.65, 0.5)[(k // 2) % 4]
    crowding = (0.0, 0.15, 0.35, 0.15, 0.35, 0.0, 0.6)[k % 7]
    width, height, longest = {1.0: (540, 530, 480), 0.65: (700, 680, 400), 0.5: (680, 670, 300)}[scale]
    things = []
    larva = k % 3 != 2
    if larva:
        key = str(rng.choice(LARVAE)) if scale > 0.6 else LARVAE[0]
        low, high = (220, 380) if key == LARVAE[0] else (310, 480)
        things.append(Wanted(key=key, length_um=float(rng.uniform(low, min(high, longest)))))
    things += [Wanted(key=str(rng.choice(EGGS))) for _ in range(int(rng.integers(0, 3)))]
    spec = random_spec(
        seed, LARVAE, width_px=width, height_px=height, um_per_px=scale, crowding=crowding, things=0
    )
    litter = dict(spec.litter)
    for word, mean in (("fibre", 1.5), ("plant hair", 1.0), ("spiral vessel", 0.6), ("needle", 0.5)):
        litter[word] += int(rng.poisson(mean * (1 if larva else 3)))
    pixels, truth = draw_field(replace(spec, things=(*things, *spec.things), litter=litter), seed)
    return pixels, scale, crowding, [one for one in truth if one.name in LARVAE]


def examples(
    pixels: Pixels, um_per_px: float, larvae: list[Truth]
) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Features of all long objects of a field, 1 for right, 0 for wrong, -1 for near misses, and their places in µm."""
    height, width = pixels.shape[:2]
    ground, pitch = ground_of(pixels), pitch_for(height, width, um_per_px)
    rows, columns = (round(side * um_per_px / pitch) for side in (height, width))
    absorbed = without_surround(absorbed_in(pixels, ground, rows, columns), ground, scale=width / columns)
    found = find_long(pyramid(absorbed, pitch), pitch, every=True)
    told = np.zeros(len(found.x), np.intp)
    for one in larvae:
        away = (
            np.hypot(
                (found.x + 0.5) * pitch - (one.x_px + 0.5) * um_per_px,
                (found.y + 0.5) * pitch - (one.y_px + 0.5) * um_per_px,
            )
            / one.length_um
        )
        long = found.length * pitch / one.length_um
        turn = np.abs((found.angle - np.radians(one.angle_deg) + np.pi / 2) % np.pi - np.pi / 2)
        told[(away < 0.5) & (turn < 0.8)] = -1
        told[(away < 0.3) & (turn < 0.45) & (long > 0.55) & (long < 1.5)] = 1
    return found.features, told, np.column_stack([found.x, found.y, found.length]) * pitch


def fitted(features: Floats, right: NDArray[np.bool_], ridge: float = RIDGE) -> LongScore:
    """Fit the score by Newton's method; weights of features and of their squares are held by a spring."""
    mean, spread = features.mean(axis=0), features.std(axis=0) + 1e-9
    x = LongScore(mean, spread, np.zeros(0), 0.0).terms(features)
    x = np.column_stack([x, np.ones(len(x))])
    spring = np.full(x.shape[1], ridge)
    spring[-1] = 1e-6
    beta = np.zeros(x.shape[1])
    beta[-1] = np.log(right.mean() / (1 - right.mean()))
    for _ in range(60):
        p = 1 / (1 + np.exp(-np.clip(x @ beta, -30, 30)))
        slope = x.T @ (right - p) - spring * beta
        bend = (x * np.maximum(p * (1 - p), 1e-4)[:, None]).T @ x + np.diag(spring)
        step = np.linalg.solve(bend, slope)
        beta += step / max(1.0, float(np.abs(step).max()) / 0.5)
        if np.abs(step).max() < 1e-7:
            break
    return LongScore(mean, spread, beta[:-1], float(beta[-1]))


def fit() -> None:
    """Draw, find, fit and write the coefficients."""
    rows, told = [], []
    for k in range(FIT_FIELDS):
        pixels, scale, _, larvae = fit_field(k)
        found, right, _ = examples(pixels, scale, larvae)
        rows.append(found)
        told.append(right)
    features, right = np.concatenate(rows), np.concatenate(told)
    used = right >= 0
    write_long_score(fitted(features[used], right[used] == 1))
    print(f"{used.sum()} bodies of {FIT_FIELDS} fields, {(right == 1).sum()} of them right")


def measure() -> None:
    """Tell how many larvae are met, and how many long objects are wrong, on fields that nothing was tuned on."""
    for name, crowding in (("by lot", (None,)), ("0, 15 and 35 %", (0.0, 0.15, 0.35))):
        for larva in (True, False):
            met = wrong = 0
            for k in range(12):
                seed = FIRST_APART + k + (0 if larva else 500)
                spec = random_spec(
                    seed, LARVAE, width_px=760, height_px=580, um_per_px=1.0,
                    crowding=crowding[k % len(crowding)], things=int(larva),
                )  # fmt: skip
                pixels, truth = draw_field(spec, seed)
                larvae = [one for one in truth if one.name in LARVAE]
                for one in propose(pixels, 1.0).proposals:
                    if one.kind != "long":
                        continue
                    near = [
                        t
                        for t in larvae
                        if np.hypot(t.x_px - one.x_px, t.y_px - one.y_px) <= max(6.0, 0.35 * t.length_um)
                    ]
                    met, wrong = met + bool(near), wrong + (not near)
                    larvae = [t for t in larvae if t not in near[:1]]
            print(
                f"crowding {name}, {12 if larva else 'no'} larvae in 12 fields: {met} met, {wrong} wrong",
                flush=True,
            )


if __name__ == "__main__":
    {"fit": fit, "measure": measure}[sys.argv[1]]()
