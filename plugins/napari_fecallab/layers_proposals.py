"""How proposals are drawn: dashed outlines with words beside them, which stay in view at the right edge too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from napari_fecallab.layers_look import ON_TOP, rgba
from napari_fecallab.layers_marks import AROUND, BESIDE
from napari_fecallab.layers_parts import ellipse
from napari_fecallab.layers_pointer import quiet_points

if TYPE_CHECKING:
    from napari.layers import Layer, Points

    from napari_fecallab.views import ProposalView

PROPOSALS, DASHES = "proposals", "outlines of proposals"
LEFT_WORDS = "words of proposals at the right"
PROPOSAL_LAYERS = (PROPOSALS, DASHES, LEFT_WORDS)
RIGHT_PART = 0.65
"""From this share of the picture's width on the words stand to the left of the outline."""


def proposal_layers(
    proposals: Sequence[ProposalView],
    *,
    um_per_px: float | None,
    screen_per_px: float,
    width_px: float,
    colour: str,
) -> Iterator[tuple[str, Layer]]:
    """Make the layers of proposals, each with its name.

    A layer has its words on one side, so those to the left of their outlines have one of their own.

    Parameters
    ----------
    proposals : sequence of ProposalView
        At least one; ``words`` may have several lines.
    um_per_px : float or None
    screen_per_px : float
        Screen pixels per pixel of the picture.
    width_px : float
        Width of the picture; infinite when it is not known: all words stand to the right then.
    colour : str
        Of the words.
    """
    from napari.layers import Vectors

    screen_per_px = max(screen_per_px, 1e-9)
    dashes, colours = _dashes(proposals, um_per_px, screen_per_px)
    style = {"edge_color": colours, "edge_width": 2.0 / screen_per_px, "vector_style": "line"}
    yield DASHES, Vectors(dashes, name=DASHES, **style)
    words = [one.words or one.name.replace("_", " ") for one in proposals]
    right = [one.x_px > RIGHT_PART * width_px for one in proposals]
    beside = [
        "" if left else BESIDE + word.replace("\n", f"\n{BESIDE}")
        for word, left in zip(words, right, strict=True)
    ]
    features = {"uid": [one.uid for one in proposals], "words": words, "beside": beside}
    ring: dict[str, Any] = {"symbol": "ring", "face_color": "black", "border_color": "white"}
    ring |= {"size": 4.0 / screen_per_px, "canvas_size_limits": (7, 9)}
    yield PROPOSALS, _points(PROPOSALS, proposals, features, "upper_left", colour, ring)
    if any(right):
        there = [one for one, left in zip(proposals, right, strict=True) if left]
        before = [
            word.replace("\n", f"{BESIDE}\n") + BESIDE
            for word, left in zip(words, right, strict=True)
            if left
        ]
        features = {"uid": [one.uid for one in there], "beside": before}
        none = {"size": 0.0, "face_color": "transparent", "border_color": "transparent"}
        yield LEFT_WORDS, _points(LEFT_WORDS, there, features, "upper_right", colour, none)


def _points(
    name: str,
    proposals: Sequence[ProposalView],
    features: dict[str, list[str]],
    anchor: str,
    colour: str,
    style: dict[str, Any],
) -> Points:
    text = {"string": "{beside}", "size": 9, "color": colour, "anchor": anchor, "blending": ON_TOP}
    places = np.array([(one.y_px, one.x_px) for one in proposals])
    return quiet_points(places, name=name, features=features, text=text, **style)


def _dashes(
    proposals: Sequence[ProposalView], um_per_px: float | None, screen_per_px: float
) -> tuple[Any, Any]:
    """Return dashes around each proposal, black and white by turns, as starts and steps."""
    smallest = 26 / screen_per_px
    per_um = 1 / um_per_px if um_per_px else 0.0
    starts, steps = [], []
    for one in proposals:
        long_px = max(AROUND * (one.length_um or 0.0) * per_um, smallest)
        short_px = max(AROUND * (one.width_um or one.length_um or 0.0) * per_um, 0.7 * smallest)
        ring = ellipse(one.x_px, one.y_px, long_px, short_px, one.angle_deg or 0.0)
        step = np.roll(ring, -1, axis=0) - ring
        starts.append(ring[::2])
        steps.append(1.2 * step[::2])
    vectors = np.stack([np.concatenate(starts), np.concatenate(steps)], axis=1)
    colours = np.tile(np.array([rgba("#000000"), rgba("#FFFFFF")]), (len(vectors) // 2, 1))
    return vectors, colours
