"""What was learnt with an older program, or is damaged: told, not used, and a way on."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from fecallab.imaging.detect.kept import FOLDER, LEARNT, outdated, ranker_of
from fecallab.imaging.detect.ranker import drawn_ranker
from fecallab.imaging.detect.train import ranker_text

from .conftest import Said


def learnt(records: Path, text: str) -> Path:
    place = records / FOLDER / LEARNT
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(text, encoding="utf-8")
    return place


def of_an_older_program() -> str:
    told = json.loads(ranker_text(drawn_ranker()))
    told["features"] = told["features"][1:]
    told["edition"] = "own marks of last year"
    return json.dumps(told)


def test_what_an_older_program_learnt_is_not_used(folder: Path) -> None:
    assert not outdated(folder)
    learnt(folder, of_an_older_program())
    assert outdated(folder)
    assert ranker_of(folder).edition == drawn_ranker().edition


def test_learning_anew_works_on_top_of_it(folder: Path, fecallab: Callable[..., Said]) -> None:
    learnt(folder, of_an_older_program())
    said = fecallab("image", "learn", "--records", folder, "--json")
    assert said.code == 0, said.all
    assert said.json["edition"] == drawn_ranker().edition


def test_a_damaged_one_says_how_to_go_back_and_that_works(
    folder: Path, fecallab: Callable[..., Said]
) -> None:
    place = learnt(folder, '{"edition": ')
    said = fecallab("image", "learn", "--records", folder, "--json")
    assert said.code == 3
    assert said.error["code"] == "ranker-damaged"
    assert "image learn --back" in said.error["next"]
    assert fecallab("image", "learn", "--back", "--records", folder).code == 0
    assert not place.exists()
    assert ranker_of(folder).edition == drawn_ranker().edition
