"""Grow what tells a swimmer: ``python -m fecallab.imaging.motility.fit_chances``.

Clips are drawn by lot: with and without swimmers, long and slow ones, a shaking picture, with hardly anything that drifts
beside the swimmers, and with floating things as large as the swimmers. Every path of each clip is a row; the drawing
says whether it lies on a swimmer for most of its time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path as FilePath

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.grow import grown
from fecallab.imaging.motility.chances import FILE
from fecallab.imaging.motility.drawn import DrawnClip, clip_by_lot
from fecallab.imaging.motility.evidence import NAMES
from fecallab.imaging.motility.fit_sides import LOOKS, drawn_and_taken
from fecallab.imaging.motility.judge import parted
from fecallab.imaging.motility.paths import Path
from fecallab.imaging.motility.pipeline import Taken
from fecallab.imaging.motility.sides import data_folder
from fecallab.imaging.trees import Trees, as_told

EDITION = "2026-11g drawings"
LONG_LOOKS = ("long", "worm")
_LONG: dict[str, object] = {"length_um": (40.0, 120.0), "swimmers": 5, "aspect": (4, 9)}
_SLOW: dict[str, object] = {"speed_um_s": (5.0, 15.0), "swimmers": 10}
_NEAR, _LEAST_NEAR_UM, _MOSTLY = 0.6, 4.0, 0.5  # of its length; as the bench matches
_PARTS = 4
Values = NDArray[np.float64]


@dataclass(frozen=True)
class Lot:
    """One clip to draw.

    Attributes
    ----------
    seed : int
        Clips whose seed is odd go through H.264.
    style : str
    fixed : dict
        What is not left to the lot.
    """

    seed: int
    style: str
    fixed: dict[str, object]


def lots() -> Iterator[Lot]:
    """Return the clips for tuning."""
    for k in range(240):
        yield _lot(33_000 + k, {})
        if k % 3 != 2:
            yield _lot(33_500 + k, {"swimmers": 0})
    yield from _varied()
    yield from _hardly_guided()


def _lot(seed: int, fixed: dict[str, object], styles: tuple[str, ...] = LOOKS) -> Lot:
    return Lot(seed, styles[seed % 4 * len(styles) // 4], fixed)


def _varied() -> Iterator[Lot]:
    """Return clips in which floating things may be large, some of them long, slow or shaken."""
    rng = np.random.default_rng(5)
    sizes_um = ((1.0, 4.0), (1.0, 4.0), (1.0, 12.0), (3.0, 25.0), (2.0, 8.0))
    for k in range(300):
        floats: dict[str, object] = {"particle_um": sizes_um[int(rng.integers(5))]}
        small = {"length_um": (4.0, 8.0)} if rng.random() < 0.2 else {}
        yield _lot(36_000 + k, {**floats, **small})
        if k % 2:
            yield _lot(36_500 + k, {**floats, **small, "swimmers": 0})
        if k % 6 == 0:
            yield _lot(37_000 + k, {**_LONG, **floats}, LONG_LOOKS)
        if k % 6 == 3:
            yield _lot(37_500 + k, {**_SLOW, **floats})
        if k % 12 == 5:
            # a jet was drawn here: grown to such too, trees doubted fast lone swimmers everywhere, and a jet flags the
            # whole clip by itself (flow.py); these two draws keep the clips after it as they were
            rng.uniform(), rng.choice([0, 0, 6])
        if k % 12 == 11:
            shake = float(rng.uniform(0.4, 2.0))
            yield _lot(38_500 + k, {**floats, "shake_px": shake, "swimmers": int(rng.choice([0, 0, 6]))})


def _hardly_guided() -> Iterator[Lot]:
    """Return clips with few floating things and few swimmers."""
    rng = np.random.default_rng(6)
    sizes_um = ((1.0, 4.0), (2.0, 8.0), (2.0, 12.0), (3.0, 25.0))
    for k in range(160):
        fixed: dict[str, object] = {
            "particle_um": sizes_um[int(rng.integers(4))],
            "trembling": int(rng.choice([1, 1, 2, 3, 5])),
            "swimmers": int(rng.choice([0, 0, 1, 3])),
            "stuck": int(rng.choice([2, 10, 30])),
        }
        if k % 2 == 0:
            angle, fast = rng.uniform(0, 6.283), rng.uniform(3, 30)
            fixed["stream_um_s"] = (float(fast * np.cos(angle)), float(fast * np.sin(angle)))
        yield _lot(39_000 + k, fixed)


def rows_of(drawn: DrawnClip, taken: Taken) -> tuple[Values, NDArray[np.bool_]]:
    """Return the evidence of every path of a clip, and which of them are those of swimmers by the drawing."""
    spec = drawn.spec
    middle_um = np.array([spec.width_px, spec.height_px]) * spec.um_per_px / 2
    told, swims, start = [], [], 0
    for scene in taken.scenes:
        paths = parted(scene, middle_um)
        camera = np.array(scene.camera_px).reshape(-1, 2)
        told.append(paths.evidence())
        swims += [_is_a_swimmer(one, drawn, start, camera, taken.shrink) for one in paths.asked]
        start += len(scene.times_s)
    return np.concatenate(told), np.array(swims, bool)


def _is_a_swimmer(path: Path, drawn: DrawnClip, start: int, camera_px: Values, shrink: int) -> bool:
    if not len(drawn.swimmers):
        return False
    um = drawn.spec.um_per_px
    xy_px = path.xy_um / um + camera_px[path.frames] + (shrink - 1) / 2
    far_um = np.hypot(*(drawn.swimmers[:, path.frames + start] - xy_px[None]).transpose(2, 0, 1)) * um
    room = np.maximum(_NEAR * drawn.lengths_um, _LEAST_NEAR_UM)[:, None]
    return bool((far_um < room).any(axis=0).mean() >= _MOSTLY)


def held_out(evidence: Values, swims: NDArray[np.bool_], clip: NDArray[np.intp]) -> Values:
    """Return the chance of each row by trees that were grown without its clip."""
    part = np.random.default_rng(0).integers(0, _PARTS, int(clip.max()) + 1)[clip]
    chance = np.zeros(len(swims))
    for one in range(_PARTS):
        trees = grown(evidence[part != one], swims[part != one])
        chance[part == one] = trees.chance(evidence[part == one])
    return chance


def written(evidence: Values, swims: NDArray[np.bool_], clip: NDArray[np.intp]) -> tuple[Trees, str]:
    """Grow the trees to all rows; return them, and them as text with what they were grown to."""
    chance = np.clip(held_out(evidence, swims, clip), 1e-4, 1 - 1e-4)
    loss = -float(np.mean(np.where(swims, np.log(chance), np.log(1 - chance))))
    trees = grown(evidence, swims)
    about: dict[str, object] = {
        "edition": EDITION,
        "grown": f"to {int(clip.max()) + 1} drawn clips for tuning (fit_chances.py)",
        "paths": len(swims),
        "of_swimmers": int(swims.sum()),
        "cross_entropy_held_out": round(loss, 4),
    }
    return trees, as_told(trees, NAMES, about)


def main(say: Callable[[str], None] = print) -> None:
    """Draw, gather, grow and write the trees."""
    from tempfile import TemporaryDirectory

    told, swims, clip = [], [], []
    with TemporaryDirectory() as folder:
        for number, lot in enumerate(lots()):
            spec = clip_by_lot(lot.seed, lot.style, **lot.fixed)
            evidence, mine = rows_of(*drawn_and_taken(spec, lot.seed, FilePath(folder)))
            told.append(evidence)
            swims.append(mine)
            clip.append(np.full(len(mine), number))
            say(f"clip {number + 1}, seed {lot.seed}: {len(mine)} paths, {int(mine.sum())} of swimmers")
    _, text = written(np.concatenate(told), np.concatenate(swims), np.concatenate(clip))
    (data_folder() / FILE).write_text(text, encoding="utf-8")
    say(text[:400])


if __name__ == "__main__":
    main()
