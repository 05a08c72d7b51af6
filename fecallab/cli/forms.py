"""The forms of ``calc adequacy`` and ``calc standing``: checked at the edge, then plain domain facts."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AliasChoices, BaseModel, ConfigDict, Field, ValidationError

from fecallab.domain import followup
from fecallab.domain.adequacy import ExamEvidence, PreparationEvidence
from fecallab.domain.checked import MOST_COUNTED
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import METHODS
from fecallab.domain.followup import CaseHistory, DoseFact, ExamFact, FollowUpPlan, Pause
from fecallab.domain.plan import GOALS, OUTCOMES
from fecallab.domain.sample import FORMS, KEPT, ORIGINS

NOT_THE_QUESTION = {"id", "expected", "why", "about"}

FormT = TypeVar("FormT", bound="Form")

Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(ge=1e-6, le=1_000_000)]
"""A mass, a volume or an objective: wide enough for anything real, narrow enough to be worked with."""
Count = Annotated[int, Field(ge=0, le=MOST_COUNTED)]
Day = Annotated[date, Field(ge=date(1950, 1, 1), le=date(2200, 12, 31))]
"""A day that can be meant; waits of ten years still end within the calendar."""
Gravity = Annotated[float, Field(ge=0.9, le=2)]
Minutes = Annotated[float, Field(ge=0, le=10_000_000)]


class Form(BaseModel):
    """Frozen; unknown keys are kept aside and named in the answer instead of being trusted."""

    model_config = ConfigDict(extra="allow", frozen=True)

    def unknown_keys(self, path: str = "") -> list[str]:
        """Return the keys of the form, and of the forms in it, that nothing here reads."""
        found = [f"{path}{key}" for key in (self.model_extra or {}) if key not in NOT_THE_QUESTION]
        for name in type(self).model_fields:
            value = getattr(self, name)
            for item in value if isinstance(value, list) else [value]:
                if isinstance(item, Form):
                    found += item.unknown_keys(f"{path}{name}.")
        return found


class SampleForm(Form):
    """The sample of an exam question."""

    origin: Literal[ORIGINS] | None = None  # type: ignore[valid-type]
    owner: Literal["animal", "tub", "pen", "pen, owner unknown"] | None = None
    passed_minutes_ago: tuple[Minutes, Minutes] | None = None
    form: Literal[FORMS] | None = None  # type: ignore[valid-type]
    kept: Literal[KEPT] | None = None  # type: ignore[valid-type]
    mass_g: Positive | None = None
    whole_stool_used: bool | None = None


class PreparationForm(Form):
    """One preparation of an exam question."""

    method: Literal[METHODS]  # type: ignore[valid-type]
    objective: Positive | None = None
    cover_share: Share | None = None
    fields: Count | None = None
    room_c: Annotated[float, Field(ge=-50, le=60)] | None = None
    slide_warmed: Annotated[bool | None, Field(validation_alias=AliasChoices("slide_warmed", "warmed"))] = (
        None
    )
    solution: str = ""
    specific_gravity: Gravity | None = None
    gravity_checked: bool | None = None
    standing_minutes: Minutes | None = None
    sample_g: Positive | None = None
    suspension_ml: Positive | None = None
    counted_ml: Positive | None = None
    result: Literal["positive", "negative", "inconclusive", ""] = ""
    adequate: Annotated[bool | None, Field(validation_alias=AliasChoices("adequate", "stated_adequate"))] = (
        None
    )
    who: str = ""


class ExamQuestion(Form):
    """One exam and what is asked of it (the form of ``calc adequacy``)."""

    target: Annotated[str, Field(min_length=1)]
    stage: Literal["trophozoite", "cyst", "oocyst", "egg", "larva", "spore"]
    sample: SampleForm
    preparations: list[PreparationForm] = []
    counts: dict[str, Count] = {}
    unsure: list[str] = []
    asked_of: Literal["animal", "group"] = "animal"

    def evidence(self) -> ExamEvidence:
        """Return the question as the rule wants it."""
        return ExamEvidence(
            target=self.target.lower(),
            stage=self.stage,
            origin=self.sample.origin,
            owner=self.sample.owner,
            asked_of=self.asked_of,
            form=self.sample.form,
            kept=self.sample.kept,
            mass_g=self.sample.mass_g,
            whole_stool_used=self.sample.whole_stool_used,
            passed_minutes_ago=self.sample.passed_minutes_ago,
            preparations=tuple(
                PreparationEvidence(
                    method=p.method,
                    objective=p.objective,
                    cover_share=p.cover_share,
                    fields=p.fields,
                    room_c=p.room_c,
                    slide_warmed=p.slide_warmed,
                    solution=p.solution,
                    specific_gravity=p.specific_gravity,
                    gravity_checked=p.gravity_checked,
                    standing_minutes=p.standing_minutes,
                    sample_g=p.sample_g,
                    suspension_ml=p.suspension_ml,
                    counted_ml=p.counted_ml,
                    stated_result=p.result,
                    stated_adequate=p.adequate,
                    stated_by=p.who,
                )
                for p in self.preparations
            ),
            counts={name.lower(): n for name, n in self.counts.items()},
            unsure=tuple(name.lower() for name in self.unsure),
        )


class CaseForm(Form):
    """What the case is about."""

    target: Annotated[str, Field(min_length=1)]
    host_group: str = "other"
    opened: Day
    plant_eater: bool = False
    adult: bool | None = None


class PlanForm(Form):
    """The plan of a case question; numbers left out follow the defaults of the target."""

    goal: Literal[GOALS] = "clear"  # type: ignore[valid-type]
    negatives_needed: Annotated[int, Field(ge=0, le=100)] | None = None
    spacing_days: Annotated[int, Field(ge=0, le=3650)] | None = None
    wait_after_last_dose_days: Annotated[int, Field(ge=0, le=3650)] | None = None
    doses_planned: Annotated[int, Field(ge=0, le=1000)] = 0
    interval_days: Annotated[float, Field(ge=0, le=3650)] = 0
    written: Day
    grade_at_most: str = ""


class ExamForm(Form):
    """One exam of a case question."""

    sample_collected: Day
    defecation: str = ""
    result: Literal[followup.RESULTS]  # type: ignore[valid-type]
    result_corrected_to: Literal[followup.RESULTS] | None = None  # type: ignore[valid-type]
    grade: str = ""


class DoseForm(Form):
    """One line of the treatment log of a case question."""

    given: Day
    outcome: Literal[OUTCOMES] = "given"  # type: ignore[valid-type]


class EventForm(Form):
    """Brumation, or the vet's word that a broken course counts."""

    kind: str
    start: Annotated[Day | None, Field(validation_alias=AliasChoices("start", "date", "on"))] = None
    end: Day | None = None


class CaseQuestion(Form):
    """One case history (the form of ``calc standing``)."""

    case: CaseForm
    plan: PlanForm | None = None
    exams: list[ExamForm] = []
    doses: list[DoseForm] = []
    events: list[EventForm] = []
    today: Day

    def history(self) -> CaseHistory:
        """Return the case as the rule wants it, with defaults filled in for numbers left out."""
        from fecallab.reference.adequacy import adequacy_facts
        from fecallab.reference.followup import followup_default

        facts = adequacy_facts()
        target = facts.group_of.get(self.case.target.lower(), self.case.target.lower())
        plan: FollowUpPlan | None = None
        if self.plan is not None:
            asked = (
                self.plan.negatives_needed,
                self.plan.spacing_days,
                self.plan.wait_after_last_dose_days,
            )
            if None in asked and target not in facts.not_clearable:
                default = followup_default(
                    target, self.case.host_group, plant_eater=self.case.plant_eater, adult=self.case.adult
                )
                fallback = (
                    default.negatives_needed,
                    default.spacing_days,
                    default.wait_after_last_dose_days,
                )
                asked = tuple(a if a is not None else b for a, b in zip(asked, fallback, strict=True))  # type: ignore[assignment]
            negatives, spacing, wait = (value or 0 for value in asked)
            plan = FollowUpPlan(
                goal=self.plan.goal,
                negatives_needed=negatives,
                spacing_days=spacing,
                wait_after_last_dose_days=wait,
                doses_planned=self.plan.doses_planned,
                interval_days=self.plan.interval_days,
                written_on=self.plan.written,
                grade_at_most=self.plan.grade_at_most,
            )
        return CaseHistory(
            target=target,
            opened_on=self.case.opened,
            plan=plan,
            exams=tuple(
                ExamFact(
                    taken_on=exam.sample_collected,
                    defecation=exam.defecation or f"stool {number}",
                    result=exam.result_corrected_to or exam.result,
                    grade=exam.grade,
                )
                for number, exam in enumerate(self.exams)
            ),
            doses=tuple(DoseFact(dose.given, dose.outcome) for dose in self.doses),
            pauses=tuple(
                Pause(event.start, event.end)
                for event in self.events
                if event.kind == "brumation" and event.start is not None
            ),
            course_accepted_on=tuple(
                event.start
                for event in self.events
                if event.kind == "vet accepts course" and event.start is not None
            ),
            not_clearable=target in facts.not_clearable,
        )


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is no number")


def read_form(path: Path, kind: type[FormT]) -> FormT:
    """Read one form from a JSON file.

    Raises
    ------
    BadInput
        When the file is missing, too large, no JSON, or a value breaks its rule: one line that names the
        place, the value and the rule.
    """
    name = path.name
    if not path.is_file():
        raise BadInput(f"There is no file {path}.", next="Name a JSON file.", code="no-such-file")
    if path.stat().st_size > 5_000_000:
        raise BadInput(f"{name} is larger than 5 MB; a form is small.", next="Name the right file.")
    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"), parse_constant=_no_constant)
        return kind.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the form"
        given = json.dumps(first["input"], default=str)[:80]
        more = f" ({error.error_count() - 1} more)" if error.error_count() > 1 else ""
        if first["type"] == "missing":
            text = f"{name}: {place} is missing{more}."
        else:
            said = first["msg"].replace("Input should", "it should")
            said = said.replace("Extra inputs are not permitted", "there is no such key")
            said = re.sub(r"\b\d{4}-\d\d-\d\d\b", r'"\g<0>"', said)
            text = f"{name}, {place}: {given} does not fit: {said}{more}."
        raise BadInput(text, next="Correct it and repeat.", code="form-value") from None
    except (ValueError, RecursionError) as error:
        text = f"{name} is no JSON object that can be read: {str(error)[:120]}."
        raise BadInput(text, next="Check the file in an editor.", code="no-json") from None
