"""``--json`` on every command: one object on stdout and nothing else there, whatever happens.

The table below names every command; a new command without a line here fails the test that walks the program.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from .conftest import FLOAT, PLAN, Said, contents

Run = Callable[..., Said]

EXAM = """{"target": "oxyurid", "stage": "egg", "sample": {"origin": "stool", "owner": "animal"},
"preparations": [], "counts": {}, "unsure": []}"""
HISTORY = """{"case": {"target": "oxyurid", "opened": "2025-03-04"}, "plan": null, "exams": [
{"sample_collected": "2025-03-04", "result": "positive"}], "doses": [], "events": [], "today": "2025-03-05"}"""

DONE: dict[str, tuple[str, ...]] = {
    "animal add": ("Barley", "--species", "Testudo hermanni"),
    "animal weigh": ("Saffron", "320"),
    "animal list": (),
    "animal show": ("Saffron",),
    "animal event": ("Saffron", "brumation", "--from", "2025-11-01"),
    "sample add": ("Saffron", "--passed-from", "2025-04-01 08:00", "--form", "soft"),
    "sample list": (),
    "exam add": ("S2", *FLOAT, "--objective", "10", "--counts", "0,0,1", "--of", "coccidian"),
    "exam prepare": ("E1", "--method", "iodine_smear", "--objective", "40", "--share", "0.4"),
    "exam read": ("E1-1", "--objective", "10", "--counts", "0,0", "--of", "oxyurid"),
    "exam elsewhere": (
        *("Saffron", "--target", "oxyurid", "--result", "negative", "--from", "Lab Ouk"),
        *("--method", "flotation", "--collected", "2025-05-05"),
    ),
    "exam show": ("E1", "--target", "coccidian"),
    "case open": ("Saffron", "flagellate", "--vet", "Dr Ilse Varnholt"),
    "case list": (),
    "case show": ("C1",),
    "case close": ("C1", "--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "moved"),
    "plan add": ("C1", "--vet", "Dr Ilse Varnholt", "--goal", "watch, no treatment"),
    "plan show": ("C1",),
    "dose work-out": ("C1", "--at", "2025-03-07 08:10"),
    "dose give": ("C1", "--at", "2025-03-07 08:15"),
    "care log": ("Saffron", "fluids", "6"),
    "report exam": ("E1", "--to", "pages"),
    "report case": ("C1", "--to", "pages"),
    "records make": ("fresh",),
    "records check": (),
    "records backup": ("copy",),
    "records restore": ("a-backup", "restored"),
    "reference list": (),
    "reference show": ("organisms", "--key", "oxyurid"),
    "calc adequacy": ("exam.json",),
    "calc standing": ("history.json",),
    "calc density": ("--counts", "0,2,1"),
    "calc epg": ("--count", "3", "--sample-g", "2", "--suspension-ml", "30", "--counted-ml", "0.3"),
    "calc field": ("--field-number", "20", "--objective", "10"),
    "calc residual": ("--prior", "0.5", "--sensitivity", "0.5", "--negatives", "3"),
    "calc reduction": ("--before", "40,31", "--after", "2,0", "--paired"),
    "calc agreement": ("--table", "20,5;10,15"),
    "calc dose": (
        *("--weight-g", "317", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100"),
        *("--drug", "fenbendazole", "--taxon", "Pogona vitticeps"),
    ),
    "due": (),
    "correct": ("W1", "mass_g=318", "--reason", "read wrong"),
    "withdraw": ("W2", "--reason", "another animal"),
    "history": ("A1",),
    "demo": ("told", "--no-open"),
}
"""Words with which each command is done on the records of `world`."""

REFUSED: dict[str, tuple[str, ...]] = {
    "case close": ("C1",),
    "dose work-out": ("C1", "--at", "2025-06-07 08:10"),
    "dose give": ("C1", "--at", "2025-06-07 08:10"),
    "plan add": ("C2", "--vet", "Dr Ilse Varnholt"),
}
"""Words with which a command refuses an act or a dose."""

WRITES_ELSEWHERE = ("records", "report", "demo")


def commands() -> Iterator[tuple[str, Any]]:
    """Walk the program: every command with the words that call it."""
    import typer

    from fecallab.cli.main import build_app

    def walk(node: Any, words: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
        below = getattr(node, "commands", None)
        if below is None:
            yield " ".join(words), node
            return
        for name, child in below.items():
            yield from walk(child, (*words, name))

    yield from walk(typer.main.get_command(build_app()), ())


PROGRAM = dict(commands())


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records with an animal, two stools, an exam, a case with a plan, a closed case, and a backup; made once."""
    from fecallab.cli.main import run

    home = tmp_path_factory.mktemp("told")
    there = ("--records", str(home / "records"), "--by", "Mara Quell")
    assert run(["records", "make", str(home / "records")]) == 0
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "moved")
    for words in (
        ("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult"),
        ("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00"),
        ("animal", "weigh", "Saffron", "999", "--at", "2025-02-01 08:00"),
        ("sample", "add", "Saffron", "--passed-from", "2025-03-04 08:00", "--mass-g", "2", "--kept", "room"),
        ("sample", "add", "Saffron", "--passed-from", "2025-03-20 08:00"),
        ("exam", "add", "S1", *FLOAT, "--objective", "10", "--counts", "0,2", "--of", "oxyurid"),
        ("plan", "add", "C1", *PLAN),
        ("case", "open", "Saffron", "ciliate", "--vet", "Dr Ilse Varnholt"),
        ("case", "close", "C2", *order),
    ):
        assert run([*words, *there]) == 0, words
    assert run(["records", "backup", str(home / "a-backup"), *there[:2]]) == 0
    return home


@pytest.fixture
def world(told: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of `told`, as the current folder; forms lie beside it."""
    home = tmp_path / "world"
    shutil.copytree(told, home)
    (home / "exam.json").write_text(EXAM, encoding="utf-8")
    (home / "history.json").write_text(HISTORY, encoding="utf-8")
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
    assert set(DONE) == set(PROGRAM)
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


@pytest.mark.parametrize("name", PROGRAM)
def test_a_wrong_option_is_one_error(world: Path, fecallab: Run, name: str) -> None:
    error = check_error(fecallab(*name.split(), *DONE[name], "--json", "--no-such-option"), 2)
    assert error["code"] == "usage"
    assert f"fecallab {name} --help" in error["next"]


@pytest.mark.parametrize(
    "name", [name for name, node in PROGRAM.items() if any(p.required for p in node.params)]
)
def test_a_missing_word_is_one_error(world: Path, fecallab: Run, name: str) -> None:
    assert check_error(fecallab(*name.split(), "--json"), 2)["code"] == "usage"


ON_RECORDS = [name for name, node in PROGRAM.items() if any("--records" in p.opts for p in node.params)]


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
    for words in ((), ("animal",), ("calc",)):
        said = fecallab(*words)
        assert said.code == 0
        assert "Usage: fecallab" in said.out


def test_the_demo_never_writes_into_the_records_of_whoever_tries_it(
    world: Path, fecallab: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    shorten_the_demo(monkeypatch)
    before = contents(world / "records")
    assert fecallab("demo", "told", "--no-open").code == 0
    assert contents(world / "records") == before
    assert len(fecallab("animal", "list", "--records", "told", "--json").json["animals"]) == 2
