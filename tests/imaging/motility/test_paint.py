"""The picture and the film of what was found."""

import io

import numpy as np
from PIL import Image

from fecallab.imaging.motility import KINDS, assess_motility, open_clip
from fecallab.imaging.motility.paint import KIND_STYLE, tracks_png, write_film


def test_every_kind_has_a_colour_and_a_shape_of_its_own():
    assert set(KIND_STYLE) == set(KINDS)
    assert len({style.shape for style in KIND_STYLE.values()}) == len(KINDS)
    assert len({style.colour for style in KIND_STYLE.values()}) == len(KINDS)


def test_picture_and_film_show_the_swimmers(swimming, tmp_path):
    clip = open_clip(swimming.frames, 25)
    result = assess_motility(clip, 0.8)
    picture = Image.open(io.BytesIO(tracks_png(clip, result)))
    assert picture.width == 260 and picture.height > 200  # the legend and the bar stand below
    orange = np.array([int(KIND_STYLE["swimming"].colour[k : k + 2], 16) for k in (1, 3, 5)])
    drawn = np.abs(np.asarray(picture.convert("RGB"), int) - orange).max(axis=2) < 30
    at = result.of_kind("swimming")[0].xy_px
    assert sum(
        drawn[round(y) - 2 : round(y) + 3, round(x) - 2 : round(x) + 3].any() for x, y in at[3:-3]
    ) > 0.7 * (len(at) - 6)
    assert write_film(clip, result, tmp_path / "seen.mp4") == 50
    film = open_clip(tmp_path / "seen.mp4")
    frames = list(film.frames(colour=True))
    assert len(frames) == 50 and frames[-1][0] - frames[0][0] == 49 / 25
    assert not list(tmp_path.glob("*.part*"))
