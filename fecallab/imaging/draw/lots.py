"""Fields by lot: widely varied, for measuring and training a detector on what it has not seen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fecallab.imaging.draw.kinds import KINDS
from fecallab.imaging.draw.render import Camera, Light, RoundView
from fecallab.imaging.draw.scene import FieldSpec, Wanted

_LAMPS = (
    (206, 212, 220),
    (216, 208, 188),
    (170, 182, 222),
    (222, 214, 180),
    (228, 228, 226),
    (196, 204, 186),
)
EGGS = tuple(key for key in KINDS if key.endswith("_egg"))
"""Worm eggs."""
ROUND_BODIES = tuple(key for key, kind in KINDS.items() if kind.group == "coccidian" or key.endswith("_cyst"))
"""Oocysts and cysts."""
LOOK_ALIKES = tuple(key for key, kind in KINDS.items() if kind.group == "artefact")
"""Pollen, bubbles and the like."""


def random_spec(
    seed: int,
    keys: Sequence[str] = EGGS,
    *,
    width_px: int = 1024,
    height_px: int = 768,
    um_per_px: float = 0.5,
    crowding: float | None = None,
    things: int | None = None,
    harsh: bool = True,
) -> FieldSpec:
    """Make a field by lot.

    Parameters
    ----------
    seed : int
        The same seed and settings give the same field.
    keys : sequence of str
        Organisms to choose from, keys of `KINDS`.
    width_px, height_px, um_per_px
        Size and scale.
    crowding : float, optional
        Share under grainy debris; 0, 0.15, 0.35 or 0.6 by lot when left out.
    things : int, optional
        Number of organisms, as many as fit; 0 to 5 by lot when left out.
    harsh : bool, optional
        Also blurred, pale, dark or noisy pictures, as hobby cameras give them.

    Returns
    -------
    FieldSpec
    """
    rng = np.random.default_rng([seed, 20])
    share = float(rng.choice([0.0, 0.15, 0.35, 0.6])) if crowding is None else crowding
    area = width_px * height_px * um_per_px**2 / 340_000.0  # in 10x camera fields
    count = int(rng.integers(0, 6)) if things is None else things
    depth = float(rng.uniform(0.2, 0.6)) * (um_per_px / 0.5) ** 0.5
    wanted = [Wanted(key=str(rng.choice(list(keys)))) for _ in range(count)]
    largest = 0.2 * min(width_px, height_px) * um_per_px
    for key in rng.choice(list(LOOK_ALIKES), int(rng.integers(0, 4))):
        size = min(float(rng.uniform(*KINDS[str(key)].length_um)), max(largest, KINDS[str(key)].length_um[0]))
        wanted.append(Wanted(key=str(key), length_um=size))
    busy = area * (0.4 + 3.0 * share)
    litter = {
        word: int(rng.poisson(mean * busy))
        for word, mean in {
            "clump": 40, "dark grain": 25, "fibre": 1.6, "plant hair": 0.8, "spiral vessel": 0.4, "plant tissue": 0.5,
            "needle": 6, "plate crystal": 4, "cuticle": 0.5, "droplet": 25, "yeast": 8,
        }.items()
    }  # fmt: skip
    white = np.array(_LAMPS[int(rng.integers(len(_LAMPS)))], float) * rng.uniform(0.82, 1.05)
    light = Light(
        white=(float(white[0]), float(white[1]), float(white[2])),
        uneven=float(rng.uniform(0.02, 0.3)),
        dust=int(rng.integers(0, 6)),
    )
    camera = Camera(
        contrast=float(rng.uniform(0.5, 1.15)) if harsh else 1.0,
        gamma=float(rng.uniform(0.75, 1.5)) if harsh else 1.0,
        blur_px=float(rng.uniform(0.3, 2.2)) if harsh else 0.4,
        sharpen=float(rng.choice([0.0, 0.0, 0.6, 1.0])) if harsh else 0.0,
        noise=float(rng.uniform(0.8, 5.0)) if harsh else 2.0,
        jpeg_quality=int(rng.integers(60, 96)) if harsh else 0,
    )
    view = None
    if harsh and rng.random() < 0.2:
        radius = float(rng.uniform(0.44, 0.62)) * min(width_px, height_px)
        view = RoundView(
            x_px=width_px / 2 + float(rng.normal(0, 0.04)) * width_px,
            y_px=height_px / 2 + float(rng.normal(0, 0.04)) * height_px,
            radius_px=radius,
            edge_px=float(rng.uniform(2, 9)),
        )
    power = "40x" if um_per_px < 0.22 else "20x" if um_per_px < 0.4 else "10x"
    return FieldSpec(
        width_px=width_px, height_px=height_px, um_per_px=um_per_px, objective=power, things=tuple(wanted),
        litter=litter, crowding=share, germs=int(rng.uniform(0, 1500) * area), depth_um=depth, light=light,
        camera=camera, view=view, as_many_as_fit=True,
    )  # fmt: skip
