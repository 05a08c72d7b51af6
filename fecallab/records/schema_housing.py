"""Tables of enclosures, stays, arrivals, their protocols and releases."""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.domain import housing as housing_
from fecallab.records.columns import (
    at_least_one,
    code_of,
    day,
    fact_table,
    flag,
    not_empty,
    not_negative,
    one_of,
    ordered,
    part_table,
    refers_to_code,
    text,
    whole,
)


def _words(name: str, table: str, word: sa.Column[str]) -> sa.Table:
    """Return the table of the words in the lists of a row: one word each, in their order."""
    return part_table(
        name,
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("row_id", sa.Integer, sa.ForeignKey(f"{table}.id"), nullable=False),
        text("field"),
        word,
        sa.UniqueConstraint("row_id", "field", "word"),
        rules=(not_empty("word"),),
    )


enclosures = fact_table(
    "enclosures",
    text("name"),
    text("name_key"),
    text("room"),
    text("remark"),
    rules=(not_empty("name_key"),),
)
sa.Index(None, enclosures.c.name_key)

sharings = fact_table(
    "sharings",
    refers_to_code("enclosure"),
    text("thing"),
    text("label"),
    day("start", needed=False),
    day("end", needed=False),
    text("remark"),
    rules=(
        code_of("enclosure", "B"),
        one_of("thing", housing_.SHARED_THINGS),
        not_empty("label"),
        ordered("start", "end"),
    ),
)

stays = fact_table(
    "stays",
    refers_to_code("animal"),
    refers_to_code("enclosure"),
    day("start", needed=False),
    day("end", needed=False),
    whole("number_of_animals", needed=True),
    flag("visit"),
    text("remark"),
    rules=(
        code_of("animal", "A"),
        code_of("enclosure", "B"),
        ordered("start", "end"),
        at_least_one("number_of_animals"),
    ),
)

count_changes = fact_table(
    "count_changes",
    refers_to_code("animal"),
    day("on"),
    text("kind"),
    whole("number", needed=True),
    refers_to_code("other", needed=False),
    text("by"),
    text("remark"),
    rules=(
        code_of("animal", "A"),
        one_of("kind", housing_.CHANGE_KINDS),
        at_least_one("number"),
        code_of("other", "A"),
    ),
)

arrivals = fact_table(
    "arrivals",
    text("name"),
    day("arrived_on"),
    text("origin"),
    text("source"),
    refers_to_code("split_from", needed=False),
    text("remark"),
    rules=(one_of("origin", housing_.ORIGINS_OF_ARRIVALS), code_of("split_from", "I")),
)

arrival_members = fact_table(
    "arrival_members",
    refers_to_code("arrival"),
    refers_to_code("animal"),
    day("joined_on"),
    day("left_on", needed=False),
    text("remark"),
    rules=(code_of("arrival", "I"), code_of("animal", "A"), ordered("joined_on", "left_on")),
)

arrival_protocols = fact_table(
    "arrival_protocols",
    refers_to_code("arrival"),
    day("written_on"),
    text("template"),
    text("edition"),
    text("vet"),
    whole("days_at_least", needed=True),
    whole("negatives_needed", needed=True),
    whole("spacing_days", needed=True),
    whole("last_exam_after_days"),
    whole("laboratory_pcrs", needed=True),
    text("positive_restarts"),
    text("newcomer_restarts"),
    text("source"),
    text("remark"),
    rules=(
        code_of("arrival", "I"),
        not_negative("days_at_least"),
        not_negative("negatives_needed"),
        not_negative("spacing_days"),
        not_negative("last_exam_after_days"),
        not_negative("laboratory_pcrs"),
        one_of("positive_restarts", housing_.WHO_RESTARTS),
        one_of("newcomer_restarts", housing_.WHO_RESTARTS),
    ),
)

protocol_words = _words("protocol_words", "arrival_protocols", text("word"))

releases = fact_table(
    "releases",
    refers_to_code("arrival"),
    day("on"),
    text("to"),
    text("by"),
    text("vet"),
    text("reason"),
    refers_to_code("protocol", needed=False),
    text("answer_then"),
    text("edition"),
    flag("supported_then"),
    text("remark"),
    rules=(code_of("arrival", "I"), code_of("protocol", "IP"), not_empty("by")),
)

release_animals = _words("release_animals", "releases", refers_to_code("word"))
