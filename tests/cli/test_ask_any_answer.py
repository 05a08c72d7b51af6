"""Any answers to any questions: an act that is whole, or nothing recorded; never a trace."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fecallab.cli.main import run

from ..effort import examples
from .conftest import contents

COMMANDS = [
    *(
        "animal add",
        "animal weigh",
        "sample add",
        "exam add",
        "exam prepare",
        "plan add",
        "dose give",
        "care log",
    ),
    *("case close", "case open", "exam elsewhere", "animal event", "sign add", "correct", ""),
]
ANSWERS = st.lists(
    st.one_of(
        st.sampled_from(
            [
                *(
                    "",
                    "",
                    "",
                    "",
                    "1",
                    "2",
                    "3",
                    "5",
                    "9",
                    "0",
                    "12",
                    "-",
                    "<",
                    "?",
                    "y",
                    "n",
                    "u",
                    "w",
                    "a",
                    "b",
                ),
                *(
                    "Saffron",
                    "saf",
                    "A1",
                    "Safron",
                    "318",
                    "0,5",
                    "1,234",
                    "-3",
                    "1e9",
                    "50",
                    "100",
                    "22",
                    "1/3",
                ),
                *(
                    "7:30",
                    "19:00 to 7:30",
                    "yesterday",
                    "3/4",
                    "3.10",
                    "2026-02-30",
                    "tomorrow",
                    "now",
                    "99:99",
                ),
                *(
                    "soft",
                    "simple flotation",
                    "saline",
                    "oxyurid 3",
                    "1 3u",
                    "0 2 1",
                    "fluids",
                    "given",
                    "clear",
                ),
                *(
                    "fenbendazole",
                    "by mouth",
                    "W1",
                    "mass_g=300",
                    '"C:\\My Files\\x"',
                    "ünïcode 🦎",
                    "x" * 300,
                ),
            ]
        ),
        st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\n\r"), max_size=12),
    ),
    max_size=25,
)


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records with an animal, a stool, an exam, and a case with a plan, made once."""
    home = tmp_path_factory.mktemp("asked") / "records"
    shutil.copytree(empty_folder, home)
    plan = (
        *("--vet", "Dr Ilse Varnholt", "--drug", "fenbendazole", "--dose-mg-per-kg", "50"),
        *("--concentration-mg-per-ml", "100", "--route", "by mouth", "--interval-days", "14", "--doses", "2"),
    )
    for words in (
        ("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--weight-g", "318"),
        ("sample", "add", "Saffron", "--form", "soft"),
        ("exam", "add", "S1", "--method", "simple_flotation", "--objective", "10", "--share", "1"),
        ("case", "open", "Saffron", "oxyurid", "--vet", "Dr Ilse Varnholt"),
        ("plan", "add", "C1", *plan),
    ):
        with contextlib.redirect_stdout(io.StringIO()):
            assert run([*words, "--records", str(home), "--json"]) == 0
    return home


@settings(
    max_examples=examples(90),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(name=st.sampled_from(COMMANDS), answers=ANSWERS)
def test_any_answers_end_in_an_act_or_in_nothing(
    name: str, answers: list[str], world: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "records"
    shutil.rmtree(home, ignore_errors=True)
    shutil.copytree(world, home)
    monkeypatch.setenv("FECALLAB_ASK", "1")
    monkeypatch.setenv("FECALLAB_RECORDS", str(home))
    monkeypatch.setenv("FECALLAB_TRACE", "1")
    before = contents(home)
    out, err = io.StringIO(), io.StringIO()
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in answers)))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(name.split())
    assert code in (0, 1, 2, 130), err.getvalue()
    if code != 0 and name:
        after = contents(home)
        assert after["database"] == before["database"], (name, answers, out.getvalue()[-500:])
    assert os.environ["FECALLAB_RECORDS"] == str(home)
