"""The sample slides: which fields they show, for which story.

Animals, dates and places are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fecallab.imaging.draw.render import Camera, Light, RoundView
from fecallab.imaging.draw.scene import FieldSpec, Wanted


@dataclass(frozen=True, kw_only=True)
class Slide:
    """One sample slide.

    Attributes
    ----------
    picture : str
        File name; its suffix decides the format.
    seed : int
        Seed of the drawing.
    spec : FieldSpec
        What is drawn.
    animal, sample, preparation : str
        Whose, which stool, how it was made.
    field : int
        Number of the field in that preparation.
    shows : str
        In plain words.
    sideways : bool
        Stored as a phone stores it, turned, with the EXIF orientation that turns it upright.
    """

    picture: str
    seed: int
    spec: FieldSpec
    animal: str
    sample: str
    preparation: str
    field: int
    shows: str
    sideways: bool = False


_DAYLIGHT = Light(white=(204, 211, 221), uneven=0.12)
_LED = Light(white=(214, 217, 214), uneven=0.10, dust=4)
_HALOGEN = Light(white=(218, 210, 190), uneven=0.16)
_SCOPE = Camera(noise=1.8)
_PHONE = Camera(noise=2.6, sharpen=0.7, gamma=1.08, blur_px=0.9)
_FLOAT_LITTER: Mapping[str, int] = {
    "clump": 14, "dark grain": 10, "fibre": 1, "plate crystal": 9, "droplet": 26, "needle": 2
}  # fmt: skip
_EGG = "oxyurid_pharyngodon_egg"


def _float(
    light: Light, *things: Wanted, litter: Mapping[str, int] | None = None, crowding: float = 0.03
) -> FieldSpec:
    """A flotation at 10x on a scope camera: clear ground, little debris."""
    return FieldSpec(
        um_per_px=0.65, objective="10x", things=things, litter=dict(_FLOAT_LITTER) | dict(litter or {}),
        crowding=crowding, germs=250, light=light, camera=_SCOPE,
    )  # fmt: skip


def _dragon() -> list[Slide]:
    def slide(name: str, seed: int, sample: str, field: int, shows: str, spec: FieldSpec) -> Slide:
        return Slide(
            picture=f"{name}.jpg", seed=seed, spec=spec, animal="Saffron, bearded dragon", sample=sample,
            preparation="flotation", field=field, shows=shows,
        )  # fmt: skip

    before, after, late = "before treatment", "after the course", "later"
    pine = Wanted(key="pollen_pine", length_um=74, width_um=50)
    return [
        slide("dragon_before_1", 101, before, 1, "three oxyurid eggs, one bubble, one pollen grain",
              _float(_DAYLIGHT, Wanted(key=_EGG, count=3), Wanted(key="air_bubble", length_um=84),
                     Wanted(key="pollen_other", length_um=24))),
        slide("dragon_before_2", 102, before, 2, "four oxyurid eggs between insect skin and crystals",
              _float(_DAYLIGHT, Wanted(key=_EGG, count=4), litter={"cuticle": 2, "plate crystal": 16}, crowding=0.06)),
        slide("dragon_before_3", 103, before, 3, "no egg: a spore, a bubble and debris; a zero field counts too",
              _float(_DAYLIGHT, Wanted(key="fungal_spore", length_um=44, width_um=14),
                     Wanted(key="air_bubble", length_um=46), litter={"clump": 26, "fibre": 2}, crowding=0.10)),
        slide("dragon_before_4", 104, before, 4, "one oxyurid egg and a winged pine pollen grain",
              _float(_DAYLIGHT, Wanted(key=_EGG), pine, litter={"plant tissue": 1})),
        slide("dragon_after_1", 111, after, 1, "no egg: bubbles of several sizes",
              _float(_LED, Wanted(key="air_bubble", length_um=118), Wanted(key="air_bubble", length_um=52),
                     Wanted(key="air_bubble", length_um=24), litter={"droplet": 40})),
        slide("dragon_after_2", 112, after, 2, "no egg: pine pollen and another pollen grain, plant hairs",
              _float(_LED, pine, Wanted(key="pollen_other", length_um=46), litter={"plant hair": 2, "fibre": 2})),
        slide("dragon_after_3", 113, after, 3, "no egg: starch, fat and debris",
              _float(_LED, Wanted(key="starch_granule", count=3), Wanted(key="fat_globule", length_um=38),
                     litter={"clump": 30, "spiral vessel": 1}, crowding=0.12)),
        slide("dragon_late_1", 121, late, 1, "one oxyurid egg between debris: positive again",
              _float(_DAYLIGHT, Wanted(key=_EGG, length_um=128, width_um=43), Wanted(key="air_bubble", length_um=40),
                     litter={"clump": 34, "fibre": 2}, crowding=0.14)),
    ]  # fmt: skip


def _others() -> list[Slide]:
    high_litter = {"clump": 6, "dark grain": 5, "yeast": 9, "droplet": 12}
    wet = FieldSpec(
        um_per_px=0.165, objective="40x", depth_um=0.10, crowding=0.12, germs=450, light=_HALOGEN, camera=_SCOPE,
        things=(
            Wanted(key="tritrichomonas_troph", count=5),
            Wanted(key="hexamita_troph", count=2),
            Wanted(key="starch_granule", length_um=21, width_um=16),
        ),
        litter=high_litter | {"fibre": 1},
    )  # fmt: skip
    ciliates = FieldSpec(
        um_per_px=0.65, objective="10x", crowding=0.32, germs=900, light=_HALOGEN, camera=_SCOPE,
        things=(
            Wanted(key="nyctotherus_troph", count=2),
            Wanted(key="balantidium_troph"),
            Wanted(key="nyctotherus_cyst", length_um=41, width_um=29),
        ),
        litter={"clump": 50, "dark grain": 26, "fibre": 3, "plant tissue": 2, "spiral vessel": 1, "droplet": 20},
    )  # fmt: skip
    oocysts = FieldSpec(
        um_per_px=0.165, objective="40x", depth_um=0.10, crowding=0.04, germs=90, light=_DAYLIGHT, camera=_SCOPE,
        things=(
            Wanted(key="isospora_amphiboluri_sporulated", count=3),
            Wanted(key="isospora_amphiboluri_unsporulated", count=2),
            Wanted(key="urate_crystal", length_um=14, width_um=13.6),
            Wanted(key="pollen_other", length_um=24),
        ),
        litter={"clump": 5, "dark grain": 5, "droplet": 22, "plate crystal": 6, "needle": 2},
    )  # fmt: skip
    crowded = FieldSpec(
        um_per_px=0.65, objective="10x", crowding=0.60, germs=1500, depth_um=0.5,
        light=Light(white=(176, 187, 222), uneven=0.14), camera=Camera(noise=1.8, sharpen=0.4),
        things=(
            Wanted(key="oxyurid_tortoise_egg", count=2),
            Wanted(key="oxyurid_tortoise_egg", sure=False, defocus_um=3.4),
            Wanted(key="angusticaecum_egg"),
            Wanted(key="pollen_pine", length_um=70, width_um=46),
        ),
        litter={
            "clump": 90, "dark grain": 60, "fibre": 4, "plant hair": 3, "needle": 16, "plant tissue": 2,
            "spiral vessel": 2, "droplet": 30, "cuticle": 1,
        },
    )  # fmt: skip
    snake = FieldSpec(
        width_px=512, height_px=384, um_per_px=0.65, objective="10x", crowding=0.10, germs=150, light=_LED,
        camera=Camera(noise=0.6),
        things=(Wanted(key="kalicephalus_egg"), Wanted(key="rhabdias_egg"), Wanted(key="capillariid_egg")),
        litter={"clump": 10, "dark grain": 8, "droplet": 6, "needle": 2},
    )  # fmt: skip
    larva = FieldSpec(
        width_px=512, height_px=384, um_per_px=1.0, objective="10x", germs=150, light=_LED, camera=Camera(noise=0.6),
        things=(Wanted(key="rhabdias_larva", at_px=(246.0, 170.0), length_um=390, width_um=18, angle_deg=14.0), Wanted(key="rhabdias_egg", count=2)),
        litter={"clump": 9, "dark grain": 8, "droplet": 8}, crowding=0.06,
    )  # fmt: skip
    grey = FieldSpec(
        width_px=560, height_px=420, um_per_px=0.165, objective="40x", depth_um=0.10, germs=40,
        light=Light(white=(200, 200, 200), uneven=0.08), camera=Camera(noise=0.7),
        things=(
            Wanted(key="isospora_amphiboluri_sporulated"),
            Wanted(key="isospora_amphiboluri_unsporulated"),
            Wanted(key="choleoeimeria_pogonae"),
        ),
        litter={"clump": 2, "dark grain": 2, "droplet": 6},
    )  # fmt: skip
    phone_float = FieldSpec(
        width_px=1200, height_px=1600, um_per_px=0.95, objective="10x", crowding=0.07, germs=300, depth_um=0.7,
        things=(
            Wanted(key=_EGG, count=2),
            Wanted(key="air_bubble", length_um=120),
            Wanted(key="air_bubble", length_um=36),
            Wanted(key="pollen_pine", length_um=72, width_um=48),
        ),
        litter={"clump": 44, "dark grain": 40, "fibre": 3, "plate crystal": 10, "droplet": 30, "plant hair": 2},
        light=Light(white=(226, 219, 194), uneven=0.2), camera=_PHONE,
        view=RoundView(x_px=588, y_px=792, radius_px=540),
    )  # fmt: skip
    phone_wet = FieldSpec(
        width_px=1200, height_px=1600, um_per_px=0.30, objective="40x", crowding=0.10, germs=900, depth_um=0.2,
        things=(
            Wanted(key="tritrichomonas_troph", count=6, sure=True),
            Wanted(key="tritrichomonas_troph", sure=False, defocus_um=1.3),
            Wanted(key="starch_granule", count=2),
        ),
        litter={"clump": 22, "dark grain": 24, "yeast": 26, "droplet": 30, "fibre": 1, "needle": 4},
        light=Light(white=(222, 222, 208), uneven=0.2), camera=_PHONE,
        view=RoundView(x_px=622, y_px=808, radius_px=548, edge_px=7),
    )  # fmt: skip
    barley = "Barley, tortoise"
    return [
        Slide(picture="tortoise_wet_mount_1.jpg", seed=201, spec=wet, animal=barley, sample="first visit",
              preparation="saline wet mount", field=1,
              shows="five trichomonads and two Hexamita between yeasts, germs and a fibre, 40x"),
        Slide(picture="tortoise_wet_mount_2.jpg", seed=202, spec=ciliates, animal=barley, sample="first visit",
              preparation="saline wet mount", field=2, shows="ciliates, normal inhabitants, with one of their cysts, 10x"),
        Slide(picture="tortoise_phone_wet_mount.jpg", seed=203, spec=phone_wet, animal=barley, sample="second visit",
              preparation="saline wet mount", field=1, shows="phone at the eyepiece, 40x: seven trichomonads, one of them blurred"),
        Slide(picture="tortoise_crowded.jpg", seed=204, spec=crowded, animal="Thimble, tortoise", sample="arrival",
              preparation="sedimentation", field=1,
              shows="a crowded field: two sure oxyurid eggs and a blurred one, an ascarid egg, a pollen grain"),
        Slide(picture="dragon_isospora.jpg", seed=301, spec=oocysts, animal="Pepper, bearded dragon", sample="arrival",
              preparation="flotation", field=1, shows="Isospora oocysts: three sporulated, two not; a urate ball; 40x"),
        Slide(picture="dragon_isospora_grey.ome.tif", seed=302, spec=grey, animal="Pepper, bearded dragon",
              sample="arrival", preparation="flotation", field=2,
              shows="grey camera, 12 bits in 16: two Isospora and one Choleoeimeria oocyst; OME-TIFF with pixel size"),
        Slide(picture="dragon_phone_flotation.jpg", seed=303, spec=phone_float, animal="Saffron, bearded dragon",
              sample="before treatment", preparation="flotation", field=5, sideways=True,
              shows="phone at the eyepiece, 10x: two oxyurid eggs, bubbles, pine pollen; stored turned, as phones do"),
        Slide(picture="snake_flotation.tif", seed=401, spec=snake, animal="Noodle, corn snake", sample="arrival",
              preparation="flotation", field=1, shows="one egg each of a hookworm, a lungworm and a capillariid; TIFF"),
        Slide(picture="snake_larva.png", seed=402, spec=larva, animal="Noodle, corn snake", sample="arrival",
              preparation="direct smear", field=1, shows="a lungworm larva and two eggs; PNG"),
    ]  # fmt: skip


SLIDES: dict[str, Slide] = {slide.picture: slide for slide in (*_dragon(), *_others())}
"""Every sample slide by its file name."""
