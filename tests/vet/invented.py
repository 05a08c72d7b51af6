"""A page made up without any records: as many pictures, marks and doubts as a test wants."""

import io
from datetime import date, datetime
from pathlib import Path

import numpy as np
from PIL import Image

from fecallab.domain.animal import Animal, Weighing
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.items import numbered_items
from fecallab.domain.sample import Sample
from fecallab.report.model import ExamPage, MarkLine, PageStamp, PictureBlock, PreparationBlock
from fecallab.vet.page_items import Names, vet_items
from fecallab.vet.page_model import GradeChoice, PageToVet, VetExam, VetPicture
from fecallab.vet.page_pictures import with_crops

STAMP = PageStamp(made_on=date(2026, 4, 20), program_version="0.1.0", edition="2026-11")
ANIMAL = Animal(code="A1", name="Saffron", species="Pogona vitticeps", adult=True, enclosure="vivarium 4")


def drawn_picture(path: Path, seed: int, width: int, height: int) -> None:
    """Draw grain and blots, so that a picture weighs what a micrograph weighs."""
    rng = np.random.default_rng(seed)
    small = rng.integers(150, 225, (height // 8, width // 8, 3), dtype=np.uint8)
    image = Image.fromarray(small).resize((width, height), Image.Resampling.BICUBIC)
    noisy = np.asarray(image).astype(np.int16) + rng.integers(-9, 10, (height, width, 1))
    Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(path, "JPEG", quality=88)


def page(
    folder: Path,
    *,
    pictures: int = 2,
    marks: int = 6,
    doubtful: int = 1,
    width: int = 800,
    height: int = 600,
    animal: Animal = ANIMAL,
    remark: str = "",
    asks: str = "Are these pinworm eggs?",
    name: str = "oxyurid",
    um_per_px: float | None = 0.65,
) -> PageToVet:
    """Return a page of one exam; in every picture so many marks, the first ones of them unsure."""
    rng = np.random.default_rng(pictures * 1000 + marks)
    readings = []
    for number in range(1, pictures + 1):
        code = f"E1-1-{number}"
        made = [
            Mark(
                code=f"{code}-{k}",
                x_px=float(rng.uniform(40, width - 40)),
                y_px=float(rng.uniform(40, height - 40)),
                name=name,
                sure=k > doubtful,
                length_um=float(rng.uniform(90, 150)),
                width_um=float(rng.uniform(40, 60)),
                angle_deg=float(rng.uniform(0, 180)),
                named_by="Mara Quell",
            )
            for k in range(1, marks + 1)
        ]
        drawn_picture(folder / f"{number}.jpg", number, width, height)
        readings.append(
            Reading(
                code=code,
                objective=10,
                field_number=20,
                um_per_px=um_per_px,
                picture=f"{number:064x}",
                marks=tuple(made),
            )
        )
    preparation = Preparation(code="E1-1", method="simple_flotation", readings=tuple(readings), remark=remark)
    exam = Exam(
        code="E1",
        sample="S1",
        examined_at=datetime(2026, 4, 20, 9),
        by="Mara Quell",
        preparations=(preparation,),
        question=asks,
        remark=remark,
    )
    sample = Sample(code="S1", animal=animal.code, collected_at=datetime(2026, 4, 20, 8), remark=remark)
    names = Names(animal)
    found = vet_items(numbered_items([exam]), [exam], names)
    numbers = {one.item.key: one for one in found}
    shown = []
    for number, reading in enumerate(readings, start=1):
        lines = tuple(
            MarkLine(
                number=numbers[m.code].item.number,
                mark=m,
                words=numbers[m.code].words,
                group=numbers[m.code].group,
            )
            for m in reading.marks
        )
        block = PictureBlock(
            title=f"E1-1, field {number}, 10×",
            picture=folder / f"{number}.jpg",
            width_px=width,
            height_px=height,
            um_per_px=um_per_px,
            marks=lines,
            caption=remark,
        )
        shown.append(
            VetPicture(block=block, reading=reading.code, exam="E1", source=folder / f"{number}.jpg")
        )
    told = ExamPage(
        stamp=STAMP,
        animal=animal,
        sample=sample,
        exam=exam,
        preparations=(PreparationBlock(preparation=preparation, method="simple flotation"),),
        notes=(remark,) if remark else (),
    )
    return PageToVet(
        stamp=STAMP,
        page_id="7K2M-Q9XA",
        page_hash="3c" * 32,
        subject="E1",
        animal=animal,
        asks=asks,
        from_whom="Mara Quell",
        to_whom="Dr Ilse Varnholt",
        weights=(Weighing(animal=animal.code, weighed_at=datetime(2026, 4, 20, 8), mass_g=318),),
        items=tuple(with_crops(found, shown)),
        pictures=tuple(shown),
        exams=(
            VetExam(
                page=told,
                grades=(
                    GradeChoice(
                        exam="E1",
                        target="oxyurid",
                        result="positive",
                        scale="eggs per 10× field",
                        words=("none seen", "few", "many"),
                    ),
                    GradeChoice(exam="E1", target="strongylid", result="positive"),
                    GradeChoice(exam="E1", target="coccidian", result="negative"),
                    GradeChoice(exam="E1", target="ascarid", result="unsure"),
                    GradeChoice(exam="E1", target="flagellate", result="inconclusive"),
                ),
            ),
        ),
        organisms=names.choices(),
    )


def jpeg_size(jpeg: bytes) -> tuple[int, int]:
    """Return width and height of a JPEG."""
    with Image.open(io.BytesIO(jpeg)) as image:
        return image.size
