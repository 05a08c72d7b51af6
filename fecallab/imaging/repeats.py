"""In which directions a picture repeats, and how finely: the first, rough part of finding a ruler."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from fecallab.imaging.grey import Grey

Floats = NDArray[np.float64]

FEWEST_LINES = 5
"""Fewer lines than this are no ruler here (own choice)."""
FINEST_PX = 3.2
"""Lines closer than this are not looked for (own choice: near the limit of a pixel grid)."""
_DIRECTIONS, _STEP_DEG = 4, 0.25


def flattened(grey: Grey) -> Grey:
    """Take uneven light and uneven contrast away, so that neither lamp nor burned-in text outshouts lines."""
    value = np.log(np.maximum(grey, 0.004))
    wide = max(16.0, min(grey.shape) / 6)
    value = (value - _wide_average(value, wide)).astype(np.float32)
    steps = np.abs(np.diff(value, axis=1))
    noise = 1.05 * float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0  # of one pixel
    power = np.sqrt(np.maximum(_wide_average(value**2, wide / 2), 0))
    return np.asarray(value / (power + 2 * noise + 0.004), np.float32)


def _wide_average(value: Grey, wide: float) -> Grey:
    """Average with a Gaussian of a width, worked out on a coarse copy."""
    small = max(1, int(wide / 8))
    rows, columns = (max(side // small, 1) * small for side in value.shape)
    blocks = value[:rows, :columns].reshape(rows // small, small, columns // small, small)
    smooth = ndimage.gaussian_filter(blocks.mean(axis=(1, 3)), wide / small)
    y = np.clip((np.arange(value.shape[0]) + 0.5) / small - 0.5, 0, smooth.shape[0] - 1)
    x = np.clip((np.arange(value.shape[1]) + 0.5) / small - 0.5, 0, smooth.shape[1] - 1)
    return np.asarray(_between(_between(smooth, y).T, x).T, np.float32)


def _between(rows: Grey, at: Floats) -> Grey:
    first = np.minimum(at.astype(int), rows.shape[0] - 2) if rows.shape[0] > 1 else np.zeros(at.shape, int)
    share = (at - first).astype(np.float32)[:, None]
    after = np.minimum(first + 1, rows.shape[0] - 1)
    return np.asarray(rows[first] * (1 - share) + rows[after] * share, np.float32)


def repeat_directions(flat: Grey, near_deg: float | None, within_deg: float) -> list[float]:
    """Directions in which the picture repeats most, strongest first."""
    window = np.outer(np.hanning(flat.shape[0]), np.hanning(flat.shape[1])).astype(np.float32)
    power = np.abs(fft.rfft2(flat * window, workers=2)) ** 2
    rows, columns = flat.shape
    lowest, highest = 4 / max(flat.shape), 1 / FINEST_PX
    radius = np.linspace(lowest, highest, int(min(2400, 2.2 * (highest - lowest) * max(flat.shape))))
    angles = np.radians(np.arange(0, 180, _STEP_DEG))
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    fx, fy = c * radius, s * radius
    flip = np.where(fx < 0, -1.0, 1.0)
    at = np.stack([(fy * flip * rows) % rows, fx * flip * columns])
    ray = ndimage.map_coordinates(power, at, order=1, mode="nearest")
    strength = ((ray * radius**2) ** 2).sum(axis=1)
    degrees = np.degrees(angles)
    if near_deg is not None:
        away = np.abs((degrees - near_deg + 90) % 180 - 90)
        strength = np.where(away <= within_deg, strength, -1.0)
    found: list[float] = []
    for k in np.argsort(strength)[::-1]:
        if strength[k] <= 0 or len(found) == _DIRECTIONS:
            break
        if all(abs((degrees[k] - other + 90) % 180 - 90) > 3 for other in found):
            found.append(float(degrees[k]))
    if near_deg is None and found:  # a long base line outshouts the short lines that stand on it
        found.append((found[0] + 90) % 180)
    return found


@dataclass(frozen=True)
class Strips:
    """The picture turned to a direction and averaged across it in strips."""

    value: Floats  # (strips, places)
    height: int
    step_px: float = 1.0


def strips_along(flat: Grey, angle_deg: float) -> Strips:
    """Turn a picture so that a direction runs to the right, and average it into strips that run along it."""
    rows, columns = flat.shape
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    long = int(np.ceil(abs(c) * columns + abs(s) * rows))
    wide = int(np.ceil(abs(s) * columns + abs(c) * rows))
    # output (v, u) -> input (y, x): x = cx + c·u - s·v, y = cy + s·u + c·v, from the middle
    matrix = np.array([[c, s], [-s, c]])
    middle = np.array([(rows - 1) / 2, (columns - 1) / 2])
    offset = middle - matrix @ np.array([(wide - 1) / 2, (long - 1) / 2])
    height = max(3, wide // 160)
    straight = abs(c) > 1 - 1e-12
    turned = (
        flat
        if straight and (wide, long) == flat.shape
        else ndimage.affine_transform(
            flat, matrix, offset, output_shape=(wide, long), order=1, mode="constant"
        )
    )
    count = wide // height
    value = turned[: count * height].reshape(count, height, long).mean(axis=1, dtype=np.float64)
    return Strips(value, height)


def _spectra(strips: Strips, longer: int = 2) -> tuple[Floats, NDArray[np.complex128]]:
    places = strips.value.shape[1]
    window = np.hanning(places)
    size = fft.next_fast_len(longer * places, real=True)
    return fft.rfftfreq(size), fft.rfft((strips.value - strips.value.mean()) * window, size, axis=1)


def finest_division(strips: Strips, near_px: float | None, longer_lines: bool) -> float | None:
    """Return the frequency of the finest division, in lines per pixel."""
    frequency, spectra = _spectra(strips)
    places = strips.value.shape[1]
    power = np.abs(spectra) ** 2
    allowed = (frequency >= (FEWEST_LINES - 1.5) / places) & (frequency <= 1 / FINEST_PX)
    if near_px is not None:
        allowed &= (frequency > 1 / (1.2 * near_px)) & (frequency < 1.2 / near_px)
    if not allowed.any() or not power.any():
        return None
    total = np.where(allowed, power.sum(axis=0) * frequency, 0)
    peak = int(np.argmax(total))
    if near_px is not None:
        return float(frequency[peak])
    held = _Held(power, frequency[1])
    base = _finest_of(held, float(frequency[peak]), (FEWEST_LINES - 1.5) / places)
    return _between_lines(held, base) if longer_lines else base


@dataclass(frozen=True)
class _Held:
    """How strongly strips hold a frequency."""

    power: Floats  # (strips, frequencies)
    pitch: float

    def near(self, at: float) -> Floats:
        k = round(at / self.pitch)
        return np.asarray(self.power[:, max(k - 2, 0) : k + 3].max(axis=1), float)

    def strips_of(self, at: float) -> Floats:
        weight = self.near(at)
        return np.where(weight > 0.1 * weight.max(), weight, 0)

    def slope(self, at: float, weight: Floats) -> float:
        """Steepness (amplitude × frequency) in weighted strips, which blur and thick lines bend least."""
        return float(np.sqrt((weight * self.near(at)).sum() / weight.sum())) * at

    def noise(self, at: float, weight: Floats) -> float:
        k = round(at / self.pitch)
        around = self.power[:, max(k - 30, 0) : k + 31]
        return float(np.sqrt((weight * np.median(around, axis=1)).sum() / weight.sum())) * at


def _finest_of(held: _Held, peak: float, lowest: float) -> float:
    """Take a harmonic down to the division it belongs to: the frequencies between must be there.

    Not quite all of them: lines as thick as a third of the division lack every third.
    """
    weight = held.strips_of(peak)
    top = held.slope(peak, weight) / peak
    for parts in range(24, 1, -1):
        base = peak / parts
        if base < lowest:
            continue
        there = [held.slope(k * base, weight) / (k * base) >= 0.5 * top for k in range(1, parts)]
        if there[0] and sum(there) >= 0.7 * len(there):
            return base
    return peak


def _between_lines(held: _Held, base: float) -> float:
    """Go from every fifth or tenth line to the lines in between, where some strips hold only these."""
    for parts in range(20, 1, -1):
        fine = base * parts
        if fine > 1 / FINEST_PX:
            continue
        weight = held.strips_of(fine)
        if not weight.any():
            continue
        top = held.slope(fine, weight)
        if top > 6 * held.noise(fine, weight) and all(
            held.slope(k * base, weight) < 0.5 * top for k in range(1, parts)
        ):
            return fine
    return base
