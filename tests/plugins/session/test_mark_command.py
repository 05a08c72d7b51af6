"""``fecallab mark``: the window where napari is, one clear line where it is not, and the draft as JSON."""

from __future__ import annotations

import importlib.util
import json
import sys
import types

import pytest

from fecallab.cli.main import run


@pytest.fixture
def command(folder, capsys, monkeypatch):
    """Run ``mark`` on the records: exit code, what it printed, what it said."""
    monkeypatch.setenv("FECALLAB_BY", "Mara Quell")

    def run_it(*words: str):
        capsys.readouterr()
        code = run(["mark", *words, "--records", str(folder)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run_it


def test_read_tells_the_draft_of_an_open_window_as_json(command, with_pictures):
    uid = with_pictures.add_mark("oxyurid", 10, 11).uids[0]
    with_pictures.flush()
    code, out, _ = command("e1", "--read", "--json")
    state = json.loads(out)
    assert code == 0 and state["exam"] == "E1" and state["animal"] == "Saffron"
    field = state["fields"][2]
    assert (field["state"], field["done"], field["recorded"]) == ("marked", True, False)
    (mark,) = field["marks"]
    assert (mark["uid"], mark["name"], mark["x_px"], mark["sure"]) == (uid, "oxyurid", 10, True)
    assert state["burden"]["rows"][0]["target"] == "oxyurid" and state["summary"]["not_looked_at"] == 2
    assert state["unfinished_steps"] == 2 and "came back" in state["notices"][0]


def test_read_tells_it_in_lines_too(command, with_pictures):
    with_pictures.add_mark("oxyurid", 10, 11)
    with_pictures.flush()
    code, out, _ = command("E1", "--read")
    assert code == 0 and "3/5 simple flotation, 10×: marked, 1 sure" in out and "oxyurid egg: positive" in out


def test_without_napari_one_line_says_what_to_type(command, monkeypatch):
    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *more: None if name == "napari" else real(name, *more)
    )
    code, out, err = command("E1")
    assert code == 3 and out == "" and err.count("\n") == 1 and 'pip install "fecallab[napari]"' in err
    code, out, _ = command("E1", "--json")
    assert code == 3 and json.loads(out)["error"]["code"] == "napari-missing"


def test_the_window_is_opened_with_folder_exam_person_and_watched_folder(
    command, monkeypatch, folder, tmp_path
):
    asked = []
    window = types.ModuleType("napari_fecallab.window")
    window.open_window = lambda *words: asked.append(words)
    monkeypatch.setitem(sys.modules, "napari_fecallab.window", window)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name, *_: object())
    (tmp_path / "camera").mkdir()
    code, out, _ = command("E1", "--watch", str(tmp_path / "camera"), "--by", "Bram Osei", "--json")
    assert code == 0 and json.loads(out)["by"] == "Bram Osei"
    assert asked == [(folder, "E1", "Bram Osei", tmp_path / "camera")]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("E9",), 2, "E9"),
        (("E9", "--read"), 2, "E9"),
        (("E1", "--watch", "no-such-folder"), 2, "no-such-folder"),
        (("E1", "--read", "--watch", "."), 2, "do not go together"),
        (("A1",), 2, "A1"),
    ],
)
def test_bad_words_are_one_clear_line(command, words, code, says):
    found, out, err = command(*words)
    said = [line for line in err.splitlines() if not line.startswith("Opening ")]
    assert found == code and out == "" and len(said) == 1 and says in said[0]
