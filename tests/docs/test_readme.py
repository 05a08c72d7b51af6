"""The first page: its two commands are the ones that CI runs, every command that it names exists."""

import re
import subprocess

import pytest

from fecallab.cli.main import run

from .conftest import DOCS, ROOT

README = ROOT / "README.md"
CI = ROOT / ".ci" / "run"
MARKED = re.compile(r"<!-- ([a-z-]+) -->\n```bash\n(.*?)```", re.S)
LARGEST_PICTURE = 250_000

pytestmark = pytest.mark.skipif(not DOCS.is_dir(), reason="the pages are in the clone only")


@pytest.fixture(scope="module")
def text():
    return README.read_text(encoding="utf-8")


def test_every_block_is_one_of_the_two_that_ci_runs(text):
    marked = MARKED.findall(text)
    assert [name for name, _ in marked] == ["main-job", "tests"]
    assert text.count("```") == 2 * len(marked), "a block without a mark is run by nobody"
    for _, block in marked:
        assert len(block.strip().splitlines()) == 1, "one command each"


@pytest.mark.skipif(not CI.is_file(), reason="this is no clone")
def test_ci_runs_the_two_commands_as_they_stand_here(text):
    script = CI.read_text(encoding="utf-8")
    (reader,) = [line for line in script.splitlines() if line.startswith("command_of()")]
    for name, block in MARKED.findall(text):
        assert f'bash -euo pipefail -c "$(command_of {name})"' in script
        done = subprocess.run(
            ["bash", "-c", f"{reader}\ncommand_of {name}"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stdout == block


def test_every_command_that_is_named_exists(text, capsys):
    named = re.findall(r"`(?:\.venv/bin/)?fecallab ([a-z]+(?: [a-z][a-z-]*)*)", text)
    assert len(named) >= 7
    for words in named:
        assert run([*words.split(), "--help"]) == 0, words
    assert "Usage: fecallab" in capsys.readouterr().out


def test_it_says_what_it_is_what_it_is_not_and_where_to_go(text):
    first = text.split("\n\n")[1]
    assert "no diagnosis" in first and "never chooses a drug or a dose" in first
    assert "## What next" in text and "## What it is not" in text
    where = {*re.findall(r"\]\((docs/[^)#]+\.md)\)", text)}
    assert {"docs/tutorial.md", "docs/how-to/index.md", "docs/windows.md", "docs/glossary.md"} <= where


def test_a_picture_of_the_window_and_one_of_a_report_are_there_and_small(text):
    shown = re.findall(r"!\[([^\]]{40,})\]\((docs/pictures/[\w-]+\.png)\)", text)
    assert len(shown) == 2
    for _, name in shown:
        assert 5_000 < (ROOT / name).stat().st_size < LARGEST_PICTURE, name
    scripts = "".join(path.read_text(encoding="utf-8") for path in DOCS.glob("make_*.py"))
    assert 'f"window-{name}.png"' in scripts and '"measured"' in scripts and '"report-case.png"' in scripts
