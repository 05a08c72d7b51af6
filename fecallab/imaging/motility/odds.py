"""How much likelier a path is for a swimmer than for a thing that is carried and trembles, or is held on the glass.

Both are worked out for the whole path as Gaussian processes. A carried thing goes as the fluid does, up to what the
stream is known to and to what lies deeper or higher lags behind; it trembles as a sphere of its width does, times what
the clip's own small things show (compression makes them tremble more); its place is read with errors, new ones in each
frame and slow ones. A swimmer has all that, and a velocity that keeps its direction for a while.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from fecallab.domain.motility import diffusion_um2_s
from fecallab.imaging.motility.decide import gets_away_um, goes_on_throughout, moves_for_s
from fecallab.imaging.motility.paths import Path, peak_of, stays_on_glass, without_slips
from fecallab.imaging.motility.stream import Stream

Values = NDArray[np.float64]
_MOST_PLACES, _FREE = 40, 1e4  # µm²: where a path begins says nothing
_SPEEDS_UM_S, _LASTS_S = (2.5, 4.0, 6.5, 10.0, 16.0, 28.0, 60.0, 130.0), (0.4, 1.5, 6.0)
_TREMBLES, _TREMBLES_SHARE = np.array([0.5, 1.0, 2.0, 4.0]), np.array([0.2, 0.4, 0.3, 0.1])
_STREAM_OFF_UM_S, _LAG, _LEAST_LAG, _MOST_LAG = 0.3, 0.12, 0.04, 0.25
_PLACE_OFF_UM, _PLACE_OFF_SHARE, _PLACE_LASTS_S = 0.15, 0.012, 0.25
_STREAMS_UM_S, _HELD_OFF = (
    2.0,
    ((0.3, 0.03), (0.6, 0.06)),
)  # µm and share of the length: edges of stuck things flicker
_ODDS, _ODDS_SIZEABLE = 14.0, 7.0
_ACCEPT_S, _MOVES_S, _SEEN, _SIZEABLE_UM = 0.5, 0.4, 0.8, 4.5
_CLEAR, _ODDS_CLEAR, _ODDS_LOST, _SEEN_AT_LEAST = 3.0, 12.0, 100.0, 0.65
_THROUGHOUT, _AWAY_UM = 0.8, 12.0
_FEW = 4


def lag_of(paths: Sequence[Path], stream: Stream) -> float:
    """Return the share of the stream by which carried things may lag behind or run ahead of it, by those of the clip.

    Parameters
    ----------
    paths : sequence of Path
        Those in which nothing swims.
    stream : Stream
    """
    fast = float(np.hypot(*stream.velocity_um_s))
    if fast < _STREAMS_UM_S:
        return _LAG
    line = stream.velocity_um_s / fast
    along = [
        abs(float((one.own_um[-1] - one.own_um[0]) @ line)) / one.seconds / fast
        for one in paths
        if one.seconds > 0.8 and one.seen.mean() > 0.8 and not stays_on_glass(one)
    ]
    if len(along) < _FEW:
        return _LAG
    return float(np.clip(2.2 * np.median(along), _LEAST_LAG, _MOST_LAG))


def swims_by_odds(path: Path, odds_of: Callable[[Path], float], limit: float = np.inf) -> bool:
    """Return whether a path as a whole is much likelier for a swimmer than for anything else.

    Parameters
    ----------
    path : Path
    odds_of : callable
        :func:`swimming_odds` of a path in its surroundings.
    limit : float, optional
        Least peak of a body in this clip: what stands out by far is no flaw, and so may be brief or lost now and then.
    """
    seen = float(path.seen.mean())
    if seen < _SEEN_AT_LEAST or stays_on_glass(path):
        return False
    odds, moves = odds_of(path), moves_for_s(path)
    if peak_of(path) > _CLEAR * limit and odds > _ODDS_CLEAR:
        if seen > _SEEN and (moves > _THROUGHOUT * path.seconds or gets_away_um(path) > _AWAY_UM):
            return True
        if odds > _ODDS_LOST and gets_away_um(path) > _AWAY_UM:
            return True
    if path.seconds < _ACCEPT_S or seen < _SEEN:
        return False
    if odds > _ODDS and moves > _MOVES_S:
        return True
    sizeable = float(np.median(path.size[:, 2])) > _SIZEABLE_UM
    return sizeable and odds > _ODDS_SIZEABLE and (goes_on_throughout(path) or moves > 2 * _MOVES_S)


def swimming_odds(path: Path, stream: Stream, unrest: float = 1.0, lag: float = _LAG) -> float:
    """Return the logarithm of how much likelier a path is for a swimmer than for anything else.

    Parameters
    ----------
    path : Path
        With its own motion in the fluid.
    stream : Stream
        What was taken from it.
    unrest : float, optional
        From :func:`unrest_of`.
    lag : float, optional
        From :func:`lag_of`.
    """
    per = max(1, int(np.ceil(len(path) / _MOST_PLACES)))
    count = len(path) // per
    if count < 4:
        return 0.0

    def thinned(values: Values) -> Values:
        return np.asarray(values[: count * per].reshape(count, per, -1).mean(axis=1))

    own = without_slips(path.own_um, path.seen)
    times = thinned((path.times_s - path.times_s[0])[:, None])[:, 0]
    flow = stream.at(path.xy_um.mean(axis=0))
    fast = float(np.hypot(*flow))
    line = flow / fast if fast > 1 else np.array([1.0, 0.0])
    along_across = np.column_stack([line, [-line[1], line[0]]])
    places, on_glass = thinned(own) @ along_across, thinned(without_slips(path.xy_um, path.seen))
    length, width = (float(np.median(path.size[:, c])) for c in (1, 2))
    until, apart = np.minimum(times[:, None], times[None]), np.abs(times[:, None] - times[None])
    slow = np.exp(-apart / _PLACE_LASTS_S)
    base = _FREE + np.eye(count) * _place_error2(own) / per
    shake = 2 * diffusion_um2_s(max(width, 1.0) / 2) * until
    shake = unrest * (shake + (_PLACE_OFF_UM + _PLACE_OFF_SHARE * length) ** 2 * slow)
    drawn_out = np.outer(times, times)
    goes_on = _going_on(times, until, apart)
    offs = (_STREAM_OFF_UM_S + lag * fast, _STREAM_OFF_UM_S)
    commons = [base + off**2 * drawn_out for off in offs]
    carried = np.log(_TREMBLES_SHARE)
    for axis, common in enumerate(commons):
        carried = carried + _likelihood(common + _TREMBLES[:, None, None] * shake, places[:, axis])
    swims = []
    for k in {int(carried.argmax()), int(np.argmax(_TREMBLES_SHARE))}:
        told = np.zeros(len(goes_on))
        for axis, common in enumerate(commons):
            told += _likelihood(common + _TREMBLES[k] * shake + goes_on, places[:, axis])
        swims.append(_mean(told) + float(np.log(_TREMBLES_SHARE[k])))
    other = float(logsumexp(carried))
    if fast > _STREAMS_UM_S:
        held = np.array([base + (flat + share * length) ** 2 * slow for flat, share in _HELD_OFF])
        other = max(other, _mean(_likelihood(held, on_glass[:, 0]) + _likelihood(held, on_glass[:, 1])))
    return float(logsumexp(swims)) - other


def _going_on(times: Values, until: Values, apart: Values) -> Values:
    """Return the covariance of places of a velocity that is forgotten after a while, for each speed and time."""
    forms = []
    for last in _LASTS_S:
        fade = np.exp(-times / last)
        forms.append(last * (2 * until - last * (1 - fade[:, None] - fade[None] + np.exp(-apart / last))))
    return np.array([0.5 * speed**2 * one for speed in _SPEEDS_UM_S for one in forms])


def _place_error2(own_um: Values) -> float:
    """Return the squared error of one place per axis, from steps that point against each other."""
    steps = np.diff(own_um, axis=0)
    if len(steps) < 3:
        return 0.01
    next_to = float(np.mean(np.sum(steps[1:] * steps[:-1], axis=1)))
    later = float(np.mean(np.sum(steps[2:] * steps[:-2], axis=1)))
    return max((later - next_to) / 2, 0.0025)


def _likelihood(covariances: Values, values: Values) -> Values:
    roots = np.linalg.cholesky(covariances)
    whitened = np.linalg.solve(roots, np.broadcast_to(values[:, None], (len(roots), len(values), 1)))
    return np.asarray(
        -0.5 * (whitened[..., 0] ** 2).sum(axis=1) - np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)
    )


def _mean(logs: Values) -> float:
    return float(logsumexp(logs) - np.log(len(logs)))
