"""A folder of phone pictures becomes fields: order, doubles, strange files, scale, all or nothing."""

from __future__ import annotations

import base64
import io
import os
import re
import sqlite3
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from fecallab.cli.picture_folder import _in_counting_order, look_through
from fecallab.cli.take_in import scale_of
from fecallab.domain.errors import BadInput, CouldNot

DAY = "2025-03-04"
FLOAT = ("--method", "simple_flotation", "--gravity", "1.20", "--gravity-checked", "--standing-minutes", "15")
HOW = (*FLOAT, "--objective", "10")
ORIENTATION, EXIF_IFD, TAKEN, GPS = 274, 34665, 36867, 34853


def exif(taken: str = "", *, orientation: int = 1, place: bool = False) -> bytes:
    found = Image.Exif()
    found[ORIENTATION] = orientation
    if taken:
        found.get_ifd(EXIF_IFD)[TAKEN] = taken.replace("-", ":")
    if place:
        found.get_ifd(GPS)[1] = "N"
        found.get_ifd(GPS)[2] = (51.0, 28.0, 40.12)
    return found.tobytes()


def photo(path: Path, seed: int, **more) -> Path:
    """A small picture that differs from every other one."""
    pixels = np.random.default_rng(seed).integers(0, 255, (48, 64, 3), dtype=np.uint8)
    if path.suffix == ".heic":
        import pillow_heif

        pillow_heif.register_heif_opener()
    Image.fromarray(pixels).save(path, exif=exif(**more))
    return path


@pytest.fixture
def phone(tmp_path) -> Path:
    """What a phone hands over: pictures out of order, one twice, and files that are none."""
    folder = tmp_path / "from the phone"
    folder.mkdir()
    photo(folder / "IMG_10.jpg", 1, taken=f"{DAY} 08:50:20", orientation=6, place=True)
    photo(folder / "IMG_9.jpg", 2, taken=f"{DAY} 08:50:40")
    photo(folder / "IMG_8.heic", 3, taken=f"{DAY} 08:50:10", place=True)
    (folder / "IMG_10 (1).jpg").write_bytes((folder / "IMG_10.jpg").read_bytes())
    (folder / "notes.txt").write_text("four fields", encoding="utf-8")
    (folder / ".DS_Store").write_bytes(b"\0\0\0\1Bud1")
    (folder / "IMG_9.mov").write_bytes(b"\0\0\0\x14ftypqt  " + b"\0" * 40)
    (folder / "edited").mkdir()
    return folder


@pytest.fixture
def sample(do, stool) -> str:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    return stool("Saffron", DAY)


def nothing_recorded(folder: Path) -> bool:
    with sqlite3.connect(folder / "records.sqlite") as database:
        rows = sum(
            database.execute(f"select count(*) from {t}").fetchone()[0]
            for t in ("exams", "readings", "pictures")
        )
    database.close()
    return rows == 0 and not [p for p in (folder / "pictures").rglob("*") if p.is_file()]


def test_pictures_become_fields_in_the_order_in_which_they_were_taken(do, sample, phone):
    made = do("exam", "take-in", phone, "--sample", sample, *HOW, "--um-per-px", "0,65")
    readings = made["exam"]["preparations"][0]["readings"]
    assert [field["file"] for field in made["fields"]] == ["IMG_8.heic", "IMG_10 (1).jpg", "IMG_9.jpg"]
    assert [r["picture"] for r in readings] == [field["sha256"] for field in made["fields"]]
    assert {(r["kind"], r["objective"], r["um_per_px"]) for r in readings} == {("field", 10.0, 0.65)}
    assert {field["taken_at_from"] for field in made["fields"]} == {"camera"}
    assert made["exam"]["preparations"][0]["read_at"] == f"{DAY}T08:50:40"


def test_doubles_and_strange_files_are_named_in_one_line_each(say, sample, phone):
    told = say("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later").splitlines()
    assert "left out: IMG_10.jpg, the same picture as IMG_10 (1).jpg" in told
    assert "passed over: notes.txt, no picture" in told
    assert "passed over: .DS_Store, no picture" in told
    assert "passed over: edited, a folder" in told
    assert "passed over: IMG_9.mov, a clip: fecallab image motility reads it" in told


def test_rotation_is_right_and_said(do, say, sample, phone):
    told = say("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later", "--dry-run")
    assert "48 × 64 px, turned upright" in told and "64 × 48 px" in told
    made = do("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later")
    assert [(f["width_px"], f["height_px"]) for f in made["fields"]] == [(64, 48), (48, 64), (64, 48)]


def test_a_dry_run_says_the_same_and_does_nothing(do, folder, sample, phone):
    words = ("exam", "take-in", phone, "--sample", sample, *HOW, "--um-per-px", "0.65")
    dry = do(*words, "--dry-run")
    assert dry["dry_run"] is True and nothing_recorded(folder)
    done = do(*words)
    assert done["dry_run"] is False
    for key in ("fields", "left_out", "passed_over"):
        assert dry[key] == done[key]


def test_the_folder_itself_is_only_read(do, sample, phone):
    before = {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in phone.iterdir() if p.is_file()}
    do("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later")
    assert {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in phone.iterdir() if p.is_file()} == before


def test_the_same_folder_a_second_time_brings_only_what_is_new(do, fecallab, sample, phone):
    made = do("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later")
    code = made["exam"]["preparations"][0]["code"]
    again = fecallab("exam", "take-in", phone, "--preparation", code, "--objective", "10", "--scale-later")
    assert again.code == 2 and "4 are in the records already" in again.err
    photo(phone / "IMG_11.jpg", 4, taken=f"{DAY} 08:55:00")
    more = do("exam", "take-in", phone, "--preparation", code, "--objective", "10", "--scale-later")
    assert [field["file"] for field in more["fields"]] == ["IMG_11.jpg"]
    assert len(more["left_out"]) == 4
    assert len(more["exam"]["preparations"][0]["readings"]) == 4


def test_without_a_camera_time_the_time_of_the_file_is_used_and_said(say, sample, tmp_path):
    folder = tmp_path / "sent"
    folder.mkdir()
    for name, seed, hour in (("b.jpg", 1, 9), ("a.jpg", 2, 11), ("c.jpg", 3, 10)):
        when = datetime(2025, 3, 4, hour).timestamp()
        os.utime(photo(folder / name, seed), (when, when))
    told = say("exam", "take-in", folder, "--sample", sample, *HOW, "--scale-later", "--dry-run").splitlines()
    assert [line.split(":")[1].split(",")[0].strip() for line in told[:3]] == ["b.jpg", "c.jpg", "a.jpg"]
    assert all("(time of the file)" in line for line in told[:3])


def test_pictures_of_one_second_keep_their_counting_order(tmp_path):
    for number in (10, 9, 11):
        photo(tmp_path / f"IMG_{number}.jpg", number, taken=f"{DAY} 08:50:00")
    found = look_through(tmp_path, {}).pictures
    assert [one.path.name for one in found] == ["IMG_9.jpg", "IMG_10.jpg", "IMG_11.jpg"]


@given(st.lists(st.text(alphabet="ab19²٣_ .", max_size=8), unique=True, max_size=8))
def test_names_have_one_order_however_the_disk_lists_them(names):
    one, other = (sorted(listed, key=_in_counting_order) for listed in (names, names[::-1]))
    assert [_in_counting_order(name) for name in one] == [_in_counting_order(name) for name in other]


def test_a_camera_whose_clock_is_ahead_is_not_believed_for_the_time_of_reading(do, sample, tmp_path):
    folder = tmp_path / "ahead"
    folder.mkdir()
    photo(folder / "a.jpg", 1, taken="2099-01-01 08:00:00")
    made = do("exam", "take-in", folder, "--sample", sample, *HOW, "--scale-later")
    read_at = datetime.fromisoformat(made["exam"]["preparations"][0]["read_at"])
    assert read_at.year < 2099


def test_a_damaged_picture_stops_everything_and_all_are_named(fecallab, folder, sample, phone):
    for name in ("IMG_20.jpg", "IMG_21.jpg"):
        whole = photo(phone / name, 7, taken=f"{DAY} 08:51:00").read_bytes()
        (phone / name).write_bytes(whole[: len(whole) // 2])
    said = fecallab("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later")
    assert said.code == 2 and "IMG_20.jpg" in said.err and "IMG_21.jpg" in said.err
    assert nothing_recorded(folder)


def test_a_full_disk_in_the_middle_leaves_nothing(fecallab, folder, sample, phone, monkeypatch):
    from fecallab.records.writer import Writer

    real, placed = Writer.add_picture, []

    def full(self, path, info):
        if len(placed) == 2:
            raise CouldNot("The disk is full.", next="Free some space.")
        placed.append(real(self, path, info))
        return placed[-1]

    monkeypatch.setattr(Writer, "add_picture", full)
    said = fecallab("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later")
    assert said.code == 3 and len(placed) == 2 and nothing_recorded(folder)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((*HOW, "--scale-later"), "sample-missing"),
        (("--sample", "S1", "--preparation", "E1-1", *HOW), "sample-missing"),
        (("--sample", "S1", *FLOAT, "--scale-later"), "objective-missing"),
        (("--sample", "S1", "--objective", "10", "--scale-later"), "method-missing"),
        (("--sample", "S1", *HOW), "scale-missing"),
        (("--sample", "S1", *HOW, "--scale-later", "--um-per-px", "0.5"), "scale-twice"),
        (("--sample", "S1", *HOW, "--um-per-px", "0"), "out-of-range"),
        (("--sample", "S9", *HOW, "--scale-later"), "unknown-sample"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_recorded(fecallab, folder, sample, phone, words, code):
    said = fecallab("exam", "take-in", phone, *words, "--json")
    assert (said.code, said.error["code"]) == (2, code)
    assert nothing_recorded(folder)


@pytest.mark.parametrize("what", ["missing", "a file", "empty", "only strange files"])
def test_a_folder_without_pictures_is_refused(fecallab, sample, tmp_path, what):
    place = tmp_path / "place"
    if what == "a file":
        photo(tmp_path / "place.jpg", 1).rename(place)
    elif what != "missing":
        place.mkdir()
        if what != "empty":
            (place / "notes.txt").write_text("x", encoding="utf-8")
    said = fecallab("exam", "take-in", place, "--sample", sample, *HOW, "--scale-later", "--json")
    assert said.code == 2 and said.error["code"] in ("no-folder", "no-pictures")


def test_pictures_from_before_the_stool_are_refused(fecallab, folder, sample, tmp_path):
    place = tmp_path / "old"
    place.mkdir()
    photo(place / "a.jpg", 1, taken="2025-03-03 08:00:00")
    said = fecallab("exam", "take-in", place, "--sample", sample, *HOW, "--scale-later", "--json")
    assert said.error["code"] == "exam-before-sample" and nothing_recorded(folder)


def test_the_scale_is_asked_per_picture_where_the_phone_was_held_by_hand(
    fecallab, do, sample, phone, monkeypatch
):
    monkeypatch.setenv("FECALLAB_ASK", "1")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n0,65\nc\nc 2000\n\n"))
    words = ("exam", "take-in", phone, "--sample", sample, *HOW, "--field-number", "20")
    said = fecallab(*words)
    assert said.code == 0, said.err
    assert said.err.index("IMG_8.heic:") < said.err.index("IMG_10 (1).jpg:") < said.err.index("IMG_9.jpg:")
    assert "1 without a scale" in said.out
    readings = do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]
    assert [r["um_per_px"] for r in readings] == [0.65, 1.0, None]  # 20 mm / 10x is 2 mm over 2000 px


def test_one_answer_is_the_scale_of_all_where_the_phone_sat_on_an_adapter(
    fecallab, do, sample, phone, monkeypatch
):
    monkeypatch.setenv("FECALLAB_ASK", "1")
    monkeypatch.setattr("sys.stdin", io.StringIO("n\n0.5\n"))
    assert fecallab("exam", "take-in", phone, "--sample", sample, *HOW).code == 0
    readings = do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]
    assert {r["um_per_px"] for r in readings} == {0.5}


def test_a_scale_from_the_lit_circle_needs_the_eyepiece():
    assert scale_of("c2000", 40, 20) == 0.25
    with pytest.raises(BadInput, match="field number"):
        scale_of("c 2000", 40, None)


def test_what_is_not_marked_is_said_to_read_as_nothing_and_a_later_scale_says_how(say, do, sample, phone):
    told = say("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later")
    assert "3 of them carry no mark and read as a field with nothing in it" in told
    line = next(line.strip() for line in told.splitlines() if "fecallab correct" in line)
    words = re.findall(r'"[^"]*"|\S+', line)[1:]
    do(*(word.strip('"') for word in words))
    assert do("exam", "show", "E1")["exam"]["preparations"][0]["readings"][0]["um_per_px"] == 0.65


def test_unmarked_pictures_alone_never_make_a_negative(do, sample, phone):
    do("exam", "take-in", phone, "--sample", sample, *HOW, "--um-per-px", "0.65")
    (judged,) = do("exam", "show", "E1", "--target", "oxyurid")["judged"]
    assert judged["result"] == "inconclusive"


def test_marks_come_along_and_open_a_case(do, sample, phone, tmp_path):
    marks = tmp_path / "marks.csv"
    marks.write_text("picture,name,x_px,y_px\nIMG_9.jpg,oxyurid,10,12\n", encoding="utf-8")
    made = do("exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later", "--marks", marks)
    assert made["cases_opened"] == ["C1"] and made["exam"]["counts"] == {"oxyurid": 1}
    assert [len(r["marks"]) for r in made["exam"]["preparations"][0]["readings"]] == [0, 0, 1]


def test_a_mark_outside_its_picture_leaves_nothing(fecallab, folder, sample, phone, tmp_path):
    marks = tmp_path / "marks.csv"
    marks.write_text("picture,name,x_px,y_px\nIMG_9.jpg,oxyurid,1000,12\n", encoding="utf-8")
    said = fecallab(
        "exam", "take-in", phone, "--sample", sample, *HOW, "--scale-later", "--marks", marks, "--json"
    )
    assert said.error["code"] == "mark-outside" and nothing_recorded(folder)


def test_the_place_stays_in_the_records_and_leaves_with_no_page(do, say, folder, sample, phone, tmp_path):
    made = do("exam", "take-in", phone, "--sample", sample, *HOW, "--um-per-px", "0.65")
    kept = [p.read_bytes() for p in (folder / "pictures").rglob("*.jpg")]
    originals = {p.read_bytes() for p in phone.glob("*.jpg")}
    assert kept and set(kept) <= originals  # untouched
    say("report", "exam", made["exam"]["code"], "--to", tmp_path / "reports")
    page = next((tmp_path / "reports").glob("*.html")).read_text(encoding="utf-8")
    pictures = [
        base64.b64decode(data) for data in re.findall(r"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", page)
    ]
    assert len(pictures) >= 3
    for data in pictures:
        with Image.open(io.BytesIO(data)) as image:
            assert not image.getexif() and b"Exif" not in data
