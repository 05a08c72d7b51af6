"""``fecallab vet page`` as a keeper types it, and that its answer is taken in again."""

import json
import re
import shutil
from datetime import datetime

import pytest
from PIL import Image

from fecallab.cli.main import run
from fecallab.records.store import open_records
from fecallab.records.vet_words import items_of, pages
from fecallab.vet.answer import to_block

from . import invented


@pytest.fixture
def do(capsys, monkeypatch, tmp_path, story):
    """Run a command on a copy of the story; gives its JSON, or its error when another exit code is expected."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FECALLAB_BY", "Mara Quell")
    shutil.copytree(story, tmp_path / "records")
    monkeypatch.setenv("FECALLAB_RECORDS", str(tmp_path / "records"))

    def said(*words, code=0):
        capsys.readouterr()
        assert run([*words, "--json"]) == code, capsys.readouterr()
        return json.loads(capsys.readouterr().out)

    return said


def test_a_page_of_a_case_is_made_recorded_and_its_answer_taken_in(do, tmp_path):
    told = do("vet", "page", "C1", "--pdf", "--contact-sheet", "--out", "out")
    assert (told["numbers"], told["doubtful"], told["parts"]) == (30, [4, 13, 22], 1)
    assert told["exams"] == ["E2"] and told["subject"] == "C1"
    kinds = [one["kind"] for one in told["files"]]
    assert kinds[:2] == ["page", "pdf"] and set(kinds[2:]) == {"contact sheet"}
    for one in told["files"]:
        assert (tmp_path / "out" / one["name"]).stat().st_size == one["bytes"]
        assert one["bytes"] < one["bytes_in_a_mail"] < 1.4 * one["bytes"] + 100
    message = (tmp_path / "out" / told["message"]).read_text(encoding="utf-8")
    assert message.startswith("Dear Dr Ilse Varnholt,") and told["page_id"] in message
    with open_records(tmp_path / "records") as store:
        recorded = pages(store)
        assert [(one.code, one.page_id, one.exams) for one in recorded] == [
            (told["page"], told["page_id"], "E2")
        ]
        assert [one.item for one in items_of(store, told["page"])][:2] == ["E2-1-1-1", "E2-1-1-2"]
    answer = {
        "format": "fecallab-answer",
        "version": 1,
        "page": {"id": told["page_id"], "hash": told["page_sha256"]},
        "vet": {"name": "Dr Ilse Varnholt"},
        "answered_at": f"{datetime.now():%Y-%m-%dT%H:%M}:59",
        "marks": [{"mark": "E2-1-1-4", "verdict": "artefact"}],
        "rest_agreed": True,
    }
    (tmp_path / "mail.txt").write_text("Hello\n" + to_block(json.dumps(answer).encode()), encoding="utf-8")
    assert do("vet", "take-in", "mail.txt", "--yes")["recorded"]
    again = do("vet", "page", "C1", "--out", "again")
    assert again["doubtful"] == [13, 22], "what a vet has answered is not asked again"
    html = (tmp_path / "again" / again["files"][0]["name"]).read_text(encoding="utf-8")
    assert ": artefact)" in html


def test_older_pages_stay_and_are_named_beside_the_new_one(do, tmp_path, capsys):
    first = do("vet", "page", "C1", "--out", "out")
    assert first["older_pages"] == []
    names = [first["message"], *(one["name"] for one in first["files"])]
    kept = {name: (tmp_path / "out" / name).read_bytes() for name in names}
    second = do("vet", "page", "C1", "--question", "And now?", "--out", "out")
    assert second["older_pages"] == [first["files"][0]["name"]]
    assert {name: (tmp_path / "out" / name).read_bytes() for name in kept} == kept
    assert second["message"] == second["files"][0]["name"].replace(".html", "-message.txt")
    assert second["page_id"] in (tmp_path / "out" / second["message"]).read_text(encoding="utf-8")
    assert run(["vet", "page", "C1", "--question", "Again?", "--out", "out"]) == 0
    said = capsys.readouterr().out
    assert "Older pages of C1 stay in out: " in said and "Send the new one" in said
    assert all(one["files"][0]["name"] in said for one in (first, second))


def test_the_example_of_an_answer_in_words_is_read_as_it_stands(do, tmp_path):
    told = do("vet", "page", "C1", "--out", "out")
    html = (tmp_path / "out" / told["files"][0]["name"]).read_text(encoding="utf-8")
    example = re.search(r"<q>(.*?)</q>", html).group(1)
    assert example.startswith("4 pollen; 13 cannot tell; the rest agreed; the same plan as on 4 March 2026")
    read = do("verdict", "add", "E2", example, "--case", "C1", "--vet", "Dr Ilse Varnholt", "--yes")
    assert read["recorded"]
    assert {one["number"]: one["word"] for one in read["names"]} == {4: "artefact", 13: "cannot tell"}
    assert read["agreed_with_the_rest"] == 27


def test_the_same_question_is_the_same_page_and_another_question_is_not(do):
    first, second = (do("vet", "page", "C1", "--out", "out") for _ in range(2))
    other = do("vet", "page", "C1", "--question", "Is it pollen?", "--out", "out")
    assert (first["page"], first["page_id"]) == (second["page"], second["page_id"])
    assert other["page_id"] != first["page_id"] and other["page"] != first["page"]


def test_exams_of_the_past_go_along_when_they_are_named(do, tmp_path):
    told = do("vet", "page", "C1", "--exam", "E1", "--exam", "e2", "--out", "out")
    assert told["exams"] == ["E1", "E2"]
    assert told["numbers"] == 30 + 4, "four fields of the first exam had eggs, counted at the eyepiece"
    html = (tmp_path / "out" / told["files"][0]["name"]).read_text(encoding="utf-8")
    assert "Counted at the eyepiece, without a picture" in html


def test_a_page_of_one_exam_shows_the_case_that_it_bears_on(do, tmp_path):
    told = do("vet", "page", "E2", "--out", "out", "--leave-out", "owner, place", "--vet", "Dr Odo Tamm")
    html = (tmp_path / "out" / told["files"][0]["name"]).read_text(encoding="utf-8")
    assert "Case C1: oxyurid" in html and "To Dr Odo Tamm" in html
    assert "Quell" not in html and "vivarium 4" not in html
    assert told["left_out"] == ["owner", "place"]


def test_many_pictures_for_a_small_mail_come_in_parts(do):
    told = do("vet", "page", "C1", "--max-mb", "1", "--out", "out", "--contact-sheet")
    assert told["parts"] > 1 == len({one["part"] for one in told["files"]}) - told["parts"] + 1
    size = {one["name"]: one["bytes_in_a_mail"] for one in told["files"]}
    assert all(sum(size[name] for name in mail) <= 1_000_000 for mail in told["mails"])
    assert [name for mail in told["mails"] for name in mail] == list(size)


def test_a_clip_goes_along_as_stills_and_as_a_film_without_its_place(do, tmp_path):
    av = pytest.importorskip("av")
    clip = tmp_path / "SECRETPHONE.mp4"
    invented.drawn_picture(tmp_path / "one.jpg", 1, 320, 240)
    with av.open(str(clip), "w", options={"movflags": "use_metadata_tags"}) as container:
        container.metadata["location"] = "+51.5000+007.2000/"
        container.metadata["com.apple.quicktime.make"] = "SECRETMAKER"
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 320, 240, "yuv420p"
        for _ in range(45):
            with Image.open(tmp_path / "one.jpg") as image:
                container.mux(stream.encode(av.VideoFrame.from_image(image)))
        container.mux(stream.encode(None))
    assert b"+51.5000" in clip.read_bytes()
    told = do("vet", "page", "E2", "--clip", str(clip), "--out", "out")
    film = (tmp_path / "out" / told["films"][0]["name"]).read_bytes()
    page = (tmp_path / "out" / told["files"][0]["name"]).read_bytes()
    for content in (film, page):
        assert b"SECRET" not in content and b"+51.5" not in content
    with av.open(str(tmp_path / "out" / told["films"][0]["name"])) as container:
        stream = container.streams.video[0]
        assert (stream.width, stream.height) == (320, 240)
        assert float(stream.duration * stream.time_base) == pytest.approx(1.5, abs=0.1)
    assert page.count(b"Still of the clip clip 1 at") == 3


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("A1",), "not-a-case-or-exam"),
        (("Saffron",), "not-a-case-or-exam"),
        (("C7",), "unknown-case"),
        (("C1", "--max-mb", "0.5"), "mail-too-small"),
        (("C1", "--max-mb", "lots"), None),
        (("C1", "--leave-out", "device"), "not-a-choice"),
        (("C1", "--clip", "nowhere.mp4"), None),
        (("C1", "--exam", "E9"), "unknown-exam"),
        (("E2", "--exam", "E1"), "exam-of-an-exam"),
    ],
)
def test_what_cannot_be_meant_is_one_clear_line_and_nothing_is_made(do, tmp_path, words, code):
    error = do("vet", "page", *words, "--out", "out", code=2)["error"]
    assert error["text"] and error["next"] and "\n" not in error["text"]
    if code:
        assert error["code"] == code
    assert not (tmp_path / "out").exists()
    with open_records(tmp_path / "records") as store:
        assert pages(store) == []


def test_when_the_folder_cannot_be_written_no_page_is_recorded(do, tmp_path):
    (tmp_path / "out").write_text("a file in the way", encoding="utf-8")
    do("vet", "page", "C1", "--out", "out", code=3)
    with open_records(tmp_path / "records") as store:
        assert pages(store) == []
