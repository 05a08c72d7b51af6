"""The tables of the records, for SQLite and PostgreSQL alike.

Facts are only ever added to: a correction is a new row with the same code that names the row it replaces.
``codes`` holds every code that was ever given, so that none is given twice and every reference is checked.
Words of closed lists come from the domain; what a reference table holds (organisms, drugs, scales) is not
repeated here, because it has an edition of its own.
"""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.domain import animal as animals_
from fecallab.domain import case as cases_
from fecallab.domain import exam as exams_
from fecallab.domain import plan as plans_
from fecallab.domain import sample as samples_
from fecallab.records.columns import (
    Rule,
    UtcDateTime,
    at_least_one,
    clock,
    code_of,
    day,
    fact_table,
    flag,
    half_turn,
    metadata,
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
    whole,
    word,
)

SCHEMA_REVISIONS = ("0001",)
"""Every revision of the schema that this program knows, oldest first."""

CARE_KINDS = ("fluids", "feeding", "warm end", "lowest at night", "soak", "cleaning", "other")

collection = part_table(
    "collection",
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("identity", sa.Text, nullable=False),
    sa.Column("made_at", UtcDateTime, nullable=False),
    rules=(
        Rule("id_single", ("id",), "id = 1", "there is one collection", lambda value: value in (None, 1)),
    ),
)

codes = part_table(
    "codes",
    sa.Column("code", sa.Text, primary_key=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("parent", sa.Text, sa.ForeignKey("codes.code"), nullable=True),
    sa.Column("number", sa.Integer, nullable=False),
    rules=(at_least_one("number"),),
)
sa.Index(None, codes.c.kind, codes.c.parent, codes.c.number)

pictures = part_table(
    "pictures",
    sa.Column("id", sa.Integer, primary_key=True),
    text("sha256"),
    text("file_name"),
    text("format"),
    whole("width_px", needed=True),
    whole("height_px", needed=True),
    sa.Column("bytes", sa.BigInteger, nullable=False),
    clock("taken_at", needed=False),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    sa.Column("recorded_by", sa.Text, nullable=False),
    sa.UniqueConstraint("sha256"),
    rules=(
        Rule(
            "sha256_length",
            ("sha256",),
            "length(sha256) = 64",
            "a hash has 64 letters and digits",
            lambda value: value is None or len(value) == 64,
        ),
        not_negative("width_px"),
        not_negative("height_px"),
        not_negative("bytes"),
    ),
)

animals = fact_table(
    "animals",
    text("name"),
    text("name_key"),
    text("kind"),
    whole("number_of_animals", needed=True),
    text("species"),
    text("host_group"),
    flag("plant_eater"),
    flag("adult", needed=False),
    text("enclosure"),
    day("arrived_on", needed=False),
    text("remark"),
    rules=(not_empty("name_key"), one_of("kind", animals_.KINDS), at_least_one("number_of_animals")),
)
sa.Index(None, animals.c.name_key)

weighings = fact_table(
    "weighings",
    refers_to_code("animal"),
    clock("weighed_at"),
    number("mass_g", needed=True),
    number("scale_step_g"),
    text("state"),
    text("remark"),
    rules=(code_of("animal", "A"), positive("mass_g"), positive("scale_step_g")),
)

animal_events = fact_table(
    "animal_events",
    refers_to_code("animal"),
    text("kind"),
    day("start"),
    day("end", needed=False),
    refers_to_code("case", needed=False),
    text("by"),
    text("remark"),
    rules=(
        code_of("animal", "A"),
        one_of("kind", animals_.EVENT_KINDS),
        ordered("start", "end"),
        code_of("case", "C"),
    ),
)

care_entries = fact_table(
    "care_entries",
    refers_to_code("animal", needed=False),
    text("enclosure"),
    clock("at"),
    text("kind"),
    number("amount"),
    text("unit"),
    text("remark"),
    rules=(
        code_of("animal", "A"),
        one_of("kind", CARE_KINDS),
        Rule(
            "enclosure_or_animal",
            ("animal", "enclosure"),
            "animal IS NOT NULL OR enclosure <> ''",
            "name an animal or an enclosure",
            lambda animal, enclosure: animal is not None or enclosure != "",
        ),
        Rule(
            "amount_fits_kind",
            ("kind", "amount"),
            "amount IS NULL OR amount >= 0 OR kind IN ('warm end', 'lowest at night', 'other')",
            "an amount must be 0 or more",
            lambda kind, amount: (
                amount is None or amount >= 0 or kind in ("warm end", "lowest at night", "other")
            ),
        ),
    ),
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

cases = fact_table(
    "cases",
    refers_to_code("animal"),
    text("target"),
    text("species"),
    day("opened_on"),
    refers_to_code("opened_by_exam", needed=False),
    text("remark"),
    rules=(code_of("animal", "A"), not_empty("target"), code_of("opened_by_exam", "E")),
)

case_stages = part_table(
    "case_stages",
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), nullable=False),
    text("stage"),
    sa.UniqueConstraint("case_id", "stage"),
    rules=(not_empty("stage"),),
)

plans = fact_table(
    "plans",
    refers_to_code("case"),
    text("vet"),
    day("written_on"),
    text("goal"),
    text("drug"),
    text("component"),
    text("dose_mg_per_kg"),
    text("concentration_mg_per_ml"),
    text("route"),
    number("interval_days"),
    whole("doses_planned", needed=True),
    number("weight_max_age_days"),
    whole("negatives_needed"),
    whole("spacing_days"),
    whole("wait_after_last_dose_days"),
    text("grade_at_most"),
    text("grade_scale"),
    text("follow_up_source"),
    text("fluids"),
    text("feeding"),
    number("warm_end_at_least_c"),
    refers_to_picture(),
    text("edition"),
    text("remark"),
    rules=(
        code_of("case", "C"),
        one_of("goal", plans_.GOALS),
        positive("interval_days"),
        not_negative("doses_planned"),
        not_negative("weight_max_age_days"),
        not_negative("negatives_needed"),
        not_negative("spacing_days"),
        not_negative("wait_after_last_dose_days"),
    ),
)

doses_given = fact_table(
    "doses_given",
    refers_to_code("plan"),
    clock("given_at"),
    text("outcome"),
    text("volume_ml"),
    number("weight_g"),
    text("by"),
    text("lot"),
    text("remark"),
    rules=(code_of("plan", "P"), one_of("outcome", plans_.OUTCOMES), positive("weight_g")),
)

closings = fact_table(
    "closings",
    refers_to_code("case"),
    day("closed_on"),
    text("by"),
    text("ending"),
    text("vet"),
    text("reason"),
    text("standing_then"),
    text("edition"),
    rules=(code_of("case", "C"), one_of("ending", cases_.ENDINGS)),
)

__all__ = ["CARE_KINDS", "SCHEMA_REVISIONS", "metadata"]
