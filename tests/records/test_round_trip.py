"""Every fact comes back as it was recorded, on every database."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.plan import RuleWord
from fecallab.records import moving, rows
from fecallab.records.columns import RULES, broken_rule
from fecallab.records.store import Records
from fecallab.records.writer import Writer

from ..effort import examples

TEXTS = st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=40)
WORDS = TEXTS.filter(lambda text: text.strip() != "")
FINITE = st.floats(allow_nan=False, allow_infinity=False)
SHARES = st.floats(0, 1)
COUNTS = st.dictionaries(WORDS, st.integers(0, 2**31 - 1), max_size=4)
BIG_EXAMPLES = settings(
    max_examples=examples(25), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
_numbers = itertools.count(1)


def values(column: sa.Column[Any]) -> st.SearchStrategy[Any]:
    """Draw values that the type of a column takes."""
    kinds: dict[type, st.SearchStrategy[Any]] = {
        sa.Text: TEXTS,
        sa.Boolean: st.booleans(),
        sa.Integer: st.integers(-(2**31) + 1, 2**31 - 1),
        sa.Double: FINITE,
        sa.DateTime: st.datetimes(),
        sa.Date: st.dates(),
    }
    drawn = kinds[type(column.type)]
    return st.none() | drawn if column.nullable else drawn


@st.composite
def own_fields(draw: st.DrawFn, kind: rows.Kind, known: dict[str, str]) -> dict[str, Any]:
    """Draw the columns of a fact that keep every rule of the schema; codes are those that exist."""
    drawn: dict[str, Any] = {}
    for name in kind.own_fields:
        column = kind.table.c[name]
        rule = RULES.get(f"ck_{kind.table.name}_{name}_known")
        if column.foreign_keys:
            code = known.get(name, "")
            drawn[name] = draw(st.sampled_from([code, ""])) if column.nullable else code
        elif rule is not None:
            words: list[str | None] = [*_closed_words(rule.condition)]
            drawn[name] = draw(st.sampled_from(words + ([None] if column.nullable else [])))
        else:
            drawn[name] = draw(_ruled(kind, name, values(column)))
    if kind in (rows.ANIMAL, rows.ENCLOSURE):
        drawn["name"] = f"{drawn['name']} no. {next(_numbers)}"
    if kind is rows.SAMPLE and drawn["passed_from"] and drawn["passed_to"]:
        drawn["passed_from"], drawn["passed_to"] = sorted([drawn["passed_from"], drawn["passed_to"]])
    for first, last in (("start", "end"), ("joined_on", "left_on")):
        if drawn.get(first) and drawn.get(last):
            drawn[first], drawn[last] = sorted([drawn[first], drawn[last]])
    if kind is rows.CARE:
        drawn["enclosure"] = drawn["enclosure"] or "pen"
        drawn["amount"] = None if drawn["amount"] is None else abs(drawn["amount"])
    return drawn


def _closed_words(condition: str) -> list[str]:
    inside = condition.partition("IN (")[2].rstrip(")")
    return [word.replace("''", "'") for word in inside[1:-1].split("', '")]


def _ruled(kind: rows.Kind, name: str, drawn: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Narrow what is drawn to what the rules of one column allow."""
    for rule in (rule for key, rule in RULES.items() if key == f"ck_{kind.table.name}_{rule.name}"):
        if rule.columns != (name,):
            continue
        if rule.name.endswith("_length"):
            hashed = st.text("0123456789abcdef", min_size=64, max_size=64)
            return hashed | st.just("") if "= ''" in rule.condition else hashed
        if rule.name.endswith("_share"):
            return st.none() | SHARES
        if rule.name.endswith("_half_turn"):
            return st.none() | st.floats(0, 180, exclude_max=True)
        if rule.name.endswith("_positive"):
            positive = st.floats(min_value=0, exclude_min=True, allow_infinity=False)
            return st.none() | positive if kind.table.c[name].nullable else positive
        if rule.name.endswith(("_not_negative", "_at_least_one")):
            whole = isinstance(kind.table.c[name].type, sa.Integer)
            more = st.integers(1, 2**31 - 1) if whole else st.floats(0, 1e300)
            return st.none() | more if kind.table.c[name].nullable else more
        if rule.name.endswith("_not_empty"):
            return WORDS
    return drawn


@pytest.mark.parametrize("kind", [kind for kind in rows.KINDS if not kind.parent], ids=lambda kind: kind.name)
def test_whatever_is_recorded_comes_back_the_same(
    kind: rows.Kind, store: Records, write_everything: Callable[[Writer], dict[str, Any]], now: datetime
) -> None:
    with store.write("keeper", now) as writer:
        made = write_everything(writer)
    known = {
        "animal": made["animal"].code,
        "case": made["case"].code,
        "sample": made["sample"].code,
        "same_stool_as": made["sample"].code,
        "opened_by_exam": made["exam"].code,
        "plan": made["plan"].code,
        "dose": made["dose"].code,
        "enclosure": made["enclosure"].code,
        "arrival": made["arrival"].code,
        "split_from": made["arrival"].code,
        "protocol": made["protocol"].code,
        "other": made["tub"].code,
        "picture": made["picture"].sha256,
        "label_picture": made["picture"].sha256,
        "page": made["page"].code,
        "answer": made["answer"].code,
        "exam": made["exam"].code,
        "reading": made["exam"].preparations[0].readings[0].code,
        "same_as": made["plan"].code,
        "taken_as": made["plan"].code,
    }

    @BIG_EXAMPLES
    @given(st.data())
    def holds(data: st.DataObject) -> None:
        fact = kind.fact(**data.draw(own_fields(kind, known)), **_more(data, kind, known))
        with store.write("keeper", now) as writer:
            alone = kind in moving.CHECKED  # what must agree with the facts beside it: see test_housing
            recorded = writer._adding.add(kind, [fact])[0] if alone else writer.add(fact)
        assert _without_codes(recorded) == fact
        latest = store.history(recorded.code)
        own = [entry.fact for entry in latest if entry.code == recorded.code]
        assert _without_parts(kind, recorded) == own[0]
        if kind is rows.EXAM:
            assert store.exam(recorded.code) == recorded

    holds()


def _more(data: st.DataObject, kind: rows.Kind, known: dict[str, str]) -> dict[str, Any]:
    if kind.words:
        said = st.builds(RuleWord, rule=WORDS, by=WORDS, at=st.datetimes(), why=TEXTS)
        words = data.draw(st.lists(said, max_size=3, unique_by=lambda word: word.rule))
        return {kind.words: tuple(words)}
    if kind is rows.CASE:
        return {"stages": tuple(data.draw(st.lists(WORDS, max_size=3, unique=True)))}
    if kind is rows.RELEASE:
        return {"animals": (known["animal"],)}
    if kind.lists:
        words = st.lists(WORDS, max_size=3, unique=True).map(tuple)
        return {field: data.draw(words) for field in kind.lists}
    if kind is not rows.EXAM:
        return {}

    def some(part: rows.Kind, **more: Any) -> tuple[Any, ...]:
        how_many = data.draw(st.integers(0, 2))
        return tuple(
            part.fact(**data.draw(own_fields(part, known)), **{name: make() for name, make in more.items()})
            for _ in range(how_many)
        )

    def reading() -> tuple[Any, ...]:
        return some(
            rows.READING,
            counts=lambda: data.draw(COUNTS),
            unsure=lambda: data.draw(COUNTS),
            marks=lambda: some(rows.MARK),
        )

    return {
        "preparations": some(rows.PREPARATION, readings=reading),
        "elsewhere": some(rows.ELSEWHERE),
    }


def _without_codes(fact: Any) -> Any:
    """Return a fact as it was before it was recorded."""
    kind = rows.kind_of_fact(fact)
    parts = {part: tuple(_without_codes(each) for each in getattr(fact, part)) for part in kind.parts}
    return dataclasses.replace(fact, code="", **parts)


def _without_parts(kind: rows.Kind, fact: Any) -> Any:
    return dataclasses.replace(fact, **dict.fromkeys(kind.parts, ()))


@pytest.mark.parametrize("rule_name", sorted(RULES))
def test_python_and_the_database_keep_every_rule_alike(rule_name: str) -> None:
    import sqlite3

    rule = RULES[rule_name]
    table = next(
        table for table in rows.schema.metadata.tables.values() if rule_name == f"ck_{table.name}_{rule.name}"
    )
    edges: dict[type, list[Any]] = {
        sa.Text: [
            "",
            "A1",
            "B1",
            "C1",
            "D1",
            "E1-1",
            "I1",
            "IP1",
            "P1",
            "S1",
            "Y1",
            "Z1",
            "cleaning",
            "warm end",
            "room",
            "a" * 64,
            "on a vet's order",
            "X",
        ],
        sa.Boolean: [True, False],
        sa.Integer: [-1, 0, 1, 2],
        sa.BigInteger: [-1, 0, 1],
        sa.Double: [-0.1, 0.0, 1e-300, 0.5, 1.0, 1.0000001, 179.99, 180.0],
        sa.DateTime: ["2026-01-01 00:00:00.000000", "2026-01-01 00:00:00.000001"],
        sa.Date: ["2026-01-01", "2026-02-01"],
    }
    pools = []
    for name in rule.columns:
        column = table.c[name]
        words = _closed_words(rule.condition) if "IN (" in rule.condition else []
        fitting = words if isinstance(column.type, sa.Text) else []
        pools.append(edges[type(column.type)] + fitting + ([None] if column.nullable else []))
    connection = sqlite3.connect(":memory:")
    names = ", ".join(f'? AS "{name}"' for name in rule.columns)
    judged = set()
    for drawn in itertools.product(*pools):
        answer = connection.execute(f"SELECT {rule.condition} FROM (SELECT {names})", drawn).fetchone()[0]
        assert rule.holds(*drawn) is (answer is None or bool(answer)), (rule.condition, drawn)
        judged.add(answer)
    connection.close()
    assert 0 in judged, "the pool holds a value that the rule refuses"
    assert judged - {0}, "the pool holds a value that the rule allows"


def test_counts_and_parts_keep_zero_and_order(store: Records, write_everything: Any, now: datetime) -> None:
    with store.write("keeper", now) as writer:
        made = write_everything(writer)
        many = tuple(Reading(counts={"oxyurid": number}) for number in range(12))
        added = writer.add_readings("E1-1", many)
    assert [reading.code for reading in added] == [f"E1-1-{number}" for number in range(3, 15)]
    exam = store.exam(made["exam"].code)
    assert [reading.code for reading in exam.preparations[0].readings] == [f"E1-1-{n}" for n in range(1, 15)]
    assert exam.preparations[0].readings[0].counts == {"oxyurid": 0}
    assert exam.preparations[0].readings[2].tally() == {"oxyurid": 0}
    assert exam.elsewhere[0].code == "E1-R1"


def test_more_preparations_and_marks_are_appended(
    store: Records, write_everything: Any, now: datetime
) -> None:
    with store.write("keeper", now) as writer:
        made = write_everything(writer)
    with store.write("vet", now) as writer:
        third = writer.add_preparation("e1", Preparation(method="sedimentation", readings=(Reading(),)))
        marks = writer.add_marks(
            "E1-1-2", [dataclasses.replace(made["exam"].preparations[0].readings[1].marks[0], code="")]
        )
        result = writer.add_elsewhere("E1", dataclasses.replace(made["exam"].elsewhere[0], code=""))
        assert writer.exam("E1").preparations[2] == third
    assert (third.code, third.readings[0].code) == ("E1-3", "E1-3-1")
    assert (marks[0].code, result.code) == ("E1-1-2-3", "E1-R2")
    assert store.exam("E1").preparations[0].readings[1].marks[2] == marks[0]
    assert len(store.history("E1")) == 12


def test_a_part_cannot_be_recorded_alone(store: Records, now: datetime) -> None:
    with pytest.raises(TypeError, match="part of"), store.write("keeper", now) as writer:
        writer.add(Reading())
    with pytest.raises(BadInput, match="no sample 'S7'"), store.write("keeper", now) as writer:
        writer.add(Exam(sample="S7", examined_at=datetime(2026, 1, 1)))


def test_rules_about_columns_that_are_not_given_are_left_to_the_database() -> None:
    assert broken_rule("weighings", {"animal": "A1", "mass_g": 1.0}) is None
