"""Tables of what vets have said: pages that went out, answers, and their words one by one."""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.domain import vet_words as words_
from fecallab.records.columns import (
    Rule,
    at_least_one,
    clock,
    code_of,
    fact_table,
    flag,
    not_empty,
    number,
    one_of,
    part_table,
    refers_to_code,
    text,
    whole,
)


def _hash(column: str, *, may_be_empty: bool = False) -> Rule:
    condition = f"length({column}) = 64"
    return Rule(
        f"{column}_length",
        (column,),
        f"{condition} OR {column} = ''" if may_be_empty else condition,
        "a hash has 64 letters and digits",
        lambda value: value is None or len(value) == 64 or (may_be_empty and value == ""),
    )


vet_pages = fact_table(
    "vet_pages",
    text("subject"),
    text("exams"),
    text("page_id"),
    text("page_sha256"),
    clock("made_at"),
    text("question"),
    text("remark"),
    rules=(not_empty("subject"), not_empty("page_id"), _hash("page_sha256")),
)
sa.Index(None, vet_pages.c.page_id)

vet_page_items = part_table(
    "vet_page_items",
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("page", sa.Text, sa.ForeignKey("codes.code"), nullable=False),
    whole("number", needed=True),
    text("item"),
    text("name"),
    flag("sure"),
    whole("count", needed=True),
    sa.UniqueConstraint("page", "number"),
    rules=(not_empty("item"), not_empty("name"), at_least_one("number"), at_least_one("count")),
)

vet_answers = fact_table(
    "vet_answers",
    refers_to_code("page", needed=False),
    text("vet"),
    text("practice"),
    clock("answered_at"),
    text("source"),
    text("message"),
    text("says_sha256"),
    text("raw_sha256"),
    text("signed"),
    text("signing_key"),
    text("words"),
    text("remark"),
    rules=(
        code_of("page", "Z"),
        not_empty("vet"),
        one_of("source", words_.SOURCES),
        one_of("signed", words_.SIGNED),
        _hash("says_sha256", may_be_empty=True),
        _hash("raw_sha256", may_be_empty=True),
    ),
)

mark_verdicts = fact_table(
    "mark_verdicts",
    refers_to_code("answer"),
    refers_to_code("exam"),
    refers_to_code("reading"),
    text("item"),
    text("word"),
    text("name"),
    flag("sure"),
    text("eye_group"),
    text("seen_name"),
    flag("seen_sure"),
    whole("count", needed=True),
    text("remark"),
    rules=(
        code_of("answer", "Y"),
        code_of("exam", "E"),
        code_of("reading", "E"),
        not_empty("item"),
        one_of("word", words_.MARK_WORDS),
        not_empty("name"),
        at_least_one("count"),
    ),
)

missed_organisms = fact_table(
    "missed_organisms",
    refers_to_code("answer"),
    refers_to_code("exam"),
    refers_to_code("reading"),
    number("x_px"),
    number("y_px"),
    text("name"),
    flag("sure"),
    text("eye_group"),
    whole("count", needed=True),
    text("remark"),
    rules=(
        code_of("answer", "Y"),
        code_of("exam", "E"),
        code_of("reading", "E"),
        not_empty("name"),
        at_least_one("count"),
    ),
)

exam_verdicts = fact_table(
    "exam_verdicts",
    refers_to_code("answer"),
    refers_to_code("exam"),
    text("target"),
    text("grade"),
    text("adequacy"),
    text("picture_quality"),
    text("remark"),
    rules=(
        code_of("answer", "Y"),
        code_of("exam", "E"),
        one_of("adequacy", words_.ADEQUACY_WORDS),
        one_of("picture_quality", words_.QUALITY_WORDS),
    ),
)

case_words = fact_table(
    "case_words",
    refers_to_code("answer"),
    refers_to_code("case"),
    text("advice"),
    text("plan_kind"),
    refers_to_code("same_as", needed=False),
    text("plan_says"),
    text("follow_up_says"),
    refers_to_code("taken_as", needed=False),
    text("declined"),
    text("remark"),
    rules=(
        code_of("answer", "Y"),
        code_of("case", "C"),
        one_of("plan_kind", words_.PLAN_WORDS),
        code_of("same_as", "P"),
        code_of("taken_as", "P"),
    ),
)

trusted_keys = fact_table(
    "trusted_keys",
    text("public_key"),
    text("name"),
    text("remark"),
    rules=(not_empty("public_key"), not_empty("name")),
)
