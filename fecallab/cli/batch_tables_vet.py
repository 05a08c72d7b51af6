"""The two tables about treatment: what the vet wrote, and what was given."""

from __future__ import annotations

from fecallab.cli.batch_columns import (
    ANIMAL,
    DAY,
    NUMBER,
    ORGANISM,
    REMARK,
    TEXT,
    TIME,
    TOLD,
    WHOLE,
    Column,
    choice,
    column,
)
from fecallab.domain.plan import GOALS, OUTCOMES, TUBE_WAYS

_DAYS = (0, 3650)
_STRENGTH = (0.0001, 10_000)


def plans() -> tuple[Column, ...]:
    """Return the columns of the plans."""
    return (
        column("plan", "label", TEXT, "your own label, for the doses to refer to", "p"),
        ANIMAL,
        column("*target", "target", ORGANISM, "the group that the case is about", "oxyurid"),
        column("*vet", "vet", TEXT, "who wrote it", "Dr Ilse Varnholt"),
        column("*written", "written", DAY, "day on which it was written", "2026-03-03"),
        choice("goal", "goal", GOALS, "follows from the target when empty", "clear"),
        column("drug", "drug", TEXT, "generic name; empty when none is given", "fenbendazole"),
        column("component", "component", TEXT, "what the mg are of: base or salt, one part or both"),
        column("dose (mg/kg)", "dose_mg_per_kg", NUMBER, "one dose", "50", limits=_STRENGTH),
        column(
            "strength (mg/ml)",
            "concentration_mg_per_ml",
            NUMBER,
            "as on the bottle",
            "100",
            limits=_STRENGTH,
        ),
        column("route", "route", TEXT, "by mouth, under the skin …", "by mouth"),
        column(
            "days between doses", "interval_days", NUMBER, "0.5 is twice a day", "14", limits=(0.04, 3650)
        ),
        column("doses", "doses", WHOLE, "largest number of doses", "2", limits=(0, 1000)),
        column("weight not older than (days)", "weight_max_age_days", NUMBER, "for a dose", limits=(0, 365)),
        column("negatives", "negatives", WHOLE, "how many are needed", "3", limits=(1, 100)),
        column("days between negatives", "spacing_days", WHOLE, "at least", "14", limits=_DAYS),
        column("days to wait", "wait_days", WHOLE, "from the last dose", "30", limits=_DAYS),
        column("grade at most", "grade_at_most", TEXT, "for the goal low burden"),
        column("grade scale", "grade_scale", TEXT, "the scale of that grade"),
        column("fluids", "fluids", TEXT, "in the vet's words"),
        column("feeding", "feeding", TEXT, "in the vet's words"),
        column("warm end (°C)", "warm_end_c", NUMBER, "at least, by day", limits=(5, 60)),
        TOLD,
        REMARK,
        column("~follow-up from", "follow_up_source", TEXT, "where the numbers of the follow-up are from"),
        column("~edition", "edition", TEXT, "of the tables that the numbers are from"),
        column("~repeats allowed", "repeats_allowed", WHOLE, "of the whole course", limits=(0, 100)),
        column("~fluids a day (ml/kg)", "fluids_ml_per_kg_day", NUMBER, "a figure", limits=(0, 1000)),
        column("~fluid product", "fluid_product", TEXT, "which one"),
        column("~night at least (°C)", "night_c", NUMBER, "lowest at night", limits=(-40, 60)),
        column("~diluent", "diluent", TEXT, "with what the drug may be thinned"),
        column("~diluent named by", "diluent_by", TEXT, "which vet or pharmacist"),
        column("~volume written (ml)", "volume_written_ml", NUMBER, "on the sheet", limits=(0.0001, 1000)),
        column("~specialist's word", "specialist_word", TEXT, "name and date"),
        column("~bottle (ml)", "bottle_ml", NUMBER, "what was in it", limits=(0.01, 100_000)),
        column("~tube (French)", "tube_french", NUMBER, "its size", limits=(1, 60)),
        column("~tube inside (mm)", "tube_inner_mm", NUMBER, "diameter", limits=(0.1, 20)),
        column("~tube length (mm)", "tube_length_mm", NUMBER, "its length", limits=(1, 10_000)),
        choice("~tube emptied by", "tube_way", TUBE_WAYS, "how"),
    )


def doses() -> tuple[Column, ...]:
    """Return the columns of the doses."""
    return (
        column("plan", "plan", TEXT, "label, or code in the records; the plan in force when empty", "p"),
        ANIMAL,
        column("target", "target", ORGANISM, "needed where two cases have plans", "oxyurid"),
        column("*given at", "given_at", TIME, "day and hour", "2026-03-04 08:15", option="--at"),
        choice("outcome", "outcome", OUTCOMES, "given when empty", "given"),
        column("volume (ml)", "volume_ml", NUMBER, "what went in", "0.16", limits=(0.0001, 1000)),
        column("weight (g)", "weight_g", NUMBER, "the last one before when empty; n/a: not known", "317"),
        column("given by", "by", TEXT, "you when empty", "Mara Quell"),
        column("lot", "lot", TEXT, "of the bottle"),
        TOLD,
        REMARK,
        column("~second person", "second_person", TEXT, "who read the volume again"),
        column("~syringe (ml)", "syringe_ml", NUMBER, "its size", limits=(0.05, 100)),
        column("~thinned (times)", "dilution_factor", NUMBER, "how many times", limits=(1, 10_000)),
        column("~thinned strength (mg/ml)", "diluted_mg_per_ml", NUMBER, "in the syringe", limits=_STRENGTH),
        column("~delivered (mg/kg)", "delivered_mg_per_kg", NUMBER, "by that weight", limits=(1e-6, 1e6)),
        column("~flushed with (ml)", "flush_ml", NUMBER, "afterwards", limits=(0, 100)),
    )
