"""What an outline looks like, in numbers that do not know how large it is.

Everything is a ratio: lengths in short half axes, levels in the step between wall and surroundings, or in the
texture around. So the ranker cannot learn the sizes of the kinds that were drawn for it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.looks import SECTORS, Seen
from fecallab.imaging.detect.patterns import PATTERN_NAMES, patterns
from fecallab.imaging.detect.relations import RELATION_NAMES, relations
from fecallab.imaging.detect.trace import (
    NORMALS,
    Ellipses,
    Floats,
    Traces,
    around,
    normals,
    profiles,
    read_at,
)

OWN_NAMES = (
    "fit", "margin", "edge_mean", "edge_share", "edge_worst", "edge_second_worst", "drop_to_texture", "drop",
    "inside_step", "wall_thickness", "steepness", "drop_even", "drop_share", "drop_worst", "drop_second_worst",
    "likeness", "likeness_worst", "texture_in_to_out", "texture_in", "texture_out", "halo", "scatter", "roughness",
    "aspect", "outside_uneven", "centre_step", "darkest", "inner_ring", "outer_ring", "wall_even", "seen",
    "inside_uneven", "ground_step", *PATTERN_NAMES, "hope", "votes", "looks", "closer",
    "again", "aside", "doubt", "doubt_worst",
)  # fmt: skip
"""Names of the features that an outline has of its own, in order."""
NAMES = (*OWN_NAMES, *RELATION_NAMES)
"""Names of all features, in order."""
_OFFSETS = np.arange(-0.70, 0.6001, 0.05)
"""Where the outline's lines are read, in short half axes from the ellipse."""
_FLOOR = 0.01
_SECTORS = 8


def features(
    absorbed: Map,
    traces: Traces,
    fit: Floats,
    hope: Floats,
    votes: Floats,
    first: Floats,
    seen: Seen,
    again: Floats,
) -> Floats:
    """Return the features of traced outlines.

    Parameters
    ----------
    absorbed : ndarray of float32
        The level on which they were traced.
    traces : Traces
    fit : ndarray, shape (n,)
        How well their template fitted.
    hope : ndarray, shape (n,)
        How promising they looked while they were refined.
    votes : ndarray, shape (n,)
        How many rough outlines ended there.
    first, seen : ndarray, Seen
        What the networks of :mod:`fecallab.imaging.detect.looks` say of them.
    again : ndarray, shape (n,)
        What they look like where they are expected.

    Returns
    -------
    ndarray, shape (n, len(OWN_NAMES))
    """
    ellipses = traces.ellipses
    n, short = len(ellipses), ellipses.half_short
    light = profiles(absorbed, ellipses, short[:, None] * _OFFSETS)
    middle = np.median(light, axis=1)
    inner, outer = _OFFSETS < -0.22, _OFFSETS > 0.2
    wall_zone, rim_zone = (_OFFSETS > -0.27) & (_OFFSETS < 0.06), (_OFFSETS > 0.04) & (_OFFSETS < 0.27)
    inside, outside = middle[:, inner].mean(axis=1), middle[:, outer].mean(axis=1)
    wall = middle[:, wall_zone].max(axis=1)
    drop = np.maximum(wall - outside, _FLOOR)
    texture_out = light[:, :, outer].std(axis=(1, 2)) + _FLOOR
    texture_in = light[:, :, inner].std(axis=(1, 2)) + _FLOOR
    each_wall, each_rim = light[:, :, wall_zone].max(axis=2), light[:, :, rim_zone].min(axis=2)
    each_drop = each_wall - each_rim
    mean_drop = np.maximum(each_drop.mean(axis=1), _FLOOR)
    drop_sectors = np.sort(_sectors(each_drop), axis=1) / mean_drop[:, None]
    edge_sectors = np.sort(_sectors(traces.strength), axis=1)
    near = np.abs(_OFFSETS) < 0.33
    likeness = _likeness(light[:, :, near], middle[:, near])
    like_sectors = np.sort(_sectors(likeness), axis=1)
    fall = middle[:, :-1] - middle[:, 1:]
    at = 0.5 * (_OFFSETS[1:] + _OFFSETS[:-1])
    threshold = 0.5 * (np.maximum(inside, outside) + wall)
    core = _core(absorbed, traces)
    columns = (
        fit,
        traces.margin,
        traces.strength.mean(axis=1),
        (traces.strength > 0.7).mean(axis=1),
        edge_sectors[:, 0],
        edge_sectors[:, 1],
        np.log(drop / texture_out),
        np.log(drop),
        np.clip((inside - outside) / drop, -2, 2),
        (middle[:, _OFFSETS < 0.2] > threshold[:, None]).mean(axis=1),
        fall[:, np.abs(at) < 0.3].max(axis=1) / drop,
        each_drop.std(axis=1) / mean_drop,
        (each_drop > 0.4 * mean_drop[:, None]).mean(axis=1),
        drop_sectors[:, 0],
        drop_sectors[:, 1],
        likeness.mean(axis=1),
        like_sectors[:, 0],
        np.log(texture_in / texture_out),
        np.log(texture_in / drop),
        np.log(texture_out / drop),
        np.clip((middle[:, rim_zone].min(axis=1) - outside) / drop, -2, 2),
        np.log(traces.scatter / short + 0.005),
        np.log(np.abs(np.diff(traces.offset, axis=1)).mean(axis=1) / short + 0.005),
        np.log(ellipses.half_long / short),
        np.log(light[:, :, outer].mean(axis=2).std(axis=1) / drop + 0.02),
        np.clip((core - inside) / drop, -3, 3),
        np.log(np.maximum(wall, 0) + 0.03),
        np.abs(fall[:, at < -0.3]).max(axis=1) / drop,
        fall[:, at > 0.22].max(axis=1) / drop,
        each_wall.std(axis=1) / drop,
        _seen(absorbed, traces),
        np.log(light[:, :, inner].mean(axis=2).std(axis=1) / drop + 0.02),
        np.clip(outside, -1, 2),
    )
    more = patterns(absorbed, traces, drop, outside)
    told = (
        hope,
        np.log(votes + 0.5),
        first,
        seen.looks,
        again,
        np.log(np.abs(seen.offset).mean(axis=1) + 0.01),
        seen.doubt.mean(axis=1),
        np.sort(seen.doubt, axis=1)[:, -SECTORS // 4 :].mean(axis=1),
    )
    found = np.concatenate([np.stack(columns, axis=1), more, np.stack(told, axis=1)], axis=1)
    found = found if n else np.zeros((0, len(OWN_NAMES)))
    return np.asarray(np.nan_to_num(found, nan=0.0, posinf=10.0, neginf=-10.0), np.float64)


def related(ellipses: Ellipses, own: Floats) -> Floats:
    """Add to the features of the outlines of one picture or tile how they stand among each other."""
    fit, margin, edge, likeness, closer = (
        own[:, OWN_NAMES.index(name)] for name in ("fit", "margin", "edge_mean", "likeness", "closer")
    )
    return np.concatenate([own, relations(ellipses, fit, margin, edge, likeness, closer)], axis=1)


def _sectors(values: NDArray[np.floating]) -> NDArray[np.floating]:
    """Means over eighths of the outline."""
    return np.asarray(values.reshape(len(values), _SECTORS, NORMALS // _SECTORS).mean(axis=2))


def _likeness(light: Map, middle: Map) -> Map:
    """Correlation of each line with the middle one."""
    a = light - light.mean(axis=2, keepdims=True)
    b = (middle - middle.mean(axis=1, keepdims=True))[:, None, :]
    size = np.sqrt((a * a).sum(axis=2) * (b * b).sum(axis=2)) + 1e-4
    return np.asarray((a * b).sum(axis=2) / size, np.float32)


def _core(absorbed: Map, traces: Traces) -> Map:
    """Mean level of the inmost third."""
    x, y, _, _ = normals(traces.ellipses, around(16))
    cx, cy = traces.ellipses.x[:, None], traces.ellipses.y[:, None]
    rings = [read_at(absorbed, cx + f * (x - cx), cy + f * (y - cy)).mean(axis=1) for f in (0.08, 0.2, 0.32)]
    return np.asarray(sum(rings) / len(rings), np.float32)


def _seen(absorbed: Map, traces: Traces) -> NDArray[np.floating]:
    """Share of the outline that lies in the picture."""
    x, y, _, _ = normals(traces.ellipses, around())
    rows, columns = absorbed.shape
    return np.asarray(((x > -0.5) & (y > -0.5) & (x < columns - 0.5) & (y < rows - 0.5)).mean(axis=1))
