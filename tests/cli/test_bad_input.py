"""What cannot be meant: one clear line, exit 2, no traceback, and the records as they were."""

from __future__ import annotations

import json
import shutil
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from .conftest import FLOAT, PLAN, Said, contents

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]

FUTURE = "2199-01-01"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records with two animals, a stool S1, and an exam E1 that opened a case C1; made once."""
    from fecallab.cli.main import run

    made = tmp_path_factory.mktemp("told") / "records"
    shutil.copytree(empty_folder, made)
    passed = ("--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00", "--mass-g", "1.4")
    read = ("--read-at", "2025-03-04 09:00", "--objective", "10", "--share", "1", "--seen", "oxyurid=3")
    for words in (
        ("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult"),
        ("animal", "add", "Pixel", "--species", "leopard gecko"),
        ("sample", "add", "Saffron", *passed, "--form", "soft", "--kept", "room"),
        ("exam", "add", "S1", *FLOAT, *read),
    ):
        assert run([*words, "--records", str(made), "--by", "Mara Quell"]) == 0
    return made


@pytest.fixture
def kept(told: Path, folder: Path) -> Path:
    """A copy of `told`; a picture, field.png, lies in the current folder."""
    shutil.rmtree(folder)
    shutil.copytree(told, folder)
    Image.new("RGB", (64, 48), "white").save("field.png")
    return folder


@pytest.fixture
def refused_as_bad(fecallab: Run, kept: Path) -> Callable[..., str]:
    """Run a command that must be bad input: one line, nothing changed; return that line."""

    def run_it(*words: str | Path, code: str = "") -> str:
        before = contents(kept)
        said = fecallab(*words)
        assert said.code == 2, said.all
        assert said.out == ""
        assert said.err.startswith("Not understood: ")
        assert said.err.count("\n") == 1, "one line"
        assert "Traceback" not in said.err
        assert len(said.err) < 700
        assert contents(kept) == before
        as_json = fecallab(*words, "--json") if "--" not in words else None
        if as_json is not None:
            assert as_json.code == 2
            if code:
                assert as_json.error["code"] == code
            assert as_json.error["next"]
            assert contents(kept) == before
        return said.err

    return run_it


EXAM = ("exam", "add", "S1", *FLOAT, "--read-at", "2025-03-04 09:00", "--objective", "10")
ELSEWHERE = ("exam", "elsewhere", "Saffron", "--target", "oxyurid", "--from", "Lab Ouk", "--method", "float")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        # names
        (("animal", "show", "Safron"), "unknown-animal", "Did you mean Saffron?"),
        (("animal", "weigh", "piksel", "40"), "unknown-animal", "Did you mean Pixel?"),
        (("due", "nobody at all"), "unknown-animal", "fecallab animal list"),
        (("animal", "add", "SAFFRON"), "name-taken", "Saffron"),
        (("animal", "add", "A7"), "name-like-code", "no letter with a number"),
        (("animal", "add", ""), "name-empty", "name"),
        (("animal", "add", " \u200b\u202e "), "name-empty", "name"),
        (("exam", "show", "E99"), "unknown-exam", "E1 to E1"),
        (("exam", "add", "S99", *FLOAT), "unknown-sample", "S1 to S1"),
        (("case", "show", "S1"), "unknown-case", "C1 to C1"),
        (
            ("exam", "read", "E1-7", "--objective", "10", "--counts", "0", "--of", "oxyurid"),
            "unknown-preparation",
            "E1-1",
        ),
        # counts
        ((*EXAM, "--counts", "-1,2", "--of", "oxyurid"), "not-a-count", "a count is a whole number"),
        ((*EXAM, "--counts", "0,1.5", "--of", "oxyurid"), "not-a-count", "entry 2 is '1.5'"),
        ((*EXAM, "--counts", "0,nan", "--of", "oxyurid"), "not-a-count", "whole number"),
        ((*EXAM, "--counts", "", "--of", "oxyurid"), "not-a-count", "whole number"),
        ((*EXAM, "--counts", "0,2"), "organism-missing", "--of oxyurid"),
        ((*EXAM, "--counts", "oxyurid:1,2", "--counts", "coccidian:0"), "field-numbers", "1, 2"),
        ((*EXAM, "--counts", "oxyurid:1", "--counts", "oxyurid:0"), "given-twice", "oxyurid twice"),
        ((*EXAM, "--share", "1", "--seen", "oxyurid=-3"), "not-a-count", "whole number"),
        ((*EXAM, "--share", "1", "--seen", "oxyurid"), "not-a-count", "oxyurid=2"),
        ((*EXAM, "--seen", "oxyurid=3"), "share-missing", "how much of the glass"),
        ((*EXAM, "--share", "1", "--seen", "oxyurid=99999999999"), "too-large", "too large"),
        # organisms, methods, words of a closed list
        ((*EXAM, "--counts", "0", "--of", "oxyurd"), "unknown-organism", "Did you mean oxyurid"),
        ((*EXAM, "--counts", "0", "--of", "unicorn"), "unknown-organism", "fecallab reference"),
        (("exam", "add", "S1", "--method", "flotation"), "not-a-choice", "simple_flotation"),
        (("exam", "show", "E1", "--target", "pinwrm"), "unknown-organism", "pinworm"),
        (("sample", "add", "Saffron", "--form", "runny"), "not-a-choice", "formed, soft, liquid"),
        (("sample", "add", "Saffron", "--kept", "freezer"), "not-a-choice", "frozen"),
        (("sample", "add", "Saffron", "--origin", "blood"), "not-a-choice", "cloacal wash"),
        (("animal", "add", "X", "--kind", "herd"), "not-a-choice", "animal, tub, pen"),
        (("animal", "add", "X", "--host-group", "frog"), "not-a-choice", "tortoise"),
        (("animal", "add", "X", "--number", "3"), "number-of-animals", "an animal is one"),
        (("animal", "add", "X", "--kind", "tub", "--number", "0"), "", "1 or more"),
        (("animal", "add", "X", "--kind", "tub", "--number", "99999999999"), "too-large", "too large"),
        (("animal", "event", "Saffron", "moulted"), "not-a-choice", "brumation"),
        (("animal", "event", "Saffron", "died", "--to", "2025-04-01"), "end-not-asked", "one day"),
        (("care", "log", "Saffron", "massage"), "not-a-choice", "fluids"),
        (("care", "log", "Saffron", "fluids"), "amount-missing", "ml"),
        (("care", "log", "Saffron", "fluids", "--", "-3"), "", "outside 0"),
        (("care", "log", "Saffron", "warm end", "95"), "out-of-range", "°C"),
        (("case", "close", "C1", "--ending", "bored"), "not-a-choice", "goal reached"),
        (("case", "open", "Saffron", "pollen_pine", "--vet", "V"), "no-target", "group of parasites"),
        (("case", "open", "Saffron", "oxyurid", "--vet", "V"), "case-open-already", "C1"),
        ((*ELSEWHERE, "--result", "clean", "--collected", "2025-05-05"), "not-a-choice", "negative"),
        (
            (*ELSEWHERE, "--result", "negative", "--collected", "2025-05-05", "--stage", "eggs"),
            "not-a-choice",
            "Did you mean egg?",
        ),
        # days and times
        (("sample", "add", "Saffron", "--passed-from", f"{FUTURE} 08:00"), "in-the-future", "future"),
        (("sample", "add", "Saffron", "--collected", FUTURE), "in-the-future", "after today"),
        (("animal", "weigh", "Saffron", "318", "--at", f"{FUTURE} 08:00"), "in-the-future", "future"),
        (("animal", "event", "Saffron", "brumation", "--from", FUTURE), "in-the-future", "after today"),
        (("plan", "add", "C1", "--vet", "V", "--written", FUTURE), "in-the-future", "after today"),
        (("case", "close", "C1", "--on", FUTURE), "in-the-future", "after today"),
        (("case", "close", "C1", "--on", "2025-03-01"), "closed-before-opened", "opened on 4 March 2025"),
        (("dose", "give", "C1", "--at", f"{FUTURE} 08:00"), "in-the-future", "future"),
        ((*EXAM[:-4], "--read-at", f"{FUTURE} 08:00"), "in-the-future", "future"),
        ((*EXAM[:-4], "--read-at", "2025-03-04 05:00"), "exam-before-sample", "before its sample"),
        (("sample", "add", "Saffron", "--passed-from", "yesterdayish"), "not-a-time", "2026-03-04 08:30"),
        (("sample", "add", "Saffron", "--passed-from", "2025-02-30"), "not-a-day", "year-month-day"),
        (("sample", "add", "Saffron", "--passed-from", "04.03.2025 08:30"), "not-a-time", "day and hour"),
        (("sample", "add", "Saffron", "--passed-from", "25:99"), "not-a-time", "hour of today"),
        (("sample", "add", "Saffron", "--passed-from", "1925-03-04 08:00"), "too-long-ago", "year"),
        (("sample", "add", "Saffron", "--passed-to", "2025-03-04 08:00"), "window-open", "--passed-from"),
        (
            (
                "sample",
                "add",
                "Saffron",
                "--passed-from",
                "2025-03-04 09:00",
                "--passed-to",
                "2025-03-04 08:00",
            ),
            *("end-before-start", "Swap them"),
        ),
        (
            (
                "sample",
                "add",
                "Saffron",
                "--passed-from",
                "2025-03-04 09:00",
                "--collected",
                "2025-03-04 08:00",
            ),
            *("collected-before-passed", "before the stool was passed"),
        ),
        (
            (
                "exam",
                "elsewhere",
                "Saffron",
                "--target",
                "oxyurid",
                "--from",
                "L",
                "--method",
                "m",
                "--result",
                "negative",
                "--collected",
                "2025-05-05",
                "--reported",
                "2025-05-01",
            ),
            *("reported-before-collected", "before --collected"),
        ),
        # numbers
        ((*EXAM, "--share", "1.2"), "out-of-range", "0 to 1"),
        ((*EXAM, "--share", "40%"), "not-a-number", "plain number"),
        ((*EXAM, "--share", "nan"), "not-a-number", "plain number"),
        ((*EXAM, "--share", "inf"), "not-a-number", "plain number"),
        ((*EXAM, "--share", "1e999"), "out-of-range", "0 to 1"),
        ((*EXAM[:-2], "--objective", "10x", "--share", "1"), "not-a-number", "plain number"),
        ((*EXAM[:-2], "--share", "1"), "objective-missing", "--objective 40"),
        (("exam", "add", "S1", *FLOAT, "--gravity", "118"), "out-of-range", "0.9 to 2"),
        (
            ("exam", "add", "S1", "--method", "mcmaster", "--suspension-ml", "3", "--counted-ml", "30"),
            "volumes",
            "more than",
        ),
        (("animal", "weigh", "Saffron", "0"), "out-of-range", "unit"),
        (("animal", "weigh", "Saffron", "1,234"), "not-a-number", "thousands mark"),
        (("animal", "weigh", "Saffron", "318g"), "not-a-number", "without a unit"),
        (("animal", "weigh", "Saffron", "--", "-3"), "", "outside"),
        (("sample", "add", "Saffron", "--mass-g", "1e400"), "out-of-range", "unit"),
        (("sample", "add", "Saffron", "--same-stool-as", "S9"), "unknown-sample", "S1 to S1"),
        (("sample", "add", "Pixel", "--same-stool-as", "S1"), "same-stool-of-another", "is of Saffron"),
        # plans and doses
        (
            ("plan", "add", "C1", "--vet", "V", "--drug", "fenbendazole"),
            "order-incomplete",
            "nothing is guessed",
        ),
        (("plan", "add", "C1", "--vet", "V", "--doses", "2"), "drug-missing", "without a drug"),
        (
            ("plan", "add", "C1", *PLAN, "--doses", "1000", "--interval-days", "3650"),
            "course-too-long",
            "days",
        ),
        (("plan", "add", "C1", *PLAN, "--goal", "watch, no treatment"), "goal-and-drug", "is to be given"),
        (("plan", "add", "C1", "--vet", "V", "--goal", "cured"), "not-a-choice", "clear"),
        (("plan", "add", "C1", "--vet", "V", "--wait-days", "2000000000"), "out-of-range", "0 to 3650"),
        (("plan", "add", "C1", "--vet", "V", "--negatives", "-1"), "out-of-range", "1 to 100"),
        (("plan", "add", "C1", "--vet", "V", "--spacing-days", "-1"), "out-of-range", "0 to 3650"),
        (
            ("plan", "add", "C1", "--vet", "V", "--goal", "low burden", "--grade-scale", "mine"),
            "scale-unknown",
            "Name one of",
        ),
        (
            ("plan", "add", "C1", "--vet", "V", "--goal", "low burden", "--grade-at-most", "tiny"),
            "grade-unknown",
            "moderate",
        ),
        (
            (
                "plan",
                "add",
                "C1",
                "--vet",
                "V",
                "--goal",
                "low burden",
                "--grade-scale",
                "people_epg_ascaris",
            ),
            "grade-scale-of-people",
            "people",
        ),
        (("plan", "add", "C1", *PLAN, "--dose-mg-per-kg", "-50"), "out-of-range", "unit"),
        (("plan", "add", "C1", *PLAN, "--dose-mg-per-kg", "50 mg"), "not-a-number", "plain number"),
        (("dose", "give", "C1", "--outcome", "forgot"), "not-a-choice", "missed"),
        (("animal", "event", "Saffron", "vet accepts course"), "vet-missing", "named vet"),
        # corrections
        (("correct", "S1", "mass_g", "--reason", "x"), "no-change", "field=value"),
        (("correct", "S1", "colour=red", "--reason", "x"), "not-a-choice", "remark"),
        (("correct", "S1", "mass_g=heavy", "--reason", "x"), "not-a-number", "plain number"),
        (("correct", "S1", "mass_g=2", "--reason", " "), "no-reason", "reason"),
        (("correct", "S1", "mass_g=1.4", "--reason", "x"), "nothing-changed", "differs"),
        (("correct", "S1", "passed_from=2025-03-05 08:00", "--reason", "x"), "", "before"),
        (("correct", "S1", "same_stool_as=S1", "--reason", "x"), "same-stool-as-itself", "itself"),
        (("correct", "A1", "host_group=frog", "--reason", "x"), "not-a-choice", "tortoise"),
        (("correct", "A1", "number_of_animals=2.5", "--reason", "x"), "not-a-count", "whole number"),
        (("correct", "A1", "name=Pixel", "--reason", "x"), "name-taken", "Pixel"),
        (("correct", "C1", "target=unicorn", "--reason", "x"), "unknown-organism", "unicorn"),
        (("correct", "C1", "stages=abc", "--reason", "x"), "not-a-choice", "target"),
        (("correct", "E1-1", "read_at=2025-03-01 08:00", "--reason", "x"), "exam-before-sample", "before"),
        (("correct", "E1-1", "cover_glass=1x1", "--reason", "x"), "not-a-choice", "22x22"),
        (("correct", "E1-1-1", "counts=5", "--reason", "x"), "organism-missing", "counts.oxyurid"),
        (("correct", "E1-1-1", "counts.oxyurid=-5", "--reason", "x"), "not-a-count", "whole number"),
        (("correct", "E1-1-1", "counts.unicorn=5", "--reason", "x"), "unknown-organism", "unicorn"),
        (("correct", "E1-1-1", "objective=1e300", "--reason", "x"), "out-of-range", "250"),
        (("correct", "E1-1-1", "cover_share=", "--reason", "x"), "share-missing", "share"),
        (("correct", "E9", "remark=x", "--reason", "x"), "unknown-code", "E9"),
        (("withdraw", "S1", "--reason", "x"), "still-needed", "E1"),
        (("history", "nonsense"), "unknown-code", "code"),
        # usage
        (("animal", "ad", "X"), "usage", "--help"),
        (("animal", "weigh", "Saffron"), "usage", "--help"),
        (("animal", "weigh", "Saffron", "318", "319"), "usage", "--help"),
        (("exam", "add", "S1"), "usage", "--method"),
        (("animal", "add", "X", "--number", "many"), "usage", "--number"),
    ],
)
def test_what_cannot_be_meant_is_one_line(
    refused_as_bad: Callable[..., str], words: tuple[str, ...], code: str, said: str
) -> None:
    assert said in refused_as_bad(*words, code=code)


# Pictures and marks


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


# Folders


def test_a_folder_that_is_no_record_folder_is_one_line(fecallab: Run, tmp_path: Path) -> None:
    for where in (tmp_path, tmp_path / "not there", tmp_path / "a\0b"):
        said = fecallab("animal", "list", "--records", where)
        assert (said.code, said.out) == (2, "")
        assert said.err.count("\n") == 1 and "fecallab records make" in said.err
        assert "\0" not in said.err
    assert fecallab("animal", "list", "--records", "~nobody-of-this-name/records").code == 2
    assert fecallab("animal", "list").err.startswith("Not understood: No record folder was named")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert fecallab("records", "make", "file").code == 2
    full = tmp_path / "full"
    full.mkdir()
    (full / "letter.txt").write_text("x", encoding="utf-8")
    assert "letter.txt" in fecallab("records", "make", full).err
    assert list(full.iterdir()) == [full / "letter.txt"]


# Texts

TEXTS = {
    "quotes": 'Tilda\'s “the tank” "T" `x` \\n %s {0} $HOME',
    "tags": "<b>bold</b><script>alert(1)</script>&amp;</td>",
    "sql": "'); DROP TABLE animals;--",
    "emoji": "🐢 👩‍🔬 🇸🇪 e\u0301 ﷽",
    "right to left": "\u202eevil\u202c سلحفاة \u200f",
    "option": "--reason",
    "long": "x" * 19_000,
}
TEXT_OPTIONS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "animal add": (("New",), ("--species", "--enclosure", "--remark")),
    "animal weigh": (("Saffron", "318"), ("--state", "--remark")),
    "animal event": (("Saffron", "brumation"), ("--remark",)),
    "sample add": (("Saffron",), ("--remark",)),
    "exam add": (("S1", "--method", "iodine_smear"), ("--question", "--remark", "--solution")),
    "exam prepare": (("E1", "--method", "iodine_smear"), ("--solution", "--remark")),
    "exam elsewhere": (
        ("Saffron", "--target", "oxyurid", "--result", "negative", "--collected", "2025-05-05"),
        ("--from", "--method", "--grade", "--remark"),
    ),
    "case open": (("Saffron", "ciliate", "--vet", "V"), ("--species",)),
    "plan add": (("C1",), ("--vet", "--fluids", "--feeding", "--remark")),
    "case close": (("C1", "--ending", "on a vet's order"), ("--vet", "--reason")),
    "care log": (("Saffron", "cleaning"), ("--remark",)),
    "correct": (("A1", "adult=no"), ("--reason",)),
}
NEEDED = {
    "exam elsewhere": ("--from", "--method"),
    "plan add": ("--vet",),
    "case close": ("--vet", "--reason"),
}


def words_for(name: str, option: str, text: str) -> list[str]:
    fixed, _ = TEXT_OPTIONS[name]
    others = [word for other in NEEDED.get(name, ()) if other != option for word in (other, "Ouk")]
    return [*name.split(), *fixed, *others, f"{option}={text}"]


def strings_in(value: Any) -> list[str]:
    if isinstance(value, dict):
        return [text for part in value.values() for text in strings_in(part)]
    if isinstance(value, list):
        return [text for part in value for text in strings_in(part)]
    return [value] if isinstance(value, str) else []


EVERY_TEXT = [(name, option) for name, (_, options) in TEXT_OPTIONS.items() for option in options]


@pytest.mark.parametrize(("name", "option"), EVERY_TEXT, ids=[f"{n} {o}" for n, o in EVERY_TEXT])
def test_every_text_comes_back_as_it_was_typed(
    do: Do, fecallab: Run, kept: Path, name: str, option: str
) -> None:
    together = " ".join(text for kind, text in TEXTS.items() if kind not in ("option", "long"))
    for number, text in enumerate((together, TEXTS["option"], TEXTS["long"])):
        if name in ("case close", "case open") and number:
            break
        words = words_for(name, option, text)
        words = [f"{word} {number}" if word == "New" else word for word in words]
        if name == "animal event":
            words += ["--from", f"2025-0{number + 1}-01", "--to", f"2025-0{number + 1}-20"]
        if name == "correct":
            words = [f"remark={number}" if word == "adult=no" else word for word in words]
        answer = do(*words)
        found = strings_in(answer) if name != "correct" else strings_in(do("history", "A1"))
        assert text in found
    shown = {
        "plan add": ("plan", "show", "C1"),
        "exam": ("exam", "show", "E1"),
        "case": ("case", "show", "C1"),
    }
    words = shown.get(name, shown.get(name.split()[0], ("animal", "show", "Saffron")))
    assert fecallab(*words).code == 0
    assert fecallab("due").code == 0


@pytest.mark.parametrize("text", [text for name, text in TEXTS.items() if name not in ("option", "long")])
def test_a_name_comes_back_and_is_found_again(do: Do, fecallab: Run, folder: Path, text: str) -> None:
    assert do("animal", "add", text)["animal"]["name"] == text
    assert do("animal", "show", text)["animal"]["name"] == text
    assert fecallab("animal", "list").code == 0
    assert text in fecallab("animal", "list").out or "\u202e" in text


@pytest.mark.parametrize(("name", "option"), EVERY_TEXT, ids=[f"{n} {o}" for n, o in EVERY_TEXT])
def test_what_no_text_can_hold_is_one_line(
    refused_as_bad: Callable[..., str], name: str, option: str
) -> None:
    assert "U+0000" in refused_as_bad(*words_for(name, option, "a\0b"))
    refused_as_bad(*words_for(name, option, "half \ud83d of an emoji"))
    refused_as_bad(*words_for(name, option, "\x1b[2J"))
    assert "is the limit" in refused_as_bad(*words_for(name, option, "x" * 50_000))


def test_a_remark_may_have_lines_and_a_name_may_not(do: Do, refused_as_bad: Callable[..., str]) -> None:
    note = "first\nsecond\tcolumn"
    assert do("sample", "add", "Saffron", "--remark", note)["sample"]["remark"] == note
    refused_as_bad("animal", "add", "two\nlines")


def test_who_records_is_checked_too(refused_as_bad: Callable[..., str], monkeypatch: Any) -> None:
    refused_as_bad("animal", "weigh", "Saffron", "318", "--by", "a\0b")
    monkeypatch.setenv("FECALLAB_BY", "two\nlines")
    refused_as_bad("animal", "weigh", "Saffron", "318")


# Forms of the calculators

GOOD_FORM = {
    "target": "oxyurid",
    "stage": "egg",
    "sample": {"origin": "stool", "owner": "animal"},
    "preparations": [{"method": "simple_flotation", "cover_share": 1}],
    "counts": {"oxyurid": 0},
}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "no JSON object"),
        ("{", "no JSON object"),
        ("[]", "valid dictionary"),
        ("3", "valid dictionary"),
        ("NaN", "NaN is no number"),
        ('{"a":' * 100_000, "no JSON object"),
        ("[" * 100_000, "no JSON object"),
        ('{"target": ' + "9" * 5000 + "}", "no JSON object"),
        ('{"target": "oxyurid"}', "stage is missing"),
        (b"\xff\xfe\x00", "no JSON object"),
        (json.dumps({**GOOD_FORM, "counts": {"oxyurid": -1}}), "counts.oxyurid"),
        (json.dumps({**GOOD_FORM, "counts": {"oxyurid": 0.5}}), "counts.oxyurid"),
        (json.dumps({**GOOD_FORM, "counts": {"a\nb": -1}}), "a b"),
        (json.dumps({**GOOD_FORM, "stage": "grub"}), "grub"),
        (json.dumps({**GOOD_FORM, "preparations": [{"method": "magic"}]}), "magic"),
        (json.dumps({**GOOD_FORM, "preparations": [{"method": "mcmaster", "cover_share": 1.01}]}), "1.01"),
        (json.dumps({**GOOD_FORM, "preparations": [{"method": "mcmaster", "sample_g": 1e308}]}), "1e+308"),
        (
            json.dumps({**GOOD_FORM, "preparations": [{"method": "mcmaster", "sample_g": float("nan")}]}),
            "NaN is no number",
        ),
        (json.dumps(GOOD_FORM).replace('"cover_share": 1', '"cover_share": 1e999'), "less than or equal"),
    ],
)
def test_a_form_that_cannot_be_meant_is_one_line(
    fecallab: Run, tmp_path: Path, content: str | bytes, said: str
) -> None:
    form = tmp_path / "form.json"
    form.write_bytes(content if isinstance(content, bytes) else content.encode())
    got = fecallab("calc", "adequacy", form)
    assert (got.code, got.out) == (2, "")
    assert said in got.err and got.err.count("\n") == 1 and len(got.err) < 700
    assert fecallab("calc", "adequacy", form, "--json").error["code"] in ("no-json", "form-value")


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ("today", "9999-12-31"),
        ("today", "0001-01-01"),
        ("today", "2025-02-30"),
        ("case.opened", "9999-12-31"),
        ("exams.0.sample_collected", "9999-12-31"),
        ("exams.0.result", "cured"),
        ("plan.wait_after_last_dose_days", 2_000_000_000),
        ("plan.spacing_days", -1),
        ("plan.negatives_needed", 2.5),
        ("plan.goal", "win"),
        ("doses.0.given", "9999-12-31"),
        ("doses.0.outcome", "eaten"),
        ("events.0.start", "9999-12-31"),
    ],
)
def test_a_history_that_cannot_be_meant_names_the_place(
    fecallab: Run, tmp_path: Path, place: str, value: Any
) -> None:
    form: dict[str, Any] = {
        "case": {"target": "oxyurid", "opened": "2025-03-04"},
        "plan": {"written": "2025-03-06", "doses_planned": 1, "interval_days": 14},
        "exams": [{"sample_collected": "2025-03-04", "result": "positive"}],
        "doses": [{"given": "2025-03-07"}],
        "events": [{"kind": "brumation", "start": "2025-11-01"}],
        "today": "2025-12-01",
    }
    spot: Any = form
    *way, last = place.split(".")
    for step in way:
        spot = spot[int(step)] if isinstance(spot, list) else spot[step]
    spot[last] = value
    path = tmp_path / "history.json"
    path.write_text(json.dumps(form), encoding="utf-8")
    got = fecallab("calc", "standing", path)
    assert got.code == 2 and place in got.err and got.err.count("\n") == 1


def test_a_form_that_is_no_file_or_a_huge_one_is_one_line(fecallab: Run, tmp_path: Path) -> None:
    (tmp_path / "huge.json").write_bytes(b" " * 5_000_001)
    for name, said in (("no.json", "no file"), ("huge.json", "5 MB"), (".", "no file")):
        got = fecallab("calc", "standing", tmp_path / name)
        assert got.code == 2 and said in got.err
