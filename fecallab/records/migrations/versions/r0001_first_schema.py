"""The first schema: animals, samples, exams, cases, plans, doses, and the pictures.

Frozen: it says what was made then, and does not follow the tables of today. Columns are written as
``name:type``, with ``?`` where unknown is allowed and ``>table.column`` where the value must exist.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_TYPES: dict[str, sa.types.TypeEngine[Any]] = {
    "text": sa.Text(),
    "whole": sa.Integer(),
    "large": sa.BigInteger(),
    "number": sa.Double(),
    "flag": sa.Boolean(),
    "day": sa.Date(),
    "clock": sa.DateTime(),
    "moment": sa.DateTime(timezone=True),
}


def upgrade() -> None:
    """Make the tables."""
    _table(
        "codes",
        "code:text kind:text parent:text?>codes.code number:whole",
        {
            "number_at_least_one": "number >= 1",
        },
        key="code",
        indexes=["kind parent number"],
    )
    _table(
        "collection",
        "id:whole identity:text made_at:moment",
        {
            "id_single": "id = 1",
        },
    )
    _table(
        "pictures",
        "id:whole sha256:text file_name:text format:text width_px:whole height_px:whole bytes:large "
        "taken_at:clock? recorded_at:moment recorded_by:text",
        {
            "sha256_length": "length(sha256) = 64",
            "width_px_not_negative": "width_px >= 0",
            "height_px_not_negative": "height_px >= 0",
            "bytes_not_negative": "bytes >= 0",
        },
        unique=("sha256",),
    )
    _facts(
        "animal_events",
        "animal:text>codes.code kind:text start:day end:day? case:text?>codes.code by:text remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "kind_known": "kind IN ('brumation', 'died', 'left', 'vet accepts course')",
            "start_end_ordered": '"end" >= start',
            "case_kind": "substr(\"case\", 1, 1) = 'C'",
        },
    )
    _facts(
        "animals",
        "name:text name_key:text kind:text number_of_animals:whole species:text host_group:text "
        "plant_eater:flag adult:flag? enclosure:text arrived_on:day? remark:text",
        {
            "name_key_not_empty": "name_key <> ''",
            "kind_known": "kind IN ('animal', 'tub', 'pen')",
            "number_of_animals_at_least_one": "number_of_animals >= 1",
        },
        indexes=["name_key"],
    )
    _facts(
        "care_entries",
        "animal:text?>codes.code enclosure:text at:clock kind:text amount:number? unit:text remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "kind_known": "kind IN ('fluids', 'feeding', 'warm end', 'lowest at night', 'soak', "
            "'cleaning', 'other')",
            "enclosure_or_animal": "animal IS NOT NULL OR enclosure <> ''",
            "amount_fits_kind": "amount IS NULL OR amount >= 0 OR kind IN ('warm end', 'lowest at "
            "night', 'other')",
        },
    )
    _facts(
        "cases",
        "animal:text>codes.code target:text species:text opened_on:day "
        "opened_by_exam:text?>codes.code remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "target_not_empty": "target <> ''",
            "opened_by_exam_kind": "substr(opened_by_exam, 1, 1) = 'E'",
        },
    )
    _facts(
        "closings",
        "case:text>codes.code closed_on:day by:text ending:text vet:text reason:text "
        "standing_then:text edition:text",
        {
            "case_kind": "substr(\"case\", 1, 1) = 'C'",
            "ending_known": "ending IN ('goal reached', 'on a vet''s order', 'animal died', "
            "'animal left', 'withdrawn: reading corrected')",
        },
    )
    _facts(
        "doses_given",
        "plan:text>codes.code given_at:clock outcome:text volume_ml:text weight_g:number? by:text "
        "lot:text remark:text",
        {
            "plan_kind": "substr(plan, 1, 1) = 'P'",
            "outcome_known": "outcome IN ('given', 'partly given', 'missed', 'spat', 'vomited')",
            "weight_g_positive": "weight_g > 0",
        },
    )
    _facts(
        "elsewhere_results",
        "exam:text>codes.code target:text stage:text who:text method:text reported_on:day result:text "
        "stated_adequate:flag? grade:text picture:text?>pictures.sha256 remark:text",
        {
            "exam_kind": "substr(exam, 1, 1) = 'E'",
        },
    )
    _facts(
        "exams",
        "sample:text>codes.code examined_at:clock by:text question:text remark:text",
        {
            "sample_kind": "substr(sample, 1, 1) = 'S'",
        },
    )
    _facts(
        "marks",
        "reading:text>codes.code x_px:number y_px:number name:text sure:flag length_um:number? "
        "width_um:number? angle_deg:number? named_by:text",
        {
            "reading_kind": "substr(reading, 1, 1) = 'E'",
            "name_not_empty": "name <> ''",
            "length_um_positive": "length_um > 0",
            "width_um_positive": "width_um > 0",
            "angle_deg_half_turn": "angle_deg >= 0 AND angle_deg < 180",
        },
    )
    _facts(
        "plans",
        "case:text>codes.code vet:text written_on:day goal:text drug:text component:text "
        "dose_mg_per_kg:text concentration_mg_per_ml:text route:text interval_days:number? "
        "doses_planned:whole weight_max_age_days:number? negatives_needed:whole? spacing_days:whole? "
        "wait_after_last_dose_days:whole? grade_at_most:text grade_scale:text follow_up_source:text "
        "fluids:text feeding:text warm_end_at_least_c:number? picture:text?>pictures.sha256 "
        "edition:text remark:text",
        {
            "case_kind": "substr(\"case\", 1, 1) = 'C'",
            "goal_known": "goal IN ('clear', 'low burden', 'not clearable by stool exam', "
            "'watch, no treatment')",
            "interval_days_positive": "interval_days > 0",
            "doses_planned_not_negative": "doses_planned >= 0",
            "weight_max_age_days_not_negative": "weight_max_age_days >= 0",
            "negatives_needed_not_negative": "negatives_needed >= 0",
            "spacing_days_not_negative": "spacing_days >= 0",
            "wait_after_last_dose_days_not_negative": "wait_after_last_dose_days >= 0",
        },
    )
    _facts(
        "preparations",
        "exam:text>codes.code method:text read_at:clock? cover_glass:text room_c:number? "
        "slide_warmed:flag? solution:text specific_gravity:number? gravity_checked:flag? "
        "standing_minutes:number? sample_g:number? suspension_ml:number? counted_ml:number? "
        "remark:text",
        {
            "exam_kind": "substr(exam, 1, 1) = 'E'",
            "method_known": "method IN ('direct_saline_smear', 'iodine_smear', 'cloacal_wash', "
            "'urine_wet_mount', 'simple_flotation', 'centrifugal_flotation', "
            "'sedimentation', 'mcmaster', 'stoll_dilution', 'baermann', "
            "'acid_fast_smear', 'permanent_stain', 'from_elsewhere')",
            "specific_gravity_positive": "specific_gravity > 0",
            "standing_minutes_not_negative": "standing_minutes >= 0",
            "sample_g_positive": "sample_g > 0",
            "suspension_ml_positive": "suspension_ml > 0",
            "counted_ml_positive": "counted_ml > 0",
        },
    )
    _facts(
        "readings",
        "preparation:text>codes.code kind:text objective:number? field_number:number? "
        "cover_share:number? um_per_px:number? picture:text?>pictures.sha256 remark:text",
        {
            "preparation_kind": "substr(preparation, 1, 1) = 'E'",
            "kind_known": "kind IN ('field', 'sweep', 'chamber')",
            "objective_positive": "objective > 0",
            "field_number_positive": "field_number > 0",
            "cover_share_share": "cover_share >= 0 AND cover_share <= 1",
            "um_per_px_positive": "um_per_px > 0",
        },
    )
    _facts(
        "samples",
        "animal:text>codes.code origin:text passed_from:clock? passed_to:clock? collected_at:clock "
        "form:text? kept:text? mass_g:number? whole_stool_used:flag same_stool_as:text?>codes.code "
        "remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "origin_known": "origin IN ('stool', 'cloacal wash', 'urine', 'water dish', 'urate only')",
            "passed_from_passed_to_ordered": "passed_to >= passed_from",
            "form_known": "form IN ('formed', 'soft', 'liquid')",
            "kept_known": "kept IN ('room', 'fridge', 'frozen', 'fixed')",
            "mass_g_positive": "mass_g > 0",
            "same_stool_as_kind": "substr(same_stool_as, 1, 1) = 'S'",
        },
    )
    _facts(
        "weighings",
        "animal:text>codes.code weighed_at:clock mass_g:number scale_step_g:number? state:text remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "mass_g_positive": "mass_g > 0",
            "scale_step_g_positive": "scale_step_g > 0",
        },
    )
    _table(
        "case_stages",
        "id:whole case_id:whole>cases.id stage:text",
        {
            "stage_not_empty": "stage <> ''",
        },
        unique=("case_id", "stage"),
    )
    _table(
        "reading_counts",
        "id:whole reading_id:whole>readings.id name:text sure:flag count:whole",
        {
            "name_not_empty": "name <> ''",
            "count_not_negative": "count >= 0",
        },
        unique=("reading_id", "name", "sure"),
    )


def _table(
    table: str,
    columns: str,
    checks: dict[str, str],
    key: str = "id",
    unique: Sequence[str] = (),
    indexes: Sequence[str] = (),
    constraints: Sequence[sa.Constraint] = (),
) -> None:
    """Make a table in which every constraint and index has a name."""
    items: list[Any] = []
    for column in columns.split():
        name, _, kind = column.partition(":")
        kind, _, refers = kind.partition(">")
        items.append(sa.Column(name, _TYPES[kind.rstrip("?")], nullable=kind.endswith("?")))
        if refers:
            items.append(sa.ForeignKeyConstraint([name], [refers], name=f"fk_{table}_{name}"))
    items.append(sa.PrimaryKeyConstraint(key, name=f"pk_{table}"))
    if unique:
        items.append(sa.UniqueConstraint(*unique, name=f"uq_{table}_{'_'.join(unique)}"))
    items += [sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}")) for name, rule in checks.items()]
    op.create_table(table, *items, *constraints)
    for names in indexes:
        op.create_index(f"ix_{table}_{names.replace(' ', '_')}", table, names.split())


def _facts(table: str, columns: str, checks: dict[str, str], indexes: Sequence[str] = ()) -> None:
    """Make a table of facts: its own columns in the frame that lets rows be added and never changed."""
    referring = [column.partition(":")[0] for column in columns.split() if ">" in column]
    before = "id:whole code:text>codes.code "
    after = " recorded_at:moment recorded_by:text replaces:whole? correction_reason:text withdrawn:flag"
    reasoned = (
        "(replaces IS NULL AND correction_reason = '' AND NOT withdrawn)"
        " OR (replaces IS NOT NULL AND correction_reason <> '')"
    )
    _table(
        table,
        before + columns + after,
        {**checks, "replaces_with_reason": reasoned},
        unique=("code", "id"),
        indexes=[*referring, *indexes],
        constraints=[
            sa.UniqueConstraint("replaces", name=f"uq_{table}_replaces"),
            sa.ForeignKeyConstraint(
                ["code", "replaces"], [f"{table}.code", f"{table}.id"], name=f"fk_{table}_code_replaces"
            ),
        ],
    )
    first = sa.text("replaces IS NULL")
    op.create_index(
        f"uq_{table}_first", table, ["code"], unique=True, sqlite_where=first, postgresql_where=first
    )
