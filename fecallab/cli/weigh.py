"""Weights and lengths of an animal."""

from __future__ import annotations

import typer

from fecallab.cli.common import (
    AS_TOLD,
    BY,
    JSON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    number_or_none,
    one_of,
    open_folder,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_change, say_date

SHORT = {
    "svl": "snout-vent length",
    "snout-vent": "snout-vent length",
    "plastron": "plastron length",
    "carapace": "carapace length",
    "total": "total length",
    "stomach": "snout to stomach",
}
"""What people say for short."""


def measure(
    animal: str = typer.Argument(help="Name or code."),
    kind: str = typer.Argument(help="snout-vent length, plastron length, carapace length, total length …"),
    value_mm: str = typer.Argument(help="Length in mm."),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a length along an animal; a feeding tube is marked by it."""
    from fecallab.domain.animal import MEASUREMENT_KINDS, Measurement

    word = kind.strip().lower()
    what = one_of(SHORT.get(word, word), MEASUREMENT_KINDS, "the length")
    length = number_or_none(value_mm, "the length", low=5, high=10_000)
    assert length is not None
    moment = read_time(at, "--at")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        before = [m for m in writer.measurements(owner.code) if m.kind == what and m.measured_at <= moment]
        recorded = writer.add(
            Measurement(
                animal=owner.code, kind=what, value_mm=length, measured_at=moment, by=who(by), remark=remark
            )
        )
    text = f"{owner.name}: {what} {length:g} mm. Recorded."
    if before:
        last = before[-1]
        text += f" Before: {last.value_mm:g} mm ({say_date(last.measured_at)})."
        if not 0.5 <= length / last.value_mm <= 2:
            text += " More than twice or less than half: check the unit (mm, not cm) and the animal."
    emit({"measurement": fact_dict(recorded)}, text, as_json)


def weigh(
    animal: str = typer.Argument(help="Name or code."),
    mass_g: str = typer.Argument(help="Weight in g; 0,5 is read as 0.5."),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    state: str = typer.Option("", help="What makes it odd: gravid, urine passed, just fed, after a soak …"),
    scale_step_g: str | None = typer.Option(None, help="The step of the scale in g."),
    as_told: bool = AS_TOLD,
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a weight."""
    from fecallab.domain.animal import AS_TOLD as TOLD
    from fecallab.domain.animal import Weighing
    from fecallab.gather_notes import sign_dict, signs_of_animal

    mass = number_or_none(mass_g, "the weight", low=0.05, high=1_000_000)
    assert mass is not None
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.animal(animal)
        before = writer.latest_weighing(known.code)
        weighing = writer.add(
            Weighing(
                animal=known.code,
                weighed_at=read_time(at, "--at"),
                mass_g=mass,
                scale_step_g=number_or_none(scale_step_g, "--scale-step-g", low=0.001, high=1000),
                state=state,
                remark=remark,
                as_told=as_told,
            )
        )
        signs = [
            one for one in signs_of_animal(writer, known, weighing.weighed_at.date()) if not one.with_vet
        ]
    text = f"{known.name}: {mass:g} g{f' ({TOLD})' if as_told else ''}. Recorded."
    change = None
    if before is not None and before.weighed_at <= weighing.weighed_at:
        change = mass / before.mass_g - 1
        days = (weighing.weighed_at.date() - before.weighed_at.date()).days
        text += f" Before: {before.mass_g:g} g, {number_of(days, 'day')} earlier ({say_change(mass, before.mass_g)})."
        if not 0.2 <= mass / before.mass_g <= 5:
            text += (
                "\n  ! More than five times different: check the unit (g, not kg) and the animal. If it was a slip:"
                f" fecallab correct {weighing.code} mass_g=NUMBER --reason slip"
            )
    elif mass < 1:
        text += (
            f"\n  ! Less than 1 g: is it {mass * 1000:g} g, read in kg? If it was a slip:"
            f" fecallab correct {weighing.code} mass_g={mass * 1000:g} --reason slip"
        )
    lost = [one for one in signs if one.sign.asked_about == "weights"]
    text += "".join(f"\n  {one.line}" for one in lost)
    payload = {"weighing": fact_dict(weighing), "change": change, "signs": [sign_dict(one) for one in lost]}
    emit(payload, text, as_json)
