"""A folder of pictures or a TIFF stack in the window: it plays, is looked through and counted like a video."""

from __future__ import annotations

import numpy as np
import pytest
import tifffile
from napari_fecallab.reader_clips import clip_frames
from napari_fecallab.views import COUNTED_IN_CLIP
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.imaging.motility.drawn import ClipSpec, draw_clip

SPEC = ClipSpec(
    width_px=240, height_px=180, um_per_px=0.8, fps=20, seconds=1.6, swimmers=6, trembling=8, stuck=8,
    speed_um_s=(25, 50), turning=0.2,
)  # fmt: skip


def as_folder(path, frames):
    path.mkdir()
    for k, frame in enumerate(frames):
        Image.fromarray(frame).save(path / f"{k}.png")
    return path


def test_a_folder_of_pictures_plays_and_has_its_tracks_with_the_count_like_a_video(open_control, tmp_path):
    frames = draw_clip(SPEC, 4).frames
    control = open_control()
    (uid,) = control.session.add_clip(as_folder(tmp_path / "seen", frames), SPEC.fps).uids
    control.go_to(uid)
    assert control.layers.frames == len(frames) and control.layers.fps == pytest.approx(SPEC.fps)
    shown = control.viewer.layers["picture"].data
    assert all(np.array_equal(np.asarray(shown[k])[..., 0], frames[k]) for k in (0, 1, len(frames) - 1))
    control.session.set_objective(40)
    control.session.set_scale(SPEC.um_per_px)
    control.press("T")
    found = control.moving
    assert found.assessable and found.motile_count and found.fps == pytest.approx(SPEC.fps)
    number = len(found.of_kind("swimming"))
    assert f"{number} swimming" in [layer.name for layer in control.viewer.layers]
    control.press("C")
    control.use_name("flagellate")
    view = control.session.field()
    assert view.state == COUNTED_IN_CLIP and control.session.clip_rate() == SPEC.fps


def test_a_stack_of_twelve_bits_is_not_shown_black_and_one_without_times_says_so(tmp_path):
    frames = np.linspace(0, 4095, 5 * 24 * 32).reshape(5, 24, 32).astype(np.uint16)
    tifffile.imwrite(tmp_path / "s.tif", frames, photometric="minisblack")
    with pytest.raises(BadInput, match="holds no times"):
        clip_frames(tmp_path / "s.tif")
    stack = clip_frames(tmp_path / "s.tif", 10)
    assert stack.shape == (5, 24, 32, 3) and np.allclose(stack.times_s, np.arange(5) / 10)
    assert stack.frame(4).max() == 255 or stack.frame(0).max() > 40
    part = np.asarray(stack.lazily()[1:3, :4, :5])
    assert np.array_equal(part, np.stack([stack.frame(1), stack.frame(2)])[:, :4, :5])


def test_the_panel_takes_a_folder_in_as_a_clip_once_its_rate_is_typed(hands, exam, tmp_path):
    folder = as_folder(tmp_path / "seen", np.full((4, 24, 32), 90, np.uint8))
    hand = hands(exam)
    dock = hand.dock
    before = len(dock.session.fields())
    dock.clip_button.click()
    dialog = dock.dialog
    dialog.use()
    assert "No file or folder is named" in dialog.trouble.text()
    dialog.path.setText(str(folder))
    dialog.use()
    said = dialog.trouble.text()
    assert said == "seen holds no times, so no speed can be told. Type the frames per second."
    dialog.rate.setValue(12.5)
    dialog.use()
    hand.qtbot.waitUntil(lambda: len(dock.session.fields()) == before + 1, timeout=10_000)
    assert dock.session.field().clip_name == "seen.tif" and dock.session.clip_rate() == 12.5
    assert "seen.tif taken in" in dock.message.text()
