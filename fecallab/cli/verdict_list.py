"""What vets have said of a case or an exam, and taking a whole answer back."""

from __future__ import annotations

from typing import Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, fact_dict, now, open_folder, who
from fecallab.cli.output import emit, one_line
from fecallab.domain.spoken import number_of, say_date, say_time


def register(app: typer.Typer) -> None:
    """Add the commands ``list`` and ``withdraw``."""
    app.command(name="list")(list_verdicts)
    app.command()(withdraw)


def list_verdicts(
    of: str | None = typer.Argument(None, help="A case, an exam or an animal; all when left out."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List what vets have said: answers, words on exams beside the keeper's names, plans to read over."""
    from fecallab.cli.vet_words import case_word_lines
    from fecallab.gather_vet import case_word_notes, verdict_lines
    from fecallab.records.vet_words import answers, case_words, how_signed, pages, trusted_keys

    with open_folder(records) as store:
        exams, cases = _asked(store, of)
        known = {code for exam in exams for code in exam.verdicts.answers}
        words = [word for word in case_words(store) if cases is None or word.case in cases]
        known |= {word.answer for word in words}
        codes = {exam.code for exam in exams}
        sent = [page for page in pages(store) if of is None or codes & set(page.exams.split())]
        known |= {one.code for one in answers(store) if one.page in {page.code for page in sent}}
        said = [one for one in answers(store) if of is None or one.code in known]
        keys = trusted_keys(store)
    answered = {one.page for one in said}
    lines = []
    for one in said:
        how = how_signed(one, keys) if one.source == "page" else "typed from a message, unsigned"
        page = next((p for p in sent if p.code == one.page), None)
        lines.append(
            f"{one.code}: {one_line(one.vet)}, {say_time(one.answered_at)}, {how}"
            + (f", to page {page.page_id} ({page.subject})" if page else "")
        )
        lines += [f"  Message: {one_line(one.message)}"] if one.message else []
        lines += [f"  Besides: {one_line(one.words)}"] if one.words else []
    for exam in exams:
        told = verdict_lines(exam)
        lines += [f"Exam {exam.code}:", *(f"  {one_line(line)}" for line in told)] if told else []
    for word in words:
        lines += [f"{word.code} on {line}" for line in case_word_lines(word) if not line.startswith("  ")]
        lines += case_word_notes([word])[1 if word.advice else 0 :]
    waiting = [page for page in sent if page.code not in answered]
    lines += [
        f"Page {page.page_id} ({page.subject}) of {say_date(page.made_at)}: no answer yet" for page in waiting
    ]
    payload: dict[str, Any] = {
        "answers": [{**fact_dict(one), "signed": how_signed(one, keys)} for one in said],
        "exams": [{"exam": exam.code, **_words(exam)} for exam in exams if exam.verdicts],
        "cases": [{**fact_dict(word), "open": word.open} for word in words],
        "pages_without_answer": [page.page_id for page in waiting],
    }
    emit(payload, "\n".join(lines) or "No vet has said anything that is recorded here.", as_json)


def _words(exam: Any) -> dict[str, Any]:
    said = exam.verdicts
    return {
        "marks": [fact_dict(one) for one in said.marks],
        "missed": [fact_dict(one) for one in said.missed],
        "exam_words": [fact_dict(one) for one in said.exams],
    }


def _asked(store: Any, of: str | None) -> tuple[list[Any], set[str] | None]:
    from fecallab.records import rows

    if of is None:
        return store.exams(), None
    kind = rows.kind_of_code(of.strip().upper())
    if kind is rows.EXAM:
        exam = store.exam(of)
        animal = store.sample(exam.sample).animal
        return [exam], {case.code for case in store.cases(animal)}
    if kind is rows.CASE:
        file = store.case_file(of)
        return list(file.exams), {file.case.code}
    animal = store.animal(of).code
    return store.exams(animal), {case.code for case in store.cases(animal)}


def withdraw(
    answer: str = typer.Argument(help="Code of the answer, such as Y1."),
    reason: str = typer.Option(..., help="Why; it is kept with the record."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Take back a whole answer with all its words; single words: fecallab withdraw U3."""
    from fecallab.domain.errors import BadInput
    from fecallab.records.vet_words import words_of_answer

    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        words = words_of_answer(writer, answer)
        taken = [word.code for word in words[3] if word.taken_as]
        if taken:
            raise BadInput(
                f"A plan in it was read over and recorded ({taken[0]}).",
                next="Replace that plan first: fecallab plan add",
                code="plan-taken",
            )
        codes = [word.code for group in words for word in group]
        for code in codes:
            writer.withdraw(code, reason)
        code = answer.strip().upper()
        writer.withdraw(code, reason)
    text = f"{code} withdrawn with {number_of(len(codes), 'word')}: {reason}. Its rows stay: fecallab history {code}"
    emit({"withdrawn": code, "words": codes}, text, as_json)
