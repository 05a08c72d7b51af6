"""The same work on many pictures: a bad one is told and the rest is done, on one core or on a cluster."""

from __future__ import annotations

import json
import shutil
import warnings
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from fecallab.cli import main
from fecallab.cli.image_detect_all import proposals_of
from fecallab.domain.errors import BadInput, CouldNot
from fecallab.imaging.pool import on_each


def brightness(file: str) -> dict[str, Any]:
    """Work that travels: the mean of a picture."""
    from fecallab.imaging.read import open_picture

    return {"mean": float(np.mean(open_picture(Path(file))))}


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A thousand small pictures, one of them broken."""
    folder = tmp_path_factory.mktemp("pictures")
    found = []
    for number in range(1000):
        path = folder / f"field {number:03d}.png"
        Image.new("L", (24, 16), number % 250).save(path)
        found.append(path)
    found[5].write_bytes(b"\x89PNG broken")
    return found


@pytest.fixture(scope="module")
def cluster() -> Iterator[str]:
    """A real scheduler with one worker in this process."""
    distributed = pytest.importorskip("distributed", reason="no cluster: dask.distributed is not installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
        ) as local:
            yield local.scheduler_address


@pytest.mark.parametrize("way", ["one core", "two cores", "cluster"])
def test_one_bad_picture_is_told_and_all_others_are_done(
    way: str, pictures: list[Path], request: pytest.FixtureRequest
) -> None:
    scheduler = request.getfixturevalue("cluster") if way == "cluster" else ""
    work = brightness if way != "two cores" else partial(proposals_of, um_per_px=0.5)  # a child must find it
    files = pictures if way != "two cores" else pictures[:12]
    found = {
        one.file.name: one
        for one in on_each(work, files, workers=1 + (way != "one core"), scheduler=scheduler)
    }
    assert len(found) == len(files)
    bad = found.pop("field 005.png")
    assert bad.found is None and bad.failed is not None and "field 005.png" in bad.failed.text
    if way != "two cores":
        assert {name: one.found for name, one in found.items()} == {
            path.name: {"mean": number % 250} for number, path in enumerate(pictures) if number != 5
        }
    assert all(one.failed is None for one in found.values())


def test_a_scheduler_that_does_not_answer_is_one_line(
    pictures: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed", reason="no cluster: dask.distributed is not installed")
    monkeypatch.setattr("fecallab.imaging.pool.ANSWER_WITHIN_S", 0.3)
    with pytest.raises(CouldNot, match="does not answer"):
        list(on_each(brightness, pictures, scheduler="tcp://127.0.0.1:1"))
    with pytest.raises(BadInput, match="no address"):
        list(on_each(brightness, pictures, scheduler="carrier-pigeon://coop"))


@pytest.fixture
def slides(tmp_path: Path) -> Path:
    """A folder with two small cut-outs of a drawn slide and a broken picture."""
    folder = tmp_path / "slides"
    folder.mkdir()
    whole = Image.open(Path(__file__).parents[2] / "sample_slides" / "dragon_before_1.jpg")
    for number in range(2):
        whole.crop((600 + 40 * number, 300, 900 + 40 * number, 560)).save(folder / f"cut {number}.png")
    (folder / "broken.png").write_bytes(b"no picture")
    return folder


def _run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, dict[str, Any]]:
    code = main.run(["image", "detect-all", *map(str, words), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_folder_is_done_once_and_goes_on_where_it_was_stopped(
    slides: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "found.jsonl"
    asked = (slides, "--um-per-px", "0.65", "--out", out, "--workers", "1")
    code, said = _run(capsys, *asked)
    assert code == 3 and (said["done"], len(said["failed"])) == (2, 1)
    lines = [json.loads(line) for line in out.read_text("utf-8").splitlines()]
    assert {line["file"] for line in lines} == {"cut 0.png", "cut 1.png", "broken.png"}
    assert any(line.get("objects") for line in lines)
    with out.open("a", encoding="utf-8") as handle:
        handle.write('{"file": "cut 0.p')  # the computer went off here
    shutil.copy(slides / "cut 0.png", slides / "cut 2.png")
    (slides / "broken.png").unlink()
    code, said = _run(capsys, *asked)
    assert (code, said["done_before"], said["done"]) == (0, 2, 1)
    code, said = _run(capsys, slides, "--um-per-px", "0.5", "--out", out, "--workers", "1")
    assert (code, said["done_before"]) == (0, 0), "another scale is another question"


@pytest.mark.parametrize(
    ("folder", "out", "code"),
    [("nowhere", "x.jsonl", "no-folder"), (".", "x.jsonl", "no-pictures"), ("slides", "x.csv", "out-kind")],
)
def test_what_cannot_be_done_is_one_line(
    slides: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], folder: str, out: str, code: str
) -> None:
    got, said = _run(capsys, tmp_path / folder, "--um-per-px", "0.65", "--out", tmp_path / out)
    assert (got, said["error"]["code"]) == (2, code)
