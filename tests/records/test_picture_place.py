"""Pictures in a place that several computers share, as stores far away behave."""

import hashlib
from pathlib import Path
from typing import ClassVar

import fsspec
import pytest
from fsspec.implementations.memory import MemoryFileSystem

from fecallab.domain.errors import CouldNot
from fecallab.domain.exam import Picture
from fecallab.records.picture_place import SharedPictures


class RememberingStore(MemoryFileSystem):
    """A store that answers from what it remembers of a file, as clients of object stores do."""

    protocol = "remembering"
    store: ClassVar[dict] = {}
    pseudo_dirs: ClassVar[list] = [""]
    remembered: ClassVar[dict] = {}
    away = False

    @classmethod
    def _strip_protocol(cls, path):
        return super()._strip_protocol(path.replace("remembering://", "memory://"))

    def open(self, path, mode="rb", **rest):
        if self.away:
            raise ConnectionError("no route to the store")
        path = self._strip_protocol(path)
        if mode == "rb" and path in self.store:
            kept = self.remembered.setdefault(path, self.store[path].getvalue())
            if kept != self.store[path].getvalue():
                raise OSError("the file is not the one that was remembered")
        return super().open(path, mode, **rest)

    def invalidate_cache(self, path=None):
        self.remembered.clear()


fsspec.register_implementation("remembering", RememberingStore)


@pytest.fixture
def shared(tmp_path: Path):
    bytes_of_it = b"a slide, as the camera wrote it"
    source = tmp_path / "drop.jpg"
    source.write_bytes(bytes_of_it)
    info = Picture(
        file_name="drop.jpg",
        sha256=hashlib.sha256(bytes_of_it).hexdigest(),
        format="JPEG",
        width_px=4,
        height_px=3,
        bytes=len(bytes_of_it),
    )
    place = SharedPictures("remembering://rescue/pictures", tmp_path / "records")
    assert place.place(source, info)
    yield place, info
    RememberingStore.store.clear()
    RememberingStore.remembered.clear()
    RememberingStore.away = False


def test_a_picture_that_was_exchanged_in_the_store_is_called_changed(shared) -> None:
    place, info = shared
    assert list(place.problems(info)) == []
    (name,) = RememberingStore.store
    MemoryFileSystem.open(fsspec.filesystem("remembering"), name, "wb").close()
    (problem,) = place.problems(info)
    assert problem.code == "picture-changed"


def test_a_picture_that_is_gone_from_the_store_is_called_missing(shared) -> None:
    place, info = shared
    RememberingStore.store.clear()
    (problem,) = place.problems(info)
    assert problem.code == "picture-missing"


def test_a_store_out_of_reach_is_told_and_nothing_is_left_behind(shared) -> None:
    place, info = shared
    RememberingStore.away = True
    (problem,) = place.problems(info)
    assert (problem.code, "no route" in problem.text) == ("picture-not-readable", True)
    with pytest.raises(CouldNot, match="cannot be reached"):
        place.path(info)
