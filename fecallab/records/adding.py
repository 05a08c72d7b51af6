"""How a fact becomes rows: its code, its columns, its counts or stages, and its parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.domain.plan import RuleWord
from fecallab.records import rows, schema, trees
from fecallab.records.clean import clean
from fecallab.records.columns import broken_rule
from fecallab.records.finding import one_row, refuse_code_as_name
from fecallab.records.rows import Kind

REFERENCES = {
    "animal": rows.ANIMAL,
    "case": rows.CASE,
    "sample": rows.SAMPLE,
    "same_stool_as": rows.SAMPLE,
    "opened_by_exam": rows.EXAM,
    "plan": rows.PLAN,
    "dose": rows.DOSE,
    "page": rows.VET_PAGE,
    "answer": rows.ANSWER,
    "exam": rows.EXAM,
    "reading": rows.READING,
    "same_as": rows.PLAN,
    "taken_as": rows.PLAN,
    "enclosure": rows.ENCLOSURE,
    "arrival": rows.ARRIVAL,
    "split_from": rows.ARRIVAL,
    "protocol": rows.PROTOCOL,
    "other": rows.ANIMAL,
}
"""Which kind of fact a column of codes must name."""


class Adding:
    """Writes the rows of facts into one open transaction."""

    def __init__(self, connection: Connection, by: str, now: datetime) -> None:
        self.connection = connection
        self.by = by
        self.now = now
        self._known: dict[tuple[str, str], str] = {}

    def add(self, kind: Kind, facts: Sequence[Any], parent: str = "") -> list[Any]:
        """Record new facts of one kind, with all their parts, and return them with their codes."""
        for fact in facts:
            if fact.code:
                raise BadInput(
                    f"The {kind.name} {fact.code} is recorded already.",
                    next="Correct it, or give it without a code.",
                    code="already-recorded",
                )
        codes = self._new_codes(kind, len(facts), parent)
        wanted = [
            {"code": code, **self.row(kind, fact, parent)} for code, fact in zip(codes, facts, strict=True)
        ]
        if kind in (rows.ANIMAL, rows.ENCLOSURE):
            for row in wanted:
                self.refuse_same_name(kind, row)
        if kind in (rows.MARK, rows.ELSEWHERE, rows.MARK_VERDICT):
            if wanted:
                self.connection.execute(sa.insert(kind.table), [self._signed(row) for row in wanted])
        else:
            for row, fact in zip(wanted, facts, strict=True):
                self.insert(kind, row, fact)
        return [
            self._with_parts(kind, self._as_recorded(kind, fact, row))
            for fact, row in zip(facts, wanted, strict=True)
        ]

    def insert(
        self,
        kind: Kind,
        row: Mapping[str, Any],
        fact: Any,
        *,
        replaces: int | None = None,
        reason: str = "",
        withdrawn: bool = False,
    ) -> None:
        """Write one row with its counts or stages."""
        signed = self._signed(row, replaces=replaces, correction_reason=reason, withdrawn=withdrawn)
        identity = self.connection.execute(sa.insert(kind.table), signed).inserted_primary_key
        assert identity is not None
        if kind is rows.READING:
            counted = [
                {"reading_id": identity[0], "name": name, "sure": sure, "count": count}
                for sure in (True, False)
                for name, count in counts_in(fact, sure).items()
            ]
            if counted:
                self.connection.execute(sa.insert(schema.reading_counts), counted)
        elif kind is rows.CASE and fact.stages:
            staged = [{"case_id": identity[0], "stage": stage} for stage in stages_in(fact)]
            self.connection.execute(sa.insert(schema.case_stages), staged)
        elif kind.words_table is not None:
            said = [{kind.words_owner: identity[0], **asdict(word)} for word in words_in(kind, fact)]
            if said:
                self.connection.execute(sa.insert(kind.words_table), said)
        elif kind.lists_table is not None:
            held = [
                {"row_id": identity[0], "field": field, "word": word}
                for field, words in lists_in(kind, fact).items()
                for word in words
            ]
            if held:
                self.connection.execute(sa.insert(kind.lists_table), held)

    def refuse_same_name(self, kind: Kind, row: Mapping[str, Any]) -> None:
        """Refuse a name that another animal (or enclosure) has already, or that looks like a code."""
        table = kind.table
        name = row["name"].strip()
        refuse_code_as_name(name)
        same = trees.facts(
            self.connection, kind, table.c.name_key == row["name_key"], table.c.code != row["code"]
        )
        if same:
            raise BadInput(
                f"An {kind.name} called {same[0].name!r} is recorded already ({same[0].code});"
                " capitals make no difference.",
                next=f"Give another name, such as {name + ' 2'!r}.",
                code="name-taken",
            )

    def row(self, kind: Kind, fact: Any, parent: str = "") -> dict[str, Any]:
        """Return the checked columns of a fact; every code and picture that it names exists."""
        row = rows.row_of(kind, fact, parent)
        for name in kind.references:
            if name != kind.parent and row[name] is not None:
                row[name] = self._existing(REFERENCES[name], row[name])
        if kind is rows.RELEASE:
            for animal in fact.animals:
                self._existing(rows.ANIMAL, animal)
        for name in ("picture", "label_picture"):
            if row.get(name):
                self._existing_picture(row[name])
        return row

    def forget(self, kind: Kind, code: str) -> None:
        """No longer take it for granted that a fact stands."""
        self._known.pop((kind.name, code), None)

    def _existing(self, kind: Kind, code: str) -> str:
        known = self._known.get((kind.name, code))
        if known is None:
            known = str(one_row(self.connection, kind, code)["code"])
            self._known[kind.name, code] = known
        return known

    def _existing_picture(self, sha256: str) -> None:
        if ("picture", sha256) in self._known:
            return
        table = schema.pictures
        query = sa.select(table.c.sha256).where(table.c.sha256 == sha256)
        if self.connection.execute(query).first() is None:
            raise BadInput(
                f"No picture with the hash {sha256!r} is in these records.",
                next="Add the picture first.",
                code="unknown-picture",
            )
        self._known["picture", sha256] = sha256

    def _new_codes(self, kind: Kind, how_many: int, parent: str) -> list[str]:
        if not how_many:
            return []
        table = schema.codes
        query = sa.select(sa.func.max(table.c.number)).where(
            table.c.kind == kind.name, table.c.parent == parent if parent else table.c.parent.is_(None)
        )
        last = self.connection.execute(query).scalar() or 0
        start = f"{parent}-{kind.prefix}" if parent else kind.prefix
        numbers = range(last + 1, last + 1 + how_many)
        given = [
            {"code": f"{start}{number}", "kind": kind.name, "parent": parent or None, "number": number}
            for number in numbers
        ]
        self.connection.execute(sa.insert(table), given)
        return [str(row["code"]) for row in given]

    def _signed(self, row: Mapping[str, Any], **correction: Any) -> dict[str, Any]:
        blank = {"replaces": None, "correction_reason": "", "withdrawn": False}
        return {**row, "recorded_at": self.now, "recorded_by": self.by, **blank, **correction}

    def _as_recorded(self, kind: Kind, fact: Any, row: Mapping[str, Any]) -> Any:
        more: dict[str, Any] = {"stages": stages_in(fact)} if kind is rows.CASE else {}
        if kind is rows.READING:
            more = {"counts": counts_in(fact, True), "unsure": counts_in(fact, False)}
        elif kind.words:
            more = {kind.words: words_in(kind, fact)}
        elif kind.lists:
            more = dict(lists_in(kind, fact))
        return rows.fact_of(kind, row, **more, **{part: getattr(fact, part) for part in kind.parts})

    def _with_parts(self, kind: Kind, fact: Any) -> Any:
        if not kind.parts:
            return fact
        recorded = {
            part: tuple(self.add(rows.PART_KINDS[part], getattr(fact, part), fact.code))
            for part in kind.parts
        }
        return replace(fact, **recorded)


def counts_in(reading: Any, sure: bool) -> dict[str, int]:
    """Return the checked counts of a reading, sure or unsure ones; zero is a count too."""
    table = schema.reading_counts
    checked: dict[str, int] = {}
    for name, count in (reading.counts if sure else reading.unsure).items():
        row = {
            "name": clean(name, table.c.name, "count"),
            "count": clean(count, table.c.count, f"reading of {name!r}"),
        }
        rule = broken_rule(table.name, row)
        if rule is not None:
            raise BadInput(
                f"The {rule.columns[0]} given for {name!r} is {row[rule.columns[0]]!r}: {rule.sentence}.",
                next="Correct it and repeat.",
                code="refused-by-records",
            )
        checked[row["name"]] = row["count"]
    return checked


def stages_in(case: Any) -> tuple[str, ...]:
    """Return the checked stages of a case."""
    column = schema.case_stages.c.stage
    checked = tuple(clean(stage, column, "case") for stage in case.stages)
    if "" in checked or len(set(checked)) < len(checked):
        raise BadInput(
            f"The stages of the case are {list(checked)}: each must be named once.",
            next="Name every stage once.",
            code="refused-by-records",
        )
    return checked


def lists_in(kind: Kind, fact: Any) -> dict[str, tuple[str, ...]]:
    """Return the checked lists of a protocol or a release: each word once, none empty."""
    table = kind.lists_table
    assert table is not None
    checked: dict[str, tuple[str, ...]] = {}
    for field in kind.lists:
        words = tuple(clean(word, table.c.word, kind.name) for word in getattr(fact, field))
        if None in words or "" in words or len(set(words)) < len(words):
            raise BadInput(
                f"The {field.replace('_', ' ')} of the {kind.name} are {list(words)}: each must be named once.",
                next="Name each once.",
                code="given-twice",
            )
        checked[field] = words
    return checked


def words_in(kind: Kind, fact: Any) -> tuple[RuleWord, ...]:
    """Return the checked words on rules of a plan or a dose: each rule once, said by somebody."""
    table = kind.words_table
    assert table is not None
    checked: list[RuleWord] = []
    for word in getattr(fact, kind.words):
        row = {
            name: clean(getattr(word, name), table.c[name], f"word on a rule of the {kind.name}")
            for name in ("rule", "by", "at", "why")
        }
        rule = broken_rule(table.name, row)
        if rule is not None:
            raise BadInput(
                f"A word on a rule of the {kind.name}: {rule.columns[0]} is missing.",
                next="Say which rule, and whose word it is.",
                code="refused-by-records",
            )
        checked.append(RuleWord(**row))
    if len({word.rule for word in checked}) < len(checked):
        raise BadInput(
            f"The {kind.name} has two words on one rule.", next="Name every rule once.", code="given-twice"
        )
    return tuple(checked)
