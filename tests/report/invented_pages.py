"""Invented pages: an imaginary rescue, imaginary animals and an imaginary vet."""

from dataclasses import replace
from datetime import date, datetime

from invented_pictures import marked_picture, plain_picture

from fecallab.domain.adequacy import Bound, ExamAnswer
from fecallab.domain.animal import Animal
from fecallab.domain.counting import field_density
from fecallab.domain.errors import Reason
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.grading import Grade
from fecallab.domain.sample import Sample
from fecallab.report.model import (
    AdequacyBlock,
    AnswerBlock,
    ConditionLine,
    CountRow,
    ExamPage,
    PageStamp,
    PreparationBlock,
)
from fecallab.report.words import reading_lines

STAMP = PageStamp(made_on=date(2026, 5, 20), program_version="0.1.0", edition="2026-05")
TORTOISE = Animal(
    code="A3", name="Quill", species="Testudo hermanni", host_group="tortoise", plant_eater=True
)
WORDS = {"oxyurid": "oxyurid egg", "artefact": "air bubble", "flagellate": "flagellate"}


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
