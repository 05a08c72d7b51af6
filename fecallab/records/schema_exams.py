"""Tables of samples, the danger signs asked with them, and exams."""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.domain import exam as exams_
from fecallab.domain import sample as samples_
from fecallab.domain import signs as signs_
from fecallab.records.columns import (
    at_least_one,
    clock,
    code_of,
    day,
    fact_table,
    flag,
    flag_later,
    half_turn,
    not_empty,
    not_negative,
    number,
    one_of,
    ordered,
    part_table,
    positive,
    refers_to_code,
    refers_to_picture,
    share,
    text,
    text_later,
    whole,
    word,
)

samples = fact_table(
    "samples",
    refers_to_code("animal"),
    text("origin"),
    clock("passed_from", needed=False),
    clock("passed_to", needed=False),
    clock("collected_at"),
    word("form"),
    word("kept"),
    number("mass_g"),
    flag("whole_stool_used"),
    refers_to_code("same_stool_as", needed=False),
    text("remark"),
    rules=(
        code_of("animal", "A"),
        one_of("origin", samples_.ORIGINS),
        ordered("passed_from", "passed_to"),
        one_of("form", samples_.FORMS),
        one_of("kept", samples_.KEPT),
        positive("mass_g"),
        code_of("same_stool_as", "S"),
        at_least_one("stools_of"),
    ),
    later=(flag_later("as_told"), whole("stools_of")),
)

sign_answers = fact_table(
    "sign_answers",
    refers_to_code("animal"),
    text("sign"),
    text("answer"),
    clock("seen_at"),
    refers_to_code("sample", needed=False),
    text("by"),
    text("remark"),
    rules=(
        code_of("animal", "A"),
        not_empty("sign"),
        one_of("answer", signs_.SIGN_ANSWERS),
        code_of("sample", "S"),
    ),
)

exams = fact_table(
    "exams",
    refers_to_code("sample"),
    clock("examined_at"),
    text("by"),
    text("question"),
    text("remark"),
    rules=(code_of("sample", "S"),),
    later=(flag_later("as_told"), flag("stated_adequate", needed=False)),
)

preparations = fact_table(
    "preparations",
    refers_to_code("exam"),
    text("method"),
    clock("read_at", needed=False),
    text("cover_glass"),
    number("room_c"),
    flag("slide_warmed", needed=False),
    text("solution"),
    number("specific_gravity"),
    flag("gravity_checked", needed=False),
    number("standing_minutes"),
    number("sample_g"),
    number("suspension_ml"),
    number("counted_ml"),
    text("remark"),
    rules=(
        code_of("exam", "E"),
        one_of("method", exams_.METHODS),
        positive("specific_gravity"),
        not_negative("standing_minutes"),
        positive("sample_g"),
        positive("suspension_ml"),
        positive("counted_ml"),
    ),
)

readings = fact_table(
    "readings",
    refers_to_code("preparation"),
    text("kind"),
    number("objective"),
    number("field_number"),
    number("cover_share"),
    number("um_per_px"),
    refers_to_picture(),
    text("remark"),
    rules=(
        code_of("preparation", "E"),
        one_of("kind", exams_.READING_KINDS),
        positive("objective"),
        positive("field_number"),
        share("cover_share"),
        positive("um_per_px"),
        one_of("proposals", exams_.PROPOSALS),
        not_negative("mean_swimming"),
        not_negative("mean_swimming_low"),
        not_negative("mean_swimming_high"),
        positive("clip_seconds"),
    ),
    later=(
        text_later("proposals"),
        number("mean_swimming"),
        number("mean_swimming_low"),
        number("mean_swimming_high"),
        number("clip_seconds"),
    ),
)

reading_counts = part_table(
    "reading_counts",
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("reading_id", sa.Integer, sa.ForeignKey("readings.id"), nullable=False),
    text("name"),
    flag("sure"),
    whole("count", needed=True),
    sa.UniqueConstraint("reading_id", "name", "sure"),
    rules=(not_empty("name"), not_negative("count")),
)

marks = fact_table(
    "marks",
    refers_to_code("reading"),
    number("x_px", needed=True),
    number("y_px", needed=True),
    text("name"),
    flag("sure"),
    number("length_um"),
    number("width_um"),
    number("angle_deg"),
    text("named_by"),
    rules=(
        code_of("reading", "E"),
        not_empty("name"),
        positive("length_um"),
        positive("width_um"),
        half_turn("angle_deg"),
    ),
)

elsewhere_results = fact_table(
    "elsewhere_results",
    refers_to_code("exam"),
    text("target"),
    text("stage"),
    text("who"),
    text("method"),
    day("reported_on"),
    text("result"),
    flag("stated_adequate", needed=False),
    text("grade"),
    refers_to_picture(),
    text("remark"),
    rules=(code_of("exam", "E"),),
)
