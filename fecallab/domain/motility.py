"""How a moving cell is measured, and what trembling and swimming look like as numbers.

The velocities are those of the WHO laboratory manual for the examination and processing of human semen (its
chapter on computer-aided motility; kind: memory of the believed source). The manual leaves the smoothing of the
average path to the instrument, so the window is stated with every result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, hypot, pi
from typing import Any

from fecallab.domain.errors import BadInput

BOLTZMANN_J_K = 1.380649e-23
"""Exact by definition of the SI since 2019 (kind: memory of the believed source)."""


@dataclass(frozen=True)
class Kinematics:
    """How one path was swum.

    Attributes
    ----------
    vcl_um_s : float
        Curvilinear velocity: the way along the path over time.
    vsl_um_s : float
        Straight-line velocity: from first to last place over time.
    vap_um_s : float
        Average-path velocity: the way along the smoothed path over time.
    linearity, straightness, wobble : float
        LIN = VSL/VCL, STR = VSL/VAP, WOB = VAP/VCL; 0 where nothing moved.
    window : int
        Places that the average path is smoothed over (centred mean; the ends are kept).
    seconds : float
        Length in time.
    """

    vcl_um_s: float
    vsl_um_s: float
    vap_um_s: float
    linearity: float
    straightness: float
    wobble: float
    window: int
    seconds: float


def kinematics(
    xy_um: Sequence[Sequence[float]] | Any, times_s: Sequence[float] | Any, window: int = 5
) -> Kinematics:
    """Measure a path.

    Parameters
    ----------
    xy_um : sequence of (x, y), µm
        Two places or more.
    times_s : sequence of float
        When it was there; increasing.
    window : int, optional
        Odd number of places for the average path; near the ends it is narrower, the ends themselves are kept.

    Raises
    ------
    BadInput
        Fewer than two places, times that do not increase, or an even window.

    Examples
    --------
    >>> zigzag = kinematics([(0, 0), (3, 4), (6, 0), (9, 4), (12, 0)], [0, 0.5, 1, 1.5, 2], window=3)
    >>> zigzag.vcl_um_s, zigzag.vsl_um_s, zigzag.linearity
    (10.0, 6.0, 0.6)
    """
    x, y = [float(p[0]) for p in xy_um], [float(p[1]) for p in xy_um]
    times = [float(t) for t in times_s]
    if len(x) < 2 or len(times) != len(x) or any(b <= a for a, b in pairwise(times)):
        raise BadInput(
            "A path needs two places or more, each with a later time than the one before.",
            next="Give x, y and time for each place.",
            code="path-short",
        )
    if window < 1 or window % 2 == 0:
        raise BadInput(
            f"The window is {window}; it is an odd number of places.",
            next="Give 1, 3, 5 …",
            code="window-even",
        )
    seconds = times[-1] - times[0]
    mean_x, mean_y = _centred_mean(x, window), _centred_mean(y, window)
    vcl, vap = _way(x, y) / seconds, _way(mean_x, mean_y) / seconds
    vsl = hypot(x[-1] - x[0], y[-1] - y[0]) / seconds
    return Kinematics(vcl, vsl, vap, _share(vsl, vcl), _share(vsl, vap), _share(vap, vcl), window, seconds)


def _centred_mean(values: list[float], window: int) -> list[float]:
    """Smooth; the window shrinks evenly towards the ends, which are kept as they are."""
    total = [0.0]
    for value in values:
        total.append(total[-1] + value)
    last = len(values) - 1
    result = []
    for k in range(len(values)):
        half = min(window // 2, k, last - k)
        result.append((total[k + half + 1] - total[k - half]) / (2 * half + 1))
    return result


def _way(x: list[float], y: list[float]) -> float:
    return sum(hypot(x[k + 1] - x[k], y[k + 1] - y[k]) for k in range(len(x) - 1))


def _share(part: float, whole: float) -> float:
    """Return a ratio that is 1 at most; 0 where nothing moved (less than a billionth of the whole counts as 0)."""
    return min(1.0, part / whole) if whole > 1e-12 and part > 1e-9 * whole else 0.0


def mean_squared_displacement(xy_um: Any, lags: Sequence[int]) -> list[float]:
    """Return the mean squared way between places that lie `lags` steps apart, µm².

    Examples
    --------
    >>> mean_squared_displacement([(10.0 * t, 0.0) for t in range(9)], [1, 3, 5])
    [100.0, 900.0, 2500.0]
    """
    result = []
    for lag in lags:
        pairs = [(xy_um[k], xy_um[k + lag]) for k in range(len(xy_um) - lag)]
        result.append(sum((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2 for a, b in pairs) / len(pairs))
    return result


def diffusion_um2_s(
    radius_um: float, temperature_k: float = 298.15, viscosity_pa_s: float = 0.00089
) -> float:
    """Return how fast a sphere trembles in a liquid: Stokes and Einstein, D = kT / (6 π η r), µm²/s.

    Examples
    --------
    >>> round(diffusion_um2_s(0.5, viscosity_pa_s=0.001), 2)
    0.44
    """
    if min(radius_um, temperature_k, viscosity_pa_s) <= 0:
        raise BadInput("Radius, temperature and viscosity are above 0.", code="diffusion-range")
    return BOLTZMANN_J_K * temperature_k / (6 * pi * viscosity_pa_s * radius_um * 1e-6) * 1e12


def trembling_msd_um2(diffusion: float, seconds: float) -> float:
    """Return the mean squared way of a trembling particle seen from above: 4 D t, µm².

    Examples
    --------
    >>> trembling_msd_um2(0.44, 1.0)
    1.76
    """
    return 4 * diffusion * seconds


def wandering_msd_um2(speed_um_s: float, persistence_s: float, seconds: float) -> float:
    """Return the mean squared way of a swimmer that forgets its direction: Fürth's persistent walk, µm².

    2 S² P (t - P (1 - exp(-t/P))): (S t)² at first, 2 S² P t in the end.

    Examples
    --------
    >>> round(wandering_msd_um2(20, 0.5, 100), 3)
    39800.0
    """
    p = persistence_s
    return 2 * speed_um_s**2 * p * (seconds - p * (1 - exp(-seconds / p)))
