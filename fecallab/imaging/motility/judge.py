"""One field: link, find the stream, tell what swims, and what speaks against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.motility import kinematics
from fecallab.imaging.motility.adequate import FLOWING_MOST
from fecallab.imaging.motility.chances import drawn_chances
from fecallab.imaging.motility.decide import (
    Judged,
    bends_itself,
    judge_rest,
    mostly_rests,
    pieces_between,
    reach_um,
    swimming_stretches,
)
from fecallab.imaging.motility.doubts import STIRRED, Doubts, stirred_by
from fecallab.imaging.motility.evidence import Surroundings, evidence, guides_among
from fecallab.imaging.motility.exchange import untangled
from fecallab.imaging.motility.flow import CARRIED, foretold
from fecallab.imaging.motility.guides import faint_guides
from fecallab.imaging.motility.hops import without_hops
from fecallab.imaging.motility.join import join_swimmers, without_doubles
from fecallab.imaging.motility.link import link
from fecallab.imaging.motility.measure import to_measure
from fecallab.imaging.motility.odds import lag_of, swims_by_odds
from fecallab.imaging.motility.paths import Path, path_of, without_shared_ends
from fecallab.imaging.motility.pipeline import Scene
from fecallab.imaging.motility.stream import Stream, common_stream
from fecallab.imaging.motility.tremble import unrest_of

Values = NDArray[np.float64]
SWIMS_FROM, SWIMS_ALONE_FROM, MAY_SWIM_FROM = 0.5, 0.8, 0.3
"""Least chance of what is called swimming, of that where hardly anything else swims, and of what is called doubtful.

Own choice, set on drawn clips for tuning: a false swimmer costs most where nothing swims.
"""
_SURE, _FEW_SURE = 0.9, 3
_LEAST_SEEN_S, _LEAST_ASKED_S, _LEAST_REACH_UM = 0.3, 0.25, 5.0
_LOOSE_UM_S = 1.5
_UNLIKELY = -16.0  # logarithm of how much likelier a swimmer is


@dataclass(frozen=True)
class SceneAnswer:
    """One field, judged."""

    judged: list[Judged]
    stream: Stream
    seconds: float
    unguided: bool  # too few loose things beside the swimmers to tell a stream
    flowing: float  # share of would-be swimmers that move as their neighbours do


@dataclass(frozen=True)
class Parted:
    """The paths of a field by their way alone, and what they are weighed in."""

    would_be: list[Path]
    rest: list[Path]
    around: Surroundings

    @property
    def asked(self) -> list[Path]:
        """What may be a swimmer: the would-be swimmers, then of the rest what is seen for long enough."""
        return [*self.would_be, *(one for one in self.rest if _may_be_asked(one))]

    def evidence(self) -> Values:
        """Return what is told of each of those `asked`."""
        return evidence(self.would_be, self.asked[len(self.would_be) :], self.around)


def parted(scene: Scene, middle_um: Values) -> Parted:
    """Link the bodies of one field, find the stream and part the paths by their way in it."""
    times = np.array(scene.times_s)
    linked = without_hops(untangled(link(scene.tables, times), times), times)
    tracks = [one for one in linked if len(one.frames) >= 4]
    on_glass = [without_shared_ends(path_of(one, times), len(times) - 1) for one in tracks]
    stream = common_stream(on_glass, middle_um, faint_guides(scene.specks, times))
    unrest = unrest_of(on_glass)
    limit = float(np.median(scene.limits)) if scene.limits else 0.0
    paths = [stream.taken_from(one) for one in on_glass]
    told = [(one, swimming_stretches(one, stream.velocity_um_s)) for one in paths]
    around = Surroundings(
        stream=stream,
        lag=lag_of([one for one, found in told if not found], stream),
        unrest=unrest,
        limit=limit,
        middle_um=middle_um,
        camera_px=np.array(scene.camera_px).reshape(-1, 2),
    )
    return Parted(*_parted(told, around), around)


def judge_scene(scene: Scene, middle_um: Values) -> SceneAnswer:
    """Link, find the stream and judge the tracks of one field."""
    paths = parted(scene, middle_um)
    would_be, rest, stream = paths.would_be, paths.rest, paths.around.stream
    carried_share = foretold([*would_be, *rest], range(len(would_be)))
    known = np.isfinite(carried_share)
    many = int(np.sum(carried_share[known] > CARRIED)) >= 4
    flowing = float(np.mean(carried_share[known] > CARRIED)) if many else 0.0
    times = np.array(scene.times_s)
    doubts = Doubts(
        around=paths.around,
        would_be=would_be,
        guides=guides_among(rest),
        flowing=flowing,
        frames=len(times),
    )
    swims: list[Path] = []
    judged: list[Judged] = []
    carried = float(np.hypot(*stream.velocity_um_s)) > _LOOSE_UM_S
    others = [one for one in rest if not _may_be_asked(one)]
    chances = drawn_chances().chance(paths.evidence())
    few = few_others(chances)
    asked = np.where(few, SWIMS_ALONE_FROM, SWIMS_FROM)
    for k, (one, chance) in enumerate(zip(paths.asked, chances, strict=True)):
        if chance >= asked[k] and flowing <= FLOWING_MOST and not doubts.may_be_carried(one, bool(few[k])):
            swims.append(one)
        elif k < len(would_be):
            judged.append(doubts.kind_and_why(one, carried_share[k], bool(few[k])))
        elif chance >= MAY_SWIM_FROM:
            judged.append(Judged(one, "cannot-tell", "may swim slowly or now and then, or be carried"))
        else:
            others.append(one)
    swimmers = without_doubles(join_swimmers(swims))
    for one, stirred in zip(swimmers, stirred_by(swimmers), strict=True):
        judged.append(Judged(one, "cannot-tell", STIRRED) if stirred else _swimmer(one))
    judged += [
        judge_rest(one, carried) for one in others if one.seconds >= _LEAST_SEEN_S and one.seen.mean() > 0.5
    ]
    loose = sum(one.kind in ("drifting", "trembling") and one.path.seconds >= 0.4 for one in judged)
    unguided = bool(would_be) and loose < 3 and len(scene.still) < 3
    seconds = float(times[-1] - times[0]) if len(times) > 1 else 0.0
    return SceneAnswer(judged, stream, seconds, unguided, flowing)


def few_others(chances: Values) -> NDArray[np.bool_]:
    """Return for each path whether hardly another surely swims."""
    sure = chances >= _SURE
    return np.asarray(int(sure.sum()) - sure.astype(int) < _FEW_SURE)


def _may_be_asked(path: Path) -> bool:
    return path.seconds >= _LEAST_ASKED_S and len(path) >= 5


def _parted(told: Sequence[tuple[Path, list[Path]]], around: Surroundings) -> tuple[list[Path], list[Path]]:
    """Return what swims by its way, pieces joined, and the paths in which nothing does."""
    parts: list[Path] = []
    rest: list[Path] = []
    for one, found in told:
        if mostly_rests(one, found):
            left = pieces_between(one, found)
            found = found + [piece for piece in left if swims_by_odds(piece, around.odds, around.limit)]
        parts.extend(found)
        if not found:
            rest.append(one)
    swimmers: list[Path] = []
    for one in without_doubles(join_swimmers(parts)):
        gets_on = one.seconds >= _LEAST_SEEN_S and reach_um(one) > _LEAST_REACH_UM
        if around.stream.strong and around.odds(one) < _UNLIKELY and not bends_itself(one):
            gets_on = False  # held on the glass, or carried
        (swimmers if gets_on else rest).append(one)
    return swimmers, rest


def _swimmer(one: Path) -> Judged:
    if reach_um(one) < float(np.median(one.size[:, 1])) and bends_itself(one):
        return Judged(one, "swimming", "bends or turns of itself; a carried body keeps its outline")
    clear, part = to_measure(one)
    speed = kinematics(clear[part], one.times_s[part], 1).vcl_um_s
    return Judged(one, "swimming", f"keeps a course of its own through the fluid at {speed:.0f} µm/s")
