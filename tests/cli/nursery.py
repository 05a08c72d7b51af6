"""A nursery: two tubs of five in one room, one grown lizard beside them, all of one arrival."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]


@pytest.fixture(scope="session")
def nursery_folder(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records of the nursery, made once and copied for every test."""
    from fecallab.cli.main import run

    made = shutil.copytree(empty_folder, tmp_path_factory.mktemp("nursery") / "records")
    lizard = ("--species", "Uromastyx geyri", "--arrived", "2025-03-01")
    tub = (*lizard, "--kind", "tub", "--number", "5", "--enclosure")
    tools = ("--tools", "tongs of room 1")
    for words in (
        ("enclosure", "add", "box 1", "--room", "room 1", *tools),
        ("enclosure", "add", "box 2", "--room", "room 1", *tools),
        ("enclosure", "add", "box 3", "--room", "room 2"),
        ("animal", "add", "litter 1", *tub, "box 1"),
        ("animal", "add", "litter 2", *tub, "box 2"),
        ("animal", "add", "Thistle", *lizard, "--enclosure", "box 3"),
        ("animal", "add", "Juniper", "--species", "Uromastyx geyri"),
        ("arrivals", "add", "litter 1", "litter 2", "Thistle", "--arrived", "2025-03-01", "--name", "spring"),
    ):
        assert run([*words, "--records", str(made), "--by", "Mara Quell"]) == 0, words
    return made


@pytest.fixture
def nursery(folder: Path, nursery_folder: Path) -> None:
    """Two tubs of five in one room with shared tongs, Thistle alone in another, all of one arrival; and Juniper."""
    shutil.rmtree(folder)
    shutil.copytree(nursery_folder, folder)


@pytest.fixture
def clean_exam(do: Do) -> Callable[..., dict[str, Any]]:
    """A stool of an owner on a day in which everything could have been shown; ``seen`` is what the float showed."""

    def add(owner: str, day: str, seen: str = "coccidian=0", stools_of: int | None = None) -> dict[str, Any]:
        share = ("--stools-of", str(stools_of)) if stools_of else ()
        begun = do(
            *("arrivals", "begin", owner, "--passed-from", f"{day} 07:00", "--passed-to", f"{day} 07:30"),
            *("--form", "soft", "--kept", "room", "--mass-g", "2", *share),
        )
        sample = begun["sample"]["code"]
        wet = ("--method", "direct_saline_smear", "--room-c", "24", "--objective", "40", "--share", "0.5")
        exam = do("exam", "add", sample, *wet, "--read-at", f"{day} 07:50", "--seen", "flagellate=0")
        code = exam["exam"]["code"]
        floated = ("--method", "simple_flotation", "--solution", "zinc sulfate", "--gravity", "1.19")
        stood = ("--gravity-checked", "--standing-minutes", "15", "--read-at", f"{day} 08:10")
        do("exam", "prepare", code, *floated, *stood, "--objective", "10", "--share", "1", "--seen", seen)
        return do("exam", "read", f"{code}-2", "--objective", "40", "--share", "0.4", "--seen", seen)

    return add


def refused(run: Run, folder: Path, code: str, *words: str) -> str:
    """Run a command that must say one clear line with this word code and change nothing."""
    before = contents(folder)
    said = run(*words, "--json")
    assert said.code == 2, said.all
    assert said.error["code"] == code and said.error["next"]
    assert contents(folder) == before
    plain = run(*words)
    assert len(plain.err.strip().splitlines()) == 1
    return said.error["text"]
