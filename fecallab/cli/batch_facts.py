"""Rows of animals, weights and samples as facts, checked as the single commands check them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from typing import Any

from fecallab.cli.animal import animal_from
from fecallab.cli.batch_sheet import Sheet
from fecallab.cli.batch_state import NEW, Batch, Entry, RecordedAlready, blame_row, label_key
from fecallab.cli.batch_typed import Row
from fecallab.cli.sample import check_stools_of, checked_times
from fecallab.domain.animal import Weighing
from fecallab.domain.errors import BadInput
from fecallab.domain.sample import Sample
from fecallab.records.finding import refuse_code_as_name

_ANY_CODE = {"animal": "A1", "sample": "S1", "same_stool_as": "S1", "case": "C1", "plan": "P1"}
"""Codes that stand in for references while the rest of a fact is checked."""
_USUAL_CHANGE = (0.2, 5)
"""Weights that differ more than this from the one before are told (common sense, no source)."""

Rows = list[tuple[Sheet, Row]]


def check_recordable(fact: Any) -> None:
    """Refuse a fact that the records would refuse by itself: control characters, a broken rule."""
    from fecallab.records.rows import kind_of_fact, row_of

    kind = kind_of_fact(fact)
    codes = {name: code for name, code in _ANY_CODE.items() if getattr(fact, name, "")}
    row_of(kind, replace(fact, **codes) if codes else fact, "E1" if kind.parent else "")


def owner_of(batch: Batch, sheet: Sheet, row: Row) -> str:
    """Return the reference of the row's animal; empty after a fault, which is noted."""
    asked = row.text.get("animal", "")
    if not asked:
        return ""
    try:
        found = batch.owner(asked)
    except BadInput as trouble:
        blame_row(sheet, row, trouble, "animal")
        return ""
    if not found:
        row.bad.add("animal")
    return found


def add_animals(batch: Batch, rows: Rows) -> None:
    """Take in the rows of animals."""
    from fecallab.records.clean import name_key

    lines: dict[str, str] = {}
    for sheet, row in rows:
        name = row.text.get("name", "")
        key = name_key(name)
        if not name:
            continue
        try:
            refuse_code_as_name(name)
            if key in lines:
                text = f"{name!r} stands in {lines[key]} already; capitals make no difference."
                raise BadInput(
                    text, next="Give every animal once, under a name of its own.", code="name-twice"
                )
            lines[key] = f"{sheet.file}, line {row.raw.line},"
            taken = batch.name_taken(key)
            if taken:
                raise RecordedAlready(f"An animal called {name!r}", taken)
            if row.sound:
                animal = _animal(row)
                check_recordable(animal)
                batch.add_animal(key, Entry(sheet, row, animal, f"{NEW}{key}"))
                continue
        except BadInput as trouble:
            if batch.pass_over(trouble):
                continue
            blame_row(sheet, row, trouble, "" if trouble.reason.code == "number-of-animals" else "name")
        batch.unsound.add(("animal", key))


def _animal(row: Row) -> Any:
    value = row.value.get
    number = value("number")
    kind = value("kind") or "animal"
    animal = animal_from(
        row.text["name"],
        row.text.get("species", ""),
        kind,
        1 if number is None else number,
        value("host_group"),
        value("plant_eater"),
    )
    return replace(
        animal,
        adult=value("adult"),
        enclosure=row.text.get("enclosure", ""),
        arrived_on=value("arrived"),
        remark=row.text.get("remark", ""),
    )


def add_weights(batch: Batch, rows: Rows) -> None:
    """Take in the rows of weights."""
    seen: dict[tuple[Any, ...], str] = {}
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        if not row.sound:
            continue
        weighing = Weighing(
            animal=owner,
            weighed_at=row.value["weighed_at"],
            mass_g=row.value["mass_g"],
            scale_step_g=row.value.get("scale_step_g"),
            state=row.text.get("state", ""),
            remark=row.text.get("remark", ""),
            as_told=bool(row.value.get("as_told")),
        )
        try:
            check_recordable(weighing)
            same = (weighing.weighed_at, weighing.mass_g)
            again = batch.recorded_weights(owner).get(same)
            if again:
                raise RecordedAlready(f"This weight of {batch.animal(owner).name}", again)
        except BadInput as trouble:
            if not batch.pass_over(trouble):
                blame_row(sheet, row, trouble)
            continue
        here = f"{sheet.file}, line {row.raw.line}"
        before = seen.setdefault((owner, *same), here)
        if before != here:
            batch.notes.append(f"{here}: the same weight as in {before}.")
        batch.weights.append(Entry(sheet, row, weighing, owner))
    batch.notes += _odd_changes(batch)


def _odd_changes(batch: Batch) -> Iterator[str]:
    """Say where a weight is far from the one before it: grams taken for kilograms, or another animal."""
    by_owner: dict[str, list[tuple[Weighing, Entry | None]]] = {}
    for entry in batch.weights:
        by_owner.setdefault(entry.owner, []).append((entry.fact, entry))
    for owner, found in by_owner.items():
        story: list[tuple[Weighing, Entry | None]] = [(old, None) for old in batch.weighings(owner)]
        story = sorted(story + found, key=lambda one: one[0].weighed_at)
        for (old, _), (new, mine) in pairwise(story):
            low, high = _USUAL_CHANGE
            if mine is not None and not low <= new.mass_g / old.mass_g <= high:
                place = f"{mine.sheet.file}, line {mine.row.raw.line}"
                yield (
                    f"{place}: {batch.animal(owner).name} {new.mass_g:g} g, before {old.mass_g:g} g:"
                    " check the unit (g, not kg) and the animal."
                )


def add_samples(batch: Batch, rows: Rows) -> None:
    """Take in the rows of samples."""
    labels = {label_key(row.text.get("label", "")) for _, row in rows}
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        label = row.text.get("label", "")
        key = label_key(label)
        try:
            if key and (f"{NEW}{key}" in batch.samples or ("sample", key) in batch.unsound):
                text = f"The label {label!r} stands for an earlier sample already."
                raise BadInput(text, next="Give every sample a label of its own.", code="label-twice")
            times = None if row.bad & set(_TIMES) else _times(row)
            if row.sound and times is not None:
                sample = _sample(batch, row, owner, times)
                check_recordable(sample)
                again = batch.recorded_samples(owner).get(replace(sample, remark=""))
                if again:
                    raise RecordedAlready("This sample", again)
                ref = f"{NEW}{key or f'{sheet.file} {row.raw.line}'}"
                batch.samples[ref] = Entry(sheet, row, sample, owner, label)
                continue
        except BadInput as trouble:
            if batch.pass_over(trouble, "sample", key):
                continue
            asked = row.text.get("same_stool_as", "")
            if trouble.reason.code == "unknown-sample" and label_key(asked) in labels:
                text = f"The sample {asked!r} stands further down."
                trouble = BadInput(text, next="Move the first sample of a stool above.", code="sample-below")
            blame_row(sheet, row, trouble, _COLUMN_OF.get(trouble.reason.code, ""))
        if key:
            batch.unsound.add(("sample", key))


_COLUMN_OF = {
    "label-twice": "sample",
    "unknown-sample": "same stool as",
    "sample-below": "same stool as",
    "same-stool-of-another": "same stool as",
}


_TIMES = ("passed_from", "passed_to", "collected")
Times = tuple[datetime | None, datetime | None, datetime]


def _times(row: Row) -> Times:
    """Return the times of a sample as `sample add` takes them."""
    times = [row.text.get(key) or None for key in _TIMES]
    if not any(times):
        text = "The row does not say when the stool was passed or picked up."
        raise BadInput(
            text, next="Fill 'passed from' and 'passed to', or 'collected at'.", code="time-missing"
        )
    return checked_times(*times)


def _sample(batch: Batch, row: Row, owner: str, times: Times) -> Sample:
    first, last, picked = times
    known = [] if owner.startswith(NEW) else batch.reader.count_changes(owner)
    stools_of = row.value.get("stools_of")
    if owner:
        check_stools_of(stools_of, batch.animal(owner), known, (first or picked).date())
    return Sample(
        animal=owner,
        origin=row.value.get("origin") or "stool",
        passed_from=first,
        passed_to=last,
        collected_at=picked,
        form=row.value.get("form"),
        kept=row.value.get("kept"),
        mass_g=row.value.get("mass_g"),
        whole_stool_used=bool(row.value.get("whole_stool")),
        same_stool_as=_same_stool(batch, row.text.get("same_stool_as", ""), owner),
        remark=row.text.get("remark", ""),
        as_told=bool(row.value.get("as_told")),
        stools_of=stools_of,
    )


def _same_stool(batch: Batch, asked: str, owner: str) -> str:
    """Return the reference of the first sample of a stool, as `sample add` does."""
    if not asked:
        return ""
    ref, other = batch.sample(asked)
    if other is not None and other.animal != owner:
        text = f"{asked!r} is of {batch.animal(other.animal).name}, not of {batch.animal(owner).name}."
        raise BadInput(text, next="Name a sample of the same animal.", code="same-stool-of-another")
    return other.same_stool_as or ref if other is not None else ""
