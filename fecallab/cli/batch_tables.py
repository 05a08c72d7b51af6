"""The tables of `fecallab batch`: their columns in plain words, the same on the way in and on the way out."""

from __future__ import annotations

from functools import cache

from fecallab.cli.animal import HOST_GROUPS
from fecallab.cli.batch_columns import (
    ANIMAL,
    DAY,
    FLAG,
    NUMBER,
    ORGANISM,
    REMARK,
    TEXT,
    TIME,
    TOLD,
    WHOLE,
    Column,
    Table,
    choice,
    column,
)
from fecallab.cli.batch_tables_vet import doses, plans
from fecallab.cli.exam import RESULTS, STAGES
from fecallab.domain.animal import KINDS
from fecallab.domain.exam import METHODS, READING_KINDS
from fecallab.domain.field import COVER_GLASS_SIDES_MM
from fecallab.domain.housing import ORIGINS_OF_ARRIVALS
from fecallab.domain.sample import FORMS, KEPT, ORIGINS


def _animals() -> tuple[Column, ...]:
    return (
        column("*name", "name", TEXT, "unique in the records", "Saffron"),
        choice("kind", "kind", KINDS, "animal when empty", "animal"),
        column("number of animals", "number", WHOLE, "in a tub or pen", "1", limits=(1, 100_000)),
        column("species", "species", TEXT, "tells host group and diet", "Pogona vitticeps"),
        choice("host group", "host_group", HOST_GROUPS, "follows from the species when empty"),
        column("plant eater", "plant_eater", FLAG, "yes or no; follows from the species when empty"),
        column("adult", "adult", FLAG, "yes or no; empty is not known", "yes"),
        column("enclosure", "enclosure", TEXT, "where it lives", "vivarium 4"),
        column("arrived", "arrived", DAY, "day of arrival", "2026-01-15"),
        REMARK,
    )


def _enclosures() -> tuple[Column, ...]:
    return (
        column("*name", "name", TEXT, "what is written on it; unique", "drawer 4"),
        column("*room", "room", TEXT, "the room that it stands in", "warm room"),
        column("water", "water", TEXT, "water line or bowl that it shares: the same word for all"),
        column("tools", "tools", TEXT, "tools that it shares", "red tongs"),
        column("round", "round", TEXT, "feeding or cleaning round that it belongs to"),
        column("shared from", "shared_from", DAY, "first day; always so when empty", "2026-01-15"),
        REMARK,
    )


def _stays() -> tuple[Column, ...]:
    return (
        ANIMAL,
        column("*enclosure", "enclosure", TEXT, "name or code", "drawer 4"),
        column("from", "start", DAY, "first day; not known when empty", "2026-01-15"),
        column("to", "end", DAY, "last day; it lasts when empty"),
        column("visit", "visit", FLAG, "yes where it was only there for a time"),
        column("number of animals", "number", WHOLE, "of a tub; all when empty", limits=(1, 100_000)),
        REMARK,
    )


def _arrivals() -> tuple[Column, ...]:
    return (
        column(
            "*arrival",
            "arrival",
            TEXT,
            "its name, the same for all that came together; or its code",
            "spring",
        ),
        ANIMAL,
        column("arrived", "arrived", DAY, "needed in the first row of a new arrival", "2026-01-15"),
        column("joined", "joined", DAY, "for those that came later"),
        choice("origin", "origin", ORIGINS_OF_ARRIVALS, "in the first row", "captive bred"),
        column("source", "source", TEXT, "from whom, in the first row", "a breeder"),
        REMARK,
    )


def _weights() -> tuple[Column, ...]:
    return (
        ANIMAL,
        column("*weighed at", "weighed_at", TIME, "day, or day and hour", "2026-03-02 07:50", option="--at"),
        column("*weight (g)", "mass_g", NUMBER, "in g", "318", limits=(0.05, 1_000_000)),
        column("scale step (g)", "scale_step_g", NUMBER, "the step of the scale", "1"),
        column("state", "state", TEXT, "what makes it odd: gravid, urine passed, just fed …"),
        TOLD,
        REMARK,
    )


def _samples() -> tuple[Column, ...]:
    return (
        column("sample", "label", TEXT, "your own label, for other tables to refer to", "a"),
        ANIMAL,
        choice("origin", "origin", ORIGINS, "stool when empty", "stool"),
        column("passed from", "passed_from", TIME, "passed not before", "2026-03-02 06:00"),
        column("passed to", "passed_to", TIME, "passed not after", "2026-03-02 08:00"),
        column("collected at", "collected", TIME, "picked up; end of the passing when empty", ""),
        choice("form", "form", FORMS, "empty is not known", "soft"),
        choice("kept", "kept", KEPT, "empty is not known", "room"),
        column("mass (g)", "mass_g", NUMBER, "of the sample", "1.4", limits=(0.001, 10_000)),
        column("whole stool", "whole_stool", FLAG, "yes where all of it goes into the exam"),
        column("same stool as", "same_stool_as", TEXT, "label or code of a sample of the same stool"),
        column("stools of", "stools_of", WHOLE, "of how many of a tub's animals", limits=(1, 100_000)),
        TOLD,
        REMARK,
    )


def _readings() -> tuple[Column, ...]:
    shares = {"limits": (0, 1), "option": "--share"}
    return (
        column("exam", "exam", TEXT, "your own label; the sample's when empty", "a"),
        column("sample", "sample", TEXT, "label, or code of a sample in the records", "a"),
        column("~examined at", "examined_at", TIME, "when the first preparation was read when empty"),
        column("read by", "by", TEXT, "who read it; you when empty", "Mara Quell"),
        column("question", "question", TEXT, "what the vet should answer"),
        column("~exam remark", "exam_remark", TEXT, "kept as typed"),
        TOLD,
        column("~stated adequate", "stated_adequate", FLAG, "of an exam as told: what they say"),
        column("preparation", "preparation", TEXT, "1, 2 …; one when empty", "1"),
        choice("method", "method", METHODS, "what was done", "simple_flotation"),
        column("read at", "read_at", TIME, "day and hour", "2026-03-02 08:40"),
        choice("cover glass (mm)", "cover_glass", tuple(COVER_GLASS_SIDES_MM), "22x22 when empty", "22x22"),
        column("room (°C)", "room_c", NUMBER, "for wet mounts", ""),
        column("slide warmed", "slide_warmed", FLAG, "for wet mounts", ""),
        column("solution", "solution", TEXT, "zinc sulfate, sugar, salt …", "sugar"),
        column("gravity", "specific_gravity", NUMBER, "of the solution", "1.20", option="--gravity"),
        column("gravity checked", "gravity_checked", FLAG, "measured, or 100 ml weighed", "yes"),
        column("stood (min)", "standing_minutes", NUMBER, "how long it stood", "15"),
        column("stool used (g)", "sample_g", NUMBER, "in this preparation", ""),
        column("suspension (ml)", "suspension_ml", NUMBER, "finished, stool included", ""),
        column("counted (ml)", "counted_ml", NUMBER, "all the volume that was read", ""),
        column("~preparation remark", "preparation_remark", TEXT, "kept as typed"),
        column("reading", "reading", TEXT, "number of the field or sweep", "1"),
        choice("kind", "kind", READING_KINDS, "follows when empty", "field"),
        column("objective (x)", "objective", NUMBER, "10, 40 …", "10"),
        column("field number (mm)", "field_number", NUMBER, "on the eyepiece", "20"),
        column("share of cover glass (0 to 1)", "cover_share", NUMBER, "of a sweep", "", **shares),
        column("~scale (µm per px)", "um_per_px", NUMBER, "of pictures"),
        column("~reading remark", "reading_remark", TEXT, "kept as typed"),
        column("organism", "organism", ORGANISM, "an organism or group", "oxyurid"),
        column("count", "count", WHOLE, "what was seen, 0 too", "2", limits=(0, 10_000_000)),
        column("sure", "sure", FLAG, "yes when empty", "yes"),
    )


def _elsewhere() -> tuple[Column, ...]:
    return (
        column("~sample", "sample", TEXT, "label or code; a sample is made when empty"),
        column("~exam", "exam", TEXT, "label, where one report has several results"),
        ANIMAL,
        column("*target", "target", ORGANISM, "the group that was looked for", "cryptosporidium"),
        choice("stage", "stage", STAGES, "if they say so"),
        choice("*result", "result", RESULTS, "what they say", "negative"),
        column("*from", "who", TEXT, "the laboratory or vet that reports", "a laboratory", option="--from"),
        column("*method", "method", TEXT, "in their words", "PCR"),
        column("*collected", "collected", DAY, "day of the sample", "2026-03-02"),
        column("*reported", "reported", DAY, "day of the report", "2026-03-05"),
        column("adequate", "stated_adequate", FLAG, "do they say that it could have shown it?", "yes"),
        column("grade", "grade", TEXT, "in their words"),
        TOLD,
        REMARK,
    )


@cache
def tables() -> tuple[Table, ...]:
    """Return every table, in the order in which they are taken in."""
    return (
        Table("animals", "animal", "animals", _animals()),
        Table("enclosures", "enclosure", "enclosures", _enclosures()),
        Table("stays", "stay", "stays", _stays()),
        Table("arrivals", "animal of an arrival", "animals of arrivals", _arrivals()),
        Table("weights", "weight", "weights", _weights()),
        Table("samples", "sample", "samples", _samples()),
        Table("readings", "row of readings", "rows of readings", _readings()),
        Table("elsewhere", "result from elsewhere", "results from elsewhere", _elsewhere()),
        Table("plans", "plan", "plans", plans()),
        Table("doses", "dose", "doses", doses()),
    )


def table_of(key: str) -> Table:
    """Return one table."""
    return next(table for table in tables() if table.key == key)
