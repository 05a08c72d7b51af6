"""Proposals for one picture: where something like an egg, oocyst, cyst, trophozoite or larva may lie.

A proposal is no mark: the person decides, and nothing unconfirmed is ever counted.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fecallab.domain.errors import BadInput
from fecallab.imaging.detect.absorption import Ground, ground_of
from fecallab.imaging.detect.condition import remark_of, sharpness
from fecallab.imaging.detect.features import related
from fecallab.imaging.detect.long_thin import LONG_THRESHOLD, LongFound, find_long, long_score
from fecallab.imaging.detect.outline import Outlines, outlines_of
from fecallab.imaging.detect.ranker import Ranker, drawn_ranker
from fecallab.imaging.detect.search import Found, find_outlines, joined, nothing
from fecallab.imaging.detect.suppression import suppress
from fecallab.imaging.detect.tiles import Tile, levels_of, tiles_of
from fecallab.imaging.detect.trace import Ellipses, Floats
from fecallab.imaging.samples import PictureArray

LEAST_UM_PER_PX, MOST_UM_PER_PX = 0.02, 6.0
"""Scales that a picture may have; made for 0.1 to 2 µm per pixel."""
_SAME_CENTRE, _SAME_AXES, _AS_SURE = 0.25, 0.2, 1.15
LEAST_LENGTH_UM = 7.2
"""Shorter outlines are not proposed: 8 µm, the smallest that is looked for, less a tenth, about the error of so small a
one (95 in 100)."""
Progress = Callable[[int, int], None]


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """One object that the eye should look at.

    Attributes
    ----------
    x_px, y_px : float
        Column and row of its centre in the picture.
    length_um, width_um : float
        Outer long and short axes.
    length_half_width_um, width_half_width_um : float
        Half of their 95 % intervals.
    angle_deg : float
        Long axis from +x towards +y (down), 0 ≤ angle < 180.
    score : float
        0 to 1; it ranks, it is no probability of being an organism.
    kind : str
        ``oval`` or ``long``.
    outline_px : tuple of (float, float)
        Points around it, column and row.
    """

    x_px: float
    y_px: float
    length_um: float
    width_um: float
    length_half_width_um: float
    width_half_width_um: float
    angle_deg: float
    score: float
    kind: str
    outline_px: tuple[tuple[float, float], ...]

    def as_dict(self) -> dict[str, float]:
        """Return the six keys of ``image detect``."""
        return {
            "x_px": round(self.x_px, 2),
            "y_px": round(self.y_px, 2),
            "length_um": round(self.length_um, 2),
            "width_um": round(self.width_um, 2),
            "angle_deg": round(self.angle_deg, 1) % 180,
            "score": round(self.score, 4),
        }


@dataclass(frozen=True, kw_only=True)
class Detection:
    """What was found in a picture.

    Attributes
    ----------
    proposals : tuple of Proposal
        Best first.
    lit_fraction : float
        Share of the picture that is lit.
    sharpness : float or None
        0 to 1; None where nothing has an edge.
    remark : str
        A line for the reader where the picture is empty or unreadable, else "".
    seconds : float
        How long it took.
    """

    proposals: tuple[Proposal, ...]
    lit_fraction: float
    sharpness: float | None
    remark: str
    seconds: float


def propose(
    picture: PictureArray,
    um_per_px: float,
    *,
    ranker: Ranker | None = None,
    threshold: float | None = None,
    most: int = 400,
    progress: Progress | None = None,
) -> Detection:
    """Propose objects in a picture.

    Parameters
    ----------
    picture : ndarray, shape (height, width) or (height, width, 3)
        As :func:`fecallab.imaging.read.open_picture` returns it.
    um_per_px : float
        Scale.
    ranker : Ranker, optional
        The one trained on drawings when left out.
    threshold : float, optional
        Smallest score; the ranker's own when left out.
    most : int, optional
        Largest number of proposals.
    progress : callable, optional
        Called with tiles done and tiles in all; raising in it stops the work.

    Returns
    -------
    Detection

    Raises
    ------
    BadInput
        When the scale is missing or impossible.

    Examples
    --------
    >>> propose(np.full((64, 64), 255, np.uint8), 0.5).proposals
    ()
    """
    began = time.perf_counter()
    check_scale(um_per_px)
    ranker = drawn_ranker() if ranker is None else ranker
    ground = ground_of(picture)
    long_ones: list[Proposal] = []
    found, outlines = candidates(picture, um_per_px, ground, progress, long_ones)
    score = ranker.score(found.features)
    least = ranker.threshold if threshold is None else threshold
    strong = np.flatnonzero((score >= least) & (outlines.length * um_per_px >= LEAST_LENGTH_UM))
    keep = strong[suppress(found.expected.of(strong), score[strong])][:most]
    ovals = [_proposal(found.expected, outlines, score, int(k), um_per_px) for k in keep]
    as_strong = [replace(one, score=_on_one_scale(one.score, ranker.threshold)) for one in long_ones]
    proposals = _together(ovals, [one for one in as_strong if one.score >= least], um_per_px)[:most]
    return Detection(
        proposals=tuple(proposals),
        lit_fraction=ground.lit_fraction,
        sharpness=sharpness(picture, ground),
        remark=remark_of(picture, ground),
        seconds=time.perf_counter() - began,
    )


def check_scale(um_per_px: float) -> None:
    """Refuse a scale that no picture through a microscope has."""
    if not (LEAST_UM_PER_PX <= um_per_px <= MOST_UM_PER_PX):
        raise BadInput(
            f"The scale is {um_per_px:g} µm per pixel; objects are looked for at {LEAST_UM_PER_PX:g} to"
            f" {MOST_UM_PER_PX:g}.",
            next="Calibrate first: fecallab image calibrate RULER.jpg --division-um 10",
            code="scale-range",
        )


def candidates(
    picture: PictureArray,
    um_per_px: float,
    ground: Ground,
    progress: Progress | None = None,
    long_ones: list[Proposal] | None = None,
) -> tuple[Found, Outlines]:
    """Return everything that was outlined, in pixels of the picture; long ones are added to a list."""
    parts = []
    tiles = tiles_of(picture.shape[0], picture.shape[1], um_per_px)
    for k, tile in enumerate(tiles):
        parts.append(_in_tile(picture, um_per_px, ground, tile, long_ones))
        if progress is not None:
            progress(k + 1, len(tiles))
    found = joined(parts)
    return found, outlines_of(found)


def _in_tile(
    picture: PictureArray, um_per_px: float, ground: Ground, tile: Tile, long_ones: list[Proposal] | None
) -> Found:
    levels, pitch, scale = levels_of(picture, um_per_px, ground, tile)
    found = joined([nothing(), *find_outlines(levels, pitch)])
    if long_ones is not None:
        long_ones += _long_in_tile(find_long(levels, pitch), scale, um_per_px, ground, tile)
    placed = _placed(found.ellipses, scale, tile)
    lit = ground.is_lit(placed.x, placed.y)
    placed = placed.of(lit)
    inside = tile.holds(placed.x, placed.y)
    return Found(
        placed.of(inside),
        _placed(found.expected, scale, tile).of(lit).of(inside),
        related(placed, found.features[lit])[inside],
        found.offset[lit][inside] * scale,
        found.error[lit][inside] * scale,
        found.unrolled[lit][inside],
        found.level[lit][inside],
    )


def _placed(found: Ellipses, scale: float, tile: Tile) -> Ellipses:
    """Ellipses of a tile in pixels of the picture."""
    ellipses = found.scaled(scale)
    return Ellipses(ellipses.x + tile.left, ellipses.y + tile.top, *ellipses.columns()[2:])


def _long_in_tile(
    found: LongFound, scale: float, um_per_px: float, ground: Ground, tile: Tile
) -> list[Proposal]:
    x, y = (found.x + 0.5) * scale - 0.5 + tile.left, (found.y + 0.5) * scale - 0.5 + tile.top
    score = long_score(found.features)
    inside = tile.holds(x, y) & ground.is_lit(x, y)
    return [
        Proposal(
            x_px=float(x[k]),
            y_px=float(y[k]),
            length_um=float(found.length[k]) * scale * um_per_px,
            width_um=float(found.width[k]) * scale * um_per_px,
            length_half_width_um=float(0.1 * found.length[k]) * scale * um_per_px,
            width_half_width_um=float(2 * found.error[k] + 2) * scale * um_per_px,
            angle_deg=math.degrees(float(found.angle[k])) % 180 % 180,
            score=float(score[k]),
            kind="long",
            outline_px=tuple(
                (
                    round(float(u + 0.5) * scale - 0.5 + tile.left, 1),
                    round(float(v + 0.5) * scale - 0.5 + tile.top, 1),
                )
                for u, v in found.outline[k]
            ),
        )
        for k in np.flatnonzero(inside)
    ]


def _on_one_scale(long_one: float, threshold: float) -> float:
    """Shift the odds of a long one so that its own threshold becomes that of the ranker: then both kinds compare."""
    least_doubt = max(1 - long_one, 1e-9)
    shift = threshold / (1 - threshold) * (1 - LONG_THRESHOLD) / LONG_THRESHOLD
    odds = long_one / least_doubt * shift
    return odds / (1 + odds)


def _together(ovals: list[Proposal], long_ones: list[Proposal], um_per_px: float) -> list[Proposal]:
    """Join both kinds, best first; of those that lie on each other the better one stays."""
    kept: list[Proposal] = []
    for one in sorted([*ovals, *long_ones], key=lambda p: (-p.score, p.x_px, p.y_px)):
        near = (
            other
            for other in kept
            if "long" in (one.kind, other.kind)
            and math.hypot(one.x_px - other.x_px, one.y_px - other.y_px)
            < 0.3 * max(one.length_um, other.length_um) / um_per_px
        )
        if next(near, None) is None:
            kept.append(one)
    return kept


def _proposal(ellipses: Ellipses, outlines: Outlines, score: Floats, k: int, um_per_px: float) -> Proposal:
    length, width, unlike, middle = _agreed(ellipses, outlines, score, k)
    error = [
        math.hypot(float(own[k]), 1.96 * rest)
        for own, rest in zip((outlines.length_half_width, outlines.width_half_width), unlike, strict=True)
    ]
    return Proposal(
        x_px=float(ellipses.x[middle]),
        y_px=float(ellipses.y[middle]),
        length_um=length * um_per_px,
        width_um=width * um_per_px,
        length_half_width_um=error[0] * um_per_px,
        width_half_width_um=error[1] * um_per_px,
        angle_deg=math.degrees(float(ellipses.angle[middle])) % 180 % 180,
        score=float(score[k]),
        kind="oval",
        outline_px=tuple((round(float(x), 1), round(float(y), 1)) for x, y in outlines.points[middle]),
    )


def _agreed(
    ellipses: Ellipses, outlines: Outlines, score: Floats, k: int
) -> tuple[float, float, tuple[float, float], int]:
    """Length and width on which the surest outlines of one object agree, how far all scatter, and the middlemost."""
    near = (
        np.hypot(ellipses.x - ellipses.x[k], ellipses.y - ellipses.y[k])
        < _SAME_CENTRE * ellipses.half_short[k]
    )
    for axis in (outlines.length, outlines.width):
        near &= np.abs(np.log(axis / axis[k])) < _SAME_AXES
    near &= score > 0.5 * score[k]
    scatter = (float(outlines.length[near].std()), float(outlines.width[near].std()))
    near &= outlines.length_half_width < _AS_SURE * outlines.length_half_width[near].min()
    long, short = outlines.length[near], outlines.width[near]
    length, width = float(np.median(long)), float(np.median(short))
    which = np.flatnonzero(near)
    x, y = ellipses.x[which], ellipses.y[which]
    aside = np.hypot(x - np.median(x), y - np.median(y)) / width
    aside += np.abs(np.log(long / length)) + np.abs(np.log(short / width))
    return max(length, width), min(length, width), scatter, int(which[aside.argmin()])
