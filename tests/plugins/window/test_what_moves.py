"""A clip in the window: what moves is worked out on demand, drawn by kind, said in words, and kept by a key."""

from __future__ import annotations

import struct
import threading
import time
from dataclasses import replace

import numpy as np
import pytest
from napari_fecallab import clip_work
from napari_fecallab.clip_work import CalledOff, moving_steps, places_in_stack
from napari_fecallab.dock_clip import SIGNS, clip_page
from napari_fecallab.layers_tracks import NUMBERS, SHAPES, track_layers
from napari_fecallab.reader_clips import KEPT_FRAMES, ClipFrames
from napari_fecallab.views import COUNTED_IN_CLIP, LOOKED_AT, NOTHING_HERE

from fecallab.domain.clip_words import at_once_words, counted_swimmers
from fecallab.imaging.motility import assess_motility, open_clip
from fecallab.imaging.motility.drawn import ClipSpec, draw_clip
from fecallab.imaging.motility.film import write_video
from fecallab.records.store import open_records

SPEC = ClipSpec(
    width_px=240, height_px=180, um_per_px=0.8, fps=20, seconds=1.6, swimmers=6, trembling=8, stuck=8,
    speed_um_s=(25, 50), turning=0.2,
)  # fmt: skip


def film(path, more=None, seed=4, times_s=None):
    drawn = draw_clip(ClipSpec(**(vars(SPEC) | (more or {}))), seed)
    write_video(
        path, zip(drawn.times_s if times_s is None else times_s, drawn.frames, strict=True), drawn.spec.fps
    )
    return drawn


@pytest.fixture(scope="module")
def swim(tmp_path_factory):
    path = tmp_path_factory.mktemp("films") / "swim.mp4"
    return path, film(path)


@pytest.fixture(scope="module")
def answer(swim):
    """What the program tells of that clip, worked out once."""
    return assess_motility(swim[0], SPEC.um_per_px)


@pytest.fixture
def answered(monkeypatch, answer):
    """Have the work give an answer that was worked out before: this one, or this one changed."""

    def give(**changed):
        found = replace(answer, **changed)
        monkeypatch.setattr(clip_work, "assess_motility", lambda _clip, _um_per_px: found)
        return found

    return give


NOTHING_SWIMS = {
    "motile_count": 0,
    "motile_interval": (0.0, 3.69),
    "mean_swimming_at_once": 0.0,
    "mean_swimming_interval": (0.0, 3.69),
}


def opened(open_control, path, um_per_px=0.8):
    control = open_control()
    (uid,) = control.session.add_pictures([path]).uids
    control.go_to(uid)
    control.session.set_objective(40)
    if um_per_px:
        control.session.set_scale(um_per_px)
    return control


def names(control):
    return [layer.name for layer in control.viewer.layers]


def key_of(control, name):
    return next(one.key for one in control.class_keys if one.name == name and not one.second_row)


def test_what_moves_is_drawn_by_kind_with_its_count_and_told_without_colour(open_control, swim):
    path, drawn = swim
    control = opened(open_control, path)
    control.press("T")
    found = control.moving
    assert found.assessable and found.motile_count >= 2
    assert control.message.startswith(
        at_once_words(found.mean_swimming_at_once, *found.mean_swimming_interval)
    )
    kinds = {kind: len(found.of_kind(kind)) for kind in SIGNS if found.of_kind(kind)}
    for kind, number in kinds.items():
        if kind != "stuck":
            layer = control.viewer.layers[f"{number} {kind.replace('-', ' ')}"]
            assert np.allclose(layer.scale, (1, 0.8, 0.8)) and not layer.editable
            assert len(np.unique(layer.data[:, 0])) == number
    shapes = [control.viewer.layers[name] for name in (NUMBERS, SHAPES) if name in control.viewer.layers]
    used = {str(symbol) for layer in shapes for symbol in layer.symbol}
    assert len(used) == len(kinds), "every kind has a shape of its own"
    layer = control.viewer.layers[NUMBERS]
    rows, numbers = np.asarray(layer.data), np.asarray(layer.features["number"])
    on_a_swimmer = []
    for one in found.of_kind("swimming"):
        mine = rows[numbers == str(one.number)]
        assert np.allclose(mine[:, 0], one.frames) and np.allclose(mine[:, :0:-1], one.xy_px)
        away = [np.hypot(*(drawn.swimmers[:, int(t)] - (x, y)).T).min() for t, y, x in mine]
        on_a_swimmer.append(np.median(away) < 5)
    assert np.mean(on_a_swimmer) > 0.6, "the frames of the answer are the frames of the film"
    assert control.viewer.layers.selection.active is control.layers.marks.layer
    page = clip_page(control.session.field(), found)
    for kind, number in kinds.items():
        assert f"{SIGNS[kind]} {number} {kind.replace('-', ' ')}" in page


def test_tracks_are_hidden_shown_and_go_with_their_field_without_being_worked_out_twice(
    open_control, swim, monkeypatch, answered
):
    found = answered()
    control = opened(open_control, swim[0])
    before = names(control)
    control.press("T")
    drawn = set(names(control)) - set(before)
    kinds = {one.kind for one in found.tracks if one.kind != "stuck"}
    assert "swimming" in kinds and len(drawn) == len(kinds) + 2, "a layer of tracks each, and two of shapes"
    control.press("T")
    assert not any(control.viewer.layers[name].visible for name in drawn) and "hidden" in control.message
    control.press("T")
    assert all(control.viewer.layers[name].visible for name in drawn)
    control.press("PageUp")
    assert not drawn & set(names(control)) and control.moving is None
    monkeypatch.setattr(clip_work, "assess_motility", None)
    control.press("PageDown")
    assert drawn <= set(names(control)) and control.moving is not None
    control.session.set_scale(0.4)
    assert not drawn & set(names(control)) and control.moving is None and "scale changed" in control.message


def test_c_and_a_number_keep_how_many_swim_and_undo_takes_it_back(open_control, swim, exam, answered):
    answered()
    control = opened(open_control, swim[0])
    control.press("C")
    assert "press T first" in control.message
    control.press("T")
    found = control.moving
    control.press("C")
    assert control.waiting == {"swimmers"}
    control.use_name("flagellate")
    view = control.session.field()
    count = counted_swimmers(found.motile_count, found.mean_swimming_at_once)
    assert (dict(view.sure), view.state) == ({"flagellate": count}, COUNTED_IN_CLIP)
    assert control.session.marks() == ()
    control.press("Control-Z")
    view = control.session.field()
    assert (dict(view.sure), view.swimming, view.state) == ({}, "", LOOKED_AT)
    control.press("Control-Shift-Z")
    control.press("C")
    control.press("U")
    control.use_name("ciliate")
    view = control.session.field()
    assert (dict(view.sure), dict(view.unsure)) == ({}, {"ciliate": count}), "the last word stands alone"
    control.session.finish()
    with open_records(exam.folder) as store:
        reading = store.exam(exam.code).preparations[0].readings[-1]
    assert reading.unsure == {"ciliate": count} and not reading.counts
    assert reading.mean_swimming == pytest.approx(found.mean_swimming_at_once)
    assert (reading.mean_swimming_low, reading.mean_swimming_high) == pytest.approx(
        found.mean_swimming_interval
    )
    assert reading.clip_seconds == pytest.approx(found.clip_seconds)
    control.close()
    again = open_control()
    again.go_to(reading.code)
    assert again.layers.frames == len(ClipFrames(swim[0])) and not again.session.field().changed
    assert "at once" in clip_page(again.session.field(), None)


def test_that_nothing_swims_is_kept_and_is_no_zero_until_somebody_says_so(
    open_control, swim, exam, answer, answered
):
    rest = tuple(one for one in answer.tracks if one.kind != "swimming")
    answered(tracks=rest, **NOTHING_SWIMS)
    control = opened(open_control, swim[0])
    control.press("T")
    assert control.message.lower().startswith("nothing swims")
    page = clip_page(control.session.field(), control.moving)
    assert "not assessable" in page and "no negative" in page
    control.press("C")
    assert control.session.field().state == LOOKED_AT and "press E" in control.message
    control.press("E")
    assert control.session.field().state == NOTHING_HERE
    control.session.finish()
    with open_records(exam.folder) as store:
        reading = store.exam(exam.code).preparations[0].readings[-1]
    assert reading.mean_swimming == 0 and reading.mean_swimming_high == pytest.approx(3.69, abs=0.01)


def test_what_cannot_be_told_is_said_with_its_reason_and_nothing_is_kept(open_control, tmp_path):
    frames = np.full((4, 60, 80), 120, np.uint8)
    write_video(tmp_path / "short.mp4", zip((0, 0.05, 0.1, 0.15), frames, strict=True), 20)
    control = opened(open_control, tmp_path / "short.mp4", um_per_px=None)
    control.press("T")
    assert "Without a scale" in control.message and control.moving is None
    control.session.set_scale(0.8)
    control.press("T")
    assert control.message.startswith("Motility not assessable: 4 frames")
    assert "Motility not assessable: 4 frames" in clip_page(control.session.field(), control.moving)
    control.press("C")
    assert "Nothing was kept" in control.message or "not assessable" in control.message
    assert control.session.field().swimming == "" and not control.session.field().done
    control.press("PageUp")
    control.press("T")
    assert control.message == "This field is no clip."


def test_marks_stay_what_is_counted(open_control, swim, answered):
    answered()
    control = opened(open_control, swim[0])
    control.session.add_mark("oxyurid", 20, 20)
    control.press("T")
    control.press("C")
    control.use_name("flagellate")
    view = control.session.field()
    assert (
        dict(view.sure) == {"oxyurid": 1} and "at once" in view.swimming and "marks stay" in control.message
    )


def test_work_that_nobody_waits_for_is_called_off(swim, monkeypatch):
    ended = threading.Event()

    def slow(clip, um_per_px):
        try:
            for _ in clip.frames():
                time.sleep(0.02)
        except CalledOff:
            ended.set()
            raise

    monkeypatch.setattr(clip_work, "assess_motility", slow)
    steps = moving_steps(swim[0], 0.8)
    done, whole = next(steps)
    assert 0 < done < whole == 32
    steps.close()
    assert ended.wait(2)


def test_tracks_lie_on_the_frames_they_were_seen_in_when_time_stamps_stand_still(swim):
    class Found:
        frames, fps, tracks = 4, 10.0, ()

    assert list(places_in_stack(np.array([0.0, 0.1, 0.2, 0.3]), Found())) == [0, 1, 2, 3]

    class Body:
        frames, times_s = np.array([0, 1, 2, 3]), np.array([0.0, 0.1, 0.3, 0.4])

    Found.tracks = (Body,)
    assert list(places_in_stack(np.array([0.0, 0.1, 0.1, 0.3, 0.4]), Found())) == [0, 1, 3, 4]


@pytest.mark.parametrize(("matrix", "place"), [((0, 1, -1, 0), (39, 44.5)), ((0, -1, 1, 0), (8, 18.5))])
def test_a_clip_that_the_phone_marked_as_turned_is_upright_as_its_tracks_are(tmp_path, matrix, place):
    frames = np.full((8, 48, 64), 200, np.uint8)
    frames[:, 5:12, 40:50] = 20
    write_video(tmp_path / "a.mp4", zip(np.arange(8) / 20, frames, strict=True), 20)
    data = (tmp_path / "a.mp4").read_bytes()
    at = data.index(b"tkhd") + 44
    a, b, c, d = (one << 16 for one in matrix)
    turned = struct.pack(">9i", a, b, 0, c, d, 0, 0, 0, 1 << 30)
    (tmp_path / "turned.mp4").write_bytes(data[:at] + turned + data[at + 36 :])
    clip = ClipFrames(tmp_path / "turned.mp4")
    assert clip.shape == (8, 64, 48, 3)
    for number, (_, pixels) in enumerate(open_clip(tmp_path / "turned.mp4").frames(colour=True)):
        assert np.array_equal(clip.frame(number), pixels)
    rows, columns = np.nonzero(clip.frame(3)[..., 0] < 100)
    assert (columns.mean(), rows.mean()) == pytest.approx(place, abs=0.6)


def test_a_long_clip_is_looked_through_in_bounded_memory(tmp_path):
    frames = np.full((3 * KEPT_FRAMES, 24, 32), 90, np.uint8)
    write_video(tmp_path / "long.mp4", zip(np.arange(len(frames)) / 25, frames, strict=True), 25)
    clip = ClipFrames(tmp_path / "long.mp4")
    for number in range(len(clip)):
        clip.frame(number)
    assert len(clip._kept) == KEPT_FRAMES
    assert clip.times_s[-1] == pytest.approx((len(frames) - 1) / 25, abs=0.01)


def test_too_many_places_for_shapes_leave_shapes_out_and_keep_the_tracks(
    open_control, swim, monkeypatch, answered
):
    answered()
    control = opened(open_control, swim[0])
    control.press("T")
    monkeypatch.setattr("napari_fecallab.layers_tracks.MOST_SHAPES", 1)
    made = track_layers(control.moving, np.arange(40), 2.0)
    assert NUMBERS not in made and "tracks swimming" in made


def test_in_the_window_the_work_shows_how_far_it_is_can_be_stopped_and_the_panel_says_the_count(
    hands, exam, swim, answered, monkeypatch
):
    from qtpy.QtWidgets import QLabel

    def slow(clip, um_per_px):
        for _ in clip.frames():
            time.sleep(0.03)

    hand = hands(exam)
    dock = hand.dock
    dock.add_pictures([swim[0]])
    hand.session.set_objective(40)
    hand.session.set_scale(0.8)
    assert dock.tabs.currentWidget() is dock.clip_text and "T works out" in dock.clip_text.toPlainText()
    monkeypatch.setattr(clip_work, "assess_motility", slow)
    hand.press("T")
    hand.qtbot.waitUntil(lambda: dock.work.bar.value() > 3, timeout=8000)
    assert not dock.work.isHidden() and "swim.mp4" in dock.work.title.text()
    dock.work.stop_button.click()
    assert dock.work.isHidden() and "Stopped" in dock.message.text()
    hand.qtbot.waitUntil(
        lambda: not any(one.name == "what moves" for one in threading.enumerate()), timeout=8000
    )
    assert dock.control.moving is None
    answered()
    dock.focus_canvas()
    hand.press("T")
    hand.qtbot.waitUntil(lambda: dock.control.moving is not None, timeout=30000)
    found = dock.control.moving
    said = dock.clip_text.toPlainText()
    headline = at_once_words(found.mean_swimming_at_once, *found.mean_swimming_interval)
    assert headline in said and f"△ {found.motile_count} swimming" in said
    hand.press(
        "C",
        key_of(dock.control, "flagellate")
        if any(one.name == "flagellate" for one in dock.control.class_keys)
        else "1",
    )
    hand.qtbot.waitUntil(lambda: "Kept with this field" in dock.clip_text.toPlainText(), timeout=3000)
    assert hand.session.field().swimming in dock.clip_text.toPlainText()
    hand.press("Shift+T")
    assert "frames per second" in dock.dialog.findChildren(QLabel)[0].text()
    dock.dialog.rate.setValue(120)
    dock.dialog.use()
    hand.qtbot.waitUntil(lambda: dock.control.moving_rate == 120, timeout=30000)
    dock.focus_canvas()
    hand.press("B")
    hand.qtbot.waitUntil(lambda: hand.viewer.dims.current_step[0] >= 3, timeout=10000)
    hand.press("B", "PageUp")
    assert dock.tabs.currentWidget() is dock.mark_text
