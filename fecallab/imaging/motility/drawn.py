"""Drawn clips with their truth: swimmers, trembling and stuck things, a stream, and the faults of real clips.

Everything here is drawn by rule and by lot; nothing was made from a film.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.motility.bodies import look_by_lot

Frames = NDArray[np.uint8]
Path = NDArray[np.float64]
_ROOM_UM = 25.0  # things move in an area that is this much larger than the picture


@dataclass(frozen=True, kw_only=True)
class ClipSpec:
    """How a clip is made.

    Attributes
    ----------
    width_px, height_px, um_per_px, fps, seconds
        Size, scale and length.
    style : str
        How bodies look, one of `fecallab.imaging.motility.bodies.STYLES`.
    swimmers, trembling, stuck : int
        How many in an area a little larger than the picture.
    speed_um_s : (float, float)
        Range of the swimmers' speeds; drawn evenly on a log scale.
    length_um, aspect : (float, float)
        Range of the bodies' long axes and of long over short.
    turning : float
        How fast headings wander, rad²/s.
    pausing : float
        Share of swimmers that stop now and then.
    wobble_um : float
        Side-to-side swing while swimming.
    circling : float
        Share of swimmers that go round on the spot.
    particle_um : (float, float)
        Range of diameters of trembling particles.
    stream_um_s : (float, float)
        Common stream at the middle of the picture.
    shear_per_s : float
        Change of the stream along x with y.
    jet_um_s : float
        A narrow bent current; 0 for none.
    jumps : int
        How often the stage is nudged.
    shake_px : float
        Random shake, standard deviation per frame.
    flicker, blur_px, noise, contrast, uneven, crf
        Light, focus, grain and compression (`crf` is the writer's; None leaves the frames as they are).
    circle : bool
        A lit circle in a dark surround.
    """

    width_px: int = 720
    height_px: int = 540
    um_per_px: float = 0.4
    fps: float = 30.0
    seconds: float = 3.0
    style: str = "dark"
    swimmers: int = 8
    trembling: int = 40
    stuck: int = 30
    speed_um_s: tuple[float, float] = (15.0, 100.0)
    length_um: tuple[float, float] = (8.0, 14.0)
    aspect: tuple[float, float] = (1.3, 2.0)
    turning: float = 0.6
    pausing: float = 0.0
    wobble_um: float = 0.0
    circling: float = 0.0
    particle_um: tuple[float, float] = (1.0, 4.0)
    stream_um_s: tuple[float, float] = (0.0, 0.0)
    shear_per_s: float = 0.0
    jet_um_s: float = 0.0
    jumps: int = 0
    shake_px: float = 0.0
    flicker: float = 0.0
    blur_px: float = 0.8
    noise: float = 2.0
    contrast: float = 0.4
    uneven: float = 0.15
    circle: bool = False


@dataclass(frozen=True)
class DrawnClip:
    """Frames with their truth.

    Attributes
    ----------
    frames : ndarray of uint8, shape (time, height, width)
    times_s : ndarray, shape (time,)
    swimmers, trembling, stuck : ndarray, shape (count, time, 2)
        Column and row in the picture.
    speeds_um_s : ndarray, shape (swimmers,)
        Path length in the fluid over time spent moving.
    lengths_um : ndarray, shape (swimmers,)
    stream_um_s : (float, float)
        Mean stream over the picture.
    """

    spec: ClipSpec
    frames: Frames
    times_s: NDArray[np.float64]
    swimmers: Path
    trembling: Path
    stuck: Path
    speeds_um_s: NDArray[np.float64]
    lengths_um: NDArray[np.float64]
    stream_um_s: tuple[float, float]


def draw_clip(spec: ClipSpec, seed: int) -> DrawnClip:
    """Draw a clip; the same `spec` and `seed` give the same clip.

    Parameters
    ----------
    spec : ClipSpec
        What it shows and how it is taken.
    seed : int
        Any whole number from 0.

    Returns
    -------
    DrawnClip
    """
    rng = np.random.default_rng([seed, 9])
    count = max(1, round(spec.seconds * spec.fps))
    times = np.arange(count) / spec.fps
    camera = _camera_path(spec, count, rng)
    swim, heads, speeds = _swimmers(spec, count, rng)
    loose, _ = _carried(spec, _start(spec, spec.trembling, rng), np.zeros((spec.trembling, count, 2)))
    diameters = np.exp(rng.uniform(np.log(spec.particle_um[0]), np.log(spec.particle_um[1]), spec.trembling))
    loose = _trembled(spec, loose, 0.43 / np.maximum(diameters, 0.3), rng)
    stuck = np.repeat(_start(spec, spec.stuck, rng)[:, None], count, axis=1)
    looks = [look_by_lot(spec.style, *_size(spec, rng), spec.contrast, rng) for _ in range(spec.swimmers)]
    specks = [look_by_lot("speck", d, d, spec.contrast * rng.uniform(0.4, 1.0), rng) for d in diameters]
    lumps = []
    for _ in range(spec.stuck):
        size = float(np.exp(rng.uniform(np.log(2.0), np.log(25.0))))
        lumps.append(look_by_lot("lump", size, size * rng.uniform(0.4, 1), spec.contrast, rng))
    still_angles = rng.uniform(0, 2 * np.pi, spec.stuck)
    loose_angles = rng.uniform(0, 2 * np.pi, spec.trembling)
    ground = _Ground(spec, camera, rng)
    frames = np.empty((count, spec.height_px, spec.width_px), np.uint8)
    to_px = 1 / spec.um_per_px
    lit = _lamp(spec, rng)
    pump = 1 + spec.flicker * np.sin(2 * np.pi * rng.uniform(2, 9) * times + 1) * rng.uniform(0.5, 1, count)
    for k in range(count):
        canvas = ground.seen(camera[k])
        for group, looks_of, angles in (
            (stuck, lumps, still_angles),
            (loose, specks, loose_angles),
            (swim, looks, heads[:, k] if spec.swimmers else ()),
        ):
            for path, look, angle in zip(group, looks_of, angles, strict=True):
                x, y = path[k] * to_px + camera[k]
                look.stamp(canvas, x, y, angle, times[k], to_px, spec.blur_px)
        picture = np.exp(canvas) * lit * (200 * pump[k])
        picture += rng.normal(0, spec.noise, picture.shape) * np.sqrt(np.clip(picture, 4, 255) / 200)
        frames[k] = np.clip(np.round(picture), 0, 255)
    swim_px, loose_px, stuck_px = (group * to_px + camera[None] for group in (swim, loose, stuck))
    lengths = np.array([look.length_um for look in looks])
    mean_stream = (spec.stream_um_s[0], spec.stream_um_s[1])
    return DrawnClip(spec, frames, times, swim_px, loose_px, stuck_px, speeds, lengths, mean_stream)


def clip_by_lot(seed: int, style: str, **fixed: object) -> ClipSpec:
    """Return a clip drawn by lot within the range that clips of wet mounts take.

    Parameters
    ----------
    seed : int
        Any whole number from 0.
    style : str
        How bodies look.
    **fixed
        Attributes of :class:`ClipSpec` that are set instead.
    """
    rng = np.random.default_rng([seed, 31])
    fast = float(rng.choice([30, 60, 120, 200]))
    streaming = rng.random() < 0.55
    angle, strength = rng.uniform(0, 2 * np.pi), rng.uniform(2, 30) if streaming else 0.0
    spec = ClipSpec(
        um_per_px=float(rng.uniform(0.3, 0.7)),
        fps=float(rng.choice([15, 20, 25, 30, 30, 60])),
        style=style,
        swimmers=int(rng.choice([0, 1, 3, 6, 12, 25, 40])),
        trembling=int(rng.integers(5, 60)),
        stuck=int(rng.integers(3, 50)),
        speed_um_s=(float(rng.choice([5, 10, 20])), fast),
        length_um=[(6.0, 10.0), (8.0, 14.0), (10.0, 20.0)][rng.integers(3)],
        turning=float(rng.choice([0.1, 0.5, 1.5])),
        pausing=float(rng.choice([0, 0.3])),
        wobble_um=float(rng.choice([0, 0, 1.0])),
        stream_um_s=(float(strength * np.cos(angle)), float(strength * np.sin(angle))),
        shear_per_s=float(rng.choice([0, 0.02, 0.05])) if streaming else 0.0,
        jumps=int(rng.choice([0, 0, 1])),
        flicker=float(rng.choice([0, 0.02, 0.06])),
        blur_px=float(rng.uniform(0.6, 1.8)),
        noise=float(rng.uniform(1, 4)),
        contrast=float(rng.uniform(0.2, 0.6)),
        circle=bool(rng.random() < 0.25),
    )
    return replace(spec, **fixed)  # type: ignore[arg-type]


def _size(spec: ClipSpec, rng: np.random.Generator) -> tuple[float, float]:
    length = float(rng.uniform(*spec.length_um))
    return length, length / float(rng.uniform(*spec.aspect))


def _area_um(spec: ClipSpec) -> NDArray[np.float64]:
    return np.array([spec.width_px, spec.height_px]) * spec.um_per_px


def _start(spec: ClipSpec, count: int, rng: np.random.Generator) -> Path:
    return rng.uniform(-_ROOM_UM, _area_um(spec) + _ROOM_UM, (count, 2))


def stream_at(spec: ClipSpec, at_um: Path) -> Path:
    """Return the stream at places, µm/s, shape (…, 2)."""
    middle = _area_um(spec) / 2
    flow = np.empty_like(at_um)
    flow[..., 0] = spec.stream_um_s[0] + spec.shear_per_s * (at_um[..., 1] - middle[1])
    flow[..., 1] = spec.stream_um_s[1]
    if spec.jet_um_s:
        centre = middle[1] + 0.25 * middle[1] * np.sin(2.5 * at_um[..., 0] / middle[0])
        inside = np.exp(-(((at_um[..., 1] - centre) / (0.3 * middle[1])) ** 2))
        slope = 0.25 * middle[1] * 2.5 / middle[0] * np.cos(2.5 * at_um[..., 0] / middle[0])
        flow[..., 0] += spec.jet_um_s * inside
        flow[..., 1] += spec.jet_um_s * inside * slope
    return flow


def _carried(spec: ClipSpec, start: Path, own_steps: Path) -> tuple[Path, Path]:
    """Integrate stream and own steps; a thing that leaves the area comes in at the other side."""
    low, size = -_ROOM_UM, _area_um(spec) + 2 * _ROOM_UM
    at = start.copy()
    path = np.empty_like(own_steps)
    for k in range(path.shape[1]):
        path[:, k] = at
        at = at + stream_at(spec, at) / spec.fps + own_steps[:, k]
        at = (at - low) % size + low
    return path, at


def _trembled(spec: ClipSpec, path: Path, diffusion: NDArray[np.float64], rng: np.random.Generator) -> Path:
    steps = rng.normal(size=path.shape) * np.sqrt(2 * diffusion / spec.fps)[:, None, None]
    return path + np.cumsum(steps, axis=1)


def _swimmers(
    spec: ClipSpec, count: int, rng: np.random.Generator
) -> tuple[Path, NDArray[np.float64], NDArray[np.float64]]:
    """Return paths, headings over time and speeds."""
    n, dt = spec.swimmers, 1 / spec.fps
    speed = np.exp(rng.uniform(np.log(spec.speed_um_s[0]), np.log(spec.speed_um_s[1]), n))
    turn = rng.normal(size=(n, count)) * np.sqrt(spec.turning * dt)
    circling = rng.random(n) < spec.circling
    around = rng.choice([-1, 1], n) * speed / rng.uniform(3, 7, n)
    turn[circling] = 0.2 * turn[circling] + (around * dt)[circling, None]
    heading = rng.uniform(0, 2 * np.pi, n)[:, None] + np.cumsum(turn, axis=1)
    moving = np.ones((n, count), bool)
    for one in np.flatnonzero(rng.random(n) < spec.pausing):
        at = rng.uniform(0.3, 1.0)
        while at < spec.seconds:
            stop = rng.uniform(0.2, 0.6)
            moving[one, int(at * spec.fps) : int((at + stop) * spec.fps)] = False
            at += stop + rng.uniform(0.5, 1.2)
    pace = np.where(moving, speed[:, None], 0.0)
    along = np.stack([np.cos(heading), np.sin(heading)], axis=-1)
    path, _ = _carried(spec, _start(spec, n, rng), pace[..., None] * along * dt)
    if spec.wobble_um:
        swing = spec.wobble_um * np.sin(
            2 * np.pi * rng.uniform(2, 4, (n, 1)) * np.arange(count) * dt + rng.uniform(0, 6, (n, 1))
        )
        path = path + swing[..., None] * np.stack([-along[..., 1], along[..., 0]], axis=-1)
    return path, heading, speed


def _camera_path(spec: ClipSpec, count: int, rng: np.random.Generator) -> Path:
    path = rng.normal(0, spec.shake_px, (count, 2)) if spec.shake_px else np.zeros((count, 2))
    for _ in range(spec.jumps):
        at = int(rng.uniform(0.2, 0.8) * count)
        angle, far = rng.uniform(0, 2 * np.pi), rng.uniform(6, 60)
        path[at:] += far * np.array([np.cos(angle), np.sin(angle)])
    return path


class _Ground:
    """Faint texture of the glass and of what lies out of focus, with room for the stage to move."""

    def __init__(self, spec: ClipSpec, camera: Path, rng: np.random.Generator) -> None:
        self.room = int(np.ceil(np.abs(camera).max())) + 2
        shape = (spec.height_px + 2 * self.room, spec.width_px + 2 * self.room)
        self.shape = (spec.height_px, spec.width_px)
        coarse = ndimage.gaussian_filter(rng.normal(size=shape).astype(np.float32), 25)
        fine = ndimage.gaussian_filter(rng.normal(size=shape).astype(np.float32), 3)
        texture = (0.03 * coarse / coarse.std() + 0.008 * fine / fine.std()).astype(np.float32)
        self.log = np.asarray(ndimage.gaussian_filter(texture, max(spec.blur_px - 0.8, 0.0)), np.float32)

    def seen(self, camera: Path) -> NDArray[np.float32]:
        """Return the part that the camera sees; a new array."""
        whole = np.floor(-camera).astype(int)
        part = -camera - whole
        x, y = self.room + whole
        h, w = self.shape
        cut = self.log[y : y + h + 1, x : x + w + 1]
        if not part.any():
            return np.array(cut[:h, :w], np.float32)
        across = cut[:, :-1] * (1 - part[0]) + cut[:, 1:] * part[0]
        return np.asarray(across[:-1] * (1 - part[1]) + across[1:] * part[1], np.float32)


def _lamp(spec: ClipSpec, rng: np.random.Generator) -> NDArray[np.float32]:
    y, x = np.mgrid[0 : spec.height_px, 0 : spec.width_px].astype(np.float32)
    x, y = x / spec.width_px - rng.uniform(0.35, 0.65), y / spec.height_px - rng.uniform(0.35, 0.65)
    lamp = 1 - spec.uneven * 2 * (x**2 + y**2)
    if spec.circle:
        radius = 0.48 * min(spec.width_px, spec.height_px)
        y, x = np.mgrid[0 : spec.height_px, 0 : spec.width_px].astype(np.float32)
        far = np.hypot(x - spec.width_px / 2, y - spec.height_px / 2)
        lamp = lamp / (1 + np.exp(np.clip((far - radius) / 2, -30, 30))) + 0.02
    return np.asarray(lamp, np.float32)
