"""A case lived through at random on real records: no way leads to `clear by the rule` but the right one.

Stools are found, floats are read well or badly, doses given or spat, readings corrected, brumations slept,
cases closed. After every step the standing is held against an account kept here by simpler means.
"""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import tempfile
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from fecallab.cli.main import run
from fecallab.domain import followup
from fecallab.domain.animal import Animal, AnimalEvent
from fecallab.domain.case import Case
from fecallab.domain.casework import NO_LONGER_SUPPORTED
from fecallab.domain.due import next_for_case
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.followup import Standing
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.gather import case_standing, judged_exams
from fecallab.records.casefile import CaseFile
from fecallab.records.store import open_records

from ..effort import examples
from .conftest import contents

MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
"""Where the records of a story lie: what a disk promises is tested elsewhere, here it is the rules."""
NOW = datetime(2025, 6, 1, 12, tzinfo=UTC)
START = date(2024, 1, 10)
NEEDED, SPACING_DAYS, WAIT_DAYS, DOSES, INTERVAL_DAYS = 2, 7, 10, 2, 3
PLAN = Plan(
    case="C1",
    vet="Dr Ilse Varnholt",
    written_on=START,
    goal="clear",
    drug="fenbendazole",
    interval_days=INTERVAL_DAYS,
    doses_planned=DOSES,
    negatives_needed=NEEDED,
    spacing_days=SPACING_DAYS,
    wait_after_last_dose_days=WAIT_DAYS,
)


@dataclass
class Look:
    """One exam as this account knows it: whose stool, whether it could have shown eggs, what was seen."""

    day: date
    code: str
    stool: str
    able: bool
    seen: int
    unsure: int

    @property
    def says(self) -> str:
        if self.seen:
            return "positive"
        if self.unsure:
            return "unsure"
        return "negative" if self.able else "inconclusive"


@dataclass
class Account:
    """What has happened, in the plainest form."""

    looks: list[Look] = field(default_factory=list)
    doses: list[tuple[date, str]] = field(default_factory=list)
    accepted: date | None = None
    planned: date | None = None

    def supports_clear(self, on: date) -> bool:
        """Say by plain counting whether enough able, spaced negatives of separate stools follow."""
        looks = sorted((look for look in self.looks if look.day <= on), key=lambda look: look.day)
        given = [day for day, outcome in self.doses if outcome == "given" and day <= on]
        start = max([*given, *(look.day for look in looks if look.seen)], default=START)
        if any(look.says == "unsure" and look.day > start for look in looks):
            return False
        spoiled = {look.stool for look in looks if look.seen}
        counted: list[Look] = []
        for look in looks:
            early = look.day < start + timedelta(days=WAIT_DAYS)
            near = bool(counted) and (look.day - counted[-1].day).days < SPACING_DAYS
            again = look.stool in spoiled | {one.stool for one in counted}
            if look.says == "negative" and not (early or near or again):
                counted.append(look)
        return len(counted) >= NEEDED


class CaseMachine(RuleBasedStateMachine):
    """Writes to the record store and closes by the program's own command; `today` is the story's clock."""

    template: Path

    @initialize(treated=st.sampled_from([True, True, False]))
    def begin(self, treated: bool = False) -> None:
        self.home = Path(tempfile.mkdtemp(prefix="case-", dir=MEMORY))
        self.folder = self.home / "records"
        shutil.copytree(self.template, self.folder)
        self.store = open_records(self.folder)
        self.today = START
        self.account = Account()
        self.plan = ""
        self.asleep: AnimalEvent | None = None
        self.closed = ""
        self.closed_on = START
        self.add(Animal(name="Saffron", species="Pogona vitticeps", host_group="lizard", adult=True))
        self.examine(able=True, seen=3)
        case = Case(animal="A1", target="oxyurid", stages=("egg",), opened_on=START, opened_by_exam="E1")
        self.add(case)
        if treated:  # most stories begin where the repeat exams do
            self.today += timedelta(days=1)
            self.the_vet_writes_a_plan()
            self.the_whole_course()

    def teardown(self) -> None:
        if hasattr(self, "store"):
            self.store.close()
            shutil.rmtree(self.home, ignore_errors=True)

    def write(self) -> Any:
        return self.store.write(by="Mara Quell", now=NOW)

    def add(self, fact: Any) -> Any:
        with self.write() as writer:
            return writer.add(fact)

    def at(self, hour: int) -> datetime:
        return datetime.combine(self.today, time(hour))

    def file(self) -> CaseFile:
        return self.store.case_file("C1")

    def stands(self) -> tuple[Standing, str]:
        """Where the case stands today, and how it was closed."""
        _, standing, state = case_standing(self.file(), self.today)
        return standing, state

    def examine(self, able: bool, seen: int, unsure: int = 0, same_as: str = "") -> None:
        reading = Reading(
            kind="sweep",
            objective=10,
            cover_share=1 if able else 0.5,
            counts={"oxyurid": seen},
            unsure={"oxyurid": unsure},
        )
        floated = Preparation(
            method="simple_flotation",
            read_at=self.at(8),
            specific_gravity=1.2,
            gravity_checked=True,
            standing_minutes=15,
            readings=(reading,),
        )
        passed = {"passed_from": self.at(6), "passed_to": self.at(7), "collected_at": self.at(7)}
        kept = {"form": "soft", "kept": "room", "mass_g": 1.5, "same_stool_as": same_as}
        with self.write() as writer:
            sample = writer.add(Sample(animal="A1", **passed, **kept)).code
            whole = Exam(sample=sample, examined_at=self.at(8), by="Mara Quell", preparations=(floated,))
            code = writer.add(whole).code
        self.account.looks.append(Look(self.today, code, same_as or sample, able, seen, unsure))

    # What a keeper and a vet do

    @rule(days=st.integers(1, 12))
    def time_passes(self, days: int) -> None:
        self.today += timedelta(days=days)

    @rule(able=st.booleans(), same_stool=st.booleans())
    def find_none(self, able: bool, same_stool: bool) -> None:
        last = self.account.looks[-1]
        self.examine(able, 0, same_as=last.stool if same_stool and last.day == self.today else "")

    @rule(weeks=st.integers(1, 2))
    def wait_and_find_none_in_a_good_float(self, weeks: int) -> None:
        """The right way, offered often, so that it is walked to its end."""
        self.today += timedelta(days=7 * weeks)
        self.examine(able=True, seen=0)

    @rule()
    def find_none_in_two_good_floats(self) -> None:
        self.wait_and_find_none_in_a_good_float(2)
        self.wait_and_find_none_in_a_good_float(1)

    @rule(seen=st.sampled_from([0, 0, 1]), unsure=st.integers(0, 1), able=st.booleans())
    def find_something(self, seen: int, unsure: int, able: bool) -> None:
        self.examine(able, seen, unsure)

    @precondition(lambda self: not self.closed)
    @rule()
    def the_vet_writes_a_plan(self) -> None:
        if any(day >= self.today for day, _ in self.account.doses):
            self.today += timedelta(days=1)
        self.plan = self.add(replace(PLAN, written_on=self.today)).code
        self.account.planned = self.today

    @precondition(lambda self: self.plan and not self.closed)
    @rule(outcome=st.sampled_from(["given", "given", "given", "missed", "spat"]), wait=st.booleans())
    def a_dose(self, outcome: str, wait: bool) -> None:
        if wait:
            self.today += timedelta(days=INTERVAL_DAYS)
        self.add(DoseGiven(plan=self.plan, given_at=self.at(9), outcome=outcome))
        self.account.doses.append((self.today, outcome))

    @precondition(lambda self: self.plan and not self.closed)
    @rule()
    def the_whole_course(self) -> None:
        for _ in range(DOSES):
            self.a_dose("given", wait=True)

    @precondition(lambda self: self.account.doses)
    @rule()
    def the_vet_takes_the_course_as_it_is(self) -> None:
        word = {"kind": "vet accepts course", "case": "C1", "by": "Dr Ilse Varnholt"}
        self.add(AnimalEvent(animal="A1", start=self.today, **word))
        self.account.accepted = self.today

    @rule()
    def falls_asleep_or_wakes(self) -> None:
        if self.asleep is None:
            self.asleep = self.add(AnimalEvent(animal="A1", kind="brumation", start=self.today))
            return
        with self.write() as writer:
            writer.correct(self.asleep.code, replace(self.asleep, end=self.today), "woke up")
        self.asleep = None
        self.today += timedelta(days=1)

    @rule(which=st.integers(0, 20), seen=st.integers(0, 1))
    def a_reading_is_corrected(self, which: int, seen: int) -> None:
        look = self.account.looks[which % len(self.account.looks)]
        if look.seen == seen:
            return
        assert self.judged(look) == look.says
        self.look_again(look, seen)
        assert self.judged(look) == look.says, "a correction moves the conclusion at once"

    def look_again(self, look: Look, seen: int) -> None:
        with self.write() as writer:
            (preparation,) = writer.exam(look.code).preparations
            (reading,) = preparation.readings
            writer.correct(reading.code, replace(reading, counts={"oxyurid": seen}), "looked again")
        look.seen = seen

    def judged(self, look: Look) -> str:
        return next(one.result for one in judged_exams(self.file()) if one.exam.code == look.code)

    @precondition(lambda self: not self.closed)
    @rule(ending=st.sampled_from(["goal reached", "goal reached", "withdrawn: reading corrected"]))
    def somebody_closes_the_case(self, ending: str) -> None:
        before, rows = self.stands(), contents(self.folder)
        words = ["case", "close", "C1", "--ending", ending, "--on", f"{self.today}", "--json"]
        with contextlib.redirect_stdout(io.StringIO()) as out:
            code = run([*words, "--records", str(self.folder), "--by", "Mara Quell"])
        said = json.loads(out.getvalue())
        if ending == "goal reached":
            assert (code == 0) is before[0].may_close
        else:
            assert (code == 0) is not any(look.seen for look in self.account.looks)
        if code:
            assert code == 1 and said["reasons"][0]["text"]
            assert contents(self.folder) == rows, "a refused closing changes nothing"
            assert self.stands() == before
        else:
            self.closed, self.closed_on = ending, self.today

    # What must hold after every step

    @invariant()
    def clear_only_by_the_right_way(self) -> None:
        if not hasattr(self, "account") or not self.account.looks:
            return
        standing, _ = self.stands()
        assert standing.may_close is (standing.standing == followup.CLEAR)
        if standing.standing == followup.CLEAR:
            assert self.account.planned is not None
            assert self.account.supports_clear(self.today), standing
            since = [outcome for day, outcome in self.account.doses if day >= self.account.planned]
            assert self.account.accepted or since.count("given") >= DOSES, standing
            assert self.account.accepted or set(since) == {"given"}, standing
        if not self.account.planned and not any(look.seen for look in self.account.looks):
            assert standing.standing == followup.VETS_WORD

    @invariant()
    def something_always_comes_next(self) -> None:
        if not hasattr(self, "account") or not self.account.looks:
            return
        file = self.file()
        due = next_for_case("Saffron", "C1", self.stands()[0], file.plan, file.doses)
        assert due.what and due.next

    @invariant()
    def a_closing_without_its_basis_says_so(self) -> None:
        if not getattr(self, "closed", ""):
            return
        _, state = self.stands()
        if self.closed == "withdrawn: reading corrected":
            found = any(look.seen for look in self.account.looks if look.day <= self.closed_on)
            assert (state == NO_LONGER_SUPPORTED) is found
        elif not self.account.supports_clear(self.closed_on):
            assert state == NO_LONGER_SUPPORTED


def test_no_way_leads_to_clear_but_the_right_one(empty_folder: Path) -> None:
    CaseMachine.template = empty_folder
    run_state_machine_as_test(
        CaseMachine,
        settings=settings(
            max_examples=examples(20),
            stateful_step_count=15,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_the_right_way_leads_to_clear(empty_folder: Path) -> None:
    """The machine is able to arrive, so that its silence means something."""
    CaseMachine.template = empty_folder
    machine = CaseMachine()
    try:
        machine.begin()
        machine.time_passes(2)
        machine.the_vet_writes_a_plan()
        machine.the_whole_course()
        machine.wait_and_find_none_in_a_good_float(2)
        machine.clear_only_by_the_right_way()
        assert machine.stands()[0].standing == followup.K_OF_N
        machine.wait_and_find_none_in_a_good_float(1)
        assert machine.account.supports_clear(machine.today)
        assert machine.stands()[0].standing == followup.CLEAR
        machine.somebody_closes_the_case("goal reached")
        assert machine.closed == "goal reached"
        assert machine.stands()[1].startswith("closed on")
        machine.look_again(machine.account.looks[-1], 1)
        assert machine.stands()[1] == NO_LONGER_SUPPORTED
        machine.a_closing_without_its_basis_says_so()
    finally:
        machine.teardown()
