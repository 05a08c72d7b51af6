"""The common stream: what most moving things share, with its change over the field."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.paths import (
    Path,
    carried_velocity,
    local_velocity,
    mean_velocity,
    seen_whole,
    stays_on_glass,
)
from fecallab.imaging.motility.tremble import tremble_um2_s, trembles_freely, unrest_of, wander_um2_s2

Values = NDArray[np.float64]
_STEEPEST_PER_S, _FAR_UM = 0.12, 6.0
_SHEAR_KNOWN_PER_S = 0.005
_LEAST_S = 0.4
_LEAST_ERROR, _TURNS = 0.25, 20.0  # µm/s
_MOST_TREMBLE = 0.4  # µm²/s in a quiet clip: what shakes more may turn of itself
_HOLDS, _STRONG_UM_S = 0.12, 4.0  # of the stream; µm/s
_STAYS_UM_S, _MOST_STAYING = 1.2, 0.8
_EVEN_ODDS_UM, _LEAST_ODDS, _MOST_ODDS = 6.0, 0.33, 1.7  # small things seldom swim, large ones seldom float
_CARRIED_SHARES = (0.03, 0.1, 0.3, 0.6, 0.9)
_USUAL_STREAM, _USUAL_CHANGE = 15.0, 5.0  # µm/s, and µm/s in 100 µm
_SWIMMERS = ((0.3, 8.0), (0.5, 30.0), (0.2, 100.0))  # shares and spreads, µm/s
_DIRECTIONS = [np.array([np.cos(a), np.sin(a)]) for a in np.arange(12) * np.pi / 12]
# log of the volume of the streams that could have been
_COST_EVEN, _COST_SHEAR, _COST_UNEVEN = 12.1, 15.0, 21.0
_FLAWS = 0.5  # of what is too faint to be judged
_REST_PER_S, _MOST_AT_REST = 1.0, 6.0  # what things that tremble on the spot say for a fluid at rest


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

    @property
    def strong(self) -> bool:
        """Whether what is held on the glass would seem to swim in it."""
        return float(np.hypot(*self.velocity_um_s)) > _STRONG_UM_S

    def at(self, xy_um: Values) -> Values:
        """Return the stream at places, µm/s."""
        return np.asarray(self.velocity_um_s + (xy_um - self.middle_um) @ self.gradient_per_s.T)

    def taken_from(self, path: Path) -> Path:
        """Return the path with its own motion in the fluid."""
        flow = self.at(path.xy_um)
        steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(path.times_s)[:, None]
        carried = np.vstack([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
        return replace(path, own_um=path.xy_um - carried)

    def only_drags(self, path: Path, lag: float) -> bool:
        """Return whether a body's own way keeps to the stream's line, where too few guides tell of shear.

        Parameters
        ----------
        path : Path
        lag : float
            Share of the stream by which carried things of this clip differ from it.
        """
        fast = float(np.hypot(*self.velocity_um_s))
        if fast < 4.0 or float(np.abs(self.gradient_per_s).max()) > _SHEAR_KNOWN_PER_S:
            return False
        own = (path.own_um[-1] - path.own_um[0]) / max(path.seconds, 1e-9)
        line = self.velocity_um_s / fast
        across = abs(float(own[0] * line[1] - own[1] * line[0]))
        pace = float(np.median(np.hypot(*local_velocity(path.own_um, path.times_s, 0.3).T)))
        most = min(3 * (0.5 + lag * fast), 0.45 * fast)
        return across < 1.5 and float(np.hypot(*own)) < most and pace < 0.6 * fast

    def holds_place(self, path: Path) -> bool:
        """Return whether a body hardly moves on the glass while the fluid streams: stuck, or a flaw of the picture."""
        fast = float(np.hypot(*self.velocity_um_s))
        middle = np.median(path.xy_um, axis=0)
        spread = float(np.percentile(np.hypot(*(path.xy_um - middle).T), 75))
        room = max(3.0, 0.15 * float(np.median(path.size[:, 1])))
        half = len(path) // 2
        way = np.median(path.xy_um[half:], axis=0) - np.median(path.xy_um[: half + 1], axis=0)
        pace = 2 * float(np.hypot(*way)) / max(path.seconds, 1e-9)
        return self.strong and spread < room and pace < _HOLDS * fast


def no_stream(middle_um: Values) -> Stream:
    """Return a fluid at rest."""
    return Stream(middle_um, np.zeros(2), np.zeros((2, 2)), 0.0)


def common_stream(paths: Sequence[Path], middle_um: Values, faint: Sequence[Path] = ()) -> Stream:
    """Find the stream that carries what does not swim.

    Each track either is carried, and then goes as the stream does within what trembling allows, or swims, and then
    may go anywhere around it. A fluid at rest, one that goes the same way everywhere and one that changes evenly over
    the field are weighed by how probable they make all tracks together; a stream that needs more numbers must explain
    more (the volume of what it could have been is counted against it).

    Parameters
    ----------
    paths : sequence of Path
        On the glass.
    middle_um : ndarray, shape (2,)
        Middle of the field.
    faint : sequence of Path, optional
        Of things too faint to be judged, as :func:`fecallab.imaging.motility.guides.faint_guides` gives them.
    """
    long = [one for one in paths if one.seconds >= _LEAST_S and len(one) >= 6]
    free = _each_once([*[one for one in long if not stays_on_glass(one)], *faint])
    too_faint = {id(one) for one in faint}
    told = [(whole, id(one) in too_faint) for one in free if (whole := seen_whole(one)) is not None]
    loose = [one for one, _ in told]
    if len(loose) < 2:
        return no_stream(middle_um)
    at_rest = sum(one.seconds for one in long if stays_on_glass(one) and trembles_freely(one))
    votes = _votes_of(loose, np.array([is_faint for _, is_faint in told]), middle_um)
    rest = np.zeros((3, 2))
    # where the film makes small things jump, its flaws lie there and tremble too
    held = min(_REST_PER_S * at_rest, _MOST_AT_REST) / unrest_of(long) ** 2
    said = [(votes.score(rest[None])[0] + held, rest)]
    even = votes.sharpened(votes.best_of(votes.even()), _evenly)
    said.append((votes.score(even[None])[0] - _COST_EVEN, even))
    if len(loose) >= 4:
        sheared = votes.sharpened(votes.best_of(votes.sheared(even)), _sheared)
        said.append((votes.score(sheared[None])[0] - _COST_SHEAR, sheared))
    if len(loose) >= 6:
        uneven = votes.sharpened(votes.best_of(votes.uneven(even)), _unevenly)
        said.append((votes.score(uneven[None])[0] - _COST_UNEVEN, uneven))
    best = _weighed(said)
    return Stream(middle_um, best[0], best[1:].T / 100.0, votes.agreement(best))


def _weighed(said: Sequence[tuple[float, Values]]) -> Values:
    """Return a fluid at rest where that is likeliest, else the mean of the flows by how likely each is."""
    scores = np.array([score for score, _ in said])
    if int(scores.argmax()) == 0:
        return said[0][1]
    chance = np.exp(scores[1:] - scores[1:].max())
    return np.asarray(np.average([fit for _, fit in said[1:]], axis=0, weights=chance))


@dataclass(frozen=True)
class _Votes:
    """What each track says: its velocity, how finely it is known, and how steadily it went."""

    design: Values  # (n, 3): 1 and the place beside the middle, in 100 µm
    velocity: Values  # (n, 2)
    error: Values  # (n,), µm/s per axis
    steady: Values  # (n,) how much likelier its two halves are for a carried thing than for a swimmer
    weight: Values  # (n,) share of frames in which it was seen, squared
    word: Values  # (n,)
    flaw: Values  # (n,) share of such things that are flaws of the picture
    wanders: Values  # (n,) how probable its velocity is for a flaw, which wanders about a place on the glass

    def score(self, fits: Values) -> Values:
        """Return, for each flow, log of how probable it makes the tracks, up to what is the same for all flows."""
        far2 = ((self.velocity[None] - self.design @ fits) ** 2).sum(axis=2)
        carried = np.exp(-far2 / (2 * self.error**2)) / self.error**2 * self.steady
        swims = np.zeros_like(carried)
        for share, spread in _SWIMMERS:
            wide = spread**2 + self.error**2
            swims += share * np.exp(-far2 / (2 * wide)) / wide
        swims = (1 - self.flaw) * swims + self.flaw * self.wanders
        told = [
            (np.log((1 - share) * swims + share * carried + 1e-12) * self.weight).sum(axis=1)
            for share in _CARRIED_SHARES
        ]
        unlikely = 1.5 * np.log1p((fits[:, 0] ** 2).sum(axis=1) / (2 * _USUAL_STREAM**2))
        unlikely += (fits[:, 1:] ** 2).sum(axis=(1, 2)) / (2 * _USUAL_CHANGE**2)
        return np.asarray(np.max(told, axis=0) - unlikely)

    def even(self) -> Values:
        fits = np.zeros((len(self.velocity), 3, 2))
        fits[:, 0] = self.velocity
        return fits

    def _drawn(self, even: Values, size: int, most: int) -> NDArray[np.intp]:
        """Return groups of tracks, those oftener that go about as the even flow does."""
        rng = np.random.default_rng(0)
        far2 = ((self.velocity - even[0]) ** 2).sum(axis=1)
        chance = self.weight / self.error / (1 + far2 / _USUAL_CHANGE**2) + 1e-9
        chance = chance / chance.sum()
        return np.array([rng.choice(len(chance), size, replace=False, p=chance) for _ in range(most)])

    def sheared(self, even: Values) -> Values:
        """Return flows along one line that change across it, through pairs of tracks."""
        fits = [even[None]]
        pairs = self._drawn(even, 2, 200)
        at, moved = self.design[pairs, 1:], self.velocity[pairs]
        for across in _DIRECTIONS:
            along = np.array([-across[1], across[0]])
            apart = (at[:, 1] - at[:, 0]) @ across
            sound = np.abs(apart) > 0.15
            change = ((moved[:, 1] - moved[:, 0]) @ along)[sound] / apart[sound]
            one = np.zeros((int(sound.sum()), 3, 2))
            one[:, 1:] = change[:, None, None] * np.outer(across, along)
            one[:, 0] = (moved[sound] - at[sound] @ one[:, 1:]).mean(axis=1)
            fits.append(one[np.abs(change) < 100 * _STEEPEST_PER_S])
        return np.concatenate(fits)

    def uneven(self, even: Values) -> Values:
        """Return flows through three tracks each."""
        triples = self._drawn(even, 3, 600)
        corners = self.design[triples]
        sound = np.abs(np.linalg.det(corners)) > 0.1  # three places that span some of the field
        if not sound.any():
            return even[None]
        fits = np.linalg.solve(corners[sound], self.velocity[triples[sound]])
        fits = fits[np.abs(fits[:, 1:]).max(axis=(1, 2)) < 100 * _STEEPEST_PER_S]
        return np.concatenate([even[None], fits])

    def best_of(self, fits: Values) -> Values:
        return np.asarray(fits[int(np.argmax(self.score(fits)))])

    def sharpened(self, fit: Values, way: Callable[[Values, Values, Values], Values]) -> Values:
        """Return the flow fitted anew, in `way`, to the tracks that it carries."""
        best = fit
        for _ in range(8):
            far2 = ((self.velocity - self.design @ best) ** 2).sum(axis=1)
            trust = self.weight / self.error**2 / (1 + far2 / (3 * self.error**2)) ** 2
            trust[far2 > (5 * self.error) ** 2] = 0
            if (trust > 0).sum() < 2:
                break
            best = way(self.design, self.velocity, trust)
        return best if self.score(best[None])[0] > self.score(fit[None])[0] - 3.0 else fit

    def agreement(self, fit: Values) -> float:
        far = np.hypot(*(self.velocity - self.design @ fit).T)
        return float(self.word[far < np.maximum(3 * self.error, 2.0)].sum() / self.word.sum())


def _evenly(design: Values, velocity: Values, trust: Values) -> Values:
    fit = np.zeros((3, 2))
    fit[0] = np.average(velocity, axis=0, weights=trust)
    return fit


def _unevenly(design: Values, velocity: Values, trust: Values) -> Values:
    root = np.sqrt(trust)[:, None]
    return np.asarray(np.linalg.lstsq(design * root, velocity * root, rcond=None)[0])


def _sheared(design: Values, velocity: Values, trust: Values) -> Values:
    at, middle = design[:, 1:], np.average(design[:, 1:], axis=0, weights=trust)
    usual = np.average(velocity, axis=0, weights=trust)
    best, least = _evenly(design, velocity, trust), np.inf
    for across in _DIRECTIONS:
        along = np.array([-across[1], across[0]])
        far, more = (at - middle) @ across, (velocity - usual) @ along
        change = float((trust * far * more).sum() / max((trust * far**2).sum(), 1e-9))
        fit = np.zeros((3, 2))
        fit[1:] = change * np.outer(across, along)
        fit[0] = usual - middle @ fit[1:]
        off = float((trust * ((velocity - design @ fit) ** 2).sum(axis=1)).sum())
        if off < least:
            best, least = fit, off
    return best


def _votes_of(paths: Sequence[Path], faint: NDArray[np.bool_], middle_um: Values) -> _Votes:
    at = np.array([one.xy_um.mean(axis=0) for one in paths])
    seconds = np.array([one.seconds for one in paths])
    tremble = np.array([tremble_um2_s(one) for one in paths])
    # the way of a path that trembles, over its time: variance 2 D / T, and a fifth more for errors of place
    unrest = unrest_of([one for one, is_faint in zip(paths, faint, strict=True) if not is_faint])
    most = _MOST_TREMBLE * unrest
    error = np.sqrt(_LEAST_ERROR**2 + 2.4 * np.clip(tremble, 0.05, most) / seconds)
    halves = np.array(
        [
            mean_velocity(one.part(len(one) // 2, len(one))) - mean_velocity(one.part(0, len(one) // 2))
            for one in paths
        ]
    )
    change2 = (halves**2).sum(axis=1)
    noise2 = 16 * (error**2 - _LEAST_ERROR**2) / 2 + 1.0
    calm = np.exp(-change2 / (2 * noise2)) / noise2
    wild = np.exp(-change2 / (2 * (noise2 + _TURNS**2))) / (noise2 + _TURNS**2)
    lengths = np.array([float(np.median(one.size[:, 1])) for one in paths])
    small = np.clip(_EVEN_ODDS_UM / lengths, _LEAST_ODDS, _MOST_ODDS)
    weight = np.array([float(one.seen.mean()) ** 2 for one in paths])
    velocity = np.array([carried_velocity(one) for one in paths])
    # the edge of a stuck thing may flicker and so seem loose: those that stay say little, however many
    stay = np.hypot(*velocity.T) < _STAYS_UM_S * np.sqrt(unrest) + error
    weight[stay] *= min(1.0, _MOST_STAYING / max(float(weight[stay].sum()), 1e-9))
    wander2 = wander_um2_s2(tremble, seconds)
    return _Votes(
        design=np.column_stack([np.ones(len(at)), (at - middle_um) / 100.0]),
        velocity=velocity,
        error=error,
        steady=small * (calm + 1e-12) / (0.6 * calm + 0.4 * wild + 1e-12),
        weight=weight,
        word=np.array([_word(one) for one in paths]),
        flaw=np.where(faint, _FLAWS, 0.0),
        wanders=np.exp(-(velocity**2).sum(axis=1) / (2 * wander2)) / wander2,
    )


def _each_once(paths: Sequence[Path]) -> list[Path]:
    """Leave out tracks that another one, lost for a while, goes on as: one body has one vote."""
    order = sorted(paths, key=lambda one: -one.seconds)
    kept: list[Path] = []
    for one in order:
        if not any(_goes_on(one, other) or _goes_on(other, one) for other in kept):
            kept.append(one)
    return kept


def _goes_on(one: Path, other: Path) -> bool:
    gap = other.times_s[0] - one.times_s[-1]
    if not -0.1 <= gap <= 1.0:
        return False
    speeds = mean_velocity(one), mean_velocity(other)
    reach = 3.0 + 0.3 * float(np.median(one.size[:, 1])) + 4.0 * max(gap, 0)
    return any(float(np.hypot(*(other.xy_um[0] - one.xy_um[-1] - speed * gap))) < reach for speed in speeds)


def _word(path: Path) -> float:
    """Return how much a track has to say: long, seen throughout, and gone somewhere."""
    far = float(np.hypot(*(path.xy_um[-1] - path.xy_um[0])))
    return min(path.seconds, 3.0) * float(path.seen.mean()) ** 2 * (0.3 + 0.7 * min(1.0, far / _FAR_UM))
