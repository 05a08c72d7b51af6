"""What stands on a page: plain dataclasses, filled by whoever gathers the records, rendered by `page`.

Facts travel as the domain's own objects (animal, sample, exam, plan, standing …); what is added here is
what a person reads beside them: names in words, what the vet said, pictures, and the day on which the page
was made. No clock and no record folder is asked: the same page object always gives the same page.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fecallab.domain.adequacy import Bound, ExamAnswer
from fecallab.domain.animal import Animal, CareEntry, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.counting import FieldDensity
from fecallab.domain.exam import Exam, Mark, Preparation
from fecallab.domain.followup import Pause, Standing
from fecallab.domain.grading import Grade
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.residual import ResidualChance
from fecallab.domain.sample import Sample

ANSWERS = ("yes", "no", "not known")
"""How a condition of adequacy can be answered."""


@dataclass(frozen=True, kw_only=True)
class PageStamp:
    """What a page says about itself: the day it was made, by which version and under which rules.

    ``made_on`` is the "today" of everything on the page; ``made_for`` may name the keeper or the collection.
    """

    made_on: date
    program_version: str
    edition: str
    made_for: str = ""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """How many of one thing were seen: sure ones and unsure ones."""

    words: str
    sure: int
    unsure: int = 0


@dataclass(frozen=True, kw_only=True)
class MarkLine:
    """One mark in a picture.

    Attributes
    ----------
    number : int
        Shown in the picture and in the table under it.
    mark : Mark
        Position, size, whether sure, who named it.
    words : str
        Its name as people say it: the vet's where there is a verdict that was read over, else the keeper's.
    group : str
        The group that the eye can tell; chooses colour and shape.
    vets_word : str
        What the vet said about it and how it came in; empty without a verdict.
    keepers_word : str
        The keeper's own name where the vet's replaced it; it stays visible.
    """

    number: int
    mark: Mark
    words: str
    group: str
    vets_word: str = ""
    keepers_word: str = ""


@dataclass(frozen=True, kw_only=True)
class PictureBlock:
    """One picture with its marks.

    Attributes
    ----------
    title : str
        Where it was taken: "P1, field 3, 40×".
    picture : bytes or Path
        A JPEG that is embedded as it is, or a picture file that is scaled down when the page is made.
    width_px, height_px : int
        Size of the picture that the marks refer to (upright), not of the scaled copy.
    um_per_px : float or None
        Scale of that picture; None draws no scale bar and says so.
    marks : tuple of MarkLine
        In the order of their numbers.
    counts : tuple of Seen
        What the reading counted, where it was not marked.
    caption : str
        The keeper's words.
    """

    title: str
    picture: bytes | Path
    width_px: int
    height_px: int
    um_per_px: float | None = None
    marks: tuple[MarkLine, ...] = ()
    counts: tuple[Seen, ...] = ()
    caption: str = ""


@dataclass(frozen=True, kw_only=True)
class ConditionLine:
    """One condition of adequacy: its yes/no question, the answer (one of `ANSWERS`) and the way forward."""

    question: str
    answer: str
    next: str = ""


@dataclass(frozen=True, kw_only=True)
class AdequacyBlock:
    """Whether one preparation could have shown one stage of one target, and what that hangs on."""

    what: str
    adequate: bool
    conditions: tuple[ConditionLine, ...] = ()
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class ReadingLine:
    """One reading, or a run of like fields, in words; `words.reading_lines` makes them from a preparation.

    ``field_by_field`` holds one text per organism, "oxyurid eggs: 0, 2, 1", in the place of ``seen``.
    """

    what: str
    objective: float | None
    cover_share: float | None
    seen: tuple[Seen, ...] = ()
    field_by_field: tuple[str, ...] = ()
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class PreparationBlock:
    """One preparation: the record, its method in words, its adequacy, its readings."""

    preparation: Preparation
    method: str
    adequacy: tuple[AdequacyBlock, ...] = ()
    readings: tuple[ReadingLine, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CountRow:
    """What was counted of one organism in one preparation at one objective.

    Attributes
    ----------
    organism : str
        In words.
    where : str
        Preparation and objective in words: "P2 simple flotation, 10×".
    total, unsure : int
        Sure ones and unsure ones.
    per_field_counts : tuple of int
        One count per field in the order in which they were read; empty for sweeps and chambers.
    density : FieldDensity or None
        Mean per field with its interval and model.
    grade : Grade or None
        The word with its scale.
    cover_share : float or None
        Share of the cover glass that was read, 0-1.
    per_g : float or None
        Per gram, where the method allows it, with ``per_g_ci95``.
    bound : Bound or None
        What none found still allows.
    note : str
        What limits these numbers.
    """

    organism: str
    where: str
    total: int
    unsure: int = 0
    per_field_counts: tuple[int, ...] = ()
    density: FieldDensity | None = None
    grade: Grade | None = None
    cover_share: float | None = None
    per_g: float | None = None
    per_g_ci95: tuple[float, float] | None = None
    bound: Bound | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class AnswerBlock:
    """What the exam answers for one stage of one target, in words."""

    target: str
    stage: str
    answer: ExamAnswer


@dataclass(frozen=True, kw_only=True)
class ExamPage:
    """Everything on the page of one exam.

    Attributes
    ----------
    answers : tuple of AnswerBlock
        One per stage and target that was asked for.
    means, does_not_mean : tuple of str
        Sentences: what the result says, and what it does not.
    notes : tuple of str
        What bears on the whole exam: a failed control run, a correction, a verdict on the exam.
    cautions : tuple of str
        Cautions of the bench.
    """

    stamp: PageStamp
    animal: Animal
    sample: Sample
    exam: Exam
    answers: tuple[AnswerBlock, ...] = ()
    preparations: tuple[PreparationBlock, ...] = ()
    counts: tuple[CountRow, ...] = ()
    pictures: tuple[PictureBlock, ...] = ()
    means: tuple[str, ...] = ()
    does_not_mean: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ExamPoint:
    """One exam on the time axis and in the table of exams.

    Attributes
    ----------
    taken_on : datetime.date
        The day that counts for the rule.
    result : str
        positive, negative, inconclusive or unsure.
    counted : bool
        Whether it counts towards the goal.
    burden, ci95, upper_limit : numbers in ``unit``, or None
        The burden with its 95 % interval; for none found the one-sided 95 % upper limit.
    unit : str
        In words: "eggs per gram", "per field at 40×". Exams in different units never share the axis.
    said : str
        Why it counts, or why it does not.
    page : str
        File name of the exam's page beside this one; empty without.
    """

    code: str
    taken_on: date
    result: str
    counted: bool = False
    burden: float | None = None
    ci95: tuple[float, float] | None = None
    upper_limit: float | None = None
    unit: str = ""
    grade: str = ""
    said: str = ""
    page: str = ""


@dataclass(frozen=True, kw_only=True)
class ChanceBlock:
    """The chance that infection is still there, before and after the negatives.

    ``prior`` and ``sensitivity`` are fractions 0-1 with where they come from; ``lowered_by`` says what would
    bring the chance down, ``keepers_reading`` what the keeper's own reading does to it.
    """

    prior: float
    prior_from: str
    sensitivity: float
    sensitivity_from: str
    negatives: int
    chance: ResidualChance
    lowered_by: str = ""
    keepers_reading: str = ""


@dataclass(frozen=True, kw_only=True)
class CasePage:
    """Everything on the page of one case.

    Attributes
    ----------
    about : str
        The target in words: "oxyurids (pinworms), eggs".
    exams : tuple of ExamPoint
        In the order of ``taken_on``.
    doses, weights, care : tuple
        As recorded, oldest first.
    pauses : tuple of Pause
        Brumations.
    wait : (date, date) or None
        From the last dose (or last positive) to the first day whose stool counts.
    earlier_plans : tuple of Plan
        Plans that the current one replaced, oldest first.
    next_steps : tuple of str
        What to do next; empty takes the way forward of the standing's reasons.
    closing_supported : bool
        False shows "closed, no longer supported".
    """

    stamp: PageStamp
    animal: Animal
    case: Case
    about: str
    standing: Standing
    plan: Plan | None = None
    earlier_plans: tuple[Plan, ...] = ()
    exams: tuple[ExamPoint, ...] = ()
    doses: tuple[DoseGiven, ...] = ()
    weights: tuple[Weighing, ...] = ()
    care: tuple[CareEntry, ...] = ()
    pauses: tuple[Pause, ...] = ()
    wait: tuple[date, date] | None = None
    next_steps: tuple[str, ...] = ()
    chance: ChanceBlock | None = None
    closing: Closing | None = None
    closing_supported: bool = True
    pictures: tuple[PictureBlock, ...] = ()
    notes: tuple[str, ...] = ()
    cannot_show: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
