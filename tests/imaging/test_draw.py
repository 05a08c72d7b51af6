"""The drawn truth is where and as large as it says; the committed slides are what the code draws."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.organism import EYE_GROUPS, NEVER_A_CASE
from fecallab.imaging.draw import (
    SLIDES,
    Camera,
    FieldSpec,
    Light,
    RoundView,
    Truth,
    Wanted,
    draw_field,
    field_truth,
    random_spec,
    write_sample_slides,
)
from fecallab.imaging.draw.__main__ import main
from fecallab.imaging.draw.form import Grid, chord, superellipse, tube_depth
from fecallab.imaging.draw.kinds import KINDS, LITTER
from fecallab.imaging.draw.write import ANNOTATED, encode, truth_row
from fecallab.imaging.read import open_picture, probe, to_8bit
from fecallab.reference.tables import number, read_rows

FOLDER = Path(__file__).parents[2] / "sample_slides"
CLEAN = Camera(noise=0.0, blur_px=0.0)
EVEN = Light(white=(210, 210, 210), uneven=0.0, dust=0)
LARVAE = {"strongyloides_larva", "rhabdias_larva"}
WHIPS = {"tritrichomonas_troph", "monocercomonas_troph", "hexamita_troph"}
CILIA = {"nyctotherus_troph", "balantidium_troph"}


def alone(key: str, seed: int, angle: float, **changes: object) -> tuple[NDArray[np.uint8], Truth, FieldSpec]:
    """Draw one thing in a clean field that is 2.2 times its length wide."""
    kind = KINDS[key]
    length = min(sum(kind.length_um) / 2, kind.length_um[1])
    um_per_px = length / 150
    power = "40x" if um_per_px < 0.22 else "20x" if um_per_px < 0.4 else "10x"
    size = 420
    spec = FieldSpec(
        width_px=size, height_px=size, um_per_px=um_per_px, objective=power, light=EVEN, camera=CLEAN,
        things=(Wanted(key=key, at_px=(205.3, 213.8), angle_deg=angle, defocus_um=0.0, length_um=length),),
    )  # fmt: skip
    pixels, truth = draw_field(spec, seed)
    return pixels, truth[0], spec


def body_mask(pixels: NDArray[np.uint8], key: str, width_px: float) -> NDArray[np.bool_]:
    """The thing as one filled patch, by threshold against the even light; whips and cilia opened away."""
    mask = 210 - pixels.astype(int).min(axis=2) > (14 if key not in WHIPS else 9)
    mask = ndimage.binary_fill_holes(ndimage.binary_closing(mask, iterations=2))
    if key in WHIPS or key in CILIA:
        radius = int(0.17 * width_px)
        y, x = np.mgrid[-radius : radius + 1, -radius : radius + 1]
        mask = ndimage.binary_opening(mask, structure=x**2 + y**2 <= radius**2)
    labels, _ = ndimage.label(mask)
    largest = np.argmax(np.bincount(labels.ravel())[1:]) + 1
    return labels == largest


@pytest.mark.parametrize("key", sorted(set(KINDS) - LARVAE))
@pytest.mark.parametrize(("seed", "angle"), [(1, 33.0), (2, 118.0)])
def test_size_place_and_angle_are_as_told(key: str, seed: int, angle: float) -> None:
    """By threshold: axes within 4.5 %, centre within 1 % of the length and half a pixel.

    Swimmers are looser: cilia (told without) add up to 16 %, the rippled edge of a trichomonad up to 20 %, and
    opening away the whips takes a tenth of the tail.
    """
    pixels, truth, spec = alone(key, seed, angle)
    mask = body_mask(pixels, key, truth.width_um / spec.um_per_px)
    y, x = np.nonzero(mask)
    turn = np.radians(truth.angle_deg)
    u = ((x - truth.x_px) * np.cos(turn) + (y - truth.y_px) * np.sin(turn)) * spec.um_per_px
    v = ((y - truth.y_px) * np.cos(turn) - (x - truth.x_px) * np.sin(turn)) * spec.um_per_px
    low, high = (0.87, 1.20) if key in WHIPS else (1.00, 1.16) if key in CILIA else (0.97, 1.045)
    assert low < (np.ptp(u) + spec.um_per_px) / truth.length_um < high
    assert low < (np.ptp(v) + spec.um_per_px) / truth.width_um < high
    allowed = (0.05 if key in WHIPS else 0.01) * truth.length_um + spec.um_per_px / 2
    # pine pollen is told by the middle of its outline, which two air bladders make lopsided
    centre = (
        ((u.max() + u.min()) / 2, (v.max() + v.min()) / 2) if key == "pollen_pine" else (u.mean(), v.mean())
    )
    assert np.hypot(*centre) < allowed
    assert truth.angle_deg == pytest.approx(angle)


@pytest.mark.parametrize("key", sorted(LARVAE))
def test_larvae_have_their_length_along_the_body(key: str) -> None:
    pixels, truth, spec = alone(key, 3, 20.0)
    mask = np.abs(pixels.astype(int) - 210).max(axis=2) > 14
    mask = ndimage.binary_fill_holes(ndimage.binary_closing(mask, iterations=2))
    area_um2 = mask.sum() * spec.um_per_px**2
    # a tapering tube: between 0.65 and 0.95 of length x width
    assert 0.65 < area_um2 / (truth.length_um * truth.width_um) < 1.0
    y, x = np.nonzero(mask)
    turn = np.radians(truth.angle_deg)
    along = ((x - truth.x_px) * np.cos(turn) + (y - truth.y_px) * np.sin(turn)) * spec.um_per_px
    assert 0.75 < np.ptp(along) / truth.length_um <= 1.01
    assert abs(along.max() + along.min()) / 2 < 0.03 * truth.length_um


@pytest.mark.parametrize(
    "key", ["oxyurid_pharyngodon_egg", "kalicephalus_egg", "angusticaecum_egg", "capillariid_egg"]
)
def test_in_a_crowded_field_the_thing_is_what_differs_from_the_field_without_it(key: str) -> None:
    crowd = {"clump": 40, "dark grain": 20, "fibre": 2, "droplet": 20}
    common = {"litter": crowd, "crowding": 0.5, "germs": 400, "width_px": 500, "height_px": 400}
    thing = Wanted(key=key, at_px=(260.0, 190.0), angle_deg=40.0, defocus_um=0.2)
    with_it, truth = draw_field(FieldSpec(things=(thing,), **common), 11)  # type: ignore[arg-type]
    without, none = draw_field(FieldSpec(**common), 11)  # type: ignore[arg-type]
    assert none == []
    y, x = np.nonzero(ndimage.binary_opening(np.abs(with_it.astype(int) - without).max(axis=2) > 12))
    far = np.hypot(x - truth[0].x_px, y - truth[0].y_px)
    assert far.max() * 0.65 < 0.56 * truth[0].length_um + 4
    assert abs(np.median(x) - 260) < 0.06 * truth[0].length_um / 0.65
    assert abs(np.median(y) - 190) < 0.06 * truth[0].length_um / 0.65


def rows_of(table: str) -> list[dict[str, str]]:
    with (FOLDER / table).open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def contrast_at(grey: NDArray[np.float64], row: dict[str, str]) -> float:
    """How much the place told differs from its own surroundings: 95th percentile inside of the difference to the
    median of a ring around, in shares of that median."""
    um = float(row["um_per_px"])
    height, width = grey.shape
    x, y = np.arange(width) - float(row["x_px"]), np.arange(height)[:, None] - float(row["y_px"])
    turn = np.radians(float(row["angle_deg"]))
    u = (x * np.cos(turn) + y * np.sin(turn)) * um / (float(row["length_um"]) / 2)
    v = (y * np.cos(turn) - x * np.sin(turn)) * um / (float(row["width_um"]) / 2)
    far = np.hypot(u, v)
    ring = np.median(grey[(far > 1.25) & (far < 1.8)])
    return float(np.percentile(np.abs(grey[far < 1.05] - ring), 95) / ring)


@pytest.mark.parametrize("picture", sorted(SLIDES))
def test_every_sure_thing_on_the_committed_slides_can_be_seen_where_told(picture: str) -> None:
    grey = to_8bit(open_picture(FOLDER / picture)).astype(float)
    grey = grey if grey.ndim == 2 else grey.mean(axis=2)
    for row in rows_of("truth.csv"):
        if row["picture"] == picture and row["sure"] == "yes" and row["name"] not in LARVAE:
            assert contrast_at(grey, row) > 0.12, row
            elsewhere = row | {"x_px": str(grey.shape[1] - float(row["x_px"])), "angle_deg": "90"}
            assert contrast_at(grey, row) != contrast_at(grey, elsewhere)


@pytest.mark.parametrize("picture", sorted(SLIDES))
def test_the_committed_truth_is_that_of_the_code(picture: str) -> None:
    slide = SLIDES[picture]
    expected = [
        {key: str(value) for key, value in truth_row(slide, one).items()}
        for one in field_truth(slide.spec, slide.seed)
    ]
    assert [row for row in rows_of("truth.csv") if row["picture"] == picture] == expected
    info = probe(FOLDER / picture)
    table = {row["picture"]: row for row in rows_of("slides.csv")}[picture]
    assert (info.width_px, info.height_px) == (int(table["width_px"]), int(table["height_px"]))
    assert info.bytes < 350_000


@pytest.mark.parametrize(
    "picture",
    ["dragon_before_1.jpg", "dragon_isospora_grey.ome.tif", "snake_flotation.tif", "snake_larva.png"],
)
def test_the_committed_slides_are_what_the_code_draws(picture: str, tmp_path: Path) -> None:
    """Mean difference under one grey value and hardly any pixel off by more than 20, on any machine."""
    slide = SLIDES[picture]
    path = tmp_path / picture
    path.write_bytes(encode(slide, draw_field(slide.spec, slide.seed)[0]))
    drawn, kept = to_8bit(open_picture(path)).astype(int), to_8bit(open_picture(FOLDER / picture)).astype(int)
    assert drawn.shape == kept.shape
    difference = np.abs(drawn - kept)
    assert difference.mean() < 1.0
    assert (difference > 20).mean() < 0.002


def test_the_folder_holds_these_slides_and_is_small() -> None:
    files = {path.name for path in FOLDER.iterdir() if path.suffix in (".jpg", ".png", ".tif")}
    assert files == set(SLIDES) == {row["picture"] for row in rows_of("slides.csv")}
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 4_000_000
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert "drawn" in text and "python -m fecallab.imaging.draw sample_slides" in text
    assert all(name in text for name in SLIDES)


def test_the_set_tells_its_stories() -> None:
    def organisms(prefix: str) -> list[list[str]]:
        return [
            [
                row["group"]
                for row in rows_of("truth.csv")
                if row["picture"] == name and row["group"] not in NEVER_A_CASE
            ]
            for name in sorted(SLIDES)
            if name.startswith(prefix)
        ]

    before = organisms("dragon_before")
    assert len(before) >= 4 and {len(field) for field in before} >= {0, 4} and max(map(len, before)) == 4
    assert {group for field in before for group in field} == {"oxyurid"}
    assert organisms("dragon_after") == [[], [], []]
    assert organisms("dragon_late") == [["oxyurid"]]
    assert {group for field in organisms("tortoise_wet_mount_1") for group in field} == {"flagellate"}
    assert [group for field in organisms("dragon_isospora.") for group in field] == ["coccidian"] * 5
    assert any(
        row["group"] == "artefact"
        for row in rows_of("truth.csv")
        if row["picture"].startswith("dragon_after")
    )


def test_the_annotation_file_follows_the_standard_and_the_truth() -> None:
    page = json.loads((FOLDER / f"{Path(ANNOTATED).stem}.annotations.json").read_text(encoding="utf-8"))
    assert page["@context"][0] == "http://www.w3.org/ns/anno.jsonld" and page["type"] == "AnnotationPage"
    own = set(page["@context"][1])
    rows = [row for row in rows_of("truth.csv") if row["picture"] == ANNOTATED]
    assert len(page["items"]) == len(rows)
    for item, row in zip(page["items"], rows, strict=True):
        assert item["type"] == "Annotation" and item["target"]["source"] == ANNOTATED
        assert item["body"]["value"] == row["name"]
        assert set(item["body"]) - {"type", "purpose", "format", "value"} <= own
        centre = [
            float(text) for text in re.findall(r'c[xy]="([0-9.]+)"', item["target"]["selector"]["value"])
        ]
        assert centre == pytest.approx([float(row["x_px"]) + 0.5, float(row["y_px"]) + 0.5], abs=0.011)


def test_a_drawing_is_the_same_each_time_and_another_seed_is_another_one() -> None:
    spec = random_spec(4, width_px=500, height_px=400, crowding=0.3, things=2)
    first, truth = draw_field(spec, 5)
    again, same = draw_field(spec, 5)
    assert np.array_equal(first, again) and truth == same == field_truth(spec, 5)
    assert not np.array_equal(first, draw_field(spec, 6)[0])


def test_fields_by_lot_vary_widely() -> None:
    specs = [random_spec(seed) for seed in range(40)]
    assert {spec.crowding for spec in specs} == {0.0, 0.15, 0.35, 0.6}
    assert np.ptp([spec.camera.contrast for spec in specs]) > 0.5
    assert np.ptp([spec.camera.blur_px for spec in specs]) > 1.5
    assert np.ptp([spec.camera.gamma for spec in specs]) > 0.6
    assert {spec.view is None for spec in specs} == {True, False}
    assert len({wanted.key for spec in specs for wanted in spec.things}) > 12
    drawn = [len(field_truth(spec, seed)) for seed, spec in enumerate(specs)]
    wanted = [sum(one.count for one in spec.things) for spec in specs]
    assert all(few <= many for few, many in zip(drawn, wanted, strict=True))
    assert sum(drawn) > 0.85 * sum(wanted)


@pytest.mark.parametrize("seed", range(4))
def test_crowding_is_the_share_that_debris_darkens(seed: int) -> None:
    shares = []
    for crowding in (0.0, 0.3, 0.6):
        pixels, _ = draw_field(
            FieldSpec(width_px=400, height_px=300, crowding=crowding, light=EVEN, camera=CLEAN), seed
        )
        soft = ndimage.gaussian_filter(pixels.astype(float).min(axis=2), 2.5)
        shares.append((soft < 0.95 * 210).mean())
    assert shares[0] == 0 and shares[0] < shares[1] < shares[2]
    assert shares[1] == pytest.approx(0.4, abs=0.2) and shares[2] == pytest.approx(0.75, abs=0.2)


def test_a_round_view_is_dark_outside_and_things_lie_inside() -> None:
    view = RoundView(x_px=150, y_px=210, radius_px=130)
    spec = FieldSpec(
        width_px=300, height_px=400, um_per_px=1.0, view=view, things=(Wanted(key="pollen_other", count=6),)
    )
    pixels, truth = draw_field(spec, 8)
    far = np.hypot(np.arange(300) - 150, np.arange(400)[:, None] - 210)
    assert pixels[far > 145].mean() < 15 < 120 < pixels[far < 80].mean()
    for one in truth:
        assert np.hypot(one.x_px - 150, one.y_px - 210) + one.length_um / 2 < 130


def test_things_do_not_lie_on_one_another_and_too_many_are_refused() -> None:
    truth = field_truth(FieldSpec(things=(Wanted(key="oxyurid_pharyngodon_egg", count=8),)), 3)
    for k, one in enumerate(truth):
        for other in truth[k + 1 :]:
            apart = np.hypot(one.x_px - other.x_px, one.y_px - other.y_px) * 0.65
            assert apart > (one.length_um + other.length_um) / 2
    with pytest.raises(ValueError, match="no room"):
        field_truth(
            FieldSpec(width_px=300, height_px=300, things=(Wanted(key="oxyurid_tortoise_egg", count=30),)), 1
        )


def test_ranges_lie_within_the_reference_table() -> None:
    table = {row["key"]: row for row in read_rows("organisms")}
    for kind in KINDS.values():
        row = table[kind.key]
        for span, name in ((kind.length_um, "length_um"), (kind.width_um, "width_um")):
            low, high = number(row[f"{name}_min"]), number(row[f"{name}_max"])
            if low is not None and high is not None:
                assert low <= span[0] <= span[1] <= high, (kind.key, name)
        assert kind.group in EYE_GROUPS


@pytest.mark.parametrize("word", sorted(LITTER))
def test_every_kind_of_litter_leaves_a_trace(word: str) -> None:
    pixels, truth = draw_field(
        FieldSpec(
            width_px=400,
            height_px=300,
            um_per_px=0.3,
            objective="20x",
            litter={word: 12},
            light=EVEN,
            camera=CLEAN,
        ),
        2,
    )
    assert truth == []
    assert (np.abs(pixels.astype(int) - 210).max(axis=2) > 12).sum() > 60


def test_writing_says_what_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(BadInput, match="no sample slide"):
        write_sample_slides(tmp_path, ["nothing.jpg"])
    (tmp_path / "file").write_text("x")
    with pytest.raises(BadInput, match="is a file"):
        write_sample_slides(tmp_path / "file")
    with pytest.raises(CouldNot, match="could not be written"):
        write_sample_slides(tmp_path / "file" / "below", ["snake_larva.png"])
    assert main([]) == 2 and "Name a folder" in capsys.readouterr().err
    assert main([str(tmp_path), "nothing.jpg"]) == 2


def test_the_command_writes_pictures_and_tables(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path / "new"), "snake_larva.png"]) == 0
    assert {path.name for path in (tmp_path / "new").iterdir()} == {
        "snake_larva.png",
        "truth.csv",
        "slides.csv",
    }
    assert "3 files" in capsys.readouterr().out


def test_depth_of_an_outline_is_a_distance() -> None:
    line = np.linspace(-40, 40, 321, dtype=np.float32)
    grid = Grid(*np.meshgrid(line, line), 0.25)
    depth = superellipse(60.0, 60.0).depth(grid)
    assert np.abs(depth - (30 - np.hypot(grid.u, grid.v))).max() < 0.2
    long = superellipse(64.0, 16.0)
    assert long.depth(grid)[160, 160] == pytest.approx(8.0, abs=0.2)


def test_chord_and_tube_follow_their_geometry() -> None:
    depth = np.array([0.0, 2.0, 10.0, 50.0], np.float32)
    assert chord(depth, 10.0).tolist() == pytest.approx([0.0, 12.0, 20.0, 20.0])
    line = np.linspace(-20, 20, 161, dtype=np.float32)
    grid = Grid(*np.meshgrid(line, line), 0.25)
    t = np.linspace(-10, 10, 9)
    deep, along = tube_depth(grid, t, np.zeros(9), np.full(9, 3.0))
    assert deep[80, 80] == pytest.approx(3.0) and along[80, 80] == pytest.approx(0.5)
    assert deep[80 + 8, 80] == pytest.approx(1.0, abs=1e-5)
    assert deep[80, 80 + 48] == pytest.approx(
        1.0, abs=1e-5
    )  # the round end: 12 along, 2 beyond the last point
