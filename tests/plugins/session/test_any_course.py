"""Whatever is done in whatever order, with undo, redo, crashes and finishes between: the session is a simple model."""

from __future__ import annotations

import copy
import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from napari_fecallab.draft_file import path_of
from napari_fecallab.session import MarkingSession
from napari_fecallab.views import LOOKED_AT, MARKED, NOT_LOOKED_AT, NOTHING_HERE
from PIL import Image

from fecallab.domain.errors import BadInput, Refused
from fecallab.records.store import open_records

from .conftest import KEEPER, Clock

NAMES = ("oxyurid", "coccidian", "yeast", "ascarid")
PLACES = st.integers(0, 50)


@dataclass
class ModelField:
    """A picture with its marks; `said` is what the records hold of it, None for a field that is new."""

    picture: str
    marks: list[list] = field(default_factory=list)
    nothing: bool = False
    said: tuple | None = None

    @property
    def done(self) -> bool:
        return bool(self.marks) or self.nothing

    @property
    def says(self) -> tuple:
        return (tuple(map(tuple, self.marks)), self.nothing)


class Marking(RuleBasedStateMachine):
    """Marks three pictures of one exam."""

    template: Path

    def __init__(self) -> None:
        super().__init__()
        self.home = Path(tempfile.mkdtemp())
        self.folder = Path(shutil.copytree(self.template, self.home / "records"))
        self.opened: set[str] = set()

    @initialize()
    def begin(self) -> None:
        self.session = MarkingSession(self.folder, "E1", KEEPER, Clock())
        pictures = []
        for number in range(3):
            pictures.append(self.home / f"{number}.png")
            Image.new("RGB", (60, 60), (number, 9, 9)).save(pictures[-1])
        self.session.add_pictures(pictures, "E1-1")
        self.now = [ModelField(path.name) for path in pictures]
        self.past: list[list[ModelField]] = []
        self.undone: list[list[ModelField]] = []
        self.recorded: list[ModelField] = []
        self.first_undo = True

    def teardown(self) -> None:
        self.session.close()
        shutil.rmtree(self.home)

    # what both are asked

    def _fields(self):
        return [view for view in self.session.fields() if view.picture]

    def _uid(self, which: int) -> str:
        return self._fields()[which % len(self.now)].uid

    def _begin_step(self) -> None:
        self.past.append(copy.deepcopy(self.now))
        self.undone.clear()

    @invariant()
    def agrees(self) -> None:
        if not hasattr(self, "session"):
            return
        views = self._fields()
        assert [view.picture_name for view in views] == [each.picture for each in self.now]
        for view, each in zip(views, self.now, strict=True):
            marks = [[m.name, int(m.x_px), int(m.y_px), m.sure] for m in self.session.marks(view.uid)]
            assert marks == each.marks
            assert sum(view.sure.values()) == sum(m[3] for m in each.marks)
            assert sum(view.unsure.values()) == sum(not m[3] for m in each.marks)
            looked = each.picture in self.opened or (each.said and each.said[0])
            quiet = NOTHING_HERE if each.nothing else LOOKED_AT if looked else NOT_LOOKED_AT
            assert view.state == (MARKED if each.marks else quiet)
        assert bool(self.session.redo_words) == bool(self.undone)

    # what a person does

    some = precondition(lambda self: bool(self.now))

    @some
    @rule(
        which=PLACES,
        names=st.lists(st.sampled_from(NAMES), min_size=1, max_size=3),
        x=PLACES,
        sure=st.booleans(),
    )
    def mark(self, which, names, x, sure):
        uid, each = self._uid(which), self.now[which % len(self.now)]
        self.session.add_marks([(name, x, k) for k, name in enumerate(names)], sure=sure, field=uid)
        self._begin_step()
        each = self.now[which % len(self.now)]
        each.marks += [[name, x, k, sure] for k, name in enumerate(names)]
        each.nothing = False

    def _some_mark(self, which, one):
        place = which % len(self.now)
        held = self.now[place].marks
        if not held:
            return None
        return place, one % len(held), self.session.marks(self._uid(which))[one % len(held)].uid

    @some
    @rule(which=PLACES, one=PLACES, x=PLACES, name=st.sampled_from(NAMES), what=st.integers(0, 3))
    def change(self, which, one, x, name, what):
        found = self._some_mark(which, one)
        if found is None:
            return
        place, number, uid = found
        new = copy.deepcopy(self.now)
        held = new[place].marks[number]
        if what == 0:
            self.session.move_marks({uid: (x, x)})
            held[1:3] = [x, x]
        elif what == 1:
            self.session.rename_marks([uid], name)
            held[0] = name
        elif what == 2:
            self.session.set_sure([uid])
            held[3] = not held[3]
        else:
            self.session.delete_marks([uid])
            del new[place].marks[number]
        if [each.says for each in new] != [each.says for each in self.now]:
            self._begin_step()
            self.now = new

    @some
    @rule(which=PLACES)
    def clear(self, which):
        place = which % len(self.now)
        if self.now[place].marks:
            self.session.delete_marks([mark.uid for mark in self.session.marks(self._uid(which))])
            self._begin_step()
            self.now[place].marks = []

    @some
    @rule(which=PLACES)
    def nothing(self, which):
        each = self.now[which % len(self.now)]
        if each.marks:
            with pytest.raises(BadInput):
                self.session.nothing_here(self._uid(which))
            return
        self.session.nothing_here(self._uid(which))
        if not each.nothing:
            self._begin_step()
            self.now[which % len(self.now)].nothing = True

    @some
    @rule(which=PLACES)
    def look(self, which):
        self.opened.add(self.now[which % len(self.now)].picture)
        self.session.go_to(self._uid(which))

    @precondition(lambda self: len(self.now) > 1)
    @rule(which=PLACES)
    def remove(self, which):
        self.session.remove_field(self._uid(which))
        self._begin_step()
        del self.now[which % len(self.now)]

    @rule(times=st.integers(1, 3))
    def undo(self, times):
        for _ in range(times):
            if not self.past:
                return
            assert self.session.undo()
            self.undone.append(self.now)
            self.now = self.past.pop()

    @rule(times=st.integers(1, 3))
    def redo(self, times):
        for _ in range(times):
            assert bool(self.session.redo()) == bool(self.undone)
            if not self.undone:
                return
            self.past.append(self.now)
            self.now = self.undone.pop()

    # what happens to it

    @rule(torn=st.sampled_from([b"", b'{"step":"x","cha', b"\0\0\0"]))
    def crash_and_reopen(self, torn):
        assert self.session.flush().pending == 0
        self.session._saver.journal.close()  # the system lets go of what a killed program held
        path = path_of(self.folder, "E1")
        path.write_bytes(path.read_bytes() + torn)
        self.session = MarkingSession(self.folder, "E1", KEEPER, Clock())

    @rule()
    def close_and_reopen(self):
        self.session.close()
        self.session = MarkingSession(self.folder, "E1", KEEPER, Clock())

    @rule()
    def finish(self):
        wordless = [each for each in self.now if each.said and not each.done]
        if wordless:
            with pytest.raises(Refused):
                self.session.finish("checked")
            return
        still = {each.picture for each in self.now}
        gone = [each for each in self.recorded if each.picture not in still]
        if not gone and all(each.said == each.says if each.said else not each.done for each in self.now):
            with pytest.raises(BadInput, match="Nothing is to be recorded"):
                self.session.finish("checked")
            return
        self.session.finish("checked")
        kept = [each for each in self.now if each.done]
        for each in kept:
            each.said = each.says
        old = [each for each in kept if each.picture in {one.picture for one in self.recorded}]
        new = [each for each in kept if each not in old]
        self.now = [*old, *new, *(each for each in self.now if not each.done)]
        self.recorded = copy.deepcopy([*old, *new])
        self.past, self.undone = [], []
        self.opened -= {each.picture for each in self.recorded}
        self._holds()

    def _holds(self):
        with open_records(self.folder) as store:
            readings = [r for r in store.exam("E1").preparations[0].readings if r.picture]
        assert [
            (tuple((m.name, int(m.x_px), int(m.y_px), m.sure) for m in r.marks), not r.marks)
            for r in readings
        ] == [each.said for each in self.recorded]
        assert all(r.proposals == "off" for r in readings)


def test_any_course_equals_the_model(_exam_folder):
    Marking.template = _exam_folder
    run_state_machine_as_test(
        Marking,
        settings=settings(
            max_examples=8,
            stateful_step_count=20,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
