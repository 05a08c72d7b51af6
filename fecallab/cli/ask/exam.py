"""Questions about an exam, in the order of the work: the sample, the preparation, how it was read, what was seen."""

from __future__ import annotations

from collections.abc import Sequence

from fecallab.cli.ask import pick
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.exam_seen import read_by_fields, read_whole
from fecallab.cli.ask.exam_table import WHEN_READ, conditions_for, question_for
from fecallab.cli.ask.question import Answer, Question, Script, choice, chosen, moment, words
from fecallab.cli.ask.talk import Talk
from fecallab.cli.method_names import methods_called
from fecallab.domain.adequacy import Condition
from fecallab.domain.animal import Animal
from fecallab.domain.case import Case
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import METHODS, method_words
from fecallab.domain.sample import Sample

READING_GIVEN = frozenset({"counts", "of", "unsure", "share", "seen", "unsure_seen", "picture", "marks"})
"""When one of these came with the command, the reading is not asked."""

SWEPT, BY_FIELDS, LATER = "swept: the whole cover glass or a share of it", "field by field", "not read yet"


def add(desk: Desk) -> Script:
    """Ask for an exam with its first preparation."""
    chosen = yield pick.sample(desk)
    yield from _preparation(desk, desk.known.store.sample(chosen.only))
    yield Question(
        key="question",
        label="for the vet",
        text="What do you want to ask the vet?",
        read=words("question", empty="none"),
        fills=("question",),
        default="-",
        default_said="nothing",
        quiet=True,
    )
    yield _remark()
    return ()


def prepare(desk: Desk) -> Script:
    """Ask for one more preparation of an exam."""
    chosen = yield pick.exam(desk)
    yield from _preparation(desk, desk.known.store.sample(desk.known.store.exam(chosen.only).sample))
    yield _remark()
    return ()


def _preparation(desk: Desk, sample: Sample) -> Script:
    from fecallab.cli.exam_input import CHAMBER_METHODS

    animal = desk.known.animal(sample.animal)
    cases = desk.known.cases_of(animal.code)
    method = yield _method(desk)
    name = _key(method.only)
    conditions = conditions_for(name, cases)
    for condition in sorted(conditions, key=lambda one: one.quantity != "solution"):
        question = None if condition.quantity in WHEN_READ else question_for(condition, desk, sample)
        if question is not None:
            yield question
    if not READING_GIVEN & desk.given.keys():
        if name in CHAMBER_METHODS:
            yield from read_whole(name, animal, cases, None)
        else:
            yield from _reading(desk, name, conditions, animal, cases)
    yield Question(
        key="read_at",
        label="read",
        text="When was it read? For example now, 8:30, yesterday 19:00",
        read=moment("read_at", desk.now),
        fills=("read_at",),
        default="now",
        quiet=True,
    )
    yield _cover_glass()
    return ()


def _reading(
    desk: Desk, method: str, conditions: Sequence[Condition], animal: Animal, cases: Sequence[Case]
) -> Script:
    how = yield Question(
        key="how",
        label="how",
        text="How was it read?",
        read=_how,
        default=SWEPT,
        default_said="swept",
        choices=(SWEPT, BY_FIELDS, LATER),
        why="Swept: you looked over the whole cover glass, or a known share of it, and counted what was there. "
        "Field by field: you wrote a number for every field, zeros too. A few empty fields are no negative.",
    )
    if how.typed == LATER:
        return ()
    rows = {condition.quantity: condition for condition in conditions}
    objective = yield _row_or("objective", rows, desk)
    power = float(objective.only) if objective.only else None
    if how.typed == SWEPT:
        yield _row_or("cover_share", rows, desk)
        yield from read_whole(method, animal, cases, power)
    else:
        yield from read_by_fields(desk, method, animal, cases, power)
    return ()


def _row_or(quantity: str, rows: dict[str, Condition], desk: Desk) -> Question:
    """Return the table's question, or a plain one where the table asks nothing for this method."""
    condition = rows.get(quantity)
    plain = {
        "objective": "With which objective was it read?",
        "cover_share": "What share of the preparation was read?",
    }
    if condition is None:
        condition = Condition(
            "any",
            quantity,
            quantity,
            None,
            None,
            (),
            "",
            None,
            False,
            plain[quantity],
            "Note it down.",
            "",
            "",
        )
    question = question_for(condition, desk, None)
    assert question is not None
    return question


def _how(typed: str, talk: Talk) -> Answer:
    ways = (SWEPT, BY_FIELDS, LATER)
    place = chosen(typed, ways)
    if place is None:
        raise BadInput(f"{typed[:40]!r} is none of these.", next="Type 1, 2 or 3.")
    return Answer(ways[place], {}, ways[place])


def _method(desk: Desk) -> Question:
    names = tuple(method_words(method) for method in METHODS if method != "from_elsewhere")
    last = desk.known.last_preparation

    def read(typed: str, talk: Talk) -> Answer:
        called = methods_called(typed)
        if len(called) > 1:
            fitting = ", ".join(f"{names.index(method_words(one)) + 1} {method_words(one)}" for one in called)
            raise BadInput(f"{typed[:40]!r} can mean more than one.", next=f"Type the number: {fitting}")
        typed = method_words(called[0]) if called else typed
        word = method_words(typed.strip().lower().replace(" ", "_")) if "_" in typed else typed
        found = choice("method", names)(word, talk)
        return Answer(found.said, {"method": _key(found.only)}, found.said)

    return Question(
        key="method",
        label="method",
        text="Which method?",
        read=read,
        fills=("method",),
        default=method_words(last.method) if last is not None and last.method != "from_elsewhere" else None,
        choices=names,
        why="Motile stages: direct saline smear, at once. Eggs and oocysts: a flotation. Heavy eggs: sedimentation. "
        "Larvae: Baermann. More: fecallab reference show methods",
    )


def _key(name: str) -> str:
    """Return the method that is meant by its name, or by what came with the command."""
    if len(called := methods_called(name)) == 1:
        return called[0]
    plain = name.strip().lower().replace(" ", "_").replace("-", "_")
    return next((method for method in METHODS if method_words(method) == name), plain)


def _cover_glass() -> Question:
    from fecallab.domain.field import COVER_GLASS_SIDES_MM

    sizes = tuple(COVER_GLASS_SIDES_MM)
    return Question(
        key="cover_glass",
        label="cover glass",
        text="Cover glass in mm:",
        read=choice("cover_glass", sizes),
        fills=("cover_glass",),
        default="22x22",
        choices=sizes,
        quiet=True,
    )


def _remark() -> Question:
    return Question(
        key="remark",
        label="remark",
        text="A remark?",
        read=words("remark", empty="none"),
        fills=("remark",),
        default="-",
        quiet=True,
    )
