"""Pages that went to a vet and the answers that came back, as the records keep them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import sqlalchemy as sa

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam
from fecallab.domain.vet_words import (
    CaseWord,
    ExamVerdict,
    MarkVerdict,
    MissedOrganism,
    PageItem,
    TrustedKey,
    VetAnswer,
    VetPage,
)
from fecallab.records import rows, schema, trees
from fecallab.records.casefile import in_time
from fecallab.records.finding import one_row
from fecallab.records.reader import Reader
from fecallab.records.writer import Writer


def record_page(writer: Writer, page: VetPage, items: Iterable[PageItem]) -> VetPage:
    """Record a page that goes out, with what stood on it to be judged.

    The same page made again (same hash) is the page that is recorded already.

    Parameters
    ----------
    writer : Writer
        An open transaction.
    page : VetPage
        Without a code.
    items : iterable of PageItem
        In the order of their numbers.

    Returns
    -------
    VetPage
        With its code.
    """
    known = page_by_hash(writer, page.page_sha256)
    if known is not None:
        return known
    recorded = writer.add(page)
    with writer._connection() as connection:
        given = [
            {
                "page": recorded.code,
                "number": item.number,
                "item": item.item,
                "name": item.name,
                "sure": item.sure,
                "count": item.count,
            }
            for item in items
        ]
        if given:
            connection.execute(sa.insert(schema.vet_page_items), given)
    return recorded


def pages(reader: Reader, subject: str = "") -> list[VetPage]:
    """Return the pages that went out (about one case or exam when named), oldest first."""
    where = [schema.vet_pages.c.subject == subject] if subject else []
    with reader._connection() as connection:
        return in_time(trees.facts(connection, rows.VET_PAGE, *where))


def page(reader: Reader, code_or_id: str) -> VetPage:
    """Return one page by its code (``Z1``) or by its id (``7K2M-Q9XA``).

    Raises
    ------
    BadInput
        When no page with this id was made from these records.
    """
    asked = code_or_id.strip().upper()
    with reader._connection() as connection:
        if rows.kind_of_code(asked) is rows.VET_PAGE:
            found: VetPage = trees.fact_at(
                connection, rows.VET_PAGE, one_row(connection, rows.VET_PAGE, asked)
            )
            return found
        fitting = in_time(trees.facts(connection, rows.VET_PAGE, schema.vet_pages.c.page_id == asked))
    if not fitting:
        raise BadInput(
            f"No page with the id {code_or_id.strip()[:40]!r} was made from these records.",
            next="Check the id on the page, or give the answer to the records that made the page.",
            code="unknown-page",
        )
    last: VetPage = fitting[-1]
    return last


def page_by_hash(reader: Reader, page_sha256: str) -> VetPage | None:
    """Return the page that has this hash, or None."""
    with reader._connection() as connection:
        where = schema.vet_pages.c.page_sha256 == page_sha256
        found = trees.facts(connection, rows.VET_PAGE, where)
    return found[0] if found else None


def items_of(reader: Reader, page_code: str) -> list[PageItem]:
    """Return what stood on a page to be judged, in the order of the numbers."""
    table = schema.vet_page_items
    query = (
        sa.select(table.c.number, table.c.item, table.c.name, table.c.sure, table.c.count)
        .where(table.c.page == page_code)
        .order_by(table.c.number)
    )
    with reader._connection() as connection:
        return [
            PageItem(number=number, item=item, name=name, sure=sure, count=count)
            for number, item, name, sure, count in connection.execute(query)
        ]


def answers(reader: Reader, page_code: str = "") -> list[VetAnswer]:
    """Return the answers that stand (to one page when named), oldest first."""
    where = [schema.vet_answers.c.page == page_code] if page_code else []
    with reader._connection() as connection:
        return in_time(trees.facts(connection, rows.ANSWER, *where))


def note_signature(writer: Writer, code: str, signed: str, signing_key: str) -> bool:
    """Note that an answer that was recorded unsigned came again with a signature; say whether it is new."""
    known = next((one for one in answers(writer) if one.code == code), None)
    if known is None or known.signing_key or not signing_key:
        return False
    signed_now = replace(known, signed=signed, signing_key=signing_key)
    writer.correct(code, signed_now, "the same answer came again, signed")
    return True


def how_signed(answer: VetAnswer, keys: Iterable[TrustedKey]) -> str:
    """Return how an answer is signed by the keys that are known today."""
    from fecallab.domain.verdict import vet_key

    if not answer.signing_key:
        return answer.signed
    mine = any(
        one.public_key == answer.signing_key and vet_key(one.name) == vet_key(answer.vet) for one in keys
    )
    return "signed, key known here" if mine else "signed, key not known here"


def answer_said_before(reader: Reader, says_sha256: str) -> tuple[str, bool] | None:
    """Return the code of the answer that says exactly this, and whether it was withdrawn; None when new."""
    table = schema.vet_answers
    query = trees.tips(rows.ANSWER).where(table.c.says_sha256 == says_sha256).order_by(table.c.id.desc())
    with reader._connection() as connection:
        row = connection.execute(query).mappings().first()
    return None if row is None else (str(row["code"]), bool(row["withdrawn"]))


def words_of_answer(
    reader: Reader, answer: str
) -> tuple[list[MarkVerdict], list[MissedOrganism], list[ExamVerdict], list[CaseWord]]:
    """Return every word of one answer that stands."""
    with reader._connection() as connection:
        code = one_row(connection, rows.ANSWER, answer)["code"]
        found = [
            trees.facts(connection, kind, kind.table.c.answer == code)
            for kind in (rows.MARK_VERDICT, rows.MISSED, rows.EXAM_VERDICT, rows.CASE_WORD)
        ]
    return found[0], found[1], found[2], found[3]


def case_words(reader: Reader, case: str = "") -> list[CaseWord]:
    """Return the words of vets on cases (on one when named), in the order in which they were recorded."""
    where = [schema.case_words.c.case == case] if case else []
    with reader._connection() as connection:
        return trees.facts(connection, rows.CASE_WORD, *where)


def case_word(reader: Reader, code: str) -> CaseWord:
    """Return one word on a case by its code."""
    with reader._connection() as connection:
        found: CaseWord = trees.fact_at(connection, rows.CASE_WORD, one_row(connection, rows.CASE_WORD, code))
    return found


def trusted_keys(reader: Reader) -> list[TrustedKey]:
    """Return the public keys of vets that the keeper knows."""
    with reader._connection() as connection:
        return trees.facts(connection, rows.TRUSTED_KEY)


def exams_with_words(reader: Reader) -> list[Exam]:
    """Return every exam on which a vet has said something that stands, oldest first."""
    named = [
        trees.current(kind).with_only_columns(kind.table.c.exam)
        for kind in (rows.MARK_VERDICT, rows.MISSED, rows.EXAM_VERDICT)
    ]
    with reader._connection() as connection:
        if connection.execute(sa.select(schema.vet_answers.c.id).limit(1)).first() is None:
            return []
        which = sa.select(schema.exams.c.code).where(schema.exams.c.code.in_(sa.union(*named)))
        return in_time(trees.load_exams(connection, which))
