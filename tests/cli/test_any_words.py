"""Any words to any command: an answer, a refusal or one line; never a trace, never another exit code."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ..effort import examples
from .every_command import DONE, commands

NEVER = {"--open", "--help", "-h", "--json"}
"""Would open a browser, print help whatever else is said, or be taken for the value of another option."""


PROGRAM = [(name.split(), command) for name, command in commands() if name in DONE and name != "demo"]

LIKELY = st.sampled_from(
    [
        *(
            "Saffron",
            "saffron",
            "Safron",
            "A1",
            "A2",
            "S1",
            "s1",
            "S9",
            "E1",
            "E1-1",
            "E1-1-1",
            "C1",
            "C2",
            "P1",
        ),
        *("W1", "D1", "K1", "oxyurid", "flagellate", "artefact", "pollen_pine", "cryptosporidium", "mite"),
        *("0", "1", "-1", "0.4", "1,5", "1.5", "nan", "inf", "1e999", "1e-320", "10", "40", "99999999999"),
        *("0,2,1", "oxyurid:0,2", "oxyurid=3", "oxyurid=", ":", "=", ",", "a,b;c,d", "20,5;10,15", ";;"),
        *("2025-03-04", "2025-03-04 08:30", "08:30", "today", "yesterday", "now", "2199-01-01", "0001-01-01"),
        *("simple_flotation", "direct_saline_smear", "mcmaster", "soft", "room", "stool", "given", "missed"),
        *("clear", "low burden", "goal reached", "animal died", "brumation", "fluids", "warm end", "any"),
        *(
            "field.png",
            "marks.csv",
            "weights.csv",
            "exam.json",
            "history.json",
            "no.jpg",
            ".",
            "fresh",
            "mass_g=2",
            "counts.oxyurid=1",
        ),
        *("fenbendazole", "by mouth", "Pogona vitticeps", "organisms", "22x22", "house_plus_signs"),
        *(
            "",
            " ",
            "--",
            "-",
            "🐢",
            "<b>",
            "'); DROP TABLE animals;--",
            "a\nb",
            "a\0b",
            "\ud800",
            "\u202e",
            "x" * 3000,
        ),
    ]
)
ODD = st.text(st.characters(exclude_characters="/\\"), max_size=12)


VALUE = st.one_of(LIKELY, LIKELY, LIKELY, ODD)


@st.composite
def any_words(draw: st.DrawFn) -> list[str]:
    """Draw words that a command can do and spoil some of them, or draw them all."""
    words, command = draw(st.sampled_from(PROGRAM))
    options = sorted({o for p in command.params for o in p.opts if o.startswith("-")} - NEVER)
    said = list(DONE[" ".join(words)]) if draw(st.integers(0, 3)) else draw(st.lists(VALUE, max_size=3))
    for _ in range(draw(st.integers(0, 2))):
        if said:
            said[draw(st.integers(0, len(said) - 1))] = draw(VALUE)
    for option in draw(st.lists(st.sampled_from(options), max_size=3)) if options else []:
        said.append(option)
        if draw(st.integers(0, 5)):
            said.append(draw(VALUE))
    machine = ["--json"] if draw(st.booleans()) else []
    return [*words, *machine, *(word for word in said if word not in NEVER)]


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory, one_of_everything: Path) -> Path:
    """Records with one of nearly everything, which all the words fall upon."""
    return shutil.copytree(one_of_everything, tmp_path_factory.mktemp("any") / "world")


@settings(
    max_examples=examples(200),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(words=any_words())
def test_any_words_end_in_an_answer_or_in_one_line(world: Path, words: list[str]) -> None:
    from fecallab.cli.main import run

    out, err = io.StringIO(), io.StringIO()
    before = Path.cwd()
    os.environ["FECALLAB_RECORDS"] = str(world / "records")
    os.chdir(world)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run(words)
    finally:
        os.chdir(before)
        del os.environ["FECALLAB_RECORDS"]
    said = (words, code, out.getvalue()[-400:], err.getvalue()[-400:])
    assert code in (0, 1, 2, 3), said
    assert "Traceback" not in out.getvalue() + err.getvalue(), said
    if "--json" in words:
        found = json.loads(out.getvalue())
        assert isinstance(found, dict)
        if code in (2, 3):
            assert found["error"]["code"] != "fault", said
        if code == 1:
            assert found["reasons"], said
    elif code:
        assert "A fault inside" not in err.getvalue(), said
        assert out.getvalue() == "" or words[:2] == ["records", "check"], said
        if code == 2:
            *faults, last = err.getvalue().splitlines()
            assert not faults or last.startswith(f"Not understood: {len(faults)} errors in "), said


def test_the_records_are_whole_after_all_that(world: Path) -> None:
    from fecallab.records.check import check

    assert check(world / "records").ok
