"""Optics: what a bright-field microscope makes of a body.

Three effects add up in the logarithm of the light: absorption; light that steep faces bend out of the
objective (dark rims); and the bright and dark lines that any refracting edge gets slightly out of focus, which
follow the curvature of the optical thickness (transport of intensity; Teague 1983, J. Opt. Soc. Am. 73: 1434,
kind: memory of the believed source). The strengths are drawn by eye, not measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from fecallab.imaging.draw.form import Body, Map, step


@dataclass(frozen=True, kw_only=True)
class Lens:
    """An objective.

    Attributes
    ----------
    name : str
        Word on the objective, such as ``10x``.
    aperture : float
        Numerical aperture; common for its power (common practice, no source).
    softness_um : float
        Standard deviation of the blur of a sharp point.
    line_focus_um : float
        How strongly edges get bright and dark lines (the offset from best focus).
    """

    name: str
    aperture: float
    softness_um: float
    line_focus_um: float


LENSES = {
    "4x": Lens(name="4x", aperture=0.10, softness_um=1.5, line_focus_um=14.0),
    "10x": Lens(name="10x", aperture=0.25, softness_um=0.55, line_focus_um=5.0),
    "20x": Lens(name="20x", aperture=0.40, softness_um=0.35, line_focus_um=2.2),
    "40x": Lens(name="40x", aperture=0.65, softness_um=0.20, line_focus_um=1.2),
}

_DARKEST_LINE = 0.60
_BRIGHTEST_LINE = 0.22
_DARKEST_RIM = 1.9


def light_log(body: Body, lens: Lens, defocus_um: float = 0.0) -> Map:
    """Return the logarithm of the light behind a body.

    Parameters
    ----------
    body : Body
        What stands in the light.
    lens : Lens
        The objective.
    defocus_um : float, optional
        Standard deviation of extra blur; its sign also decides whether edges are bright outside or inside.

    Returns
    -------
    ndarray, shape (rows, columns, 3)
        0 where all light passes, negative where less does.
    """
    pitch = body.grid.pitch_um
    soft = lens.softness_um / pitch
    phase = ndimage.gaussian_filter(body.phase_um, max(soft * 0.8, 0.6), mode="nearest")
    rows, columns = np.gradient(phase, pitch)
    slope = np.hypot(rows, columns)
    rim = _DARKEST_RIM * step(slope, 0.4 * lens.aperture, 2.0 * lens.aperture)
    curvature = ndimage.laplace(phase, mode="nearest") / pitch**2
    side = -1.0 if defocus_um < 0 else 1.0
    result = np.empty((*body.grid.shape, 3), np.float32)
    blur = float(np.hypot(soft * 0.6, abs(defocus_um) / pitch))
    for channel, colour_error in enumerate((1.12, 1.0, 0.88)):
        bright = side * lens.line_focus_um * colour_error * curvature
        limit = np.where(bright > 0, np.float32(_BRIGHTEST_LINE), np.float32(_DARKEST_LINE))
        lines = limit * np.tanh(bright / limit)
        one = lines - rim - body.absorbance[..., channel]
        result[..., channel] = ndimage.gaussian_filter(one, blur * colour_error**0.5, mode="nearest")
    return result
