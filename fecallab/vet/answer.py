"""What comes back from the vet: the form of the answer, and reading one that a stranger may have written.

The form is our own, ``fecallab-answer`` version 1, and open: plain JSON. A W3C Web Annotation collection would
fit the words on single marks, not the plan, the follow-up and the words on a whole exam.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from fecallab.domain.errors import BadInput
from fecallab.vet.block import from_block
from fecallab.vet.block import to_block as to_block
from fecallab.vet.canonical import canonical, content_hash
from fecallab.vet.identity import PageIdentity as PageIdentity
from fecallab.vet.identity import page_identity as page_identity
from fecallab.vet.safe_json import MOST_BYTES, read_json, refuse, too_large

FORMAT = "fecallab-answer"
VERSION = 1
ADEQUACY_WORDS = ("", "agree", "not adequate", "accept")
"""Of a whole exam: nothing said; as the table says; stricter; and accepted although the table says no."""
PICTURE_QUALITY_WORDS = ("", "good", "usable", "too poor")


def _day(value: Any) -> Any:
    try:
        return date.fromisoformat(value) if isinstance(value, str) and len(value) == 10 else None
    except ValueError:
        return None


def _moment(value: Any) -> Any:
    try:
        found = datetime.fromisoformat(value) if isinstance(value, str) and len(value) in (16, 19) else None
    except ValueError:
        return None
    return found if found is None or found.tzinfo is None else None


def _one_line(value: str) -> str:
    if "\n" in value or "\r" in value or "\t" in value:
        raise ValueError("stands in one line")
    return value.strip()


Name = Annotated[str, Field(max_length=120), AfterValidator(_one_line)]
Words = Annotated[str, Field(max_length=4_000)]
Code = Annotated[str, Field(pattern=r"^[A-Z][1-9]\d{0,8}$")]
Pixel = Annotated[float, Field(ge=-0.5, le=200_000, allow_inf_nan=False)]
Amount = Annotated[float, Field(gt=0, le=1_000_000, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=10_000)]
Day = Annotated[date, BeforeValidator(_day)]
Moment = Annotated[datetime, BeforeValidator(_moment)]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PageRef(_Form):
    """Which page is answered: both copied from the page."""

    id: Annotated[str, Field(pattern=r"^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$")]
    hash: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class VetRef(_Form):
    """Who answers."""

    name: Annotated[str, Field(min_length=1, max_length=120), AfterValidator(_one_line)]
    practice: Name = ""


class MarkAnswer(_Form):
    """The word on one item of the page.

    ``mark`` is its key (`Item.key`); ``name`` a key of the organism table or a group, for ``other`` only;
    ``sure`` False when the vet's other name is a guess.
    """

    mark: Annotated[
        str, Field(pattern=r"^E[1-9]\d{0,8}(-[1-9]\d{0,8}){2}((-[1-9]\d{0,8})|(:[^\n\r\t]{1,120}))$")
    ]
    verdict: Literal["agree", "other", "artefact", "cannot tell"]
    name: Name = ""
    sure: bool = True
    remark: Words = ""


class MissedAnswer(_Form):
    """An organism that the keeper did not mark, at a place in the picture of a reading."""

    reading: Annotated[str, Field(pattern=r"^E[1-9]\d{0,8}(-[1-9]\d{0,8}){2}$")]
    x_px: Pixel
    y_px: Pixel
    name: Annotated[str, Field(min_length=1, max_length=120), AfterValidator(_one_line)]
    sure: bool = True
    remark: Words = ""


class ExamAnswer(_Form):
    """The word on one whole exam; ``grade`` is a word of the scale that the page shows, for ``target``."""

    exam: Code
    target: Name = ""
    grade: Name = ""
    adequacy: Literal["", "agree", "not adequate", "accept"] = ""
    picture_quality: Literal["", "good", "usable", "too poor"] = ""
    remark: Words = ""


class SamePlan(_Form):
    """The same treatment as an earlier plan, by the weight of the day."""

    kind: Literal["same"]
    plan: Code


class NewPlan(_Form):
    """A whole treatment; ``doses_planned`` 0 means that nothing is given."""

    kind: Literal["new"]
    drug: Name = ""
    component: Name = ""
    dose_mg_per_kg: Amount | None = None
    concentration_mg_per_ml: Amount | None = None
    route: Name = ""
    interval_days: Amount | None = None
    doses_planned: Count = 0
    weight_max_age_days: Amount | None = None
    repeats_allowed: Count | None = None
    fluids: Words = ""
    fluids_ml_per_kg_day: Amount | None = None
    feeding: Words = ""
    warm_end_at_least_c: Annotated[float, Field(ge=-10, le=60, allow_inf_nan=False)] | None = None
    night_at_least_c: Annotated[float, Field(ge=-10, le=60, allow_inf_nan=False)] | None = None
    remark: Words = ""


class FollowUp(_Form):
    """How to tell that it worked; what is left out follows the defaults of the tables."""

    goal: Literal["", "clear", "low burden", "not clearable by stool exam", "watch, no treatment"] = ""
    negatives_needed: Annotated[int, Field(ge=1, le=100)] | None = None
    spacing_days: Count | None = None
    wait_after_last_dose_days: Count | None = None
    grade_at_most: Name = ""


class CaseAnswer(_Form):
    """The word on one case: advice, plan, follow-up, and when to be called again."""

    case: Code
    advice: Words = ""
    plan: Annotated[SamePlan | NewPlan, Field(discriminator="kind")] | None = None
    follow_up: FollowUp | None = None


class Signature(_Form):
    """Who and unchanged, Ed25519 over the canonical JSON (RFC 8785) of the answer without this block."""

    algorithm: Literal["Ed25519"]
    public_key: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{43}$")]
    signature: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{86}$")]


class Answer(_Form):
    """A whole answer. Only ``format``, ``version``, ``page``, ``vet`` and ``answered_at`` are needed.

    ``rest_agreed`` agrees with every *sure* item that has no word of its own; an unsure one needs its own.
    """

    format: Literal["fecallab-answer"]
    version: Literal[1]
    page: PageRef
    vet: VetRef
    answered_at: Moment
    marks: Annotated[list[MarkAnswer], Field(max_length=20_000)] = []
    rest_agreed: bool = False
    missed: Annotated[list[MissedAnswer], Field(max_length=1_000)] = []
    exams: Annotated[list[ExamAnswer], Field(max_length=200)] = []
    cases: Annotated[list[CaseAnswer], Field(max_length=50)] = []
    words: Words = ""
    signature: Signature | None = None


class ReadAnswer(BaseModel):
    """An answer that was read: its form, the JSON as it came, and the hash of what it says (signature out)."""

    model_config = ConfigDict(frozen=True)

    answer: Answer
    raw: dict[str, Any]
    says_sha256: str

    @property
    def signed_bytes(self) -> bytes:
        """What a signature covers."""
        return signed_bytes(self.raw)


EXAMPLE: dict[str, Any] = {
    "format": FORMAT,
    "version": VERSION,
    "page": {"id": "7K2M-Q9XA", "hash": "3c" * 32},
    "vet": {"name": "Dr Ilse Varnholt", "practice": ""},
    "answered_at": "2026-11-24T18:40",
    "marks": [
        {"mark": "E3-1-2-3", "verdict": "artefact", "remark": "pollen"},
        {"mark": "E3-1-2-7", "verdict": "cannot tell"},
        {"mark": "E3-1-4-1", "verdict": "other", "name": "coccidian", "sure": True},
    ],
    "rest_agreed": True,
    "missed": [{"reading": "E3-1-2", "x_px": 611.5, "y_px": 240.0, "name": "oxyurid"}],
    "exams": [
        {
            "exam": "E3",
            "target": "oxyurid",
            "grade": "few",
            "adequacy": "agree",
            "picture_quality": "usable",
            "remark": "focus a little deeper",
        }
    ],
    "cases": [
        {
            "case": "C1",
            "advice": "Call me if it stops eating.",
            "plan": {"kind": "same", "plan": "P1"},
            "follow_up": {"goal": "clear", "negatives_needed": 3, "spacing_days": 7},
        }
    ],
    "words": "Well seen. Number 7 needs a sharper picture.",
}
"""An answer as a page saves it."""


def parse_answer(data: bytes) -> ReadAnswer:
    """Read an answer: the file that a page saved, or a message with the block of text in it.

    Raises
    ------
    BadInput
        In one line, for whatever is not exactly of the form; nothing is ever guessed.

    Examples
    --------
    >>> import json
    >>> read = parse_answer(json.dumps(EXAMPLE).encode())
    >>> read.answer.vet.name, len(read.answer.marks)
    ('Dr Ilse Varnholt', 3)
    >>> parse_answer(to_block(json.dumps(EXAMPLE).encode()).encode()) == read
    True
    """
    if len(data) > 2 * MOST_BYTES:
        raise too_large(len(data), 2 * MOST_BYTES)
    start = data[:64].lstrip(b"\xef\xbb\xbf \t\r\n")
    if not start.startswith((b"{", b"[")):
        data = from_block(data.decode("utf-8", errors="replace"))
    raw = read_json(data)
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise refuse(
            "The file is no answer of a vet's page.",
            next="Give the file that the vet's page saved.",
            code="no-answer",
        )
    if raw.get("version") != VERSION or isinstance(raw.get("version"), bool):
        raise refuse(
            f"The answer is of version {str(raw.get('version'))[:20]}; this fecallab reads version {VERSION}.",
            next="Install the newer fecallab and repeat.",
            code="answer-version",
        )
    try:
        answer = Answer.model_validate(raw)
    except ValidationError as error:
        raise _not_of_the_form(error) from None
    _refuse_doubles(answer)
    return ReadAnswer(answer=answer, raw=raw, says_sha256=content_hash(_unsigned(raw)))


def signed_bytes(raw: dict[str, Any]) -> bytes:
    """Return the bytes that a signature covers: the canonical JSON of the answer without its signature."""
    return canonical(_unsigned(raw))


def _unsigned(raw: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in raw.items() if key != "signature"}


def _not_of_the_form(error: ValidationError) -> BadInput:
    first = error.errors(include_url=False, include_input=False, include_context=False)[0]
    where = " > ".join(str(part)[:40] for part in first["loc"]) or "the whole"
    said = str(first["msg"])[:120]
    return refuse(f"The answer is not of the form at {where}: {said}.", code="answer-form")


def _refuse_doubles(answer: Answer) -> None:
    """Refuse two words on one thing: which of them was meant cannot be known."""
    for what, keys in (
        ("mark", [one.mark for one in answer.marks]),
        ("exam", [f"{one.exam} {one.target}".strip() for one in answer.exams]),
        ("case", [one.case for one in answer.cases]),
    ):
        seen: set[str] = set()
        for key in keys:
            if key in seen:
                raise refuse(f"The answer has two words on the {what} {key}.", code="answer-says-twice")
            seen.add(key)
    for one in answer.marks:
        if (one.verdict == "other") != bool(one.name):
            rule = "needs a name" if one.verdict == "other" else "takes no name"
            raise refuse(f"The word on {one.mark}: '{one.verdict}' {rule}.", code="answer-form")
