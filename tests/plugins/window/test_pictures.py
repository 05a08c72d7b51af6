"""Pictures and clips of every kind: a usable picture, or one clear line; never a traceback."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from napari_fecallab import reader
from napari_fecallab.reader_clips import ClipFrames
from napari_fecallab.reader_pictures import canvas_picture, read_steps
from PIL import Image

from fecallab.domain.errors import BadInput, FecallabError

ROOT = Path(__file__).parents[3]


def grey_ramp(rows=60, columns=90):
    return (np.arange(rows * columns).reshape(rows, columns) % 256).astype(np.uint8)


def save(path, pixels, **options):
    Image.fromarray(pixels).save(path, **options)
    return path


def sideways(folder):
    exif = Image.Exif()
    exif[274] = 6
    image = Image.fromarray(np.repeat(grey_ramp()[..., None], 3, axis=2))
    image.save(folder / "turned.jpg", exif=exif)
    return folder / "turned.jpg", (90, 60, 3)


def cmyk(folder):
    Image.new("CMYK", (90, 60), (10, 20, 30, 0)).save(folder / "ink.jpg")
    return folder / "ink.jpg", (60, 90, 3)


def rgba(folder):
    return save(folder / "glass.png", np.full((60, 90, 4), 128, np.uint8)), (60, 90, 3)


def palette(folder):
    Image.fromarray(grey_ramp()).convert("P").save(folder / "few.png")
    return folder / "few.png", (60, 90, 3)


def sixteen(folder):
    return save(folder / "deep.png", grey_ramp().astype(np.uint16) * 16), (60, 90)


def floating(folder):
    tifffile.imwrite(folder / "float.tif", grey_ramp().astype(np.float32) / 255)
    return folder / "float.tif", (60, 90)


def pages(folder):
    tifffile.imwrite(folder / "pages.tif", np.stack([grey_ramp()] * 3), photometric="minisblack")
    return folder / "pages.tif", (60, 90)


def single(folder):
    return save(folder / "one.png", np.full((1, 1), 200, np.uint8)), (1, 1)


def black(folder):
    return save(folder / "black.png", np.zeros((60, 90), np.uint8)), (60, 90)


KINDS = [sideways, cmyk, rgba, palette, sixteen, floating, pages, single, black]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_kind_of_picture_is_shown_upright(kind, tmp_path):
    path, shape = kind(tmp_path)
    picture = canvas_picture(path)
    assert picture.levels[0].shape == shape and picture.rgb == (len(shape) == 3)
    assert picture.levels[0].dtype in (np.uint8, np.uint16) and picture.white >= picture.levels[0].max()
    words = " ".join(picture.remarks)
    assert ("holds 3 pictures" in words) == (kind is pages)
    assert ("black" in words) == (kind is black)
    assert ("1 × 1" in words) == (kind is single)


def test_an_exam_of_odd_pictures_opens_field_after_field(open_control, make_exam, tmp_path):
    paths = [kind(tmp_path)[0] for kind in KINDS]
    control = open_control(make_exam(pictures=paths))
    for number, path in enumerate(paths):
        assert control.session.field().number == number + 1
        assert "picture" in control.viewer.layers, path
        control.hold_pointer((0.0, 0.0))
        control.press("1")
        assert len(control.session.marks()) == 1, (path, control.message)
        control.press("Space")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("cut.jpg", None, "damaged"),
        ("empty.png", b"", "empty"),
        ("words.png", b"no picture at all", "not a picture"),
        ("clip.png", b"\0\0\0\x18ftypmp42" + b"\0" * 60, "video"),
    ],
)
def test_what_is_no_picture_is_one_line(tmp_path, name, content, said):
    path = tmp_path / name
    if content is None:
        whole = save(
            tmp_path / "whole.jpg", np.repeat(grey_ramp(200, 300)[..., None], 3, axis=2)
        ).read_bytes()
        content = whole[: len(whole) // 2]
    path.write_bytes(content)
    with pytest.raises(FecallabError, match=said) as caught:
        canvas_picture(path)
    assert "\n" not in str(caught.value)


def test_a_picture_that_went_missing_is_one_line_in_the_panel_and_the_exam_goes_on(open_control, exam):
    first = next(path for path in sorted((exam.folder / "pictures").rglob("*.png")))
    control = open_control()
    for _ in range(3):
        control.press("PageUp")
    first.unlink()
    told = []
    for _ in range(3):
        control.reload()
        told.append(" ".join(control.remarks))
        control.press("Space")
    assert sum(bool(line) for line in told) == 1 and control.session.field().number == 3


def test_200_megapixels_come_in_tiles_and_in_bounded_memory(tmp_path):
    code = """
import resource, sys, numpy as np
from pathlib import Path
sys.path[:0] = sys.argv[1:3]
path = Path(sys.argv[3]) / "large.jpg"
from napari_fecallab.reader_pictures import canvas_picture
picture = canvas_picture(path)
levels = [level.shape for level in picture.levels]
assert levels[0] == (12500, 16000) and max(levels[-1]) <= 1024, levels
assert all(isinstance(level, np.memmap) for level in picture.levels)
assert abs(int(picture.levels[0][9000, 9000]) - 180) < 3 and abs(int(picture.levels[-1][3, 3]) - 180) < 3
status = Path("/proc/self/status")
if status.exists():  # the peak that getrusage gives is at least that of the process that began this one
    print(next(int(line.split()[1]) for line in status.read_text().splitlines() if "VmHWM" in line) / 1024)
else:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""
    Image.new("L", (16000, 12500), 180).save(tmp_path / "large.jpg", quality=50)
    arguments = [str(ROOT), str(ROOT / "plugins"), str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
    )
    assert float(done.stdout) < 1000  # MB at the most; a grey picture alone is 200


def test_reading_a_large_picture_can_be_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr("napari_fecallab.reader_pictures.LARGE_MEGAPIXELS", 0.5)
    path = save(tmp_path / "large.png", np.full((1400, 1000, 3), 90, np.uint8))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    steps = read_steps(path)
    assert next(steps) == (0, 1)
    assert next(steps)[0] == 1
    assert list(tmp_path.glob("fecallab-picture-*"))
    steps.close()
    assert not list(tmp_path.glob("fecallab-picture-*"))
    whole = canvas_picture(path)
    assert [level.shape for level in whole.levels] == [(1400, 1000, 3), (700, 500, 3)]
    assert np.all(whole.levels[1] == 90)


@pytest.mark.parametrize("turned", [1, 3, 6, 8])
def test_a_large_picture_is_upright_like_a_small_one(tmp_path, monkeypatch, turned):
    exif = Image.Exif()
    exif[274] = turned
    path = tmp_path / "turned.png"
    Image.fromarray(grey_ramp(40, 70)).save(path, exif=exif)
    small = canvas_picture(path).levels[0]
    monkeypatch.setattr("napari_fecallab.reader_pictures.LARGE_MEGAPIXELS", 0.001)
    assert np.array_equal(canvas_picture(path).levels[0], small)


@pytest.mark.parametrize(
    "kind", [cmyk, rgba, palette, sixteen, floating, pages], ids=lambda kind: kind.__name__
)
def test_a_large_picture_of_any_kind_is_like_a_small_one_or_one_line(tmp_path, monkeypatch, kind):
    path, _ = kind(tmp_path)
    small = canvas_picture(path).levels[0]
    monkeypatch.setattr("napari_fecallab.reader_pictures.LARGE_MEGAPIXELS", 0.001)
    large = canvas_picture(path).levels[0]
    assert np.array_equal(large, small)


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    av = pytest.importorskip("av", reason="PyAV is not installed: clips are not read")
    path = tmp_path_factory.mktemp("clips") / "swim.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=30)
        stream.width, stream.height, stream.pix_fmt = 96, 64, "yuv420p"
        for number in range(40):
            pixels = np.full((64, 96, 3), 6 * number, np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgb24")))
        container.mux(stream.encode())
    return path


def test_a_clip_is_read_frame_by_frame_in_any_order(clip):
    frames = ClipFrames(clip)
    assert frames.shape == (40, 64, 96, 3) and frames.fps == pytest.approx(30)
    for number in (0, 1, 30, 5, 39, 38, 6):
        assert frames[number].mean() == pytest.approx(6 * number, abs=3)
    lazy = frames.lazily()
    assert lazy.shape == frames.shape and np.asarray(lazy[20, :4, :5]).shape == (4, 5, 3)


def test_a_clip_is_a_field_that_plays_and_takes_marks(open_control, exam, clip):
    control = open_control()
    uid = control.session.add_pictures([clip]).uids[0]
    control.go_to(uid)
    layer = control.viewer.layers["picture"]
    assert layer.data.shape == (40, 64, 96, 3) and control.layers.frames == 40
    control.press("Alt-Right")
    control.press("Alt-Right")
    assert control.viewer.dims.current_step[0] == 2
    control.hold_pointer((10.0, 20.0))
    control.press("1")
    assert [(mark.x_px, mark.y_px) for mark in control.session.marks()] == [(10, 20)]
    assert np.allclose(control.layers.marks.layer.data, [[20, 10]])
    control.go_to(control.session.fields()[0].uid)
    assert control.viewer.dims.ndim == 2 and control.layers.frames == 0


def test_what_is_no_clip_is_one_line(tmp_path):
    path = tmp_path / "broken.mp4"
    path.write_bytes(b"\0\0\0\x18ftypmp42" + b"\1" * 900)
    with pytest.raises(BadInput, match="no clip that can be read"):
        ClipFrames(path)
    with pytest.raises(BadInput, match="no file"):
        ClipFrames(tmp_path / "none.mp4")


def test_the_reader_of_napari_says_in_a_line_what_it_cannot_open(tmp_path, monkeypatch):
    said = []
    monkeypatch.setattr(reader, "_tell", said.append)
    good = save(tmp_path / "good.png", grey_ramp())
    bad = tmp_path / "bad.png"
    bad.write_bytes(b"nothing")
    assert reader.get_reader(str(tmp_path)) is None
    assert reader.get_reader(str(tmp_path / "table.csv")) is None
    layers = reader.get_reader([str(good), str(bad)])([str(good), str(bad)])
    assert len(layers) == 1 and layers[0][2] == "image" and layers[0][0].shape == (60, 90)
    assert reader.get_reader(str(bad))(str(bad)) == [(None,)]
    assert len(said) == 2 and all("\n" not in line for line in said)


def test_a_clip_opened_by_napari_itself_says_how_to_ask_what_swims(clip, monkeypatch):
    said = []
    monkeypatch.setattr(reader, "_say", said.append)
    [(data, options, kind)] = reader.get_reader(str(clip))(str(clip))
    assert (
        data.shape == (40, 64, 96, 3) and kind == "image" and options["metadata"]["fps"] == pytest.approx(30)
    )
    assert len(said) == 1 and "scale" in said[0] and "fecallab mark E1" in said[0] and "T" in said[0]


def test_a_record_folder_is_told_from_others(exam, tmp_path):
    assert reader.get_reader(str(exam.folder)) is reader.read_folder
    assert reader.get_reader(str(tmp_path)) is None
