"""Sources spelled out."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.reference.sources import cite, source, sources


def test_a_citation_says_its_kind() -> None:
    (line,) = cite("R76")
    assert line.startswith("R76 (read): WHO intensity classes")
    assert line.endswith("https://pmc.ncbi.nlm.nih.gov/articles/PMC6171148/table/Tab1")


def test_a_remembered_source_shows_no_address() -> None:
    assert "not read" not in cite("M07")[0]
    assert "(memory)" in cite("M07")[0]


def test_an_unknown_source_is_bad_input() -> None:
    with pytest.raises(BadInput, match="no source 'R999'"):
        source("R999")


def test_numbers_run_without_a_gap() -> None:
    for letter in "RM":
        numbers = sorted(int(key[1:]) for key in sources() if key.startswith(letter))
        assert numbers == list(range(1, len(numbers) + 1))
