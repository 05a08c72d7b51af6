"""Where there is no picture the canvas says what is there to do."""

from __future__ import annotations

from datetime import datetime

from fecallab.domain.exam import Reading
from fecallab.records.store import open_records


def words_on(control):
    canvas = getattr(control.viewer, "canvas", None)
    overlay = control.viewer.text_overlay if canvas is None else canvas.overlays.text
    return overlay.text if overlay.visible else ""


def test_a_sweep_at_the_eyepiece_says_what_to_do_and_a_picture_takes_the_words_away(open_control, exam):
    with open_records(exam.folder) as store, store.write("Mara", datetime(2026, 3, 4, 12)) as writer:
        code = store.exam(exam.code).preparations[0].code
        writer.add_readings(
            code, (Reading(kind="sweep", cover_share=1.0, objective=10, counts={"oxyurid": 2}),)
        )
    control = open_control()
    assert words_on(control) == "", "the first field has a picture"
    sweep = next(view for view in control.session.fields() if view.kind == "sweep")
    control.go_to(sweep.uid)
    said = words_on(control).splitlines()
    assert said[0] == "No picture was taken of this sweep, so there is nothing to mark on."
    assert any("Add pictures" in line for line in said) and f"fecallab exam tally {exam.code}" in said[-1]
    assert all(len(line) < 70 for line in said), "it fits beside the panel"
    control.go_to(control.session.fields()[0].uid)
    assert words_on(control) == ""


def test_an_exam_without_a_field_says_what_to_do(open_control, make_exam):
    control = open_control(make_exam(()))
    assert words_on(control).startswith("This exam has no field yet.")


def test_a_picture_that_cannot_be_shown_is_told_on_the_canvas(open_control, exam):
    control = open_control()
    with open_records(exam.folder) as store:
        one = store.picture_path(store.pictures()[1].sha256)
    one.write_bytes(b"broken")
    views = control.session.fields()
    control.go_to(views[1].uid)
    assert "cannot be shown" in words_on(control)
    assert views[1].picture_name in control.remarks[0] and views[1].picture not in control.remarks[0]
