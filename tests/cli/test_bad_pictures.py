"""Pictures and marks that cannot be meant: one clear line, and the records as they were."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from .conftest import FLOAT, Said
from .kept import kept, refused_as_bad, told

__all__ = ["kept", "refused_as_bad", "told"]

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]

EXAM = ("exam", "add", "S1", *FLOAT, "--read-at", "2025-03-04 09:00", "--objective", "10")
ELSEWHERE = ("exam", "elsewhere", "Saffron", "--target", "oxyurid", "--from", "Lab Ouk", "--method", "float")


def bomb(path: Path) -> Path:
    """Write a PNG of a few bytes that says it has 60,000 × 60,000 pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 1_000_000)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b""))
    return path


def truncated(path: Path) -> Path:
    import numpy as np

    noise = np.random.default_rng(3).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    Image.fromarray(noise).save(path, "JPEG")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    return path


def wrote(content: bytes) -> Callable[[Path], Path]:
    def make(path: Path) -> Path:
        path.write_bytes(content)
        return path

    return make


def folder_of_that_name(path: Path) -> Path:
    path.mkdir()
    return path


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (lambda path: path, "picture-missing"),
        (folder_of_that_name, "picture-is-folder"),
        (wrote(b""), "picture-empty"),
        (wrote(b"I am a text about a slide."), "picture-unknown"),
        (wrote(b"%PDF-1.7 a scan of a report"), "picture-unknown"),
        (wrote(b"\0\0\0\x20ftypisom\0\0\2\0isomiso2avc1mp41" + bytes(64)), "picture-is-video"),
        (wrote(b"\x89PNG\r\n\x1a\n" + b"\x00" * 40), "picture-damaged"),
        (wrote(b"II*\0" + b"\xff" * 200), "picture-damaged"),
        (truncated, "picture-damaged"),
        (bomb, "picture-too-large"),
    ],
    ids=["missing", "folder", "empty", "text", "pdf", "video", "png-head", "tiff-head", "truncated", "bomb"],
)
def test_a_picture_that_is_none_is_one_line(
    refused_as_bad: Callable[..., str], tmp_path: Path, make: Callable[[Path], Path], code: str
) -> None:
    path = make(tmp_path / "slide 1.jpg")
    assert "slide 1.jpg" in refused_as_bad(*EXAM, "--picture", path, code=code)


def test_a_good_picture_beside_a_bad_one_is_not_kept(
    refused_as_bad: Callable[..., str], tmp_path: Path, kept: Path
) -> None:
    refused_as_bad(*EXAM, "--picture", "field.png", "--picture", truncated(tmp_path / "b.jpg"))
    assert not [path for path in (kept / "pictures").rglob("*") if path.is_file()]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ("picture,x_px,y_px\nfield.png,3,4\n", "columns-missing"),
        ("", "columns-missing"),
        ("picture,x_px,y_px,name\nfield.png,nan,4,oxyurid\n", "mark-value"),
        ("picture,x_px,y_px,name\nfield.png,3,-9,oxyurid\n", "mark-value"),
        ("picture,x_px,y_px,name\nfield.png,3,4,unicorn\n", "unknown-organism"),
        ("picture,x_px,y_px,name\nfield.png,3,4,\n", "no-name"),
        ("picture,x_px,y_px,name,sure\nfield.png,3,4,oxyurid,perhaps\n", "mark-value"),
        ("picture,x_px,y_px,name,length_um\nfield.png,3,4,oxyurid,-5\n", "mark-value"),
        ("picture,x_px,y_px,name\nfield.png,300,4,oxyurid\n", "mark-outside"),
        ("picture,x_px,y_px,name\nFIELD.jpg,3,4,oxyurid\n", "picture-name-differs"),
        ('picture,x_px,y_px,name\nfield.png,3,4,"' + "x" * 200_000 + '"\n', "no-table"),
        ("{", "no-json"),
        ("[" * 100_000, "no-json"),
        ('{"items": 3}', "no-annotations"),
        ("[3]", "no-annotations"),
        ('[{"target": []}]', "no-selector"),
        ('[{"target": {"selector": []}}]', "no-selector"),
        ('[{"target": {"selector": {"value": "t=10"}}}]', "no-selector"),
        ('[{"body": [], "target": {"selector": {"value": "xywh=1,1,2,2"}}}]', "no-name"),
        (
            '[{"body": {"value": "oxyurid"}, "target": {"selector": {"value": "xywh=1,1.2.3,2,2"}}}]',
            "mark-value",
        ),
        (
            '[{"body": {"value": "oxyurid"}, "target": {"umPerPx": NaN, "selector": {"value": "xywh=1,1,2,2"}}}]',
            "mark-value",
        ),
        (
            '[{"body": {"value": "oxyurid"}, "target": {"selector": {"value": "<ellipse cx=\\"5\\" cy=\\"5\\"'
            ' rx=\\"2\\" ry=\\"2\\" transform=\\"rotate(1.2.3)\\"/>"}}}]',
            "mark-value",
        ),
        (b"\xff\xfe\x00binary", "no-text"),
    ],
)
def test_marks_that_cannot_be_meant_are_one_line(
    refused_as_bad: Callable[..., str], tmp_path: Path, content: str | bytes, code: str
) -> None:
    path = tmp_path / "marks.any"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    refused_as_bad(*EXAM, "--picture", "field.png", "--marks", path, code=code)


def test_marks_and_counts_or_no_picture_are_one_line(
    refused_as_bad: Callable[..., str], tmp_path: Path
) -> None:
    marks = tmp_path / "marks.csv"
    marks.write_text("x_px,y_px,name\n3,4,oxyurid\n", encoding="utf-8")
    refused_as_bad(*EXAM, "--marks", marks, code="picture-missing")
    refused_as_bad(*EXAM, "--picture", "field.png", "--marks", tmp_path / "no.csv", code="no-such-file")
    counted = ("--counts", "1", "--of", "oxyurid")
    refused_as_bad(*EXAM, *counted, "--picture", "field.png", "--marks", marks, code="counted-twice")
    Image.new("RGB", (64, 48), "grey").save("other.png")
    both = ("--picture", "field.png", "--picture", "other.png")
    refused_as_bad(*EXAM, *both, "--marks", marks, code="picture-missing")
    refused_as_bad(*EXAM, *counted, *both, code="field-numbers")


def test_one_picture_is_never_two_fields(refused_as_bad: Callable[..., str], tmp_path: Path) -> None:
    (tmp_path / "copy.png").write_bytes(Path("field.png").read_bytes())
    (tmp_path / "b").mkdir()
    Image.new("RGB", (64, 48), "grey").save(tmp_path / "b" / "field.png")
    for second in ("field.png", "copy.png", "b/field.png"):
        refused_as_bad(*EXAM, "--picture", "field.png", "--picture", second, code="picture-twice")
