"""How it moves, in the words of the organism table's column, and which groups move like that at this size."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.motility import Kinematics
from fecallab.imaging.motility.paths import Path, local_velocity

Values = NDArray[np.float64]

WORDS: dict[str, tuple[str, ...]] = {
    "creeps": ("creeps", "creep", "slowly"),
    "glides": ("glide", "smooth", "steady", "swims", "swim", "glides"),
    "darts straight and fast": ("darts", "fast", "quick"),
    "jerky": ("jerky", "jerks", "wobble", "shimmers"),
    "turns on the spot": ("turns", "turning"),
    "spins about its axis": ("spin", "spinning", "rolling", "axis", "corkscrews"),
    "tumbles": ("tumbles",),
    "bends": ("bends", "whip", "waves"),
    "thrashes": ("thrashes",),
}
"""Manners told from a track, and the words of the organism table that mean them."""

_SIZE_ROOM = 0.35  # a moving outline is a rough measure


def manner_of(path: Path, motion: Kinematics) -> tuple[str, ...]:
    """Return words for how a track moves.

    Limits are own choices, tuned on drawn tracks: below 12 µm/s creeps; straight (0.85) and above 60 µm/s darts;
    a speed that varies by half is jerky; half a turn a second or more within its own length turns on the spot.
    """
    velocity = local_velocity(path.own_um, path.times_s, 0.15)
    speed = np.hypot(*velocity.T)
    length = float(np.median(path.size[:, 1]))
    aspect = float(np.median(path.size[:, 1] / np.maximum(path.size[:, 2], 1e-6)))
    heading = np.unwrap(np.arctan2(velocity[:, 1], velocity[:, 0]))
    turned = abs(float(heading[-1] - heading[0])) / max(path.seconds, 1e-6)
    turning = float(np.abs(np.diff(heading)).sum()) / max(path.seconds, 1e-6)
    reach = float(np.hypot(*(path.own_um - path.own_um.mean(axis=0)).T).max())
    varies = float(speed.std() / max(speed.mean(), 1e-9))
    bending = float(np.std(path.size[:, 1]) / max(length, 1e-9))
    words: list[str] = []
    if aspect > 4 or (length > 100 and bending > 0.12):
        words.append("thrashes" if turning > 6 and reach < length else "bends")
    if reach < max(1.2 * length, 10) and (turned > 2.5 or turning > 6) and motion.linearity < 0.35:
        words.append("turns on the spot")
    if motion.vap_um_s < 12:
        words.append("creeps")
    elif motion.vap_um_s > 60 and motion.straightness > 0.85:
        words.append("darts straight and fast")
    if varies > 0.5 or motion.wobble < 0.75:
        words.append("jerky")
    if not words or (words == ["bends"] and varies < 0.4):
        words.append("glides")
    if _blinks(path) and "jerky" not in words:
        words.append("spins about its axis")
    return tuple(words)


def _blinks(path: Path) -> bool:
    """Tell a regular change of its look, as of a body that shows its flat and its narrow side by turns."""
    n = len(path)
    if n < 24 or path.seconds < 0.8:
        return False
    width = path.size[:, 2] - np.convolve(np.pad(path.size[:, 2], 7, mode="edge"), np.ones(15) / 15, "valid")
    if width.std() < 0.12 * float(np.median(path.size[:, 2])):
        return False
    power = np.abs(np.fft.rfft(width * np.hanning(n))) ** 2
    return bool(power[2:].max() > 0.5 * power[1:].sum())


@cache
def _movers() -> tuple[tuple[str, tuple[float, float], frozenset[str]], ...]:
    from fecallab.reference.organisms import organisms

    rows = []
    for one in organisms():
        if one.motile and one.length_um and one.motility_words:
            said = set(one.motility_words.replace(",", " ").replace(";", " ").lower().split())
            fits = frozenset(word for word, means in WORDS.items() if said & set(means))
            rows.append((one.eye_group if one.eye_group != "artefact" else one.key, one.length_um, fits))
    return tuple(rows)


def moves_like(length_um: float, manner: tuple[str, ...]) -> tuple[str, ...]:
    """Return groups with a stage of about this length that moves in such a manner; best agreement first.

    Examples
    --------
    >>> moves_like(11.0, ("darts straight and fast",))[0]
    'flagellate'
    """
    found: dict[str, int] = {}
    for group, (low, high), words in _movers():
        if low * (1 - _SIZE_ROOM) <= length_um <= high * (1 + _SIZE_ROOM):
            shared = len(words & set(manner))
            if shared:
                found[group] = max(found.get(group, 0), shared)
    return tuple(sorted(found, key=lambda group: -found[group]))
