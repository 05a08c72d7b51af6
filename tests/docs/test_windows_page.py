"""The page for Windows: what can be run elsewhere is run, the rest is held against what it speaks of."""

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from fecallab.cli.main import run

from .conftest import DOCS, ROOT

PAGE = DOCS / "windows.md"
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)
PROGRAM = r".venv\Scripts\fecallab"
SET_UP = {
    "py --version",
    "py -m venv .venv",
    r'.venv\Scripts\python -m pip install -e ".[napari]"',
    r".venv\Scripts\python -m pip install -e .",
    r".venv\Scripts\Activate.ps1",
    r".venv\Scripts\activate.bat",
    "Set-ExecutionPolicy -Scope Process -ExecutionPolicy RemoteSigned",
}
"""What only Windows can run; its Linux twin is the README's first command, which CI runs."""
NAMES_THE_RECORDS = re.compile(
    r'(?:\$env:FECALLAB_RECORDS = "|set FECALLAB_RECORDS=)C:\\Users\\\.\.\.\\[^"]+"?'
)

pytestmark = pytest.mark.skipif(not PAGE.is_file(), reason="the pages are in the clone only")


def lines():
    for kind, block in BLOCK.findall(PAGE.read_text(encoding="utf-8")):
        assert kind in ("powershell", "bat"), kind
        yield from block.strip().splitlines()


def test_every_line_is_run_here_or_is_one_that_only_windows_can_run(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for name in ("FECALLAB_RECORDS", "FECALLAB_ASK"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("FECALLAB_BY", "Käthe")
    done = []
    for line in lines():
        if line in SET_UP or NAMES_THE_RECORDS.fullmatch(line):
            continue
        words = shlex.split(line.replace(PROGRAM, "fecallab").replace("\\", "/"))
        if words[0] == "cd":
            monkeypatch.chdir(tmp_path / words[1])
            continue
        assert words[0] == "fecallab", f"neither run here nor known: {line}"
        if words[1:] == ["demo"]:
            continue  # the README's first command ends with it
        assert run(words[1:]) == 0, (line, capsys.readouterr().err)
        done.append(" ".join(words[1:3]))
    said = capsys.readouterr().out
    assert {"records make", "animal add", "due", "records backup", "records check", "doctor", ""} <= set(done)
    assert "Rübe" in said and "Everything is there." in said
    assert (tmp_path / "Käthes Tiere" / "records.sqlite").is_file() and (tmp_path / "backup").is_dir()


def test_every_fecallab_that_is_spoken_of_is_a_command(capsys):
    spoken = re.findall(
        r"`(?:\.venv\\Scripts\\)?fecallab ([a-z]+(?: [a-z][a-z-]*)*)", PAGE.read_text(encoding="utf-8")
    )
    assert len(spoken) >= 2
    for words in spoken:
        assert run([*words.split(), "--help"]) == 0, words
    assert "Usage: fecallab" in capsys.readouterr().out


def test_what_is_installed_and_named_is_there():
    text = PAGE.read_text(encoding="utf-8")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert set(re.findall(r'"?\.\[(\w+)\]"', text)) <= set(project["optional-dependencies"])
    assert project["scripts"]["fecallab"] and project["requires-python"] == ">=3.11" and "Python 3.11" in text
    window = (ROOT / "plugins" / "napari_fecallab" / "window.py").read_text(encoding="utf-8")
    assert (
        "GenericConfigLocation" in window and '"fecallab" / "window.yaml"' in window
    )  # %LOCALAPPDATA% there


def test_no_address_but_that_of_python_is_named():
    text = PAGE.read_text(encoding="utf-8")
    assert "://" not in text
    assert set(re.findall(r"\b[\w-]+\.(?:org|com|net|io|dev)\b", text)) == {"python.org"}


def test_the_first_page_leads_here():
    assert "(docs/windows.md)" in (ROOT / "README.md").read_text(encoding="utf-8")
    assert Path(PAGE).name in (DOCS / "index.md").read_text(encoding="utf-8")
