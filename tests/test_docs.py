"""The pages are run as they stand, and name every command."""

import re
import shlex
import shutil
from pathlib import Path

import pytest

from fecallab.cli.main import run

ROOT = Path(__file__).parent.parent
BLOCK = re.compile(r"```console( refused)?\n(.*?)```", re.S)
needs_clone = pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="the pages are in the clone only")


@needs_clone
def test_by_hand_works_as_written(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FECALLAB_BY", "Mara")
    text = (ROOT / "docs" / "by-hand.md").read_text(encoding="utf-8")
    blocks = BLOCK.findall(text)
    assert len(blocks) > 12
    said = ""
    for refused, commands in blocks:
        for line in commands.strip().splitlines():
            words = shlex.split(line)
            if words[0] == "cd":
                monkeypatch.chdir(words[1])
                shutil.copytree(ROOT / "sample_slides", "slides")
                continue
            assert words[0] == "fecallab"
            code = run(words[1:])
            out = capsys.readouterr()
            said += out.out
            assert code == (1 if refused else 0), (line, out.out, out.err)
    assert "course done, not confirmed: waiting until 17 April 2026" in said
    assert "1 of 3; next stool on or after 2 May 2026" in said
    assert "clear by the rule" in said


@needs_clone
def test_arrivals_works_as_written(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FECALLAB_BY", "Mara")
    blocks = BLOCK.findall((ROOT / "docs" / "arrivals.md").read_text(encoding="utf-8"))
    assert len(blocks) >= 12
    said = ""
    for refused, commands in blocks:
        for line in commands.strip().splitlines():
            words = shlex.split(line)
            if words[0] == "cd":
                monkeypatch.chdir(words[1])
                continue
            assert words[0] == "fecallab"
            code = run(words[1:])
            out = capsys.readouterr()
            said += out.out + out.err
            assert code == (1 if refused else 0), (line, out.out, out.err)
    assert "Case C1 opened: coccidian" in said
    assert "litter 2 and litter 1: have shared tools “tongs of room 1” since 2 March 2026" in said
    assert "Refused (not-yet): May they mix? not yet" in said
    assert "released before time on the order of Dr Ilse Varnholt: goes to another quarantine" in said
    assert "never with chelonians" in said
    assert len(list((tmp_path / "nursery" / "pages").glob("*.html"))) >= 2


@needs_clone
def test_links_between_pages_lead_somewhere():
    for page in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")]:
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), (page.name, target)


@needs_clone
def test_python_works_as_written(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FECALLAB_BY", "Mara")
    there = ["--records", "my-records"]
    for words in (
        ["records", "make", "my-records"],
        ["animal", "add", "Saffron", "--species", "Pogona vitticeps", *there],
        ["animal", "weigh", "Saffron", "318", *there],
    ):
        assert run(words) == 0
    capsys.readouterr()
    text = (ROOT / "docs" / "from-python.md").read_text(encoding="utf-8")
    names = {}
    for block in re.findall(r"```python\n(.*?)```", text, re.S):
        exec(compile(block, "from-python.md", "exec"), names)
    said = capsys.readouterr().out
    assert "Saffron" in said and "1350 eggs per gram" in said and "0 proposals" in said
