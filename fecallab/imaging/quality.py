"""Is this picture good enough to read? Focus, light, clipping, shake: verdict, reason, remedy.

Sharpness comes from the width of the edges: the picture is blurred a little more, and the less that changes its
edges, the more blurred they were before (the middle one of all strong edges counts). The limits are own choices, tuned on drawn pictures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.field import LitCircle, disc, find_lit_circle
from fecallab.imaging.grey import Grey, working_copy
from fecallab.imaging.samples import PictureArray, to_8bit

_REBLUR_PX, _SHARP_PX, _BLURRED_PX = 1.5, 1.2, 2.0
_SHAKEN, _FLOOR_PX = 1.5, 0.6
_DARK, _BRIGHT, _PALE_SHARE = 0.22, 0.97, 0.02
_CLIPPED_SHARE, _UNEVEN = 0.02, 0.45
_STRONG_EDGE = 6.0  # times the noise


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong, in a microscopist's words.

    Attributes
    ----------
    code : str
        A word code such as ``out-of-focus``.
    verdict : str
        ``usable, but`` or ``take it again``.
    text : str
        What is seen and why it matters.
    next : str
        What to do at the microscope.
    """

    code: str
    verdict: str
    text: str
    next: str

    def as_dict(self) -> dict[str, str]:
        """Return plain keys for ``--json``."""
        return {"code": self.code, "verdict": self.verdict, "text": self.text, "next": self.next}


@dataclass(frozen=True, kw_only=True)
class Quality:
    """What a picture is like.

    Attributes
    ----------
    verdict : str
        ``good``, ``usable`` or ``take it again``.
    sharpness : float or None
        0 to 1; None where nothing in the picture has an edge to judge by.
    blur_px : float or None
        Standard deviation of the blur of the edges, in pixels of the picture (thin lines make it look less).
    shake : float or None
        How many times wider edges are in one direction than in the other.
    exposure : float
        Brightness of the empty ground, 0 to 1.
    white_share, black_share : float
        Share of the lit field that is clipped to full white or to black.
    unevenness : float
        (brightest - darkest) / brightest of the ground.
    lit_fraction : float
        Share of the picture that is lit.
    circle : LitCircle or None
        The round field of a phone at the eyepiece.
    findings : tuple of Finding
    """

    verdict: str
    sharpness: float | None
    blur_px: float | None
    shake: float | None
    exposure: float
    white_share: float
    black_share: float
    unevenness: float
    lit_fraction: float
    circle: LitCircle | None
    findings: tuple[Finding, ...]


def sharpness_of(blur_px: float) -> float:
    """Return the sharpness, 0 to 1, for a blur; 0.5 at 2 pixels.

    Examples
    --------
    >>> [round(sharpness_of(blur), 2) for blur in (0.0, 1.0, 2.0, 4.0)]
    [1.0, 0.8, 0.5, 0.2]
    """
    return 1 / (1 + (blur_px / 2) ** 2)


def check_picture(pixels: PictureArray) -> Quality:
    """Judge a picture.

    Parameters
    ----------
    pixels : ndarray
        As :func:`fecallab.imaging.read.open_picture` returns it.

    Returns
    -------
    Quality
    """
    copy = working_copy(pixels)
    grey = copy.grey
    circle = find_lit_circle(copy)
    if circle is None:
        field = np.ones(grey.shape, bool)
    else:
        at = [(circle.x_px + 0.5) / copy.shrink - 0.5, (circle.y_px + 0.5) / copy.shrink - 0.5]
        field = disc(grey.shape, at[0], at[1], 0.95 * circle.diameter_px / copy.shrink / 2)
    blur, shake = _blur(grey, field)
    blur = None if blur is None else blur * copy.shrink
    white, black = _clipped(pixels, circle)
    exposure = float(np.percentile(grey[field], 75)) if field.any() else 0.0
    uneven = _unevenness(grey, field)
    findings = tuple(_findings(blur, shake, exposure, white, black, uneven))
    worst = {finding.verdict for finding in findings}
    verdict = "take it again" if "take it again" in worst else "usable" if findings else "good"
    return Quality(
        verdict=verdict,
        sharpness=None if blur is None else sharpness_of(blur),
        blur_px=blur,
        shake=shake,
        exposure=exposure,
        white_share=white,
        black_share=black,
        unevenness=uneven,
        lit_fraction=1.0 if circle is None else circle.lit_fraction,
        circle=circle,
        findings=findings,
    )


def _blur(grey: Grey, field: NDArray[np.bool_]) -> tuple[float | None, float | None]:
    """Blur of the edges (standard deviation, pixels of the copy), and how lopsided it is."""
    if min(grey.shape) < 16:
        return None, None
    soft = ndimage.gaussian_filter(grey, 0.7)
    step = np.abs(np.diff(grey[:, ::2], axis=1))[field[:, ::2][:, 1:]]
    noise = float(np.median(step)) if step.size else 0.0
    before = [ndimage.sobel(soft, axis) / 8 for axis in (1, 0)]
    again = ndimage.gaussian_filter(soft, _REBLUR_PX)
    after = [ndimage.sobel(again, axis) / 8 for axis in (1, 0)]
    strength, weaker = np.hypot(*before), np.hypot(*after)
    inner = ndimage.binary_erosion(field, iterations=4, border_value=0)
    peak = strength >= ndimage.maximum_filter(strength, 3)
    edge = inner & peak & (strength > max(_STRONG_EDGE * noise / 4, 0.012))
    if edge.sum() < 60:
        return None, None
    ratio = strength[edge] / np.maximum(weaker[edge], 1e-6)
    turn = np.degrees(np.arctan2(before[1][edge], before[0][edge])) % 180
    sigma = _sigma(ratio)
    usual = float(np.median(sigma))
    by_direction = []
    for k in range(8):
        part = sigma[np.abs((turn - 22.5 * k + 90) % 180 - 90) < 18]
        by_direction.append(float(np.hypot(np.median(part), _FLOOR_PX)) if part.size >= 40 else np.nan)
    pairs = [
        max(a, b) / min(a, b)
        for a, b in zip(by_direction[:4], by_direction[4:], strict=True)
        if a == a and b == b
    ]
    return usual, max(pairs) if pairs else None


def _sigma(ratio: NDArray[Any]) -> NDArray[np.float64]:
    """Blur that an edge had, from how much weaker it is after a known blur more."""
    extra = _REBLUR_PX / np.sqrt(np.maximum(ratio.astype(float) ** 2 - 1, 1e-4))
    return np.asarray(
        np.sqrt(np.maximum(extra**2 - 0.7**2 - 0.4, 0.04)), float
    )  # less what this measurement adds itself


def _clipped(pixels: PictureArray, circle: LitCircle | None) -> tuple[float, float]:
    """Shares of the lit field that are full white, and black; every pixel of small pictures, a grid of large."""
    thin = max(1, int(np.sqrt(pixels.shape[0] * pixels.shape[1] / 2e6)))
    some = to_8bit(pixels)[::thin, ::thin]
    if circle is not None:
        inside = disc(
            some.shape[:2], circle.x_px / thin, circle.y_px / thin, 0.95 * circle.diameter_px / thin / 2
        )
        some = some[inside]
    else:
        some = some.reshape(-1, *some.shape[2:])
    full = (some >= 254).all(axis=1) if some.ndim == 2 else some >= 254
    none = (some <= 3).all(axis=1) if some.ndim == 2 else some <= 3
    return float(full.mean()) if full.size else 0.0, float(none.mean()) if none.size else 0.0


def _unevenness(grey: Grey, field: NDArray[np.bool_]) -> float:
    """How much darker the darkest part of the ground is than the brightest."""
    levels = []
    rows, columns = max(grey.shape[0] // 8, 1), max(grey.shape[1] // 8, 1)
    for top in range(0, grey.shape[0] - rows + 1, rows):
        for left in range(0, grey.shape[1] - columns + 1, columns):
            cut = (slice(top, top + rows), slice(left, left + columns))
            if field[cut].mean() > 0.9:
                levels.append(float(np.percentile(grey[cut], 75)))
    if len(levels) < 4 or max(levels) <= 0:
        return 0.0
    low, high = np.percentile(levels, [5, 95])
    return float((high - low) / high) if high > 0 else 0.0


def _findings(
    blur: float | None, shake: float | None, exposure: float, white: float, black: float, uneven: float
) -> list[Finding]:
    again, but = "take it again", "usable, but"
    found: list[Finding] = []
    if exposure < 0.02:
        return [
            Finding(
                "all-black",
                again,
                "The picture is black: no light reached the camera.",
                "Switch the lamp on, open the diaphragm, and bring the phone's lens over the eyepiece.",
            )
        ]
    if shake is not None and shake > _SHAKEN and blur is not None:
        found.append(
            Finding(
                "shaken",
                again if shake > 1.4 * _SHAKEN else but,
                f"Edges are {shake:.1f} times wider in one direction: the camera or the slide moved.",
                "Rest the phone in a holder, use the timer, and more light for a shorter exposure.",
            )
        )
    if blur is None:
        found.append(
            Finding(
                "nothing-to-focus-on",
                but,
                "Nothing in it has an edge, so its focus cannot be judged.",
                "Focus on a grain of debris or on the edge of the cover glass, then move back to the field.",
            )
        )
    elif blur > _SHARP_PX:
        found.append(
            Finding(
                "out-of-focus",
                again if blur > _BLURRED_PX else but,
                f"The edges are soft (blur about {blur:.1f} pixels).",
                "Turn the fine focus until walls are thin lines; wipe the front lens; at 40× check the cover"
                " glass (0.17 mm).",
            )
        )
    if white > _CLIPPED_SHARE or exposure > _BRIGHT:
        found.append(
            Finding(
                "too-bright",
                again if white > 0.25 else but,
                f"{100 * white:.0f} % of the field is burnt out to white; pale organisms vanish there.",
                "Dim the lamp or lower the exposure until the ground is light grey, not white.",
            )
        )
    elif exposure < _DARK:
        found.append(
            Finding(
                "too-dark",
                again if exposure < _DARK / 2 else but,
                f"The ground has only {100 * exposure:.0f} % of full brightness.",
                "Turn the lamp up or expose longer; raise the condenser.",
            )
        )
    if black > _CLIPPED_SHARE and exposure >= _DARK:
        found.append(
            Finding(
                "blocked-shadows",
                but,
                f"{100 * black:.0f} % of the field is plain black.",
                "Open the condenser's diaphragm a little; thin the preparation with saline.",
            )
        )
    if uneven > _UNEVEN:
        found.append(
            Finding(
                "uneven-light",
                but,
                f"The dark side of the ground has {100 * uneven:.0f} % less light than the bright one.",
                "Centre and raise the condenser, move the phone until the field is evenly lit.",
            )
        )
    return found
