"""Pictures that come in: any kind, each once, and from a watched folder only when they are whole."""

from __future__ import annotations

import struct
import time
import zlib
from pathlib import Path

import numpy as np
import pytest
from napari_fecallab.watching import WatchedFolder
from PIL import Image

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.records.check import check
from fecallab.records.store import open_records


def _clip(path: Path) -> bytes:
    import av

    with av.open(str(path), "w", format="mp4") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 32, 24, "yuv420p"
        for grey in range(8):
            frame = av.VideoFrame.from_ndarray(np.full((24, 32, 3), 20 * grey, np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path.read_bytes()


def _float_tiff(path: Path) -> None:
    import tifffile

    tifffile.imwrite(path, np.linspace(0, 1, 48, dtype=np.float32).reshape(6, 8))


def _pages(path: Path) -> None:
    import tifffile

    tifffile.imwrite(path, np.zeros((3, 6, 8), np.uint8), photometric="minisblack")


def _turned(path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("RGB", (8, 6), "white").save(path, exif=exif)


KINDS = {
    "16-bit grey": ("a.png", lambda p: Image.fromarray(np.full((6, 8), 40_000, np.uint16)).save(p), (8, 6)),
    "float": ("a.tif", _float_tiff, (8, 6)),
    "transparent": ("a.png", lambda p: Image.new("RGBA", (8, 6), (1, 2, 3, 4)).save(p), (8, 6)),
    "CMYK": ("a.jpg", lambda p: Image.new("CMYK", (8, 6)).save(p), (8, 6)),
    "palette": ("a.png", lambda p: Image.new("P", (8, 6)).save(p), (8, 6)),
    "one bit": ("a.png", lambda p: Image.new("1", (8, 6)).save(p), (8, 6)),
    "turned by EXIF": ("a.jpg", _turned, (6, 8)),
    "many pages": ("a.tif", _pages, (8, 6)),
    "one pixel": ("a.png", lambda p: Image.new("L", (1, 1)).save(p), (1, 1)),
    "all black": ("a.png", lambda p: Image.new("RGB", (320, 240)).save(p), (320, 240)),
    "named as another kind": ("a.jpg", lambda p: Image.new("RGB", (8, 6)).save(p, "PNG"), (8, 6)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_any_kind_of_picture_becomes_a_field_that_can_be_marked(session, tmp_path, kind):
    name, make, size = KINDS[kind]
    make(tmp_path / name)
    outcome = session.add_pictures([tmp_path / name])
    assert outcome.words == f"{name} taken in" and len(outcome.uids) == 1
    view = session.go_to(outcome.uids[0])
    assert (view.width_px, view.height_px) == size and view.picture_name == name
    pixels = session.pixels()
    assert pixels.shape[:2] == size[::-1] and pixels.dtype in (np.uint8, np.uint16)
    facts = session.picture_facts()
    assert facts is not None and facts.verdict in ("good", "usable", "take it again")
    assert session.add_mark("oxyurid", 0, 0).told == ()
    told = " ".join(outcome.told)
    assert ("first one" in told) is (kind == "many pages") and ("upright" in told) is (
        kind == "turned by EXIF"
    )


def test_an_all_black_picture_is_told_to_be_taken_again(session, tmp_path):
    Image.new("RGB", (320, 240)).save(tmp_path / "dark.png")
    session.go_to(session.add_pictures([tmp_path / "dark.png"]).uids[0])
    facts = session.picture_facts()
    assert facts.verdict == "take it again" and facts.lines and all("\n" not in line for line in facts.lines)


def test_what_is_no_picture_is_one_clear_line_each_and_the_rest_comes_in(session, tmp_path, picture):
    good = picture("good.png")
    (tmp_path / "notes.txt").write_text("nothing")
    (tmp_path / "empty.jpg").touch()
    (tmp_path / "cut.png").write_bytes(good.read_bytes()[:60])
    size = b"IHDR" + struct.pack(">IIBBBBB", 40_000, 40_000, 1, 0, 0, 0, 0)
    head = struct.pack(">I", 13) + size + struct.pack(">I", zlib.crc32(size))
    (tmp_path / "huge.png").write_bytes(b"\x89PNG\r\n\x1a\n" + head)
    names = ["notes.txt", "empty.jpg", "cut.png", "huge.png", "missing.png", "good.png"]
    outcome = session.add_pictures([tmp_path / name for name in names] + [tmp_path])
    assert len(outcome.uids) == 1 and outcome.words == "good.png taken in"
    assert len(outcome.told) == 6 and all("\n" not in line for line in outcome.told)
    for name, line in zip(names[:5], outcome.told, strict=False):
        assert name in line
    assert session.undo() and [view.uid for view in session.fields()] == ["E1-1-1", "E1-1-2"]


def test_nothing_that_can_come_in_is_no_step(session, tmp_path):
    outcome = session.add_pictures([tmp_path / "missing.png"])
    assert outcome.uids == () and outcome.words == "nothing was taken in" and session.undo_words == ""


def test_the_same_bytes_come_in_once_whatever_they_are_called(session, picture, tmp_path, folder):
    one = picture("one.png")
    again = tmp_path / "again.png"
    again.write_bytes(one.read_bytes())
    outcome = session.add_pictures([one, again])
    assert len(outcome.uids) == 1 and "again.png is among those that come in now already" in outcome.told[0]
    assert "is the picture of field 3 already" in session.add_pictures([again]).told[0]
    session.undo()
    assert session.add_pictures([again]).uids  # taken back, so it may come again
    with open_records(folder) as store:
        assert len(store.pictures()) == 1
    assert check(folder).problems == ()


def test_a_picture_of_another_exam_is_named_and_left_out(session, picture, folder, opened):
    from fecallab.domain.exam import Exam

    from .conftest import FLOAT, KEEPER, MORNING

    path = picture("one.png")
    session.add_pictures([path], "E1-1")
    session.nothing_here("f1")
    session.finish()
    with open_records(folder) as store, store.write(by=KEEPER, now=MORNING) as writer:
        writer.add(Exam(sample="S1", examined_at=MORNING, by=KEEPER, preparations=(FLOAT,)))
    other = opened("E2")
    assert "one.png is the picture of E1-1-3 already" in other.add_pictures([path]).told[0]


def test_a_picture_is_safe_in_the_records_as_soon_as_it_came_in(session, picture, folder, opened):
    path = picture("card.png")
    session.add_pictures([path])
    path.unlink()
    session.close()
    again = opened()
    assert again.pixels("f1").shape == (60, 80, 3) and again.picture_path("f1").is_file()


def test_a_clip_has_a_field_of_its_own_and_is_kept(session, tmp_path, folder, opened):
    content = _clip(tmp_path / "swimming.jpg")  # a clip by its content, whatever its name
    outcome = session.add_pictures([tmp_path / "swimming.jpg"], "E1-2")
    assert "is a clip" in outcome.told[0]
    view = session.go_to(outcome.uids[0])
    assert (view.clip_name, view.picture, view.state) == ("swimming.jpg", "", "looked at, nothing said yet")
    assert session.clip_path().read_bytes() == content and session.pixels() is None
    assert (view.width_px, view.height_px) == (32, 24)
    assert "already" in session.add_pictures([tmp_path / "swimming.jpg"]).told[0]
    session.add_mark("flagellate", 3, 3)
    session.set_objective(40)
    session.finish()
    with open_records(folder) as store:
        (reading,) = store.exam("E1").preparations[1].readings
    assert reading.remark.startswith("clip swimming.jpg (") and len(reading.marks) == 1
    assert session.field(reading.code).clip_name == "swimming.jpg", (
        "it is there when the exam is opened again"
    )
    assert session.clip_path(reading.code).read_bytes() == content and not session.field(reading.code).changed
    assert not check(folder).problems


def _numbered(folder: Path, count: int = 3, size: tuple[int, int] = (32, 24)) -> Path:
    folder.mkdir()
    for k in range(count):
        Image.new("RGB", size, (k, 2, 3)).save(folder / f"frame{k + 8}.png")
    return folder


def test_a_folder_of_pictures_is_a_clip_as_one_file_without_loss(session, tmp_path, folder, opened):
    import tifffile

    there = _numbered(tmp_path / "swimming")
    outcome = session.add_clip(there, 20, "E1-2")
    assert outcome.words == "swimming.tif taken in" and len(outcome.uids) == 1
    session.go_to(outcome.uids[0])
    view = session.field()
    assert (view.clip_name, view.width_px, view.height_px) == ("swimming.tif", 32, 24)
    assert session.clip_rate() == 20
    frames = tifffile.imread(session.clip_path())
    assert frames.shape == (3, 24, 32, 3) and [int(one[0, 0, 0]) for one in frames] == [0, 1, 2]
    assert "already" in session.add_clip(there, 30).told[0]
    session.add_mark("flagellate", 3, 3)
    session.set_objective(40)
    session.finish()
    with open_records(folder) as store:
        (reading,) = store.exam("E1").preparations[1].readings
    assert reading.remark.startswith("clip swimming.tif (") and reading.remark.endswith(
        "20 frames per second"
    )
    assert session.clip_rate(reading.code) == 20 and not session.field(reading.code).changed
    assert not check(folder).problems


def test_a_tiff_stack_that_tells_its_times_is_a_clip_and_another_one_asks_for_them(session, tmp_path):
    import tifffile

    frames = np.arange(3 * 24 * 32, dtype=np.uint16).reshape(3, 24, 32)
    tifffile.imwrite(tmp_path / "timed.tif", frames, imagej=True, metadata={"axes": "TYX", "finterval": 0.05})
    tifffile.imwrite(tmp_path / "plain.tif", frames, photometric="minisblack")
    (uid,) = session.add_pictures([tmp_path / "timed.tif"]).uids
    assert session.field(uid).clip_name == "timed.tif" and session.clip_rate(uid) is None
    with pytest.raises(BadInput, match="holds no times"):
        session.add_clip(tmp_path / "plain.tif")
    assert "Add a clip" in session.add_pictures([tmp_path / "plain.tif"]).told[0], "it may be depths of focus"
    session.undo()
    (uid,) = session.add_clip(tmp_path / "plain.tif", 12.5).uids
    assert session.field(uid).clip_name == "plain.tif" and session.clip_rate(uid) == 12.5
    assert session.clip_path(uid).read_bytes() == (tmp_path / "plain.tif").read_bytes()


def test_a_folder_that_is_no_clip_is_one_line_and_no_field(session, tmp_path, folder):
    wrong = _numbered(tmp_path / "sizes")
    Image.new("RGB", (16, 24)).save(wrong / "frame9.png")
    cut = _numbered(tmp_path / "cut")
    (cut / "frame10.png").write_bytes((cut / "frame10.png").read_bytes()[:50])
    cases = (
        (wrong, 20, "frame9.png"),
        (cut, 20, "frame10.png"),
        (_numbered(tmp_path / "single", 1), 20, "single"),
        (_numbered(tmp_path / "timeless"), None, "holds no times"),
        (tmp_path / "nowhere", 20, "nowhere"),
    )
    before = [view.uid for view in session.fields()]
    for path, fps, says in cases:
        with pytest.raises(BadInput, match=says) as told:
            session.add_clip(path, fps)
        assert "\n" not in str(told.value)
    assert [view.uid for view in session.fields()] == before and session.undo_words == ""
    with open_records(folder) as store:
        assert not store.pictures()


def test_a_clip_that_cannot_be_played_is_one_line_and_no_field(session, tmp_path):
    whole = _clip(tmp_path / "whole.mp4")
    for name, content in (
        ("cut.mp4", whole[: len(whole) // 2]),
        ("none.mp4", b"\0\0\0\x18ftypisom" + b"\0" * 90),
    ):
        (tmp_path / name).write_bytes(content)
        outcome = session.add_pictures([tmp_path / name])
        assert outcome.uids == () and name in outcome.told[0] and "\n" not in outcome.told[0]


def test_a_new_field_takes_after_the_field_before_it(session, picture):
    session.go_to("E1-1-1")
    (uid,) = session.add_pictures([picture("a.png")]).uids
    view = session.field(uid)
    assert (view.preparation, view.objective, view.field_number, view.um_per_px) == ("E1-1", 10, 20, None)
    (uid,) = session.add_pictures([picture("b.png")], "e1-2", 40).uids
    assert (session.field(uid).preparation, session.field(uid).objective) == ("E1-2", 40)
    with pytest.raises(BadInput, match="There are: E1-1, E1-2"):
        session.add_pictures([picture("c.png")], "E1-7")


def test_a_picture_of_a_counting_chamber_is_no_field(folder, opened, picture):
    from fecallab.domain.exam import Preparation

    from .conftest import KEEPER, MORNING

    with open_records(folder) as store, store.write(by=KEEPER, now=MORNING) as writer:
        writer.add_preparation(
            "E1",
            Preparation(method="mcmaster", sample_g=2, suspension_ml=30, counted_ml=0.3, read_at=MORNING),
        )
    session = opened()
    session.go_to(session.add_pictures([picture("a.png")], "E1-3").uids[0])
    session.add_marks([("oxyurid", 1, 1)] * 3)
    assert session.field().kind == "chamber"
    (row,) = [row for row in session.burden_table().rows if row.preparation.startswith("E1-3")]
    assert row.per_gram.startswith("150 (") and row.mean_per_field == ""
    session.finish()  # a chamber needs no objective
    with open_records(folder) as store:
        assert store.exam("E1").preparations[2].readings[0].kind == "chamber"


# The watched folder


def _wait(session, seconds: float = 6.0):
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        outcome = session.take_watched()
        if outcome is not None:
            return outcome
        time.sleep(0.05)
    return None


@pytest.fixture
def camera(session, tmp_path, picture):
    """A watched folder with an old picture in it."""
    there = tmp_path / "camera"
    there.mkdir()
    picture("old.png").rename(there / "old.png")
    session.watch(there)
    time.sleep(0.3)
    return there


def test_a_picture_that_the_camera_saves_becomes_a_field_and_old_ones_do_not(session, camera, picture):
    new = picture("new.png")
    (camera / "new.png").write_bytes(new.read_bytes())
    outcome = _wait(session)
    assert outcome is not None and outcome.words == "new.png taken in" and outcome.told == ()
    assert session.take_watched() is None and session.watching == str(camera)


def test_a_half_written_picture_is_waited_for(session, camera, picture):
    whole = picture("slow.png", (400, 300)).read_bytes()
    with (camera / "slow.png").open("wb") as file:
        file.write(whole[:200])
        file.flush()
        assert _wait(session, 1.6) is None  # calm for longer than it must be, but not whole
        file.write(whole[200:])
    outcome = _wait(session)
    assert outcome is not None and outcome.words == "slow.png taken in"


def test_what_is_no_picture_is_told_once_and_watching_goes_on(session, camera, picture):
    (camera / "log.txt").write_text("started")
    outcome = _wait(session)
    assert (
        outcome is not None and outcome.uids == () and len(outcome.told) == 1 and "log.txt" in outcome.told[0]
    )
    assert _wait(session, 1.0) is None
    (camera / "double.png").write_bytes((camera / "old.png").read_bytes())
    assert _wait(session).uids


def test_stopped_watching_takes_nothing_in(session, camera, picture):
    session.stop_watching()
    (camera / "late.png").write_bytes(picture("late.png").read_bytes())
    assert _wait(session, 1.2) is None and session.watching == ""


def test_a_folder_that_cannot_be_watched_says_so(session, tmp_path, folder):
    for wrong in (tmp_path / "none", folder, folder / "pictures"):
        with pytest.raises(BadInput) as told:
            session.watch(wrong)
        assert "\n" not in str(told.value)


def test_without_the_watching_package_one_line_says_what_to_type(tmp_path, folder, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "watchfiles", None)
    with pytest.raises(CouldNot, match="pip install watchfiles"):
        WatchedFolder(tmp_path, folder, lambda: None)
