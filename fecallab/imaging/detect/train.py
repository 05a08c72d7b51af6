"""Train on drawings: ``python -m fecallab.imaging.detect.train``.

Fields are drawn; their outlines are told right or wrong by the truth. First the networks are fitted
(:mod:`.train_networks`), then, on fields which none of them has seen, the ranker that reads them. A thinned table of
these is kept beside the coefficients, so that anybody can fit again without drawing. The threshold is the lowest
that is as good as the best over tuning fields of their own.
"""

from __future__ import annotations

import gzip
import io
import json
from collections.abc import Callable, Sequence
from importlib import resources
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import ground_of
from fecallab.imaging.detect.examples import CROWDING, Examples, Field, examples_of, training_field
from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.matching import f1_of, matched
from fecallab.imaging.detect.propose import LEAST_LENGTH_UM, candidates
from fecallab.imaging.detect.ranker import Ranker, default_terms, fit_ranker
from fecallab.imaging.detect.suppression import suppress
from fecallab.imaging.detect.trace import Floats
from fecallab.imaging.detect.train_networks import SEEDS, STYLES, fit_networks

EDITION = "2026-11i drawings"
FIELDS, TUNING_FIELDS, LARGE_FIELDS, LARGE_TUNING_FIELDS = 384, 192, 36, 24
"""Fields for the ranker and for tuning, as many of each style; and large ones for both."""
LARGE_PX, LARGE_THINGS = (2048, 1536), (8, 41)
MORE_LOOK_ALIKES, SOME_FLAKES, SOME_BUBBLES = (0, 4), (0, 3), (0, 3, 0, 0)
MOST_WRONG = 12_000
TUNING_SEED, LARGE_SEED = 300_000, 400_000
RIDGE = 20.0
AS_GOOD = 0.001
"""Thresholds whose F1 differs by no more are alike: the lowest of them hides least (own choice)."""
TABLE, COEFFICIENTS = "examples.csv.gz", "ranker.json"


def data_folder() -> Path:
    """Return where the table and the coefficients lie."""
    return Path(str(resources.files("fecallab.imaging.detect"))) / "data"


def tuning_field(k: int) -> Field:
    """Draw tuning field `k`; styles and crowding come in turn."""
    number, style = divmod(k, len(STYLES))
    crowding = CROWDING[number % 4]
    return training_field(TUNING_SEED + 1000 * int(100 * crowding) + number // 4, STYLES[style], crowding)


def field_at(k: int) -> Field:
    """Draw training field `k`: a sketch, then a micrograph, then a relief, and so on."""
    number, style = divmod(k, len(STYLES))
    more = MORE_LOOK_ALIKES[(number // 4) % 2]
    flakes = SOME_FLAKES[(number // 8) % 2]
    bubbles = SOME_BUBBLES[(number // 16) % 4]
    return training_field(
        SEEDS[style] + number,
        STYLES[style],
        CROWDING[number % 4],
        more_look_alikes=more,
        flakes=flakes,
        bubbles=bubbles,
    )


def large_field(k: int) -> Field:
    """Draw large field `k`: in a large picture an outline has more others to stand out from."""
    number, style = divmod(k, len(STYLES))
    things = int(np.random.default_rng([k, 78]).integers(*LARGE_THINGS))
    return training_field(
        LARGE_SEED + k, STYLES[style], CROWDING[number % 4], things=things, size_px=LARGE_PX
    )


def examples_at(k: int) -> Examples:
    """Return the examples of training field `k`; the last ones are large."""
    return examples_of([field_at(k) if k < FIELDS else large_field(k - FIELDS)])


def tuning_field_at(k: int) -> Field:
    """Draw tuning field `k`; the last ones are large."""
    return tuning_field(k) if k < TUNING_FIELDS else large_field(LARGE_FIELDS + k - TUNING_FIELDS)


def thinned(
    parts: Sequence[Examples], most_wrong: int = MOST_WRONG
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Keep every right outline and some of the wrong ones, the likeliest first half, with weights that make up.

    Returns
    -------
    features, positive, weight
    """
    features = np.round(np.concatenate([part.features for part in parts]), 2)
    positive = np.concatenate([part.positive for part in parts])
    rng = np.random.default_rng(0)
    wrong = np.flatnonzero(~positive)
    first = rng.permutation(wrong)[:most_wrong]
    rough = fit_ranker(
        np.concatenate([features[positive], features[first]]),
        np.arange(int(positive.sum()) + len(first)) < int(positive.sum()),
        tuple((name,) for name in NAMES),
        edition="",
    )
    order = wrong[np.argsort(-rough.logit(features[wrong]), kind="stable")]
    hard, easy = order[: most_wrong // 2], order[most_wrong // 2 :]
    chosen = np.sort(rng.permutation(easy)[: most_wrong - len(hard)])
    keep = np.sort(np.concatenate([np.flatnonzero(positive), hard, chosen]))
    weight = np.ones(len(features))
    weight[chosen] = round(len(easy) / max(len(chosen), 1), 2)
    return features[keep], positive[keep], weight[keep]


def write_table(path: Path, features: Floats, positive: NDArray[np.bool_], weight: Floats) -> None:
    """Write the thinned examples; the same rows give the same bytes."""
    text = io.StringIO()
    text.write(",".join((*NAMES, "right", "weight")) + "\n")
    for row, right, w in zip(features, positive, weight, strict=True):
        text.write(
            ",".join([*(f"{value:.2f}".rstrip("0").rstrip(".") for value in row), str(int(right)), f"{w:g}"])
            + "\n"
        )
    path.write_bytes(gzip.compress(text.getvalue().encode("ascii"), mtime=0))


def read_table(path: Path) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Read the thinned examples: features, positive, weight."""
    with gzip.open(path, "rt", encoding="ascii") as file:
        names = tuple(file.readline().strip().split(","))
        if names != (*NAMES, "right", "weight"):
            raise ValueError(f"{path.name} belongs to other features")
        values = np.loadtxt(file, delimiter=",")
    return values[:, :-2], values[:, -2] > 0.5, values[:, -1]


def fit_table(path: Path) -> Ranker:
    """Fit the ranker to the examples of a table."""
    features, positive, weight = read_table(path)
    return fit_ranker(features, positive, default_terms(), edition=EDITION, weight=weight, ridge=RIDGE)


def best_threshold(ranker: Ranker, fields: Sequence[Field]) -> tuple[float, float]:
    """Return the lowest threshold that is as good as the best over fields, and its F1 (the mean over crowding)."""
    listed = []
    for field in fields:
        found, outlines = candidates(field.pixels, field.um_per_px, ground_of(field.pixels))
        score = ranker.score(found.features)
        large = outlines.length * field.um_per_px >= LEAST_LENGTH_UM
        strong = np.flatnonzero((score > 0.02) & large)
        keep = strong[suppress(found.expected.of(strong), score[strong])]
        listed.append((score[keep], found.expected.x[keep], found.expected.y[keep]))
    value: dict[float, float] = {}
    for threshold in np.arange(0.1, 0.96, 0.05):
        by_crowding: dict[float, list[tuple[int, int, int]]] = {}
        for (score, x, y), field in zip(listed, fields, strict=True):
            on = score >= threshold
            by_crowding.setdefault(field.crowding, []).append(matched(x[on], y[on], field)[:3])
        value[round(float(threshold), 4)] = float(np.mean([f1_of(counts) for counts in by_crowding.values()]))
    best = lowest_as_good(value)
    return best, value[best]


def lowest_as_good(f1: dict[float, float]) -> float:
    """Return the lowest threshold whose F1 is the best or within `AS_GOOD` of it.

    Examples
    --------
    >>> lowest_as_good({0.4: 0.9380, 0.6: 0.9416, 0.7: 0.9423, 0.8: 0.9371})
    0.6
    """
    return min(at for at, value in f1.items() if value >= max(f1.values()) - AS_GOOD)


def train(workers: int, say: Callable[[str], None] = print) -> None:
    """Draw, trace, fit and write the networks, the table and the coefficients."""
    from concurrent.futures import ProcessPoolExecutor
    from dataclasses import replace

    folder = data_folder()
    # a new process for each part of the work: it reads the networks as they are then
    with ProcessPoolExecutor(workers, max_tasks_per_child=1) as pool:
        fit_networks(pool, folder, FIELDS, EDITION, say)
    with ProcessPoolExecutor(workers) as pool:
        parts = list(pool.map(examples_at, range(FIELDS + LARGE_FIELDS), chunksize=4))
        tuning = list(pool.map(tuning_field_at, range(TUNING_FIELDS + LARGE_TUNING_FIELDS), chunksize=4))
    features, positive, weight = thinned(parts)
    write_table(folder / TABLE, features, positive, weight)
    ranker = fit_table(folder / TABLE)
    threshold, value = best_threshold(ranker, tuning)
    write_ranker(folder / COEFFICIENTS, replace(ranker, threshold=threshold))
    say(
        f"{sum(len(part.positive) for part in parts)} outlines; threshold {threshold:.2f}, F1 {value:.3f} on tuning fields"
    )


def ranker_text(ranker: Ranker) -> str:
    """Return the coefficients as JSON, one term to a line."""
    told = ranker.as_dict()
    for key in ("features", "terms"):
        told[key] = [f"@{json.dumps(one)}@" for one in told[key]]
    return json.dumps(told, indent=1).replace('"@', "").replace('@"', "").replace('\\"', '"') + "\n"


def write_ranker(path: Path, ranker: Ranker) -> None:
    """Write the coefficients."""
    path.write_text(ranker_text(ranker), encoding="utf-8")


if __name__ == "__main__":
    import os

    train(os.cpu_count() or 1)
