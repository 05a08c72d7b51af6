"""``fecallab image``: pictures without records, their keys, and every kind of bad picture in one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from fecallab.imaging.draw.rulers import RulerSpec, Shot, draw_ruler

from .conftest import ROOT, Said

Run = Callable[..., Said]

SPEC = RulerSpec(px_per_division=15.5, angle_deg=7.0, shot=Shot(width_px=480, height_px=360))
UM_PER_PX = 10 / 15.5
MARKS = "picture,x_px,y_px,length_um,width_um,angle_deg,name,sure\n"


@pytest.fixture(scope="module")
def ruler() -> np.ndarray:
    return draw_ruler(SPEC, 5)


@pytest.fixture
def done(fecallab: Run) -> Callable[..., dict[str, Any]]:
    def run_it(*words: str | Path) -> dict[str, Any]:
        said = fecallab("image", *words, "--json")
        assert said.code == 0, said.all
        return said.json

    return run_it


def slide(name: str) -> Path:
    path = ROOT / "sample_slides" / name
    if not path.is_file():
        pytest.skip("the slides are in the clone only")
    return path


def test_calibrate_answers_with_its_keys(
    done: Callable[..., dict[str, Any]], ruler: np.ndarray, tmp_path: Path
) -> None:
    Image.fromarray(ruler).save(tmp_path / "ruler.png")
    found = done("calibrate", "ruler.png", "--division-um", "10")
    assert found["um_per_px"] == pytest.approx(UM_PER_PX, rel=0.002)
    assert found["ci95"][0] < found["um_per_px"] < found["ci95"][1]
    assert found["angle_deg"] == pytest.approx(7.0, abs=0.2)


def rgba(pixels: np.ndarray) -> Image.Image:
    return Image.fromarray(np.dstack([pixels, pixels, pixels, np.full_like(pixels, 255)]), "RGBA")


FORMS: dict[str, Callable[[np.ndarray, Path], None]] = {
    "16 bit.tif": lambda p, path: Image.fromarray(p.astype(np.uint16) * 257).save(path),
    "float.tif": lambda p, path: Image.fromarray(p.astype(np.float32) / 255).save(path),
    "rgba.png": lambda p, path: rgba(p).save(path),
    "cmyk.jpg": lambda p, path: Image.fromarray(p).convert("CMYK").save(path, quality=92),
    "palette.png": lambda p, path: Image.fromarray(p).convert("P").save(path),
    "several.tif": lambda p, path: Image.fromarray(p).save(
        path, save_all=True, append_images=[Image.new("L", (20, 20))]
    ),
}


@pytest.mark.parametrize("name", FORMS)
def test_every_form_of_picture_gives_the_same_scale(
    done: Callable[..., dict[str, Any]], ruler: np.ndarray, tmp_path: Path, name: str
) -> None:
    FORMS[name](ruler, tmp_path / name)
    found = done("calibrate", name, "--division-um", "10")
    assert found["um_per_px"] == pytest.approx(UM_PER_PX, rel=0.002)


def test_a_picture_turned_by_its_exif_is_upright_first(
    done: Callable[..., dict[str, Any]], ruler: np.ndarray, tmp_path: Path
) -> None:
    exif = Image.Exif()
    exif[274] = 6
    Image.fromarray(np.rot90(ruler).copy()).save(tmp_path / "turned.jpg", exif=exif, quality=95)
    assert done("calibrate", "turned.jpg", "--division-um", "10")["angle_deg"] == pytest.approx(7, abs=0.3)


BAD: dict[str, tuple[Callable[[Path], object], str]] = {
    "1x1": (lambda path: Image.new("RGB", (1, 1)).save(path), "no-ruler"),
    "black": (lambda path: Image.new("RGB", (400, 300)).save(path), "no-ruler"),
    "empty": (lambda path: path.write_bytes(b""), "picture-empty"),
    "cut short": (lambda path: path.write_bytes(b"\x89PNG\r\n\x1a\n1234"), "picture-damaged"),
    "a video": (lambda path: path.write_bytes(b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom"), "picture-is-video"),
    "text": (lambda path: path.write_text("scale?"), "picture-unknown"),
    "a folder": (lambda path: path.mkdir(), "picture-is-folder"),
    "missing": (lambda path: None, "picture-missing"),
}


@pytest.mark.parametrize("what", BAD)
def test_what_is_no_picture_of_a_ruler_is_said_in_one_line(fecallab: Run, tmp_path: Path, what: str) -> None:
    make, code = BAD[what]
    make(tmp_path / "field.png")
    said = fecallab("image", "calibrate", "field.png", "--division-um", "10")
    assert said.code == 2 and said.out == "" and said.err.count("\n") == 1
    as_json = fecallab("image", "calibrate", "field.png", "--division-um", "10", "--json")
    assert as_json.error["code"] == code and as_json.error["next"]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((), "calibrate-how"),
        (("--division-um", "10", "--grid-um", "250"), "calibrate-how"),
        (("--division-um", "0"), "out-of-range"),
        (("--division-um", "ten"), "not-a-number"),
        (("--known-um", "100", "--from", "3", "--to", "5,5"), "not-a-point"),
        (("--known-um", "100", "--from", "3,3", "--to", "9999,5"), "point-outside"),
        (("--known-um", "100", "--from", "3,3", "--to", "4,3"), "known-too-short"),
        (("--lit-circle",), "field-number-missing"),
        (("--ruler-mm", "4.5"), "ruler-objective-missing"),
        (("--lit-circle", "--field-number", "20", "--objective", "10"), "no-lit-circle"),
        (("--grid-um", "250"), "no-grid"),
    ],
)
def test_calibrate_says_what_it_lacks(
    fecallab: Run, tmp_path: Path, ruler: np.ndarray, words: tuple[str, ...], code: str
) -> None:
    Image.fromarray(ruler).save(tmp_path / "ruler.png")
    said = fecallab("image", "calibrate", "ruler.png", *words, "--json")
    assert said.code == 2 and said.error["code"] == code


def test_a_known_object_and_a_round_field_calibrate(done: Callable[..., dict[str, Any]]) -> None:
    phone = slide("dragon_phone_flotation.jpg")
    known = done("calibrate", phone, "--known-um", "650", "--from", "100,700", "--to", "1100,700")
    assert known["um_per_px"] == pytest.approx(0.65)
    round_field = done("calibrate", phone, "--lit-circle", "--field-number", "18", "--objective", "10")
    assert round_field["um_per_px"] == pytest.approx(1800 / 1080, rel=0.005)
    assert round_field["angle_deg"] is None
    plain = done("calibrate", phone, "--ruler-mm", "4.5", "--ruler-objective", "4", "--objective", "10")
    assert plain["um_per_px"] == pytest.approx(round_field["um_per_px"])


def test_the_pixel_size_of_the_file_is_shown_and_not_used(fecallab: Run, tmp_path: Path) -> None:
    said = fecallab("image", "check", slide("snake_flotation.tif"))
    assert "states 0.65 µm per pixel: shown, not used" in said.out
    refused = fecallab("image", "measure", slide("snake_flotation.tif"), "--line", "1,1,50,50", "--json")
    assert refused.code == 2 and refused.error["code"] == "no-scale"
    assert "0.65" in refused.error["text"]


def test_check_answers_with_its_keys(done: Callable[..., dict[str, Any]]) -> None:
    found = done("check", slide("tortoise_phone_wet_mount.jpg"), "--um-per-px", "0.30")
    assert found["verdict"] in ("good", "usable")
    assert 0 <= found["sharpness"] <= 1
    assert found["area_mm2"] == pytest.approx(np.pi / 4 * (1096 * 0.30 / 1000) ** 2, rel=0.01)
    assert found["cover_glass_share"] == pytest.approx(found["area_mm2"] / 484)


def test_measure_lines_ellipses_and_outlines(done: Callable[..., dict[str, Any]]) -> None:
    path = slide("dragon_before_1.jpg")
    scale = ("--um-per-px", "0.65", "--scale-error", "0.005")
    line = done("measure", path, *scale, "--line", "100,100,400,500")
    assert line["length_um"] == pytest.approx(325) and line["width_um"] is None
    hand = done("measure", path, *scale, "--ellipse", "576,315,129,129,0")
    assert hand["length_um"] == pytest.approx(83.85)
    edge = done("measure", path, *scale, "--ellipse", "574,317,140,118,0", "--on-edge")
    assert edge["length_ci95"][0] <= 84.0 * 1.01 and edge["length_ci95"][1] >= 84.0 * 0.99
    around = " ".join(
        f"{576 + 60 * np.cos(t):.1f},{315 + 40 * np.sin(t):.1f}" for t in np.arange(0, 6.2, 0.4)
    )
    outline = done("measure", path, *scale, "--outline", around)
    assert outline["length_um"] == pytest.approx(78, abs=0.5)
    assert outline["width_ci95"][0] < outline["width_um"] < outline["width_ci95"][1]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--um-per-px", "0.65"), "one-shape"),
        (("--um-per-px", "0.65", "--line", "1,2,3"), "shape-numbers"),
        (("--um-per-px", "0.65", "--line", "1,2,1,2"), "no-length"),
        (("--um-per-px", "0.65", "--ellipse", "5000,5000,9,9,0"), "point-outside"),
        (("--um-per-px", "0.65", "--ellipse", "30,30,20,20,0", "--on-edge"), "no-edge"),
        (("--um-per-px", "0.65", "--outline", "1,1 2,2"), "outline-points"),
        (("--um-per-px", "0.65", "--scale-error", "3", "--line", "1,2,9,2"), "scale-interval"),
    ],
)
def test_measure_says_what_it_lacks(fecallab: Run, tmp_path: Path, words: tuple[str, ...], code: str) -> None:
    Image.new("RGB", (64, 48), "white").save(tmp_path / "field.png")
    said = fecallab("image", "measure", "field.png", *words, "--json")
    assert said.code == 2 and said.error["code"] == code


def test_identify_refuses_pixels_without_a_scale(fecallab: Run) -> None:
    said = fecallab("image", "identify", "--host", "corn snake", "--length-px", "40", "--json")
    assert said.code == 1
    assert said.json["refused"] is True and said.json["reasons"][0]["code"] == "no-scale"


def test_identify_tells_a_shortlist_and_no_diagnosis(
    fecallab: Run, done: Callable[..., dict[str, Any]]
) -> None:
    words = (
        "identify",
        "--host",
        "corn snake",
        "--length-px",
        "129",
        "--width-px",
        "65",
        "--um-per-px",
        "0.65",
    )
    found = done(*words)
    assert found["diagnosis"] is False
    assert "kalicephalus_egg" in [one["key"] for one in found["fits"]]
    said = fecallab("image", *words)
    assert said.out.startswith("A shortlist, no diagnosis")
    assert "%" not in said.out.split("Left out")[0].replace("± 15 %", "")


def test_overlay_draws_a_new_picture_and_leaves_the_old_one(
    fecallab: Run, done: Callable[..., dict[str, Any]], tmp_path: Path
) -> None:
    Image.new("RGB", (200, 150), "white").save(tmp_path / "field.png")
    before = (tmp_path / "field.png").read_bytes()
    (tmp_path / "marks.csv").write_text(MARKS + "field.png,90,70,60,30,20,oxyurid,true\n")
    found = done("overlay", "field.png", "--marks", "marks.csv", "--um-per-px", "0.65")
    assert found == {"file": "field-marked.png", "marks": 1, "scale_bar": True}
    assert np.asarray(Image.open(tmp_path / "field-marked.png")).min() < 60
    assert (tmp_path / "field.png").read_bytes() == before
    onto = fecallab("image", "overlay", "field.png", "--marks", "marks.csv", "--out", "field.png", "--json")
    assert onto.code == 2 and onto.error["code"] == "out-is-input"
    assert (tmp_path / "field.png").read_bytes() == before


@pytest.mark.parametrize("out", ["sheet.png", "sheet.html"])
def test_contact_sheet_lists_its_numbers(
    done: Callable[..., dict[str, Any]], tmp_path: Path, out: str
) -> None:
    for name in ("one.png", "two.png"):
        Image.new("RGB", (200, 150), "white").save(tmp_path / name)
    rows = "one.png,90,70,60,30,20,oxyurid,true\ntwo.png,10,10,,,,coccidian,false\n"
    (tmp_path / "marks.csv").write_text(MARKS + rows)
    found = done("contact-sheet", "one.png", "two.png", "--marks", "marks.csv", "--out", out)
    assert [(one["number"], one["picture"]) for one in found["marks"]] == [(1, "one.png"), (2, "two.png")]
    assert (tmp_path / out).stat().st_size > 1000
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        ["one.png", "two.png", "marks.csv", out]
    )


@pytest.mark.parametrize(
    ("out", "rows", "code"),
    [
        ("sheet.pdf", "one.png,9,9,,,,oxyurid,\n", "out-kind"),
        ("nowhere/sheet.png", "one.png,9,9,,,,oxyurid,\n", "out-folder"),
        ("sheet.png", "other.png,9,9,,,,oxyurid,\n", "no-marks"),
        ("sheet.png", "one.png,999,9,,,,oxyurid,\n", "mark-outside"),
    ],
)
def test_contact_sheet_says_what_it_lacks(
    fecallab: Run, tmp_path: Path, out: str, rows: str, code: str
) -> None:
    Image.new("RGB", (200, 150), "white").save(tmp_path / "one.png")
    (tmp_path / "marks.csv").write_text(MARKS + rows)
    said = fecallab("image", "contact-sheet", "one.png", "--marks", "marks.csv", "--out", out, "--json")
    assert said.code == 2 and said.error["code"] == code
    assert not (tmp_path / out).exists()


def test_nearly_200_megapixels_give_the_right_scale(process: Callable[..., Any], tmp_path: Path) -> None:
    """The decoder holds the picture once or twice; measuring adds a copy of 13 megapixels."""
    large = np.tile(
        draw_ruler(RulerSpec(px_per_division=25, shot=Shot(width_px=1000, height_px=1000)), 1), (14, 1)
    )
    Image.fromarray(np.repeat(large, 14, axis=1)).save(tmp_path / "large.png", compress_level=1)
    said = process("image", "calibrate", "large.png", "--division-um", "10", "--json", capture_output=True)
    assert said.returncode == 0, said.stderr
    assert json.loads(said.stdout)["um_per_px"] == pytest.approx(10 / 25 / 14, rel=0.002)
