"""Tables of cases, plans, doses and how cases end."""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.domain import case as cases_
from fecallab.domain import plan as plans_
from fecallab.records.columns import (
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
    part_table,
    positive,
    refers_to_code,
    refers_to_picture,
    text,
    text_later,
    whole,
    word,
)


def _rule_words(name: str, owner: str, table: str) -> sa.Table:
    """Return the table of somebody's words on rules, as parts of the rows of another table."""
    return part_table(
        name,
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column(owner, sa.Integer, sa.ForeignKey(f"{table}.id"), nullable=False),
        text("rule"),
        text("by"),
        clock("at"),
        text("why"),
        sa.UniqueConstraint(owner, "rule"),
        rules=(not_empty("rule"), not_empty("by")),
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
        not_negative("repeats_allowed"),
        not_negative("fluids_ml_per_kg_day"),
        positive("bottle_ml"),
        positive("tube_french"),
        positive("tube_inner_diameter_mm"),
        positive("tube_length_mm"),
        one_of("tube_way", plans_.TUBE_WAYS),
    ),
    later=(
        whole("repeats_allowed"),
        number("fluids_ml_per_kg_day"),
        text_later("fluid_product"),
        number("night_at_least_c"),
        text_later("diluent"),
        text_later("diluent_by"),
        text_later("volume_written_ml"),
        text_later("specialist_word"),
        number("bottle_ml"),
        number("tube_french"),
        number("tube_inner_diameter_mm"),
        number("tube_length_mm"),
        word("tube_way"),
        refers_to_picture("label_picture"),
        flag_later("as_told"),
    ),
)

plan_confirmations = _rule_words("plan_confirmations", "plan_id", "plans")

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
    rules=(
        code_of("plan", "P"),
        one_of("outcome", plans_.OUTCOMES),
        positive("weight_g"),
        positive("syringe_ml"),
        positive("dilution_factor"),
        not_negative("flush_ml"),
    ),
    later=(
        text_later("second_person"),
        number("syringe_ml"),
        number("dilution_factor"),
        text_later("diluted_mg_per_ml"),
        text_later("delivered_mg_per_kg"),
        number("flush_ml"),
        flag_later("as_told"),
    ),
)

dose_overrides = _rule_words("dose_overrides", "dose_id", "doses_given")

dose_reactions = fact_table(
    "dose_reactions",
    refers_to_code("dose"),
    clock("at"),
    text("sign"),
    text("text"),
    text("by"),
    rules=(code_of("dose", "D"), not_empty("sign")),
)

other_drugs = fact_table(
    "other_drugs",
    refers_to_code("animal"),
    text("drug"),
    text("mg_per_kg"),
    day("given_on"),
    whole("doses", needed=True),
    text("by"),
    flag("as_told"),
    text("remark"),
    rules=(code_of("animal", "A"), not_empty("drug"), at_least_one("doses")),
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
