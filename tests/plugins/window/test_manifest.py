"""What napari reads of the plugin: manifest, menu, widget, sample data."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from napari_fecallab import sample_data

ROOT = Path(__file__).parents[3]
MANIFEST = ROOT / "plugins" / "napari_fecallab" / "napari.yaml"


@pytest.fixture(scope="module")
def manifest():
    from npe2 import PluginManifest

    made = PluginManifest.from_file(MANIFEST)
    made.validate_imports()
    return made


def test_the_manifest_is_valid_and_named_like_the_package(manifest):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert manifest.name == project["name"]
    assert project["entry-points"]["napari.manifest"] == {"fecallab": "napari_fecallab:napari.yaml"}
    assert all(command.id.startswith("fecallab.") for command in manifest.contributions.commands)
    assert not manifest.contributions.keybindings  # napari would ignore them: keys are put on the layers
    assert list(manifest.contributions.menus) == ["napari/layers/annotate"]


def test_no_qt_binding_is_asked_of_those_who_only_use_the_commands():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    base = " ".join(project["dependencies"]).lower()
    assert not any(word in base for word in ("qt", "pyside", "napari"))
    assert any(word.startswith("napari>=0.7") for word in project["optional-dependencies"]["napari"])


def test_the_panel_opens_from_the_menu_and_takes_an_exam(
    shared_viewer, npe2pm, manifest, qtbot, exam, monkeypatch
):
    """In the window of the other tests: napari's own test window has it read all manifests twice in a process."""
    viewer = shared_viewer
    npe2pm.register(manifest)
    monkeypatch.setenv("FECALLAB_RECORDS", str(exam.folder))
    _, panel = viewer.window.add_plugin_dock_widget("fecallab", "Mark an exam of the records")
    assert panel.exams.itemText(0).startswith(f"{exam.code} · Saffron")
    panel.open_exam("E99")
    assert "E99" in panel.trouble.text() and panel.dock is None
    panel.open_button.click()
    assert panel.dock is not None and panel.stack.currentWidget() is panel.dock
    assert {"picture", "marks"} <= {layer.name for layer in viewer.layers}
    panel.dock.control.hold_pointer((50.0, 60.0))
    panel.dock.control.press("2")
    assert [mark.name for mark in panel.dock.session.marks()] == ["oxyurid"]
    panel.dock.shut()
    viewer.layers.clear()
    qtbot.wait(20)


def test_sample_data_are_drawn_without_a_network():
    clip = sample_data.drawn_clip()[0]
    assert clip[2] == "image" and clip[0].shape == (60, 240, 320) and np.ptp(clip[0]) > 50
    assert not np.array_equal(clip[0][0], clip[0][30])


def test_sample_slides_are_on_their_scale(monkeypatch):
    drawn = []
    monkeypatch.setattr(
        "fecallab.imaging.draw.scene.draw_field", lambda spec, seed: (drawn.append(seed) or "pixels", [])
    )
    slides = sample_data.drawn_slides()
    assert [slide[1]["name"] for slide in slides] == ["dragon_before_1", "dragon_before_2", "dragon_before_3"]
    assert len(set(drawn)) == 3
    for _, options, kind in slides:
        assert kind == "image" and options["scale"] == (0.65, 0.65) and options["units"] == ("um", "um")


def test_the_drawn_exam_can_be_marked(tmp_path, monkeypatch):
    from napari_fecallab.session import MarkingSession

    monkeypatch.setattr(sample_data, "SLIDES", ("dragon_before_3.jpg",))
    folder, code = sample_data.make_drawn_exam(tmp_path / "records")
    with MarkingSession(folder, code, "you") as session:
        assert session.field().um_per_px == 0.65 and session.keys()
