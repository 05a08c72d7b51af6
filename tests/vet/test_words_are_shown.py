"""Vets' words stand beside the keeper's own names wherever an exam or a case is shown."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from fecallab.domain.exam import Exam, Mark, Picture, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.report.picture_blocks import pictures_of

from .conftest import NOW, VET, Rescue, float_of

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]


def answered(rescue: Rescue, do: Do) -> None:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("pollen_pine", True), ("coccidian", True)))
    rescue.case("oxyurid", "2026-05-09", "E1")
    page = rescue.page("C1", "E1")
    answer = rescue.answer(
        page,
        marks=[{"mark": "E1-1-1-1", "verdict": "agree"}, {"mark": "E1-1-1-3", "verdict": "artefact"}],
        rest_agreed=True,
        missed=[{"reading": "E1-1-1", "x_px": 5, "y_px": 6, "name": "oxyurid"}],
        exams=[{"exam": "E1", "grade": "few", "target": "oxyurid", "picture_quality": "usable"}],
    )
    do("vet", "take-in", rescue.file(answer), "--yes")


def test_exam_show_and_case_show_name_both(rescue: Rescue, do: Do, say: Say) -> None:
    answered(rescue, do)
    assert "Seen: 2 oxyurid, 1 pollen pine, 1 artefact\n" in say("exam", "show", "E1")
    for shown in (say("exam", "show", "E1"), say("case", "show", "C1")):
        assert "E1-1-1-1: you oxyurid (not sure); Dr Ilse Varnholt: agree; counts as oxyurid" in shown
        assert "E1-1-1-3: you coccidian; Dr Ilse Varnholt: artefact; counts as artefact" in shown
        assert "Dr Ilse Varnholt agrees with the rest as you named it: 1 mark" in shown
        assert "E1-1-1: Dr Ilse Varnholt adds 1 oxyurid that you missed" in shown
        assert "for oxyurid: grade few; pictures usable" in shown
    told = do("case", "show", "C1")
    assert told["exams"][0]["grade"] == "few" and told["exams"][0]["grade_by_vet"] == "few"
    assert len(told["vets_words"]["E1"]) == 5
    assert do("exam", "show", "E1")["exam"]["counts"] == {"oxyurid": 2, "pollen_pine": 1, "artefact": 1}


def test_the_list_names_pages_without_an_answer(rescue: Rescue, do: Do, say: Say) -> None:
    answered(rescue, do)
    later = rescue.page("A1", "E1")
    assert do("verdict", "list")["pages_without_answer"] == [later["id"]]
    shown = say("verdict", "list", "C1")
    assert f"Page {later['id']} (A1) of 10 May 2026: no answer yet" in shown
    assert "Y1: Dr Ilse Varnholt, 12 May 2026, 18:40, unsigned, to page" in shown


def test_the_report_page_says_it_too(rescue: Rescue, do: Do) -> None:
    answered(rescue, do)
    do("report", "exam", "E1", "--to", "pages")
    text = (Path("pages") / "exam-E1.html").read_text(encoding="utf-8")
    assert "E1-1-1-1: you oxyurid (not sure); Dr Ilse Varnholt: agree" in text


def test_marks_in_pictures_carry_both_names(rescue: Rescue, do: Do, tmp_path: Path) -> None:
    from PIL import Image

    Image.new("RGB", (64, 48), "white").save(tmp_path / "field.png")
    data = (tmp_path / "field.png").read_bytes()
    picture = Picture(
        sha256=hashlib.sha256(data).hexdigest(),
        file_name="field.png",
        format="PNG",
        width_px=64,
        height_px=48,
        bytes=len(data),
    )
    marks = (
        Mark(x_px=9.0, y_px=9.0, name="oxyurid", sure=False),
        Mark(x_px=30.0, y_px=9.0, name="coccidian"),
    )
    when = datetime(2026, 5, 9, 8)
    with rescue.open() as store, store.write("keeper", NOW) as writer:
        writer.add_picture(tmp_path / "field.png", picture)
        sample = writer.add(Sample(animal="A1", collected_at=when))
        reading = Reading(objective=40.0, picture=picture.sha256, marks=marks)
        preparation = Preparation(method="direct_saline_smear", readings=(reading,))
        writer.add(Exam(sample=sample.code, examined_at=when, preparations=(preparation,)))
    page = rescue.page("E1", "E1")
    answer = rescue.answer(
        page,
        marks=[
            {"mark": "E1-1-1-1", "verdict": "other", "name": "pollen_pine", "remark": "two bladders"},
            {"mark": "E1-1-1-2", "verdict": "agree"},
        ],
        missed=[{"reading": "E1-1-1", "x_px": 50, "y_px": 40, "name": "oxyurid"}],
    )
    do("vet", "take-in", rescue.file(answer), "--yes")
    with rescue.open() as store:
        exam = store.exam("E1")
        (own,), (said,) = pictures_of(store, exam), pictures_of(store, exam, verdicts=True)
    assert [line.mark.name for line in own.marks] == ["oxyurid", "coccidian"]
    assert not any(line.vets_word for line in own.marks), "a second vet sees the keeper's names alone"
    first, second, third = said.marks
    assert (first.group, first.vets_word) == ("artefact", f"other (two bladders), {VET}")
    assert first.keepers_word == "oxyurid, not sure" and first.mark.sure
    assert (second.vets_word, second.keepers_word) == (f"agree, {VET}", "")
    assert (third.number, third.vets_word, third.mark.x_px) == (3, f"added by {VET}", 50.0)
