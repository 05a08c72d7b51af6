"""An exam in words: what was done, what was seen, what it says for a target, what is still missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fecallab.cli.common import fact_dict
from fecallab.cli.typed import say_number
from fecallab.domain.burden import Burden, reading_share
from fecallab.domain.casework import JudgedExam, counts_of
from fecallab.domain.exam import Exam, Preparation, method_words
from fecallab.domain.spoken import number_of, say_gravity, say_percent, say_time

if TYPE_CHECKING:
    from collections.abc import Collection


def preparation_line(preparation: Preparation) -> str:
    """Return one preparation in one line."""
    method = method_words(preparation.method)
    parts = [f"{preparation.code} {method}"]
    if preparation.read_at:
        parts.append(f"read {say_time(preparation.read_at)}")
    if preparation.room_c is not None:
        parts.append(f"room {preparation.room_c:g} °C")
    if preparation.specific_gravity is not None:
        checked = {True: "checked", False: "not checked", None: "check not known"}[
            preparation.gravity_checked
        ]
        parts.append(f"gravity {say_gravity(preparation.specific_gravity)} ({checked})")
    if preparation.standing_minutes is not None:
        parts.append(f"stood {preparation.standing_minutes:g} min")
    kinds = {
        kind: sum(r.kind == kind for r in preparation.readings) for kind in ("field", "sweep", "chamber")
    }
    shares = [s for r in preparation.readings if (s := reading_share(r, preparation)) is not None]
    said = (
        ", ".join(f"{n} {kind}{'s' if n > 1 else ''}" for kind, n in kinds.items() if n) or "no reading yet"
    )
    if shares:
        said += f", {say_percent(min(1, sum(shares)))} of the cover glass"
    parts.append(said)
    return "; ".join(parts)


def seen_line(exam: Exam) -> str:
    """Return what was seen in an exam by the names that were given, sure and not sure."""

    def counted(*, sure: bool) -> str:
        return ", ".join(
            f"{n} {name.replace('_', ' ')}" for name, n in counts_of(exam, sure=sure).items() if n
        )

    unsure = counted(sure=False)
    open_still = f"; not sure: {unsure} (the vet's word is needed)" if unsure else ""
    return f"Seen: {counted(sure=True) or 'nothing sure'}{open_still}"


def burden_line(burden: Burden, target: str) -> str:
    """Return how many of a target were seen, with interval, grade and covered share."""
    where = f"{method_words(burden.method)}" + (f" at {burden.objective:g}×" if burden.objective else "")
    line = f"{target}, {where}: {burden.total} seen"
    if burden.per_field is not None:
        low, high = burden.per_field.ci95
        fields = number_of(burden.per_field.fields, "field")
        inside = f" in {fields}"
        if burden.per_field.total != burden.total:
            inside = f" in all, {burden.per_field.total} of them in the {fields} counted one by one"
        line += (
            f"{inside}, mean {say_number(burden.per_field.mean_per_field)} per field"
            f" (95 % interval {say_number(low)} to {say_number(high)}, {burden.per_field.model.replace('poisson', 'Poisson')})"
        )
        if burden.total == 0 and burden.per_field.upper95_if_zero is not None:
            line += f"; none found, limit {say_number(burden.per_field.upper95_if_zero)} per field (one-sided 95 %)"
    if burden.per_gram is not None and burden.per_gram_ci95 is not None:
        low, high = burden.per_gram_ci95
        line += f"; {say_number(burden.per_gram)} per gram (95 % interval {say_number(low)} to {say_number(high)})"
    if burden.cover_share is not None:
        line += f"; {say_percent(burden.cover_share)} of the cover glass read"
    if burden.grade is not None:
        line += f"; grade: {burden.grade.word} (scale: {burden.grade.scale_name})"
        line += "".join(f"; {caution}" for caution in (burden.grade.note, *burden.cautions) if caution)
    return line


def judged_lines(judged: JudgedExam, control: str = "") -> list[str]:
    """Return what an exam says for a target, with reasons and bound; `control` stands beside a negative."""
    lines = [f"For {judged.target} ({', '.join(judged.answers)}): {judged.result}"]
    lines += [f"  - {reason}" for reason in judged.reasons]
    lines += [
        f"  None found ({stage}), one-sided 95 % limit: {answer.bound.says}."
        for stage, answer in judged.answers.items()
        if judged.result == "negative" and answer.bound is not None
    ]
    lines += [f"  {control}."] if control else []
    lines += [f"  {burden_line(burden, judged.target)}" for burden in judged.burdens]
    return lines


def judged_payload(judged: JudgedExam, control: str = "") -> dict[str, Any]:
    """Return the same for ``--json``."""
    return {
        "target": judged.target,
        "stages": list(judged.answers),
        "result": judged.result,
        "reasons": [reason.as_dict() for reason in judged.reasons],
        "control": control or None,
        "bounds": {
            stage: answer.bound.as_dict() if answer.bound else None
            for stage, answer in judged.answers.items()
        },
        "burdens": [
            {
                "preparation": b.preparation,
                "objective": b.objective,
                "total": b.total,
                "mean_per_field": b.per_field.mean_per_field if b.per_field else None,
                "ci95_per_field": b.per_field.ci95 if b.per_field else None,
                "per_g": b.per_gram,
                "ci95_per_g": b.per_gram_ci95,
                "cover_share": b.cover_share,
                "grade": b.grade.word if b.grade else None,
                "grade_scale": b.grade.scale_name if b.grade else None,
            }
            for b in judged.burdens
        ],
    }


def exam_payload(exam: Exam) -> dict[str, Any]:
    """Return an exam with its parts and its counts in all."""
    return {**fact_dict(exam), "counts": counts_of(exam), "unsure": counts_of(exam, sure=False)}


def cleaning_after(exam: Exam, before: Exam | None = None, normal: Collection[str] = ()) -> list[str]:
    """Return how to clean for what was surely seen, with all cautions, what holds for all of them once.

    Of what the exam showed `before` already, only where to read it; of what is `normal` in this animal too.
    """
    from fecallab.gather import targets_seen
    from fecallab.reference.cleaning import cleaning_advice

    told = targets_seen(before, unsure=False) if before is not None else ()
    lines = []
    for target in targets_seen(exam, unsure=False):
        if target in told:
            lines.append(f"Cleaning for {target}: fecallab clean advice {target}")
            continue
        if target in normal:
            lines.append(
                f"{target}: normal here in small numbers; many, or an animal that is unwell, are for the vet."
                f" Cleaning: fecallab clean advice {target}"
            )
            continue
        lines.append(f"Cleaning for {target} (all of it: fecallab clean advice {target}):")
        lines += [said for line in cleaning_advice(target).short if (said := f"  {line}") not in lines]
    return lines
