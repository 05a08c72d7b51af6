"""One exam shown: what was done, what was seen, and what it says."""

from __future__ import annotations

import typer

from fecallab.cli.common import JSON, RECORDS, open_folder
from fecallab.cli.output import emit, one_line
from fecallab.domain.spoken import say_time, span_ends


def show(
    exam: str = typer.Argument(help="Code of the exam."),
    target: list[str] = typer.Option([], help="Judge it for this group too."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show an exam: what was done, what was seen, and what it says for each target."""
    from fecallab.cli.exam_input import organism_name
    from fecallab.cli.exam_words import (
        exam_payload,
        judged_lines,
        judged_payload,
        preparation_line,
        seen_line,
    )
    from fecallab.domain.animal import AS_TOLD
    from fecallab.domain.clip_words import is_clip, reading_remark
    from fecallab.domain.control_note import control_states
    from fecallab.gather import group_of, judge_alone, targets_of
    from fecallab.gather_notes import control_note_for, sign_dict, signs_of_animal
    from fecallab.gather_vet import verdict_lines

    with open_folder(records) as store:
        whole = store.exam(exam)
        sample = store.sample(whole.sample)
        animal = store.animal(sample.animal)
        cases = store.cases(animal.code)
        controls = store.controls()
        signs = signs_of_animal(store, animal, max(whole.examined_at, sample.collected_at).date())
    asked = [case.target for case in cases] + [group_of(organism_name(name)) for name in target]
    targets = targets_of(whole, asked)
    judged = [judge_alone(whole, sample, animal, name) for name in targets]
    lines = [
        f"{whole.code}: {sample.origin} {sample.code} of {animal.name}, examined {say_time(whole.examined_at)}"
    ]
    if whole.as_told or sample.as_told:
        lines[0] += f" ({'' if whole.as_told else 'the sample '}{AS_TOLD})"
    lines += [f"  {one.line}" for one in signs]
    age = sample.passed_minutes_ago(whole.examined_at)
    lines.append(f"  Age at the exam: {' to '.join(dict.fromkeys(span_ends(*age))) if age else 'not known'}")
    lines += [f"  {preparation_line(p)}" for p in whole.preparations]
    if whole.preparations:
        lines.append(f"  {seen_line(whole)}")
    read = [reading for made in whole.preparations for reading in made.readings]
    lines += [
        f"  {reading.code}: {one_line(reading_remark(reading))}" for reading in read if is_clip(reading)
    ]
    lines += [f"  from elsewhere: {r.who}, {r.method}: {r.result} for {r.target}" for r in whole.elsewhere]
    said = [one_line(line) for line in verdict_lines(whole)]
    lines += ["Words of vets, beside your own names:", *(f"  {line}" for line in said)] if said else []
    for one in judged:
        lines += judged_lines(one, control_note_for(controls, whole, one.result))
    if not judged:
        lines.append(
            "Nothing sure was seen, and the animal has no case. Add --target oxyurid to judge it for one."
        )
    payload = {
        "exam": exam_payload(whole),
        "judged": [judged_payload(one, control_note_for(controls, whole, one.result)) for one in judged],
        "controls": [
            {"method": one.method, "state": one.state, "text": one.text}
            for one in control_states(controls, whole)
        ],
        "signs": [sign_dict(one) for one in signs],
    }
    emit(payload, "\n".join(lines), as_json)
