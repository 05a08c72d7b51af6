"""Find a counting grid: evenly spaced lines in two directions at right angles."""

from __future__ import annotations

from dataclasses import dataclass

from fecallab.imaging.grey import Grey
from fecallab.imaging.ruler import Lines, find_lines

_RIGHT_ANGLE_WITHIN_DEG, _SAME_SPACING_WITHIN = 6.0, 0.10


@dataclass(frozen=True)
class GridFound:
    """Two families of lines, the first counted in the direction nearer to +x."""

    across: Lines
    down: Lines

    @property
    def spacing_px(self) -> float:
        """Mean distance of neighbouring lines."""
        return (self.across.spacing_px + self.down.spacing_px) / 2

    def half_width_px(self) -> float:
        """Half of a 95 % interval: each family's own, and half of what the two differ by."""
        own = (self.across.half_width_px() ** 2 + self.down.half_width_px() ** 2) ** 0.5 / 2
        apart = abs(self.across.spacing_px - self.down.spacing_px) / 2
        return float((own**2 + apart**2) ** 0.5)


def find_grid(grey: Grey, near_px: float | None = None) -> GridFound | None:
    """Find a grid of squares.

    Parameters
    ----------
    grey : ndarray of float32, shape (rows, columns)
        Brightness.
    near_px : float, optional
        What the side of a square is, roughly, when the picture holds several kinds.

    Returns
    -------
    GridFound or None
        None when there are not two families of evenly spaced lines at right angles with one spacing.
    """
    one = find_lines(grey, near_px=near_px, longer_lines=False)
    if one is None or not one.convincing:
        return None
    other = find_lines(
        grey,
        near_px=near_px or one.spacing_px,
        near_deg=(one.angle_deg + 90) % 180,
        within_deg=_RIGHT_ANGLE_WITHIN_DEG,
        longer_lines=False,
    )
    if other is None or not other.convincing:
        return None
    if abs(other.spacing_px / one.spacing_px - 1) > _SAME_SPACING_WITHIN:
        return None
    level = abs((one.angle_deg + 90) % 180 - 90) <= abs((other.angle_deg + 90) % 180 - 90)
    return GridFound(one, other) if level else GridFound(other, one)
