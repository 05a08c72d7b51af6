"""A clip that is a reading goes to the vet by itself: stills with what moves, words, speeds, films, page and paper."""

import html as escaping
import json
import re
import shutil
from dataclasses import replace

import pytest

from fecallab.cli.main import run
from fecallab.domain.clip_words import at_once_words
from fecallab.imaging.motility.drawn import ClipSpec, draw_clip
from fecallab.imaging.motility.film import write_video
from fecallab.records.store import open_records
from fecallab.vet.page_clips import recorded_clips
from fecallab.vet.page_films import film_bytes, with_films
from fecallab.vet.page_model import VetClip
from fecallab.vet.page_tracks import tracks_svg

from . import invented
from .browsing import PHONE, open_tab
from .test_page_content import pdf_text

__all__ = ["open_tab"]

SPEC = ClipSpec(
    width_px=240, height_px=180, um_per_px=0.8, fps=20, seconds=1.6, swimmers=6, trembling=8, stuck=8,
    speed_um_s=(25, 50), turning=0.2,
)  # fmt: skip
SECRET = "SECRETPHONE Quell"


@pytest.fixture(scope="module")
def sent(tmp_path_factory, empty_records):
    """Records with a clip read by a keeper, and the page of its exam: told, html, folder of both."""
    folder = tmp_path_factory.mktemp("clip")
    shutil.copytree(empty_records, folder / "records")
    drawn = draw_clip(SPEC, 4)
    film = folder / f"{SECRET}.mp4"
    write_video(film, zip(drawn.times_s, drawn.frames, strict=True), SPEC.fps)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FECALLAB_BY", "Mara Quell")
        patch.setenv("FECALLAB_RECORDS", str(folder / "records"))
        patch.setenv("FECALLAB_ASK", "0")
        for words in (
            ("animal", "add", "Bramble", "--species", "Testudo hermanni"),
            ("sample", "add", "Bramble", "--passed-from", "2026-03-04 08:00", "--passed-to", "2026-03-04 08:20"),
            ("exam", "add", "S1", "--method", "direct_saline_smear", "--read-at", "2026-03-04 08:40"),
            ("exam", "read-clip", "E1-1", film, "--um-per-px", "0.8", "--objective", "40", "--of", "flagellate", "--unsure"),
            ("vet", "page", "E1", "--pdf", "--out", folder / "out", "--on", "2026-03-05"),
        ):  # fmt: skip
            assert run([str(word) for word in words]) == 0, words
    pages = {path.suffix: path for path in (folder / "out").iterdir() if path.suffix in (".html", ".pdf")}
    return folder, pages


@pytest.fixture(scope="module")
def reading(sent):
    with open_records(sent[0] / "records") as store:
        return store.exam("E1").preparations[0].readings[-1]


def test_the_clip_goes_along_by_itself_with_the_figures_of_the_record(sent, reading):
    _, pages = sent
    html = escaping.unescape(pages[".html"].read_text(encoding="utf-8"))
    words = at_once_words(reading.mean_swimming, reading.mean_swimming_low, reading.mean_swimming_high)
    words = words[0].upper() + words[1:]
    counted = f"{reading.unsure['flagellate']} flagellate (unsure)"
    assert f"<strong>{words}</strong>, counted as {counted}" in html
    assert "Worked out again for this page" not in html, "the same program tells the same"
    assert html.count("Still of the clip clip 1 at") == 3
    assert "E1-1, field 1, 40×. Seen in a clip." in html and "Counted at the eyepiece or in a clip" in html
    paper = re.sub(r"\s+", " ", pdf_text(pages[".pdf"].read_bytes()).replace("\u00a0", " "))
    assert words.replace("\u00a0", " ") in paper and counted in paper
    row = re.search(r"(?s)<table class=\"swimmers\">.*?</table>", html).group()
    assert row.count("<tr>") >= 3 and "VCL" in row
    first = re.search(r'<th scope="row">1</th><td>(\d+)</td><td>(\d+)</td>', row)
    assert f"1: {first[1]} µm long, {first[2]} µm/s along its path" in paper


def test_nothing_of_the_keepers_file_travels(sent):
    folder, pages = sent
    for path in (folder / "out").iterdir():
        assert b"SECRET" not in path.read_bytes(), path.name
    assert "SECRET" not in pdf_text(pages[".pdf"].read_bytes())


def test_the_film_goes_beside_the_page_plain_and_with_what_moves_drawn_in(sent):
    import av
    import numpy as np

    folder, pages = sent
    html = pages[".html"].read_text(encoding="utf-8")
    films = sorted(path for path in (folder / "out").glob("*.mp4"))
    assert [path.name.partition("-clip-")[2] for path in films] == ["1-tracks.mp4", "1.mp4"]
    (words,) = (folder / "out").glob("*-message.txt")
    message = words.read_text(encoding="utf-8")
    seen = []
    for path in films:
        assert path.name in html and path.name in message
        with av.open(str(path)) as container:
            stream = container.streams.video[0]
            assert float(stream.duration * stream.time_base) == pytest.approx(1.6, abs=0.15)
            frames = [frame.to_ndarray(format="rgb24").astype(int) for frame in container.decode(stream)]
            assert len(frames) == 32 and len(container.streams) == 1
            seen.append(max(np.abs(frame[..., 0] - frame[..., 2]).max() for frame in frames))
    assert seen[0] > 80 > seen[1], "the drawn film was grey; only what is drawn in has a colour"


def test_stills_ways_and_table_are_seen_offline_on_a_phone_and_on_paper(sent, open_tab):
    tab = open_tab(sent[1][".html"], PHONE)
    page = tab.page
    figure = page.locator("figure.clip")
    figure.scroll_into_view_if_needed()
    for k in range(3):
        still = figure.locator("img").nth(k)
        assert still.evaluate("image => image.complete && image.naturalWidth") == 240
        picture, ways = still.bounding_box(), figure.locator("svg.overlay").nth(k).bounding_box()
        assert ways["width"] == pytest.approx(picture["width"], abs=1)
        assert ways["height"] == pytest.approx(picture["height"], abs=1)
        assert figure.locator("svg.overlay").nth(k).locator("polyline").count() >= 2
    assert figure.locator("table.swimmers").is_visible() and figure.locator("svg.kind-sign").count() >= 2
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.emulate_media(media="print")
    assert figure.locator("img").first.is_visible() and figure.locator("table.swimmers").is_visible()
    assert figure.locator("svg.overlay polygon").first.is_visible()
    assert not [url for url in tab.asked if not url.startswith(("file:", "data:"))] and not tab.complaints


def test_the_shapes_on_a_still_lie_where_the_bodies_are(sent, reading):
    from fecallab.imaging.motility import assess_motility

    found = assess_motility(sent[0] / f"{SECRET}.mp4", 0.8)
    drawn = draw_clip(SPEC, 4)
    svg = tracks_svg(found, 16)
    here = [one for one in found.of_kind("swimming") if one.frames[0] <= 16 <= one.frames[-1]]
    assert svg.count('class="number"') == len(here) > 0
    ends = [
        line.split()[-1].split(",") for line in re.findall(r'points="([^"]+)" fill="none"[^>]+#000000', svg)
    ]
    places = [tuple(map(float, end)) for end in ends]
    near = [min(((x - a) ** 2 + (y - b) ** 2) ** 0.5 for a, b in places) for x, y in drawn.swimmers[:, 16]
            if 12 < x < 228 and 12 < y < 168]  # fmt: skip
    assert sorted(near)[len(near) // 2] < 4, "most drawn swimmers have a way that ends at them"


def test_clips_are_left_out_when_asked_and_more_can_be_named(sent, tmp_path, monkeypatch, capsys):
    folder, _ = sent
    shutil.copytree(folder / "records", tmp_path / "records")
    monkeypatch.setenv("FECALLAB_BY", "Mara Quell")
    monkeypatch.setenv("FECALLAB_RECORDS", str(tmp_path / "records"))
    monkeypatch.chdir(tmp_path)
    capsys.readouterr()
    assert run(["vet", "page", "E1", "--leave-out", "clips", "--out", "bare", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["clips"] == [] and told["films"] == [] and told["left_out"] == ["clips"]
    page = (tmp_path / "bare" / told["files"][0]["name"]).read_text(encoding="utf-8")
    assert 'class="picture clip"' not in page
    film = next((tmp_path / "records" / "pictures").rglob("*.mp4"))
    film.unlink()
    assert run(["vet", "page", "E1", "--out", "lost", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["clips"] == [] and "E1-1-1 stayed behind" in told["stayed_behind"][0]
    assert "\n" not in told["stayed_behind"][0]


def test_a_film_that_no_mail_can_carry_is_made_smaller_and_then_left_out(sent):
    clip = VetClip(
        title="clip 1", stills=(), width_px=240, height_px=180, seconds=1.6,
        film=sent[0] / f"{SECRET}.mp4", film_name="a.mp4",
    )  # fmt: skip
    whole = film_bytes(clip, 10_000_000)
    smaller = film_bytes(clip, len(whole) - 1)
    assert 0 < len(smaller) < len(whole)
    page, films = with_films(replace(invented_page(sent[0]), clips=(clip,)), 100)
    assert films == [] and page.clips[0].film_left_out and page.clips[0].film_name == ""


def invented_page(folder):
    (folder / "drawn").mkdir(exist_ok=True)
    return invented.page(folder / "drawn", pictures=1, marks=2)


def test_a_clip_whose_motility_was_never_told_says_so(sent, reading):
    with open_records(sent[0] / "records") as store:
        exam = store.exam("E1")
        made = exam.preparations[0]
        silent = replace(
            reading, mean_swimming=None, mean_swimming_low=None, mean_swimming_high=None, um_per_px=None
        )
        found, told = recorded_clips(
            store, [replace(exam, preparations=(replace(made, readings=(silent,)),))], {}
        )
    assert told == [] and found[0].reading.mean_swimming is None
    from fecallab.vet.page import render_vet_page
    from fecallab.vet.page_clips import clips_of

    page, told = clips_of(invented_page(sent[0]), (), "E1", found)
    assert told == [] and page.clips[0].tracks == () and page.clips[0].found is None
    from fecallab.vet.mail import packed

    assert "How many swim was not kept by the keeper" in render_vet_page(packed(page)[0])
