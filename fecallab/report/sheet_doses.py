"""One dose for paper: worked out by the plan, or every reason why not. A withheld volume is printed nowhere."""

from __future__ import annotations

from datetime import datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from fecallab.domain.dose_found import said_once
from fecallab.domain.dosing import DoseAnswer, read_route
from fecallab.domain.errors import Reason
from fecallab.domain.safety import act_of_route, cautions_for
from fecallab.domain.spoken import say_date, say_time, volume_in_digits, volume_in_words
from fecallab.gather_dose import DoseDay, dose_answer
from fecallab.report.figures import grams, number
from fecallab.report.sheet_model import DoseBlock

if TYPE_CHECKING:
    from fecallab.domain.plan import Plan
    from fecallab.domain.syringe import Syringe
    from fecallab.records.casefile import CaseFile

TOO_EARLY = "too-early"
_WATCH = ("watch-two-days",)
_WORM_DRUG_WATCH = ("white-cells", "benzimidazole")
_BROUGHT_UP = ("missed-or-vomited",)
_ONLY_OF_WORMS = "dying-worms"
WORMS = (
    "oxyurid",
    "ascarid",
    "strongylid",
    "rhabditid",
    "capillarid/trichurid",
    "spirurid",
    "cestode",
    "trematode",
    "acanthocephalan",
    "pentastomid",
)
"""Targets of which many may die at once."""


def dose_block(file: CaseFile, now: datetime, *, day: DoseDay | None = None) -> DoseBlock:
    """Return the next dose of a case for paper.

    Parameters
    ----------
    file : CaseFile
        The case; its plan in force is followed.
    now : datetime
        When it is to be given. A dose that is only some hours too early today is worked out for later today,
        and the first moment stands with it.
    day : DoseDay, optional
        What is known of today beside the records, and what the vet has confirmed.

    Returns
    -------
    DoseBlock
        With a volume only when no rule refuses and no warning waits for the vet's word.
    """
    answer = dose_answer(file, now, day=day)
    later: tuple[Reason, ...] = ()
    if answer.refused and {reason.code for reason in answer.reasons} == {TOO_EARLY}:
        tonight = datetime.combine(now.date(), time(23, 59), tzinfo=now.tzinfo)
        then = dose_answer(file, tonight, day=day)
        if not then.refused:
            later, answer = answer.reasons, then
    plan = file.plan if file.plan is not None and file.plan.drug else None
    cautions = {c.code: c.text for act in acts_of(plan, answer) for c in cautions_for(act)}
    watch = _watch_codes(plan)
    if file.case.target not in WORMS:
        cautions.pop(_ONLY_OF_WORMS, None)
    cautions = {code: text for code, text in cautions.items() if code in watch or code != _WORM_DRUG_WATCH[0]}
    animal, obstacles = file.animal, _obstacles(answer)
    facts: dict[str, Any] = {
        "case": file.case.code,
        "animal": animal.name,
        "code": animal.code,
        "about": animal.species,
        "place": animal.enclosure,
        "target": file.case.target,
        "weight": _weight(file, now),
        "watch": tuple(cautions[code] for code in watch if code in cautions),
        "brought_up": tuple(cautions[code] for code in _BROUGHT_UP if code in cautions),
        "cautions": tuple(t for code, t in cautions.items() if code not in (*watch, *_BROUGHT_UP)),
        "warnings": (*later, *answer.warnings),
        "not_checked": answer.not_checked,
        "obstacles": obstacles,
        **(_plan_facts(file, plan, now, volumes=not obstacles) if plan else {}),
    }
    return DoseBlock(**facts, **({} if obstacles else _drawn(answer)))


def acts_of(plan: Plan | None, answer: DoseAnswer) -> tuple[str, ...]:
    """Return the acts of a dose, whose cautions stand beside it."""
    route = act_of_route(read_route(plan.route) or "") if plan else "dose by mouth"
    more = (("tube", answer.tube), ("dilution", answer.dilution))
    return (route, *(act for act, there in more if there is not None))


def _watch_codes(plan: Plan | None) -> tuple[str, ...]:
    """Return the codes of what is watched for; low white cells only after drugs that lower them."""
    from fecallab.reference.drugs import dose_facts

    code, kind = _WORM_DRUG_WATCH
    drug = dose_facts().find_drug(plan.drug) if plan else None
    return (*_WATCH, code) if drug is not None and any(kind in word for word in drug.classes) else _WATCH


def _obstacles(answer: DoseAnswer) -> tuple[Reason, ...]:
    """Return what stands in the way: refusals, and warnings that the vet has not confirmed."""
    from fecallab.reference.drugs import dose_facts

    waiting = [warning for warning in answer.warnings if warning.code in answer.to_confirm]
    return (
        *said_once(answer.reasons, dose_facts()),
        *(
            Reason(
                w.code,
                f"Needs the vet's word first: {w.text}",
                f"{w.next} When confirmed: --confirmed {w.code}",
            )
            for w in waiting
        ),
    )


def _plan_facts(file: CaseFile, plan: Plan, now: datetime, *, volumes: bool) -> dict[str, Any]:
    of_plan = [dose for dose in file.doses if dose.plan == plan.code and dose.given_at <= now]
    taken = [dose for dose in of_plan if dose.outcome != "missed"]
    log = [
        f"{say_time(dose.given_at)}: {dose.outcome}"
        + (f", {dose.volume_ml} ml" if dose.volume_ml and volumes else "")
        + (f", by {dose.by}" if dose.by else "")
        for dose in of_plan[-3:]
    ]
    days = plan.interval_days or 0
    return {
        "drug": f"{plan.drug} ({plan.component})" if plan.component not in ("", plan.drug) else plan.drug,
        "dose_mg_per_kg": plan.dose_mg_per_kg,
        "concentration_mg_per_ml": plan.concentration_mg_per_ml,
        "route": plan.route,
        "vet": plan.vet,
        "plan": plan.code,
        "written_on": plan.written_on,
        "number": len(taken) + 1,
        "doses_planned": plan.doses_planned,
        "interval": _interval(days),
        "log": tuple(log),
    }


def _interval(days: float) -> str:
    """Say how often.

    Examples
    --------
    >>> _interval(14), _interval(0.5), _interval(1)
    ('every 14 days', 'every 12 hours', 'every day')
    """
    if not days:
        return ""
    if days < 1:
        return f"every {number(days * 24)} hours"
    return "every day" if days == 1 else f"every {number(days)} days"


def _weight(file: CaseFile, now: datetime) -> str:
    weighings = [one for one in file.weighings if one.weighed_at <= now]
    if not weighings:
        return ""
    last = weighings[-1]
    state = f", {last.state}" if last.state else ""
    return f"{grams(last.mass_g)} on {say_date(last.weighed_at)}{state}"


def _drawn(answer: DoseAnswer) -> dict[str, Any]:
    """Return what follows from a volume that may be given."""
    assert answer.draw_ml is not None and answer.volume_ml is not None
    assert answer.delivered_mg_per_kg is not None and answer.error_percent is not None
    error = f"{answer.error_percent:+.1f}"
    syringe = _syringe(answer)
    before = answer.volume_with_last_weight_ml
    return {
        "draw_ml": answer.draw_ml,
        "draw_words": volume_in_words(answer.draw_ml),
        "exact_ml": volume_in_digits(Decimal(f"{answer.volume_ml:.4f}")),
        "delivered": f"{number(float(answer.delivered_mg_per_kg))} mg per kg ({error} %)",
        "syringe_ml": answer.syringe_ml,
        "graduation_ml": answer.graduation_ml,
        "units_per_ml": syringe.units_per_ml if syringe else None,
        "mixing": answer.dilution.lines() if answer.dilution else (),
        "tube": tuple(answer.tube.steps) if answer.tube else (),
        "before": "" if before is None else volume_in_digits(Decimal(f"{before:.4f}")),
    }


def _syringe(answer: DoseAnswer) -> Syringe | None:
    from fecallab.reference.drugs import dose_facts

    return next((item for item in dose_facts().syringes if item.key == answer.syringe_key), None)
