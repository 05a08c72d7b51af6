"""What moves in a clip, on the canvas: a layer of tracks for every kind, and a shape at the place of every body.

A kind is told by its shape and by the name of its layer; the colour only repeats it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fecallab.report.moving import MEANS, kind_words
from napari_fecallab.layers_look import ON_TOP, rgba
from napari_fecallab.layers_pointer import quiet_points

if TYPE_CHECKING:
    from napari.layers import Layer, Points
    from numpy.typing import NDArray

    from fecallab.imaging.motility import MotilityResult, MovingBody

NUMBERED, SHAPED = ("swimming", "cannot-tell"), ("drifting", "trembling", "stuck")
NUMBERS, SHAPES = "shapes of what swims", "shapes of the rest"
TRACK_LAYERS = (*(f"tracks {kind}" for kind in MEANS if kind != "stuck"), SHAPES, NUMBERS)
"""The names by which these layers are kept, bottom first; what the list of layers shows holds the count."""
MOST_SHAPES = 200_000
"""More places than these are not drawn (own choice: making the layer takes a third of a second then)."""
TAIL_S = 1.2
SYMBOL_OF = {
    "triangle up": "triangle_up",
    "diamond": "diamond",
    "circle": "disc",
    "square": "square",
    "cross": "x",
}


def track_layers(
    found: MotilityResult, shown: NDArray[np.intp], screen_per_px: float, word_colour: str = "black"
) -> dict[str, Layer]:
    """Make the layers of a clip.

    Parameters
    ----------
    found : MotilityResult
    shown : ndarray, shape (frames,)
        For every frame that was worked on, its place in the stack on the canvas.
    screen_per_px : float
        Screen pixels per pixel of the clip.
    word_colour : str, optional
        Of the swimmers' numbers.

    Returns
    -------
    dict of str to Layer
        By the names of `TRACK_LAYERS`, in their order; a kind that is not there has none.
    """
    made: dict[str, Layer] = {}
    for kind in MEANS:
        if kind != "stuck" and found.of_kind(kind):
            made[f"tracks {kind}"] = _tracks(kind, found.of_kind(kind), shown, found.fps)
    for name, kinds in ((SHAPES, SHAPED), (NUMBERS, NUMBERED)):
        layer = _shapes(name, kinds, found, shown, screen_per_px, word_colour)
        if layer is not None:
            made[name] = layer
    return {name: made[name] for name in TRACK_LAYERS if name in made}


def counted_name(kind: str, number: int) -> str:
    """Return the name of a layer of tracks, with its count.

    Examples
    --------
    >>> counted_name("cannot-tell", 2)
    '2 cannot tell'
    """
    return f"{number} {kind_words(kind)}"


def _tracks(kind: str, bodies: tuple[MovingBody, ...], shown: NDArray[np.intp], fps: float) -> Layer:
    from napari.layers import Tracks
    from napari.utils.colormaps import Colormap

    from fecallab.imaging.motility.paint import KIND_STYLE

    rows = np.concatenate(
        [
            np.column_stack(
                [np.full(len(one.frames), one.number), _at(one.frames, shown), one.xy_px[:, ::-1]]
            )
            for one in bodies
        ]
    )
    colour = rgba(KIND_STYLE[kind].colour)
    return Tracks(
        rows,
        features={"kind": np.zeros(len(rows))},
        color_by="kind",
        colormaps_dict={"kind": Colormap([colour, colour], name=f"colour of {kind}")},
        name=counted_name(kind, len(bodies)),
        tail_length=max(2, round(TAIL_S * fps)),
        head_length=0,
        tail_width=4 if kind == "swimming" else 2,
        blending=ON_TOP,
    )


def _shapes(
    name: str,
    kinds: tuple[str, ...],
    found: MotilityResult,
    shown: NDArray[np.intp],
    screen_per_px: float,
    word_colour: str,
) -> Points | None:
    from fecallab.imaging.motility.paint import KIND_STYLE

    rows, colours, symbols, labels = [], [], [], []
    room = MOST_SHAPES
    for one in (body for kind in kinds for body in found.of_kind(kind)):
        frames, xy = _places(one, found)
        room -= len(frames)
        if room < 0:
            break
        rows.append(np.column_stack([_at(frames, shown), xy[:, ::-1]]))
        style = KIND_STYLE[one.kind]
        colours.append(np.tile(rgba(style.colour), (len(frames), 1)))
        symbols += [SYMBOL_OF[style.shape]] * len(frames)
        labels += [str(one.number) if one.kind == "swimming" else ""] * len(frames)
    if not rows:
        return None
    numbered = kinds == NUMBERED
    words = {
        "string": "{number}",
        "size": 11,
        "color": word_colour,
        "anchor": "upper_left",
        "blending": ON_TOP,
    }
    return quiet_points(
        np.concatenate(rows),
        name=name,
        features={"number": labels},
        text=words if numbered else None,
        symbol=symbols,
        size=(13.0 if numbered else 8.0) / max(screen_per_px, 1e-9),
        face_color=np.zeros(4) if numbered else np.concatenate(colours),
        border_color=np.concatenate(colours) if numbered else "black",
        border_width=0.18 if numbered else 0.12,
        canvas_size_limits=(9, 16) if numbered else (5, 9),
    )


def _places(one: MovingBody, found: MotilityResult) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return where a body is in every frame; what is stuck goes only as the picture shakes."""
    if one.kind != "stuck":
        return one.frames, one.xy_px
    frames = np.arange(one.frames[0], one.frames[-1] + 1)
    moved = found.camera_px[frames] if len(found.camera_px) > frames[-1] else np.zeros((len(frames), 2))
    return frames, one.xy_px[0] - moved[0] + moved


def _at(frames: NDArray[np.intp], shown: NDArray[np.intp]) -> Any:
    return shown[np.clip(frames, 0, len(shown) - 1)]
