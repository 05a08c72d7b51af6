"""``fecallab records``: what is printed and the exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from fecallab.records.folder import MARKER


def test_make_check_backup_restore_by_hand(run: Any, tmp_path: Path) -> None:
    folder, saved, again = tmp_path / "my records", tmp_path / "saved", tmp_path / "again"
    code, out, _ = run("make", folder)
    assert (code, f'Next: cd "{folder}"  and there: fecallab animal add NAME' in out) == (0, True)
    code, out, _ = run("check", "--records", folder)
    assert (code, "Everything is there." in out) == (0, True)
    code, out, _ = run("backup", saved, "--records", folder)
    assert (code, "Backed up" in out) == (0, True)
    code, out, _ = run("check", "--records", saved, "--json")
    assert (code, json.loads(out)["ok"]) == (0, True)
    code, out, _ = run("restore", saved, again, "--json")
    answer = json.loads(out)
    assert (code, answer["target"], answer["problems"]) == (0, str(again), [])


def test_bad_input_is_one_line_and_exit_code_2(run: Any, tmp_path: Path) -> None:
    run("make", tmp_path / "r")
    for words in (
        ("make", tmp_path / "r"),
        ("check", "--records", tmp_path / "none"),
        ("backup", tmp_path / "b", "--records", tmp_path),
        ("restore", tmp_path / "r", tmp_path / "n"),
    ):
        code, out, err = run(*words)
        assert (code, out) == (2, "")
        assert err.startswith("Not understood: ")
        assert err.count("\n") == 1
        code, out, err = run(*words, "--json")
        assert (code, err) == (2, "")
        assert set(json.loads(out)["error"]) == {"code", "text", "next"}


def test_damage_is_exit_code_3_with_all_that_was_found(run: Any, tmp_path: Path) -> None:
    run("make", tmp_path / "r")
    (tmp_path / "r" / MARKER).write_text("{")
    code, out, _ = run("check", "--records", tmp_path / "r")
    assert (code, "Damaged: The marker" in out) == (3, True)
    code, out, _ = run("check", "--records", tmp_path / "r", "--json")
    answer = json.loads(out)
    assert (code, answer["ok"], answer["error"]["code"]) == (3, False, "marker-damaged")
    code, out, _ = run("make", tmp_path / "r", "--json")
    assert (code, json.loads(out)["made"]) == (0, False)
    assert run("check", "--records", tmp_path / "r")[0] == 0
