"""Pictures that hold nothing to propose, and files that are no pictures: a clear line or a correct result."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from fecallab.imaging.detect import propose

from .conftest import Said

Run = Callable[..., Said]


def saved(path: Path, pixels: Any) -> Path:
    Image.fromarray(np.asarray(pixels, np.uint8)).save(path)
    return path


@pytest.mark.parametrize(
    ("name", "pixels", "says"),
    [
        ("black", np.zeros((60, 80, 3)), "black"),
        ("white", np.full((60, 80, 3), 255), "Nothing stands out"),
        ("one pixel", np.full((1, 1), 120), "Nothing stands out"),
        ("one row", np.full((1, 300), 120), "Nothing stands out"),
        ("noise", np.random.default_rng(1).normal(150, 12, (480, 640)).clip(0, 255), "noise"),
    ],
)
def test_an_empty_or_unreadable_picture_says_so_and_is_done(
    fecallab: Run, tmp_path: Path, name: str, pixels: Any, says: str
) -> None:
    picture = saved(tmp_path / f"{name}.png", pixels)
    said = fecallab("image", "detect", picture, "--um-per-px", "0.5")
    assert said.code == 0, said.all
    assert says in said.out
    said = fecallab("image", "detect", picture, "--um-per-px", "0.5", "--json")
    (image,) = said.json["images"]
    assert len(image["objects"]) <= 2 and says in image["remark"]


def test_the_same_holds_for_a_whole_exam(
    folder: Path, do: Callable[..., Any], stool: Any, fecallab: Run, tmp_path: Path
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    read = ("--objective", "10", "--um-per-px", "0.5", "--picture")
    sample = stool("Saffron", "2025-03-04")
    first = saved(tmp_path / "black.png", np.zeros((60, 80)))
    do("exam", "add", sample, "--method", "simple_flotation", "--read-at", "2025-03-04 09:00", *read, first)
    do("exam", "read", "E1-1", *read, saved(tmp_path / "white.png", np.full((60, 80), 255)))
    said = fecallab("exam", "propose", "E1", "--workers", "1")
    assert said.code == 0, said.all
    assert "black.png: 0 proposals. It is black" in said.out
    assert "white.png: 0 proposals. Nothing stands out" in said.out


def test_an_exam_without_any_scale_and_an_impossible_scale_are_one_line(
    folder: Path, do: Callable[..., Any], stool: Any, fecallab: Run, tmp_path: Path
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    sample = stool("Saffron", "2025-03-04")
    picture = saved(tmp_path / "a.png", np.full((60, 80), 200))
    at = ("--read-at", "2025-03-04 09:00", "--objective", "10")
    do("exam", "add", sample, "--method", "simple_flotation", *at, "--picture", picture)
    said = fecallab("exam", "propose", "E1")
    assert said.code == 2 and "None of the 1 pictures" in said.err
    assert len(said.err.strip().splitlines()) == 1
    said = fecallab("exam", "propose", "E1", "--um-per-px", "90", "--json")
    assert said.code == 2 and said.error["code"] == "scale-range"
    assert not (folder / "proposals").exists()


def test_a_video_is_named_as_one(fecallab: Run, tmp_path: Path) -> None:
    clip = tmp_path / "clip.mp4"
    clip.write_bytes(b"\0\0\0\x18ftypisom" + bytes(64))
    said = fecallab("image", "detect", clip, "--um-per-px", "0.5", "--json")
    assert said.code == 2 and said.error["code"] == "picture-is-video"


def test_a_picture_in_tiles_gives_what_it_gives_whole_each_thing_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = np.random.default_rng(8)
    y, x = np.mgrid[0:190, 0:700]
    light = np.full(x.shape, 210.0)
    places = [(50 + 75 * k, 55 + 80 * (k % 2)) for k in range(9)]
    for cx, cy in places:
        depth = np.clip((1 - np.hypot((x - cx) / 20, (y - cy) / 12.5)) * 10, 0, 1)
        light *= np.exp(-0.7 * depth)
    picture = np.clip(light + rng.normal(0, 2, light.shape), 0, 255).astype(np.uint8)
    module, tiles = (
        import_module("fecallab.imaging.detect.propose"),
        import_module("fecallab.imaging.detect.tiles"),
    )
    told: list[tuple[int, int]] = []
    whole = propose(picture, 2.0, progress=lambda *at: told.append(at))
    assert told == [(1, 1)]
    monkeypatch.setattr(tiles, "LARGEST_PART_PX", 300_000)
    monkeypatch.setattr(tiles, "OVERLAP_UM", 60.0)  # half of what is drawn is 40
    assert len(module.tiles_of(*picture.shape, 2.0)) >= 2
    cut = propose(picture, 2.0, progress=lambda *at: told.append(at))
    assert told[1:] == [(k + 1, len(told) - 1) for k in range(len(told) - 1)] and len(told) > 2
    for found in (whole, cut):
        for cx, cy in places:
            near = [one for one in found.proposals if np.hypot(one.x_px - cx, one.y_px - cy) < 8]
            assert len(near) == 1 and near[0].length_um == pytest.approx(80, rel=0.08)


def test_more_than_can_be_listed_is_said(
    fecallab: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.cli import image_detect

    y, x = np.mgrid[0:160, 0:420]
    light = np.full(x.shape, 210.0)
    for cx in (70, 210, 350):
        light *= np.exp(-0.7 * np.clip((1 - np.hypot((x - cx) / 40, (y - 80) / 25)) * 20, 0, 1))
    picture = saved(tmp_path / "many.png", light + np.random.default_rng(8).normal(0, 2, light.shape))
    monkeypatch.setattr(image_detect, "MOST", 2)
    said = fecallab("image", "detect", picture, "--um-per-px", "1")
    assert "many.png: 2 proposals." in said.out and "the strongest; there are more" in said.out


def test_a_large_picture_tells_how_far_it_is(
    fecallab: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = saved(tmp_path / "wide.png", np.full((100, 700), 200))
    monkeypatch.setattr(import_module("fecallab.imaging.detect.tiles"), "LARGEST_PART_PX", 60_000)
    said = fecallab("image", "detect", picture, "--um-per-px", "2", "--json")
    parts = [line for line in said.err.splitlines() if line.startswith("wide.png: part ")]
    assert said.code == 0 and len(parts) >= 2
    assert parts[-1] == f"wide.png: part {len(parts)} of {len(parts)}"


def test_a_picture_in_tiles_is_given_up_between_two_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    from fecallab.cli import exam_propose

    class Stopped:
        def __init__(self) -> None:
            self.asked = 0

        def is_set(self) -> bool:
            self.asked += 1
            return self.asked > 2

    tiles = import_module("fecallab.imaging.detect.tiles")
    monkeypatch.setattr(tiles, "LARGEST_PART_PX", 500_000)
    stopped = Stopped()
    monkeypatch.setattr(exam_propose, "_stopping", stopped)
    with pytest.raises(exam_propose._GivenUp):
        propose(np.full((420, 1300), 200, np.uint8), 1.0, progress=exam_propose._look_up)
    assert stopped.asked == 3
