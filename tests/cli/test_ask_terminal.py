"""The questions in a real terminal: keys, Ctrl-C, a dumb terminal, code pages, widths."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .asking import Terminal, rescue, terminal
from .conftest import contents

__all__ = ["rescue", "terminal"]
Open = Callable[..., Terminal]
Do = Callable[..., dict[str, Any]]
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
NO_PASTE_MARKS = re.compile(r"\x1b\[\?2004[hl]\r?")


def test_a_weight_is_asked_and_recorded(rescue: Path, terminal: Open, do: Do) -> None:
    window = terminal("animal", "weigh")
    window.until("Enter = Barley]:")
    window.type("saff")
    window.until("last: 318 g")
    window.type("319,5")
    assert "319.5 g" in window.until("Record this?")
    window.type("")
    window.until("Recorded.")
    assert window.ended() == 0
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 319.5


@pytest.mark.parametrize("key", ["\x03", "\x04"], ids=["ctrl-c", "ctrl-d"])
@pytest.mark.parametrize(
    "answers", [[], ["Saffron"], ["Saffron", "319"]], ids=["first", "second", "read-back"]
)
def test_ctrl_c_and_end_of_input_record_nothing(
    rescue: Path, terminal: Open, key: str, answers: list[str]
) -> None:
    before = contents(rescue)
    window = terminal("animal", "weigh")
    for answer, prompt in zip(["", *answers], ["Barley]: ", "): ", "q = no]: "], strict=False):
        if answer:
            window.type(answer)
        window.until(prompt)
    window.stop(key)
    assert window.ended() == 130
    assert window.seen.rstrip().endswith("\nStopped. Nothing was recorded by the step that was stopped.")
    assert "Traceback" not in window.seen
    assert contents(rescue) == before


def test_a_dumb_terminal_gets_plain_text_alone(rescue: Path, terminal: Open) -> None:
    window = terminal("sample", "add", TERM="dumb")
    window.until("Enter = Barley]:")
    window.type("?")
    window.until("Enter = Barley]:")
    window.type("")
    window.until("not known]:")
    window.type("q")
    assert window.ended() == 130
    assert "\x1b" not in window.seen


def test_no_colour_and_no_cursor_keys_are_sent_to_any_terminal(rescue: Path, terminal: Open) -> None:
    """Only the line editor's own marks for pasted text may come, and those only where it is at work."""
    window = terminal("animal", "weigh")
    window.until("Enter = Barley]:")
    window.type("q")
    assert window.ended() == 130
    assert not ESCAPES.search(NO_PASTE_MARKS.sub("", window.seen))


def test_backspace_mends_what_was_typed(rescue: Path, terminal: Open, do: Do) -> None:
    window = terminal("animal", "weigh", "Saffron")
    window.until("last: 318 g")
    window.press("3199\x7f")
    window.type("")
    assert "319 g" in window.until("Record this?")
    window.type("")
    assert window.ended() == 0
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 319


@pytest.mark.parametrize("term", ["dumb", "xterm"])
@pytest.mark.parametrize("code_page", ["cp437", "cp1252", "cp850", "utf-8"])
def test_a_code_page_of_windows_takes_and_gives_its_letters(
    rescue: Path, terminal: Open, do: Do, code_page: str, term: str
) -> None:
    window = terminal("animal", "add", PYTHONIOENCODING=code_page, TERM=term)
    window.until("Saffron:")
    window.type("Käfer")
    window.until("bearded dragon")
    window.type("corn snake")
    for _ in range(3):
        window.until("]:")
        window.type("")
    assert "Käfer" in window.until("Record this?")
    window.type("")
    assert window.ended() == 0
    assert do("animal", "list")["animals"][-1]["name"] == "Käfer"


def test_every_line_fits_the_terminal(rescue: Path, terminal: Open) -> None:
    window = terminal("sample", "add", TERM="dumb")
    window.until("Enter = Barley]:")
    for answer in ("?", "", "?", "", "", "", "", "", "?", ""):
        window.type(answer)
        window.until("]: ")
    window.type("q")
    window.ended()
    assert max(map(len, window.seen.splitlines())) < 80
