"""Answers with a signature, and answers that came as a block of text in a message."""

from __future__ import annotations

import copy
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput
from fecallab.vet.answer import EXAMPLE, parse_answer, to_block
from fecallab.vet.block import from_block
from fecallab.vet.incoming import Incoming
from fecallab.vet.signing import load_key, make_key, public_key_of, sign

from .conftest import VET, Rescue
from .taking_in import GOOD, page, refused, take

__all__ = ["page"]


Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]


@pytest.fixture
def key(tmp_path: Path) -> Any:
    path = tmp_path / "keys" / "vet.pem"
    make_key(path)
    assert path.stat().st_mode & 0o077 == 0 or os.name == "nt"
    return load_key(path)


def test_signed_answers_show_who_and_unchanged(
    rescue: Rescue, page: dict[str, str], key: Any, do: Do
) -> None:
    answer = sign(rescue.answer(page, **GOOD), key)
    unknown = take(rescue, answer)
    assert isinstance(unknown, Incoming) and unknown.answer.signed == "signed, key not known here"
    assert public_key_of(key) in unknown.notes[0]
    do("vet", "trust", public_key_of(key), VET)
    later = rescue.answer(page, answered_at="2026-05-14T08:00", rest_agreed=True)
    known = take(rescue, sign(later, key))
    assert isinstance(known, Incoming) and known.answer.signed == "signed, key known here"
    bare = take(rescue, rescue.answer(page, answered_at="2026-05-15T08:00", words="by the way"))
    assert isinstance(bare, Incoming) and bare.answer.signed == "unsigned"
    assert "this answer is unsigned" in bare.notes[0]


def test_an_answer_that_comes_again_with_a_signature_is_noted_as_signed(
    rescue: Rescue, page: dict[str, str], key: Any, do: Do, say: Say
) -> None:
    bare = rescue.answer(page, **GOOD)
    do("vet", "take-in", rescue.file(bare), "--yes")
    path = rescue.file(sign(bare, key), "signed.json")
    assert do("vet", "take-in", path)["signed_since"] is True
    assert do("vet", "take-in", path)["signed_since"] is False, "noted once"
    assert "signed, key not known here" in say("verdict", "list")
    do("vet", "trust", public_key_of(key), VET)
    assert "signed, key known here" in say("verdict", "list"), "by the keys of today"
    with rescue.open() as store:
        assert len(store.exam("E1").verdicts.marks) == 1


def test_a_signature_that_does_not_fit_is_refused(rescue: Rescue, page: dict[str, str], key: Any) -> None:
    answer = sign(rescue.answer(page, **GOOD), key)
    refused(rescue, {**answer, "rest_agreed": True}, "does not fit")
    other = copy.deepcopy(answer)
    other["signature"]["public_key"] = "A6EHv_POEL4dcN0Y50vAmWfk1jCbpQ1fHdyGZBJVMbg"
    refused(rescue, other, "does not fit")
    other["signature"]["public_key"] = "_" * 43
    refused(rescue, other, "no public key|does not fit")


def test_a_signature_by_another_key_is_refused(
    rescue: Rescue, page: dict[str, str], key: Any, do: Do, tmp_path: Path
) -> None:
    make_key(tmp_path / "other.pem")
    other = load_key(tmp_path / "other.pem")
    do("vet", "trust", public_key_of(key), VET)
    refused(rescue, sign(rescue.answer(page, **GOOD), other), "another key than the one known here")
    stranger = rescue.answer(page, **GOOD, vet={"name": "Dr Tomas Ebner"})
    refused(rescue, sign(stranger, key), "signed with the key of 'Dr Ilse Varnholt'")


def test_keys_are_made_shown_and_used_by_commands(
    rescue: Rescue, page: dict[str, str], do: Do, say: Say
) -> None:
    path = rescue.file(rescue.answer(page, **GOOD))
    made = do("vet", "key", "make", "--key", "mine.pem")
    assert do("vet", "key", "show", "--key", "mine.pem")["public_key"] == made["public_key"]
    assert "never written over" in say("vet", "key", "make", "--key", "mine.pem", code=2)
    assert "no legal signature and replaces no prescription" in say("vet", "key", "show", "--key", "mine.pem")
    signed = do("vet", "sign", path, "--key", "mine.pem")["file"]
    assert "nothing is written over" in say("vet", "sign", path, "--key", "mine.pem", code=2)
    do("vet", "trust", made["public_key"], VET)
    assert "is known here as that of" in say("vet", "trust", made["public_key"], "Dr Other", code=2)
    assert do("vet", "take-in", signed, "--yes")["signed"] == "signed, key known here"
    assert "no public key" in say("vet", "trust", "short", VET, code=2)
    assert "There is no key" in say("vet", "key", "show", "--key", "nowhere.pem", code=2)


@pytest.mark.parametrize(
    "mangle",
    [
        lambda block: "> " + block.replace("\n", "\n> "),
        lambda block: ">> | " + block.replace("\n", "\r\n>> | "),
        lambda block: block.replace("\n", " "),
        lambda block: "Dear Mara,\n\n" + block + "\n\nBest, “Ilse” – sent from my phone",
        lambda block: "\n".join(block[start : start + 23] for start in range(0, len(block), 23)),
        lambda block: block.replace(" ", "\u00a0"),
        lambda block: block.upper().replace(block.upper(), block) + "\n\n" + block,
        lambda block: "\ufeff" + block.replace("\n", "\n\n"),
    ],
)
def test_the_block_of_text_survives_a_message(mangle: Callable[[str], str]) -> None:
    data = json.dumps({**EXAMPLE, "words": "“Grüße” 🐢"}, ensure_ascii=False).encode()
    message = mangle(to_block(data))
    assert from_block(message) == data
    assert parse_answer(message.encode()).raw == json.loads(data)


def test_two_different_blocks_in_one_message_are_refused() -> None:
    one, other = (to_block(json.dumps({**EXAMPLE, "words": word}).encode()) for word in ("a", "b"))
    with pytest.raises(BadInput, match="2 different answers"):
        from_block(f"{one}\n> {other}")


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_one_letter_more_less_or_other_in_a_block_is_noticed(data: st.DataObject) -> None:
    whole = json.dumps(EXAMPLE).encode()
    block = to_block(whole)
    start, end = block.index("\n") + 1, block.rindex("\n")
    place = data.draw(st.integers(start, end - 1))
    letter = data.draw(st.sampled_from("ABCabc019+/"))
    how = data.draw(st.sampled_from(["put", "drop", "change"]))
    spoiled = block[:place] + ("" if how == "drop" else letter) + block[place + (how != "put") :]
    same = "".join(spoiled.split()) == "".join(block.split())
    try:
        assert from_block(spoiled) == whole and same
    except BadInput:
        assert not same
