"""A page that went out, and what is done with each answer to it: taken in, or refused whole in one line."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.errors import BadInput
from fecallab.records.store import Records
from fecallab.vet.answer import parse_answer
from fecallab.vet.incoming import Incoming, KnownBefore, from_page, record

from .conftest import NOW, Rescue, float_of

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]


@pytest.fixture
def page(rescue: Rescue) -> dict[str, str]:
    rescue.exam("2026-05-09", float_of(("oxyurid", False), ("pollen_pine", True)))
    rescue.case("oxyurid", "2026-05-09", "E1")
    return rescue.page("C1", "E1")


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory, empty_records: Path) -> tuple[Rescue, dict[str, str]]:
    """Records with one page, shared by tests in which nothing is ever changed."""
    made = Rescue(shutil.copytree(empty_records, tmp_path_factory.mktemp("shared") / "records"))
    made.animal()
    made.exam("2026-05-09", float_of(("oxyurid", False), ("pollen_pine", True)))
    made.case("oxyurid", "2026-05-09", "E1")
    return made, made.page("C1", "E1")


def take(rescue: Rescue, answer: Any, now: datetime = NOW) -> Incoming | KnownBefore:
    """Take an answer in as the command does, all in one transaction."""
    data = answer if isinstance(answer, bytes) else json.dumps(answer).encode()
    with rescue.open() as store, store.write("keeper", now) as writer:
        found = from_page(writer, parse_answer(data), "ab" * 32, now)
        if isinstance(found, Incoming):
            record(writer, found)
        return found


def facts(store: Records) -> int:
    from fecallab.records.check import count_facts

    with store._connection() as connection:
        return count_facts(connection)


def refused(rescue: Rescue, answer: Any, said: str, now: datetime = NOW) -> BadInput:
    with rescue.open() as store:
        before = facts(store)
    with pytest.raises(BadInput, match=said) as caught:
        take(rescue, answer, now)
    line = str(caught.value)
    assert "\n" not in line and len(line) < 600 and caught.value.reason.next
    with rescue.open() as store:
        assert facts(store) == before
    return caught.value


GOOD = {"marks": [{"mark": "E1-1-1-1", "verdict": "agree"}]}
