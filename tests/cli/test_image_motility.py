"""``fecallab image motility`` and ``fecallab exam read-clip``: keys, files, and what they refuse."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image

from fecallab.imaging.motility.drawn import ClipSpec, draw_clip
from fecallab.imaging.motility.film import write_video

from .conftest import Said

Run = Callable[..., Said]
SPEC = ClipSpec(
    width_px=240, height_px=180, um_per_px=0.8, fps=20, seconds=1.6, swimmers=6, trembling=8, stuck=8,
    speed_um_s=(25, 50), turning=0.2,
)  # fmt: skip


@pytest.fixture(scope="module")
def films(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("films")
    for name, more in (("swim", {}), ("still", {"swimmers": 0})):
        drawn = draw_clip(ClipSpec(**(vars(SPEC) | more)), 4)
        write_video(folder / f"{name}.mp4", zip(drawn.times_s, drawn.frames, strict=True), 20)
    return folder


def test_motility_answers_with_its_keys_and_writes_its_files(
    fecallab: Run, films: Path, tmp_path: Path
) -> None:
    said = fecallab(
        *("image", "motility", films / "swim.mp4", "--um-per-px", "0.8", "--json"),
        *(
            "--out",
            "all.json",
            "--tracks-csv",
            "tracks.csv",
            "--picture",
            "tracks.png",
            "--video",
            "seen.mp4",
        ),
    )
    assert said.code == 0, said.all
    found = said.json
    assert found["assessable"] is True and found["motile_count"] >= 2
    assert found["mean_swimming_ci95"][0] < found["mean_swimming_at_once"] < found["mean_swimming_ci95"][1]
    assert len(found["drift_um_s"]) == 2 and found["passive_count"] >= 1
    for one in found["tracks"]:
        assert one["kind"] in ("swimming", "drifting", "trembling", "stuck", "cannot-tell") and one["why"]
        assert one["vsl_um_s"] <= one["vap_um_s"] + 1e-9 and 0 <= one["straightness"] <= 1
        assert one["vap_um_s"] <= one["vcl_um_s"] + 1e-9
    swimmer = next(one for one in found["tracks"] if one["kind"] == "swimming")
    assert 20 < swimmer["vcl_um_s"] < 60 and swimmer["manner"]
    assert (
        (tmp_path / "tracks.csv")
        .read_text(encoding="utf-8")
        .startswith("track,kind,scene,frame,time_s,x_px,y_px")
    )
    assert Image.open(tmp_path / "tracks.png").width == 240
    assert (tmp_path / "seen.mp4").stat().st_size > 2000 and (tmp_path / "all.json").is_file()


def test_motility_speaks_in_words(fecallab: Run, films: Path) -> None:
    said = fecallab("image", "motility", films / "swim.mp4", "--um-per-px", "0,8")
    assert said.code == 0
    assert "Swimming at once" in said.out and "no diagnosis" in said.out
    said = fecallab("image", "motility", films / "still.mp4", "--um-per-px", "0.8")
    assert said.code == 0
    assert "Nothing swims" in said.out and "not assessable" in said.out
    assert "negative" not in said.out


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("swim.mp4",), "no-scale"),
        (("missing.mp4", "--um-per-px", "1"), "picture-missing"),
        (("empty.mp4", "--um-per-px", "1"), "clip-empty"),
        (("still.png", "--um-per-px", "1"), "clip-is-picture"),
        (("cut.mp4", "--um-per-px", "1"), "clip-damaged"),
        (("frames", "--um-per-px", "1"), "clip-no-times"),
        (("swim.mp4", "--um-per-px", "1", "--video", "seen.avi"), "out-kind"),
        (("swim.mp4", "--um-per-px", "1", "--picture", "nowhere/a.png"), "out-folder"),
        (("swim.mp4", "--um-per-px", "1", "--video", "swim.mp4"), "out-is-input"),
    ],
)
def test_what_cannot_be_meant_is_said_in_one_line(
    fecallab: Run, films: Path, tmp_path: Path, words: tuple[str, ...], code: str
) -> None:
    data = (films / "swim.mp4").read_bytes()
    (tmp_path / "swim.mp4").write_bytes(data)
    (tmp_path / "cut.mp4").write_bytes(data[: len(data) // 2])
    (tmp_path / "empty.mp4").write_bytes(b"")
    (tmp_path / "frames").mkdir()
    for name in ("still.png", "frames/a1.png", "frames/a2.png"):
        Image.new("L", (40, 30), 90).save(tmp_path / name)
    said = fecallab("image", "motility", *words, "--json")
    assert said.code == 2 and said.error["code"] == code
    assert "\n" not in said.error["text"] and said.error["next"]


def test_a_clip_that_cannot_answer_is_an_answer(fecallab: Run, tmp_path: Path) -> None:
    frames = np.full((3, 60, 80), 120, np.uint8)
    write_video(tmp_path / "short.mp4", zip((0, 0.05, 0.1), frames, strict=True), 20)
    said = fecallab("image", "motility", "short.mp4", "--um-per-px", "0.5", "--json")
    assert said.code == 0
    found = said.json
    assert found["assessable"] is False and found["motile_count"] is None
    assert found["reasons"][0]["code"] == "clip-too-short" and found["reasons"][0]["next"]


def with_exam(fecallab: Run, read_at: str = "2025-03-04 08:40") -> None:
    for words in (
        ("records", "make", "."),
        ("animal", "add", "Saffron", "--species", "Testudo hermanni"),
        (
            "sample",
            "add",
            "Saffron",
            "--passed-from",
            "2025-03-04 08:00",
            "--passed-to",
            "2025-03-04 08:20",
            "--form",
            "soft",
        ),
        ("exam", "add", "S1", "--method", "direct_saline_smear", "--read-at", read_at),
    ):
        said = fecallab(*words)
        assert said.code == 0, said.all


def test_a_clip_becomes_a_reading_under_the_keepers_name(fecallab: Run, films: Path) -> None:
    with_exam(fecallab)
    clip = ("exam", "read-clip", "E1-1", films / "swim.mp4", "--um-per-px", "0.8", "--objective", "40")
    said = fecallab(*clip, "--json")
    assert said.code == 2 and said.error["code"] == "organism-missing"
    said = fecallab(*clip, "--of", "flagellate", "--json")
    assert said.code == 0, said.all
    from fecallab.records.store import open_records

    with open_records(Path.cwd()) as store:
        reading = store.exam("E1").preparations[0].readings[-1]
    assert (
        reading.mean_swimming
        and reading.mean_swimming_low < reading.mean_swimming < reading.mean_swimming_high
    )
    assert reading.clip_seconds == pytest.approx(1.55, abs=0.1)
    assert sum(reading.counts.values()) == max(1, round(reading.mean_swimming))
    assert reading.um_per_px == 0.8 and reading.objective == 40
    from fecallab.domain.clip_words import at_once_words
    from fecallab.records.clips import clip_of

    with open_records(Path.cwd()) as store:
        kept = clip_of(reading, store.pictures())
        assert kept is not None and (kept.picture.width_px, kept.picture.height_px) == (240, 180)
        assert store.picture_path(kept.picture.sha256).read_bytes() == (films / "swim.mp4").read_bytes()
    words = at_once_words(reading.mean_swimming, reading.mean_swimming_low, reading.mean_swimming_high)
    assert f"{reading.code}: a clip of" in fecallab("exam", "show", "E1").out
    assert words in fecallab("exam", "show", "E1").out
    said = fecallab("report", "exam", "E1", "--to", "pages", "--json")
    page = Path("pages", said.json["pages"][0]).read_text(encoding="utf-8")
    assert f"a clip of {reading.clip_seconds:.1f} s: {words}" in page
    assert "swim.mp4" not in page, "a name of a file is nobody else's business"
    said = fecallab(*clip, "--of", "flagellate", "--json")
    assert said.code == 2 and said.error["code"] == "clip-twice"
    assert fecallab("records", "check").code == 0


WORDS = ("--um-per-px", "0.8", "--objective", "40")

SMALL = ClipSpec(
    **(vars(SPEC) | {"swimmers": 0, "width_px": 120, "height_px": 90, "trembling": 3, "stuck": 3})
)


def numbered(folder: Path, frames: Any) -> Path:
    folder.mkdir()
    for k, frame in enumerate(frames):
        Image.fromarray(frame).save(folder / f"{k}.png")
    return folder


def test_a_rate_that_was_given_is_said_with_the_reading(fecallab: Run, films: Path) -> None:
    with_exam(fecallab)
    said = fecallab("exam", "read-clip", "E1-1", films / "still.mp4", *WORDS, "--fps", "20")
    assert said.code == 0, said.all
    from fecallab.records.clips import clip_of
    from fecallab.records.store import open_records

    with open_records(Path.cwd()) as store:
        kept = clip_of(store.exam("E1").preparations[0].readings[-1], store.pictures())
    assert kept is not None and kept.fps == 20


def test_a_folder_of_pictures_is_kept_as_one_file_without_loss_and_read_as_a_clip(
    fecallab: Run, tmp_path: Path
) -> None:
    with_exam(fecallab)
    drawn = draw_clip(SMALL, 4)
    folder = numbered(tmp_path / "frames", drawn.frames)
    said = fecallab("exam", "read-clip", "E1-1", folder, *WORDS, "--fps", "20")
    assert said.code == 0 and f"{len(drawn.frames)} pictures are kept without loss" in said.out, said.all
    from fecallab.records.clips import clip_of
    from fecallab.records.store import open_records

    with open_records(Path.cwd()) as store:
        reading = store.exam("E1").preparations[0].readings[-1]
        kept = clip_of(reading, store.pictures())
        assert kept is not None and kept.fps == 20
        assert (kept.picture.file_name, kept.picture.width_px, kept.picture.height_px) == (
            "frames.tif",
            120,
            90,
        )
        there = store.picture_path(kept.picture.sha256)
    assert np.array_equal(tifffile.imread(there), drawn.frames), "in the order of their numbers, bit by bit"
    assert reading.clip_seconds == pytest.approx((len(drawn.frames) - 1) / 20)
    again = ("exam", "read-clip", "E1-1", folder, *WORDS, "--json")
    for rate in ("20", "21"):
        said = fecallab(*again, "--fps", rate)
        assert said.code == 2 and said.error["code"] == "clip-twice", "the same pictures at another rate"
    assert fecallab("records", "check").code == 0
    there.write_bytes(there.read_bytes()[:-1] + b"?")
    assert fecallab("records", "check").code != 0


def test_without_a_scale_no_number_is_offered_that_could_be_copied(fecallab: Run) -> None:
    said = fecallab("exam", "read-clip", "E1-1", "any.mp4", "--objective", "40", "--json")
    assert said.code == 2 and said.error["code"] == "clip-options"
    assert "image calibrate" in said.error["next"] and "0.35" not in said.error["next"]


def test_a_tiff_stack_is_kept_and_read_as_a_clip(fecallab: Run, tmp_path: Path) -> None:
    with_exam(fecallab)
    drawn = draw_clip(SMALL, 4)
    stack = tmp_path / "stack.tif"
    tifffile.imwrite(stack, np.asarray(drawn.frames), photometric="minisblack")
    words = ("exam", "read-clip", "E1-1", stack, *WORDS)
    said = fecallab(*words, "--json")
    assert said.code == 2 and said.error["code"] == "clip-no-times"
    assert fecallab(*words, "--fps", "20").code == 0
    from fecallab.records.clips import clip_of
    from fecallab.records.store import open_records

    with open_records(Path.cwd()) as store:
        kept = clip_of(store.exam("E1").preparations[0].readings[-1], store.pictures())
        assert kept is not None and (kept.picture.file_name, kept.fps) == ("stack.tif", 20)
        assert store.picture_path(kept.picture.sha256).read_bytes() == stack.read_bytes()
    assert fecallab("records", "check").code == 0


@pytest.mark.parametrize(
    ("spoilt", "rate", "code", "names"),
    [
        ("size", "20", "clip-sizes", "5.png"),
        ("damaged", "20", "picture-damaged", "5.png"),
        ("single", "20", "clip-is-picture", "frames"),
        ("", "", "clip-no-times", "frames"),
    ],
)
def test_a_folder_that_is_no_clip_is_one_line_and_nothing_is_recorded(
    fecallab: Run, tmp_path: Path, spoilt: str, rate: str, code: str, names: str
) -> None:
    with_exam(fecallab)
    drawn = draw_clip(SMALL, 4)
    folder = numbered(tmp_path / "frames", drawn.frames[: 1 if spoilt == "single" else 8])
    if spoilt == "size":
        Image.new("L", (40, 30)).save(folder / "5.png")
    if spoilt == "damaged":
        (folder / "5.png").write_bytes((folder / "5.png").read_bytes()[:300])
    for command in (("exam", "read-clip", "E1-1", folder, *WORDS), ("image", "motility", folder, *WORDS[:2])):
        said = fecallab(*command, *(("--fps", rate) if rate else ()), "--json")
        assert said.code == 2 and said.error["code"] == code, said.all
        assert names in said.error["text"] and "\n" not in said.error["text"] and said.error["next"]
    from fecallab.records.store import open_records

    with open_records(Path.cwd()) as store:
        assert not store.pictures() and not store.exam("E1").preparations[0].readings


@pytest.mark.parametrize("read_at", ["2025-03-04 08:40", "2025-03-04 13:30"], ids=["fresh", "old"])
def test_a_clip_in_which_nothing_swims_is_no_negative_by_itself(
    fecallab: Run, films: Path, read_at: str
) -> None:
    with_exam(fecallab, read_at)
    said = fecallab(
        "exam", "read-clip", "E1-1", films / "still.mp4", "--um-per-px", "0.8", "--objective", "40"
    )
    assert said.code == 0, said.all
    assert "motility not assessable" in said.out
    shown: dict[str, Any] = fecallab("exam", "show", "E1", "--target", "flagellate", "--json").json
    (judged,) = [one for one in shown["judged"] if one["target"] == "flagellate"]
    assert judged["result"] == "inconclusive"
    reasons = " ".join(one["text"] for one in judged["reasons"])
    assert "Motility not assessable" in reasons
    assert ("minutes of passage? No" in reasons) is (read_at > "2025-03-04 09:20"), reasons


def test_a_clip_that_cannot_answer_is_not_recorded(fecallab: Run, tmp_path: Path) -> None:
    with_exam(fecallab)
    frames = np.full((3, 60, 80), 120, np.uint8)
    write_video(tmp_path / "short.mp4", zip((0, 0.05, 0.1), frames, strict=True), 20)
    said = fecallab(
        "exam", "read-clip", "E1-1", "short.mp4", "--um-per-px", "0.8", "--objective", "40", "--json"
    )
    assert said.code == 1
    assert "clip-too-short" in said.out
