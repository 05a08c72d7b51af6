"""The symbols of the canvas, drawn for the legend."""

from __future__ import annotations

from math import cos, pi, sin
from typing import TYPE_CHECKING

from napari_fecallab.layers_look import FILLING, look_of

if TYPE_CHECKING:
    from qtpy.QtGui import QPixmap

_BAR, _ARM = 0.32, 0.3
_CLOVER = tuple(
    ((0.62 + 0.34 * sin(3 * a + pi)) * cos(a), (0.62 + 0.34 * sin(3 * a + pi)) * sin(a))
    for a in (2 * pi * k / 48 for k in range(48))
)
_CROSS = ((-_ARM, -1), (_ARM, -1), (_ARM, -_ARM), (1, -_ARM), (1, _ARM), (_ARM, _ARM))
_PLUS = (*_CROSS, *((-x, -y) for x, y in _CROSS))
_TURN = cos(pi / 4)
OUTLINES: dict[str, tuple[tuple[float, float], ...]] = {
    "disc": tuple((cos(2 * pi * k / 36), sin(2 * pi * k / 36)) for k in range(36)),
    "square": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
    "diamond": ((0, -1), (0.8, 0), (0, 1), (-0.8, 0)),
    "triangle_up": ((0, -0.9), (0.95, 0.8), (-0.95, 0.8)),
    "triangle_down": ((0, 0.9), (0.95, -0.8), (-0.95, -0.8)),
    "vbar": ((-_BAR, -1), (_BAR, -1), (_BAR, 1), (-_BAR, 1)),
    "hbar": ((-1, -_BAR), (-1, _BAR), (1, _BAR), (1, -_BAR)),
    "star": tuple(
        (cos(pi * k / 5 - pi / 2) * (0.45 if k % 2 else 1), sin(pi * k / 5 - pi / 2) * (0.45 if k % 2 else 1))
        for k in range(10)
    ),
    "cross": _PLUS,
    "x": tuple((_TURN * (x - y), _TURN * (x + y)) for x, y in _PLUS),
    "clobber": _CLOVER,
    "arrow": ((-0.6, -0.9), (0.9, 0), (-0.6, 0.9), (-0.15, 0)),
    "tailed_arrow": (
        (-1, -0.25),
        (0, -0.25),
        (0, -0.85),
        (1, 0),
        (0, 0.85),
        (0, 0.25),
        (-1, 0.25),
    ),
}


def group_pixmap(group: str, side_px: int = 18, ratio: float = 1.0) -> QPixmap:
    """Draw the symbol of a group on a light ground, as it stands on a bright field."""
    from qtpy.QtCore import QPointF, Qt
    from qtpy.QtGui import QColor, QPainter, QPen, QPixmap, QPolygonF

    look = look_of(group)
    whole = max(1, round(side_px * ratio))
    pixmap = QPixmap(whole, whole)
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor("#E9E7DF"))
    painter.drawRoundedRect(0, 0, side_px, side_px, 4, 4)
    filling = QColor(look.colour)
    filling.setAlphaF(FILLING if look.filled else 0.0)
    painter.setBrush(filling)
    painter.setPen(QPen(QColor(look.colour), 1.8))
    half = side_px / 2
    reach = half - 3
    painter.drawPolygon(
        QPolygonF([QPointF(half + reach * x, half + reach * y) for x, y in OUTLINES[look.symbol]])
    )
    painter.end()
    return pixmap
