"""Proposals that were made for an exam's pictures, as they come up in the window: by the keys of a keeper."""

from __future__ import annotations

from pathlib import Path

import pytest

from fecallab.imaging.detect.kept import keep
from fecallab.imaging.detect.propose import Detection, Proposal


def proposal(place, length=60.0, width=30.0):
    return Proposal(
        x_px=place[0],
        y_px=place[1],
        length_um=length,
        width_um=width,
        length_half_width_um=1.0,
        width_half_width_um=1.0,
        angle_deg=0.0,
        score=0.7,
        kind="oval",
        outline_px=((1.0, 1.0), (2.0, 2.0), (3.0, 1.0)),
    )


@pytest.fixture
def proposed(open_control, exam):
    """Every field has proposals on its organisms and one on nothing, as `exam propose` keeps them."""
    control = open_control()
    for view, places in zip(control.session.fields(), exam.truth, strict=True):
        found = [*map(proposal, places), proposal((160.0, 225.0), 12.0, 11.0)]
        keep(
            Path(exam.folder),
            view.picture,
            Detection(proposals=tuple(found), lit_fraction=1.0, sharpness=0.5, remark="", seconds=0.1),
            view.um_per_px,
            "one",
        )
    control.close()
    return open_control()


def shown(control):
    return (
        [tuple(place[::-1]) for place in control.viewer.layers["proposals"].data]
        if "proposals" in control.viewer.layers
        else []
    )


def test_a_field_is_read_alone_and_then_only_what_was_overlooked_comes_up(proposed, exam):
    control, (first, second) = proposed, exam.truth[0]
    assert shown(control) == []
    control.press("P")
    assert shown(control) == [] and control.message.startswith("Read the field first")
    control.point_at(first)
    control.press("2")
    assert shown(control) == []
    control.press("Space")
    assert control.session.field().number == 1
    assert {tuple(map(round, place)) for place in shown(control)} == {tuple(map(round, second)), (160, 225)}
    words = list(control.viewer.layers["proposals"].features["words"])
    assert all("fits" in word and "\n" in word for word in words)
    control.press("Space")
    assert control.session.field().number == 2
    control.press("PageUp")
    assert len(shown(control)) == 2


def test_words_at_the_right_edge_stand_to_the_left_of_their_outline(control):
    uid = control.session.current
    control.session.offer_proposals(
        uid, [("oxyurid", 60, 60, 70.0, 30.0, 0.0), ("coccidian", 300, 60, 20.0, 20.0, 0.0)]
    )
    control.press("E")
    points = control.viewer.layers["proposals"]
    left = control.viewer.layers["words of proposals at the right"]
    assert [tuple(place[::-1]) for place in left.data] == [(300, 60)] and len(points.data) == 2
    (before,), (beside, none) = left.text.values, points.text.values
    assert before.strip().startswith("coccidian") and not before.startswith(" ") and before.endswith(" ")
    assert "oxyurid" in beside and beside.startswith(" ") and none == ""
    assert (str(points.text.anchor), str(left.text.anchor)) == ("upper_left", "upper_right")
    control.press("H")
    assert not left.visible
    control.press("H")
    control.point_at((300, 60))
    control.press("D")
    assert left not in control.viewer.layers and len(shown(control)) == 1


def test_accepted_by_a_number_put_away_and_brought_back(proposed, exam):
    control = proposed
    control.press("E")
    assert "P goes to them" in control.message and len(shown(control)) == 3
    control.point_at(exam.truth[0][0])
    control.press("2")
    (mark,) = control.session.marks()
    assert mark.length_um == 60.0 and mark.width_um == 30.0
    assert control.session.field().state.startswith("marked"), "it is empty no longer"
    control.point_at((160.0, 225.0))
    control.press("D")
    assert len(shown(control)) == 1
    control.press("Control-Z")
    control.press("Control-Z")
    assert len(shown(control)) == 3 and control.session.marks() == ()


def test_agreeing_without_a_name_asks_for_one(proposed, exam):
    control = proposed
    control.press("E")
    control.point_at(exam.truth[0][0])
    control.press("A")
    assert control.session.marks() == ()
    assert "does not say what it is" in control.message and "number" in control.message


@pytest.mark.parametrize(
    ("when", "at_once"), [("before reading", True), ("after reading", False), ("off", False)]
)
def test_the_setting_holds_from_the_next_field_on(proposed, when, at_once):
    control = proposed
    control.session.set_proposals_when(when)
    control.press("PageDown")
    assert bool(shown(control)) is at_once
    control.press("E")
    assert bool(shown(control)) is (when != "off")
    control.press("P")
    if when == "off":
        assert "Proposals are off" in control.message
    assert control.session.field().proposals_shown == ("" if when == "off" else when)


def test_without_any_it_is_said_how_to_get_them(control):
    control.press("E")
    control.press("PageUp")
    control.press("P")
    assert "button Proposals" in control.message


def test_the_dialog_keeps_the_choice_and_has_them_made(hands, exam, qtbot):
    hand = hands(exam)
    hand.dock.ask_proposals()
    dialog = hand.dock.dialog
    assert dialog.choices["after reading"].isChecked()
    dialog.choices["before reading"].click()
    assert hand.session.proposals_when == "before reading"
    assert dialog.make_button.text() == "Make them for 3 pictures"
    dialog.make_button.click()
    qtbot.waitUntil(lambda: not hand.dock.proposing.isVisible(), timeout=60_000)
    assert "in 3 pictures" in hand.control.message
    assert hand.session.pictures_to_propose() == ()
    assert len(list((Path(exam.folder) / "proposals").rglob("*.json"))) == 3
    hand.dock.ask_proposals()
    assert not hand.dock.dialog.make_button.isEnabled()
