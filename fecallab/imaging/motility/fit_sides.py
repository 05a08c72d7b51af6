"""Fit what tells two bodies from one: ``python -m fecallab.imaging.motility.fit_sides``.

Clips are drawn by lot; in their tracks, the drawing names the body on each side of every meeting and of every place at
which a track may have gone on with something else. The table of these is kept beside the coefficients, so that anybody
can fit again without drawing. Weights are 0 or more: two sides that differ more are no likelier of one body.
"""

from __future__ import annotations

import gzip
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import expit

from fecallab.imaging.motility.clips import open_clip
from fecallab.imaging.motility.drawn import ClipSpec, DrawnClip, clip_by_lot, draw_clip
from fecallab.imaging.motility.exchange import meetings, untangled
from fecallab.imaging.motility.film import write_video
from fecallab.imaging.motility.hops import LEAST, sides_at, suspects
from fecallab.imaging.motility.link import Track, link
from fecallab.imaging.motility.pipeline import Taken, take_in
from fecallab.imaging.motility.sides import NAMES, TwoBodies, data_folder, side_of, unlikeness

EDITION = "2026-11f drawings"
SEEDS = (*range(40), *range(30_000, 30_069), *range(31_000, 31_060))
"""Clips for tuning; those whose number is odd go through H.264."""
LOOKS = ("dark", "ring", "bright", "grainy")
TABLE, COEFFICIENTS = "sides.csv.gz", "sides.json"
WHERE = ("hops", "meetings")
_RIDGE = 1.0
_TOLD_BY, _MOSTLY, _APART = 10, 0.7, 8  # rows that name a body, share of them, rows between two places
_FLAW_UM, _GRAIN_UM, _LUMP_UM = 4.0, 3.0, 5.0
Values = NDArray[np.float64]
Names = NDArray[np.str_]


@dataclass(frozen=True)
class Pairs:
    """Pairs of sides: where, what they differ in, and whether they are of two bodies."""

    where: list[str]
    differ: list[Values]
    two: list[bool]

    def add(self, where: str, differ: Values, two: bool) -> None:
        """Add one pair, as finely as the table keeps it."""
        self.where.append(where)
        self.differ.append(np.round(differ, 2))
        self.two.append(two)


def bodies_named(track: Track, drawn: DrawnClip, start: int, camera_px: Values, shrink: int) -> Names:
    """Return for each row which drawn body it lies on: ``s3`` a swimmer, ``g3`` a grain, ``t3`` a stuck thing; or ``-``.

    Parameters
    ----------
    track : Track
        Of one scene.
    drawn : DrawnClip
    start : int
        Frame of the clip at which the scene begins.
    camera_px : ndarray, shape (frames, 2)
        Of the scene.
    shrink : int
        Picture pixels in a working pixel.
    """
    um, frames = drawn.spec.um_per_px, np.array(track.frames)
    xy_px = np.array(track.rows)[:, :2] / um + camera_px[frames] + (shrink - 1) / 2
    names, nearest = np.full(len(frames), "-", dtype="<U8"), np.ones(len(frames))
    for letter, group, room in (
        ("s", drawn.swimmers, np.maximum(0.6 * drawn.lengths_um, _FLAW_UM)[:, None]),
        ("g", drawn.trembling, _GRAIN_UM),
        ("t", drawn.stuck, _LUMP_UM),
    ):
        if len(group):
            far = np.hypot(*(group[:, start + frames] - xy_px[None]).transpose(2, 0, 1)) * um / room
            who, near = far.argmin(axis=0), far.min(axis=0)
            closer = near < nearest
            names[closer] = [f"{letter}{k}" for k in who[closer]]
            nearest = np.minimum(near, nearest)
    return names


def pairs_of(drawn: DrawnClip, taken: Taken) -> Pairs:
    """Return all pairs of sides of a drawn clip that the drawing can name."""
    pairs = Pairs([], [], [])
    start = 0
    for scene in taken.scenes:
        times, camera = np.array(scene.times_s), np.array(scene.camera_px).reshape(-1, 2)

        def named(track: Track, start: int = start, camera: Values = camera) -> Names:
            return bodies_named(track, drawn, start, camera, taken.shrink)

        tracks = link(scene.tables, times)
        _from_meetings(pairs, [one for one in tracks if len(one.frames) >= LEAST], times, named)
        for one in untangled(tracks, times):
            if len(one.frames) >= 2 * LEAST:
                _from_hops(pairs, one, times, named(one))
        start += len(times)
    return pairs


def _from_meetings(pairs: Pairs, tracks: list[Track], times: Values, named: Callable[[Track], Names]) -> None:
    frames, rows = [np.array(one.frames) for one in tracks], [np.array(one.rows) for one in tracks]
    names = [named(one) for one in tracks]
    for first, last, *both in meetings(frames, rows, times):
        ends = [int(np.searchsorted(frames[k], first)) for k in both]
        starts = [int(np.searchsorted(frames[k], last + 1)) for k in both]
        for one, end in zip(both, ends, strict=True):
            before = side_of((frames[one][:end], rows[one][:end]), times, -1)
            body = _mostly(names[one][:end][-_TOLD_BY:])
            for other, begin in zip(both, starts, strict=True):
                after = side_of((frames[other][begin:], rows[other][begin:]), times, 1)
                then = _mostly(names[other][begin:][:_TOLD_BY])
                # nothing that is drawn there may be one flaw or two
                if before and after and body and then and (body, then) != ("-", "-"):
                    pairs.add("meetings", unlikeness(before, after), body != then)


def _from_hops(pairs: Pairs, track: Track, times: Values, names: Names) -> None:
    at, rows = np.array(track.frames), np.array(track.rows)
    told = []
    for k in suspects(at, rows):
        sides = sides_at(at, rows, int(k), times)
        if sides is not None:
            told.append((unlikeness(*sides), int(k)))
    chosen: list[int] = []
    for differ, k in sorted(
        told, key=lambda one: -float(one[0].sum())
    ):  # of places close by the one that differs most
        if any(abs(k - other) < _APART for other in chosen):
            continue
        chosen.append(k)
        before, after = _mostly(names[:k][-_TOLD_BY:]), _mostly(names[k:][:_TOLD_BY])
        if before and after:
            pairs.add("hops", differ, before != after)


def _mostly(names: Names) -> str:
    """Return the name that most rows have; nothing where they do not agree."""
    found, counts = np.unique(names, return_counts=True)
    return str(found[counts.argmax()]) if len(names) and counts.max() >= _MOSTLY * len(names) else ""


def fit(differ: Values, two: NDArray[np.bool_]) -> TwoBodies:
    """Fit a logistic with weights of 0 or more and a slight pull to 0, each weight to two decimals.

    Parameters
    ----------
    differ : ndarray, shape (n, 5)
        From :func:`fecallab.imaging.motility.sides.unlikeness`.
    two : ndarray of bool, shape (n,)
    """
    sign = np.where(two, 1.0, -1.0)

    def loss(weights: Values) -> tuple[float, Values]:
        margin = sign * (differ @ weights[:-1] - weights[-1])
        slope = -sign * expit(-margin)
        down = np.append(slope @ differ + _RIDGE * weights[:-1], -slope.sum())
        return float(np.logaddexp(0, -margin).sum() + 0.5 * _RIDGE * (weights[:-1] ** 2).sum()), down

    bounds = [(0.0, None)] * len(NAMES) + [(None, None)]
    begun = np.append(np.ones(len(NAMES)), 4.0)
    found = minimize(
        loss, begun, jac=True, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-14, "gtol": 1e-8}
    )
    return TwoBodies(np.round(found.x[:-1], 2) + 0.0, round(float(found.x[-1]), 2))


def fit_table(path: Path) -> dict[str, TwoBodies]:
    """Fit the coefficients for each of `WHERE` to the pairs of a table."""
    pairs = read_table(path)
    where, differ, two = np.array(pairs.where), np.array(pairs.differ), np.array(pairs.two)
    return {one: fit(differ[where == one], two[where == one]) for one in WHERE}


def write_table(path: Path, pairs: Pairs) -> None:
    """Write the pairs; the same pairs give the same bytes."""
    text = io.StringIO()
    text.write(",".join(("where", *NAMES, "two")) + "\n")
    for where, differ, two in zip(pairs.where, pairs.differ, pairs.two, strict=True):
        text.write(",".join((where, *(f"{value:.2f}" for value in differ), str(int(two)))) + "\n")
    path.write_bytes(gzip.compress(text.getvalue().encode("ascii"), mtime=0))


def read_table(path: Path) -> Pairs:
    """Read the pairs."""
    with gzip.open(path, "rt", encoding="ascii") as file:
        if tuple(file.readline().strip().split(",")) != ("where", *NAMES, "two"):
            raise ValueError(f"{path.name} belongs to other features")
        rows = [line.strip().split(",") for line in file]
    return Pairs(
        [row[0] for row in rows],
        [np.array(row[1:-1], float) for row in rows],
        [row[-1] == "1" for row in rows],
    )


def coefficients_text(fitted: dict[str, TwoBodies], pairs: Pairs) -> str:
    """Return the coefficients as JSON, one place to a line."""
    told: dict[str, object] = {
        "edition": EDITION,
        "fitted": f"logistic, weights of 0 or more, to {len(SEEDS)} drawn clips for tuning (fit_sides.py)",
        "features": NAMES,
    }
    for where, one in fitted.items():
        two = [two for at, two in zip(pairs.where, pairs.two, strict=True) if at == where]
        told[where] = {
            "pairs": len(two),
            "of_two_bodies": sum(two),
            "weights": one.weights.tolist(),
            "two_from": one.two_from,
        }
    lines = ",\n".join(f" {json.dumps(key)}: {json.dumps(value)}" for key, value in told.items())
    return "{\n" + lines + "\n}\n"


def drawn_and_taken(spec: ClipSpec, seed: int, folder: Path) -> tuple[DrawnClip, Taken]:
    """Draw a clip and take it in; those whose seed is odd go through H.264, by way of a file in the folder."""
    drawn = draw_clip(spec, seed)
    if seed % 2 == 0:
        return drawn, take_in(open_clip(drawn.frames, spec.fps), spec.um_per_px)
    film, shown = folder / "clip.mp4", zip(drawn.times_s, drawn.frames, strict=True)
    write_video(film, shown, spec.fps, crf=26, repeatable=True)
    return drawn, take_in(open_clip(film), spec.um_per_px)


def clips(folder: Path) -> Iterator[tuple[DrawnClip, Taken]]:
    """Draw the clips of `SEEDS` and take them in."""
    for seed in SEEDS:
        yield drawn_and_taken(clip_by_lot(seed, LOOKS[seed % len(LOOKS)]), seed, folder)


def main(say: Callable[[str], None] = print) -> None:
    """Draw, gather, fit and write table and coefficients."""
    from tempfile import TemporaryDirectory

    whole = Pairs([], [], [])
    with TemporaryDirectory() as folder:
        for drawn, taken in clips(Path(folder)):
            one = pairs_of(drawn, taken)
            whole.where.extend(one.where)
            whole.differ.extend(one.differ)
            whole.two.extend(one.two)
            say(f"{len(whole.two)} pairs, {sum(whole.two)} of two bodies")
    write_table(data_folder() / TABLE, whole)
    fitted = fit_table(data_folder() / TABLE)
    (data_folder() / COEFFICIENTS).write_text(coefficients_text(fitted, whole), encoding="utf-8")
    say(coefficients_text(fitted, whole))


if __name__ == "__main__":
    main()
