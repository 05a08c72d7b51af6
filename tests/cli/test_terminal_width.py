"""What a terminal shows: no word is broken at its edge, and a file or a pipe gets the lines as they are."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.cli.ask.talk import Talk
from fecallab.cli.output import emit, folded

from .asking import rescue, typed
from .conftest import Said

__all__ = ["rescue", "typed"]

LONG = "  - People: gloves; soap and water afterwards; nothing of it into a kitchen sink; tools of its own"


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@given(st.text(alphabet="ab -.\n", max_size=200), st.integers(20, 120))
def test_no_word_is_lost_and_no_line_is_too_wide_when_its_words_fit(text: str, width: int) -> None:
    lines = folded(text, width).split("\n")
    assert " ".join(lines).split() == text.split()
    assert all(len(line) < width or len(line.strip().split()[-1]) >= width // 2 - 1 for line in lines)


def test_a_number_is_never_parted_from_its_unit() -> None:
    said = "metronidazole 25 mg/kg by mouth, 50 mg/ml, 0.16 ml at 38 °C, 95 % of 317 g in 12 min"
    for width in range(20, 80):
        text = folded(said, width)
        assert text.split() == said.split()
        for whole in ("25 mg/kg", "50 mg/ml", "0.16 ml", "38 °C", "95 %", "317 g", "12 min"):
            assert whole in text, (width, text)


def test_the_last_column_of_a_table_is_folded_in_its_place() -> None:
    rows = "when  case  what comes next\nnow   C1    examine the next stool passed on or after that day"
    assert folded(rows, 40).split("\n") == [
        "when  case  what comes next",
        "now   C1    examine the next stool",
        "            passed on or after that day",
    ]
    one_gap = "Type: fecallab records make FOLDER  or name one that is there: --records FOLDER"
    assert folded(one_gap, 50).split("\n")[1] == "  that is there: --records FOLDER"
    narrow = "a  b  c" + " " * 30 + "examine the next stool"
    assert all(len(line) < 45 for line in folded(narrow, 45).split("\n"))


def test_a_terminal_gets_whole_words_and_a_pipe_gets_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    for stream, lines in ((_Terminal(), 3), (io.StringIO(), 1)):
        monkeypatch.setattr("sys.stdout", stream)
        emit({}, LONG, as_json=False)
        shown = stream.getvalue().splitlines()
        assert len(shown) == lines
        assert " ".join(shown).split() == LONG.split()
        assert all(line.startswith("    ") for line in shown[1:])


def test_a_question_that_is_too_wide_ends_where_the_answer_is_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "50")
    prompts: list[str] = []
    said: list[str] = []

    def answer(prompt: str) -> str:
        prompts.append(prompt)
        return "40 %"

    talk = Talk(answer, said.append)
    assert (
        talk.line("Was at least a third of the cover glass swept at 40×? y, or the share: 0.5, 20 %")
        == "40 %"
    )
    assert said and prompts[0].endswith("20 %: ") and len(prompts[0]) > 3


def test_one_line_to_change_is_not_a_span(rescue: object, typed: Callable[..., Said]) -> None:
    said = typed(["withdraw", "W1"], "typed twice", "q")
    assert "1 = change a line" in said.out
    assert "1-1" not in said.out


def test_a_weight_in_kilograms_is_read_back_in_both_units(rescue: object, typed: Callable[..., Said]) -> None:
    said = typed(["animal", "add", "Slate"], "leopard gecko", "y", "", "45,2 kg", "q")
    assert "45200 g (45.2 kg)" in said.out
