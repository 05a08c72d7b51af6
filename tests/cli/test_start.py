"""Starting the program stays light: nothing heavy is loaded before a command needs it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from .conftest import ROOT, environment

HEAVY = (
    *("PySide6", "PyQt5", "PyQt6", "qtpy", "napari", "skimage", "pandas", "scipy", "numpy", "matplotlib"),
    *("sqlalchemy", "alembic", "pydantic", "PIL", "tifffile", "jinja2", "pillow_heif"),
)


def loaded_by(code: str) -> set[str]:
    """Return which heavy packages a piece of code loads in a fresh Python."""
    asked = f"import sys\n{code}\nprint('LOADED', *sorted(set(sys.modules) & {set(HEAVY)!r}))"
    done = subprocess.run(
        [sys.executable, "-c", asked], env=environment(), capture_output=True, text=True, check=True
    )
    return set(done.stdout.splitlines()[-1].split()[1:])


@pytest.fixture(scope="module")
def typer_itself() -> set[str]:
    """What the command line library loads for the help of a command, whatever the program."""
    return loaded_by(
        "import typer\n"
        "app = typer.Typer(rich_markup_mode=None)\n"
        "noun = typer.Typer(rich_markup_mode=None)\n"
        "@noun.command()\ndef one(word: str = typer.Option('', help='A word.')): ...\n"
        "@noun.command()\ndef two(): ...\n"
        "app.add_typer(noun, name='noun')\n"
        "try: app(['noun', 'one', '--help'])\nexcept SystemExit: pass"
    )


def test_the_probe_sees_what_is_loaded() -> None:
    assert "numpy" in loaded_by("import numpy")


def test_importing_the_package_loads_nothing_heavy() -> None:
    assert loaded_by("import fecallab") == set()


def test_the_first_help_loads_nothing_heavy() -> None:
    assert loaded_by("from fecallab.cli.main import run\nassert run(['--help']) == 0") == set()


@pytest.mark.parametrize(
    "words",
    [
        ["--version"],
        ["animal", "--help"],
        ["exam", "add", "--help"],
        ["calc", "dose", "--help"],
        ["no-such-command"],
    ],
    ids=" ".join,
)
def test_help_of_a_command_loads_nothing_heavy_by_our_doing(words: list[str], typer_itself: set[str]) -> None:
    run = f"from fecallab.cli.main import run\nassert run({words!r}) in (0, 2)"
    assert loaded_by(run) <= typer_itself
    assert not typer_itself & {"numpy", "scipy", "sqlalchemy", "pandas", "matplotlib", "skimage"}


def test_a_calculator_needs_no_database() -> None:
    run = "from fecallab.cli.main import run\nassert run(['calc', 'density', '--counts', '0,2,1']) == 0"
    assert not loaded_by(run) & {"sqlalchemy", "alembic", "PIL", "matplotlib", "pandas", "skimage"}


def test_the_help_that_loads_nothing_says_what_the_whole_program_says() -> None:
    """Names and help stand in a table, so that the first help need not load every command."""
    import typer

    from fecallab.cli.main import build_app
    from fecallab.cli.nouns import COMMANDS, NOUNS

    whole = typer.main.get_command(build_app())
    light = typer.main.get_command(build_app(""))
    assert list(light.commands) == list(whole.commands)
    for name, command in whole.commands.items():
        assert light.commands[name].help == command.help, name
    assert {*NOUNS, *(name for names in COMMANDS.values() for name in names)} == set(whole.commands)


@pytest.mark.parametrize("words", [["animal", "list", "--help"], ["due", "--help"], ["history", "--help"]])
def test_only_the_module_of_the_command_is_loaded(words: list[str]) -> None:
    code = (
        "import sys\nfrom fecallab.cli.main import run\n"
        f"assert run({words!r}) == 0\n"
        "from fecallab.cli.nouns import NOUNS\n"
        "print('LOADED', *(name for name in NOUNS if f'fecallab.cli.{name}' in sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, check=True
    )
    assert set(done.stdout.splitlines()[-1].split()[1:]) <= {words[0]}


def test_the_marking_window_shows_a_sign_before_anything_heavy_is_loaded(empty_folder) -> None:
    code = (
        "import sys\n"
        "from napari_fecallab import window\n"
        "def first_sign(*given):\n"
        f"    print('LOADED', *sorted(set(sys.modules) & {set(HEAVY) - {'PySide6', 'qtpy'}!r}))\n"
        "    raise SystemExit\n"
        "window._first_sign = first_sign\n"
        "import importlib.util\n"
        "importlib.util.find_spec = lambda name: name\n"
        "from fecallab.cli.main import run\n"
        f"run(['mark', 'E1', '--records', {str(empty_folder)!r}])"
    )
    plugins = str(ROOT / "plugins")
    there = environment()
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**there, "PYTHONPATH": os.pathsep.join([plugins, there["PYTHONPATH"]])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Opening E1" in done.stderr, done.stderr
    loaded = set(done.stdout.splitlines()[-1].split()[1:])
    assert done.stdout.splitlines()[-1].startswith("LOADED") and loaded <= {"pydantic"}  # typer's own
