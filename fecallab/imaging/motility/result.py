"""What a clip shows, as plain data: counts with intervals, tracks with reasons, and what could not be told."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.errors import Reason
from fecallab.domain.motility import Kinematics

KINDS = ("swimming", "drifting", "trembling", "stuck", "cannot-tell")
"""What a track can be."""

CSV_COLUMNS = (
    *("track", "kind", "scene", "frame", "time_s", "x_px", "y_px", "x_in_fluid_um", "y_in_fluid_um"),
    *("length_um", "width_um", "vcl_um_s", "vsl_um_s", "vap_um_s", "linearity", "straightness", "manner"),
)


@dataclass(frozen=True, kw_only=True)
class MovingBody:
    """One track.

    Attributes
    ----------
    number : int
        From 1; swimmers first.
    kind : str
        One of `KINDS`.
    why : str
        The reason, in plain words.
    scene : int
        The field it lies in, from 0; a cut in the clip begins another.
    frames : ndarray, shape (n,)
        Frame numbers in the clip.
    times_s : ndarray, shape (n,)
    xy_px : ndarray, shape (n, 2)
        Column and row in the picture of that frame.
    own_um : ndarray, shape (n, 2)
        Places in the fluid, without stream and shake, µm.
    length_um, width_um : float
        Rough size of what moves.
    motion : Kinematics or None
        In the fluid; None for stuck things.
    manner : tuple of str
        Words for how it moves, those of the organism table.
    moves_like : tuple of str
        Groups with a stage of this size that moves in this manner; a hint, never a name.
    """

    number: int
    kind: str
    why: str
    scene: int
    frames: NDArray[np.intp]
    times_s: NDArray[np.float64]
    xy_px: NDArray[np.float64]
    own_um: NDArray[np.float64]
    length_um: float
    width_um: float
    motion: Kinematics | None = None
    manner: tuple[str, ...] = ()
    moves_like: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        m = self.motion
        return {
            "number": self.number,
            "kind": self.kind,
            "why": self.why,
            "scene": self.scene,
            "first_s": float(self.times_s[0]),
            "last_s": float(self.times_s[-1]),
            "x_px": float(self.xy_px[0, 0]),
            "y_px": float(self.xy_px[0, 1]),
            "last_x_px": float(self.xy_px[-1, 0]),
            "last_y_px": float(self.xy_px[-1, 1]),
            "length_um": self.length_um,
            "width_um": self.width_um,
            "vcl_um_s": m.vcl_um_s if m else 0.0,
            "vsl_um_s": m.vsl_um_s if m else 0.0,
            "vap_um_s": m.vap_um_s if m else 0.0,
            "linearity": m.linearity if m else 0.0,
            "straightness": m.straightness if m else 0.0,
            "wobble": m.wobble if m else 0.0,
            "smoothing_window_frames": m.window if m else None,
            "manner": list(self.manner),
            "moves_like": list(self.moves_like),
        }


@dataclass(frozen=True, kw_only=True)
class MotilityResult:
    """What a clip shows.

    Attributes
    ----------
    assessable : bool
        False when the clip cannot answer; `reasons` say why and what to do.
    reasons, warnings : tuple of Reason
        What stands in the way; what to keep in mind.
    motile_count : int or None
        Swimmers as joined tracks; None when not assessable.
    motile_interval : (float, float) or None
        95 %, exact Poisson: what another clip of the same slide may show.
    mean_swimming_at_once : float or None
        Mean over time; broken tracks hardly touch it.
    mean_swimming_interval : (float, float) or None
        95 %, from the same Poisson count.
    passive_count : int
        Things in the field that do not swim: stuck ones, and the mean at once of drifting and trembling ones.
    drift_um_s : (float, float)
        Common stream in the picture, right and down.
    stream_agreement : float
        Share of the loose things that go with it.
    tracks : tuple of MovingBody
    um_per_px, width_px, height_px, frames, clip_seconds, fps
        The clip; `fps` is the middle rate by its true times.
    cuts_s : tuple of float
        When another field begins.
    camera_px : ndarray, shape (frames, 2)
        How far the content of each frame lies beside where it lay at first.
    """

    assessable: bool
    reasons: tuple[Reason, ...]
    warnings: tuple[Reason, ...]
    motile_count: int | None
    motile_interval: tuple[float, float] | None
    mean_swimming_at_once: float | None
    mean_swimming_interval: tuple[float, float] | None
    passive_count: int
    drift_um_s: tuple[float, float]
    stream_agreement: float
    tracks: tuple[MovingBody, ...]
    um_per_px: float
    width_px: int
    height_px: int
    frames: int
    clip_seconds: float
    fps: float
    cuts_s: tuple[float, ...] = ()
    camera_px: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))

    def of_kind(self, kind: str) -> tuple[MovingBody, ...]:
        """Return the tracks of one kind."""
        return tuple(one for one in self.tracks if one.kind == kind)

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        speeds = [one.motion.vcl_um_s for one in self.of_kind("swimming") if one.motion]
        return {
            "assessable": self.assessable,
            "reasons": [one.as_dict() for one in self.reasons],
            "warnings": [one.as_dict() for one in self.warnings],
            "motile_count": self.motile_count,
            "motile_count_ci95": list(self.motile_interval) if self.motile_interval else None,
            "mean_swimming_at_once": self.mean_swimming_at_once,
            "mean_swimming_ci95": list(self.mean_swimming_interval) if self.mean_swimming_interval else None,
            "passive_count": self.passive_count,
            "kinds": {kind: len(self.of_kind(kind)) for kind in KINDS},
            "median_vcl_um_s": float(np.median(speeds)) if speeds else None,
            "drift_um_s": list(self.drift_um_s),
            "stream_agreement": self.stream_agreement,
            "tracks": [one.as_dict() for one in self.tracks],
            "um_per_px": self.um_per_px,
            "width_px": self.width_px,
            "height_px": self.height_px,
            "frames": self.frames,
            "clip_seconds": self.clip_seconds,
            "fps": self.fps,
            "cuts_s": list(self.cuts_s),
        }

    def tracks_csv(self) -> str:
        """Return every place of every track as CSV, one row each, with the track's numbers repeated."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(CSV_COLUMNS)
        for one in self.tracks:
            m = one.motion
            numbers = (m.vcl_um_s, m.vsl_um_s, m.vap_um_s, m.linearity, m.straightness) if m else (0.0,) * 5
            tail = [
                f"{one.length_um:.2f}",
                f"{one.width_um:.2f}",
                *(f"{n:.4g}" for n in numbers),
                "; ".join(one.manner),
            ]
            for frame, time, xy, own in zip(one.frames, one.times_s, one.xy_px, one.own_um, strict=True):
                places = [f"{time:.5f}", *(f"{v:.2f}" for v in xy), *(f"{v:.3f}" for v in own)]
                writer.writerow([one.number, one.kind, one.scene, frame, *places, *tail])
        return out.getvalue()
