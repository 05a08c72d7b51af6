"""Texts come back as they were typed, or are one clear line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said
from .kept import kept, refused_as_bad, told

__all__ = ["kept", "refused_as_bad", "told"]

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]


TEXTS = {
    "quotes": 'Tilda\'s “the tank” "T" `x` \\n %s {0} $HOME',
    "tags": "<b>bold</b><script>alert(1)</script>&amp;</td>",
    "sql": "'); DROP TABLE animals;--",
    "emoji": "🐢 👩‍🔬 🇸🇪 e\u0301 ﷽",
    "right to left": "\u202eevil\u202c سلحفاة \u200f",
    "option": "--reason",
    "long": "x" * 19_000,
}
TEXT_OPTIONS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "animal add": (("New",), ("--species", "--enclosure", "--remark")),
    "animal weigh": (("Saffron", "318"), ("--state", "--remark")),
    "animal event": (("Saffron", "brumation"), ("--remark",)),
    "sample add": (("Saffron",), ("--remark",)),
    "exam add": (("S1", "--method", "iodine_smear"), ("--question", "--remark", "--solution")),
    "exam prepare": (("E1", "--method", "iodine_smear"), ("--solution", "--remark")),
    "exam elsewhere": (
        ("Saffron", "--target", "oxyurid", "--result", "negative", "--collected", "2025-05-05"),
        ("--from", "--method", "--grade", "--remark"),
    ),
    "case open": (("Saffron", "ciliate", "--vet", "V"), ("--species",)),
    "plan add": (("C1",), ("--vet", "--fluids", "--feeding", "--remark")),
    "case close": (("C1", "--ending", "on a vet's order"), ("--vet", "--reason")),
    "care log": (("Saffron", "cleaning"), ("--remark",)),
    "correct": (("A1", "adult=no"), ("--reason",)),
}
NEEDED = {
    "exam elsewhere": ("--from", "--method"),
    "plan add": ("--vet",),
    "case close": ("--vet", "--reason"),
}


def words_for(name: str, option: str, text: str) -> list[str]:
    fixed, _ = TEXT_OPTIONS[name]
    others = [word for other in NEEDED.get(name, ()) if other != option for word in (other, "Ouk")]
    return [*name.split(), *fixed, *others, f"{option}={text}"]


def strings_in(value: Any) -> list[str]:
    if isinstance(value, dict):
        return [text for part in value.values() for text in strings_in(part)]
    if isinstance(value, list):
        return [text for part in value for text in strings_in(part)]
    return [value] if isinstance(value, str) else []


EVERY_TEXT = [(name, option) for name, (_, options) in TEXT_OPTIONS.items() for option in options]


@pytest.mark.parametrize(("name", "option"), EVERY_TEXT, ids=[f"{n} {o}" for n, o in EVERY_TEXT])
def test_every_text_comes_back_as_it_was_typed(
    do: Do, fecallab: Run, kept: Path, name: str, option: str
) -> None:
    together = " ".join(text for kind, text in TEXTS.items() if kind not in ("option", "long"))
    for number, text in enumerate((together, TEXTS["option"], TEXTS["long"])):
        if name in ("case close", "case open") and number:
            break
        words = words_for(name, option, text)
        words = [f"{word} {number}" if word == "New" else word for word in words]
        if name == "animal event":
            words += ["--from", f"2025-0{number + 1}-01", "--to", f"2025-0{number + 1}-20"]
        if name == "correct":
            words = [f"remark={number}" if word == "adult=no" else word for word in words]
        answer = do(*words)
        found = strings_in(answer) if name != "correct" else strings_in(do("history", "A1"))
        assert text in found
    shown = {
        "plan add": ("plan", "show", "C1"),
        "exam": ("exam", "show", "E1"),
        "case": ("case", "show", "C1"),
    }
    words = shown.get(name, shown.get(name.split()[0], ("animal", "show", "Saffron")))
    assert fecallab(*words).code == 0
    assert fecallab("due").code == 0


@pytest.mark.parametrize("text", [text for name, text in TEXTS.items() if name not in ("option", "long")])
def test_a_name_comes_back_and_is_found_again(do: Do, fecallab: Run, folder: Path, text: str) -> None:
    assert do("animal", "add", text)["animal"]["name"] == text
    assert do("animal", "show", text)["animal"]["name"] == text
    assert fecallab("animal", "list").code == 0
    assert text in fecallab("animal", "list").out or "\u202e" in text


@pytest.mark.parametrize(("name", "option"), EVERY_TEXT, ids=[f"{n} {o}" for n, o in EVERY_TEXT])
def test_what_no_text_can_hold_is_one_line(
    refused_as_bad: Callable[..., str], name: str, option: str
) -> None:
    assert "U+0000" in refused_as_bad(*words_for(name, option, "a\0b"))
    refused_as_bad(*words_for(name, option, "half \ud83d of an emoji"))
    refused_as_bad(*words_for(name, option, "\x1b[2J"))
    assert "is the limit" in refused_as_bad(*words_for(name, option, "x" * 50_000))


def test_a_remark_may_have_lines_and_a_name_may_not(do: Do, refused_as_bad: Callable[..., str]) -> None:
    note = "first\nsecond\tcolumn"
    assert do("sample", "add", "Saffron", "--remark", note)["sample"]["remark"] == note
    refused_as_bad("animal", "add", "two\nlines")


def test_who_records_is_checked_too(refused_as_bad: Callable[..., str], monkeypatch: Any) -> None:
    refused_as_bad("animal", "weigh", "Saffron", "318", "--by", "a\0b")
    monkeypatch.setenv("FECALLAB_BY", "two\nlines")
    refused_as_bad("animal", "weigh", "Saffron", "318")
