"""Every word that a person meets stands in docs/names.md, and the glossary leads to pages that use its terms."""

import re
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

from fecallab.domain import (
    animal,
    care_plan,
    case,
    control,
    exam,
    followup,
    housing,
    identify,
    keeper_and_vet,
    organism,
    plan,
    quarantine,
    sample,
    vet_words,
)

from .cli.every_command import commands

RECORDED_BY = {
    "sample add": (sample.Sample,),
    "exam add": (exam.Preparation, exam.Reading, exam.Exam),
    "exam prepare": (exam.Preparation, exam.Reading),
    "exam elsewhere": (exam.ElsewhereResult, sample.Sample),
    "plan add": (plan.Plan,),
    "dose give": (plan.DoseGiven,),
    "animal add": (animal.Animal, animal.Weighing),
    "animal weigh": (animal.Weighing,),
    "animal event": (animal.AnimalEvent,),
    "control add": (control.ControlRun,),
    "arrivals add": (housing.Arrival, housing.ArrivalProtocol),
    "arrivals protocol": (housing.ArrivalProtocol,),
    "enclosure add": (housing.Enclosure, housing.Sharing),
    "case open": (case.Case,),
    "case close": (case.Closing,),
}
"""What each of these commands records."""

FILL_SEVERAL = {
    *(
        "--by",
        "--records",
        "--json",
        "--yes",
        "--vet",
        "--from",
        "--to",
        "--file",
        "--as-told",
        "--sign",
        "--weight-g",
    ),
    *("--of", "--seen", "--unsure-seen"),  # counts by organism
    *("--preparation", "--blocks", "--room"),  # one of many; everybody in a room
    *("--water", "--tools", "--round"),  # what is shared, each a row
    *("--empty-g", "--water-g", "--fluid-g"),  # a gravity by weighing
    *("--confirm", "--confirmed", "--override", "--override-by", "--override-role", "--already-given"),
    *("--finding", "--hydration", "--warm-end-c", "--night-c", "--feed-ml", "--fluid-ml"),
    *("--hours-since-meal", "--bottle-expires", "--bottle-discard", "--graduation-ml"),  # the day of a dose
}
"""Options that are no single field: who and where, answers that fill several, what is asked and not kept."""

ROOT = Path(__file__).parent.parent
needs_clone = pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="the pages are in the clone only")

CLOSED = {
    "standings": followup.STANDINGS,
    "results": followup.RESULTS,
    "goals": plan.GOALS,
    "outcomes of a dose": plan.OUTCOMES,
    "ways through a tube": plan.TUBE_WAYS,
    "endings": case.ENDINGS,
    "answers about arrivals": (*quarantine.ANSWERS, quarantine.NO_LONGER_SUPPORTED),
    "methods": exam.METHODS,
    "readings": exam.READING_KINDS,
    "stages": organism.STAGES,
    "groups": organism.EYE_GROUPS,
    "origins": sample.ORIGINS,
    "forms": sample.FORMS,
    "ways of keeping": sample.KEPT,
    "size words": identify.VERDICTS,
    "a vet's words on a mark": vet_words.MARK_WORDS,
    "a vet's words on an exam": (*vet_words.ADEQUACY_WORDS, *vet_words.QUALITY_WORDS),
    "a vet's words on a plan": vet_words.PLAN_WORDS,
    "signatures": vet_words.SIGNED,
    "agreement": (keeper_and_vet.TOO_FEW, keeper_and_vet.RELIABLE, keeper_and_vet.SEND_MORE),
    "lines of care": care_plan.STATES,
    "control runs": control.CONTROL_KINDS,
    "events": animal.EVENT_KINDS,
    "origins of arrivals": housing.ORIGINS_OF_ARRIVALS,
    "changes of number": housing.CHANGE_KINDS,
    "who begins anew": housing.WHO_RESTARTS,
    "shared things": housing.SHARED_THINGS,
}


def _named() -> set[str]:
    """Return every term that stands between backticks in the first column of docs/names.md."""
    page = (ROOT / "docs" / "names.md").read_text(encoding="utf-8")
    firsts = (line.split("|")[1] for line in page.splitlines() if line.startswith("| "))
    return {term for first in firsts for term in re.findall(r"`([^`]+)`", first)}


@needs_clone
def test_every_command_and_every_noun_is_named_with_a_reason():
    named = _named()
    words = [path for path, _ in commands()]
    assert len(words) > 100
    nouns = {path.split()[0] for path in words}
    assert sorted({*words, *nouns} - named) == []


@needs_clone
def test_no_command_is_named_that_does_not_exist():
    words = [path for path, _ in commands()]
    known = {" ".join(path.split()[:count]) for path in words for count in (1, 2, 3)}
    nouns = {path.split()[0] for path in words}
    spoken = {term for term in _named() if " " in term and term.split()[0] in nouns}
    assert spoken
    closed = {word for words in CLOSED.values() for word in words}
    assert sorted(spoken - known - closed) == []


@needs_clone
@pytest.mark.parametrize("what", CLOSED)
def test_every_closed_word_is_named(what):
    words = {word for word in CLOSED[what] if word}
    assert words
    assert sorted(words - _named()) == []


@needs_clone
def test_every_state_of_a_field_is_named():
    views = pytest.importorskip("napari_fecallab.views")
    assert sorted(set(views.FIELD_STATES) - _named()) == []


@needs_clone
def test_every_row_says_why_and_where():
    page = (ROOT / "docs" / "names.md").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| ") and not line.startswith("| ---")]
    assert len(rows) > 60
    for row in rows:
        cells = [cell.strip() for cell in row.strip().strip("|").split("|")]
        assert len(cells) == 3 and all(cells), row


@needs_clone
def test_every_file_that_a_row_names_is_there():
    page = (ROOT / "docs" / "names.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:fecallab|plugins)/[^`]+)`", page)
    assert len(named) > 40
    assert [path for path in named if not (ROOT / path).exists()] == []


@needs_clone
def test_every_glossary_term_has_one_sentence_and_a_page():
    page = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if line.startswith("| ")][2:]
    assert len(rows) > 45
    terms = []
    for row in rows:
        term, meaning, more = (cell.strip() for cell in row.strip("|").split("|"))
        (target,) = re.findall(r"\]\(([a-z-]+\.md)\)", more)
        assert meaning.endswith((".", "…")) and (ROOT / "docs" / target).exists(), row
        text = re.sub("[-_]", " ", (ROOT / "docs" / target).read_text(encoding="utf-8").lower())
        used = [max(part.split(), key=len) for part in re.sub("[-_]", " ", term.lower()).split(",")]
        assert any(word in text for word in used), f"{term} is not used in {target}"
        terms.append(term.lower())
    assert terms == sorted(terms) and len(set(terms)) == len(terms)
    assert {"standing", "mark", "reading", "target", "verdict", "case", "plan"} <= set(terms)


def _words_of(option: str) -> set[str]:
    return set(option.removeprefix("--").split("-"))


def _is_short_for(option: str, names: set[str]) -> bool:
    return any(_words_of(option) <= set(name.split("_")) for name in names)


@pytest.mark.parametrize("name", RECORDED_BY)
def test_an_option_has_the_words_of_the_field_that_it_fills(name):
    known = {field.name for kind in RECORDED_BY[name] for field in fields(kind)}
    options = [word for one in dict(commands())[name].params for word in one.opts if word.startswith("--")]
    assert len(options) > 4
    assert [word for word in options if word not in FILL_SEVERAL and not _is_short_for(word, known)] == []


@needs_clone
def test_every_pair_of_a_name_and_an_option_is_there():
    page = (ROOT / "docs" / "names.md").read_text(encoding="utf-8")
    table = page.partition("## One thing, one name")[2].partition("\n## ")[0]
    rows = [line.split("|")[2] for line in table.splitlines() if line.startswith("| ")][2:]
    assert len(rows) > 20
    modules = (animal, case, control, exam, housing, plan, sample)
    kinds = [kind for module in modules for kind in vars(module).values() if is_dataclass(kind)]
    known = {field.name for kind in kinds for field in fields(kind)} | {"recorded_by"}
    options = {word for _, node in commands() for one in node.params for word in one.opts}
    for row in rows:
        terms = set(re.findall(r"`([^`]+)`", row))
        typed = {term for term in terms if term.startswith("--")}
        assert typed <= options and terms - typed <= known, row
        assert typed and all(_is_short_for(option, terms - typed) for option in typed), row
