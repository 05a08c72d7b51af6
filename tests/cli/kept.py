"""Records that bad input must leave as they are, and the one line that it gets."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from .conftest import FLOAT, Said, contents

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records with two animals, a stool S1, and an exam E1 that opened a case C1; made once."""
    from fecallab.cli.main import run

    made = tmp_path_factory.mktemp("told") / "records"
    shutil.copytree(empty_folder, made)
    passed = ("--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00", "--mass-g", "1.4")
    read = ("--read-at", "2025-03-04 09:00", "--objective", "10", "--share", "1", "--seen", "oxyurid=3")
    for words in (
        ("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult"),
        ("animal", "add", "Pixel", "--species", "leopard gecko"),
        ("sample", "add", "Saffron", *passed, "--form", "soft", "--kept", "room"),
        ("exam", "add", "S1", *FLOAT, *read),
    ):
        assert run([*words, "--records", str(made), "--by", "Mara Quell"]) == 0
    return made


@pytest.fixture
def kept(told: Path, folder: Path) -> Path:
    """A copy of `told`; a picture, field.png, lies in the current folder."""
    shutil.rmtree(folder)
    shutil.copytree(told, folder)
    Image.new("RGB", (64, 48), "white").save("field.png")
    return folder


@pytest.fixture
def refused_as_bad(fecallab: Run, kept: Path) -> Callable[..., str]:
    """Run a command that must be bad input: one line, nothing changed; return that line."""

    def run_it(*words: str | Path, code: str = "") -> str:
        before = contents(kept)
        said = fecallab(*words)
        assert said.code == 2, said.all
        assert said.out == ""
        assert said.err.startswith("Not understood: ")
        assert said.err.count("\n") == 1, "one line"
        assert "Traceback" not in said.err
        assert len(said.err) < 700
        assert contents(kept) == before
        as_json = fecallab(*words, "--json") if "--" not in words else None
        if as_json is not None:
            assert as_json.code == 2
            if code:
                assert as_json.error["code"] == code
            assert as_json.error["next"]
            assert contents(kept) == before
        return said.err

    return run_it
