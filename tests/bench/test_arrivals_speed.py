"""How long ``arrivals show`` and ``due`` take over 2,000 animals, 200 enclosures and 50,000 exams.

``pytest tests/bench --benchmark-enable`` measures them after start-up, in processor time, so that other programs
on the machine matter less. The work grows with what is in quarantine, not with what is stored: beside the large
collection stands one with the same arrivals and a tenth of everything else, and the ratio of both is told.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from fecallab.domain.animal import Animal
from fecallab.domain.housing import Arrival, ArrivalMember, ArrivalProtocol, Enclosure, Release, Stay
from fecallab.records import rows, schema
from fecallab.records.store import Records, create_records, open_records

TODAY = date(2026, 11, 1)
NOW = datetime(2026, 11, 1, 12)
BUDGET_S = 0.3
IN_QUARANTINE, EACH, MEMBERS = 200, 6, 50
SIGNED = {"recorded_at": NOW, "recorded_by": "Mara", "correction_reason": "", "withdrawn": False}


def collection(folder: Path, animals: int, exams: int) -> Path:
    """Make a collection: its last 200 animals came in 60 days ago, the others were released long ago."""
    create_records(folder)
    with open_records(folder) as store, store.write(by="Mara", now=NOW) as writer:
        add: Callable[..., list[Any]] = writer._adding.add
        add(
            rows.ENCLOSURE, [Enclosure(name=f"box {n}", room=f"room {n // 20}") for n in range(animals // 10)]
        )
        old = animals - IN_QUARANTINE
        came = [TODAY - timedelta(days=400 if n < old else 60) for n in range(animals)]
        made = add(
            rows.ANIMAL,
            [Animal(name=f"gecko {n}", host_group="gecko", arrived_on=came[n]) for n in range(animals)],
        )
        add(
            rows.STAY,
            [Stay(animal=a.code, enclosure=f"B{n // 10 + 1}", start=came[n]) for n, a in enumerate(made)],
        )
        for first in range(0, animals, MEMBERS):
            part = made[first : first + MEMBERS]
            arrived = came[first]
            arrival = writer.add(Arrival(arrived_on=arrived))
            add(
                rows.MEMBER,
                [ArrivalMember(arrival=arrival.code, animal=a.code, joined_on=arrived) for a in part],
            )
            writer.add(
                ArrivalProtocol(
                    arrival=arrival.code,
                    written_on=arrived,
                    days_at_least=90,
                    negatives_needed=3,
                    spacing_days=14,
                    last_exam_after_days=22,
                    preparations=("simple_flotation",),
                    blocking=("coccidian", "oxyurid", "ascarid", "strongylid", "capillarid/trichurid"),
                    not_blocking=("ciliate",),
                )
            )
            if first < old:
                on = arrived + timedelta(days=100)
                act = Release(arrival=arrival.code, animals=tuple(a.code for a in part), on=on, by="Mara")
                add(rows.RELEASE, [act])
        plenty = (exams - IN_QUARANTINE * EACH) // old
        numbers = [plenty if n < old else EACH for n in range(animals)]
        fill(writer._open, [a.code for a in made], came, numbers)
    return folder


def fill(connection: Any, owners: list[str], came: list[date], numbers: list[int]) -> None:
    """Write one float of each stool, all of it or nothing seen, every seventh with ciliates."""
    tables: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("codes", "samples", "exams", "preparations", "readings", "reading_counts")
    }
    blank: dict[str, Any] = {}

    def put(name: str, code: str, **values: Any) -> None:
        if name not in blank:
            table = schema.metadata.tables[name]
            texts = {c.name: "" if isinstance(c.type, sa.Text) and not c.nullable else None for c in table.c}
            flags = {c.name: False for c in table.c if isinstance(c.type, sa.Boolean) and not c.nullable}
            blank[name] = {**texts, **flags, **SIGNED}
            blank[name].pop("id")
        tables[name].append({**blank[name], "code": code, **values})

    number = 0
    for owner, arrived, many in zip(owners, came, numbers, strict=True):
        step = (TODAY - arrived).days / many
        for place in range(many):
            number += 1
            at = datetime.combine(arrived + timedelta(days=int(place * step)), datetime.min.time())
            passed, read = at.replace(hour=7), at.replace(hour=8, minute=place % 60)
            codes = {"sample": f"S{number}", "exam": f"E{number}"}
            for kind, code in codes.items():
                tables["codes"].append({"code": code, "kind": kind, "parent": None, "number": number})
            for kind, code, parent in (
                ("preparation", f"E{number}-1", f"E{number}"),
                ("reading", f"E{number}-1-1", f"E{number}-1"),
            ):
                tables["codes"].append({"code": code, "kind": kind, "parent": parent, "number": 1})
            put(
                "samples",
                f"S{number}",
                animal=owner,
                origin="stool",
                passed_from=passed,
                passed_to=passed.replace(minute=30),
                collected_at=passed.replace(minute=30),
                form="soft",
                kept="room",
                mass_g=1.0,
            )
            put("exams", f"E{number}", sample=f"S{number}", examined_at=read, by="Mara")
            put(
                "preparations",
                f"E{number}-1",
                exam=f"E{number}",
                method="simple_flotation",
                read_at=read,
                cover_glass="22x22",
                specific_gravity=1.2,
                gravity_checked=True,
                standing_minutes=15.0,
            )
            put(
                "readings",
                f"E{number}-1-1",
                preparation=f"E{number}-1",
                kind="sweep",
                objective=10.0,
                cover_share=1.0,
            )
            for name, count in (("oxyurid", 0), ("ciliate", 3 * (number % 7 == 0))):
                tables["reading_counts"].append(
                    {"reading_id": number, "name": name, "sure": True, "count": count}
                )
    for name, lines in tables.items():
        for start in range(0, len(lines), 5_000):
            connection.execute(sa.insert(schema.metadata.tables[name]), lines[start : start + 5_000])


def shown(store: Records) -> Any:
    """What ``arrivals show`` works out for the newest arrival."""
    from fecallab.gather_arrivals import groups_of, releases_of, situation_of

    with store.at_one_moment() as reader:
        arrival = reader.arrivals()[-1]
        mine = [one.animal for one in reader.members(arrival.code)]
        situation = situation_of(reader, TODAY, only=mine)
        releases_of(reader, arrival, situation)
        return groups_of(arrival, situation)


def due(store: Records) -> Any:
    """What ``due`` works out."""
    from fecallab.cli.due import things_due
    from fecallab.gather_arrivals_due import arrivals_due

    with store.at_one_moment() as reader:
        assert things_due(reader, TODAY)[0] == []
        return arrivals_due(reader, TODAY)


def seconds(work: Callable[[Records], Any], store: Records) -> float:
    """Return the least processor time of three runs after one that warms up."""
    work(store)
    took = []
    for _ in range(3):
        started = time.process_time()
        work(store)
        took.append(time.process_time() - started)
    return min(took)


def test_arrivals_show_and_due_over_fifty_thousand_exams(benchmark: Any, tmp_path: Path) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    sizes = {"large": (2_000, 50_000), "small": (400, 6_200)}
    found: dict[str, float] = {}

    def measure() -> None:
        for size, (animals, exams) in sizes.items():
            with open_records(collection(tmp_path / size, animals, exams)) as store:
                groups = shown(store)
                assert len(groups) == MEMBERS // 10
                assert groups[0].answer.members[0].k == 3
                assert len(due(store)) == IN_QUARANTINE // 10
                for work in (shown, due):
                    found[f"{work.__name__} {size}"] = seconds(work, store)

    benchmark.pedantic(measure, rounds=1, iterations=1)
    benchmark.extra_info.update({name: round(took, 3) for name, took in found.items()})
    ratio = found["due large"] / found["due small"]
    print(
        f"\n2,000 animals, 50,000 exams, {IN_QUARANTINE} in quarantine: arrivals show"
        f" {found['shown large']:.2f} s, due {found['due large']:.2f} s of processor time (budget {BUDGET_S:g});"
        f" with an eighth of the exams stored {ratio:.1f} times as quick"
    )
    assert found["shown large"] < BUDGET_S
    assert found["due large"] < 2 * BUDGET_S
    assert ratio < 3
