"""Find evenly spaced lines in a picture: their direction and their distance, to a small part of a pixel.

How it works. The power spectrum shows in which direction the picture repeats. The picture is turned that way and
averaged into strips; the strongest repeat of the strips is taken down to the finest division (longer lines at
every fifth and tenth repeat too, but lines in between have none of their harmonics). Then every single line is
placed by the phase of the division around it, and one straight line through those places (outliers such as
burned-in text count little) gives the distance, and its scatter the interval.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage, signal, stats

from fecallab.imaging.grey import Grey

Floats = NDArray[np.float64]

FEWEST_LINES = 5
"""Fewer lines than this are no ruler here (own choice)."""
_FINEST_PX, _DIRECTIONS, _STEP_DEG = 3.2, 4, 0.25
_WIDER, _LEAST_SE = 1.5, 2e-5
"""What the error of the straight line is multiplied by, so that 95 % intervals cover 95 % on drawn rulers:
windows overlap (1.15), outliers weighted down make the scatter look small (1.13), the rest is measured. And the
smallest share that is believed."""
_BELIEVED = ((FEWEST_LINES, 0.75, 0.04), (12, 0.40, 0.09), (20, 0.12, 0.04))
"""From so many lines on: least share explained, largest scatter (tuned on drawn rulers and on pictures that
show none)."""


@dataclass(frozen=True)
class Lines:
    """Evenly spaced lines.

    Attributes
    ----------
    spacing_px : float
        Distance of neighbouring lines.
    spacing_se_px : float
        Its standard error.
    degrees_of_freedom : int
        For the interval of the spacing.
    angle_deg : float
        Direction along which lines are counted, from +x towards +y (down), 0 ≤ angle < 180.
    lines : int
        Lines that were placed.
    explained : float
        Share of the brightness changes in the lines' band that the repeat explains, 0 to 1.
    scatter : float
        Standard deviation of single lines from even spacing, as a share of the spacing.
    bend : float
        Change of the spacing from one end to the other, as a share (lens distortion, perspective).
    """

    spacing_px: float
    spacing_se_px: float
    degrees_of_freedom: int
    angle_deg: float
    lines: int
    explained: float
    scatter: float
    bend: float

    @property
    def convincing(self) -> bool:
        """Whether this is a ruler and no play of chance."""
        return any(
            self.lines >= lines and self.explained >= explained and self.scatter <= scatter
            for lines, explained, scatter in _BELIEVED
        )

    def half_width_px(self, level: float = 0.95) -> float:
        """Half of the interval of the spacing."""
        return float(stats.t.ppf(0.5 + level / 2, self.degrees_of_freedom)) * self.spacing_se_px


def find_lines(
    grey: Grey,
    *,
    near_px: float | None = None,
    near_deg: float | None = None,
    within_deg: float = 12.0,
    longer_lines: bool = True,
) -> Lines | None:
    """Find the lines of a ruler.

    Parameters
    ----------
    grey : ndarray of float32, shape (rows, columns)
        Brightness.
    near_px : float, optional
        What the spacing is, roughly, when the picture holds several; found within 20 %.
    near_deg : float, optional
        Direction to look in, within `within_deg`; anywhere when left out.
    longer_lines : bool, optional
        Whether some lines may be longer than the others, as on a ruler; False for a grid.

    Returns
    -------
    Lines or None
        None when nothing repeats.
    """
    if min(grey.shape) < 24:
        return None
    best: Lines | None = None
    flat = _flattened(grey)
    for angle in _directions(flat, near_deg, within_deg):
        found = _along(flat, angle, near_px, longer_lines)
        if found is not None and (best is None or _merit(found) > _merit(best)):
            best = found
        if best is not None and best.convincing and best.explained > 0.75:
            break
    return best


def _merit(found: Lines) -> float:
    return found.explained * min(1.0, found.lines / 10) / (0.02 + found.scatter)


def _flattened(grey: Grey) -> Grey:
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
    return _between(_between(smooth, y).T, x).T


def _between(rows: Grey, at: Floats) -> Grey:
    first = np.minimum(at.astype(int), rows.shape[0] - 2) if rows.shape[0] > 1 else np.zeros(at.shape, int)
    share = (at - first).astype(np.float32)[:, None]
    after = np.minimum(first + 1, rows.shape[0] - 1)
    return rows[first] * (1 - share) + rows[after] * share


def _directions(flat: Grey, near_deg: float | None, within_deg: float) -> list[float]:
    """Directions in which the picture repeats most, strongest first."""
    window = np.outer(np.hanning(flat.shape[0]), np.hanning(flat.shape[1])).astype(np.float32)
    power = np.abs(fft.rfft2(flat * window, workers=2)) ** 2
    rows, columns = flat.shape
    lowest, highest = 4 / max(flat.shape), 1 / _FINEST_PX
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
class _Strips:
    """The picture turned to a direction and averaged across it in strips."""

    value: Floats  # (strips, places)
    height: int
    step_px: float = 1.0


def _strips(flat: Grey, angle_deg: float) -> _Strips:
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
    return _Strips(value, height)


def _along(flat: Grey, angle_deg: float, near_px: float | None, longer_lines: bool) -> Lines | None:
    """Look for lines that are counted in about this direction."""
    strips = _strips(flat, angle_deg)
    frequency = _division(strips, near_px, longer_lines)
    if frequency is None:
        return None
    for _ in range(3):  # turn until neighbouring strips agree
        frequency = _sharpened(strips, frequency)
        if not 3 / strips.value.shape[1] < frequency < 0.5:
            return None
        turn = _turn(strips, frequency)
        angle_deg += np.degrees(turn)
        strips = _strips(flat, angle_deg)
        if abs(turn) < 2e-4:
            break
    found = _placed(strips, _sharpened(strips, frequency))
    return None if found is None else replace(found, angle_deg=float(angle_deg % 180 % 180))


def _spectra(strips: _Strips, longer: int = 2) -> tuple[Floats, NDArray[np.complex128]]:
    places = strips.value.shape[1]
    window = np.hanning(places)
    size = fft.next_fast_len(longer * places, real=True)
    return fft.rfftfreq(size), fft.rfft((strips.value - strips.value.mean()) * window, size, axis=1)


def _division(strips: _Strips, near_px: float | None, longer_lines: bool) -> float | None:
    """Return the frequency of the finest division, in lines per pixel."""
    frequency, spectra = _spectra(strips)
    places = strips.value.shape[1]
    power = np.abs(spectra) ** 2
    allowed = (frequency >= (FEWEST_LINES - 1.5) / places) & (frequency <= 1 / _FINEST_PX)
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
        if fine > 1 / _FINEST_PX:
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


def _sharpened(strips: _Strips, frequency: float) -> float:
    """Move a frequency to the nearby maximum of what all strips hold together."""
    places = strips.value.shape[1]
    u = np.arange(places) - (places - 1) / 2
    windowed = (strips.value - strips.value.mean()) * np.hanning(places)
    span = 1.0 / places
    for _ in range(3):
        tried = frequency + span * np.linspace(-1, 1, 9)
        held = np.abs(windowed @ np.exp(-2j * np.pi * np.outer(u, tried))) ** 2
        frequency = float(tried[np.argmax(held.sum(axis=0))])
        span /= 4
    return frequency


def _turn(strips: _Strips, frequency: float) -> float:
    """Return by how much the lines lean (radians), from the phase of the division across the strips."""
    places = strips.value.shape[1]
    u = np.arange(places) - (places - 1) / 2
    amount = ((strips.value - strips.value.mean()) * np.hanning(places)) @ np.exp(-2j * np.pi * frequency * u)
    weight = np.abs(amount) ** 2
    weight = np.where(weight > 0.05 * weight.max(), weight, 0)
    lean = np.sum(np.sqrt(weight[1:] * weight[:-1]) * amount[1:] * np.conj(amount[:-1]))
    first = float(np.angle(lean)) / strips.height
    v = (np.arange(len(amount)) - (len(amount) - 1) / 2) * strips.height
    straightened = amount * np.exp(-1j * first * v)
    middle = np.angle(np.sum(weight * straightened))
    rest = np.angle(straightened * np.exp(-1j * middle))
    centre = np.sum(weight * v) / weight.sum()
    spread = np.sum(weight * (v - centre) ** 2)
    second = float(np.sum(weight * (v - centre) * rest) / spread) if spread > 0 else 0.0
    return float(np.arctan2(first + second, 2 * np.pi * frequency))


def _placed(strips: _Strips, frequency: float) -> Lines | None:
    """Place every line of the band and put a straight line through the places."""
    places = strips.value.shape[1]
    u = np.arange(places) - (places - 1) / 2
    carrier = np.exp(-2j * np.pi * frequency * u)
    amount = ((strips.value - strips.value.mean()) * np.hanning(places)) @ carrier
    weight = np.abs(amount)
    band = weight > 0.35 * weight.max()
    profile = (strips.value[band] * weight[band, None]).sum(axis=0) / weight[band].sum()
    pitch = 1 / frequency
    level = profile - ndimage.gaussian_filter1d(profile, 1.5 * pitch)
    reach = max(int(round(pitch)), 5)
    bell = np.hanning(2 * reach + 1)
    local = signal.fftconvolve(level * carrier, bell / bell.sum(), mode="same")
    inner = np.arange(0.6 * pitch, places - 0.6 * pitch, pitch)
    if len(inner) < FEWEST_LINES:
        return None
    at = np.interp(inner, np.arange(places), u)
    z = np.interp(inner, np.arange(places), local.real) + 1j * np.interp(inner, np.arange(places), local.imag)
    strong = np.abs(z) > 0.35 * np.percentile(np.abs(z), 75)
    first, last = np.flatnonzero(strong)[[0, -1]] if strong.any() else (0, -1)
    if strong.sum() < FEWEST_LINES:
        return None
    place, phase = at[strong], np.unwrap(np.angle(z[strong])) / (2 * np.pi)
    slope, slope_se, rest, kept, bend = _robust_line(place, phase)
    true = frequency + slope
    scatter = float(np.sqrt(np.sum(kept * rest**2) / np.sum(kept)))
    inside = slice(max(int(inner[first] - pitch / 2), 0), int(inner[last] + pitch / 2) + 1)
    se = _WIDER * max(slope_se, _LEAST_SE * true)
    return Lines(
        spacing_px=1 / true,
        spacing_se_px=se / true**2,
        degrees_of_freedom=max(len(place) - 2, 1),
        angle_deg=0.0,
        lines=len(place),
        explained=_explained(level[inside], u[inside], true),
        scatter=scatter,
        bend=-float(bend) * float(np.ptp(place)) * 2 / true,
    )


def _robust_line(x: Floats, y: Floats) -> tuple[float, float, Floats, Floats, float]:
    """Fit a straight line, outliers weighted down (Tukey); slope, its error, residuals, weights, curvature."""
    weight = np.ones(len(x))
    for _ in range(12):
        slope, level = np.polyfit(x, y, 1, w=np.sqrt(weight) + 1e-9)
        rest = y - slope * x - level
        wide = max(1.4826 * float(np.median(np.abs(rest))), 1e-5)
        weight = np.clip(1 - (rest / (4.7 * wide)) ** 2, 0, None) ** 2
        if weight.sum() < 4:
            weight = np.ones(len(x))
            break
    total = weight.sum()
    middle = (weight * x).sum() / total
    spread = (weight * (x - middle) ** 2).sum()
    variance = (weight * rest**2).sum() / max(total - 2, 1)
    bend = np.polyfit(x, y, 2, w=np.sqrt(weight) + 1e-9)[0] if len(x) > 6 else 0.0
    return float(slope), float(np.sqrt(variance / spread)), rest, weight, float(bend)


def _explained(level: Floats, u: Floats, frequency: float) -> float:
    """Share of the profile's changes that repeat with every line."""
    turn = (u * frequency) % 1.0
    bins = int(np.clip(1 / frequency, 4, 24))
    number = np.minimum((turn * bins).astype(int), bins - 1)
    count = np.bincount(number, minlength=bins)
    mean = np.bincount(number, level, minlength=bins) / np.maximum(count, 1)
    total = float(np.sum((level - level.mean()) ** 2))
    return 0.0 if total == 0 else float(1 - np.sum((level - mean[number]) ** 2) / total)
