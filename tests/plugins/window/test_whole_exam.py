"""A whole exam of 20 fields with 35 organisms by key and mouse events, read back from the records."""

import pytest
from qtpy.QtCore import Qt

from fecallab.records.store import open_records

PER_FIELD = (3, 1, 0, 4, 2, 0, 2, 1, 3, 2, 0, 4, 1, 2, 3, 0, 2, 1, 3, 1)


def test_20_fields_with_35_organisms_by_events_read_back_from_the_records(hands, make_exam):
    assert len(PER_FIELD) == 20 and sum(PER_FIELD) == 35
    made = make_exam(PER_FIELD)
    hand = hands(made, 900, 600)
    unsure = 0
    for number, places in enumerate(made.truth):
        assert hand.session.field().number == number + 1
        for place in places:
            hand.point(place)
            if unsure < 3 and number % 5 == 0:
                hand.press("Shift+At")  # Shift and 2: not sure
                unsure += 1
            else:
                hand.press("2")
        hand.press("Space" if places else "E")
    assert hand.session.next_undone() is None
    hand.press("Q")
    hand.qtbot.keyClick(hand.dock.dialog, Qt.Key.Key_Return)
    hand.keys += 1
    hand.qtbot.waitUntil(lambda: hand.dock.dialog is None, timeout=20000)
    assert (hand.keys, hand.clicks) == (35 + 20 + 2, 0)
    with open_records(made.folder) as store:
        readings = store.exam(made.code).preparations[0].readings
    assert len(readings) == 20
    for reading, places in zip(readings, made.truth, strict=True):
        assert {mark.name for mark in reading.marks} <= {"oxyurid"}
        seen = sorted((mark.x_px, mark.y_px) for mark in reading.marks)
        assert len(seen) == len(places)
        for found, true in zip(seen, sorted(places), strict=True):
            assert found == pytest.approx(true, abs=1.5)
    assert sum(not mark.sure for reading in readings for mark in reading.marks) == 3
    assert hand.session.summary().nothing_to_do
