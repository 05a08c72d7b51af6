"""``fecallab`` alone: today's list, the acts by number, back to the list; without a terminal the help."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fecallab.cli.start_screen import ACTS

from .asking import Terminal, rescue, terminal, typed
from .conftest import FLOAT, Said, contents

__all__ = ["rescue", "terminal", "typed"]
Typed = Callable[..., Said]
Do = Callable[..., dict[str, Any]]
Open = Callable[..., Terminal]
NUMBER = {act.name: str(place) for place, act in enumerate(ACTS, start=1)}


def test_without_a_terminal_it_is_said_what_may_be_typed(
    process: Callable[..., subprocess.CompletedProcess[str]],
) -> None:
    done = process(stdin=subprocess.DEVNULL, capture_output=True)
    assert done.returncode == 0
    assert "What next? Type one of:" in done.stdout and "fecallab --help" in done.stdout


def test_the_list_stands_on_top_and_q_leaves(case: str, typed: Typed) -> None:
    said = typed([], "q")
    assert said.code == 0
    assert "a now" in said.out
    assert "Saffron: ask the vet (not treated)" in said.out
    assert said.out.index("ask the vet") < said.out.index("1 new sample")


def test_a_danger_sign_stands_above_everything(rescue: Path, typed: Typed, do: Do) -> None:
    do("sign", "add", "Saffron", "collapse")
    said = typed([], "q")
    assert "! Saffron: to the vet today: collapse" in said.out
    assert said.out.index("! Saffron") < said.out.index("1 new sample")


def test_the_demo_can_be_made_and_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: Typed
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    said = typed([], "2", "a demo", "q")
    assert said.code == 0, said.all
    assert "fecallab - a demo -" in said.out
    assert "Barley: " in said.out.rpartition("fecallab - a demo -")[2]


def test_every_act_comes_back_to_the_list(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed([], NUMBER["weigh"], "Saffron", "320", "", NUMBER["care"], "Barley", "cleaning", "", "q")
    assert said.code == 0, said.all
    assert said.out.count("q quit\n") == 3
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 320
    assert do("animal", "show", "Barley")["care"][0]["kind"] == "cleaning"


def test_a_stopped_act_comes_back_to_the_list_too(rescue: Path, typed: Typed) -> None:
    before = contents(rescue)
    said = typed([], NUMBER["weigh"], "Saffron", "q", "q")
    assert said.code == 0
    assert said.out.count("q quit\n") == 2
    assert contents(rescue) == before


def test_the_end_of_the_input_ends_with_130(rescue: Path, typed: Typed) -> None:
    said = typed([])
    assert said.code == 130
    assert said.err.count("\n") == 1


def test_a_new_exam_says_at_once_what_it_says(
    case: str, typed: Typed, do: Do, stool: Callable[..., str]
) -> None:
    stool("Saffron", "2025-04-01")
    lines = ["", "simple flotation", "", "1.2", "y", "15", "", "", "y", "", ""]
    said = typed([], NUMBER["new exam"], *lines, "q")
    assert said.code == 0, said.all
    assert "For oxyurid (egg):" in said.out


def test_the_letter_of_a_line_does_what_it_says(treated: str, typed: Typed, do: Do) -> None:
    said = typed([], "a", "q", "q")
    assert "A sample." in said.out
    assert "Which animal?" not in said.out
    assert said.code == 0


def test_ask_the_vet_writes_the_pages_and_names_them(case: str, folder: Path, typed: Typed) -> None:
    said = typed([], "a", "Are these eggs?", "q")
    assert said.code == 0, said.all
    (page,) = (folder / "for-the-vet").glob("C1-*.html")
    assert "Are these eggs?" in page.read_text("utf-8")
    assert str(page) in said.out
    assert str(page.with_name(f"{page.stem}-message.txt")) in said.out


def test_send_to_the_vet_asks_which_case(case: str, folder: Path, typed: Typed) -> None:
    said = typed([], NUMBER["send to the vet"], "", "Are these eggs?", "", "q")
    assert "Saffron, oxyurid (C1)" in said.out
    (page,) = (folder / "for-the-vet").glob("C1-*.html")
    assert "Are these eggs?" in page.read_text("utf-8")


def test_an_empty_folder_leads_to_the_first_animal(folder: Path, typed: Typed, do: Do) -> None:
    said = typed([], "a", "Pebble", "leopard gecko", "y", "", "45", "", "q")
    assert "nobody here yet: add the first animal" in said.out
    assert [one["name"] for one in do("animal", "list")["animals"]] == ["Pebble"]
    assert "nobody here yet" not in typed([], "q").out


def test_a_group_in_quarantine_stands_on_the_list(rescue: Path, typed: Typed, do: Do) -> None:
    do("arrivals", "add", "Saffron", "--name", "one lizard", "--origin", "captive bred")
    said = typed([], "a", "q")
    assert "I1 Saffron: examine a stool" in said.out
    assert "May they mix? Not yet" in said.out


def test_a_page_of_one_exam_is_written(case: str, folder: Path, typed: Typed) -> None:
    said = typed([], NUMBER["write a page"], "2", "E1", "q")
    assert said.code == 0, said.all
    assert (folder / "reports" / "exam-E1.html").is_file()


def test_a_dose_from_the_list_asks_the_weight_first(case: str, typed: Typed, do: Do) -> None:
    do("plan", "add", case, "--vet", "Dr Ilse Varnholt", *PLAN_OF_TODAY)
    do("animal", "weigh", "Saffron", "318", "--at", "2025-03-05 08:00")
    said = typed([], "a", "320", "1", "38", "26", "", "", "q")
    assert said.code == 0, said.all
    assert "Weight of Saffron today in g? (last: 318 g" in " ".join(said.out.split())
    assert "Draw 0.16 ml" in said.out
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 320
    assert "Saffron: fenbendazole, given, 0.16 ml. Recorded." in said.out


KEYSTROKES = {
    "weigh": (["4", "", "650", ""], 8),
    "sample": (["1", "", "19-0:00", "2", "1", "1,4", "", ""], 21),
    "exam": (["2", "", "", "", "", "y", "15", "", "", "y", "", ""], 17),
    "dose": (["a", "320", "1", "38", "26", "", ""], 16),
    "care": (["5", "", "1", "6", ""], 9),
}
"""What a keeper types for the five commonest acts when nothing is out of the ordinary, Enter counted as a key."""


@pytest.mark.parametrize("act", KEYSTROKES)
def test_the_commonest_acts_cost_few_keys(act: str, case: str, typed: Typed, do: Do) -> None:
    do("plan", "add", case, "--vet", "Dr Ilse Varnholt", *PLAN_OF_TODAY)
    do("animal", "weigh", "Saffron", "640", "--at", "2025-03-05 08:00")
    do("exam", "prepare", "E1", *FLOAT, "--solution", "sugar", "--objective", "10", "--share", "1")
    do("sample", "add", "Saffron", "--mass-g", "1.4")
    lines, keys = KEYSTROKES[act]
    lines = ["650" if line == "320" else line for line in lines]
    assert sum(len(line) + 1 for line in lines) <= keys
    said = typed([], *lines, "q")
    assert said.code == 0, said.all
    assert ". Recorded." in said.out
    assert said.out.count("q quit\n") == 2


PLAN_OF_TODAY = (
    *("--drug", "fenbendazole", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100"),
    *("--route", "by mouth", "--interval-days", "14", "--doses", "2", "--goal", "clear"),
)


def test_a_backup_is_made_beside_the_records(rescue: Path, typed: Typed) -> None:
    said = typed([], NUMBER["back up"], "", "q")
    assert said.code == 0, said.all
    assert (rescue.parent / "records-backup" / "fecallab.json").is_file()


def test_any_command_may_be_typed(rescue: Path, typed: Typed) -> None:
    said = typed([], "animal list", "fecallab --version", "no such thing", "q")
    assert "vivarium 4" in said.out
    assert "fecallab 0" in said.out
    assert "No such command 'no'" in said.err
    assert said.code == 0


@pytest.mark.parametrize("line", ["99", "h", "?", "", "<"])
def test_what_is_no_act_comes_back_to_the_list(rescue: Path, typed: Typed, line: str) -> None:
    said = typed([], line, "q")
    assert said.code == 0
    assert said.out.count("q quit\n") == 2


def test_without_records_a_folder_is_made_on_request(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: Typed
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    said = typed([], "1", "my rescue", "animal list", "q")
    assert said.code == 0, said.all
    assert (tmp_path / "my rescue" / "fecallab.json").is_file()
    assert "No animals yet" in said.out
    again = typed([], "1", "q")
    assert "1 open" in again.out
    assert again.code == 0


def test_an_answer_is_no_name_of_a_new_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: Typed
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    said = typed([], "1", "n", "yes", "rescue", "q")
    assert said.code == 0, said.all
    assert "'n' is an answer, no name of a folder" in said.out
    assert [one.name for one in tmp_path.iterdir()] == ["rescue"]


def test_without_records_the_demo_is_offered_and_quitting_makes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: Typed
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    said = typed([], "4")
    assert said.code == 0
    assert "look at the demo" in said.out
    assert list(tmp_path.iterdir()) == []


def test_a_damaged_folder_is_named_and_another_may_be_opened(
    rescue: Path, tmp_path: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FECALLAB_RECORDS", str(tmp_path / "gone"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    said = typed([], "4", f'"{rescue}"', "q")
    assert "gone" in "".join(said.out.split())  # a long path is wrapped
    assert said.code == 0, said.all
    assert "fecallab - records -" in said.out


def test_the_screen_in_a_real_terminal_fits_and_survives_ctrl_c_in_an_act(
    rescue: Path, terminal: Open
) -> None:
    window = terminal(TERM="dumb")
    window.until("[q = quit]: ")
    window.type(NUMBER["weigh"])
    window.until("Enter = Barley]:")
    window.stop()
    window.until("[q = quit]: ")
    window.type("q")
    assert window.ended() == 0
    assert max(map(len, window.seen.splitlines())) < 80
    assert len(window.seen.split("[q = quit]")[0].splitlines()) < 24
    assert "\x1b" not in window.seen
