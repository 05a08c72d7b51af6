"""The demo tells the whole job and ends as its story says."""

import json
from datetime import date, timedelta

import pytest

from fecallab.cli import demo, demo_story
from fecallab.cli.main import run


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """The demo, told once: its folder, its answer and what it said."""
    import contextlib
    import io

    home = tmp_path_factory.mktemp("demo") / "rescue"
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(["demo", str(home), "--no-open", "--json"])
    assert code == 0, err.getvalue()
    return home, json.loads(out.getvalue()), err.getvalue()


def test_the_story_ends_with_one_case_closed_one_counting_and_one_waiting_for_the_vet(told):
    _, answer, _ = told
    stands = {case["animal_name"]: case for case in answer["cases"]}
    assert "goal reached" in stands["Saffron"]["closed"]
    assert (stands["Barley"]["standing"], stands["Barley"]["closed"]) == ("k of n", "")
    assert stands["Tub 7"]["standing"] == "not treated"


def test_the_arrivals_wait_in_two_groups_since_one_was_moved_out(told, capsys):
    home, answer, _ = told
    assert run(["arrivals", "show", "I1", "--records", str(home), "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert shown["answer"] == "not yet"
    assert [[m["name"] for m in group["members"]] for group in shown["groups"]] == [["Tub 7"], ["Tub 8"]]
    assert sum("arrival-I1" in page for page in answer["pages"]) == 2


def test_it_shows_progress_and_names_pages_that_are_there(told):
    home, answer, said = told
    assert "[ 1/" in said and "Writing the report pages" in said
    names = {name.rsplit("/", 1)[-1].rsplit("\\", 1)[-1] for name in answer["pages"]}
    assert {"case-C1.html", "case-C2.html", "case-C3.html", "exam-E1.html"} <= names
    for name in names:
        page = (home / "reports" / name).read_text(encoding="utf-8")
        assert "<html" in page and "://" not in page.replace("http://www.w3.org", "")


def test_the_inadequate_smear_and_the_late_positive_are_in_the_case(told, capsys):
    home, _, _ = told
    assert run(["case", "show", "C1", "--records", str(home), "--json"]) == 0
    case = json.loads(capsys.readouterr().out)
    results = [(exam["exam"], exam["result"]) for exam in case["exams"]]
    assert results == [
        ("E1", "positive"),
        ("E2", "inconclusive"),
        ("E3", "negative"),
        ("E4", "negative"),
        ("E5", "positive"),
        ("E6", "negative"),
        ("E7", "negative"),
        ("E8", "negative"),
    ]
    late = date.fromisoformat(case["exams"][4]["taken_on"])
    assert (
        run(["case", "show", "C1", "--on", str(late + timedelta(days=1)), "--records", str(home), "--json"])
        == 0
    )
    then = json.loads(capsys.readouterr().out)
    assert then["standing"] == "positive again: back to the vet"


def test_the_records_of_the_demo_are_whole(told, capsys):
    home, _, _ = told
    assert run(["records", "check", "--records", str(home), "--json"]) == 0
    capsys.readouterr()


def test_a_folder_with_something_in_it_is_left_alone(told, capsys):
    home, _, _ = told
    assert run(["demo", str(home)]) == 2
    assert "not empty" in capsys.readouterr().err


def test_without_a_clone_the_slides_are_drawn(tmp_path, monkeypatch):
    monkeypatch.setattr(demo, "__file__", str(tmp_path / "a" / "b" / "c" / "demo.py"))
    monkeypatch.setattr(demo_story, "PICTURES", ("snake_larva.png",))
    demo._slides(tmp_path / "slides")
    assert {path.name for path in (tmp_path / "slides").iterdir()} >= {"snake_larva.png", "truth.csv"}
