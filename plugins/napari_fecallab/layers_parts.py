"""How single layers are made, and what is compared to know that nobody moved one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from napari_fecallab.layers_pointer import quiet_image

if TYPE_CHECKING:
    from napari.components import ViewerModel
    from napari.layers import Image, Layer

    from napari_fecallab.reader_pictures import CanvasPicture

PICTURE = "picture"
WORDS_SIZE = 12
OUTLINE_POINTS = 48


def image_of(picture: CanvasPicture) -> Image:
    """Make the layer of a picture."""
    several = len(picture.levels) > 1
    options: dict[str, Any] = {} if picture.rgb else {"contrast_limits": (0, picture.white)}
    data = list(picture.levels) if several else picture.levels[0]
    return quiet_image(data, multiscale=several, rgb=picture.rgb, name=PICTURE, **options)


def is_dark(picture: CanvasPicture) -> bool:
    """Return whether most of a picture is dark, so that what is written on it must be bright."""
    smallest = picture.levels[-1]
    step = max(1, smallest.shape[0] // 64, smallest.shape[1] // 64)
    return float(np.median(smallest[::step, ::step])) < 0.3 * picture.white


def write_on_canvas(viewer: ViewerModel, words: str) -> None:
    """Write on the empty canvas what is there to do; nothing takes the words away."""
    canvas = getattr(viewer, "canvas", None)  # since napari 0.9 the words are a part of the canvas
    overlay: Any = viewer.text_overlay if canvas is None else canvas.overlays.text
    overlay.text, overlay.visible = words, bool(words)
    if words:
        overlay.position, overlay.font_size = "top_left", WORDS_SIZE


def takes(layer: Image, picture: CanvasPicture) -> bool:
    """Return whether an image layer can show another picture: one level, the same kind and sample type."""
    one = len(picture.levels) == 1 and not layer.multiscale and layer.ndim == 2
    return bool(one and layer.rgb == picture.rgb and layer.dtype == picture.levels[0].dtype)


def keep_locked(layer: Layer) -> None:
    """Lock a layer again."""
    if layer.editable:
        layer.editable = False


def transform(layer: Layer) -> tuple[Any, ...]:
    """Return where a layer lies, to compare."""
    return (
        tuple(np.round(layer.scale, 9)),
        tuple(np.round(layer.translate, 9)),
        tuple(np.round(np.asarray(layer.affine).ravel(), 9)),
        tuple(np.round(np.asarray(layer.rotate, float).ravel(), 9)),
        tuple(np.round(np.asarray(layer.shear, float).ravel(), 9)),
        tuple(map(str, layer.units)),
    )


def shapes(name: str, data: list[Any], kinds: list[str], colour: str, *, width: float) -> Layer:
    """Make a layer of outlines that nobody edits."""
    from napari.layers import Shapes

    return Shapes(
        data,
        shape_type=kinds,
        name=name,
        edge_color=colour,
        face_color="transparent",
        edge_width=width,
        opacity=0.9,
    )


def ellipse(x: float, y: float, long_px: float, short_px: float, angle_deg: float) -> Any:
    """Return the outline of an ellipse as rows and columns (pixels, whole axes)."""
    turn, around = np.radians(angle_deg), np.linspace(0, 2 * np.pi, OUTLINE_POINTS, endpoint=False)
    along, across = 0.5 * long_px * np.cos(around), 0.5 * short_px * np.sin(around)
    columns = x + along * np.cos(turn) - across * np.sin(turn)
    rows = y + along * np.sin(turn) + across * np.cos(turn)
    return np.column_stack([rows, columns])
