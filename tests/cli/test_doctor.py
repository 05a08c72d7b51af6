"""``fecallab doctor``: what it finds wrong, what it says to do, and what it never shows."""

import getpass
import json
import os
import platform
import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fecallab.cli import doctor_checks
from fecallab.cli.doctor_libraries import FINE, MISSING, TOO_OLD, Library, libraries

from .conftest import environment

NOW = datetime(2026, 3, 4, 12, tzinfo=UTC)


def by_name(payload):
    return {one["name"]: one for one in payload["checks"]}


def test_all_is_fine_in_a_folder_that_was_backed_up(do, tmp_path):
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    began = datetime.now().date()
    do("records", "backup", tmp_path / "copy")
    found = do("doctor")
    checks = by_name(found)
    assert found["ok"] and "error" not in found
    for name in (
        "fecallab",
        "Python",
        "libraries",
        "record folder",
        "schema",
        "ledger",
        "last backup",
        "clock",
    ):
        assert checks[name]["state"] == "fine", checks[name]
    midnight_passed = datetime.now().date() != began
    assert checks["last backup"]["found"] in ("today", *["yesterday"] * midnight_passed)
    assert "the last one fits" in checks["ledger"]["found"]


def test_every_library_of_the_base_is_listed_with_its_version(do):
    base = [one for one in do("doctor")["libraries"] if one["needed_for"] == "every command"]
    assert len(base) >= 18 and all(one["state"] == "there" and one["version"] for one in base)
    assert {"napari", "distributed", "psycopg"} <= {one["name"] for one in do("doctor")["libraries"]}


def test_a_person_reads_a_table_and_a_last_word(say):
    said = say("doctor")
    assert said.startswith("To report a problem, copy all of this")
    assert said.rstrip().endswith("Everything that is needed is there.")
    assert any(line.split()[:2] == ["sqlalchemy", "there"] for line in said.splitlines())


def test_without_records_it_says_how_to_make_them_and_is_content(fecallab):
    said = fecallab("doctor", "--json")
    folder = by_name(said.json)["record folder"]
    assert said.code == 0 and folder["state"] == "to know" and "fecallab records make" in folder["next"]


def test_no_name_of_a_person_animal_computer_or_folder_is_shown(do, fecallab, tmp_path, monkeypatch):
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    private = tmp_path / "Wilhelmine Quastel"
    shutil.copytree(os.environ["FECALLAB_RECORDS"], private)
    monkeypatch.setenv("FECALLAB_RECORDS", str(private))
    monkeypatch.setenv("FECALLAB_BY", "Mara Quell")
    whole = fecallab("doctor").all + fecallab("doctor", "--json").all
    (private / "records.sqlite").write_bytes(b"x" * 200)
    whole += fecallab("doctor").all + fecallab("doctor", "--json").all
    monkeypatch.setenv("FECALLAB_RECORDS", str(tmp_path / "Ottokar"))
    whole += fecallab("doctor").all
    hidden = ["Saffron", "Wilhelmine", "Ottokar", "Mara", str(Path.home()), str(tmp_path), platform.node()]
    user = getpass.getuser()
    if len(user) > 4:  # "root" is a word like others
        hidden.append(user)
    assert [name for name in hidden if name and name in whole] == []
    assert "FECALLAB_RECORDS" in whole and "Problem (" in whole


def test_a_damaged_database_ends_in_exit_code_3_and_says_what_to_do(folder, fecallab):
    (folder / "records.sqlite").write_bytes(b"not a database at all" * 20)
    said = fecallab("doctor", "--json")
    assert said.code == 3 and not said.json["ok"]
    assert said.error["code"] == "records-damaged" and "fecallab records restore" in said.error["next"]
    assert "Problem (records-damaged)" in fecallab("doctor").out


def test_a_server_that_does_not_answer_is_told_without_its_name(folder, fecallab):
    pytest.importorskip("psycopg")
    told = json.loads((folder / "fecallab.json").read_text(encoding="utf-8"))
    told |= {"version": 2, "database": "postgresql://quastel@127.0.0.1:1/varnholt"}
    (folder / "fecallab.json").write_text(json.dumps(told), encoding="utf-8")
    said = fecallab("doctor", "--json")
    assert said.code == 3 and said.error["code"] == "unreachable" and said.error["next"]
    assert by_name(said.json)["record folder"]["found"].startswith("records on a server")
    assert [name for name in ("quastel", "127.0.0.1", "varnholt") if name in said.all] == []


@pytest.mark.parametrize("gone", ["records.sqlite", "fecallab.json"])
def test_a_missing_file_is_a_problem(gone, folder, fecallab):
    (folder / gone).unlink()
    said = fecallab("doctor", "--json")
    code, word = {"records.sqlite": (3, "records-missing"), "fecallab.json": (2, "no-record-folder")}[gone]
    assert said.code == code and said.error["code"] == word and said.error["next"]


def test_a_line_of_the_ledger_that_was_altered_is_seen(do, folder, fecallab):
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    with sqlite3.connect(folder / "records.sqlite") as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("UPDATE ledger SET code = 'A9' WHERE line = (SELECT max(line) FROM ledger)")
    connection.close()
    said = fecallab("doctor", "--json")
    assert said.code == 3 and said.error == {
        "code": "ledger-broken",
        "text": "The last line of the ledger does not follow from the one before: it was altered.",
        "next": "Type: fecallab records check",
    }


def test_nothing_is_changed_and_older_records_stay_old(tmp_path, fecallab, monkeypatch):
    from fecallab.records.migrate import HEAD
    from fecallab.records.schema import SCHEMA_REVISIONS

    assert fecallab("records", "make", tmp_path / "old").code == 0
    with sqlite3.connect(tmp_path / "old" / "records.sqlite") as connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (SCHEMA_REVISIONS[0],))
    connection.close()
    before = {path.name for path in (tmp_path / "old").iterdir()}
    said = fecallab("doctor", "--records", tmp_path / "old", "--json")
    schema = by_name(said.json)["schema"]
    assert said.code == 0 and schema["found"] == f"{SCHEMA_REVISIONS[0]}, newest {HEAD}"
    assert schema["state"] == "to know" and "back them up first" in schema["next"]
    with sqlite3.connect(tmp_path / "old" / "records.sqlite") as connection:
        kept = connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]
    connection.close()
    assert kept == SCHEMA_REVISIONS[0]
    assert {path.name for path in (tmp_path / "old").iterdir()} <= before | {
        "records.sqlite-wal",
        "records.sqlite-shm",
    }


def test_records_of_a_newer_program_are_a_problem(folder, fecallab):
    with sqlite3.connect(folder / "records.sqlite") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    said = fecallab("doctor", "--json")
    assert said.code == 3 and said.error["code"] == "newer-records" and "Install" in said.error["next"]


def states(versions):
    return {one.name: one.state for one in libraries(lambda name: versions.get(name, "9999"))}


def test_a_library_is_missing_or_too_old_by_its_version_alone():
    found = states({"numpy": "", "pillow": "9.5.0", "scipy": "1.12.0rc1", "napari": ""})
    assert found["numpy"] == MISSING and found["pillow"] == TOO_OLD
    assert found["scipy"] == FINE and found["napari"] == MISSING and found["typer"] == FINE


def test_what_every_command_needs_is_a_problem_and_the_records_wait(folder):
    known = [
        Library("numpy", "every command", "1.26", "", MISSING),
        Library("pillow", "every command", "10.3", "9.5", TOO_OLD),
    ]
    found = {one.name: one for one in doctor_checks.checks(known, str(folder), lambda: NOW)}
    reason = found["libraries"].reason
    assert found["libraries"].state == "problem" and reason.code == "libraries-missing"
    assert "numpy is missing" in reason.text and "pillow 9.5 (needed: 10.3)" in reason.text
    assert reason.next.endswith('-m pip install --upgrade "numpy>=1.26" "pillow>=10.3"')
    assert found["record folder"].found.startswith("not looked at") and "ledger" not in found


def test_an_extra_that_is_not_there_is_no_problem_and_an_old_one_is():
    missing = [Library("napari", "the marking window", "0.7", "", MISSING)]
    old = [Library("napari", "the marking window", "0.7", "0.5.6", TOO_OLD)]
    assert [one.state for one in doctor_checks._window(missing)] != ["problem"]
    (check,) = doctor_checks._window(old)
    assert check.state == "problem" and '"napari>=0.7"' in check.reason.next


def test_a_window_needs_a_screen_and_its_parts(monkeypatch):
    monkeypatch.setattr(doctor_checks.importlib.util, "find_spec", lambda name: object())
    monkeypatch.setattr(doctor_checks.sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    (check,) = doctor_checks._window([])
    assert check.state == "to know" and check.reason.code == "no-screen"
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(doctor_checks, "_can_load", lambda library: "EGL" not in library)
    (check,) = doctor_checks._window([])
    assert check.state == "problem" and check.reason.next == "Type: sudo apt install libegl1"
    monkeypatch.setattr(doctor_checks, "_can_load", lambda library: True)
    (check,) = doctor_checks._window([])
    assert check.state == "fine" and check.reason is None


@pytest.mark.parametrize(
    ("now", "last", "code"),
    [
        (NOW, None, None),
        (NOW, datetime(2026, 3, 4, 11, 59, tzinfo=UTC), None),
        (datetime(2019, 1, 1, tzinfo=UTC), None, "clock-wrong"),
        (NOW, datetime(2026, 3, 5, tzinfo=UTC), "clock-behind"),
    ],
)
def test_a_clock_that_cannot_be_right_is_a_problem(now, last, code):
    check = doctor_checks._clock(now, last)
    assert (check.reason.code if check.reason else None) == code
    assert check.state == ("problem" if code else "fine")


@pytest.mark.parametrize(("free", "state"), [(5e9, "fine"), (5e8, "to know"), (5e7, "problem")])
def test_a_disk_that_is_nearly_full_is_told(free, state, monkeypatch, tmp_path):
    monkeypatch.setattr(
        doctor_checks.shutil, "disk_usage", lambda folder: shutil._ntuple_diskusage(9e9, 0, free)
    )
    check = doctor_checks._disk(tmp_path)
    assert check.state == state and check.found.endswith(("GB", "MB"))


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere"
)
def test_a_folder_that_may_not_be_written_is_a_problem(folder, fecallab):
    folder.chmod(0o555)
    try:
        said = fecallab("doctor", "--json")
    finally:
        folder.chmod(0o755)
    assert said.code == 3 and said.error["code"] == "not-writable"


def test_a_folder_where_nothing_can_be_written_is_a_problem(folder, fecallab, monkeypatch):
    from fecallab.records import quick_look

    monkeypatch.setattr(quick_look, "_writable", lambda folder: False)
    said = fecallab("doctor", "--json")
    assert said.code == 3 and said.error["code"] == "not-writable"


def test_a_terminal_of_few_letters_is_told(folder):
    done = subprocess.run(
        [sys.executable, "-m", "fecallab", "doctor", "--json"],
        env={**environment(), "PYTHONIOENCODING": "ascii", "FECALLAB_RECORDS": str(folder)},
        capture_output=True,
        text=True,
        check=True,
    )
    letters = by_name(json.loads(done.stdout))["language and letters"]
    assert letters["code"] == "letters-missing" and "PYTHONUTF8=1" in letters["next"]


def test_without_records_nothing_heavy_is_loaded():
    code = (
        "import sys\nfrom fecallab.cli.main import run\nassert run(['doctor', '--json']) == 0\n"
        "print(sorted({'numpy', 'scipy', 'pandas', 'matplotlib', 'sqlalchemy', 'napari', 'PIL'} & {*sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"
