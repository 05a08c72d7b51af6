"""Taking in what a vet answered: checked, shown, asked, recorded."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fecallab.cli.agree import YES, agreed
from fecallab.cli.common import BY, JSON, RECORDS, now, open_folder, who
from fecallab.cli.output import emit

if TYPE_CHECKING:
    from fecallab.domain.case import Case
    from fecallab.domain.vet_words import CaseWord, VetAnswer
    from fecallab.records.writer import Writer
    from fecallab.vet.incoming import Incoming, KnownBefore


def register(app: typer.Typer) -> None:
    """Add the command ``take-in``."""
    app.command(name="take-in")(take_in)


def take_in(
    file: str = typer.Argument(
        help="The answer: the file that the page saved, a message, or - for pasted text."
    ),
    yes: bool = YES,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Take in a vet's answer: show what would change, ask, and record it beside the keeper's own names."""
    from hashlib import sha256

    from fecallab.cli.vet_words import incoming_lines, incoming_payload
    from fecallab.vet.answer import parse_answer
    from fecallab.vet.changes import changes
    from fecallab.vet.incoming import KnownBefore, from_page

    data = read_bytes(file)
    read = parse_answer(data)
    raw = sha256(data).hexdigest()
    with open_folder(records) as store:
        incoming = from_page(store, read, raw, now())
        found = None if isinstance(incoming, KnownBefore) else changes(store, incoming, now().date())
    if isinstance(incoming, KnownBefore):
        _say_known(incoming, _signed_since(incoming, records, by), as_json)
        return
    assert found is not None
    lines = incoming_lines(incoming, found)
    payload = incoming_payload(incoming, found)
    if not agreed("\n".join(lines), yes, as_json):
        emit({"recorded": False, **payload}, "Nothing was recorded. To record it: add --yes", as_json)
        return
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        again = from_page(writer, read, raw, now())
        if isinstance(again, KnownBefore):
            _say_known(again, False, as_json)
            return
        answer, opened, notes = record_all(writer, again)
        words = [word.code for word in _case_words(writer, answer)]
    text = recorded_text(answer, opened, notes, words)
    emit(
        {
            "recorded": True,
            "answer": answer.code,
            "cases_opened": [case.code for case in opened],
            "to_read_over": words,
            **payload,
        },
        text if not yes else "\n".join([*lines, text]),
        as_json,
    )


def read_bytes(file: str) -> bytes:
    """Return the bytes of a file, or of what is pasted; refused by size before they are read.

    Raises
    ------
    BadInput
        When there is no such file, or it is larger than any answer.
    """
    from fecallab.domain.errors import BadInput
    from fecallab.vet.safe_json import MOST_BYTES, too_large

    most = 2 * MOST_BYTES
    if file == "-":
        data = sys.stdin.buffer.read(most + 1) if hasattr(sys.stdin, "buffer") else sys.stdin.read().encode()
        if len(data) > most:
            raise too_large(len(data), most)
        return data
    path = Path(file)
    if not path.is_file():
        raise BadInput(
            f"{file[:200]} is no file.",
            next="Name the file that the vet's page saved, or - to paste the block of text.",
            code="no-file",
        )
    size = path.stat().st_size
    if size > most:
        raise too_large(size, most)
    with path.open("rb") as opened:
        return opened.read(most + 1)


def record_all(writer: Writer, incoming: Incoming) -> tuple[VetAnswer, list[Case], list[str]]:
    """Record an answer with its words; open a case for what a vet named surely and no case is about yet."""
    from fecallab.cli.exam import open_cases
    from fecallab.vet.incoming import record

    before = {code: writer.exam(code) for code in incoming.exam_codes}
    answer = record(writer, incoming)
    opened: list[Case] = []
    notes: list[str] = []
    for code, old in before.items():
        exam = writer.exam(code)
        sample = writer.sample(exam.sample)
        more, said = open_cases(writer, exam, sample, writer.animal(sample.animal), old)
        opened += more
        notes += said
    return answer, opened, notes


def recorded_text(answer: VetAnswer, opened: list[Case], notes: list[str], words: list[str]) -> str:
    """Return what was recorded in words, with what is to be done next."""
    from fecallab.cli.output import one_line

    lines = [f"{answer.code}: the answer of {one_line(answer.vet)} is recorded ({answer.signed})."]
    lines += [f"  Case {case.code} opened: {case.target}." for case in opened]
    lines += [f"  Note: {note}" for note in dict.fromkeys(notes)]
    lines += [
        f"  To be read over by you before anything is given: fecallab verdict plan {code}" for code in words
    ]
    return "\n".join(lines)


def _case_words(writer: Writer, answer: VetAnswer) -> list[CaseWord]:
    from fecallab.records.vet_words import words_of_answer

    return [word for word in words_of_answer(writer, answer.code)[3] if word.open]


def _signed_since(known: KnownBefore, records: str | None, by: str | None) -> bool:
    """Note that an answer that was recorded unsigned came again with a signature that fits."""
    from fecallab.records.vet_words import note_signature

    if known.withdrawn or not known.signing_key:
        return False
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        return note_signature(writer, known.code, known.signed, known.signing_key)


def _say_known(known: KnownBefore, signed_since: bool, as_json: bool) -> None:
    text = f"This answer was taken in before ({known.code}); nothing was changed."
    if signed_since:
        text = f"This answer was taken in before ({known.code}); it is noted that it is {known.signed} now."
    if known.withdrawn:
        text = (
            f"This answer was taken in before ({known.code}) and withdrawn since; nothing was changed."
            f" Why: fecallab history {known.code}"
        )
    payload = {"recorded": False, "answer": known.code, "withdrawn": known.withdrawn}
    emit({**payload, "signed_since": signed_since}, text, as_json)
