"""Tables of the collection itself: codes, pictures, animals, weights, care, and the control runs."""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.domain import animal as animals_
from fecallab.domain import control as controls_
from fecallab.records.columns import (
    Rule,
    UtcDateTime,
    at_least_one,
    clock,
    code_of,
    day,
    fact_table,
    flag,
    flag_later,
    not_empty,
    not_negative,
    number,
    one_of,
    ordered,
    part_table,
    positive,
    refers_to_code,
    text,
    whole,
)

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
    later=(flag_later("as_told"),),
)

measurements = fact_table(
    "measurements",
    refers_to_code("animal"),
    text("kind"),
    number("value_mm", needed=True),
    clock("measured_at"),
    text("by"),
    text("remark"),
    rules=(code_of("animal", "A"), one_of("kind", animals_.MEASUREMENT_KINDS), positive("value_mm")),
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

control_runs = fact_table(
    "control_runs",
    text("kind"),
    clock("done_at"),
    text("method"),
    text("solution"),
    text("bottle"),
    number("objective"),
    text("expected"),
    text("found"),
    number("expected_value"),
    number("value"),
    flag("passed"),
    text("judged"),
    text("by"),
    text("remark"),
    rules=(
        one_of("kind", controls_.CONTROL_KINDS),
        positive("objective"),
        not_negative("expected_value"),
        not_negative("value"),
    ),
)
