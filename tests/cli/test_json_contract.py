"""``--json`` on every command: one object on stdout and nothing else there, whatever happens.

``every_command.py`` names every command; a new one without a line there fails the test that walks the program.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents
from .every_command import BY_KEYS, DONE, ON_A_SERVER, ON_PICTURES, REFUSED, commands

Run = Callable[..., Said]

PROGRAM = dict(commands())


@pytest.fixture
def world(one_of_everything: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the records that the table belongs to, as the current folder."""
    home = tmp_path / "world"
    shutil.copytree(one_of_everything, home)
    monkeypatch.setenv("FECALLAB_RECORDS", str(home / "records"))
    monkeypatch.chdir(home)
    return home


def object_in(said: Said) -> dict[str, Any]:
    """Return the one object on stdout; anything beside it breaks the parser."""

    def none_of_these(word: str) -> Any:
        raise AssertionError(f"{word} is no JSON")

    found = json.loads(said.out, parse_constant=none_of_these)
    assert isinstance(found, dict)
    return found


def check_reason(reason: dict[str, str]) -> None:
    assert set(reason) == {"code", "text", "next"}
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", reason["code"]), reason
    assert reason["text"]
    assert all("\n" not in value for value in reason.values())


def check_error(said: Said, code: int) -> dict[str, str]:
    """Check what stdout holds when a command could not be done: one error with a way forward."""
    assert said.code == code, said.all
    found = object_in(said)
    assert set(found) == {"error"}
    check_reason(found["error"])
    assert found["error"]["next"]
    assert found["error"]["code"] != "fault"
    return found["error"]


def test_every_command_stands_in_the_table() -> None:
    assert set(DONE) | BY_KEYS | ON_PICTURES | ON_A_SERVER == set(PROGRAM)
    assert set(REFUSED) <= set(PROGRAM)


@pytest.mark.parametrize("name", PROGRAM)
def test_every_command_and_every_option_has_a_help_text(name: str) -> None:
    command = PROGRAM[name]
    assert command.help and command.help.strip().endswith((".", "?")), command.help
    for parameter in command.params:
        assert getattr(parameter, "help", None), f"{name}: {parameter.name}"


@pytest.mark.parametrize("name", PROGRAM)
def test_every_command_takes_json(name: str) -> None:
    options = [option for parameter in PROGRAM[name].params for option in parameter.opts]
    assert "--json" in options


def test_every_group_has_a_help_text() -> None:
    import typer

    from fecallab.cli.main import build_app

    for name, group in typer.main.get_command(build_app()).commands.items():
        assert group.help, name


@pytest.mark.parametrize("name", DONE)
def test_what_is_done_prints_one_object(
    world: Path, fecallab: Run, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if name == "demo":
        shorten_the_demo(monkeypatch)
    said = fecallab(*name.split(), *DONE[name], "--json")
    assert said.code == 0, said.all
    assert "error" not in object_in(said)


def shorten_the_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tell the first chapters without their pictures; the whole story has its own test."""
    from fecallab.cli import demo, demo_story

    whole = demo_story.steps

    def first(*given: Any) -> list[Any]:
        told = list(whole(*given))[:6]
        return [step for step in told if "--picture" not in step.words]

    monkeypatch.setattr(demo_story, "steps", first)
    monkeypatch.setattr(demo, "_slides", lambda folder: None)


@pytest.mark.parametrize("name", DONE)
def test_what_is_done_says_something_to_a_person_too(
    world: Path, fecallab: Run, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if name == "demo":
        shorten_the_demo(monkeypatch)
    said = fecallab(*name.split(), *DONE[name])
    assert said.code == 0, said.all
    assert said.out.strip() and not said.out.lstrip().startswith("{")
    assert "None" not in said.out.split() and "datetime" not in said.out
    assert not re.search(r"\d%", said.all), "a share is said with a space: 95 %"


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused_prints_every_reason_and_changes_nothing(
    world: Path, fecallab: Run, name: str
) -> None:
    before = contents(world / "records")
    said = fecallab(*name.split(), *REFUSED[name], "--json")
    assert said.code == 1, said.all
    found = object_in(said)
    assert set(found) == {"refused", "reasons"} and found["refused"] is True
    assert found["reasons"]
    for reason in found["reasons"]:
        check_reason(reason)
    assert found["reasons"][0]["next"]
    assert contents(world / "records") == before
    in_words = fecallab(*name.split(), *REFUSED[name])
    assert (in_words.code, in_words.out) == (1, "")
    assert in_words.err.count("\n") == len(found["reasons"])


@pytest.mark.parametrize("name", DONE)
def test_a_wrong_option_is_one_error(world: Path, fecallab: Run, name: str) -> None:
    error = check_error(fecallab(*name.split(), *DONE[name], "--json", "--no-such-option"), 2)
    assert error["code"] == "usage"
    assert f"fecallab {name} --help" in error["next"]


@pytest.mark.parametrize(
    "name", [name for name, node in PROGRAM.items() if any(p.required for p in node.params)]
)
def test_a_missing_word_is_one_error(world: Path, fecallab: Run, name: str) -> None:
    assert check_error(fecallab(*name.split(), "--json"), 2)["code"] == "usage"


ON_RECORDS = [name for name in DONE if any("--records" in p.opts for p in PROGRAM[name].params)]


@pytest.mark.parametrize("name", ON_RECORDS)
def test_a_folder_that_is_none_is_bad_input(
    world: Path, fecallab: Run, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FECALLAB_RECORDS", str(world))
    assert check_error(fecallab(*name.split(), *DONE[name], "--json"), 2)["code"] == "no-record-folder"


@pytest.mark.parametrize("name", ON_RECORDS)
def test_damaged_records_are_exit_3(world: Path, fecallab: Run, name: str) -> None:
    (world / "records" / "records.sqlite").write_bytes(b"not a database, but long enough to be read " * 50)
    said = fecallab(*name.split(), *DONE[name], "--json")
    assert said.code == 3, said.all
    check_reason(object_in(said)["error"])
    assert object_in(said)["error"]["code"] == "records-damaged"


@pytest.mark.parametrize(
    "words",
    [
        ("report", "exam", "E1", "--to", "exam.json/pages"),
        ("report", "case", "C1", "--to", "exam.json/pages"),
        ("records", "make", "exam.json/records"),
        ("records", "backup", "exam.json/copy"),
        ("records", "restore", "a-backup", "exam.json/restored"),
        ("demo", "exam.json/told"),
    ],
    ids=" ".join,
)
def test_a_place_that_cannot_be_written_is_one_error(
    world: Path, fecallab: Run, words: tuple[str, ...]
) -> None:
    said = fecallab(*words, "--json")
    assert said.code in (2, 3), said.all
    check_error(said, said.code)


def test_a_group_without_a_command_shows_its_help(fecallab: Run) -> None:
    for words in (("animal",), ("calc",)):
        said = fecallab(*words)
        assert said.code == 0
        assert "Usage: fecallab" in said.out
    alone = fecallab()
    assert alone.code == 0
    assert "fecallab --help" in alone.out


def test_the_demo_never_writes_into_the_records_of_whoever_tries_it(
    world: Path, fecallab: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    shorten_the_demo(monkeypatch)
    before = contents(world / "records")
    assert fecallab("demo", "told", "--no-open").code == 0
    assert contents(world / "records") == before
    assert len(fecallab("animal", "list", "--records", "told", "--json").json["animals"]) == 2
