"""How long may they mix? takes for a collection of 2,000 animals in 200 enclosures with 50,000 exams.

``pytest tests/bench --benchmark-enable`` measures it in processor seconds, by turns with one plain pass over the
same exams; ratio and seconds stand in ``extra_info`` and in the last line.
"""

from __future__ import annotations

import time
from collections import Counter
from datetime import date, timedelta
from typing import Any

import pytest

from fecallab.domain.animal import Animal
from fecallab.domain.housing import Arrival, ArrivalMember, Enclosure, Housing, Release, Sharing, Stay
from fecallab.domain.quarantine import may_mix
from fecallab.domain.quarantine_exams import ArrivalExam
from fecallab.domain.quarantine_exposure import Situation
from fecallab.domain.quarantine_state import QuarantineFacts
from fecallab.reference.hosts import lineage
from fecallab.reference.quarantine import never_mixed, not_shown, protocol_template, spread_for

ANIMALS, ENCLOSURES, EXAMS_EACH, KEPT_APART, TURNS = 2_000, 200, 25, 400, 3
BUDGET_SECONDS = 0.3
CAME = date(2026, 3, 2)
TODAY = CAME + timedelta(days=110)


def collection() -> QuarantineFacts:
    codes = [f"A{number}" for number in range(ANIMALS)]
    template = protocol_template("gecko")
    groups = template.words("blocking")
    clean = dict.fromkeys(groups, "negative")
    housing = Housing(
        animals={code: Animal(code=code, name=code, host_group="gecko") for code in codes},
        enclosures=tuple(
            Enclosure(code=f"B{n}", name=f"tub {n}", room=f"room {n // 20}") for n in range(ENCLOSURES)
        ),
        sharings=tuple(
            Sharing(enclosure=f"B{n}", thing="tools", label=f"set {n // 2}") for n in range(ENCLOSURES)
        ),
        stays=tuple(
            Stay(animal=code, enclosure=f"B{number * ENCLOSURES // ANIMALS}", start=CAME)
            for number, code in enumerate(codes)
        ),
        arrivals=(Arrival(code="I1", arrived_on=CAME),),
        members=tuple(ArrivalMember(arrival="I1", animal=code, joined_on=CAME) for code in codes),
        protocols=(template.protocol("I1", CAME, "bench"),),
        releases=(Release(arrival="I1", animals=tuple(codes[KEPT_APART:]), on=TODAY, by="Mara Quell"),),
    )
    exams = {
        code: [
            ArrivalExam(
                code=f"E{number}-{place}",
                animal=code,
                taken_on=CAME + timedelta(days=1 + 4 * place),
                defecation=f"S{number}-{place}",
                results={**clean, "coccidian": "positive"} if number % 97 == 0 and place == 3 else clean,
                preparations=template.words("preparations"),
            )
            for place in range(EXAMS_EACH)
        ]
        for number, code in enumerate(codes)
    }
    return QuarantineFacts(
        housing=housing,
        exams=exams,
        spread=spread_for,
        lineage=lineage,
        never_mixed=never_mixed(),
        not_shown=not_shown,
    )


def test_every_answer_beside_one_pass_over_the_exams(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    facts = collection()
    answered: list[float] = []
    passed: list[float] = []

    def by_turns() -> None:
        started = time.process_time()
        situation = Situation(facts, TODAY)
        answers = [may_mix(group, situation) for group in situation.groups]
        answered.append(time.process_time() - started)
        assert sum(len(answer.members) for answer in answers) == KEPT_APART
        started = time.process_time()
        seen = Counter(
            result for rows in facts.exams.values() for one in rows for result in one.results.values()
        )
        passed.append(time.process_time() - started)
        assert seen["positive"] == -(-ANIMALS // 97)

    benchmark.pedantic(by_turns, rounds=TURNS, iterations=1)
    ratio = min(answered) / min(passed)
    benchmark.extra_info |= {"seconds": min(answered), "ratio": ratio}
    print(f"\nall answers {min(answered):.3f} s, {ratio:.1f} x one pass over {ANIMALS * EXAMS_EACH:,} exams")
    assert min(answered) < BUDGET_SECONDS
