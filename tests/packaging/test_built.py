"""The wheel and the source archive: what they hold, and that the wheel works where nothing else is installed."""

import importlib.util
import json
import os
import subprocess
import sys
import tarfile
import time
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
IN_CI = os.environ.get("FECALLAB_CI") == "1"
NOT_FOR_KEEPERS = ("pytest", "mypy", "ruff", "hypothesis", "napari", "PySide6", "playwright", "distributed")


ONE_AFTER_THE_OTHER = """
import contextlib, io, json, sys
from fecallab.cli.main import run
told = []
for words in json.loads(sys.argv[1]):
    with contextlib.redirect_stdout(io.StringIO()) as said:
        code = run(words)
    told.append((code, said.getvalue()))
print(json.dumps(told))
"""
"""A program that carries out commands and tells what each answered: one start of Python for all of them."""


def without(reason):
    """Skip with the reason; fail in CI, where everything must be there."""
    if IN_CI:
        pytest.fail(f"packaging must be tested in CI: {reason}")
    pytest.skip(reason)


def ran(*words, **more):
    return subprocess.run(
        [str(word) for word in words], capture_output=True, text=True, encoding="utf-8", **more
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Build the source archive, and the wheel out of it, as for a release; give the folder of both."""
    for tool in ("build", "hatchling", "twine"):
        if importlib.util.find_spec(tool) is None:
            without(f"{tool} is not installed")
    if not (ROOT / "pyproject.toml").is_file():
        without("this is no clone")
    folder = tmp_path_factory.mktemp("built")
    done = ran(sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture(scope="module")
def wheel(built):
    (found,) = built.glob("fecallab-*.whl")
    return found


def files_below(folder, *, of=None):
    """Return the tracked files below a folder of the clone, without what Python and builds leave there."""
    return {
        path.relative_to(of or ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and path.suffix not in (".pyc", ".orig")
    }


def test_the_description_reads_well_on_a_package_page(built):
    done = ran(sys.executable, "-m", "twine", "check", "--strict", *built.iterdir())
    assert done.returncode == 0 and done.stdout.count("PASSED") == 2, done.stdout + done.stderr


def test_the_wheel_holds_the_program_its_data_and_its_types(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        metadata = archive.read(next(n for n in names if n.endswith("METADATA"))).decode("utf-8")
    mine = files_below("fecallab") | files_below("plugins/napari_fecallab", of=ROOT / "plugins")
    assert {"fecallab/py.typed", "napari_fecallab/napari.yaml"} <= mine
    assert sum(name.endswith(".csv") for name in mine) > 40 and sum(".html" in name for name in mine) > 8
    assert mine - names == set()
    outside = {name.split("/")[0] for name in names}
    assert outside <= {"fecallab", "napari_fecallab", *(one for one in outside if one.endswith(".dist-info"))}
    assert "License-Expression: BSD-3-Clause" in metadata and "Requires-Python: >=3.11" in metadata
    assert any(name.endswith("licenses/LICENSE") for name in names)


def test_the_source_archive_can_be_worked_on(built):
    (archive,) = built.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        names = {name.partition("/")[2] for name in opened.getnames()}
    wanted = {"pyproject.toml", "README.md", "LICENSE", "CITATION.cff", "docs/changelog.md"}
    wanted |= {name for name in files_below("tests") if name.endswith(".py")}
    wanted |= {name for name in files_below("docs") if name.endswith(".md")}
    wanted |= files_below("sample_slides")
    assert wanted - names == set()
    assert [n for n in names if "__pycache__" in n or n.startswith((".venv", ".git/"))] == []


def test_the_wheel_works_where_nothing_else_is_installed(wheel, tmp_path):
    """Do a keeper's first job with the base libraries alone: no napari, no tools of those who work on it."""
    if importlib.util.find_spec("pip") is None:
        without("pip is not installed")
    started = time.monotonic()
    bare = tmp_path / "bare"
    assert ran(sys.executable, "-m", "venv", "--without-pip", bare).returncode == 0
    python = bare / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    pip = (sys.executable, "-m", "pip", "--python", python, "--disable-pip-version-check", "--quiet")
    got = ran(*pip, "install", "--no-compile", wheel)
    if got.returncode and any(
        word in got.stderr for word in ("No matching distribution", "Could not fetch", "connection")
    ):
        without(f"pip reaches no index: {got.stderr.strip().splitlines()[-1][:200]}")
    assert got.returncode == 0, got.stderr
    installed = time.monotonic() - started
    home = tmp_path / "Käthes Proben"  # a folder with a space and an umlaut
    home.mkdir()
    kept = ("PATH", "SYSTEMROOT", "TEMP", "TMP", "LANG")
    clean = {name: os.environ[name] for name in kept if name in os.environ}
    clean |= {"HOME": str(home), "USERPROFILE": str(home), "FECALLAB_BY": "Mara", "PYTHONUTF8": "1"}

    def do(*words, where=home):
        done = ran(python.with_stem("fecallab"), *words, env=clean, cwd=where)
        assert done.returncode == 0, (words, done.stdout, done.stderr)
        return done.stdout

    assert do("--version").startswith("fecallab ")
    assert "fecallab records make" in do()
    do("records", "make", "my-records")
    mine = home / "my-records"
    slide = ROOT / "sample_slides" / "dragon_before_1"
    float_ = ("--method", "simple_flotation", "--solution", "salt", "--gravity", "1.2", "--gravity-checked")
    read = ("--objective", "10", "--um-per-px", "0.65", "--picture", f"{slide.with_suffix('.jpg')}")
    marks = ("--marks", f"{slide.with_suffix('.annotations.json')}")
    job = (
        ("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult"),
        ("sample", "add", "Saffron", "--form", "formed", "--kept", "room", "--mass-g", "1.4"),
        ("exam", "add", "S1", *float_, "--standing-minutes", "15", *read, *marks),
        ("report", "exam", "E1", "--to", "pages", "--json"),
        ("vet", "page", "E1", "--pdf"),
        ("records", "check"),
    )
    done = ran(python, "-c", ONE_AFTER_THE_OTHER, json.dumps(job), env=clean, cwd=mine)
    told = json.loads(done.stdout)
    assert [code for code, _ in told] == [0] * len(job), (told, done.stderr)
    pages = list((mine / "pages").glob("*.html"))
    assert json.loads(told[3][1]) and pages and "oxyurid" in pages[0].read_text(encoding="utf-8")
    health = json.loads(do("doctor", "--json", where=mine))
    base = [one for one in health["libraries"] if one["needed_for"] == "every command"]
    assert health["ok"] and len(base) >= 18 and {one["state"] for one in base} == {"there"}
    found = {one["name"]: one["found"] for one in health["checks"]}
    assert found["marking window"] == "not installed" and found["schema"]
    there = ran(
        *(python, "-c"),
        "import importlib.util, sys; print(*[n for n in sys.argv[1:] if importlib.util.find_spec(n)])",
        *NOT_FOR_KEEPERS,
        env=clean,
        cwd=home,
    )
    assert there.stdout.strip() == "", f"came in with the wheel: {there.stdout}"
    print(f"installed after {installed:.0f} s, the whole {time.monotonic() - started:.0f} s")
