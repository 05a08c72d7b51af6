"""Invented pages of cases: one that is followed, and one that is closed."""

from dataclasses import replace
from datetime import date, datetime

from invented_pages import STAMP, TORTOISE
from invented_pictures import marked_picture

from fecallab.domain.animal import CareEntry, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.errors import Reason
from fecallab.domain.followup import K_OF_N, Pause, Standing
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.residual import residual_chance
from fecallab.report.model import (
    CasePage,
    ChanceBlock,
    ExamPoint,
)


def followed_case(pictures=False):
    """Return the page of a case in its follow-up: treated, one late positive, two negatives counted."""
    plan = Plan(
        code="L1",
        case="C2",
        vet="Dr Imaginary",
        written_on=date(2026, 3, 9),
        goal="clear",
        drug="invented drug",
        dose_mg_per_kg="20",
        concentration_mg_per_ml="25",
        route="by mouth",
        interval_days=7,
        doses_planned=3,
        negatives_needed=3,
        spacing_days=7,
        wait_after_last_dose_days=14,
        follow_up_source="the vet",
    )
    exam = ExamPoint
    per_gram = "eggs per gram"
    return CasePage(
        stamp=STAMP,
        animal=TORTOISE,
        case=Case(code="C2", animal="A3", target="oxyurid", stages=("egg",), opened_on=date(2026, 3, 4)),
        about="oxyurids (pinworms), eggs",
        standing=Standing(
            K_OF_N,
            2,
            3,
            date(2026, 5, 25),
            False,
            (
                Reason(
                    "count-so-far",
                    "2 of 3 exams counted, the last of 18 May 2026 (last dose on 24 March 2026).",
                    "The next stool that counts is one on or after 25 May 2026.",
                ),
                Reason(
                    "inconclusive",
                    "The exam of 14 April 2026 was inconclusive: it neither counts nor resets.",
                ),
            ),
        ),
        plan=plan,
        exams=(
            exam(
                code="E7",
                taken_on=date(2026, 3, 4),
                result="positive",
                burden=1350,
                ci95=(890, 1964),
                unit=per_gram,
                page="exam-E7.html",
                said="opened the case",
            ),
            exam(
                code="E9",
                taken_on=date(2026, 3, 30),
                result="positive",
                burden=100,
                ci95=(12, 361),
                unit=per_gram,
                said="within the wait",
            ),
            exam(
                code="E11",
                taken_on=date(2026, 4, 14),
                result="inconclusive",
                said="the stool was frozen: it neither counts nor resets",
            ),
            exam(
                code="E12",
                taken_on=date(2026, 5, 8),
                result="negative",
                burden=0,
                upper_limit=150,
                unit=per_gram,
                counted=True,
                said="adequate, after the wait",
            ),
            exam(
                code="E13",
                taken_on=date(2026, 5, 18),
                result="negative",
                burden=0,
                upper_limit=150,
                unit=per_gram,
                counted=True,
                said="adequate, 10 days after the one before",
            ),
        ),
        doses=(
            DoseGiven(
                code="D1",
                plan="L1",
                given_at=datetime(2026, 3, 10, 18, 0),
                volume_ml="0.34",
                weight_g=412,
                by="Ines",
            ),
            DoseGiven(
                code="D2",
                plan="L1",
                given_at=datetime(2026, 3, 17, 18, 0),
                outcome="spat",
                volume_ml="0.34",
                weight_g=415,
                by="Ines",
                remark="told the vet",
            ),
            DoseGiven(
                code="D3",
                plan="L1",
                given_at=datetime(2026, 3, 24, 18, 5),
                volume_ml="0.34",
                weight_g=418,
                by="Ines",
            ),
        ),
        weights=tuple(
            Weighing(animal="A3", weighed_at=datetime(2026, month, d, 9), mass_g=grams, state=state)
            for month, d, grams, state in (
                (3, 3, 409, ""),
                (3, 10, 412, ""),
                (3, 24, 418, ""),
                (4, 20, 411, "after passing urine"),
                (5, 18, 431, ""),
            )
        ),
        care=(
            CareEntry(animal="A3", at=datetime(2026, 3, 11, 9), kind="soak", remark="lukewarm, 20 minutes"),
            CareEntry(animal="A3", at=datetime(2026, 3, 12, 9), kind="fluids", amount=8.0, unit="ml"),
        ),
        pauses=(Pause(date(2026, 4, 16), date(2026, 4, 26)),),
        wait=(date(2026, 3, 30), date(2026, 4, 13)),
        chance=ChanceBlock(
            prior=0.5,
            prior_from="chosen by the vet: treated, and positive before",
            sensitivity=0.75,
            sensitivity_from="a figure from people; none for reptiles was found",
            negatives=2,
            chance=residual_chance(0.5, 0.75, 2),
            lowered_by="another adequate negative of a separate stool, or a test of another kind.",
        ),
        pictures=(marked_picture("E9, P1, field 2, 10×", seed=3, objects=4),) if pictures else (),
        cannot_show=("viruses", "mites on the skin", "infections outside the gut"),
        cautions=("Wash hands with soap after the animal, its stool and its water.",),
    )


def closed_case():
    """Return the page of a closed case whose closing a later verdict contradicts; no doses, no numbers."""
    page = followed_case()
    return replace(
        page,
        standing=Standing(
            "waiting for the vet's word",
            0,
            3,
            None,
            False,
            (Reason("unsure-mark", "An unsure mark blocks a negative.", "Send the picture to the vet."),),
        ),
        plan=None,
        doses=(),
        exams=(ExamPoint(code="E7", taken_on=date(2026, 3, 4), result="unsure"),),
        weights=(),
        care=(),
        pauses=(),
        wait=None,
        chance=None,
        closing=Closing(
            code="K1",
            case="C2",
            closed_on=date(2026, 4, 2),
            by="Ines",
            ending="on a vet's order",
            vet="Dr Imaginary",
            reason="followed elsewhere",
            standing_then="watching",
            edition="2026-05",
        ),
        closing_supported=False,
        cannot_show=(),
        cautions=(),
    )
