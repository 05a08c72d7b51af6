"""Records that a program could hold, drawn at random: animals with samples, exams, results and treatments."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from hypothesis import strategies as st

from fecallab.domain.animal import KINDS, Animal, Weighing
from fecallab.domain.case import Case
from fecallab.domain.exam import METHODS, ElsewhereResult, Exam, Preparation, Reading
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import FORMS, KEPT, ORIGINS, Sample

NOW = datetime(2025, 6, 1, 12)
HOSTILE = [
    "=1+1",
    "+49 30",
    "-",
    "@SUM(A1)",
    "'=x",
    "'",
    "n/a",
    "#REF!",
    "a;b,c|d",
    "5\" 'x",
    " padded ",
    "GrÃ¶ÃŸe",
    "12.5",
]


def line_of_text() -> st.SearchStrategy[str]:
    letters = st.characters(exclude_categories=["Cs", "Cc"])
    return st.one_of(st.just(""), st.sampled_from(HOSTILE), st.text(letters, max_size=12))


def remarks() -> st.SearchStrategy[str]:
    letters = st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t\r")
    return st.one_of(line_of_text(), st.text(letters, max_size=20))


def seconds(first: datetime, last: datetime) -> st.SearchStrategy[datetime]:
    return st.datetimes(first, last).map(lambda moment: moment.replace(microsecond=0))


def numbers(low: float, high: float) -> st.SearchStrategy[float | None]:
    return (
        st.none()
        | st.sampled_from([1.234, 123.456, 12.0]).filter(lambda x: low <= x <= high)
        | st.floats(low, high)
    )


maybe = st.sampled_from([None, True, False])
counts = st.dictionaries(
    st.sampled_from(["oxyurid", "flagellate", "thelandros_egg", "pollen", "capillarid/trichurid"]).map(
        lambda name: "artefact" if name == "pollen" else "capillarid/trichurid" if "/" in name else name
    ),
    st.integers(0, 5000),
    max_size=3,
)


@st.composite
def readings(draw: Any) -> Reading:
    kind = draw(st.sampled_from(["field", "sweep", "chamber"]))
    return Reading(
        kind=kind,
        objective=draw(st.sampled_from([4.0, 10.0, 40.0])),
        field_number=draw(numbers(4, 40)),
        cover_share=draw(st.floats(0, 1)) if kind == "sweep" else None,
        um_per_px=draw(numbers(0.001, 1000)),
        counts=draw(counts),
        unsure=draw(counts),
        remark=draw(remarks()),
    )


@st.composite
def preparations(draw: Any, after: datetime) -> Preparation:
    volume = draw(st.floats(0.1, 100))
    return Preparation(
        method=draw(st.sampled_from(METHODS)),
        read_at=draw(st.none() | seconds(after, after + timedelta(days=9))),
        cover_glass=draw(st.sampled_from(["22x22", "18x18"])),
        room_c=draw(numbers(-20, 60)),
        slide_warmed=draw(maybe),
        solution=draw(line_of_text()),
        specific_gravity=draw(numbers(0.9, 2)),
        gravity_checked=draw(maybe),
        standing_minutes=draw(numbers(0, 1000)),
        sample_g=draw(numbers(0.001, 1000)),
        suspension_ml=draw(st.none() | st.just(volume)),
        counted_ml=draw(st.none() | st.floats(0.001, volume)),
        readings=tuple(draw(st.lists(readings(), max_size=3))),
        remark=draw(remarks()),
    )


@st.composite
def stories(draw: Any) -> list[Any]:
    """Everything that the tables hold, in the order in which it is recorded; references by their codes."""
    words, story = line_of_text(), []
    names = draw(
        st.lists(
            words.filter(lambda name: any(c.isprintable() and not c.isspace() for c in name)),
            min_size=1,
            max_size=3,
        )
    )
    owners = [f"{name} {chr(97 + place)}{chr(97 + place)}" for place, name in enumerate(names)]
    for name in owners:
        kind = draw(st.sampled_from(KINDS))
        story.append(
            Animal(
                name=draw(st.sampled_from([name, name + " "])),
                kind=kind,
                number_of_animals=1 if kind == "animal" else draw(st.integers(1, 99)),
                species=draw(st.sampled_from(["", "Pogona vitticeps", "Testudo hermanni"]) | words),
                host_group=draw(st.sampled_from(["lizard", "tortoise", "other"])),
                plant_eater=draw(st.booleans()),
                adult=draw(maybe),
                enclosure=draw(words),
                arrived_on=draw(st.none() | st.dates(date(1990, 1, 1), date(2025, 5, 1))),
                remark=draw(remarks()),
            )
        )
    codes = [f"A{n}" for n in range(1, len(owners) + 1)]
    for _ in range(draw(st.integers(0, 3))):
        story.append(
            Weighing(
                animal=draw(st.sampled_from(codes)),
                weighed_at=draw(seconds(datetime(1990, 1, 1), NOW)),
                mass_g=draw(st.sampled_from([1.234, 999.999]) | st.floats(0.05, 1e6)),
                scale_step_g=draw(numbers(0.001, 1000)),
                state=draw(words),
                remark=draw(remarks()),
                as_told=draw(st.booleans()),
            )
        )
    samples: list[Sample] = []
    for _ in range(draw(st.integers(0, 3))):
        first = draw(st.none() | seconds(datetime(2025, 1, 1), datetime(2025, 2, 1)))
        last = first and draw(seconds(first, first + timedelta(days=2)))
        owner = draw(st.sampled_from(codes))
        same = [f"S{n}" for n, one in enumerate(samples, 1) if one.animal == owner and not one.same_stool_as]
        samples.append(
            Sample(
                animal=owner,
                origin=draw(st.sampled_from(ORIGINS)),
                passed_from=first,
                passed_to=last,
                collected_at=draw(seconds(last or datetime(2025, 1, 1), datetime(2025, 3, 1))),
                form=draw(st.sampled_from([None, *FORMS])),
                kept=draw(st.sampled_from([None, *KEPT])),
                mass_g=draw(numbers(0.001, 10_000)),
                whole_stool_used=draw(st.booleans()),
                same_stool_as=draw(st.sampled_from(["", *same])),
                remark=draw(remarks()),
                as_told=draw(st.booleans()),
            )
        )
    story += samples
    for code, sample in enumerate(samples, 1):
        for _ in range(draw(st.integers(0, 2))):
            parts = draw(st.lists(preparations(after=sample.collected_at), max_size=2))
            story.append(
                Exam(
                    sample=f"S{code}",
                    examined_at=draw(st.sampled_from([p.read_at for p in parts if p.read_at] or [NOW])),
                    by=draw(words) if parts else "a laboratory",
                    preparations=tuple(parts),
                    elsewhere=tuple(draw(st.lists(results(sample), min_size=not parts, max_size=2))),
                    question=draw(remarks()) if parts else "",
                    remark=draw(remarks()) if parts else "",
                    as_told=draw(st.booleans()),
                    stated_adequate=draw(maybe) if parts else None,
                )
            )
    story += draw(treatments(codes[0]))
    return story


@st.composite
def results(draw: Any, sample: Sample) -> ElsewhereResult:
    who = line_of_text().filter(lambda text: text.strip() != "")
    return ElsewhereResult(
        target=draw(st.sampled_from(["oxyurid", "cryptosporidium"])),
        stage=draw(st.sampled_from(["", "egg", "oocyst"])),
        who=draw(who),
        method=draw(who),
        reported_on=draw(st.dates(sample.collected_at.date(), date(2025, 5, 1))),
        result=draw(st.sampled_from(["positive", "negative", "inconclusive"])),
        stated_adequate=draw(maybe),
        grade=draw(line_of_text()),
        remark=draw(remarks()),
    )


@st.composite
def treatments(draw: Any, owner: str) -> list[Any]:
    """A case with plans and doses, and nothing where no case is drawn."""
    if not draw(st.booleans()):
        return []
    words, story = line_of_text(), []
    story.append(Case(animal=owner, target="oxyurid", stages=("egg",), opened_on=date(2025, 2, 1)))
    for number in range(1, draw(st.integers(1, 2)) + 1):
        drug = draw(st.booleans())
        numbered = draw(st.booleans())
        story.append(
            Plan(
                case="C1",
                vet=draw(words.filter(lambda text: text.strip() != "")),
                written_on=date(2025, 2, number),
                goal=draw(st.sampled_from(["clear", "low burden"])),
                drug="fenbendazole" if drug else "",
                component=draw(words),
                dose_mg_per_kg="12.345" if drug else "",
                concentration_mg_per_ml="100" if drug else "",
                route=draw(words) or "by mouth" if drug else "",
                interval_days=draw(st.floats(0.5, 30)) if drug else None,
                doses_planned=draw(st.integers(1, 5)) if drug else 0,
                weight_max_age_days=draw(numbers(0, 365)),
                negatives_needed=draw(st.integers(1, 5)) if numbered else None,
                spacing_days=draw(st.integers(0, 60)) if numbered else None,
                wait_after_last_dose_days=draw(st.integers(0, 60)) if numbered else None,
                fluids=draw(remarks()),
                feeding=draw(remarks()),
                warm_end_at_least_c=draw(st.none() | st.floats(30, 60)),
                night_at_least_c=draw(st.none() | st.floats(-5, 25)),
                repeats_allowed=draw(st.none() | st.integers(0, 3)),
                bottle_ml=draw(numbers(0.1, 10_000)),
                as_told=draw(st.booleans()),
                remark=draw(remarks()),
            )
        )
        for hour in draw(st.lists(st.integers(0, 500), unique=True, max_size=2)) if drug else ():
            story.append(
                DoseGiven(
                    plan=f"P{number}",
                    given_at=datetime(2025, 2, 3) + timedelta(hours=hour),
                    outcome=draw(st.sampled_from(["given", "missed", "spat"])),
                    volume_ml=draw(st.sampled_from(["", "0.16", "1.234"])),
                    weight_g=draw(numbers(0.05, 1e6)),
                    by=draw(words),
                    lot=draw(words),
                    delivered_mg_per_kg=draw(st.sampled_from(["", "50.47"])),
                    syringe_ml=draw(st.sampled_from([None, 0.3, 1.0])),
                    as_told=draw(st.booleans()),
                    remark=draw(remarks()),
                )
            )
    return story
