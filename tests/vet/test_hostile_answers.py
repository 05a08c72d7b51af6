"""An answer is a stranger's file: whatever is wrong with it is refused in one line, and nothing is recorded."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput, FecallabError
from fecallab.records.vet_words import answers as answers_of
from fecallab.vet.answer import EXAMPLE, parse_answer, to_block
from fecallab.vet.canonical import canonical
from fecallab.vet.incoming import KnownBefore

from ..effort import examples
from .conftest import VET, Rescue
from .taking_in import GOOD, facts, page, refused, sent, take

__all__ = ["page", "sent"]


Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"format": "something-else"}, "no answer of a vet's page"),
        ({"version": 2}, "version 2"),
        ({"version": True}, "version True"),
        ({"version": "1"}, "version 1;"),
        ({"extra": 1}, "not of the form at extra"),
        ({"page": {"id": "0000-0000", "hash": "0" * 64}}, "was not made from these records"),
        ({"vet": {"name": ""}}, "vet > name"),
        ({"vet": {"name": "two\nlines"}}, "vet > name"),
        ({"vet": {"name": "x" * 500}}, "vet > name"),
        ({"answered_at": "yesterday"}, "answered_at"),
        ({"answered_at": "2026-05-12T18:40+02:00"}, "answered_at"),
        ({"answered_at": "2026-06-30T18:40"}, "in the future"),
        ({"answered_at": "2026-05-01T18:40"}, "before the page was made"),
        ({"rest_agreed": "yes"}, "rest_agreed"),
        ({"marks": [{"mark": "E1-1-1-9", "verdict": "agree"}]}, "was not on page"),
        ({"marks": [{"mark": "E9-1-1-1", "verdict": "agree"}]}, "was not on page"),
        ({"marks": [{"mark": "<script>alert(1)</script>", "verdict": "agree"}]}, "marks > 0 > mark"),
        ({"marks": [{"mark": "E1-1-1-1", "verdict": "yes"}]}, "marks > 0 > verdict"),
        ({"marks": [{"mark": "E1-1-1-1", "verdict": "other"}]}, "needs a name"),
        ({"marks": [{"mark": "E1-1-1-1", "verdict": "agree", "name": "oxyurid"}]}, "takes no name"),
        ({"marks": [{"mark": "E1-1-1-1", "verdict": "other", "name": "wibble"}]}, "no organism or group"),
        ({"marks": GOOD["marks"] * 2}, "two words on the mark E1-1-1-1"),
        (
            {"missed": [{"reading": "E1-1-1", "x_px": "12", "y_px": 3, "name": "oxyurid"}]},
            "missed > 0 > x_px",
        ),
        (
            {"missed": [{"reading": "E1-1-1", "x_px": True, "y_px": 3, "name": "oxyurid"}]},
            "missed > 0 > x_px",
        ),
        ({"missed": [{"reading": "E1-1-1", "x_px": -5, "y_px": 3, "name": "oxyurid"}]}, "missed > 0 > x_px"),
        ({"missed": [{"reading": "E2-1-1", "x_px": 5, "y_px": 3, "name": "oxyurid"}]}, "was not on the page"),
        ({"exams": [{"exam": "E2"}]}, "which was not on page"),
        ({"exams": [{"exam": "E1", "adequacy": "perhaps"}]}, "exams > 0 > adequacy"),
        ({"exams": [{"exam": "E1", "target": "wibble"}]}, "no organism or group"),
        ({"cases": [{"case": "C2"}]}, "which was not on the page"),
        ({"cases": [{"case": "C1", "plan": {"kind": "same", "plan": "P1"}}]}, "which is none of case C1"),
        ({"cases": [{"case": "C1", "plan": {"kind": "new", "doses_planned": 1.5}}]}, "doses_planned"),
        ({"cases": [{"case": "C1", "plan": {"kind": "new", "dose_mg_per_kg": "50"}}]}, "dose_mg_per_kg"),
        ({"cases": [{"case": "C1", "plan": {"kind": "new", "dose_mg_per_kg": -1}}]}, "dose_mg_per_kg"),
        ({"cases": [{"case": "C1", "plan": {"kind": "drug"}}]}, "kind"),
        ({"words": "x" * 5_000}, "words"),
        ({"words": "a\u0000b"}, "cannot be recorded"),
        ({"words": "a\u202eb"}, "cannot be recorded"),
        ({"words": "\ud800"}, "cannot be recorded"),
        ({"signature": {"algorithm": "none", "public_key": "A" * 43, "signature": "A" * 86}}, "signature"),
    ],
)
def test_what_is_not_of_the_form_is_refused(
    sent: tuple[Rescue, dict[str, str]], change: dict[str, Any], said: str
) -> None:
    rescue, page = sent
    refused(rescue, {**rescue.answer(page, **GOOD), **change}, said)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "holds no answer"),
        (b"[]", "no answer of a vet's page"),
        (b"{}", "no answer of a vet's page"),
        (b'{"format": "fecallab-answer", "version": 1', "not whole"),
        (b'{"format": "fecallab-answer", "format": "x"}', "says 'format' twice"),
        (b'{"format": "fecallab-answer", "version": NaN}', "holds NaN"),
        (b'{"format": "fecallab-answer", "version": -Infinity}', "holds -Infinity"),
        (b'{"format": "fecallab-answer", "version": 1e999}', "not finite"),
        (b'{"format": "fecallab-answer", "version": ' + b"9" * 5000 + b"}", "not whole|too large"),
        (b'{"a":' * 50_000 + b"1" + b"}" * 50_000, "nested 50000 deep"),
        (b"[" * 13, "nested 13 deep"),
        (b'{"format": "\xff"}', "not text in UTF-8"),
        (b"\x00\x01\x02", "holds no answer"),
        (b"{" + b" " * 4_000_001, "4,000,000 at most"),
        (b"fecallab answer begins (1, 4, 00000000)\ne30=", "cut off"),
        (b"fecallab answer begins (1, 3, 00000000)\ne30\nfecallab answer ends", "changed on the way"),
    ],
)
def test_bytes_that_are_no_answer_are_refused(data: bytes, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        parse_answer(data)


def test_a_changed_hash_or_id_is_named_as_such(rescue: Rescue, page: dict[str, str]) -> None:
    for other in ({**page, "hash": "0" * 64}, {**page, "id": "0000-0000"}):
        refused(rescue, rescue.answer(other, **GOOD), "do not belong together")


def test_a_file_of_a_gigabyte_is_refused_before_it_is_read(rescue: Rescue, say: Say, tmp_path: Path) -> None:
    huge = tmp_path / "huge.json"
    with huge.open("wb") as file:
        file.truncate(1_000_000_000)
    assert huge.stat().st_blocks * 512 < 1_000_000, "a hole, not a gigabyte on this disk"
    told = say("vet", "take-in", huge, code=2)
    assert "1,000,000,000 bytes" in told and "Traceback" not in told
    assert "is no file" in say("vet", "take-in", tmp_path, code=2)


def test_tags_and_scripts_are_kept_as_text_and_escaped_on_pages(
    rescue: Rescue, page: dict[str, str], do: Do
) -> None:
    evil = "<script>alert('x')</script><img src=x onerror=alert(1)>"
    answer = rescue.answer(
        page,
        vet={"name": evil, "practice": evil},
        marks=[{"mark": "E1-1-1-1", "verdict": "agree", "remark": evil}],
        exams=[{"exam": "E1", "grade": evil, "remark": evil}],
        cases=[{"case": "C1", "advice": evil}],
        words=evil,
    )
    do("vet", "take-in", rescue.file(answer), "--yes")
    with rescue.open() as store:
        assert store.exam("E1").verdicts.answers["Y1"].vet == evil
    do("report", "case", "C1", "--to", "pages")
    for written in Path("pages").glob("*.html"):
        text = written.read_text(encoding="utf-8")
        assert "<script>alert" not in text and "<img src=x" not in text, written
    assert "alert(&#39;x&#39;)" in (Path("pages") / "exam-E1.html").read_text(encoding="utf-8")
    do("case", "show", "C1")
    do("verdict", "list")


def test_an_old_answer_replayed_after_a_correction_changes_nothing(
    rescue: Rescue, page: dict[str, str]
) -> None:
    old = rescue.answer(page, **GOOD)
    new = rescue.answer(
        page, marks=[{"mark": "E1-1-1-1", "verdict": "artefact"}], answered_at="2026-05-13T08:00"
    )
    take(rescue, old)
    take(rescue, new)
    assert take(rescue, old) == KnownBefore(code="Y1", withdrawn=False)
    again = {**old, "words": "one more blank"}
    refused(rescue, again, "sent a later answer to this page")
    assert take(rescue, {**old, "vet": {"name": "Dr Tomas Ebner"}}), "another vet may answer at any time"


def test_a_withdrawn_answer_does_not_come_back(rescue: Rescue, page: dict[str, str], do: Do) -> None:
    answer = rescue.answer(page, **GOOD)
    take(rescue, answer)
    do("verdict", "withdraw", "Y1", "--reason", "of another animal")
    spaced = json.dumps(answer, indent=3).encode()
    assert take(rescue, spaced) == KnownBefore(code="Y1", withdrawn=True)
    assert take(rescue, to_block(spaced).encode()) == KnownBefore(code="Y1", withdrawn=True)


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=20)
    | st.sampled_from(
        ["E1-1-1-1", "E1", "C1", "P1", "agree", "other", "oxyurid", "new", "same", 1, "2026-05-12T18:40"]
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


def paths(value: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [here]
    if isinstance(value, dict):
        for key, inner in value.items():
            found += paths(inner, (*here, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            found += paths(inner, (*here, place))
    return found


@settings(max_examples=examples(150), deadline=None)
@given(st.data())
def test_any_change_to_an_answer_is_read_or_refused_in_one_line(data: st.DataObject) -> None:
    answer = copy.deepcopy(EXAMPLE)
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.sampled_from(paths(answer)[1:]))
        holder: Any = answer
        for step in place[:-1]:
            holder = holder[step]
        if data.draw(st.booleans()):
            holder[place[-1]] = data.draw(JSON_VALUES)
        elif isinstance(holder, dict):
            del holder[place[-1]]
        else:
            holder.append(data.draw(JSON_VALUES))
    try:
        read = parse_answer(json.dumps(answer).encode("utf-8", "surrogatepass"))
    except FecallabError as error:
        assert isinstance(error, BadInput) and "\n" not in error.reason.code
    else:
        assert read.answer.format == "fecallab-answer"
        assert canonical(read.raw) == canonical(parse_answer(canonical(read.raw)).raw)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda t: t.encode("utf-8", "surrogatepass")))
def test_any_bytes_are_refused_in_one_line(data: bytes) -> None:
    with pytest.raises(BadInput):
        parse_answer(data)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_answer_to_a_page_is_taken_whole_or_not_at_all(
    rescue: Rescue, page: dict[str, str], data: st.DataObject
) -> None:
    word = st.fixed_dictionaries(
        {
            "mark": st.sampled_from(["E1-1-1-1", "E1-1-1-2", "E1-1-1-3", "E1-1-1:oxyurid"]),
            "verdict": st.sampled_from(["agree", "other", "artefact", "cannot tell"]),
        },
        optional={"name": st.sampled_from(["", "oxyurid", "coccidian", "x"]), "remark": st.text(max_size=20)},
    )
    answer = rescue.answer(
        page,
        vet={"name": data.draw(st.sampled_from([VET, "Dr Tomas Ebner"]))},
        answered_at=data.draw(st.sampled_from(["2026-05-12T18:40", "2026-05-13T08:00", "2026-05-19T08:00"])),
        marks=data.draw(st.lists(word, max_size=3)),
        rest_agreed=data.draw(st.booleans()),
        words=data.draw(st.text(max_size=30)),
    )
    with rescue.open() as store:
        before, said = facts(store), len(answers_of(store))
    try:
        found = take(rescue, json.dumps(answer).encode("utf-8", "surrogatepass"))
    except BadInput:
        added = 0
    else:
        added = 0 if isinstance(found, KnownBefore) else 1 + len(found.marks)
    with rescue.open() as store:
        assert facts(store) == before + added
        assert len(answers_of(store)) == said + (added > 0)
