"""The open field on the canvas: picture, edge, measures, marks, pointer; every layer a locked view.

Layers are made by the program alone. All lie on one scale with one unit, none can be moved, stretched or edited
by the canvas's own tools, and what somebody changes all the same is put back with a line that says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

from napari_fecallab.layers_look import ON_TOP
from napari_fecallab.layers_marks import MarksLayer
from napari_fecallab.layers_parts import (
    PICTURE,
    ellipse,
    image_of,
    is_dark,
    keep_locked,
    shapes,
    takes,
    transform,
)
from napari_fecallab.layers_pointer import PointerLayer, quiet_image
from napari_fecallab.layers_proposals import PROPOSAL_LAYERS, proposal_layers
from napari_fecallab.layers_tracks import TRACK_LAYERS, track_layers

if TYPE_CHECKING:
    from collections.abc import Iterator

    from napari.components import ViewerModel
    from napari.layers import Layer
    from numpy.typing import NDArray

    from fecallab.imaging.motility import MotilityResult
    from napari_fecallab.reader_pictures import CanvasPicture
    from napari_fecallab.views import MarkView, ProposalView

EDGE, MEASURES = "edge of the field", "measures"
Placing = Callable[["Layer"], None]
EDGE_COLOUR, MEASURE_COLOUR = "#56B4E9", "#E69F00"


class FieldLayers:
    """What lies on the canvas for one field.

    Parameters
    ----------
    viewer : ViewerModel
        With a window or without.
    bind : callable
        Called with every layer that is made: puts the keys on it.
    tell : callable
        Called with one line when something was put back.
    later : callable, optional
        Calls a function when what happens now is over; at once when omitted.
    """

    def __init__(
        self,
        viewer: ViewerModel,
        bind: Placing,
        tell: Callable[[str], None],
        later: Callable[[Callable[[], None]], None] | None = None,
    ) -> None:
        self.viewer = viewer
        self._later = later or (lambda work: work())
        self._closed = False
        self.um_per_px: float | None = None
        self.frames = 0
        self.fps = 0.0
        self.fitted_zoom = 1.0
        self._bind, self._tell = bind, tell
        self._ours: dict[str, Layer] = {}
        self._placed: dict[str, tuple[Any, ...]] = {}
        self._working = False
        self._holds: CanvasPicture | None = None
        self.marks = MarksLayer()
        self.pointer = PointerLayer()
        with self._at_work():
            self._put("marks", self.marks.layer)
            self._put("pointer", self.pointer.layer)
        viewer.layers.events.removed.connect(self._on_removed)
        viewer.dims.events.ndisplay.connect(self._on_three_dimensions)

    # --- what others ask

    @property
    def scale(self) -> float:
        """Canvas units per pixel of the picture: µm where the scale is known, else 1."""
        return self.um_per_px or 1.0

    @property
    def camera(self) -> Any:
        """The camera: a part of the scene since napari 0.9."""
        scene = getattr(self.viewer, "scene", None)
        return self.viewer.camera if scene is None else scene.camera

    @property
    def scale_bar(self) -> Any:
        """The scale bar: a part of the canvas since napari 0.9."""
        canvas = getattr(self.viewer, "canvas", None)
        return self.viewer.scale_bar if canvas is None else canvas.overlays.scale_bar

    @property
    def screen_per_px(self) -> float:
        """Screen pixels per pixel of the picture at the present zoom."""
        return float(self.camera.zoom) * self.scale

    @property
    def has_picture(self) -> bool:
        """Whether a picture or a clip is on the canvas."""
        return PICTURE in self._ours

    @property
    def ours(self) -> tuple[Layer, ...]:
        """All layers that the program made."""
        return tuple(self._ours.values())

    def to_px(self, position: Sequence[float]) -> tuple[float, float]:
        """Return column and row of the picture for a place of the canvas."""
        return float(position[-1]) / self.scale, float(position[-2]) / self.scale

    def px_at(self, x: float, y: float, width: float, height: float) -> tuple[float, float]:
        """Return column and row of the picture under a place of the canvas, which is `width` by `height` large."""
        column, row = self.to_px(self.camera.center)
        return column + (x - width / 2) / self.screen_per_px, row + (y - height / 2) / self.screen_per_px

    def warnings(self) -> tuple[str, ...]:
        """Return what is wrong with the layers as they stand, one line each."""
        found = []
        active = self.viewer.layers.selection.active
        if not self.marks.layer.visible:
            found.append("The marks are hidden: what you mark is kept but not seen. Press H to show them.")
        if active is None and len(self.viewer.layers.selection) > 1:
            found.append("Several layers are selected. Press Escape to go back to the marks.")
        elif active is not None and active not in self._ours.values():
            found.append(
                f"The layer “{active.name}” is active, not the marks. Press F8 to go back to the marks."
            )
        picture = self._ours.get(PICTURE)
        if picture is not None and not picture.visible:
            found.append("The picture is hidden. Its eye stands in the list of layers (menu Window).")
        return tuple(found)

    def make_active(self) -> None:
        """Make the marks the active layer, as they always should be."""
        self.viewer.layers.selection.active = self.marks.layer

    # --- the field

    def show_picture(self, picture: CanvasPicture | None, um_per_px: float | None) -> None:
        """Show another picture with its scale; None leaves the canvas empty."""
        with self._at_work():
            self._take_away(EDGE, MEASURES, *PROPOSAL_LAYERS, *TRACK_LAYERS)
            self.frames, self.fps = 0, 0.0
            before = self._ours.get(PICTURE)
            if picture is not None and before is not None and takes(before, picture):
                before.data = picture.levels[0]  # much faster than another layer
                if not picture.rgb:
                    before.contrast_limits_range = before.contrast_limits = (0, picture.white)
                self._set_scale(um_per_px)
            else:
                self._take_away(PICTURE)
                self._set_scale(um_per_px)
                if picture is not None:
                    self._put(PICTURE, image_of(picture), bottom=True)
            self._holds = picture
            self.marks.word_colour = "white" if picture is not None and is_dark(picture) else "black"
        self.look_at_all()
        self.make_active()

    def show_clip(self, frames: Any, fps: float, um_per_px: float | None) -> None:
        """Show a clip, (frames, rows, columns, 3), read as it is looked at."""
        with self._at_work():
            self._take_away(PICTURE, EDGE, MEASURES, *PROPOSAL_LAYERS, *TRACK_LAYERS)
            self._holds = None
            self.frames, self.fps = int(frames.shape[0]), fps
            self._set_scale(um_per_px)
            axes = ("frame", "row", "column")[-(frames.ndim - (frames.ndim == 4)) :]
            image = quiet_image(
                frames, axis_labels=axes, rgb=frames.ndim == 4, multiscale=False, name=PICTURE
            )
            self._put(PICTURE, image, bottom=True)
            dark = float(np.median(np.asarray(frames[0]))) < 0.3 * 255
            self.marks.word_colour = "white" if dark else "black"
            self.viewer.dims.set_point(0, 0)
        self.look_at_all()
        self.make_active()

    def set_scale(self, um_per_px: float | None) -> None:
        """Lay everything on another scale."""
        with self._at_work():
            self._set_scale(um_per_px)
        self.look_at_all()
        self.make_active()

    def show_edge(self, x_px: float, y_px: float, diameter_px: float) -> None:
        """Draw the edge of the lit circle, which nobody can edit."""
        with self._at_work():
            self._take_away(EDGE)
            outline = ellipse(x_px, y_px, diameter_px, diameter_px, 0.0)
            self._put(EDGE, shapes(EDGE, [outline], ["polygon"], EDGE_COLOUR, width=2.0 / self.screen_per_px))

    def show_measures(self, marks: Sequence[MarkView], drawing: Sequence[tuple[float, float]] = ()) -> None:
        """Draw what marks were measured by, and what is being drawn now."""
        lines = [mark for mark in marks if mark.shape and len(mark.points_px) > 1]
        data = [np.array(mark.points_px)[:, ::-1] for mark in lines]
        kinds = ["line" if len(mark.points_px) == 2 else "polygon" for mark in lines]
        if len(drawing) > 1:
            data.append(np.array(drawing)[:, ::-1])
            kinds.append("path")
        with self._at_work():
            self._take_away(MEASURES)
            if data:
                width = 2.0 / max(self.screen_per_px, 1e-9)
                self._put(MEASURES, shapes(MEASURES, data, kinds, MEASURE_COLOUR, width=width))
                self.make_active()

    def show_proposals(self, proposals: Sequence[ProposalView]) -> None:
        """Draw proposals in place: dashed outlines with words, which no mark has."""
        with self._at_work():
            self._take_away(*PROPOSAL_LAYERS)
            if proposals:
                for name, layer in proposal_layers(
                    proposals,
                    um_per_px=self.um_per_px,
                    screen_per_px=self.screen_per_px,
                    width_px=self._holds.levels[0].shape[1] if self._holds is not None else np.inf,
                    colour=self.marks.word_colour,
                ):
                    self._put(name, layer)
                self.make_active()

    def show_tracks(self, found: MotilityResult | None, shown: NDArray[np.intp] | None = None) -> None:
        """Draw what moves in a clip by kind; `shown` is the place of every frame in the stack. None: nothing."""
        with self._at_work():
            self._take_away(*TRACK_LAYERS)
            if found is not None and shown is not None:
                for name, layer in track_layers(
                    found, shown, self.screen_per_px, self.marks.word_colour
                ).items():
                    self._put(name, layer)
                self.make_active()

    def toggle_tracks(self) -> bool:
        """Hide what moves, or show it again; returns whether it is shown now."""
        drawn = [self._ours[name] for name in TRACK_LAYERS if name in self._ours]
        shown = not any(layer.visible for layer in drawn)
        for layer in drawn:
            layer.visible = shown
        return shown

    def close(self) -> None:
        """Let go of the viewer; the layers stay where they are."""
        self._closed = True
        self.viewer.layers.events.removed.disconnect(self._on_removed)
        self.viewer.dims.events.ndisplay.disconnect(self._on_three_dimensions)

    # --- inside

    def _set_scale(self, um_per_px: float | None) -> None:
        same = um_per_px == self.um_per_px
        self.um_per_px = um_per_px
        for name, layer in self._ours.items():
            if not same or name not in self._placed:
                self._place(name, layer)
        self.scale_bar.visible = um_per_px is not None

    def _place(self, name: str, layer: Layer) -> None:
        unit = "um" if self.um_per_px else "pixel"
        front: tuple[float, ...] = (1.0,) * (layer.ndim - 2)
        layer.units = (*("pixel" for _ in front), unit, unit)
        layer.scale = (*front, self.scale, self.scale)
        layer.translate = (0.0,) * layer.ndim
        self._placed[name] = transform(layer)

    def _put(self, name: str, layer: Layer, *, bottom: bool = False) -> None:
        self._ours[name] = layer
        self._place(name, layer)
        layer.editable = False
        if not bottom:
            layer.blending = ON_TOP
        if hasattr(layer, "locked"):  # napari 0.9: no deleting by hand
            layer.locked = True
        self._bind(layer)
        for event in ("scale", "translate", "rotate", "shear", "affine", "units"):
            getattr(layer.events, event).connect(lambda _event, name=name: self._on_moved(name))
        layer.events.editable.connect(lambda _event, layer=layer: keep_locked(layer))
        if bottom:
            self.viewer.layers.insert(0, layer)
        else:
            self.viewer.layers.append(layer)
            for top in ("marks", "pointer"):
                if name not in ("marks", "pointer") and top in self._ours:
                    self._raise(self._ours[top])

    def _raise(self, layer: Layer) -> None:
        at = self.viewer.layers.index(layer)
        if at != len(self.viewer.layers) - 1:
            self.viewer.layers.move(at, len(self.viewer.layers))

    def _take_away(self, *names: str) -> None:
        for name in names:
            layer = self._ours.pop(name, None)
            self._placed.pop(name, None)
            if layer is not None and layer in self.viewer.layers:
                if hasattr(layer, "locked"):
                    layer.locked = False
                self.viewer.layers.remove(layer)

    def look_at_all(self) -> None:
        """Have the whole field in view."""
        self.viewer.reset_view(margin=0.02)
        self.fitted_zoom = float(self.camera.zoom)

    @contextmanager
    def _at_work(self) -> Iterator[None]:
        before, self._working = self._working, True
        try:
            yield
        finally:
            self._working = before

    def _on_moved(self, name: str) -> None:
        layer = self._ours.get(name)
        if self._working or layer is None or self._placed.get(name) == transform(layer):
            return
        with self._at_work():
            layer.rotate, layer.shear = 0, [0] * (layer.ndim * (layer.ndim - 1) // 2)
            layer.affine = np.eye(layer.ndim + 1)
            self._place(name, layer)
        self._tell(f"“{layer.name}” was moved or stretched; it was put back, so that sizes stay true.")

    def _on_removed(self, event: Any) -> None:
        layer = event.value
        name = next((key for key, one in self._ours.items() if one is layer), None)
        if self._working or name is None:
            return
        self._later(lambda: self._put_back(name, layer))

    def _put_back(self, name: str, layer: Layer) -> None:
        shown = str(layer.name)
        if self._closed or self._ours.get(name) is not layer or layer in self.viewer.layers:
            return
        with self._at_work():
            if name == PICTURE:
                self.viewer.layers.insert(0, layer)
            else:
                self.viewer.layers.append(layer)
            self.make_active()
        self._tell(f"“{shown}” was taken out of the list of layers; it was put back. No mark is lost.")

    def _on_three_dimensions(self, _event: Any) -> None:
        if self.viewer.dims.ndisplay != 2:
            self.viewer.dims.ndisplay = 2
            self._tell("A field is flat: the view stays in two dimensions.")
