"""The place for proposals: hidden until a field was read once, and kept whether they were shown before or after."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.records.store import open_records

OFFERED = [("oxyurid", 10.0, 11.0, 120.0, 60.0, 30.0), ("coccidian", 20.0, 21.0, None, None, None)]


def test_proposals_are_hidden_until_the_field_was_read_once(with_pictures):
    uids = with_pictures.offer_proposals("f1", OFFERED)
    assert with_pictures.proposals() == () and with_pictures.field().proposals_open == 2
    assert with_pictures.counts("") == ({"oxyurid": 2}, {})  # they count for nothing
    with_pictures.add_mark("yeast", 1, 1)
    assert with_pictures.proposals() == ()  # one mark is not the whole field
    assert with_pictures.have_read() == 2
    shown = with_pictures.proposals()
    assert tuple(one.uid for one in shown) == uids
    assert shown[0].words == "oxyurid?, about 120 µm long" and not hasattr(shown[0], "score")
    assert with_pictures.field().proposals_shown == "after reading"


def test_accepting_renaming_and_dismissing_are_steps(with_pictures):
    a, b = with_pictures.offer_proposals("f1", OFFERED)
    with_pictures.nothing_here()
    (mark,) = with_pictures.accept_proposals([a]).uids
    view = with_pictures.mark(mark)
    assert (view.name, view.x_px, view.length_um, view.named_by) == ("oxyurid", 10, 120, "Mara Quell")
    assert [one.uid for one in with_pictures.proposals()] == [b]
    with pytest.raises(BadInput, match="no open proposal"):
        with_pictures.accept_proposals([a])
    with_pictures.dismiss_proposals([b])
    assert with_pictures.proposals() == ()
    with_pictures.undo()
    with_pictures.undo()
    assert [one.uid for one in with_pictures.proposals()] == [a, b] and with_pictures.marks() == ()
    (mark,) = with_pictures.accept_proposals([a, b], "ascarid", sure=False).uids[:1]
    assert (with_pictures.mark(mark).name, with_pictures.mark(mark).sure) == ("ascarid", False)


@pytest.mark.parametrize(
    ("when", "shown", "kept"),
    [
        ("after reading", False, "after reading"),
        ("before reading", True, "before reading"),
        ("off", False, "off"),
    ],
)
def test_whether_they_were_shown_before_or_after_reading_is_recorded(
    with_pictures, folder, when, shown, kept
):
    with_pictures.set_proposals_when(when)
    with_pictures.offer_proposals("f1", OFFERED)
    assert bool(with_pictures.proposals()) is shown
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.have_read()
    assert bool(with_pictures.proposals()) is (when != "off")
    with_pictures.finish()
    with open_records(folder) as store:
        reading = store.exam("E1").preparations[0].readings[-1]
    assert reading.proposals == kept and reading.picture


def test_what_was_seen_before_reading_never_becomes_after(with_pictures):
    with_pictures.set_proposals_when("before reading")
    with_pictures.offer_proposals("f1", OFFERED)
    assert with_pictures.proposals()
    with_pictures.set_proposals_when("after reading")
    with_pictures.add_mark("oxyurid", 1, 1)
    assert with_pictures.proposals() and with_pictures.field().proposals_shown == "before reading"


def test_proposals_and_what_became_of_them_outlive_a_crash(with_pictures, opened):
    a, b = with_pictures.offer_proposals("f1", OFFERED)
    with_pictures.nothing_here()
    with_pictures.dismiss_proposals([a])
    with_pictures.close()
    session = opened()
    assert [one.uid for one in session.proposals("f1")] == [b]
    session.undo()
    assert [one.uid for one in session.proposals("f1")] == [a, b]


def test_a_new_offer_takes_the_place_of_what_is_still_open(with_pictures):
    a, b = with_pictures.offer_proposals("f1", OFFERED)
    with_pictures.nothing_here()
    with_pictures.accept_proposals([a])
    (c,) = with_pictures.offer_proposals("f1", OFFERED[1:])
    assert [one.uid for one in with_pictures.proposals()] == [c] and c not in (a, b)
    with_pictures.undo()
    assert [one.uid for one in with_pictures.proposals()] == [a, c]


def test_a_word_that_is_no_choice_is_refused(with_pictures):
    with pytest.raises(BadInput):
        with_pictures.set_proposals_when("always")
    with pytest.raises(BadInput):
        with_pictures.offer_proposals("f1", [("unicorn", 1, 1, None, None, None)])


def test_a_proposal_that_no_mark_could_be_is_put_right_or_refused(with_pictures, folder):
    (uid,) = with_pictures.offer_proposals("f1", [("oxyurid", 3, 4, -5.0, float("nan"), 180.0)])
    with pytest.raises(BadInput, match="no place"):
        with_pictures.offer_proposals("f1", [("oxyurid", float("inf"), 4, None, None, None)])
    with_pictures.nothing_here()
    with_pictures.accept_proposals([uid])
    with_pictures.finish()
    with open_records(folder) as store:
        (mark,) = store.exam("E1").preparations[0].readings[-1].marks
    assert (mark.length_um, mark.width_um, mark.angle_deg) == (None, None, 0)
