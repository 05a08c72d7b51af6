"""Invented pages: an imaginary rescue, imaginary animals and an imaginary vet; pictures drawn here."""

import io
from dataclasses import replace
from datetime import date, datetime

import numpy as np
from PIL import Image

from fecallab.domain.adequacy import Bound, ExamAnswer
from fecallab.domain.animal import Animal, CareEntry, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.counting import field_density
from fecallab.domain.errors import Reason
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.followup import K_OF_N, Pause, Standing
from fecallab.domain.grading import Grade
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.residual import residual_chance
from fecallab.domain.sample import Sample
from fecallab.report.model import (
    AdequacyBlock,
    AnswerBlock,
    CasePage,
    ChanceBlock,
    ConditionLine,
    CountRow,
    ExamPage,
    ExamPoint,
    MarkLine,
    PageStamp,
    PictureBlock,
    PreparationBlock,
)
from fecallab.report.words import reading_lines

STAMP = PageStamp(made_on=date(2026, 5, 20), program_version="0.1.0", edition="2026-05")
TORTOISE = Animal(
    code="A3", name="Quill", species="Testudo hermanni", host_group="tortoise", plant_eater=True
)
WORDS = {"oxyurid": "oxyurid egg", "artefact": "air bubble", "flagellate": "flagellate"}


def drawn_jpeg(width=1200, height=900, seed=0, objects=6, round_field=True, quality=80, grain=5.0):
    """Draw a micrograph of a hobby microscope: a lit circle with grain, debris, egg-like ellipses."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    bright = np.full((height, width), 205, np.float32) + rng.normal(0, grain, (height, width)).astype(
        np.float32
    )
    for _ in range(60):
        cx, cy, r = rng.uniform(0, width), rng.uniform(0, height), rng.uniform(2, 14)
        bright -= 45 * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * r * r))
    for cx, cy, a, b, turn in ellipses(objects, width, height, seed):
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        u, v = ((x - cx) * c + (y - cy) * s) / a, (-(x - cx) * s + (y - cy) * c) / b
        rim = np.hypot(u, v)
        bright -= 85 * np.exp(-(((rim - 0.92) / 0.07) ** 2)) + 22 * (rim < 0.8)
    if round_field:
        lit = np.hypot(x - width / 2, y - height / 2) < 0.56 * min(width, height) * 1.15
        bright = np.where(lit, bright, 14)
    colour = np.stack([bright, bright * 0.97, bright * 0.86], axis=-1)
    out = io.BytesIO()
    Image.fromarray(np.clip(colour, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=quality)
    return out.getvalue()


def ellipses(objects, width, height, seed):
    """Return centre, half axes and turn of the drawn objects, within the lit circle."""
    rng = np.random.default_rng(seed + 1000)
    found = []
    for _ in range(objects):
        angle, reach = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.48 * height)
        found.append(
            (
                width / 2 + reach * np.cos(angle),
                height / 2 + reach * np.sin(angle),
                rng.uniform(48, 60),
                rng.uniform(22, 28),
                rng.uniform(0, 180),
            )
        )
    return found


def marked_picture(title="P1, field 3, 10×", seed=0, objects=6, um_per_px=1.1, vet=False):
    """Return a drawn picture with a mark on every object; the last one unsure."""
    width, height = 1200, 900
    marks = []
    for number, (cx, cy, a, b, turn) in enumerate(ellipses(objects, width, height, seed), start=1):
        sure, artefact = number != objects, number == 2
        marks.append(
            MarkLine(
                number=number,
                mark=Mark(
                    x_px=float(cx),
                    y_px=float(cy),
                    name="artefact" if artefact else "oxyurid",
                    sure=sure,
                    length_um=None if artefact else float(2 * a * um_per_px),
                    width_um=None if artefact else float(2 * b * um_per_px),
                    angle_deg=float(turn),
                    named_by="Ines",
                ),
                words="air bubble" if artefact else "oxyurid egg",
                group="artefact" if artefact else "oxyurid",
                vets_word="agrees (Dr Imaginary, 6 March 2026)" if vet and number == 1 else "",
            )
        )
    return PictureBlock(
        title=title,
        picture=drawn_jpeg(width, height, seed, objects),
        width_px=width,
        height_px=height,
        um_per_px=um_per_px,
        marks=tuple(marks),
        caption="Phone held to the eyepiece.",
    )


def plain_picture(seed=7, title="P1, field 4, 10×"):
    """Return a drawn field in which nothing was marked."""
    return PictureBlock(
        title=title, picture=drawn_jpeg(seed=seed, objects=0), width_px=1200, height_px=900, um_per_px=1.1
    )


def positive_exam(pictures=True):
    """Return the page of an exam with oxyurid eggs in a flotation and an inadequate wet mount."""
    counts = (0, 2, 1, 0, 3, 4, 0, 1, 0, 2, 1, 0)
    flotation = Preparation(
        code="P1",
        method="simple_flotation",
        read_at=datetime(2026, 3, 4, 9, 20),
        solution="saturated salt",
        specific_gravity=1.2,
        gravity_checked=True,
        standing_minutes=20,
        sample_g=1.0,
        room_c=22,
        readings=tuple(
            Reading(kind="field", objective=10, field_number=20, counts={"oxyurid": n}) for n in counts
        ),
    )
    wet_mount = Preparation(
        code="P2",
        method="direct_saline_smear",
        read_at=datetime(2026, 3, 4, 10, 5),
        room_c=19,
        readings=(Reading(kind="sweep", objective=40, cover_share=0.2, counts={}),),
    )
    sample = Sample(
        code="S7",
        animal="A3",
        passed_from=datetime(2026, 3, 4, 7, 30),
        passed_to=datetime(2026, 3, 4, 8, 10),
        collected_at=datetime(2026, 3, 4, 8, 15),
        form="formed",
        kept="room",
        mass_g=2.4,
    )
    return ExamPage(
        stamp=STAMP,
        animal=TORTOISE,
        sample=sample,
        exam=Exam(
            code="E7",
            sample="S7",
            examined_at=datetime(2026, 3, 4, 9, 20),
            by="Ines",
            preparations=(flotation, wet_mount),
            question="Oxyurids? Flagellates?",
        ),
        answers=(
            AnswerBlock(
                target="oxyurids",
                stage="egg",
                answer=ExamAnswer(
                    "positive",
                    (
                        Reason(
                            "seen",
                            "Seen and sure: 14 oxyurid eggs. What was seen counts, whatever the method.",
                            "The case is the vet's: send the pictures.",
                        ),
                    ),
                    adequate=True,
                ),
            ),
            AnswerBlock(
                target="flagellates",
                stage="trophozoite",
                answer=ExamAnswer(
                    "inconclusive",
                    (
                        Reason(
                            "motility-not-assessable",
                            "Motility not assessable. Read within 60 minutes of passage? No: 155 minutes.",
                            "Read the next stool within 60 minutes of passage.",
                        ),
                        Reason(
                            "third-of-glass",
                            "Was at least a third of the cover glass swept at 40×? No: cover share is 0.2.",
                            "Sweep at least a third of the cover glass at 40×.",
                        ),
                    ),
                ),
            ),
        ),
        preparations=(
            PreparationBlock(
                preparation=flotation,
                method="simple flotation",
                adequacy=(
                    AdequacyBlock(
                        what="oxyurids, egg",
                        adequate=True,
                        conditions=(
                            ConditionLine(
                                question="Is the solution's specific gravity 1.18 to 1.30?", answer="yes"
                            ),
                            ConditionLine(question="Did it stand 10 to 60 minutes?", answer="yes"),
                        ),
                    ),
                ),
                readings=reading_lines(flotation, {"oxyurid": "oxyurid eggs"}),
            ),
            PreparationBlock(
                preparation=wet_mount,
                method="direct saline smear",
                adequacy=(
                    AdequacyBlock(
                        what="flagellates, trophozoite",
                        adequate=False,
                        conditions=(
                            ConditionLine(
                                question="Was it read within 60 minutes of passage?",
                                answer="no",
                                next="Read the next stool within 60 minutes of passage.",
                            ),
                            ConditionLine(
                                question="Was the room at 20 °C or more, or the slide warmed?",
                                answer="not known",
                                next="Warm the slide to the animal's temperature.",
                            ),
                        ),
                    ),
                ),
                readings=reading_lines(wet_mount, WORDS),
            ),
        ),
        counts=(
            CountRow(
                organism="oxyurid eggs",
                where="P1, simple flotation, 10×",
                total=sum(counts),
                unsure=1,
                per_field_counts=counts,
                density=field_density(counts),
                grade=Grade(
                    "eggs_per_10x_field",
                    "eggs or larvae per 10× field, wet mount",
                    "few",
                    3,
                    sum(counts) / len(counts),
                    "per_10x_field",
                ),
                cover_share=0.078,
            ),
        ),
        pictures=(marked_picture(vet=True), plain_picture(), plain_picture(8, "P1, field 7, 10×"))
        if pictures
        else (),
        means=("Oxyurid eggs are passed in the stool; this stool could be read for them.",),
        does_not_mean=(
            "It does not say how ill the animal is: a count per field follows the stool of one day.",
            "It says nothing about flagellates: the wet mount was read too late.",
        ),
        cautions=(
            "All reptiles are taken for carriers of Salmonella: wash hands with soap after stool and bench.",
            "Keep samples and tools out of kitchens; nobody eats or drinks at the bench.",
        ),
    )


def negative_exam():
    """Return the page of an adequate exam with none found, its limit, and no pictures."""
    page = positive_exam(pictures=False)
    counts = (0,) * 12
    bound = Bound(
        6.0, "per_g", 0.5, 3.0, "under 6 per gram at 50% recovery, a mammal figure (3 if all were found)"
    )
    answer = ExamAnswer(
        "negative",
        (
            Reason(
                "none-found", "None found, and it could have been: light eggs lifted under the cover glass."
            ),
        ),
        bound=bound,
        adequate=True,
    )
    return ExamPage(
        stamp=page.stamp,
        animal=page.animal,
        sample=page.sample,
        exam=page.exam,
        answers=(AnswerBlock(target="oxyurids", stage="egg", answer=answer),),
        preparations=page.preparations[:1],
        counts=(
            CountRow(
                organism="oxyurid eggs",
                where="P1, simple flotation, 10×",
                total=0,
                per_field_counts=counts,
                density=field_density(counts),
                cover_share=1.0,
                bound=bound,
            ),
        ),
        means=("None found, limit as above.",),
        does_not_mean=("One negative exam confirms nothing: the rule asks for more, spaced apart.",),
        cautions=page.cautions,
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


def many_pictures(number=40, marks=20):
    """Return the page of an exam with that many marked pictures (a few drawings, used again and again)."""
    drawn = [marked_picture(seed=seed, objects=marks) for seed in range(3)]
    page = positive_exam(pictures=False)
    return replace(
        page,
        pictures=tuple(
            replace(drawn[place % len(drawn)], title=f"P1, field {place}, 10×")
            for place in range(1, number + 1)
        ),
    )
