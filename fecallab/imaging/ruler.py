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
from scipy import ndimage, signal, stats

from fecallab.imaging.grey import Grey
from fecallab.imaging.repeats import (
    FEWEST_LINES,
    Floats,
    Strips,
    finest_division,
    flattened,
    repeat_directions,
    strips_along,
)

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
    flat = flattened(grey)
    for angle in repeat_directions(flat, near_deg, within_deg):
        found = _along(flat, angle, near_px, longer_lines)
        if found is not None and (best is None or _merit(found) > _merit(best)):
            best = found
        if best is not None and best.convincing and best.explained > 0.75:
            break
    return best


def _merit(found: Lines) -> float:
    return found.explained * min(1.0, found.lines / 10) / (0.02 + found.scatter)


def _along(flat: Grey, angle_deg: float, near_px: float | None, longer_lines: bool) -> Lines | None:
    """Look for lines that are counted in about this direction."""
    strips = strips_along(flat, angle_deg)
    frequency = finest_division(strips, near_px, longer_lines)
    if frequency is None:
        return None
    for _ in range(3):  # turn until neighbouring strips agree
        frequency = _sharpened(strips, frequency)
        if not 3 / strips.value.shape[1] < frequency < 0.5:
            return None
        turn = _turn(strips, frequency)
        angle_deg += np.degrees(turn)
        strips = strips_along(flat, angle_deg)
        if abs(turn) < 2e-4:
            break
    found = _placed(strips, _sharpened(strips, frequency))
    return None if found is None else replace(found, angle_deg=float(angle_deg % 180 % 180))


def _sharpened(strips: Strips, frequency: float) -> float:
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


def _turn(strips: Strips, frequency: float) -> float:
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


def _placed(strips: Strips, frequency: float) -> Lines | None:
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
    reach = max(round(pitch), 5)
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
