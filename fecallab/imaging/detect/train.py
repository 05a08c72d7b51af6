"""Train the ranker on drawings: ``python -m fecallab.imaging.detect.train``.

Fields are drawn, half of them with more look-alikes than usual; their outlines are traced and told right or wrong by
the truth. A thinned table of them is kept beside the coefficients, so that anybody can fit again without drawing, and
the pairs of features that were chosen on it. The threshold is the one that is best over tuning fields of their own.
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
from fecallab.imaging.detect.ranker import (
    ABSOLUTE,
    CLIP,
    PAIRS,
    Ranker,
    chosen_pairs,
    default_terms,
    fit_ranker,
    single_terms,
)
from fecallab.imaging.detect.suppression import suppress
from fecallab.imaging.detect.trace import Floats

EDITION = "2026-11b drawings"
FIELDS, TUNING_FIELDS = 400, 64
"""Fields for training and for tuning, half of each style."""
SKETCH_SEED, MICROGRAPH_SEED, TUNING_SEED = 40_000, 60_000, 300_000
MORE_LOOK_ALIKES = (0, 4)
MOST_WRONG = 12_000
STYLES = ("sketch", "micrograph")
RIDGE = 5.0
_ROUNDS, _PER_ROUND, _MOST_USES = 2, 20, 3
_SHARE_OF_SUM, _SPRING = 0.25, 3.0
TABLE, COEFFICIENTS = "examples.csv.gz", "ranker.json"


def data_folder() -> Path:
    """Return where the table and the coefficients lie."""
    return Path(str(resources.files("fecallab.imaging.detect"))) / "data"


def tuning_field(k: int) -> Field:
    """Draw tuning field `k`; styles and crowding come in turn."""
    crowding = CROWDING[(k // 2) % 4]
    return training_field(TUNING_SEED + 1000 * int(100 * crowding) + k // 8, STYLES[k % 2], crowding)


def examples_at(k: int) -> Examples:
    """Return the examples of training field `k`: a sketch, then a micrograph, and so on."""
    half = k // 2
    seed = (SKETCH_SEED, MICROGRAPH_SEED)[k % 2] + half
    more = MORE_LOOK_ALIKES[(half // 4) % 2]
    return examples_of([training_field(seed, STYLES[k % 2], CROWDING[half % 4], more_look_alikes=more)])


def thinned(
    parts: Sequence[Examples], most_wrong: int = MOST_WRONG
) -> tuple[Floats, NDArray[np.bool_], Floats, NDArray[np.intp]]:
    """Keep every right outline and some of the wrong ones, the likeliest first half, with weights that make up.

    Returns
    -------
    features, positive, weight, part
        `part` is the number of the part that each row comes from.
    """
    features = np.round(np.concatenate([part.features for part in parts]), 2)
    positive = np.concatenate([part.positive for part in parts])
    part = np.repeat(np.arange(len(parts)), [len(one.positive) for one in parts])
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
    return features[keep], positive[keep], weight[keep], part[keep]


def write_pairs(path: Path, pairs: Sequence[tuple[str, str]]) -> None:
    """Write the pairs, one to a line."""
    path.write_text("".join(f"{one},{other}\n" for one, other in pairs), encoding="ascii")


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


def choose_pairs(
    features: Floats,
    positive: NDArray[np.bool_],
    weight: Floats,
    style: NDArray[np.intp],
    names: Sequence[str] = NAMES,
    rounds: int = _ROUNDS,
) -> tuple[tuple[str, str], ...]:
    """Choose pairs of features whose products explain what a ranker without them leaves over.

    In each round the ranker is fitted with the pairs so far, and those are added whose product goes with the rest
    most strongly, in every style of drawing alike: what holds in one style alone does not carry over.

    Parameters
    ----------
    features : ndarray, shape (rows, features)
    positive : ndarray of bool, shape (rows,)
    weight : ndarray, shape (rows,)
    style : ndarray of int, shape (rows,)
        Number of the style that each row was drawn in.
    names : sequence of str, optional
    rounds : int, optional
    """
    single = single_terms(tuple(names))
    pairs: list[tuple[str, str]] = []
    first, second = np.triu_indices(len(names), 1)
    allowed = np.array([name not in ABSOLUTE for name in names])
    for _ in range(rounds):
        ranker = fit_ranker(
            features, positive, (*single, *pairs), edition="", weight=weight, ridge=5.0, names=tuple(names)
        )
        z = np.clip((features - ranker.mean) / ranker.spread, -CLIP, CLIP)
        p = ranker.score(features)
        rest, doubt = weight * (positive - p), weight * p * (1 - p)
        found = []
        for number in np.unique(style):
            own = style == number
            slope = (z[own] * rest[own, None]).T @ z[own]
            bend = (z[own] ** 2 * doubt[own, None]).T @ (z[own] ** 2)
            found.append((slope / np.sqrt(bend + _SPRING))[first, second])
        gain = np.stack(found)
        alike = np.abs(np.sign(gain).sum(axis=0)) == len(gain)
        value = np.where(alike, np.abs(gain).min(axis=0), 0) + _SHARE_OF_SUM * np.abs(gain.sum(axis=0))
        value[~(allowed[first] & allowed[second])] = -1
        uses, added = np.zeros(len(names), int), 0
        for k in np.argsort(-value, kind="stable"):
            i, j = int(first[k]), int(second[k])
            pair = (names[i], names[j])
            if pair in pairs or max(uses[i], uses[j]) >= _MOST_USES:
                continue
            uses[[i, j]] += 1
            pairs.append(pair)
            added += 1
            if added == _PER_ROUND:
                break
    return tuple(pairs)


def fit_table(path: Path) -> Ranker:
    """Fit the ranker to the examples of a table."""
    features, positive, weight = read_table(path)
    return fit_ranker(features, positive, default_terms(), edition=EDITION, weight=weight, ridge=RIDGE)


def best_threshold(ranker: Ranker, fields: Sequence[Field]) -> tuple[float, float]:
    """Return the threshold with the best F1 over fields (their mean over crowding), and that F1."""
    listed = []
    for field in fields:
        ellipses, found, outlines = candidates(field.pixels, field.um_per_px, ground_of(field.pixels))
        score = ranker.score(found.features)
        large = outlines.length * field.um_per_px >= LEAST_LENGTH_UM
        strong = np.flatnonzero((score > 0.02) & large)
        keep = strong[suppress(ellipses.of(strong), score[strong])]
        listed.append((score[keep], ellipses.x[keep], ellipses.y[keep]))
    best = (0.5, 0.0)
    for threshold in np.arange(0.1, 0.95, 0.02):
        by_crowding: dict[float, list[tuple[int, int, int]]] = {}
        for (score, x, y), field in zip(listed, fields, strict=True):
            on = score >= threshold
            by_crowding.setdefault(field.crowding, []).append(matched(x[on], y[on], field)[:3])
        value = float(np.mean([f1_of(counts) for counts in by_crowding.values()]))
        if value > best[1]:
            best = (float(round(threshold, 4)), value)
    return best


def train(workers: int, say: Callable[[str], None] = print) -> None:
    """Draw, trace, fit and write the table and the coefficients."""
    from concurrent.futures import ProcessPoolExecutor
    from dataclasses import replace

    with ProcessPoolExecutor(workers) as pool:
        parts = list(pool.map(examples_at, range(FIELDS), chunksize=4))
        tuning = list(pool.map(tuning_field, range(TUNING_FIELDS), chunksize=4))
    folder = data_folder()
    features, positive, weight, part = thinned(parts)
    write_table(folder / TABLE, features, positive, weight)
    write_pairs(folder / PAIRS, choose_pairs(features, positive, weight, part % len(STYLES)))
    chosen_pairs.cache_clear()
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
