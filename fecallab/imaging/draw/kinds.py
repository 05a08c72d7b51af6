"""What can be drawn, and how large: organisms and look-alikes by the keys of the organism table, and litter.

Ranges are those of the rows of the same key in the reference table ``organisms.csv`` (their sources stand
there); where that table has no width, or a range too wide to be one kind, the narrower range here is our own
choice inside it, and a test holds it against the table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fecallab.imaging.draw import debris, eggs, look_alikes, protozoa, swimmers
from fecallab.imaging.draw.form import Body, Grid

Painter = Callable[[Grid, np.random.Generator, float, float], Body]
Range = tuple[float, float]


@dataclass(frozen=True)
class Kind:
    """One kind of thing whose place and size are told as truth.

    Attributes
    ----------
    key : str
        Key of the organism table.
    group : str
        Group that the eye can tell.
    paint : callable
        Draws it.
    length_um, width_um : (float, float)
        Range of the outer long and short axes.
    reach : float
        Half the square that it needs, in lengths (flagella and cilia stand out).
    """

    key: str
    group: str
    paint: Painter
    length_um: Range
    width_um: Range
    reach: float = 0.62


_ALL = (
    Kind("oxyurid_pharyngodon_egg", "oxyurid", eggs.oxyurid_egg, (100, 150), (34, 50)),
    Kind("oxyurid_tortoise_egg", "oxyurid", eggs.oxyurid_egg, (90, 150), (38, 70)),
    Kind("kalicephalus_egg", "strongylid", eggs.strongylid_egg, (62, 95), (38, 56)),
    Kind("trichostrongylid_egg", "strongylid", eggs.strongylid_egg, (72, 96), (42, 56)),
    Kind("rhabdias_egg", "rhabditid", eggs.larvated_egg, (70, 97), (37, 46)),
    Kind("angusticaecum_egg", "ascarid", eggs.ascarid_egg, (78, 104), (62, 88)),
    Kind("snake_ascarid_egg", "ascarid", eggs.ascarid_egg, (68, 108), (56, 94)),
    Kind("capillariid_egg", "capillarid/trichurid", eggs.capillariid_egg, (48, 80), (22, 38)),
    Kind(
        "isospora_amphiboluri_unsporulated", "coccidian", protozoa.isospora_unsporulated, (22, 27), (22, 27)
    ),
    Kind(
        "isospora_amphiboluri_sporulated", "coccidian", protozoa.isospora_sporulated, (23, 26.5), (22.4, 25.9)
    ),
    Kind("choleoeimeria_pogonae", "coccidian", protozoa.eimeria_oval, (25.4, 31.4), (14, 19.8)),
    Kind("caryospora_snake", "coccidian", protozoa.caryospora, (14, 22), (13, 21)),
    Kind("entamoeba_invadens_cyst", "amoeba", protozoa.entamoeba_cyst, (10, 19), (10, 19)),
    Kind("giardia_cyst", "flagellate", protozoa.giardia_cyst, (10, 15), (7, 10)),
    Kind("balantidium_cyst", "ciliate", protozoa.balantidium_cyst, (42, 62), (41, 61)),
    Kind("nyctotherus_cyst", "ciliate", protozoa.nyctotherus_cyst, (41, 41), (29, 29)),
    Kind("tritrichomonas_troph", "flagellate", swimmers.tritrichomonas, (10, 20), (6, 10), 1.8),
    Kind("monocercomonas_troph", "flagellate", swimmers.monocercomonas, (7, 14), (4.5, 8), 1.9),
    Kind("hexamita_troph", "flagellate", swimmers.hexamita, (7, 12), (3, 6), 1.9),
    Kind("nyctotherus_troph", "ciliate", swimmers.nyctotherus, (70, 170), (46, 120), 0.70),
    Kind("balantidium_troph", "ciliate", swimmers.balantidium, (60, 125), (40, 70), 0.70),
    Kind("strongyloides_larva", "rhabditid", swimmers.larva, (220, 380), (13, 18), 0.62),
    Kind("rhabdias_larva", "rhabditid", swimmers.larva, (310, 480), (15, 22), 0.62),
    Kind("pollen_pine", "artefact", look_alikes.pollen_pine, (60, 95), (42, 66)),
    Kind("pollen_other", "artefact", look_alikes.pollen_any, (18, 60), (17, 60)),
    Kind("air_bubble", "artefact", look_alikes.air_bubble, (15, 180), (15, 180)),
    Kind("fat_globule", "artefact", look_alikes.fat_globule, (8, 60), (8, 60)),
    Kind("starch_granule", "artefact", look_alikes.starch_granule, (14, 50), (10, 40)),
    Kind("fungal_spore", "artefact", look_alikes.fungal_spore, (25, 60), (9, 18)),
    Kind("urate_crystal", "artefact", look_alikes.urate_sphere, (8, 45), (8, 45)),
)
KINDS: dict[str, Kind] = {kind.key: kind for kind in _ALL}
"""Things with truth, by key of the organism table."""

ROUND = frozenset(
    kind.key
    for kind in _ALL
    if kind.paint
    in (
        protozoa.isospora_unsporulated,
        protozoa.isospora_sporulated,
        protozoa.caryospora,
        protozoa.entamoeba_cyst,
        protozoa.balantidium_cyst,
        look_alikes.air_bubble,
        look_alikes.fat_globule,
        look_alikes.urate_sphere,
        look_alikes.pollen_any,
    )
)
"""Kinds whose width follows their length (within a few percent)."""
EVENLY_ROUND = frozenset({"air_bubble", "fat_globule"})
"""Perfect circles."""


@dataclass(frozen=True)
class Litter:
    """A kind of debris without truth: how it is drawn and how large it is."""

    paint: Painter
    length_um: Range
    aspect: Range
    reach: float = 0.75


LITTER: dict[str, Litter] = {
    "clump": Litter(debris.clump, (8, 60), (0.5, 0.9), 0.9),
    "dark grain": Litter(debris.dark_grain, (2.5, 14), (0.8, 1.0), 4.0),
    "fibre": Litter(debris.fibre, (90, 420), (0.03, 0.09), 0.62),
    "plant hair": Litter(debris.plant_hair, (60, 260), (0.04, 0.08), 0.62),
    "spiral vessel": Litter(debris.spiral_vessel, (70, 260), (0.07, 0.14), 0.62),
    "plant tissue": Litter(debris.plant_tissue, (60, 170), (0.5, 0.8), 0.8),
    "needle": Litter(debris.needle, (10, 45), (0.04, 0.08), 0.8),
    "plate crystal": Litter(debris.plate_crystal, (6, 26), (0.5, 0.9), 0.9),
    "cuticle": Litter(debris.cuticle, (40, 140), (0.5, 0.8), 0.95),
    "yeast": Litter(look_alikes.yeast, (4, 8), (0.7, 0.9), 1.3),
    "red cell": Litter(look_alikes.red_cell, (14, 19), (0.5, 0.6), 0.7),
    "droplet": Litter(look_alikes.fat_globule, (1.5, 8), (1.0, 1.0), 0.8),
}
"""Debris without truth, by its word in a `FieldSpec`."""
