"""The help names kinds of values in plain words, never by the names of a programming language."""

from __future__ import annotations

import pytest

from fecallab.cli.main import run


@pytest.mark.parametrize("words", [("plan", "add"), ("exam", "add"), ("report", "case"), ("image", "detect")])
def test_the_kind_of_a_value_is_a_plain_word(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*words, "--help"]) == 0
    said = capsys.readouterr().out
    assert not [kind for kind in ("<str>", "<int>", "<path>", "list[", "<float>") if kind in said]


def test_days_times_numbers_and_files_are_told_apart(capsys: pytest.CaptureFixture[str]) -> None:
    run(["plan", "add", "--help"])
    said = capsys.readouterr().out
    assert (
        "--written DAY" in said
        and "--vet TEXT" in said
        and "--doses NUMBER" in said
        and "--file FILE" in said
    )
    run(["animal", "weigh", "--help"])
    assert "--at TIME" in capsys.readouterr().out
    run(["vet", "page", "--help"])
    said = capsys.readouterr().out
    assert "--records FOLDER" in said and "--out FOLDER" in said and "--clip FILE" in said
    run(["image", "motility", "--help"])
    assert "--out FILE" in capsys.readouterr().out
