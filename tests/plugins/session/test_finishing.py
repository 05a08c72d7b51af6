"""Finishing: all of it in one transaction, read over before; later changes are corrections with a reason."""

from __future__ import annotations

import json
import random
import time

import pytest
from napari_fecallab import part_finish
from napari_fecallab.draft_file import path_of

from fecallab.domain.errors import BadInput, CouldNot, Refused
from fecallab.records.check import check
from fecallab.records.store import open_records
from fecallab.records.writer import Writer

from .conftest import KEEPER


def _readings(folder):
    with open_records(folder) as store:
        return [reading for made in store.exam("E1").preparations for reading in made.readings]


def test_a_full_exam_of_twenty_fields_with_thirty_five_organisms_is_read_back_from_the_store(
    session, folder, picture
):
    dice = random.Random(5)
    session.add_pictures([picture(f"{k:02}.png") for k in range(20)], "E1-1")
    uids = [view.uid for view in session.fields() if view.picture]
    session.set_objective(10, 20, uids)
    session.set_scale(0.65, 0.004, "the ruler", uids)
    names = ["oxyurid"] * 18 + ["coccidian"] * 9 + ["pollen_pine"] * 5 + ["ascarid"] * 3
    dice.shuffle(names)
    where = sorted(dice.choices(uids[:14], k=35))
    truth: dict[str, list[tuple]] = {uid: [] for uid in uids}
    for name, uid in zip(names, where, strict=True):
        if session.current != uid:
            session.go_to(uid)
        x, y, sure = dice.randrange(80), dice.randrange(60), name != "ascarid"
        made = session.add_mark(name, x, y, sure=sure).uids[0]
        length = None
        if dice.random() < 0.4:
            session.measure_line(made, (0, 0), (30, 40))
            length = 32.5
        truth[uid].append((name, x, y, sure, length))
    for uid in uids:
        if not truth[uid]:
            session.go_to(uid)
            session.nothing_here()
    assert session.next_undone() is None
    summary = session.summary()
    assert "22 of 22 read" in summary.lines[1] and not summary.needs_reason
    assert session.flush().words.startswith("saved")
    finished = session.finish()
    assert len(finished.readings) == 20 and set(finished.cases_opened) and "recorded" in finished.lines[0]
    cleaning = [line for line in finished.lines if "clean advice" in line]
    assert cleaning and not any(line.startswith("    ") or line.endswith(":") for line in finished.lines)
    recorded = [reading for reading in _readings(folder) if reading.picture]
    assert [
        [(m.name, m.x_px, m.y_px, m.sure, m.length_um) for m in reading.marks] for reading in recorded
    ] == [truth[uid] for uid in uids]
    assert sum(len(reading.marks) for reading in recorded) == 35
    assert all(m.named_by == KEEPER for reading in recorded for m in reading.marks)
    assert {(r.objective, r.field_number, r.um_per_px, r.proposals) for r in recorded} == {
        (10, 20, 0.65, "off")
    }
    assert check(folder).problems == () and check(folder).orphans == ()
    assert session.summary().nothing_to_do and session.undo() == ""
    with pytest.raises(BadInput, match="Nothing is to be recorded"):
        session.finish()
    session.close()
    assert not path_of(folder, "E1").exists()


def test_what_nobody_looked_at_stays_in_the_draft_and_is_no_zero(with_pictures, folder, opened):
    with_pictures.add_mark("oxyurid", 1, 1)
    summary = with_pictures.summary()
    assert summary.not_looked_at == 2 and "fields 4, 5" in summary.lines[-1]
    with_pictures.finish()
    assert len(_readings(folder)) == 3
    assert [view.state for view in with_pictures.fields()][3:] == ["not looked at"] * 2
    with_pictures.close()
    again = opened()
    assert [view.picture_name for view in again.fields() if not view.done] == ["field 2.png", "field 3.png"]
    for view in again.fields():
        if not view.done:
            again.nothing_here(view.uid)
    again.finish()
    assert len(_readings(folder)) == 5


def test_changing_what_is_recorded_needs_a_reason_and_keeps_the_old_row(with_pictures, folder, opened):
    with_pictures.add_marks([("oxyurid", 1, 1), ("coccidian", 2, 2), ("yeast", 3, 3)])
    with_pictures.finish()
    with_pictures.close()
    session = opened()
    session.rename_marks(["E1-1-3-1"], "ascarid")
    session.delete_marks(["E1-1-3-2"])
    session.add_mark("oxyurid", 9, 9, field="E1-1-3")
    summary = session.summary()
    assert summary.needs_reason and any(
        line == "  Correction of E1-1-3: 1 mark more, 1 mark fewer, 1 mark changed" for line in summary.lines
    )
    for reason in ("", "  "):
        with pytest.raises(BadInput, match="needs a reason"):
            session.finish(reason)
    assert [m.name for m in _readings(folder)[2].marks] == ["oxyurid", "coccidian", "yeast"]
    session.finish("looked again at 40x")
    assert [(m.code, m.name) for m in _readings(folder)[2].marks] == [
        ("E1-1-3-1", "ascarid"),
        ("E1-1-3-3", "yeast"),
        ("E1-1-3-4", "oxyurid"),
    ]
    with open_records(folder) as store:
        story = [(e.code, e.fact.name, e.reason, e.withdrawn) for e in store.history("E1-1-3-1")]
        gone = store.history("E1-1-3-2")[-1]
    assert story == [
        ("E1-1-3-1", "oxyurid", "", False),
        ("E1-1-3-1", "ascarid", "looked again at 40x", False),
    ]
    assert gone.withdrawn and gone.reason == "looked again at 40x" and gone.recorded_by == KEEPER


def test_a_recorded_field_is_withdrawn_with_its_marks(with_pictures, folder):
    with_pictures.add_marks([("oxyurid", 1, 1), ("coccidian", 2, 2)])
    with_pictures.finish()
    with_pictures.remove_field("E1-1-3")
    assert "  E1-1-3 is withdrawn from the records" in with_pictures.summary().lines
    with pytest.raises(BadInput, match="reason"):
        with_pictures.finish()
    with_pictures.finish("picture of another slide")
    assert [reading.code for reading in _readings(folder)] == ["E1-1-1", "E1-1-2"]


def test_a_recorded_field_that_lost_all_its_marks_needs_a_word(with_pictures, folder):
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.finish()
    with_pictures.delete_marks(["E1-1-3-1"])
    with pytest.raises(Refused, match="lost all its marks"):
        with_pictures.finish("was debris")
    with_pictures.nothing_here("E1-1-3")
    with_pictures.finish("was debris")
    assert _readings(folder)[2].marks == () and _readings(folder)[2].tally() == {}
    assert with_pictures.field("E1-1-3").state == "nothing here"


class Died(BaseException):
    pass


def _died(*_, **__):
    raise Died


@pytest.fixture(params=["America/Lima", "Asia/Tokyo"])
def zone(request, monkeypatch):
    """The keeper's clock in two places of the world."""
    if not hasattr(time, "tzset"):
        pytest.skip("the zone of a program cannot be set on this system")
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize("recorded", [True, False])
def test_a_window_that_died_while_recording_doubles_nothing_and_loses_nothing(
    zone, with_pictures, folder, opened, monkeypatch, recorded
):
    session = with_pictures
    session.add_marks([("oxyurid", 1, 1), ("coccidian", 2, 2)])
    session.nothing_here("f2")
    with monkeypatch.context() as patch, pytest.raises(Died):
        if recorded:  # after the transaction, before the journal knows
            patch.setattr(part_finish.FinishPart, "_begin_again", _died)
        else:  # within the transaction
            patch.setattr(Writer, "add_readings", _died)
        session.finish()
    assert "recording" in json.loads(path_of(folder, "E1").read_bytes().splitlines()[-1])
    session._saver.journal.close()
    again = opened()
    if recorded:
        assert "nothing is recorded twice" in again.notices[0]
        assert [view.uid for view in again.fields()] == ["E1-1-1", "E1-1-2", "E1-1-3", "E1-1-4", "f3"]
        again.nothing_here("f3")
        again.finish()
    else:
        assert [view.uid for view in again.fields()] == ["E1-1-1", "E1-1-2", "f1", "f2", "f3"]
        assert len(_readings(folder)) == 2
        again.remove_field("f3")
        again.finish()
    assert [[m.name for m in r.marks] for r in _readings(folder)][2:4] == [["oxyurid", "coccidian"], []]
    assert len(_readings(folder)) == (5 if recorded else 4)


def test_an_exam_that_was_recorded_and_cannot_be_read_again_is_not_recorded_twice(
    with_pictures, folder, opened, monkeypatch
):
    def broken(*_):
        raise CouldNot("The records cannot be read.", next="Try again.")

    with_pictures.add_mark("oxyurid", 1, 1)
    with monkeypatch.context() as patch, pytest.raises(CouldNot):
        patch.setattr(part_finish, "facts_of", broken)
        with_pictures.finish()
    for again in (with_pictures.finish, with_pictures.undo, lambda: with_pictures.add_mark("oxyurid", 2, 2)):
        with pytest.raises(CouldNot, match="is recorded, but it could not be read again"):
            again()
    with_pictures.close()
    assert "nothing is recorded twice" in opened().notices[0] and len(_readings(folder)) == 3


def test_a_disk_that_refuses_records_nothing_and_keeps_the_draft(with_pictures, folder, monkeypatch):
    def full(*_):
        raise CouldNot("The disk is full.", next="Free some space.")

    with_pictures.add_mark("oxyurid", 1, 1)
    with monkeypatch.context() as patch, pytest.raises(CouldNot):
        patch.setattr(Writer, "add_readings", full)
        with_pictures.finish()
    assert len(_readings(folder)) == 2 and len(with_pictures.marks("f1")) == 1
    assert with_pictures.undo() and with_pictures.redo()
    with_pictures.finish()
    assert len(_readings(folder)) == 3


def test_a_first_scale_for_recorded_marks_is_no_correction(with_pictures, folder):
    uid = with_pictures.add_mark("oxyurid", 1, 1).uids[0]
    with_pictures.measure_line(uid, (0, 0), (30, 40))
    assert any("Measured without a scale: field 3." in line for line in with_pictures.summary().lines)
    with_pictures.finish()
    assert _readings(folder)[2].marks[0].length_um is None
    with_pictures.set_scale(0.65, fields=["E1-1-3"])
    assert not with_pictures.summary().needs_reason
    with_pictures.finish()
    assert _readings(folder)[2].um_per_px == 0.65
    with_pictures.set_scale(0.7, fields=["E1-1-3"])
    assert with_pictures.summary().needs_reason


def test_finishing_opens_a_case_once(with_pictures, folder):
    with_pictures.add_mark("coccidian", 1, 1)
    assert len(with_pictures.finish().cases_opened) >= 1
    with_pictures.add_mark("coccidian", 1, 1, field="f2")
    assert with_pictures.finish().cases_opened == ()


def test_throwing_the_draft_away_leaves_the_exam_as_it_is_recorded(with_pictures, folder, opened):
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.discard()
    assert [view.uid for view in with_pictures.fields()] == ["E1-1-1", "E1-1-2"]
    with_pictures.close()
    assert not path_of(folder, "E1").exists() and opened().notices == ()


def test_a_new_field_needs_its_objective(session, folder, picture):
    session.go_to(session.add_pictures([picture("a.png")], "E1-2").uids[0])
    session.nothing_here()
    assert any("Without an objective: field 3." in line for line in session.summary().lines)
    with pytest.raises(BadInput, match="The objective of field 3 is not known"):
        session.finish()
    session.set_objective(40)
    session.finish()
    assert _readings(folder)[2].objective == 40


def test_pictures_of_a_preparation_that_was_withdrawn_are_not_lost(folder, opened, picture):
    session = opened()
    session.go_to(session.add_pictures([picture("a.png")], "E1-2", 40).uids[0])
    session.add_mark("flagellate", 3, 3)
    session.close()
    with open_records(folder) as store, store.write(by="Bram Osei", now=store_time()) as writer:
        writer.withdraw("E1-2", "never made")
    again = opened()
    assert "E1-2 was withdrawn from the records; 1 field of it is in E1-1 now" in " ".join(again.notices)
    assert again.field("f1").preparation == "E1-1" and [m.name for m in again.marks("f1")] == ["flagellate"]
    again.finish()
    assert [m.name for m in _readings(folder)[2].marks] == ["flagellate"]


def store_time():
    from .conftest import MORNING

    return MORNING.replace(hour=16)
