"""A filled microscope sheet at the keys: half page by half page, in the order of the paper."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from fecallab.cli.ask import pick
from fecallab.cli.ask.conversation import Conversation, Step
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.known import Known
from fecallab.cli.ask.moments import read_moments, say_moment
from fecallab.cli.ask.question import (
    Answer,
    Question,
    Script,
    amount,
    choice,
    is_unknown,
    moment,
    not_known,
    words,
    yes_no,
)
from fecallab.cli.ask.talk import Talk
from fecallab.cli.common import now
from fecallab.cli.sheet_ask_grid import (
    SEEN,
    grid_questions,
    number_questions,
    preparation_questions,
    seen_from,
    ticked_signs,
)
from fecallab.cli.sheet_table import Line
from fecallab.domain.exam import METHODS, method_words
from fecallab.domain.sample import FORMS, KEPT

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.report.sheet_model import BenchBlock

TITLE = "A filled microscope sheet"


def type_in_by_questions(records: str | None, by: str, talk: Talk | None = None) -> None:
    """Ask for half pages, record each after it was read back, until there is none more."""
    person = talk or Talk()
    person.say(f"{TITLE}. ? explains, < goes back one question, q stops. An empty box was not read.")
    while True:
        known = Known(records)
        try:
            desk = Desk(person, known, {}, frozenset(), now())
            conversation = Conversation(person, partial(half_page, desk), {})
            _one(conversation, known, person, records, by)
        finally:
            known.close()
        if person.line("Another half page? y, n", " [Enter = n]").strip().lower() not in ("y", "yes"):
            return


def _one(conversation: Conversation, known: Known, talk: Talk, records: str | None, by: str) -> None:
    from fecallab.cli.batch_record import BatchFaults
    from fecallab.cli.batch_sheet import Sheet
    from fecallab.cli.batch_tables import table_of
    from fecallab.cli.batch_typed import Ways
    from fecallab.cli.sheet_in import take_in

    while True:
        steps, notes = conversation.ask_all()
        again = "fecallab sheet type-in FILE.csv"
        if not conversation.read_back("To be recorded: one half page", steps, notes, again):
            continue
        known.close()
        sheet = Sheet("what was typed", table_of("samples"))
        try:
            _, text = take_in(sheet, lines_of(steps), Ways(), by, records)
        except BatchFaults as faults:
            for fault in faults.faults:
                talk.say(f"Not recorded: {fault.reason}")
            continue
        talk.say(text)
        return


def lines_of(steps: Sequence[Step]) -> list[Line]:
    """Return what was answered as the lines of the table: a line per organism in the fields and in each sweep."""
    cells: dict[str, str] = {}
    rows: list[Line] = []
    for step in steps:
        values = {key: str(value) for key, value in step.answer.values.items() if value not in (None, False)}
        if SEEN not in values:
            cells |= values
            continue
        for one in seen_from(values.pop(SEEN)):
            counted = dict(enumerate(map(str, one.counts), start=1)) if one.fields else {}
            count = {} if one.fields else {"count": str(one.counts[0])}
            named = {"organism": one.name, "sure": "yes" if one.sure else "no"}
            rows.append(Line(len(rows) + 1, 0, {**values, **named, **count}, counted))
    first = rows[0] if rows else Line(1, 0, {})
    return [Line(1, 0, cells | first.cells, first.grid), *rows[1:]]


def half_page(desk: Desk) -> Script:
    """Ask for one half page in the order of the paper."""
    owner = yield pick.animal(desk)
    animal = desk.known.animal(owner.only)
    sample = yield _sample(desk)
    method = yield _method(_block(desk, animal))
    block = _block(desk, animal, method.only)
    if not sample.only:
        yield from _stool(desk)
    yield Question(
        "read_at", "read", "Read when? 8:50, yesterday 19:00", moment("read_at", desk.now), (), "now"
    )
    yield from preparation_questions(method.only)
    yield from grid_questions(method.only, block)
    yield from number_questions(method.only)
    yield Question("remark", "remark", "The remark line?", words("preparation_remark", empty="none"), (), "-")
    yield ticked_signs(animal)
    yield Question("by", "initials", "Initials or name?", words("by", empty="you"), (), "-", "you")
    return ()


def _block(desk: Desk, animal: Animal, method: str = "") -> BenchBlock:
    from fecallab.report.sheet_build import bench_sheet

    methods = [method] if method else []
    return bench_sheet(desk.known.store, desk.now.date(), [animal.code], methods=methods).blocks[0]


def _sample(desk: Desk) -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        from fecallab.records.folder import read_marker
        from fecallab.report.labels import code_from_label

        if is_unknown(typed):
            return Answer("not recorded yet", {"sample": None}, "-")
        collection = read_marker(desk.known.store.folder).collection
        code = desk.known.store.sample(code_from_label(typed, collection)).code
        return Answer(code, {"sample": code}, code)

    return Question(
        key="sample",
        label="sample",
        text="Sample code in the box, typed or scanned? Enter when it is not recorded yet",
        read=read,
        default="-",
        default_said="not recorded yet",
        why="A sample that is recorded keeps what it says; a new one is made from the next answers.",
    )


def _method(block: BenchBlock) -> Question:
    keys = [method for method in METHODS if method != "from_elsewhere"]
    names = tuple(method_words(key) for key in keys)

    def read(typed: str, talk: Talk) -> Answer:
        if typed.strip() in keys:
            return Answer(method_words(typed.strip()), {"method": typed.strip()}, typed)
        found = choice("method", names)(typed, talk)
        return Answer(found.said, {"method": keys[names.index(found.only)]}, found.said)

    return Question(
        key="method",
        label="method",
        text="Which preparation stands under the name?",
        read=read,
        default=block.method_words,
        choices=names,
    )


def _stool(desk: Desk) -> Script:
    def passed(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return not_known("passed_from", "passed_to")
        first, last = read_moments(typed, talk, desk.now)
        values = {"passed_from": f"{first:%Y-%m-%d %H:%M}", "passed_to": f"{last:%Y-%m-%d %H:%M}"}
        return Answer(
            f"between {say_moment(first, desk.now)} and {say_moment(last, desk.now)}", values, typed
        )

    text = "Passed between? 2026-03-04 6:00 to 8:00, 19:00 to 7:30"
    yield Question("passed", "passed", text, passed, (), "-", "not known")
    yield Question("form", "form", "Form:", choice("form", FORMS, optional=True), (), "-", "not known", FORMS)
    grams = amount("mass_g", "g", low=0.001, high=10_000)
    yield Question("mass", "mass", "Mass in g?", grams, (), "-", "not known")
    yield Question("kept", "kept", "Kept:", choice("kept", KEPT, optional=True), (), "-", "not known", KEPT)
    whole = yes_no("whole_stool", yes="yes", no=None)
    yield Question("whole", "whole stool", "Whole stool used? y, n", whole, (), "n", "no")
    return ()
