"""A vet's message typed in by the keeper: in one line, or question by question."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fecallab.cli.agree import YES, agreed
from fecallab.cli.common import BY, JSON, RECORDS, now, open_folder, read_time, who
from fecallab.cli.output import emit
from fecallab.cli.vet_take_in import read_bytes, record_all, recorded_text
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fecallab.domain.exam import Exam
    from fecallab.domain.vet_words import PageItem, VetPage
    from fecallab.vet.incoming import KnownBefore


def register(app: typer.Typer) -> None:
    """Add the command ``add``."""
    app.command()(add)


def add(
    exam: str = typer.Argument(help="Code of the exam that the message is about."),
    said: str | None = typer.Argument(
        None, help='What the vet said: "3 pollen, 7 unsure, rest agree; see me if …"; asked when left out.'
    ),
    vet: str | None = typer.Option(None, "--vet", help="The vet who said it."),
    date: str | None = typer.Option(None, "--date", help="When the message came (now when left out)."),
    page: str = typer.Option(
        "", "--page", help="Id of the page whose numbers are meant (else the last one)."
    ),
    case: str = typer.Option(
        "", "--case", help="The case that advice or a plan is for, where it is not clear."
    ),
    message: Path | None = typer.Option(
        None, "--message-file", help="The whole message, kept as it is (else the words above are kept)."
    ),
    yes: bool = YES,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Type in what a vet said in a letter or message: read back, then recorded as typed by you, unsigned."""
    from fecallab.cli.ask import may_ask
    from fecallab.cli.exam_input import organism_name
    from fecallab.cli.vet_words import incoming_lines, incoming_payload
    from fecallab.domain.errors import BadInput
    from fecallab.vet.changes import changes
    from fecallab.vet.incoming import KnownBefore
    from fecallab.vet.message import read_message
    from fecallab.vet.typed import from_message, numbered, page_for

    when = read_time(date, "--date")
    kept = _kept(message)
    with open_folder(records) as store:
        whole = store.exam(exam)
        sent = page_for(store, whole, page)
        if said is None or vet is None:
            if as_json or not may_ask([]):
                raise BadInput(
                    "It is not said what the vet said, and who." if said is None else "No vet is named.",
                    next=f'Type: fecallab verdict add {whole.code} "3 pollen, rest agree" --vet "NAME"',
                    code="missing",
                )
            vet, said = ask_for(whole, sent, numbered(store, whole, sent), vet, said)
        name = vet.strip()
        if not name:
            raise BadInput("A verdict is a named vet's word.", next='Type: --vet "NAME"', code="nobody")
        told = read_message(said, organism_name)
        more = {"vet": name, "said_at": when, "message": kept or said, "line": said, "case": case}
        incoming = from_message(store, whole, sent, told, **more)  # type: ignore[arg-type]
        if isinstance(incoming, KnownBefore):
            _say_known(incoming, as_json)
            return
        found = changes(store, incoming, now().date())
    numbers = (
        f"page {sent.page_id} of {say_date(sent.made_at)}"
        if sent
        else f"{whole.code} as it stands (no page was made)"
    )
    lines = [f"Numbers are those of {numbers}.", *incoming_lines(incoming, found)]
    payload = {"numbers_of": sent.page_id if sent else whole.code, **incoming_payload(incoming, found)}
    if not agreed("\n".join(lines), yes, as_json):
        emit({"recorded": False, **payload}, "Nothing was recorded. To record it: add --yes", as_json)
        return
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        again = from_message(writer, writer.exam(whole.code), sent, told, **more)  # type: ignore[arg-type]
        if isinstance(again, KnownBefore):
            _say_known(again, as_json)
            return
        answer, opened, notes = record_all(writer, again)
        from fecallab.records.vet_words import words_of_answer

        words = [word.code for word in words_of_answer(writer, answer.code)[3] if word.open]
    text = recorded_text(answer, opened, notes, words)
    text += f"\n  Typed by {who(by)} from a message of {say_date(when)}, unsigned; the message is kept."
    emit(
        {
            "recorded": True,
            "answer": answer.code,
            "cases_opened": [one.code for one in opened],
            "to_read_over": words,
            **payload,
        },
        "\n".join([*lines, text]) if yes else text,
        as_json,
    )


def _kept(path: Path | None) -> str:
    """Return the message in a file, as it was."""
    from fecallab.domain.errors import BadInput

    if path is None:
        return ""
    try:
        return read_bytes(str(path)).decode("utf-8-sig").replace("\r\n", "\n").strip()
    except UnicodeDecodeError:
        raise BadInput(
            f"{path} is not text in UTF-8.", next="Save the message as plain text.", code="not-text"
        ) from None


def ask_for(
    exam: Exam, page: VetPage | None, items: Sequence[PageItem], vet: str | None, said: str | None
) -> tuple[str, str]:
    """Ask for the vet and for the words, mark by mark; return both, the words in one line.

    Every answer is read at once, and asked for again when it is not understood.
    """
    from fecallab.cli.ask.talk import STOP, Talk
    from fecallab.cli.exam_input import organism_name
    from fecallab.domain.errors import BadInput
    from fecallab.vet.message import read_message

    talk = Talk()
    numbers = {item.number for item in items}
    said_of: set[int] = set()

    def line(text: str, hint: str = "") -> str:
        typed = talk.line(text, hint)
        if typed.lower() == STOP:
            raise typer.Abort
        return typed

    def read(text: str, start: str = "", hint: str = "", *, by_number: bool = False) -> str:
        while True:
            typed = line(text, hint).replace(";", ",")
            if not typed:
                return ""
            try:
                words = read_message(start + typed, organism_name).words
            except BadInput as error:
                talk.say(f"{error}")
                continue
            if by_number and not words:
                talk.say("The number stands first, such as 3 pollen; Enter goes on.")
                continue
            strange = set(words) - numbers or set(words) & said_of
            if strange:
                why = "has a word already" if strange & said_of else "does not stand there"
                talk.say(f"Number {min(strange)} {why}; the numbers run from 1 to {len(items)}.")
                continue
            said_of.update(words)
            return start + typed

    where = f"page {page.page_id}" if page else exam.code
    talk.say(f"What the vet said of {where}. Enter = nothing said; q stops.")
    name = vet or line("Which vet")
    if said is not None:
        return name, said
    parts: list[str] = []
    for item in (one for one in items if not one.sure):
        called = item.name.replace("_", " ")
        parts.append(
            read(
                f"No. {item.number}, you: {called}, not sure. The vet: agree, a name, artefact, unsure",
                f"{item.number} ",
            )
        )
    another = "Another number with a word of its own, such as 3 pollen"
    while word := read(another, hint=" [Enter = none]", by_number=True):
        parts.append(word)
    if any(item.sure and item.number not in said_of for item in items):
        rest = line("Does the vet agree with the rest? y, n", " [Enter = n]").lower()
        parts.append("rest agree" if rest in ("y", "yes") else "")
    sentences = [", ".join(filter(None, parts))]
    for question, start in (
        ("Organisms that you missed, such as 2 oxyurid", "missed "),
        ("Grade, such as few for oxyurid", "grade "),
        ("The exam: adequate, not adequate, accept", ""),
        ("Pictures: good, usable, too poor", "pictures "),
        ("Plan: same, or in the vet's words", "plan "),
        ("Advice", "advice: "),
    ):
        sentences.append(read(question, start))
    return name, "; ".join(filter(None, sentences))


def _say_known(known: KnownBefore, as_json: bool) -> None:
    text = f"This was typed in before ({known.code}){' and withdrawn since' if known.withdrawn else ''}; nothing was changed."
    emit({"recorded": False, "answer": known.code, "withdrawn": known.withdrawn}, text, as_json)
