"""Tables that must be refused whole, and the errors that are told of them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Errors = list[dict[str, Any]]


@pytest.fixture
def refused(folder: Path, tmp_path: Path, fecallab: Callable[..., Said]) -> Callable[..., Errors]:
    """Take tables in that must be refused whole; return the errors."""

    def run(*options: str, **texts: str | bytes) -> Errors:
        tables = tmp_path / "tables"
        tables.mkdir(exist_ok=True)
        for name, text in texts.items():
            content = text.encode() if isinstance(text, str) else text
            (tables / f"{name}.csv").write_bytes(content)
        before = contents(folder)
        for more in ((), ("--check",)):
            said = fecallab("batch", "take-in", tables, "--json", *more, *options)
            assert said.code == 2, said.all
            assert contents(folder) == before
        errors = said.json["errors"]
        assert errors and said.error["text"].startswith(f"{len(errors)} error")
        for error in errors:
            assert error["text"] and error["next"] and error["code"], error
        return errors

    return run


@pytest.fixture
def pixel(do: Callable[..., dict[str, Any]]) -> None:
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps", "--adult")


def codes(errors: Errors) -> list[str]:
    return [error["code"] for error in errors]


WEIGHTS = "animal,weighed at,weight (g)\n"
