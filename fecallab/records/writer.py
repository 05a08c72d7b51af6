"""Recording facts: one command, one transaction, rows that are only ever added."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import ElsewhereResult, Mark, Picture, Preparation, Reading
from fecallab.records import moving, rows, schema, trees
from fecallab.records.adding import REFERENCES, Adding, counts_in, lists_in, stages_in, words_in
from fecallab.records.clean import clean_text
from fecallab.records.finding import one_row
from fecallab.records.picture_place import FolderPictures, PicturePlace
from fecallab.records.reader import Reader
from fecallab.records.rows import Kind

F = TypeVar("F", bound=rows.Fact)


class Writer(Reader):
    """Records facts in one open transaction, and answers every question of a `Reader` from within it.

    Made by `Records.write`; nothing is kept unless its block ends without an error.
    """

    def __init__(
        self,
        folder: Path,
        connection: Connection,
        by: str,
        now: datetime,
        placed: list[Picture] | None = None,
        place: PicturePlace | None = None,
    ) -> None:
        self.folder = folder
        self.place = place or FolderPictures(folder)
        who = clean_text(by, "name of the person who records this").strip()
        if not who:
            raise BadInput("Nobody is named who records this.", next="Name the person.", code="nobody")
        self.by = who
        self._open = connection
        self._adding = Adding(connection, who, now.astimezone(UTC))
        self._placed = [] if placed is None else placed

    @contextmanager
    def _connection(self) -> Iterator[Connection]:
        yield self._open

    def add(self, fact: F) -> F:
        """Record a new fact with all its parts.

        Parameters
        ----------
        fact : Animal, Weighing, Sample, Exam, Case, Plan, DoseGiven, ControlRun, … (`rows.Fact`)
            Without a code; the codes in its fields must exist.

        Returns
        -------
        the same kind of fact
            As it was recorded, with its code and those of its parts.

        Raises
        ------
        BadInput
            When a value, a code or a rule of the schema does not hold; nothing is kept then.
        """
        return self.add_all([fact])[0]

    def add_all(self, facts: Sequence[F]) -> list[F]:
        """Record many new facts of one kind at once, as `add` does with one."""
        kinds = {rows.kind_of_fact(fact) for fact in facts}
        if not kinds:
            return []
        (kind,) = kinds
        if kind.parent:
            raise TypeError(f"a {kind.name} is a part of something: use add_{kind.name.split()[-1]}s")
        recorded: list[F] = self.record(kind, facts)
        if kind is rows.ANIMAL:
            moving.settle(self, recorded)  # type: ignore[arg-type]
        return recorded

    def record(self, kind: Kind, facts: Sequence[Any]) -> list[Any]:
        """Record facts of one kind beside what must agree with them."""
        if kind not in moving.CHECKED:
            return self._adding.add(kind, facts)
        recorded = []
        for fact in facts:
            moving.refuse_odd(self._open, fact)
            recorded += self._adding.add(kind, [fact])
        if kind is rows.STAY:
            for animal in dict.fromkeys(fact.animal for fact in recorded):
                moving.animal_follows(self, animal)
        return recorded

    def add_preparation(self, exam: str, preparation: Preparation) -> Preparation:
        """Record one more preparation of an exam, with its readings."""
        recorded: Preparation = self._add_parts(rows.EXAM, exam, rows.PREPARATION, [preparation])[0]
        return recorded

    def add_readings(self, preparation: str, readings: Iterable[Reading]) -> tuple[Reading, ...]:
        """Record more readings of a preparation, with their counts and marks."""
        return tuple(self._add_parts(rows.PREPARATION, preparation, rows.READING, readings))

    def add_marks(self, reading: str, marks: Iterable[Mark]) -> tuple[Mark, ...]:
        """Record more marks of a reading."""
        return tuple(self._add_parts(rows.READING, reading, rows.MARK, marks))

    def add_elsewhere(self, exam: str, result: ElsewhereResult) -> ElsewhereResult:
        """Record one more result from a laboratory or a vet."""
        recorded: ElsewhereResult = self._add_parts(rows.EXAM, exam, rows.ELSEWHERE, [result])[0]
        return recorded

    def add_picture(self, path: Path, info: Picture) -> Picture:
        """Copy a picture in untouched and record it; the same bytes are kept once.

        Returns
        -------
        Picture
            As it is recorded: the earlier one when the same bytes were there already.
        """
        table = schema.pictures
        row = rows.picture_row(info)
        query = sa.select(table).where(table.c.sha256 == info.sha256)
        known = self._open.execute(query).mappings().first()
        kept = info if known is None else rows.picture_of(known)
        new = self.place.place(path, kept)
        if known is None:
            if new:
                self._placed.append(kept)
            signed = {**row, "recorded_at": self._adding.now, "recorded_by": self._adding.by}
            self._open.execute(sa.insert(table), signed)
        return kept

    def correct(self, which: str | F, new: F, reason: str) -> F:
        """Let a new version of a fact take the place of the one that stands; the old row stays.

        Parts (preparations, readings, marks, results) are told apart by their codes: those that differ are
        corrected, those without a code are added, those that are no longer there are withdrawn. Start from
        what stands: ``correct(exam.code, dataclasses.replace(exam, remark="…"), "typing error")``.

        Parameters
        ----------
        which : str or fact
            The code, or the fact that carries it.
        new : fact
            All that shall stand from now on.
        reason : str
            Why; it is kept with the row.

        Returns
        -------
        fact
            As it stands now.
        """
        kind = rows.kind_of_fact(new)
        code = (which if isinstance(which, str) else which.code).strip().upper()
        if rows.kind_of_code(code) is not kind:
            raise BadInput(
                f"{code or 'It'} is no code of a {kind.name}.", next="Give its code.", code="wrong-kind"
            )
        before = moving.before(self, kind, code)
        moving.refuse_odd(self._open, new, code)
        if not self._correct(kind, code, new, self._reason(reason)):
            raise BadInput(
                f"Nothing in {code} differs from what stands.",
                next="Nothing is to be done.",
                code="nothing-changed",
            )
        stands = self._stands(kind, code)
        moving.follow(self, before, stands, reason)
        return stands  # type: ignore[no-any-return]

    def withdraw(self, which: str | rows.Fact, reason: str) -> None:
        """Take back a fact that should never have been recorded; its rows stay in the history.

        Raises
        ------
        BadInput
            When something that stands refers to it: withdraw that first.
        """
        code = (which if isinstance(which, str) else which.code).strip().upper()
        kind = rows.kind_of_code(code)
        if kind is None:
            raise BadInput(f"{code!r} is no code of these records.", next="Give a code.", code="unknown-code")
        one_row(self._open, kind, code)
        before = moving.before(self, kind, code)
        moving.move_out(self, kind, code, reason)
        self._refuse_if_needed(kind, code)
        self._withdraw(kind, code, self._reason(reason))
        moving.follow(self, before, None, reason)

    def _add_parts(self, whole: Kind, code: str, kind: Kind, parts: Iterable[Any]) -> list[Any]:
        return self._adding.add(kind, list(parts), one_row(self._open, whole, code)["code"])

    def _reason(self, reason: str) -> str:
        said = clean_text(reason, "reason", lines=True).strip()
        if not said:
            raise BadInput("A correction needs a reason.", next="Say why.", code="no-reason")
        return said

    def _tip(self, kind: Kind, code: str) -> sa.RowMapping:
        tip = self._open.execute(trees.tips(kind).where(kind.table.c.code == code)).mappings().first()
        return tip if tip is not None else one_row(self._open, kind, code)

    def _correct(self, kind: Kind, code: str, new: Any, reason: str) -> bool:
        tip = self._tip(kind, code)
        parent = tip[kind.parent] if kind.parent else ""
        row = {"code": code, **self._adding.row(kind, new, parent)}
        if "name_key" in row and (tip["withdrawn"] or row["name"] != tip["name"]):
            self._adding.refuse_same_name(kind, row)
        changed = tip["withdrawn"] or any(row[name] != tip[name] for name in row)
        if not changed and (kind in (rows.READING, rows.CASE) or kind.words or kind.lists):
            changed = _held(new, kind) != _held(self._stands(kind, code), kind)
        if changed:
            self._adding.insert(kind, row, new, replaces=tip["id"], reason=reason)
        for part in kind.parts:
            changed = self._correct_parts(kind, code, part, new, reason) or changed
        return bool(changed)

    def _correct_parts(self, kind: Kind, code: str, part: str, new: Any, reason: str) -> bool:
        child = rows.PART_KINDS[part]
        of_parent = child.table.c[child.parent] == code
        standing = set(trees.current_codes(self._open, child, of_parent))
        given = getattr(new, part)
        named = {fact.code for fact in given if fact.code}
        if named - standing or len(named) < sum(bool(fact.code) for fact in given):
            strange = ", ".join(sorted(named - standing)) or "one twice"
            raise BadInput(
                f"The {kind.name} {code} has no such {part} today: {strange}.",
                next="Start from what stands.",
                code="unknown-part",
            )
        changed = [self._correct(child, fact.code, fact, reason) for fact in given if fact.code]
        added = self._adding.add(child, [fact for fact in given if not fact.code], code)
        for gone in sorted(standing - named, key=rows.code_order):
            self._withdraw(child, gone, reason)
        return any(changed) or bool(added) or bool(standing - named)

    def _withdraw(self, kind: Kind, code: str, reason: str) -> None:
        tip = self._tip(kind, code)
        keep = {
            name: tip[name] for name in ("code", *kind.own_fields, *([kind.parent] if kind.parent else []))
        }
        if "name_key" in kind.table.c:
            keep["name_key"] = tip["name_key"]
        self._adding.insert(
            kind, keep, self._stands(kind, code), replaces=tip["id"], reason=reason, withdrawn=True
        )
        self._adding.forget(kind, code)

    def _stands(self, kind: Kind, code: str) -> Any:
        """Return a fact as it stands, with its parts."""
        if kind is rows.EXAM:
            return self.exam(code)
        if kind is rows.CASE:
            return self.case(code)
        if kind is rows.READING:
            return trees.reading_at(self._open, code)
        if kind is not rows.PREPARATION:
            return trees.fact_at(self._open, kind, one_row(self._open, kind, code))
        exam = self.exam(code.split("-")[0])
        return next(part for part in exam.preparations if part.code == code)

    def _refuse_if_needed(self, kind: Kind, code: str) -> None:
        for other in rows.KINDS:
            for name in other.references:
                if name == other.parent or REFERENCES[name] is not kind:
                    continue
                needing = trees.current_codes(self._open, other, other.table.c[name] == code)
                if needing:
                    raise BadInput(
                        f"The {kind.name} {code} cannot be withdrawn: the {other.name} {needing[0]}"
                        " refers to it.",
                        next=f"Withdraw {needing[0]} first.",
                        code="still-needed",
                    )


def _held(fact: Any, kind: Kind) -> Any:
    if kind.lists:
        return lists_in(kind, fact)
    if kind.words:
        return words_in(kind, fact)
    if kind is rows.CASE:
        return stages_in(fact)
    return counts_in(fact, True), counts_in(fact, False)
