"""What the fluid carries but is too faint to be judged: guides of the stream beside strong bodies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.link import link_specks
from fecallab.imaging.motility.paths import Path, carried_velocity, path_of, stays_on_glass
from fecallab.imaging.motility.tremble import tremble_um2_s, wander_um2_s2

Values = NDArray[np.float64]
_LEAST_S, _LEAST_SEEN, _FEW, _MOST_TREMBLE = 0.5, 0.65, 6, 3.0  # the last in µm²/s, errors of place in it
_LEAST_UM_S, _SURE = 2.5, 2.0  # own choice, set on tuning clips, as those above


def faint_guides(tables: Sequence[Values], times_s: Values) -> list[Path]:
    """Join specks to paths and keep those that something carries off.

    A flaw of the film wanders about a place on the glass and a thing that trembles in a fluid at rest does too, so
    only what goes on beyond that guides; what stays says nothing, for rest or for a stream.

    Parameters
    ----------
    tables : sequence of ndarray
        Specks of each frame, as in :class:`fecallab.imaging.motility.pipeline.Scene`.
    times_s : ndarray, shape (frames,)

    Returns
    -------
    list of Path
        On the glass.
    """
    if not any(len(one) for one in tables):
        return []
    paths = [path_of(one, times_s) for one in link_specks(tables, times_s) if len(one.frames) >= _FEW]
    return [
        one
        for one in paths
        if one.seconds >= _LEAST_S
        and one.seen.mean() >= _LEAST_SEEN
        and not stays_on_glass(one)
        and tremble_um2_s(one) < _MOST_TREMBLE
        and _is_carried_off(one)
    ]


def _is_carried_off(path: Path) -> bool:
    """Return whether a faint thing gets farther on the glass than a flaw that wanders about its place."""
    wander = np.sqrt(wander_um2_s2(np.array(tremble_um2_s(path)), np.array(path.seconds)))
    return float(np.hypot(*carried_velocity(path))) > max(_LEAST_UM_S, _SURE * float(wander))
