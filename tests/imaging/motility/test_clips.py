"""Clips of every kind: true times, upright, and one clear line for what is none."""

import numpy as np
import pytest
import tifffile
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.imaging.motility.clips import open_clip
from fecallab.imaging.motility.film import write_video


@pytest.fixture
def frames():
    """A bright square that moves by 3 pixels a frame over grey."""
    made = np.full((12, 48, 64), 120, np.uint8)
    for k, one in enumerate(made):
        one[10:18, 4 + 3 * k : 12 + 3 * k] = 250
    return made


def square(pixels):
    rows, columns = np.nonzero(pixels > 200)
    return columns.mean(), rows.mean()


@pytest.mark.parametrize("ending", ["mp4", "mov", "avi"])
def test_videos_play_with_their_times(tmp_path, frames, ending):
    write_video(tmp_path / f"a.{ending}", zip(np.arange(12) / 20, frames, strict=True), 20)
    clip = open_clip(tmp_path / f"a.{ending}")
    read = list(clip.frames())
    assert (clip.width_px, clip.height_px, len(read)) == (64, 48, 12)
    assert [time for time, _ in read] == pytest.approx(np.arange(12) / 20, abs=0.003)
    assert square(read[5][1]) == pytest.approx(square(frames[5]), abs=0.5)
    assert next(clip.frames(colour=True))[1].shape == (48, 64, 3)


def test_a_rate_that_changes_is_read_from_the_time_stamps(tmp_path, frames):
    times = np.cumsum([0.0, *np.tile([0.02, 0.05], 6)[:11]])
    write_video(tmp_path / "phone.mp4", zip(times, frames, strict=True), 28)
    assert [time for time, _ in open_clip(tmp_path / "phone.mp4").frames()] == pytest.approx(times, abs=0.001)


def test_a_given_rate_goes_before_the_time_stamps(tmp_path, frames):
    write_video(tmp_path / "slow.mp4", zip(np.arange(12) / 30, frames, strict=True), 30)
    assert [time for time, _ in open_clip(tmp_path / "slow.mp4", 120).frames()][-1] == pytest.approx(11 / 120)


def test_a_turned_clip_is_read_upright(tmp_path, frames):
    import av

    with av.open(str(tmp_path / "turned.mov"), "w") as out:
        stream = out.add_stream("libx264" if "libx264" in av.codecs_available else "mpeg4", rate=20)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        if hasattr(stream, "set_display_rotation"):
            stream.set_display_rotation(90)
        else:
            pytest.skip("this PyAV cannot write a rotation")
        for one in frames:
            out.mux(stream.encode(av.VideoFrame.from_ndarray(one, format="gray")))
        out.mux(stream.encode())
    clip = open_clip(tmp_path / "turned.mov")
    first = next(clip.frames())[1]
    assert (clip.width_px, clip.height_px) == (48, 64)
    x, y = square(frames[0])
    assert square(first) in (pytest.approx((y, 63 - x), abs=1), pytest.approx((47 - y, x), abs=1))


def test_stacks_and_folders_need_a_rate_unless_they_state_one(tmp_path, frames):
    tifffile.imwrite(tmp_path / "plain.tif", frames, photometric="minisblack")
    with pytest.raises(BadInput) as said:
        open_clip(tmp_path / "plain.tif")
    assert said.value.reason.code == "clip-no-times" and "--fps" in said.value.reason.next
    tifffile.imwrite(tmp_path / "stated.tif", frames, imagej=True, metadata={"finterval": 0.1, "axes": "TYX"})
    assert [time for time, _ in open_clip(tmp_path / "stated.tif").frames()][3] == pytest.approx(0.3)
    (tmp_path / "pictures").mkdir()
    for k, one in enumerate(frames):
        Image.fromarray(one).save(tmp_path / "pictures" / f"f{k}.png")
    read = list(open_clip(tmp_path / "pictures", 10).frames())
    assert len(read) == 12  # f2 comes before f10
    assert all(np.array_equal(pixels, frames[k]) for k, (_, pixels) in enumerate(read))


@pytest.mark.parametrize("how", ["tiff_lzw", "tiff_adobe_deflate", "packbits"])
def test_stacks_are_read_however_they_are_packed(tmp_path, frames, how):
    pages = [Image.fromarray(one) for one in frames]
    pages[0].save(tmp_path / "packed.tif", save_all=True, append_images=pages[1:], compression=how)
    read = [pixels for _, pixels in open_clip(tmp_path / "packed.tif", 10).frames()]
    np.testing.assert_array_equal(read, frames)


def test_a_folder_says_how_many_pictures_it_holds(tmp_path, frames):
    for text in ("no picture", "1 picture;"):
        with pytest.raises(BadInput, match=text):
            open_clip(tmp_path, 10)
        Image.fromarray(frames[0]).save(tmp_path / "f0.png")


def test_a_clip_that_ends_in_damage_gives_its_whole_part(tmp_path, frames):
    big = np.random.default_rng(0).integers(0, 255, (40, 120, 160), dtype=np.uint8)
    write_video(tmp_path / "whole.avi", zip(np.arange(40) / 20, big, strict=True), 20)
    data = (tmp_path / "whole.avi").read_bytes()
    (tmp_path / "cut.avi").write_bytes(data[: len(data) // 2])
    clip = open_clip(tmp_path / "cut.avi")
    assert 3 < len(list(clip.frames())) < 40
    assert clip.cut_short


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("empty.mp4", b"", "clip-empty"),
        ("words.mp4", b"not a film at all, only words" * 9, "clip-unknown"),
        ("head.mp4", b"\0\0\0\x18ftypisom\0\0\2\0isomiso2" + b"\0" * 400, "clip-damaged"),
        ("missing.mp4", None, "picture-missing"),
    ],
)
def test_what_is_no_clip_is_said_in_one_line(tmp_path, name, content, code):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(BadInput) as said:
        open_clip(tmp_path / name)
    assert said.value.reason.code == code
    assert "\n" not in str(said.value) and len(str(said.value)) < 200


def test_a_truncated_mp4_is_said_in_one_line(tmp_path, frames):
    write_video(tmp_path / "a.mp4", zip(np.arange(12) / 20, frames, strict=True), 20)
    data = (tmp_path / "a.mp4").read_bytes()
    (tmp_path / "cut.mp4").write_bytes(data[: len(data) // 2])
    with pytest.raises(BadInput) as said:
        open_clip(tmp_path / "cut.mp4")
    assert said.value.reason.code == "clip-damaged"


def test_a_still_picture_is_no_clip(tmp_path, frames):
    Image.fromarray(frames[0]).save(tmp_path / "still.png")
    tifffile.imwrite(tmp_path / "still.tif", frames[0])
    for name in ("still.png", "still.tif"):
        with pytest.raises(BadInput) as said:
            open_clip(tmp_path / name, 10)
        assert said.value.reason.code == "clip-is-picture"


def test_a_film_that_must_be_repeatable_is_the_same_each_time(tmp_path):
    rng = np.random.default_rng(0)
    frames = rng.normal(150, 3, (40, 240, 320)).astype(np.uint8)
    for name in ("a.mp4", "b.mp4", "c.mp4"):
        write_video(
            tmp_path / name, zip(np.arange(40) / 30, frames, strict=True), 30, crf=26, repeatable=True
        )
    films = {(tmp_path / name).read_bytes() for name in ("a.mp4", "b.mp4", "c.mp4")}
    assert len(films) == 1
    [film] = films
    if b"x264 - core" in film:  # which writes into the film how it worked
        assert b" threads=1 " in film
        # looking ahead gives another film now and then, too seldom to be seen here
        assert b" mbtree=0 " in film
