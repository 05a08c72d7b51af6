"""Examples for the ranker: outlines traced in drawn fields, each told right, wrong or near miss by the truth."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import ground_of
from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.propose import candidates
from fecallab.imaging.detect.reliefs import relief
from fecallab.imaging.detect.search import Found
from fecallab.imaging.detect.sketches import sketch
from fecallab.imaging.detect.trace import Ellipses, Floats
from fecallab.imaging.draw import draw_field, random_spec
from fecallab.imaging.draw.lots import EGGS, LOOK_ALIKES, ROUND_BODIES
from fecallab.imaging.draw.scene import Wanted

_LARGE = (*EGGS, "nyctotherus_troph", "balantidium_troph", "balantidium_cyst")
_SMALL = (*ROUND_BODIES, "tritrichomonas_troph")
CROWDING = (0.0, 0.15, 0.35, 0.6)
_CENTRE, _AXES = 0.12, 0.18
_NEAR_CENTRE, _NEAR_AXES = 0.35, 0.45
_TOO_SMALL_UM = 6.5
"""So small an outline is not proposed even when it was drawn a tenth too small (own choice)."""


@dataclass(frozen=True)
class Known:
    """A thing that a picture is known to show.

    Attributes
    ----------
    counts : bool
        Whether it is to be proposed; look-alikes are not.
    x_px, y_px, length_um, width_um, angle_deg : float
    """

    counts: bool
    x_px: float
    y_px: float
    length_um: float
    width_um: float
    angle_deg: float = 0.0


@dataclass(frozen=True)
class Field:
    """A drawn field: pixels, scale, what it shows, and how it was made."""

    pixels: NDArray[np.uint8]
    um_per_px: float
    known: tuple[Known, ...]
    style: str
    crowding: float


@dataclass(frozen=True)
class Examples:
    """Rows for the ranker.

    Attributes
    ----------
    features : ndarray, shape (rows, features)
    positive : ndarray of bool
    field : ndarray of int
        Which field each row comes from.
    """

    features: Floats
    positive: NDArray[np.bool_]
    field: NDArray[np.intp]


def training_field(
    seed: int,
    style: str,
    crowding: float,
    things: int = 6,
    more_look_alikes: int = 0,
    flakes: int = 0,
    bubbles: int = 0,
    size_px: tuple[int, int] = (760, 580),
) -> Field:
    """Draw one field of a style, ``sketch``, ``relief`` or ``micrograph``, with a number of look-alikes more than by lot.

    Flakes and thick bubbles are not added to micrographs.
    """
    rng = np.random.default_rng([seed, 5])
    if style in ("sketch", "relief"):
        scale = float(rng.choice([0.2, 0.3, 0.5, 0.5, 0.65, 1.0]))
        draw = sketch if style == "sketch" else relief
        pixels, truth = draw(
            seed,
            crowding,
            um_per_px=scale,
            width_px=size_px[0],
            height_px=size_px[1],
            things=things,
            look_alikes=more_look_alikes or None,
            flakes=flakes,
            bubbles=bubbles,
        )
        known = tuple(Known(o.counts, o.x_px, o.y_px, o.length_um, o.width_um, o.angle_deg) for o in truth)
        return Field(pixels, scale, known, style, crowding)
    scale = float(rng.choice([0.2, 0.35, 0.5, 0.5, 0.65, 0.9]))
    keys = _LARGE if scale > 0.55 else _SMALL if scale < 0.3 else (*_LARGE, *_SMALL)
    spec = random_spec(
        seed,
        keys,
        width_px=size_px[0],
        height_px=size_px[1],
        um_per_px=scale,
        crowding=crowding,
        things=things,
    )
    if more_look_alikes:
        more = tuple(Wanted(key=str(key)) for key in rng.choice(list(LOOK_ALIKES), more_look_alikes))
        spec = replace(spec, things=(*spec.things, *more))
    pixels, found = draw_field(spec, seed)
    known = tuple(
        Known(o.group != "artefact", o.x_px, o.y_px, o.length_um, o.width_um, o.angle_deg) for o in found
    )
    return Field(pixels, scale, known, style, crowding)


def examples_of(fields: Sequence[Field] | Iterator[Field]) -> Examples:
    """Trace the outlines of fields and tell each right or wrong; near misses are left out."""
    rows, right, number = [np.zeros((0, len(NAMES)))], [np.zeros(0, bool)], [np.zeros(0, np.intp)]
    for k, field in enumerate(fields):
        found, told = _told(field)
        used = told >= 0
        rows.append(found.features[used])
        right.append(told[used] == 1)
        number.append(np.full(int(used.sum()), k, np.intp))
    return Examples(np.concatenate(rows), np.concatenate(right), np.concatenate(number))


def _told(field: Field) -> tuple[Found, NDArray[np.intp]]:
    """Outlines of a field, and what :func:`label` says of each."""
    found = candidates(field.pixels, field.um_per_px, ground_of(field.pixels))[0]
    return found, label(found.ellipses, field)


def label(ellipses: Ellipses, field: Field) -> NDArray[np.intp]:
    """Return 1 for outlines that fit something known that counts, 0 for wrong ones, -1 for near misses.

    Where nothing fits a thing, what is near it counts as right: it leads the eye there all the same. What is too small
    to be proposed is never wrong: no number that is learnt from knows a size, and a grain of debris may be built as a
    small body is.
    """
    x, y = ellipses.x, ellipses.y
    length_um, width_um = (2 * axis * field.um_per_px for axis in (ellipses.half_long, ellipses.half_short))
    told = np.where(length_um < _TOO_SMALL_UM, -1, 0).astype(np.intp)
    for one in field.known:
        if not one.counts:
            continue
        away = np.hypot(x - one.x_px, y - one.y_px) * field.um_per_px / one.length_um
        off = np.maximum(np.abs(np.log(length_um / one.length_um)), np.abs(np.log(width_um / one.width_um)))
        good = (away < _CENTRE) & (off < _AXES)
        near = (away < _NEAR_CENTRE) & (off < _NEAR_AXES)
        told[near & (told == 0)] = -1
        told[good if good.any() else near] = 1
    return told
