"""A record folder filled with invented exams by the thousand, each row with its line in the ledger."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

from fecallab.domain.animal import Animal
from fecallab.domain.case import Case
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.records.store import Records

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)

EXAMS_OF_A_CASE = 10


def fill(store: Records, exams: int, *, marks_each: int = 10, open_cases: int = 20) -> None:
    """Record a collection: an animal for every hundred exams, ten marks an exam, a fixed number of open cases.

    Rows are put in as they would stand after so many commands, and get their lines in one go: a hundred
    thousand commands would take hours.
    """
    import sqlalchemy as sa

    from fecallab.records import schema
    from fecallab.records.engine import writing
    from fecallab.records.guard import lift_guard, set_guard
    from fecallab.records.ledger import add_lines
    from fecallab.records.transfer import go_on_numbering, put_rows

    animals = max(1, exams // 100)
    with store.write("keeper", NOW) as writer:
        writer.add_all([Animal(name=f"animal {number}", host_group="lizard") for number in range(animals)])
        first = writer.add(_sample(0))
        writer.add(_exam(first, 0, marks_each))
    with writing(store.engine) as connection:
        lift_guard(connection)

        def like(name: str) -> dict[str, object]:
            table = schema.metadata.tables[name]
            row = connection.execute(table.select().order_by(table.c.id).limit(1)).mappings().one()
            return {key: value for key, value in row.items() if key != "id"}

        def codes(
            kind: str, made: Callable[[int], tuple[str, str | None, int]]
        ) -> Iterator[dict[str, object]]:
            for number in range(1, exams):
                code, parent, last = made(number)
                yield {"code": code, "kind": kind, "parent": parent, "number": last}

        tables = schema.metadata.tables
        base = {
            name: connection.execute(sa.select(sa.func.max(tables[name].c.id))).scalar_one()
            for name in ("samples", "exams", "preparations", "readings", "marks")
        }
        sample, exam, preparation = like("samples"), like("exams"), like("preparations")
        seen, mark = like("readings"), like("marks")
        start = datetime(2020, 1, 1, 8)
        for kind, made in (
            ("sample", lambda n: (f"S{n + 1}", None, n + 1)),
            ("exam", lambda n: (f"E{n + 1}", None, n + 1)),
            ("preparation", lambda n: (f"E{n + 1}-1", f"E{n + 1}", 1)),
            ("reading", lambda n: (f"E{n + 1}-1-1", f"E{n + 1}-1", 1)),
        ):
            put_rows(connection, tables["codes"], codes(kind, made))
        put_rows(
            connection,
            tables["codes"],
            (
                {"code": f"E{n + 1}-1-1-{i}", "kind": "mark", "parent": f"E{n + 1}-1-1", "number": i}
                for n in range(1, exams)
                for i in range(1, marks_each + 1)
            ),
        )
        put_rows(
            connection,
            tables["samples"],
            (
                {
                    **sample,
                    "id": base["samples"] + n,
                    "code": f"S{n + 1}",
                    "animal": f"A{n % animals + 1}",
                    "passed_from": start + timedelta(hours=n % 50_000),
                    "collected_at": start + timedelta(hours=n % 50_000, minutes=30),
                }
                for n in range(1, exams)
            ),
        )
        put_rows(
            connection,
            tables["exams"],
            (
                {
                    **exam,
                    "id": base["exams"] + n,
                    "code": f"E{n + 1}",
                    "sample": f"S{n + 1}",
                    "examined_at": start + timedelta(hours=n % 50_000, minutes=30),
                }
                for n in range(1, exams)
            ),
        )
        put_rows(
            connection,
            tables["preparations"],
            (
                {**preparation, "id": base["preparations"] + n, "code": f"E{n + 1}-1", "exam": f"E{n + 1}"}
                for n in range(1, exams)
            ),
        )
        put_rows(
            connection,
            tables["readings"],
            (
                {**seen, "id": base["readings"] + n, "code": f"E{n + 1}-1-1", "preparation": f"E{n + 1}-1"}
                for n in range(1, exams)
            ),
        )
        put_rows(
            connection,
            tables["marks"],
            (
                {
                    **mark,
                    "id": base["marks"] + (n - 1) * marks_each + i,
                    "code": f"E{n + 1}-1-1-{i}",
                    "reading": f"E{n + 1}-1-1",
                    "x_px": float(40 * i),
                    "name": "oxyurid" if n % 7 == 0 else "pollen",
                }
                for n in range(1, exams)
                for i in range(1, marks_each + 1)
            ),
        )
        go_on_numbering(connection, schema.metadata)
        set_guard(connection)
        add_lines(connection, "keeper", NOW)
    with store.write("keeper", NOW) as writer:
        for number in range(min(open_cases, animals)):
            mine = sorted(
                (one for one in store.samples(f"animal {number}")), key=lambda one: (one.taken_on, one.code)
            )
            first = mine[-min(EXAMS_OF_A_CASE, len(mine))]
            writer.add(
                Case(
                    animal=first.animal,
                    target="oxyurid",
                    stages=("egg",),
                    opened_on=first.taken_on,
                    opened_by_exam=f"E{first.code[1:]}",
                )
            )


def _sample(number: int) -> Sample:
    start = datetime(2020, 1, 1, 8) + timedelta(hours=number % 50_000)
    return Sample(
        animal="A1",
        passed_from=start,
        collected_at=start + timedelta(minutes=30),
        form="formed",
        kept="room",
    )


def _exam(sample: Sample, number: int, marks_each: int) -> Exam:
    name = "oxyurid" if number % 7 == 0 else "pollen"
    marks = tuple(
        Mark(x_px=float(40 * i), y_px=30.0, name=name, length_um=130.0, width_um=40.0)
        for i in range(1, marks_each + 1)
    )
    return Exam(
        sample=sample.code,
        examined_at=sample.collected_at,
        by="keeper",
        preparations=(
            Preparation(
                method="simple_flotation",
                specific_gravity=1.2,
                gravity_checked=True,
                standing_minutes=20.0,
                sample_g=1.0,
                readings=(Reading(kind="sweep", objective=10.0, cover_share=1.0, marks=marks),),
            ),
        ),
    )
