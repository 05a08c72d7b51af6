"""What drawn fields share: a body with its truth, what lies inside a wall, pollen, angular flakes, thick bubbles, and how a picture is stored."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

Plane = NDArray[np.float32]
Rng = np.random.Generator


@dataclass(frozen=True)
class Sketched:
    """One body with its truth, in pixels and µm.

    Attributes
    ----------
    kind : str
    counts : bool
        Whether it is something to propose; look-alikes are not.
    x_px, y_px, length_um, width_um, angle_deg : float
    """

    kind: str
    counts: bool
    x_px: float
    y_px: float
    length_um: float
    width_um: float
    angle_deg: float


def pollen(
    rng: Rng, depth: Plane, u: Plane, v: Plane, wide: float, um_per_px: float, *, spiny: bool
) -> Plane:
    """A thick outer wall, netted or rodded; three pores interrupt it, unless there are spines."""
    inside = np.clip(depth / 0.6 + 0.5, 0, 1)
    thick = wide * rng.uniform(0.06, 0.12)
    mesh = ndimage.gaussian_filter(
        rng.standard_normal(depth.shape), wide * rng.uniform(0.02, 0.05) / um_per_px
    )
    net = np.exp(-((mesh / (0.5 * mesh.std() + 1e-6)) ** 2))
    tone = inside * rng.uniform(0.15, 0.6) * (1 + rng.uniform(0.5, 1.2) * (net - 0.5))
    wall = np.clip(depth / 0.5 + 0.5, 0, 1) * np.clip((thick - depth) / (0.3 * thick) + 0.5, 0, 1)
    if not spiny:
        turn, pores = rng.uniform(0, 6.28), int(rng.choice([3, 3, 3, 4]))
        theta = np.arctan2(v, u) - turn
        gap = np.exp(-((np.abs((theta * pores / 2 / np.pi) % 1 - 0.5) / rng.uniform(0.06, 0.11)) ** 2))
        wall *= 1 - gap
        tone *= 1 - 0.8 * gap * np.exp(-(((depth - thick) / (1.6 * thick)) ** 2))
    return np.asarray(tone + wall * rng.uniform(0.3, 0.8), np.float32)


def contents(rng: Rng, u: Plane, v: Plane, wide: float) -> Plane:
    """Bodies inside a wall: none, one ball, or a few small ovals."""
    total = np.zeros_like(u)
    for _ in range(int(rng.integers(0, 5))):
        r = wide * rng.uniform(0.12, 0.3)
        away, turn = wide * rng.uniform(0, 0.22), rng.uniform(0, 6.28)
        du, dv = u - away * np.cos(turn), v - away * np.sin(turn)
        depth = r - np.hypot(du * rng.uniform(0.7, 1.0), dv)
        total += np.exp(-((depth / 0.45) ** 2)) * rng.uniform(0, 0.35)
        total += np.clip(depth / 0.8, 0, 1) * rng.uniform(0, 0.25)
    return total


def flake(rng: Rng, dx: Plane, dy: Plane, size: float) -> Plane:
    """Tone of a flat angular flake, sand or a scrap of plant: corners by lot, some of them drawn out to spikes."""
    corners = int(rng.integers(4, 12))
    at = np.sort((np.arange(corners) + rng.uniform(-0.35, 0.35, corners)) * 2 * np.pi / corners)
    far = 0.5 * size * rng.uniform(float(rng.uniform(0.5, 0.85)), 1, corners)
    far[rng.random(corners) < 0.15] *= rng.uniform(1.1, 1.4)
    theta = (np.arctan2(dy, dx) - rng.uniform(0, 6.28)) % (2 * np.pi)
    before = (np.searchsorted(at, theta) - 1) % corners
    after = (before + 1) % corners
    a, b, one, other = far[before], far[after], at[before], at[after]
    side = np.sin((other - one) % (2 * np.pi))
    edge = (
        a * b * side / (a * np.sin((theta - one) % (2 * np.pi)) + b * np.sin((other - theta) % (2 * np.pi)))
    )
    depth = edge - np.hypot(dx, dy)
    tone = np.clip(depth / rng.uniform(0.3, 1.5) + 0.5, 0, 1) * rng.uniform(0.2, 1.1)
    grain = rng.standard_normal(depth.shape)
    tone = tone * np.clip(1 + float(rng.choice([0.0, rng.uniform(0, 0.3)])) * grain, 0, 2)
    line = np.exp(-((depth / 0.6) ** 2)) * float(rng.choice([0.0, rng.uniform(0, 0.4)]))
    return np.asarray(tone + line, np.float32)


def thick_bubble(rng: Rng, dx: Plane, dy: Plane, size: float) -> Plane:
    """Tone of a bubble whose black rim is thick and ends sharply on both sides; a slice of it is no body."""
    depth = 0.5 * size - np.hypot(dx, dy)
    rim = 0.5 * size * rng.uniform(0.25, 0.65)
    soft = rng.uniform(0.4, 1.2)
    tone = np.clip(depth / soft + 0.5, 0, 1) * np.clip((rim - depth) / soft + 0.5, 0, 1)
    return np.asarray(tone * rng.uniform(0.9, 2.4), np.float32)


def stored(picture: NDArray[np.floating], rng: Rng) -> NDArray[np.uint8]:
    """Return a picture in 8 bits, more often than not as JPEG of a quality by lot leaves it."""
    plain = np.clip(picture, 0, 255).astype(np.uint8)
    if rng.random() >= 0.6:
        return np.asarray(plain, np.uint8)
    out = io.BytesIO()
    Image.fromarray(plain).save(out, "JPEG", quality=int(rng.integers(60, 96)))
    return np.asarray(Image.open(out), np.uint8)
