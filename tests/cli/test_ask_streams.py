"""At the questions: keys that stop, streams that are no terminal, code pages and odd bytes."""

from __future__ import annotations

import ast
import ctypes
import io
import subprocess
import sys
import types
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fecallab.cli.ask import is_terminal, may_ask

from .asking import rescue, typed
from .conftest import ROOT, Said, command, contents, environment

__all__ = ["rescue", "typed"]
Typed = Callable[..., Said]
Do = Callable[..., dict[str, Any]]


def test_ctrl_c_at_a_question_ends_with_one_line_and_130(
    rescue: Path, typed: Typed, monkeypatch: Any
) -> None:
    class Pressed(io.StringIO):
        def readline(self, *_: Any) -> str:
            raise KeyboardInterrupt

    before = contents(rescue)
    monkeypatch.setenv("FECALLAB_ASK", "1")
    monkeypatch.setattr(sys, "stdin", Pressed())
    from fecallab.cli.main import run

    assert run(["sample", "add"]) == 130
    assert contents(rescue) == before


def test_nothing_that_only_unix_has_is_loaded_by_the_questions() -> None:
    """No curses, no termios, nothing of the kind; the line editor is loaded only where there is one."""
    only_unix = {"curses", "termios", "tty", "fcntl", "pty", "pwd", "grp", "resource", "signal"}
    modules = [
        *(ROOT / "fecallab" / "cli" / "ask").glob("*.py"),
        *(ROOT / "fecallab" / "cli").glob("start_*.py"),
    ]
    assert len(modules) > 15
    for module in modules:
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not only_unix.intersection(name.partition(".")[0] for name in names), module


def test_it_works_without_the_line_editor_of_unix(
    rescue: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "readline", None)
    monkeypatch.setenv("TERM", "xterm")
    assert typed(["animal", "weigh"], "", "650", "").code == 0


class Handle:
    """A stream of Windows that says it is a terminal."""

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return 0


@pytest.mark.parametrize("is_console", [True, False])
def test_the_nul_device_of_windows_is_no_terminal(monkeypatch: pytest.MonkeyPatch, is_console: bool) -> None:
    """There it says that it is a terminal; the console itself is asked (simulated, no Windows was at hand)."""
    kernel = types.SimpleNamespace(GetConsoleMode=lambda handle, mode: int(is_console))
    monkeypatch.setattr(ctypes, "windll", types.SimpleNamespace(kernel32=kernel), raising=False)
    windows = types.SimpleNamespace(get_osfhandle=lambda number: 4)
    monkeypatch.setitem(sys.modules, "msvcrt", windows)  # type: ignore[arg-type]
    monkeypatch.setattr("fecallab.cli.ask.sys", types.SimpleNamespace(platform="win32"))
    assert is_terminal(Handle()) is is_console


def test_json_and_help_are_never_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FECALLAB_ASK", "1")
    assert may_ask(["animal", "weigh"])
    assert not may_ask(["animal", "weigh", "--json"])
    assert not may_ask(["animal", "weigh", "-h"])
    monkeypatch.setenv("FECALLAB_ASK", "0")
    assert not may_ask(["animal", "weigh"])


def test_without_a_terminal_nothing_is_asked(
    process: Callable[..., subprocess.CompletedProcess[str]],
) -> None:
    done = process("animal", "weigh", stdin=subprocess.DEVNULL, capture_output=True)
    assert done.returncode == 2
    assert "Missing" in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize("code_page", ["cp437", "cp1252", "ascii", "utf-8"])
def test_questions_can_be_read_in_any_code_page(rescue: Path, code_page: str) -> None:
    """What the code page lacks is written with plain signs: 40x for 40×, never a question mark."""
    more = {
        "PYTHONIOENCODING": code_page,
        "FECALLAB_ASK": "1",
        "FECALLAB_RECORDS": str(rescue),
        "TERM": "dumb",
    }
    subprocess.run(
        command("sample", "add", "Saffron", "--form", "soft"), env=environment() | more, check=True
    )
    done = subprocess.run(
        command("exam", "add"),
        input="\nsaline\nw\n\n?\n".encode(code_page),
        env=environment() | more,
        capture_output=True,
        check=False,
    )
    said = " ".join(done.stdout.decode(code_page).split())
    assert done.returncode == 130
    assert "Was it read with the 40× objective?" in said or "Was it read with the 40x objective?" in said
    assert "20 °C" in said or "20 deg C" in said
    assert done.stderr.decode(code_page).count("\n") == 1


def test_bytes_that_are_no_text_are_asked_again(rescue: Path) -> None:
    more = {"PYTHONIOENCODING": "utf-8", "FECALLAB_ASK": "1", "FECALLAB_RECORDS": str(rescue)}
    done = subprocess.run(
        command("animal", "add"),
        input="Käfer\n".encode("cp1252") + "Käfer\n\n\n\n\n\n\n\n".encode(),
        env=environment() | more,
        capture_output=True,
        check=False,
    )
    assert "cannot be read as text" in done.stdout.decode()
    assert "Käfer: animal" in done.stdout.decode()
    assert done.returncode == 0, done.stderr.decode()


def test_a_control_character_is_asked_again(rescue: Path, typed: Typed) -> None:
    said = typed(["animal", "weigh"], "\x1b[A", "Barley", "\x00", "650", "")
    assert said.code == 0, said.all
    assert said.out.count("cannot be read as text") == 2
