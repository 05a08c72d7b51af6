"""A window stays alive however long it is used, whatever Qt for Python does with the references of None."""

import sys


def test_more_calls_than_none_has_references_do_not_end_the_program(screen, qtbot):
    from napari_fecallab import dock_panel
    from qtpy.QtWidgets import QLabel

    assert dock_panel.Panel is not None
    if sys.version_info < (3, 12):
        assert min(sys.getrefcount(one) for one in (None, True, False)) > 1 << 28
    label = QLabel("")
    qtbot.addWidget(label)
    for number in range(300_000):
        label.setText("ab"[number % 2])
        label.isHidden()
    assert label.text() == "b" and label.parent() is None
