"""Patterns inside, on and outside an outline, told by how fast they change around it.

Radial lines of urate balls, the pores and nets of pollen, the spines of others, the off-centre point of starch and
the corners of crystals are waves around the outline: none, one, two, three, or many to a turn. Their strengths do
not depend on direction or size.
"""

from __future__ import annotations

import numpy as np

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.trace import NORMALS, Floats, Traces, around, normals, read_at

BANDS = ((1, 2), (2, 3), (3, 4), (4, 7), (7, 13), (13, 25))
"""From which to under which number of waves around."""
_ZONES = {
    "heart": (0.12, 0.24, 0.36),
    "body": (0.48, 0.6, 0.72),
    "skin": (0.84, 0.9, 0.96),
    "outside": (1.1, 1.2),
}
_FLOOR = 0.06
PATTERN_NAMES = (
    *(f"{zone}_waves_{low}" for zone in _ZONES for low, _ in BANDS),
    *(f"ring_{round(100 * share)}" for shares in _ZONES.values() for share in shares[::2]),
    *(f"shape_waves_{low}" for low in (2, 3, 4, 7, 13)),
    "ends_unlike", "heart_spots", "drop_to_noise",
)  # fmt: skip
"""Names of these features, in order."""


def patterns(absorbed: Map, traces: Traces, drop: Floats, outside: Floats) -> Floats:
    """Return the strengths of the waves, and mean levels of rings.

    Parameters
    ----------
    absorbed : ndarray of float32
        The level on which the outlines were traced.
    traces : Traces
    drop : ndarray, shape (n,)
        Step between wall and surroundings, the unit of every level.
    outside : ndarray, shape (n,)
        Level of the surroundings.

    Returns
    -------
    ndarray, shape (n, len(PATTERN_NAMES))
    """
    e = traces.ellipses
    n = len(e)
    if not n:
        return np.zeros((0, len(PATTERN_NAMES)))
    x, y, _, _ = normals(e, around())
    dx, dy = (x - e.x[:, None]).astype(np.float32), (y - e.y[:, None]).astype(np.float32)
    shares = np.array([share for zone in _ZONES.values() for share in zone], np.float32)
    light = read_at(
        absorbed,
        e.x[:, None, None].astype(np.float32) + shares[:, None] * dx[:, None, :],
        e.y[:, None, None].astype(np.float32) + shares[:, None] * dy[:, None, :],
    )
    light -= outside[:, None, None].astype(np.float32)
    light /= drop[:, None, None].astype(np.float32)
    waves = np.abs(np.fft.rfft(light, axis=2)) ** 2 * (2.0 / NORMALS**2)
    columns, start = [], 0
    for zone in _ZONES.values():
        strong = waves[:, start : start + len(zone)].mean(axis=1)
        columns += [np.log(np.sqrt(strong[:, low:high].sum(axis=1)) + _FLOOR) for low, high in BANDS]
        start += len(zone)
    start = 0
    for zone in _ZONES.values():
        rings = light[:, start : start + len(zone) : 2].mean(axis=2)
        columns += [np.clip(ring, -3, 3) for ring in rings.T]
        start += len(zone)
    bent = np.abs(np.fft.rfft(traces.offset / e.half_short[:, None], axis=1)) ** 2 * (2.0 / NORMALS**2)
    for low, high in ((2, 3), (3, 4), (4, 7), (7, 13), (13, 25)):
        columns.append(np.log(np.sqrt(bent[:, low:high].sum(axis=1)) + 0.004))
    half = NORMALS // 2
    quarter = half // 2
    body = light[:, 3:6].mean(axis=1)
    one_end = np.concatenate([body[:, :quarter], body[:, -quarter:]], axis=1).mean(axis=1)
    other = body[:, quarter:-quarter].mean(axis=1)
    columns.append(np.clip(np.abs(one_end - other), 0, 3))
    inner = light[:, :6].reshape(n, -1)
    columns.append(np.clip(np.percentile(inner, 95, axis=1) - np.percentile(inner, 50, axis=1), 0, 3))
    columns.append(np.log(drop / _noise_of(absorbed)))
    return np.asarray(np.stack(columns, axis=1), np.float64)


def _noise_of(absorbed: Map) -> float:
    """Grain of a level: the usual difference of a pixel from the mean of its neighbours to both sides."""
    some = absorbed[::3]
    rough = np.abs(some[:, 1:-1] - 0.5 * (some[:, :-2] + some[:, 2:]))
    return float(np.median(rough[:, ::5])) * 1.2 + 0.002 if rough.size else 1.0
