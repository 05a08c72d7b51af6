"""Fields: their order, what is done and what nobody has looked at, and saying that nothing is there."""

from __future__ import annotations

import pytest
from napari_fecallab.views import COUNTED, LOOKED_AT, MARKED, NOT_LOOKED_AT, NOTHING_HERE, RECORDED_EMPTY

from fecallab.domain.errors import BadInput
from fecallab.records.store import open_records

from .conftest import KEEPER, MORNING


def test_recorded_fields_come_first_and_new_ones_as_they_came(with_pictures):
    assert [view.uid for view in with_pictures.fields()] == ["E1-1-1", "E1-1-2", "f1", "f2", "f3"]
    assert [view.number for view in with_pictures.fields()] == [1, 2, 3, 4, 5]
    assert [view.state for view in with_pictures.fields()] == [
        COUNTED,
        NOTHING_HERE,
        LOOKED_AT,
        NOT_LOOKED_AT,
        NOT_LOOKED_AT,
    ]


def test_each_field_shows_preparation_objective_scale_counts_and_whether_it_is_done(with_pictures):
    with_pictures.set_scale(0.65, 0.004, "the ruler ruler.png")
    with_pictures.add_marks([("oxyurid", 1, 2), ("oxyurid", 3, 4)])
    with_pictures.add_mark("coccidian", 5, 6, sure=False)
    view = with_pictures.field()
    assert (view.preparation, view.method_words, view.objective) == ("E1-1", "simple flotation", 10)
    assert view.scale_words == "0.65 ± 0.004 µm per pixel, from the ruler ruler.png"
    assert (dict(view.sure), dict(view.unsure), view.state, view.done) == (
        {"oxyurid": 2},
        {"coccidian": 1},
        MARKED,
        True,
    )
    other = with_pictures.field("f2")
    assert other.scale_words == "no scale: sizes cannot be told" and not other.done and other.changed


def test_going_from_field_to_field_stops_at_both_ends(with_pictures):
    assert with_pictures.next_field().uid == "f2"
    assert with_pictures.next_field().uid == with_pictures.next_field().uid == "f3"
    assert [with_pictures.previous_field().uid for _ in range(5)] == [
        "f2",
        "f1",
        "E1-1-2",
        "E1-1-1",
        "E1-1-1",
    ]


def test_the_next_undone_field_is_found_around_the_end_and_none_when_all_are_done(with_pictures):
    with_pictures.nothing_here("f2")
    with_pictures.go_to("f2")
    assert with_pictures.next_undone().uid == "f3"
    with_pictures.nothing_here()
    assert with_pictures.next_undone().uid == "f1"
    with_pictures.add_mark("oxyurid", 1, 1)
    assert with_pictures.next_undone() is None and with_pictures.current == "f1"


def test_a_picture_that_nobody_has_looked_at_is_no_empty_field(with_pictures):
    with_pictures.go_to("f2")
    with_pictures.go_to("f3")
    assert [with_pictures.field(uid).done for uid in ("f1", "f2", "f3")] == [False] * 3
    table = with_pictures.burden_table()
    assert [row.mean_per_field for row in table.rows] == ["1 in 2"]  # the two at the eyepiece alone
    assert table.notes == ("3 pictures are not looked at yet and not counted here.",)
    with_pictures.nothing_here("f1")
    assert [row.mean_per_field for row in with_pictures.burden_table().rows] == ["0.667 in 3"]


def test_a_picture_that_was_only_taken_in_is_shown_as_not_looked_at(folder, opened, picture):
    from fecallab.domain.exam import Picture, Reading
    from fecallab.imaging.read import probe

    path = picture("phone.png")
    info = probe(path)
    with open_records(folder) as store, store.write(by=KEEPER, now=MORNING) as writer:
        kept = writer.add_picture(
            path,
            Picture(
                sha256=info.sha256,
                file_name=path.name,
                format=info.format,
                width_px=info.width_px,
                height_px=info.height_px,
                bytes=info.bytes,
            ),
        )
        writer.add_readings("E1-1", [Reading(objective=10, picture=kept.sha256)])
    session = opened()
    assert session.field("E1-1-3").state == RECORDED_EMPTY and not session.field("E1-1-3").done
    assert session.next_undone().uid == "E1-1-3"
    assert "not looked at here: field 3" in "\n".join(session.summary().lines)
    session.nothing_here("E1-1-3")
    assert not session.summary().needs_reason
    session.finish()
    session.close()
    again = opened()
    assert again.field("E1-1-3").state == NOTHING_HERE and again.next_undone() is None


def test_nothing_here_is_refused_while_there_is_something_and_taken_back_by_a_mark(with_pictures):
    with_pictures.add_mark("oxyurid", 1, 1)
    with pytest.raises(BadInput, match="There is 1 mark in field 3"):
        with_pictures.nothing_here()
    with_pictures.undo()
    with_pictures.nothing_here()
    assert with_pictures.field().state == NOTHING_HERE
    with_pictures.add_mark("oxyurid", 1, 1)
    assert with_pictures.field().state == MARKED
    with_pictures.undo()
    assert with_pictures.field().state == NOTHING_HERE  # one step brought both back


def test_a_field_is_removed_with_its_marks_and_comes_back_with_them(with_pictures):
    with_pictures.add_marks([("oxyurid", 1, 1), ("coccidian", 2, 2)])
    before = with_pictures.marks("f1")
    with_pictures.remove_field()
    assert with_pictures.current == "f2"
    assert [view.uid for view in with_pictures.fields()] == ["E1-1-1", "E1-1-2", "f2", "f3"]
    with pytest.raises(BadInput):
        with_pictures.mark(before[0].uid)
    with_pictures.undo()
    assert with_pictures.current == "f1" and with_pictures.marks("f1") == before


def test_the_last_field_can_go_too_and_an_exam_without_fields_says_so(opened, folder, picture):
    session = opened()
    for view in session.fields():
        session.remove_field(view.uid)
    assert session.fields() == () and session.current == ""
    with pytest.raises(BadInput, match="has no field yet"):
        session.add_mark("oxyurid", 1, 1)
    assert session.next_undone() is None and session.keys()
    session.add_pictures([picture("a.png")], "E1-2")
    assert session.current == "f1"


def test_the_objective_and_the_field_number_are_steps_and_checked(with_pictures):
    with_pictures.set_objective(40, 18, ["f1", "f2"])
    assert [with_pictures.field(uid).objective for uid in ("f1", "f2", "f3")] == [40, 40, 10]
    with_pictures.undo()
    assert with_pictures.field("f1").objective == 10
    for wrong in (0, -1, float("nan"), 1e9):
        with pytest.raises(BadInput):
            with_pictures.set_objective(wrong)
    assert with_pictures.field("f1").objective == 10


@pytest.mark.parametrize(
    ("exam", "says"),
    [("E9", "E9"), ("", ""), ("A1", "A1"), ("E1; drop", "E1")],
    ids=["none", "empty", "animal", "odd"],
)
def test_an_exam_that_is_not_there_is_one_clear_line(opened, exam, says):
    with pytest.raises(BadInput) as told:
        opened(exam)
    assert "\n" not in str(told.value) and says.upper() in str(told.value).upper()


def test_looking_only_changes_nothing_and_locks_nothing(opened, folder):
    first = opened()
    looking = opened(read_only=True)
    assert [view.uid for view in looking.fields()] == [view.uid for view in first.fields()]
    looking.go_to("E1-1-2")
    with pytest.raises(BadInput, match="only looks"):
        looking.remove_field()
    with pytest.raises(BadInput, match="only looks"):
        looking.finish()
    assert first.nothing_here("E1-1-2").uids


def test_counts_can_be_typed_for_a_field_and_what_swims_in_its_clip_is_kept(with_pictures, folder):
    session = with_pictures
    session.set_counts({"flagellate": 12, "oxyurid": 0}, {"ciliate": 1})
    session.set_swimming(3.2, 2.1, 4.4, 3.0)
    view = session.field()
    assert (dict(view.sure), dict(view.unsure), view.state) == ({"flagellate": 12}, {"ciliate": 1}, COUNTED)
    assert view.swimming == "3.2 at once (2.1 to 4.4)"
    assert session.counts("")[0] == {"oxyurid": 2, "flagellate": 12}
    session.finish()
    with open_records(folder) as store:
        reading = store.exam("E1").preparations[0].readings[2]
    assert (reading.counts, reading.unsure) == ({"flagellate": 12}, {"ciliate": 1})
    assert (reading.mean_swimming, reading.mean_swimming_high, reading.clip_seconds) == (3.2, 4.4, 3.0)
    assert session.field("E1-1-3").swimming == "3.2 at once (2.1 to 4.4)"
    told = session.add_mark("flagellate", 1, 1, field="E1-1-3").told
    assert "from now on its marks are counted instead" in told[0]
    with pytest.raises(BadInput, match="has marks"):
        session.set_counts({"flagellate": 3}, field="E1-1-3")
    for wrong in ({"flagellate": -1}, {"flagellate": 1.5}, {"unicorn": 2}):
        with pytest.raises(BadInput):
            session.set_counts(wrong, field="f2")
    with pytest.raises(BadInput):
        session.set_swimming(float("nan"))
