"""The program as a person runs it: in this process for speed, as a real process where streams matter."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
KEEPER = "Mara Quell"


@dataclass(frozen=True)
class Said:
    """What one run said, where, and how it ended."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found

    @property
    def error(self) -> dict[str, str]:
        return self.json["error"]

    @property
    def all(self) -> str:
        return self.out + self.err


DAY_IN_FIGURES = re.compile(r"\d{4}-\d\d-\d\d")
TO_COPY = re.compile(
    r"'[^'\n]*'|\"[^\"\n]*\""  # quoted: what was given, as it was given
    r"|\S*[/\\\\]\S*|\S+\.(?:pdf|html|csv|json|jpg|png|txt)\b"  # a file
    r"|For example [^,\n]*"  # an example to type
    r"|(?:fecallab|Type:|--|[a-z_]+=)[^;.\n]*"  # a command, an option or a value to type
)
"""What a person copies and does not read aloud: there a day stays as it is typed."""


def days_not_spelled(text: str) -> list[str]:
    """Return the days that people would have to read as numbers: ``2025-03-04`` instead of 4 March 2025."""
    lines = [line for line in text.splitlines() if DAY_IN_FIGURES.search(line)]
    return [day for line in lines for day in DAY_IN_FIGURES.findall(TO_COPY.sub("", line))]


@pytest.fixture(autouse=True)
def keeper(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The same person everywhere, no records of whoever runs the tests, and a terminal of one width."""
    monkeypatch.setenv("FECALLAB_BY", KEEPER)
    monkeypatch.delenv("FECALLAB_RECORDS", raising=False)
    monkeypatch.delenv("FECALLAB_TRACE", raising=False)
    monkeypatch.setenv("COLUMNS", "110")
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def fecallab(capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """Run one command in this process: ``fecallab("animal", "list")``; what it says to people spells its days."""
    from fecallab.cli.main import run

    def run_it(*words: str | Path) -> Said:
        capsys.readouterr()
        code = run([str(word) for word in words])
        said = capsys.readouterr()
        if "--json" not in words:
            assert not days_not_spelled(said.out + said.err), said.out + said.err
        return Said(code, said.out, said.err)

    return run_it


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty record folder, made once and copied for every test."""
    from fecallab.cli.main import run

    made = tmp_path_factory.mktemp("empty") / "records"
    assert run(["records", "make", str(made)]) == 0
    return made


@pytest.fixture(scope="session")
def one_of_everything(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """The folder in which every command has something to do, made once; to be copied, never worked in."""
    from .every_command import tell

    return tell(tmp_path_factory.mktemp("everything"), empty_folder)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, empty_folder: Path) -> Path:
    """A new record folder, named by the environment."""
    made = tmp_path / "records"
    shutil.copytree(empty_folder, made)
    monkeypatch.setenv("FECALLAB_RECORDS", str(made))
    return made


@pytest.fixture
def do(folder: Path, fecallab: Callable[..., Said]) -> Callable[..., dict[str, Any]]:
    """Run one command with ``--json`` that must be done; return its answer."""

    def run_it(*words: str | Path) -> dict[str, Any]:
        said = fecallab(*words, "--json")
        assert said.code == 0, said.all
        return said.json

    return run_it


@pytest.fixture
def say(folder: Path, fecallab: Callable[..., Said]) -> Callable[..., str]:
    """Run one command that must be done; return what it says to a person."""

    def run_it(*words: str | Path) -> str:
        said = fecallab(*words)
        assert said.code == 0, said.all
        return said.out

    return run_it


@pytest.fixture
def process(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run one command as a process of its own, with real streams and a real exit code."""

    def run_it(*words: str | Path, **more: Any) -> subprocess.CompletedProcess[str]:
        return subprocess.run(command(*words), env=environment(), cwd=tmp_path, text=True, timeout=60, **more)

    return run_it


def command(*words: str | Path) -> list[str]:
    return [sys.executable, "-m", "fecallab.cli.main", *map(str, words)]


def environment() -> dict[str, str]:
    paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths), "PYTHONIOENCODING": "utf-8"}


def contents(folder: Path) -> dict[str, str]:
    """Every fact and every file of a record folder: what must be the same after a command that failed."""
    import sqlite3

    found: dict[str, str] = {}
    with contextlib.closing(sqlite3.connect(folder / "records.sqlite")) as database:
        database.text_factory = bytes
        schema = database.execute("SELECT type, name, sql FROM sqlite_schema ORDER BY type, name").fetchall()
        whole = hashlib.sha256(repr(schema).encode())
        for kind, name, _ in schema:
            if kind == b"table":
                query = f'SELECT rowid, * FROM "{name.decode()}" ORDER BY rowid'
                whole.update(repr(database.execute(query).fetchall()).encode())
        found["database"] = whole.hexdigest()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not path.name.startswith("records.sqlite"):
            found[path.relative_to(folder).as_posix()] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def told(into: Path, empty_folder: Path, *acts: tuple[str, ...]) -> Path:
    """Carry commands out in new records, once, for tests that begin with a copy of them."""
    from fecallab.cli.main import run

    made = shutil.copytree(empty_folder, into / "records")
    for words in acts:
        assert run([*words, "--records", str(made), "--by", KEEPER]) == 0, words
    return made


def begin_with(folder: Path, made: Path) -> None:
    """Put a copy of records in the place of an empty folder."""
    shutil.rmtree(folder)
    shutil.copytree(made, folder)


FLOAT = ("--method", "simple_flotation", "--gravity", "1.20", "--gravity-checked", "--standing-minutes", "15")
"""A float that could show eggs and oocysts."""


@pytest.fixture
def stool(do: Callable[..., dict[str, Any]]) -> Callable[..., str]:
    """Record a fresh stool of an animal on a day; return its code."""

    def add(animal: str, day: str, *more: str) -> str:
        words = ("--passed-from", f"{day} 06:30", "--passed-to", f"{day} 08:00")
        kept = ("--form", "soft", "--kept", "room", "--mass-g", "1.4")
        code: str = do("sample", "add", animal, *words, *kept, *more)["sample"]["code"]
        return code

    return add


@pytest.fixture
def float_exam(do: Callable[..., dict[str, Any]], stool: Callable[..., str]) -> Callable[..., dict[str, Any]]:
    """Record a stool and a float of the whole cover glass; ``seen`` is what it showed."""

    def add(animal: str, day: str, seen: str = "oxyurid=0", *more: str) -> dict[str, Any]:
        read = ("--read-at", f"{day} 09:00", "--objective", "10", "--share", "1", "--seen", seen)
        return do("exam", "add", stool(animal, day), *FLOAT, *read, *more)

    return add


SAFFRON = ("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
STOOL_OF_4_MARCH = (
    *("sample", "add", "Saffron", "--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00"),
    *("--form", "soft", "--kept", "room", "--mass-g", "1.4"),
)
FLOAT_OF_4_MARCH = ("exam", "add", "S1", *FLOAT, "--read-at", "2025-03-04 09:00")


@pytest.fixture(scope="session")
def case_folder(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records with the case of `case`, made once."""
    seen = ("--objective", "10", "--share", "1", "--seen", "oxyurid=3")
    into = tmp_path_factory.mktemp("case")
    return told(into, empty_folder, SAFFRON, STOOL_OF_4_MARCH, (*FLOAT_OF_4_MARCH, *seen))


@pytest.fixture
def case(folder: Path, case_folder: Path) -> str:
    """A lizard called Saffron with a case of oxyurids from 4 March 2025."""
    begin_with(folder, case_folder)
    return "C1"


PLAN = (
    *("--vet", "Dr Ilse Varnholt", "--written", "2025-03-06", "--drug", "fenbendazole"),
    *("--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100", "--route", "by mouth"),
    *("--interval-days", "14", "--doses", "2", "--goal", "clear"),
)


@pytest.fixture(scope="session")
def treated_folder(tmp_path_factory: pytest.TempPathFactory, case_folder: Path) -> Path:
    """Records with the case of `treated`, made once."""
    acts: list[tuple[str, ...]] = [("plan", "add", "C1", *PLAN)]
    for day, mass in (("2025-03-07", "317"), ("2025-03-21", "321")):
        acts.append(("animal", "weigh", "Saffron", mass, "--at", f"{day} 08:00"))
        acts.append(("dose", "give", "C1", "--at", f"{day} 08:15"))
    return told(tmp_path_factory.mktemp("treated"), case_folder, *acts)


@pytest.fixture
def treated(folder: Path, treated_folder: Path) -> str:
    """The same case with a plan and both its doses, on 7 and 21 March 2025."""
    begin_with(folder, treated_folder)
    return "C1"


@pytest.fixture(scope="session")
def preparation_folder(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records with the float of `preparation`, made once."""
    return told(
        tmp_path_factory.mktemp("preparation"), empty_folder, SAFFRON, STOOL_OF_4_MARCH, FLOAT_OF_4_MARCH
    )


@pytest.fixture
def preparation(folder: Path, preparation_folder: Path) -> str:
    """A float of a dragon's stool, not read yet."""
    begin_with(folder, preparation_folder)
    return "E1-1"


@pytest.fixture(scope="session")
def rescue_folder(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records with a lizard and a tortoise, made once."""
    saffron = ("--species", "Pogona vitticeps", "--adult", "--enclosure", "vivarium 4", "--weight-g", "318")
    barley = ("--species", "Testudo hermanni", "--adult", "--enclosure", "table 2", "--weight-g", "642")
    return told(
        tmp_path_factory.mktemp("rescue"),
        empty_folder,
        ("animal", "add", "Saffron", *saffron),
        ("animal", "add", "Barley", *barley),
    )
