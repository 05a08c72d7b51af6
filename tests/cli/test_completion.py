"""Completing words in a shell: the right words, in every shell that typer knows, and quickly."""

import os
import subprocess
import sys

import pytest

from fecallab.cli.main import run

from .conftest import environment

HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "sqlalchemy", "PIL", "skimage")


def as_asked(shell, line):
    """Return what a shell puts into the environment when the tab key is pressed at the end of a line."""
    words = line.split(" ")
    if shell == "bash":
        return {
            "_FECALLAB_COMPLETE": "complete_bash",
            "COMP_WORDS": line,
            "COMP_CWORD": str(len(words) - 1),
        }
    return {
        "_FECALLAB_COMPLETE": f"complete_{shell}",
        "_TYPER_COMPLETE_ARGS": line,
        "_TYPER_COMPLETE_FISH_ACTION": "get-args",
        "_TYPER_COMPLETE_WORD_TO_COMPLETE": words[-1],
    }


@pytest.fixture
def completed(monkeypatch, capsys):
    """Return what the program offers, with the exit of the process that a shell starts for it."""

    def offered(shell, line):
        for name in [name for name in os.environ if "COMPLETE" in name or name.startswith("COMP_")]:
            monkeypatch.delenv(name)
        for name, text in as_asked(shell, line).items():
            monkeypatch.setenv(name, text)
        capsys.readouterr()
        with pytest.raises(SystemExit):
            run([])
        said = capsys.readouterr()
        assert said.err == ""
        return said.out

    return offered


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_a_verb_is_completed_in_every_shell(shell, completed):
    said = completed(shell, "fecallab animal we")
    assert "weigh" in said and "measure" not in said


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("fecallab doc", {"doctor"}),
        ("fecallab cal", {"calc"}),
        ("fecallab vet key ", {"make", "show"}),
        ("fecallab animal add --sp", {"--species"}),
        ("fecallab no-such-noun x", set()),
    ],
)
def test_nouns_verbs_and_options_are_completed(line, wanted, completed):
    assert set(completed("bash", line).split()) == wanted


def test_completing_loads_one_noun_and_nothing_heavy():
    code = (
        "import atexit, sys\n"
        "from fecallab.cli.nouns import NOUNS\n"
        "def tell():\n"
        f"    print(*sorted(set(sys.modules) & set({HEAVY!r})))\n"
        "    print(*(noun for noun in NOUNS if f'fecallab.cli.{noun}' in sys.modules))\n"
        "atexit.register(tell)\n"
        "from fecallab.cli.main import main\n"
        "main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**environment(), **as_asked("bash", "fecallab animal we")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.splitlines() == ["weigh", "", "animal"], done.stdout + done.stderr


def test_completion_is_set_up_by_one_command_in_the_home_folder_alone(tmp_path):
    """What the pages say: ``fecallab --install-completion``; the shell is told here, not looked for."""
    told = {
        **environment(),
        "HOME": str(tmp_path),
        "SHELL": "/bin/bash",
        "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1",
    }
    done = subprocess.run(
        [sys.executable, "-m", "fecallab", "--install-completion", "bash"],
        env=told,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    (script,) = tmp_path.glob(".bash_completions/fecallab.sh")
    assert "complete_bash" in script.read_text(encoding="utf-8")
    assert str(script) in (tmp_path / ".bashrc").read_text(encoding="utf-8")
    assert os.environ.get("HOME") != str(tmp_path)
