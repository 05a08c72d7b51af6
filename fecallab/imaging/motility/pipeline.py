"""From a clip to judged tracks, stretch by stretch, in bounded memory."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.camera import camera_path, is_jump, refined
from fecallab.imaging.motility.clips import Clip
from fecallab.imaging.motility.detect import bodies, limits_of, rim_of, signal, specks, stuck_things
from fecallab.imaging.motility.layers import Layer, still_layer
from fecallab.imaging.motility.steady import (
    Aligner,
    Grey,
    Mask,
    Spectrum,
    averaged,
    blur_of,
    lamp_of,
    lit_mask,
    shrink_for,
)

Values = NDArray[np.float64]
_CHUNK_BYTES = 220e6
_ALIGN_PIXELS = 60e3
_PAUSE_S = 2.0
_WORKERS = 2
_BLURRED_UM = 2.6  # of the sharpest edges (own choice: half of a small flagellate's width)
_BLURRED_PX = 1.5  # finer than that the camera does not tell


@dataclass
class Scene:
    """One field: everything between two cuts.

    Attributes
    ----------
    times_s : list of float
    camera_px : list of ndarray
        How far the content lies beside its first place, picture pixels.
    tables : list of ndarray
        Bodies of each frame: x, y (µm on the glass), area, length, width, angle, peak, and whether cut by the rim.
    specks : list of ndarray
        Small things of each frame that are too faint to be bodies beside the strong ones: the same columns.
    limits : list of float
        Least peak that counted as a body, for each stretch of the clip.
    """

    times_s: list[float] = field(default_factory=list)
    camera_px: list[Values] = field(default_factory=list)
    tables: list[Values] = field(default_factory=list)
    specks: list[Values] = field(default_factory=list)
    still: list[Values] = field(default_factory=list)
    brightness: list[float] = field(default_factory=list)
    limits: list[float] = field(default_factory=list)


@dataclass
class Taken:
    """A clip taken in: its scenes and what was measured on the way."""

    scenes: list[Scene]
    shrink: int
    mask: Mask | None
    frames: int
    dark: bool
    blurred: bool


def take_in(clip: Clip, um_per_px: float) -> Taken:
    """Go through the clip once and find the bodies of every frame."""
    shrink = shrink_for(clip.width_px, clip.height_px, um_per_px)
    reader = _Reader(shrink, um_per_px)
    for time, pixels in clip.frames():
        reader.add(time, pixels)
    reader.finish()
    return Taken(reader.scenes, shrink, reader.mask, reader.count, reader.dark, reader.blurred)


class _Reader:
    def __init__(self, shrink: int, um_per_px: float) -> None:
        self.shrink, self.um = shrink, um_per_px * shrink
        self.scenes: list[Scene] = []
        self.mask: Mask | None = None
        self.count = 0
        self.dark = False
        self.blurred = False
        self.last: Spectrum | None = None
        self.at = np.zeros(2)
        self.agreements: list[float] = []
        self.ground: Layer | None = None
        self.ground_at = np.zeros(2)
        self.held: list[tuple[Grey, Grey, Spectrum, Values]] = []

    def add(self, time: float, pixels: NDArray[np.generic]) -> None:
        grey = averaged(pixels, self.shrink)
        if self.mask is None:
            self._begin(grey)
        assert self.mask is not None
        level = float(np.median(grey[::4, ::4][self.mask[::4, ::4]]))
        self.count += 1
        full = 255.0 if pixels.dtype == np.uint8 else 65535.0
        if level < 0.02 * full and float(grey.max()) < 0.1 * full:
            self.dark = True
        grey /= np.float32(max(level, 1e-3 * full))
        coarse = self._coarse(grey)
        spectrum = self.aligner.spectrum(coarse)
        scene = self.scenes[-1]
        if scene.times_s and self.last is not None:
            step = self.aligner.shift(self.last, spectrum)
            if self._is_cut(step.agreement) or time - scene.times_s[-1] > _PAUSE_S:
                self.finish()
                scene = Scene()
                self.scenes.append(scene)
                self.at, self.agreements, self.ground = np.zeros(2), [], None
            elif is_jump(step):
                self.at = self.at + step.xy
            self.agreements.append(step.agreement)
        self.last = spectrum
        scene.times_s.append(time)
        scene.brightness.append(level)
        self.held.append((grey, coarse, spectrum, self.at.copy()))
        if len(self.held) * grey.nbytes * 1.5 > _CHUNK_BYTES:
            self.finish()

    def _begin(self, grey: Grey) -> None:
        self.mask = lit_mask(grey)
        self.coarse = 1
        while grey.size / self.coarse**2 > _ALIGN_PIXELS:
            self.coarse += 1
        self.aligner = Aligner(self._coarse(self.mask.astype(np.float32)) > 0.99)
        self.scenes = [Scene()]

    def _coarse(self, grey: Grey) -> Grey:
        if self.coarse == 1:
            return grey
        rows, columns = (side // self.coarse * self.coarse for side in grey.shape)
        cut = grey[:rows, :columns]
        total = cut[:: self.coarse, :: self.coarse].copy()
        for down in range(self.coarse):
            for right in range(self.coarse):
                if down or right:
                    total += cut[down :: self.coarse, right :: self.coarse]
        return np.asarray(total / self.coarse**2, np.float32)

    def _is_cut(self, agree: float) -> bool:
        before = self.agreements[-31:-1]
        return len(before) >= 3 and agree < 0.3 * float(np.median(before)) and agree < 0.2

    def finish(self) -> None:
        """Find the bodies of the frames held and let the frames go."""
        if not self.held or self.mask is None:
            return
        scene = self.scenes[-1]
        frames = [one[0] for one in self.held]
        jumps = np.array([one[3] for one in self.held])
        path, ground = camera_path(
            [one[1] for one in self.held], [one[2] for one in self.held], jumps, self.aligner
        )
        if self.ground is not None:  # the stretch before lies on its own background
            before = self.aligner.spectrum(self.ground.seen(self.aligner.mask.shape, self.ground_at))
            now = self.aligner.spectrum(ground.seen(self.aligner.mask.shape, path[0]))
            found = self.aligner.shift(before, now, 8)
            path = path - path[0] + self.ground_at + (found.xy if found.clear > 9 else 0.0)
        self.ground, self.ground_at, self.at = ground, path[-1], path[-1].copy()
        self.held = []
        camera = path * self.coarse
        stack = np.array(frames, np.float32)
        stack /= lamp_of(stack, self.mask)
        frames = list(stack)
        if np.ptp(camera, axis=0).max() > 0.05:
            camera = refined(stack, camera, Aligner(self.mask))
        layer = still_layer(stack, camera, self.mask, careful=True)
        if not scene.tables:
            places = [layer.seen(self.mask.shape, camera[0]), stack[len(stack) // 2]]
            told = [one for one in (blur_of(place, self.mask) for place in places) if one is not None]
            self.blurred |= bool(told) and min(told) * self.um > max(_BLURRED_UM, _BLURRED_PX * self.um)
        picks = range(0, len(frames), max(1, len(frames) // 10))
        limits = limits_of([signal(frames[k], camera[k], layer, self.mask) for k in picks], self.mask)
        scene.limits.append(limits.high - limits.floor)
        mask, rim = self.mask, rim_of(self.mask)

        def found_in(frame: Grey, moved: Values) -> tuple[Values, Values]:
            shown = signal(frame, moved, layer, mask)
            here = limits.within(shown, mask)
            return bodies(shown, here, rim), specks(shown, here, rim)

        with ThreadPoolExecutor(_WORKERS) as pool:
            for moved, found_now in zip(camera, pool.map(found_in, frames, camera), strict=True):
                for table in found_now:
                    table[:, :2] = (table[:, :2] - moved) * self.um
                    table[:, 2] *= self.um**2
                    table[:, 3:5] *= self.um
                scene.tables.append(found_now[0])
                scene.specks.append(found_now[1])
                scene.camera_px.append(moved * self.shrink)
        if not scene.still:
            scene.still = list(stuck_things(layer, camera[0], self.mask, self.um))
