"""What a tally needs before its first key: what is counted, through what, and which organisms get a key."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.cli.common import now, number_or_none, read_time
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import method_words
from fecallab.domain.spoken import say_time
from fecallab.domain.tally import KEYS_IN_A_ROW

if TYPE_CHECKING:
    from fecallab.cli.tally_draft import Draft
    from fecallab.domain.animal import Animal
    from fecallab.domain.exam import Exam, Preparation
    from fecallab.records.reader import Reader

USUAL_OBJECTIVES = "4, 10, 20, 40 or 100"


@dataclass(frozen=True)
class Asked:
    """What was typed behind ``exam tally``."""

    of: str | None
    objective: str | None
    field_number: str | None
    question: str
    remark: str
    by: str
    options: Mapping[str, Any]


def choose_draft(folder: Path, of: str | None, *, resume: bool, agreed: bool = False) -> Draft | None:
    """Return the unfinished tally to go on with, or None to begin one.

    Parameters
    ----------
    agreed : bool
        Whether the person chose an unfinished one from a list already.

    Raises
    ------
    BadInput
        When ``--resume`` finds none, or nothing was named.
    """
    from fecallab.cli.tally_draft import drafts_in

    code = (of or "").strip().upper()
    waiting = drafts_in(folder)
    fitting = [draft for draft in waiting if not code or str(draft.head["of"]) == code]
    if resume:
        if not fitting:
            said = f"of {code} " if code else ""
            text = f"No tally {said}waits to be finished."
            raise BadInput(text, next="Type: fecallab exam tally E1-1  or S1", code="no-tally")
        if len(fitting) == 1:
            return fitting[0]
        number = choose("Which tally?", [draft.says for draft in fitting])
        return fitting[number]
    if not code:
        text = "Nothing was named that is to be counted."
        step = "Type: fecallab exam tally E1-1  (a preparation), or S1  (a sample, for a new exam)"
        if waiting:
            step += f"; {len(waiting)} unfinished: fecallab exam tally --resume"
        raise BadInput(text, next=step, code="preparation-missing")
    if fitting and not agreed:
        answer = ask_line(f"Unfinished: {fitting[-1].says}. Go on with it? (Enter yes, n begin another):")
        if answer.lower() not in ("n", "no"):
            return fitting[-1]
    return fitting[-1] if fitting and agreed else None


def offered(store: Reader, folder: Path) -> str:
    """Let the person choose what is counted: unfinished tallies first, then what was not read yet.

    Returns
    -------
    str
        The code of a preparation or a sample; empty when there is nothing to choose from.
    """
    from fecallab.cli.tally_draft import drafts_in
    from fecallab.records.recent import last_exams, last_samples

    found: dict[str, str] = {str(draft.head["of"]): f"unfinished {draft.says}" for draft in drafts_in(folder)}
    for exam in last_exams(store):
        for preparation in store.exam(exam.code).preparations:
            if not preparation.readings:
                owner = store.animal(store.sample(exam.sample).animal).name
                method = method_words(preparation.method)
                found.setdefault(preparation.code, f"{preparation.code} {owner}, {method}, not read yet")
    for sample, examined in last_samples(store):
        if not examined:
            owner = store.animal(sample.animal).name
            when = say_time(sample.collected_at)
            found.setdefault(sample.code, f"{sample.code} {owner}, {sample.origin} of {when}, no exam yet")
    codes = list(found)[:KEYS_IN_A_ROW]
    return codes[choose("What is counted?", [found[code] for code in codes])] if codes else ""


def begin_head(store: Reader, folder: Path, asked: Asked) -> dict[str, Any]:
    """Ask what is not known yet, and return the first line of the journal."""
    from fecallab.cli.exam import check_time
    from fecallab.cli.exam_input import CHAMBER_METHODS, preparation_from
    from fecallab.cli.tally_draft import remember_eyepiece, remembered_eyepiece
    from fecallab.records.clean import clean_text

    for name, text in (("question", asked.question), ("remark", asked.remark)):
        clean_text(text, name, lines=True)
    for name, text in (("name of the person", asked.by), ("solution", asked.options["solution"])):
        clean_text(text, name)
    code = (asked.of or "").strip().upper()
    given = {key: value for key, value in asked.options.items() if value not in (None, "")}
    options: dict[str, Any] = {}
    if code.startswith("S"):
        sample = store.sample(code)
        options = {**asked.options, "method": asked.options["method"] or _ask_method()}
        read_at = read_time(options["read_at"], "--read-at")
        options["read_at"] = f"{read_at:%Y-%m-%d %H:%M:%S}"
        preparation = preparation_from(options)
        check_time(sample, preparation.read_at)
        code = sample.code
    else:
        unfitting = [name for name in given if (name, given[name]) != ("cover_glass", "22x22")]
        if unfitting:
            option = f"--{unfitting[0].replace('_', '-')}"
            text = f"{option} describes a new preparation, and {code} is recorded already."
            raise BadInput(text, next="Leave it out, or name a sample (S1).", code="preparation-there")
        exam, preparation = find_preparation(store, code)
        sample = store.sample(exam.sample)
        code = preparation.code
    animal = store.animal(sample.animal)
    chamber = preparation.method in CHAMBER_METHODS
    power = _power(asked.objective, preparation.method)
    number = number_or_none(asked.field_number, "--field-number", low=4, high=40)
    if number is None and not chamber:
        known = [r.field_number for r in preparation.readings if r.field_number]
        number = known[-1] if known else remembered_eyepiece(folder) or _ask_eyepiece()
    if number is not None:
        remember_eyepiece(folder, number)
    open_targets = [case.target for case in store.cases(animal.code, open_only=True)]
    first, second = keys_for(animal, preparation.method, power, open_targets)
    return {
        "of": code,
        "animal": animal.name,
        "began": now().isoformat(),
        "by": asked.by,
        "options": options,
        "question": asked.question,
        "remark": asked.remark,
        "objective": power,
        "field_number": number,
        "chamber": chamber,
        "first": list(first),
        "second": list(second),
    }


def find_preparation(store: Reader, code: str) -> tuple[Exam, Preparation]:
    """Return a preparation and its exam; the code of an exam will do when it has one preparation.

    Raises
    ------
    BadInput
        When there is none; it says which there are.
    """
    exam = store.exam(code.partition("-")[0])
    found = [p for p in exam.preparations if code in (p.code, exam.code)]
    if len(found) != 1:
        codes = ", ".join(p.code for p in exam.preparations) or "none"
        text = f"There is no preparation {code}; exam {exam.code} has: {codes}."
        raise BadInput(text, next="Type one of these.", code="unknown-preparation")
    return exam, found[0]


def keys_for(
    animal: Animal, method: str, power: float | None, open_targets: Sequence[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the organisms for the two rows of number keys."""
    from fecallab.domain.likely import likely_organisms
    from fecallab.reference.adequacy import adequacy_routes
    from fecallab.reference.methods import methods
    from fecallab.reference.organisms import organisms_in_host

    likely = likely_organisms(
        organisms_in_host(host_of(animal)),
        {key: item.exam_methods for key, item in methods().items()},
        adequacy_routes(),
        method=method,
        objective=power,
        plant_eater=animal.plant_eater,
        open_targets=open_targets,
    )
    return likely.first, likely.second


def host_of(animal: Animal) -> str:
    """Return the narrowest host group that an animal's species tells, else the one it was given.

    Examples
    --------
    >>> from fecallab.domain.animal import Animal
    >>> host_of(Animal(name="Saffron", species="Pogona vitticeps", host_group="lizard"))
    'bearded_dragon'
    >>> host_of(Animal(name="Quill", host_group="other"))
    'reptile'
    """
    from fecallab.reference.hosts import host, lineage
    from fecallab.reference.taxa import resolve_taxon

    taxon = resolve_taxon(animal.species) if animal.species else None
    words = [animal.species]
    if taxon is not None:
        words += [taxon.name, taxon.genus, taxon.family.removesuffix("ae"), taxon.host_group]
    for word in words:
        try:
            key = host(word).key
        except BadInput:
            continue
        if animal.host_group in (*lineage(key), "other"):
            return key
    return "reptile" if animal.host_group == "other" else animal.host_group


def _power(typed: str | None, method: str) -> float | None:
    """Return the objective as typed, else as answered; the table's own objective is the default."""
    from fecallab.reference.adequacy import adequacy_routes

    wanted = [
        condition.at_least
        for route in adequacy_routes()
        if method in route.methods
        for condition in route.conditions
        if condition.quantity == "objective" and condition.at_least
    ]
    usual = min(wanted, default=10.0) if "smear" not in method else max(wanted, default=40.0)
    text = typed or ask_line(f"Objective, {USUAL_OBJECTIVES} (Enter: {usual:g}):") or f"{usual:g}"
    return number_or_none(text.rstrip("xX×"), "the objective", low=0.25, high=250)


def _ask_eyepiece() -> float | None:
    text = ask_line("Number on the eyepiece, mm (10x/20 is 20; Enter: not known):")
    return number_or_none(text.rpartition("/")[2] or None, "the field number", low=4, high=40)


def _ask_method() -> str:
    from fecallab.domain.exam import METHODS

    methods = [method for method in METHODS if method != "from_elsewhere"]
    return methods[choose("How was it made?", [method_words(method) for method in methods])]


def choose(question: str, answers: Sequence[str]) -> int:
    """Ask for one of these by number and return its place."""
    from fecallab.cli.output import say

    say(question)
    for number, answer in enumerate(answers, start=1):
        say(f"  {number:>2}  {answer}")
    while True:
        typed = ask_line(f"Number, 1 to {len(answers)} (Enter: 1):") or "1"
        if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(answers):
            return int(typed) - 1


def ask_line(question: str) -> str:
    """Ask for one line; where nobody can answer, say which option was missing."""
    sys.stderr.write(f"{question} ")
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line:
        text = f"Nobody answered: {question}"
        raise BadInput(text, next="Give it as an option: fecallab exam tally --help", code="answer-missing")
    return line.strip()
