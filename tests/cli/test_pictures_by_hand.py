"""Pictures and marks by commands: kept byte for byte, read, counted and kept."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from .conftest import FLOAT, Said

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]

WIDE, HIGH = 160, 120


def drawn(seed: int) -> np.ndarray:
    """Return a made picture, another one for every seed."""
    return np.random.default_rng(seed).integers(90, 200, (HIGH, WIDE, 3), dtype=np.uint8)


@pytest.fixture
def pictures(tmp_path: Path) -> dict[str, Path]:
    """One made picture of every format."""
    import tifffile

    home = tmp_path / "camera"
    home.mkdir()
    made = {name: home / name for name in ("a.jpg", "b.png", "c.tif", "d.ome.tif")}
    Image.fromarray(drawn(1)).save(made["a.jpg"])
    Image.fromarray(drawn(2)).save(made["b.png"])
    tifffile.imwrite(made["c.tif"], drawn(3), photometric="rgb")
    tifffile.imwrite(made["d.ome.tif"], drawn(4), ome=True, photometric="rgb", metadata={"axes": "YXS"})
    try:
        import pillow_heif

        pillow_heif.from_pillow(Image.fromarray(drawn(5))).save(home / "e.heic")
        made["e.heic"] = home / "e.heic"
    except (ImportError, RuntimeError):  # a build of pillow-heif without an encoder
        pass
    return made


def test_pictures_are_kept_byte_for_byte_and_addressed_by_hash(
    do: Do, stool: Any, folder: Path, pictures: dict[str, Path]
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    named = [word for path in pictures.values() for word in ("--picture", str(path))]
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--um-per-px", "0.65", *named),
    )
    readings = whole["exam"]["preparations"][0]["readings"]
    assert len(readings) == len(pictures) >= 4
    for reading, path in zip(readings, pictures.values(), strict=True):
        original = path.read_bytes()
        assert reading["picture"] == hashlib.sha256(original).hexdigest()
        (kept,) = folder.glob(f"pictures/{reading['picture'][:2]}/{reading['picture']}.*")
        assert kept.read_bytes() == original
        assert path.name.endswith(kept.name.partition(".")[2])
    assert do("records", "check")["ok"] is True


def test_the_same_picture_in_two_exams_is_kept_once(
    do: Do, float_exam: Do, folder: Path, pictures: Any
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    for day in ("2025-03-04", "2025-03-20"):
        code = float_exam("Saffron", day)["exam"]["code"]
        do("exam", "read", f"{code}-1", "--objective", "10", "--picture", pictures["a.jpg"])
    assert len([path for path in folder.glob("pictures/*/*") if path.is_file()]) == 1


MARKS = (
    ("a.jpg", 20.5, 30.25, 130.0, 38.0, 45.0, "oxyurid", True),
    ("a.jpg", 100.0, 60.0, 131.0, 39.0, 180.0, "oxyurid_pharyngodon_egg", True),
    ("b.png", 10.0, 10.0, None, None, None, "coccidian", False),
)


def as_csv(path: Path, marks: Any = MARKS) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(
            ["picture", "x_px", "y_px", "length_um", "width_um", "angle_deg", "name", "sure", "mine"]
        )
        for row in marks:
            writer.writerow(["" if cell is None else cell for cell in row] + ["left alone"])
    return path


def as_annotations(path: Path) -> Path:
    scale = 0.65
    items = []
    for picture, x, y, length, width, angle, name, sure in MARKS:
        body = [{"type": "TextualBody", "purpose": "tagging", "value": name}]
        if not sure:
            body.append({"type": "TextualBody", "purpose": "tagging", "value": "unsure"})
        value = f"xywh=pixel:{x - 4.5},{y - 4.5},10,10"
        kind = "FragmentSelector"
        if length:
            kind = "SvgSelector"
            value = (
                f'<svg xmlns="http://www.w3.org/2000/svg"><ellipse cx="{x + 0.5}" cy="{y + 0.5}"'
                f' rx="{length / scale / 2}" ry="{width / scale / 2}"'
                f' transform="rotate({angle} {x + 0.5} {y + 0.5})"/></svg>'
            )
        target = {"source": f"https://example.org/slides/{picture}", "umPerPx": scale if length else None}
        target["selector"] = {"type": kind, "value": value}
        items.append({"type": "Annotation", "body": body, "target": target})
    page = {"@context": "http://www.w3.org/ns/anno.jsonld", "type": "AnnotationPage", "items": items}
    path.write_text(json.dumps(page), encoding="utf-8")
    return path


@pytest.mark.parametrize("written", [as_csv, as_annotations], ids=["csv", "web-annotation"])
def test_marks_are_read_counted_and_kept(
    do: Do, stool: Any, tmp_path: Path, pictures: dict[str, Path], written: Callable[[Path], Path]
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    marks = written(tmp_path / "marks")
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--um-per-px", "0.65", "--marks", str(marks)),
        *("--picture", str(pictures["a.jpg"]), "--picture", str(pictures["b.png"])),
    )
    first, second = whole["exam"]["preparations"][0]["readings"]
    assert whole["exam"]["counts"] == {"oxyurid": 1, "oxyurid_pharyngodon_egg": 1}
    assert whole["exam"]["unsure"] == {"coccidian": 1}
    assert whole["cases_opened"] == ["C1"], "both eggs are of one group, the unsure one opens nothing"
    found = [(m["x_px"], m["y_px"], m["length_um"], m["width_um"], m["angle_deg"]) for m in first["marks"]]
    assert found[0] == pytest.approx((20.5, 30.25, 130, 38, 45), abs=0.01)
    assert found[1][4] == pytest.approx(0), "half a turn is the same axis"
    assert [m["sure"] for m in second["marks"]] == [False]


def test_a_picture_without_marks_is_a_field_with_nothing_and_that_is_said(
    do: Do, stool: Any, tmp_path: Path, pictures: Any, fecallab: Run
) -> None:
    """One file of marks for a whole afternoon: pictures that it does not name showed nothing."""
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--picture", str(pictures["c.tif"]), "--marks", as_csv(tmp_path / "m.csv")),
    )
    assert whole["exam"]["counts"] == {}
    assert whole["cases_opened"] == []
    said = fecallab(
        *("exam", "read", "E1-1", "--objective", "10", "--marks", tmp_path / "m.csv"),
        *("--picture", pictures["a.jpg"], "--picture", pictures["c.tif"]),
    )
    assert "Nothing is marked on c.tif: recorded as a field in which nothing was seen." in said.err
