"""``fecallab sheet``: PDF files where they are asked for, answers for machines, bad input in one line."""

from __future__ import annotations

import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from .conftest import begin_with, told

TODAY = "2026-03-18"


def text_of(path: str | Path) -> str:
    pages = [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(path)]
    return re.sub(r"\s+", " ", " ".join(pages))


MODULES = ("sheet", "due", "sample", "exam", "dose", "plan", "animal", "sheet_in", "sheet_ask")


def stop_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is half past eight on the morning of `TODAY`."""
    from fecallab.cli import common

    moment = datetime(2026, 3, 18, 8, 30)
    for module in MODULES:
        monkeypatch.setattr(f"fecallab.cli.{module}.now", lambda: moment, raising=False)
    monkeypatch.setattr(common, "now", lambda: moment)


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """The records of `rescue`, made once."""
    acts = (
        "animal add Saffron --species|Pogona vitticeps --adult --enclosure|vivarium 4",
        "animal add Barley --species|Testudo hermanni --adult --enclosure|table 2",
        "animal weigh Saffron 317 --at|2026-03-04 08:00",
        "sample add Saffron --passed-from|2026-03-01 06:00 --passed-to|2026-03-01 08:00 --form soft --kept room --mass-g 1.4",
        "exam add S1 --method simple_flotation --gravity 1.20 --gravity-checked --standing-minutes 15"
        " --read-at|2026-03-01 08:40 --objective 10 --field-number 20 --counts 0,2,1 --of oxyurid",
        "plan add C1 --vet|Dr Ilse Varnholt --written 2026-03-03 --drug fenbendazole --dose-mg-per-kg 50"
        " --concentration-mg-per-ml 100 --route|by mouth --interval-days 14 --doses 2",
        "dose give C1 --at|2026-03-04 08:15",
        "animal weigh Saffron 322 --at|2026-03-18 08:00",
    )
    words = [
        tuple(part for word in re.findall(r"\S+\|.*?(?= --|$)|\S+", act) for part in word.split("|"))
        for act in acts
    ]
    with pytest.MonkeyPatch.context() as monkeypatch:
        stop_the_clock(monkeypatch)
        return told(tmp_path_factory.mktemp("morning"), empty_folder, *words)


@pytest.fixture
def rescue(folder: Path, morning: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """One dragon on treatment, weighed this morning, and a tortoise without a case."""
    stop_the_clock(monkeypatch)
    begin_with(folder, morning)
    return folder


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_sheet_is_written_where_it_is_said(
    rescue: Path, fecallab: Any, tmp_path: Path, paper: str
) -> None:
    for words in (["microscope", "Saffron"], ["care"], ["dose-card", "C1"], ["labels", "S1", "Barley"]):
        said = fecallab("sheet", *words, "--paper", paper, "--to", tmp_path / "out", "--json")
        assert said.code == 0, said.all
        path = Path(said.json["sheet"])
        assert path.parent == (tmp_path / "out").resolve()
        assert path.read_bytes().startswith(b"%PDF")
        assert said.json["pages"] == len(pypdfium2.PdfDocument(path))
    assert not [one.name for one in (tmp_path / "out").iterdir() if one.name.startswith(".")]


def test_the_microscope_sheet_states_how_it_is_typed_in(rescue: Path, fecallab: Any, tmp_path: Path) -> None:
    from fecallab.cli.sheet_table import column_titles

    said = fecallab("sheet", "microscope", "Saffron", "Barley", "--to", tmp_path / "m.pdf")
    assert said.code == 0
    text = text_of(tmp_path / "m.pdf")
    assert "fecallab sheet type-in FILE.csv" in text
    assert all(title in text for title in column_titles())
    assert "Saffron" in text and "Barley" in text


def test_a_dose_card_says_volume_or_reasons_to_machines_too(
    rescue: Path, fecallab: Any, tmp_path: Path
) -> None:
    drawn = fecallab("sheet", "dose-card", "C1", "--json").json
    assert (drawn["refused"], drawn["draw_ml"]) == (False, 0.16)
    early = fecallab(
        "sheet", "dose-card", "C1", "--at", "2026-03-10 08:00", "--to", tmp_path / "no.pdf", "--json"
    )
    assert early.code == 0
    assert (early.json["refused"], early.json["draw_ml"]) == (True, None)
    assert "too-early" in [reason["code"] for reason in early.json["reasons"]]
    assert not re.search(r"\d ?ml\b", text_of(tmp_path / "no.pdf"))
    told = fecallab("sheet", "dose-card", "C1", "--at", "2026-03-10 08:00")
    assert "no volume is printed" in told.out
    assert not re.search(r"\d ?ml\b", told.out)


def test_todays_care_counts_what_is_due(rescue: Path, fecallab: Any, tmp_path: Path) -> None:
    said = fecallab("sheet", "care", "--to", tmp_path / "care.pdf", "--json")
    assert said.json["animals"] == ["A1"]
    assert [dose["draw_ml"] for dose in said.json["doses"]] == [0.16]
    assert "0.16 ml (zero point one six millilitres)" in text_of(tmp_path / "care.pdf")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["microscope", "--paper", "a3"], "not-a-choice"),
        (["microscope", "Nobody"], "unknown-animal"),
        (["microscope"], "nothing-due"),
        (["microscope", "Saffron", "--method", "tasting"], "not-a-choice"),
        (["microscope", "S99"], "unknown-sample"),
        (["microscope", "--ahead-days", "4000"], "out-of-range"),
        (["dose-card", "C9"], "unknown-case"),
        (["dose-card", "C1", "--at", "2027-01-01 08:00"], "in-the-future"),
        (["labels", "S1", "--rows", "0"], "out-of-range"),
        (["labels", "S1", "--skip", "21"], "out-of-range"),
        (["labels", "S1", "--width-mm", "wide"], "not-a-number"),
        (["labels", "S1", "--rows", "30", "--columns", "9"], "labels-too-small"),
        (["labels"], "nothing-due"),
        (["care", "Nobody"], "unknown-animal"),
        (["type-in", "missing.csv"], "batch-errors"),
        (["type-in"], "file-missing"),
    ],
)
def test_bad_input_ends_in_one_line_and_writes_nothing(
    rescue: Path, fecallab: Any, tmp_path: Path, words: list[str], code: str
) -> None:
    said = fecallab("sheet", *words, "--json")
    assert said.code == 2, said.all
    assert said.error["code"] == code
    assert said.error["next"]
    assert not (tmp_path / "sheets").exists()


def test_a_folder_that_may_not_be_written_is_said(rescue: Path, fecallab: Any, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    said = fecallab("sheet", "care", "--to", tmp_path / "taken" / "deeper", "--json")
    assert said.code == 3
    assert said.error["code"] == "sheet-not-written"


def test_due_by_place_goes_round_and_the_calendar_lies_where_it_is_said(
    rescue: Path, fecallab: Any, tmp_path: Path
) -> None:
    import icalendar

    said = fecallab("due", "--by-place", "--ics", tmp_path / "due.ics")
    assert said.code == 0
    lines = said.out.splitlines()
    assert lines[1] == "vivarium 4"
    assert "weigh, then dose 2 of 2" in lines[2]
    (event,) = icalendar.Calendar.from_ical((tmp_path / "due.ics").read_bytes()).walk("VEVENT")
    assert str(event["SUMMARY"]) == "Saffron: weigh, then dose 2 of 2 (fenbendazole)"
    assert str(event["LOCATION"]) == "vivarium 4"
    as_json = json.loads(fecallab("due", "--ics", tmp_path / "due.ics", "--json").out)
    assert as_json["calendar"] == str((tmp_path / "due.ics").resolve())
    assert as_json["due"][0]["place"] == "vivarium 4"
    marker = json.loads((rescue / "fecallab.json").read_text("utf-8"))
    assert str(event["UID"]) == f"{marker['collection']}-C1@fecallab.invalid"
