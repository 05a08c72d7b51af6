"""What a vet has said about readings: the page that went out, the answer, and its words one by one.

A page is what the vet saw. An answer is one sitting of one vet, from the page or typed in from a message. Its
words on marks, missed organisms, exams and cases are facts of their own, each with a code, so that each can be
corrected or withdrawn like any other fact. The keeper's own names are never touched by them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

SOURCES = ("page", "typed")
"""Where an answer came from: the file or block of a page, or typed in by the keeper from a letter or message."""
SIGNED = ("unsigned", "signed, key known here", "signed, key not known here")
MARK_WORDS = ("agree", "agree with the rest", "other", "artefact", "cannot tell")
ADEQUACY_WORDS = ("", "agree", "not adequate", "accept")
"""Nothing said; as the table says; stricter than the table; accepted although the table says no."""
QUALITY_WORDS = ("", "good", "usable", "too poor")
PLAN_WORDS = ("", "same", "new")
ARTEFACT = "artefact"
"""What a mark is called after the word `artefact`: it counts for nothing."""


@dataclass(frozen=True, kw_only=True)
class VetPage:
    """One page that went out.

    ``subject`` is the code of a case or an exam, ``exams`` the codes of the exams on it with blanks between,
    ``page_id`` and ``page_sha256`` what an answer must repeat.
    """

    code: str = ""
    subject: str
    exams: str
    page_id: str
    page_sha256: str
    made_at: datetime
    question: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class PageItem:
    """One numbered thing on a page as the keeper called it then (`fecallab.domain.items.Item`)."""

    number: int
    item: str
    name: str
    sure: bool
    count: int = 1


@dataclass(frozen=True, kw_only=True)
class VetAnswer:
    """One answer of one vet.

    Attributes
    ----------
    page : str
        Code of the page that was answered; empty for a message about no page in particular.
    vet, practice : str
        Who answered.
    answered_at : datetime
        When, on the vet's own clock; noon of the day for a message of which only the day is known.
    source : str
        One of `SOURCES`.
    message : str
        The message or letter that was typed in, as it was; empty for a page.
    says_sha256 : str
        SHA-256 of what the answer says (canonical JSON without signature), by which it is known again.
    raw_sha256 : str
        SHA-256 of the bytes that were taken in.
    signed : str
        One of `SIGNED`; ``signing_key`` is the public key then.
    words : str
        What the vet wrote besides.
    """

    code: str = ""
    page: str = ""
    vet: str
    practice: str = ""
    answered_at: datetime
    source: str = "page"
    message: str = ""
    says_sha256: str = ""
    raw_sha256: str = ""
    signed: str = "unsigned"
    signing_key: str = ""
    words: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class MarkVerdict:
    """A vet's word on one mark, or on one count without a picture.

    Attributes
    ----------
    answer, exam, reading : str
        Codes of the answer, and of where the item is.
    item : str
        Key of the item (`fecallab.domain.items.Item.key`).
    word : str
        One of `MARK_WORDS`.
    name, sure : str, bool
        What the item is called from then on; the keeper's name, unsure, for ``cannot tell``.
    eye_group : str
        The group that the eye can tell of ``name``, by the tables of that day.
    seen_name, seen_sure : str, bool
        What the keeper called it when the vet saw it.
    count : int
        How many: 1 for a mark.
    """

    code: str = ""
    answer: str
    exam: str
    reading: str
    item: str
    word: str
    name: str
    sure: bool = True
    eye_group: str
    seen_name: str
    seen_sure: bool
    count: int = 1
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class MissedOrganism:
    """An organism that a vet saw and the keeper did not mark; without a place when it was told in words."""

    code: str = ""
    answer: str
    exam: str
    reading: str
    x_px: float | None = None
    y_px: float | None = None
    name: str
    sure: bool = True
    eye_group: str
    count: int = 1
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class ExamVerdict:
    """A vet's word on one whole exam, for one target or (empty) for all."""

    code: str = ""
    answer: str
    exam: str
    target: str = ""
    grade: str = ""
    adequacy: str = ""
    picture_quality: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class CaseWord:
    """A vet's word on one case: advice, and a plan that is none before the keeper has read it over.

    ``plan_says`` is the plan as JSON, as it came; ``same_as`` the earlier plan whose treatment is to be
    repeated; ``taken_as`` the plan that the keeper recorded after reading, ``declined`` why none was;
    ``said_on`` the day of the answer, known where a whole case is read.
    """

    code: str = ""
    answer: str
    case: str
    advice: str = ""
    plan_kind: str = ""
    same_as: str = ""
    plan_says: str = ""
    follow_up_says: str = ""
    taken_as: str = ""
    declined: str = ""
    remark: str = ""
    said_on: date | None = None

    @property
    def open(self) -> bool:
        """Whether a plan or a follow-up in it still waits to be read over."""
        return bool(self.plan_kind or self.follow_up_says) and not (self.taken_as or self.declined)


@dataclass(frozen=True, kw_only=True)
class TrustedKey:
    """A vet's public key, and whose it is by the keeper's own check (by telephone, or face to face)."""

    code: str = ""
    public_key: str
    name: str
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Verdicts:
    """All words of vets on one exam, with the answers that they are part of by code."""

    answers: dict[str, VetAnswer] = field(default_factory=dict)
    marks: tuple[MarkVerdict, ...] = ()
    missed: tuple[MissedOrganism, ...] = ()
    exams: tuple[ExamVerdict, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.marks or self.missed or self.exams)


NO_VERDICTS = Verdicts()
