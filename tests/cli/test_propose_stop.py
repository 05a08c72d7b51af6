"""`exam propose` over many pictures: told as it goes, on more than one core, stopped by Ctrl-C and gone on with."""

from __future__ import annotations

import errno
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from .conftest import Said, command, environment

Run = Callable[..., Said]
PICTURES = 5


def ovals(path: Path, seed: int, size: tuple[int, int] = (340, 220), number: int = 2) -> Path:
    """Brown solid ovals of 80 × 50 µm on light ground, at 1 µm per pixel."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0 : size[1], 0 : size[0]]
    light = np.full((size[1], size[0], 3), 215.0)
    for k in range(number):
        cx, cy = 70 + 130 * (k % 4), 70 + 110 * (k // 4)
        depth = np.clip((1 - np.hypot((x - cx) / 40, (y - cy) / 25)) * 20, 0, 1)[..., None]
        light *= np.exp(-depth * np.array([0.3, 0.6, 1.0]))
    Image.fromarray(np.clip(light + rng.normal(0, 2, light.shape), 0, 255).astype(np.uint8)).save(path)
    return path


@pytest.fixture
def recorded(folder: Path, do: Callable[..., dict], stool: Callable[..., str], tmp_path: Path) -> str:
    """An exam of five pictures with their scale,."""
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    sample = stool("Saffron", "2025-03-04")
    read = ("--read-at", "2025-03-04 09:00", "--objective", "10", "--um-per-px", "1.0")
    first = ovals(tmp_path / "0.png", 0)
    do("exam", "add", sample, "--method", "simple_flotation", *read, "--picture", first)
    for k in range(1, PICTURES):
        do("exam", "read", "E1-1", *read[2:], "--picture", ovals(tmp_path / f"{k}.png", k))
    return "E1"


def kept_files(folder: Path) -> dict[str, tuple[int, str]]:
    """Every file of proposals: when it was written, and its content."""
    return {
        path.name: (path.stat().st_mtime_ns, path.read_text("utf-8"))
        for path in (folder / "proposals").rglob("*.json")
    }


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent to a group of processes as a terminal does")
def test_ctrl_c_keeps_what_is_done_and_the_same_command_goes_on(
    recorded: str, folder: Path, fecallab: Run
) -> None:
    work = subprocess.Popen(
        [sys.executable, "-u", *command("exam", "propose", recorded, "--workers", "2")[1:]],
        env={**environment(), "OMP_NUM_THREADS": "1"},
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert work.stderr is not None
    lines = []
    while not (lines and lines[-1].startswith("1 of 5: ")):
        lines.append(work.stderr.readline())
        assert lines[-1], lines
    os.killpg(work.pid, signal.SIGINT)
    out, rest = work.communicate(timeout=60)
    said = "".join(lines) + rest
    assert work.returncode == 130 and out == ""
    assert "Traceback" not in said and "KeyboardInterrupt" not in said
    assert said.startswith("5 pictures, 2 at once.")
    done = re.search(r"(\d) of 5 pictures are done and kept", said)
    assert done, said
    before = kept_files(folder)
    assert int(done.group(1)) <= len(before) < PICTURES
    assert all(json.loads(content)["confirmed"] is False for _, content in before.values())
    assert not list((folder / "proposals").rglob("*.part"))

    again = fecallab("exam", "propose", recorded, "--workers", "1", "--json")
    assert again.code == 0
    assert f"1 of {PICTURES - len(before)}: " in again.err
    assert [one["state"] for one in again.json["pictures"]] == ["proposed"] * PICTURES
    assert "All were there already" in fecallab("exam", "propose", recorded).out
    after = kept_files(folder)
    assert len(after) == PICTURES and before.items() <= after.items()

    assert fecallab("exam", "propose", recorded, "--workers", "1", "--again").code == 0
    anew = {name: json.loads(content)["proposals"] for name, (_, content) in kept_files(folder).items()}
    assert all(json.loads(content)["proposals"] == anew[name] for name, (_, content) in before.items())
    assert all(len(found) >= 2 for found in anew.values())


def test_a_broken_picture_is_named_and_the_others_are_done(
    recorded: str, folder: Path, fecallab: Run
) -> None:
    spoilt = next((folder / "pictures").rglob("*.png"))
    whole = spoilt.read_bytes()
    spoilt.chmod(0o644)
    spoilt.write_bytes(whole[:900])
    said = fecallab("exam", "propose", recorded, "--workers", "1", "--json")
    assert said.code == 3
    states = [one["state"] for one in said.json["pictures"]]
    assert states.count("proposed") == PICTURES - 1
    (trouble,) = [state for state in states if state != "proposed"]
    assert spoilt.name in trouble or ".png" in trouble
    for number in range(1, PICTURES + 1):
        assert f"{number} of 5: " in said.err
    spoilt.write_bytes(whole)
    said = fecallab("exam", "propose", recorded, "--workers", "1")
    assert said.code == 0 and "1 of 1: " in said.err


def test_stopped_in_one_process_it_says_the_same(
    recorded: str, folder: Path, fecallab: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.cli import exam_propose

    real, calls = exam_propose.propose_and_keep, []

    def stopped_at_the_third(*job: object) -> int:
        calls.append(job)
        if len(calls) == 3:
            raise KeyboardInterrupt
        return real(*job)  # type: ignore[arg-type]

    monkeypatch.setattr(exam_propose, "propose_and_keep", stopped_at_the_third)
    said = fecallab("exam", "propose", recorded, "--workers", "1")
    assert said.code == 130
    assert "2 of 5 pictures are done and kept; the same command goes on from there." in said.err
    assert len(kept_files(folder)) == 2


def test_a_disk_that_fills_ends_it_in_one_line_and_leaves_nothing_half_written(
    recorded: str, folder: Path, fecallab: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.fsync

    def full_at_the_third(file: int) -> None:
        if len(kept_files(folder)) == 2:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(file)

    with monkeypatch.context() as full:
        full.setattr(os, "fsync", full_at_the_third)
        said = fecallab("exam", "propose", recorded, "--workers", "1", "--json")
    assert (said.code, said.error["code"]) == (3, "proposals-not-kept")
    assert said.error["text"] == (
        "The proposals for 2.png could not be kept (No space left on device)."
        " 2 of 5 pictures are done and kept."
    )
    assert said.error["next"].startswith("Free some space")
    left = [path.name for path in (folder / "proposals").rglob("*") if path.is_file()]
    assert sorted(left) == sorted(kept_files(folder)) and len(left) == 2
    again = fecallab("exam", "propose", recorded, "--workers", "1")
    assert again.code == 0 and "3 of 3: " in again.err and len(kept_files(folder)) == PICTURES
