"""What people read: days spelled, shares with a space before the sign, one word for one thing."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from fecallab.domain.exam import METHODS, method_words

from .conftest import Said, days_not_spelled

Run = Callable[..., Said]

_NOT_READ = re.compile(r"<(script|style|template)\b.*?</\1>|<[^>]+>", re.DOTALL)
"""What a browser does not show of a page: scripts, styles, tags."""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory, one_of_everything: Path) -> dict[str, str]:
    """The pages of an exam, a case, an arrival and the one to the vet, as people read them."""
    from fecallab.cli.main import run

    home = shutil.copytree(one_of_everything, tmp_path_factory.mktemp("aloud") / "world")
    there = ("--records", str(home / "records"))
    to = ("--to", str(home / "pages"))
    assert run(["report", "case", "C1", *to, *there]) == 0
    assert run(["report", "arrival", "I1", *to, "--on", "2025-03-10", *there]) == 0
    assert run(["vet", "page", "E1", "--out", str(home / "pages"), "--by", "Mara Quell", *there]) == 0
    return {
        path.name: html.unescape(_NOT_READ.sub(" ", path.read_text(encoding="utf-8")))
        for path in (home / "pages").glob("*.html")
    }


def test_every_page_spells_its_days_and_spaces_its_shares(pages: dict[str, str]) -> None:
    assert len(pages) == 4
    for name, text in pages.items():
        assert re.search(r"\d \w+ 20\d\d|\d\u00a0\w+\u00a020\d\d", text), f"{name} names no day"
        assert days_not_spelled(text) == [], name
        assert re.findall(r"\d%", text) == [], name


def test_no_page_shows_a_code_where_a_method_has_words(pages: dict[str, str]) -> None:
    codes = [method for method in METHODS if "_" in method]
    for name, text in pages.items():
        assert [code for code in codes if code in text] == [], name
    assert "simple flotation" in pages["exam-E1.html"]


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("Saffron died on 2025-03-04.", ["2025-03-04"]),
        ("from 2025-03-04  S1  stool", ["2025-03-04"]),
        ("Saffron died on 4 March 2025.", []),
        ("'2025-13-01' is no day.", []),
        ("Written: pages/care-2025-03-04.pdf", []),
        ("Type: --on 2026-03-04", []),
    ],
)
def test_a_day_in_numbers_is_found_where_it_is_read(said: str, found: list[str]) -> None:
    assert days_not_spelled(said) == found


def test_every_method_is_said_in_words_that_differ() -> None:
    words = [method_words(method) for method in METHODS]
    assert len(set(words)) == len(METHODS)
    assert not any("_" in word for word in words)
