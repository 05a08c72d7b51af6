"""The common stream: what most moving things share, with its change over the field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.paths import Path, stays_on_glass

Values = NDArray[np.float64]
_REACH_UM_S = 3.0
_STEEPEST_PER_S, _FAR_UM = 0.12, 6.0
_SHEAR_GAIN = 0.75  # a change over the field must cut what is left of the tracks to this share
_AT_REST, _MOST_AT_REST = 3.0, 6.0  # seconds of tracks that another stream must hold more than rest does
_LEAST_TRACKS, _LEAST_S = 4, 0.4


@dataclass(frozen=True)
class Stream:
    """A flow that changes evenly over the field.

    Attributes
    ----------
    middle_um : ndarray, shape (2,)
        Where `velocity_um_s` holds.
    velocity_um_s : ndarray, shape (2,)
    gradient_per_s : ndarray, shape (2, 2)
        Change of velocity with place.
    agreement : float
        Share of the loose tracks that go with it; 0 when no stream could be told.
    """

    middle_um: Values
    velocity_um_s: Values
    gradient_per_s: Values
    agreement: float

    def at(self, xy_um: Values) -> Values:
        """Return the stream at places, µm/s."""
        return np.asarray(self.velocity_um_s + (xy_um - self.middle_um) @ self.gradient_per_s.T)

    def taken_from(self, path: Path) -> Path:
        """Return the path with its own motion in the fluid."""
        flow = self.at(path.xy_um)
        steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(path.times_s)[:, None]
        carried = np.vstack([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
        return replace(path, own_um=path.xy_um - carried)

    def only_drags(self, path: Path) -> bool:
        """Return whether a body's own way keeps to the stream's line, where too few guides tell of shear."""
        fast = float(np.hypot(*self.velocity_um_s))
        if fast < 4.0 or self.gradient_per_s.any():
            return False
        own = (path.own_um[-1] - path.own_um[0]) / max(path.seconds, 1e-9)
        line = self.velocity_um_s / fast
        across = abs(float(own[0] * line[1] - own[1] * line[0]))
        return across < 1.5 and float(np.hypot(*own)) < 0.45 * fast


def no_stream(middle_um: Values) -> Stream:
    """Return a fluid at rest."""
    return Stream(middle_um, np.zeros(2), np.zeros((2, 2)), 0.0)


def common_stream(paths: Sequence[Path], middle_um: Values) -> Stream:
    """Find the stream that the largest crowd of tracks shares.

    Parameters
    ----------
    paths : sequence of Path
        On the glass; what never left its place is left out by the caller.
    middle_um : ndarray, shape (2,)
        Middle of the field.
    """
    long = [one for one in paths if one.seconds >= _LEAST_S and len(one) >= 6]
    if len(long) < 2:
        return no_stream(middle_um)
    still = [one for one in long if stays_on_glass(one)]
    at_rest = min(_AT_REST + 0.3 * sum(one.seconds for one in still), _MOST_AT_REST)
    loose = [one for one in long if not stays_on_glass(one)]
    long = loose if len(loose) >= 2 else long
    at = np.array([one.xy_um.mean(axis=0) for one in long])
    velocity = np.array([_slope(one) for one in long])
    weight = np.array([_word(one) for one in long])
    offset = (at - middle_um) / 100.0
    design = np.column_stack([np.ones(len(at)), offset])
    fit = _crowd(design, velocity, weight, at_rest)
    near = np.hypot(*(velocity - design @ fit).T) < _REACH_UM_S
    if (near.sum() < _LEAST_TRACKS and near.mean() < 0.75) or not fit.any():
        rest = np.hypot(*velocity.T) < _REACH_UM_S
        return replace(no_stream(middle_um), agreement=float(weight[rest].sum() / weight.sum()))
    start = fit
    fit, rest, reach = _fitted(design[:, :1], velocity, weight, start)
    if near.sum() >= 8:
        sheared, its_rest, its_reach = _fitted(design, velocity, weight, start)
        carried = np.minimum(rest, its_rest) < _REACH_UM_S
        if np.median(its_rest[carried]) < _SHEAR_GAIN * np.median(rest[carried]):
            fit, rest, reach = sheared, its_rest, its_reach
    agreement = float(weight[rest < max(3 * reach, 2.0)].sum() / weight.sum())
    return Stream(middle_um, fit[0], fit[1:].T / 100.0, agreement)


def _fitted(design: Values, velocity: Values, weight: Values, start: Values) -> tuple[Values, Values, float]:
    """Fit the flow, swimmers left out more and more; return it, what is left of each track, and the reach."""
    reach, terms = 2.5, design.shape[1]
    whole = np.column_stack([design, np.zeros((len(design), 3 - terms))])
    fit = start.copy()
    fit[terms:] = 0
    for turn in range(9):
        rest = np.hypot(*(velocity - whole @ fit).T)
        near = rest < 4 * reach
        if turn and near.any():
            reach = float(np.clip(2.0 * np.median(rest[near]), 0.8, 3.0))
        trust = np.where(rest < 4 * reach, weight / (1 + (rest / reach) ** 2) ** 2, 0)
        root = np.sqrt(trust)[:, None]
        fit[:terms] = np.linalg.lstsq(design * root, velocity * root, rcond=None)[0]
    return fit, np.hypot(*(velocity - whole @ fit).T), reach


def _crowd(design: Values, velocity: Values, weight: Values, at_rest: float) -> Values:
    """Return the flow that most tracks share: the same everywhere, or changing evenly when that holds many more."""

    def crowd(fits: Values) -> Values:
        rest = np.hypot(*(velocity[None] - design @ fits).transpose(2, 0, 1))
        return np.asarray((np.maximum(1 - (rest / _REACH_UM_S) ** 2, 0) * weight[None]).sum(axis=1))

    even = np.zeros((len(velocity) + 1, 3, 2))
    even[1:, 0] = velocity
    size = crowd(even)
    size[0] += at_rest
    # those who swim go everywhere, so the middle of all is not far from the stream
    said = np.repeat(velocity, np.maximum(np.round(3 * weight).astype(int), 0), axis=0)
    said = said if len(said) else velocity
    middle = np.median(said, axis=0)
    spread = 1.4826 * np.median(np.abs(said - middle), axis=0)
    unlikely = np.abs(even[:, 0] - middle) > 3.8 * spread / np.sqrt(len(velocity)) + _REACH_UM_S
    size[unlikely.any(axis=1)] *= 0.5
    first = 1 + int(np.argmax(size[1:]))
    going = weight > 0.6 * np.max(weight)
    agree = np.hypot(*(velocity - even[first, 0]).T) < _REACH_UM_S
    if going.sum() >= 3 and agree[going].mean() >= 0.6 and np.hypot(*even[first, 0]) > _REACH_UM_S:
        size[0] = 0.0  # nearly all that gets anywhere goes one way
    best, largest = even[int(np.argmax(size))], float(size.max())
    if len(velocity) < 8:
        return np.asarray(best)
    rng = np.random.default_rng(0)
    triples = np.array([rng.choice(len(velocity), 3, replace=False) for _ in range(400)])
    corners = design[triples]
    sound = np.abs(np.linalg.det(corners)) > 0.1  # three places that span some of the field
    if not sound.any():
        return np.asarray(best)
    fits = np.linalg.solve(corners[sound], velocity[triples[sound]])
    fits = fits[np.abs(fits[:, 1:]).max(axis=(1, 2)) < 100 * _STEEPEST_PER_S]
    if not len(fits):
        return np.asarray(best)
    size = crowd(fits)
    return np.asarray(fits[int(np.argmax(size))] if size.max() > 1.25 * largest + 2.5 else best)


def _word(path: Path) -> float:
    """Return how much a track has to say: long, seen throughout, and gone somewhere."""
    far = float(np.hypot(*(path.xy_um[-1] - path.xy_um[0])))
    return min(path.seconds, 3.0) * float(path.seen.mean()) ** 2 * (0.3 + 0.7 * min(1.0, far / _FAR_UM))


def _slope(path: Path) -> Values:
    t = path.times_s - path.times_s.mean()
    return np.asarray((t[:, None] * path.xy_um).sum(axis=0) / (t**2).sum())
