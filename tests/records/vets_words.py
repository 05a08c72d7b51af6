"""What a vet says to a page, one of every kind, to be put into records."""

from __future__ import annotations

from datetime import datetime
from typing import Any

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
from fecallab.records.vet_words import record_page
from fecallab.records.writer import Writer


def add_words_of_a_vet(writer: Writer, made: dict[str, Any]) -> dict[str, Any]:
    exam, case, plan = made["exam"], made["case"].code, made["plan"].code
    reading = exam.preparations[0].readings[1]
    page = record_page(
        writer,
        VetPage(
            subject=case,
            exams=exam.code,
            page_id="7K2M-Q9XA",
            page_sha256="ab" * 32,
            made_at=datetime(2026, 3, 3, 9),
            question="is <b>7</b> one?\nor pollen",
        ),
        [
            PageItem(number=n, item=mark.code, name=mark.name, sure=mark.sure)
            for n, mark in enumerate(reading.marks, start=1)
        ],
    )
    answer = writer.add(
        VetAnswer(
            page=page.code,
            vet="Dr. “Invented” <script>",
            practice="a practice",
            answered_at=datetime(2026, 3, 3, 20, 15),
            source="typed",
            message="2 pollen,\nrest agree 🐢",
            says_sha256="cd" * 32,
            signed="signed, key not known here",
            signing_key="A" * 43,
            words="well\nseen",
        )
    )
    where = {"answer": answer.code, "exam": exam.code}
    return {
        "page": page,
        "answer": answer,
        "mark verdict": writer.add(
            MarkVerdict(
                **where,
                reading=reading.code,
                item=reading.marks[1].code,
                word="cannot tell",
                name="pollen",
                sure=False,
                eye_group="pseudoparasite",
                seen_name="pollen",
                seen_sure=False,
                remark="first\nsecond",
            )
        ),
        "missed": writer.add(
            MissedOrganism(
                **where, reading=reading.code, x_px=3.5, y_px=0.0, name="oxyurid", eye_group="oxyurid"
            )
        ),
        "exam verdict": writer.add(
            ExamVerdict(
                **where, target="oxyurid", grade="few", adequacy="not adequate", picture_quality="usable"
            )
        ),
        "case word": writer.add(
            CaseWord(
                answer=answer.code,
                case=case,
                advice="keep\nwarm",
                plan_kind="same",
                same_as=plan,
                plan_says='{"kind":"same","plan":"P1"}',
                taken_as=plan,
                declined="",
            )
        ),
        "key": writer.add(TrustedKey(public_key="A" * 43, name="Dr. Invented", remark="by telephone")),
    }
