"""Pictures and clips that become fields: chosen by the person, or put into a watched folder by a camera's program."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.cli.exam_input import CHAMBER_METHODS
from fecallab.domain.errors import BadInput, FecallabError
from fecallab.domain.exam import Picture
from napari_fecallab.part_clips import ClipPart
from napari_fecallab.state import Change, Field
from napari_fecallab.views import Outcome
from napari_fecallab.watching import WatchedFolder

if TYPE_CHECKING:
    from fecallab.imaging.clip_stack import ReadyClip


class PicturePart(ClipPart):
    """What the session does with files that come in."""

    _watched: WatchedFolder | None

    def add_pictures(
        self,
        paths: Iterable[Path],
        preparation: str | None = None,
        objective: float | None = None,
        *,
        whole: bool = False,
    ) -> Outcome:
        """Take pictures or clips in as new fields, one step; what is no picture is told, the rest comes in.

        Preparation, objective and field number are those of the current field unless given. The bytes are
        copied into the record folder at once; a new field counts for nothing until it was looked at. Each is
        decoded to its end to make sure of it, unless that was done (`whole`).
        """
        self._refuse_if_read_only()
        like = self._like(preparation, objective)
        told: list[str] = []
        places: list[Field] = []
        for path in paths:
            try:
                place, remarks = self._taken_in(
                    Path(path), like, {p.picture or p.clip for p in places}, whole
                )
            except FecallabError as error:
                told.append(str(error))
                continue
            told += remarks
            if place is not None:
                places.append(place)
        return self._put_in(places, told)

    def add_clip(
        self,
        path: Path | ReadyClip,
        fps: float | None = None,
        preparation: str | None = None,
        objective: float | None = None,
    ) -> Outcome:
        """Take a clip in as a new field: a video, a TIFF stack, or a folder of numbered pictures as one file.

        Parameters
        ----------
        path : Path or ReadyClip
            What `fecallab.imaging.clip_stack.ready_steps` made is copied and let go.
        fps : float, optional
            Frames per second; goes before those in the file, and must be given where it holds none.
        preparation : str, optional
        objective : float, optional
            Those of the current field without that.

        Raises
        ------
        BadInput, CouldNot
            No clip, a single picture, pictures of several sizes, damaged, no times; or the disk refuses.
        """
        from fecallab.imaging.clip_stack import ReadyClip, ready_clip

        self._refuse_if_read_only()
        like = self._like(preparation, objective)
        ready = path if isinstance(path, ReadyClip) else ready_clip(Path(path), fps)
        try:
            place, told = self._clip_in(ready, like, set(), fps)
        finally:
            ready.close()
        return self._put_in([] if place is None else [place], told)

    def _put_in(self, places: list[Field], told: list[str]) -> Outcome:
        if not places:
            return Outcome((), "nothing was taken in", tuple(told))
        new = {self._draft.new_uid("f"): place for place in places}
        one = next(iter(new.values()))
        words = (
            f"{one.picture_name or one.clip_name} taken in"
            if len(new) == 1
            else f"{len(new)} pictures taken in"
        )
        first = not self.current
        self._do(words, [Change("field", uid, uid, None, place) for uid, place in new.items()], kind="field")
        if first:
            self._current = next(iter(new))
        return Outcome(tuple(new), words, tuple(told))

    def _like(self, preparation: str | None, objective: float | None) -> Field:
        """Return what a new field has in common with the current one."""
        codes = tuple(self.facts.preparations)
        current = self._draft.fields.get(self._current)
        code = (preparation or (current.preparation if current else codes[-1])).strip().upper()
        if code not in codes:
            raise BadInput(
                f"There is no preparation {code!r} in {self.exam_code}.",
                next=f"There are: {', '.join(codes)}",
                code="unknown-preparation",
            )
        same = [place for place in self._draft.fields.values() if place.preparation == code]
        last = current if current is not None and current.preparation == code else same[-1] if same else None
        power = objective or (last.objective if last else None)
        number = last.field_number if last else None
        kind = "chamber" if self.facts.preparations[code].method in CHAMBER_METHODS else "field"
        return Field(preparation=code, kind=kind, objective=power, field_number=number)

    def _taken_in(
        self, path: Path, like: Field, new: set[str], whole: bool
    ) -> tuple[Field | None, list[str]]:
        """Copy one file in and return its field; None for the same bytes again."""
        from fecallab.imaging.clip_stack import ReadyClip, is_timed_stack
        from fecallab.imaging.read import probe, verify_picture
        from fecallab.records.store import open_records

        try:
            info = probe(path) if whole else verify_picture(path)
        except BadInput as error:
            if error.reason.code != "picture-is-video":
                raise
            return self._clip_in(ReadyClip(path, path.name), like, new)
        if info.frames > 1 and is_timed_stack(path):
            return self._clip_in(ReadyClip(path, path.name), like, new)
        double = self._double_of(info.sha256, new)
        if double:
            return None, [f"{path.name} is {double} already; it was not taken in twice."]
        picture = Picture(
            sha256=info.sha256,
            file_name=path.name,
            format=info.format,
            width_px=info.width_px,
            height_px=info.height_px,
            bytes=info.bytes,
            taken_at=info.taken,
        )
        with open_records(self.folder) as store, store.write(by=self.by, now=self._clock()) as writer:
            kept = writer.add_picture(path, picture)
        self.facts = replace(self.facts, pictures={**self.facts.pictures, kept.sha256: kept})
        place = replace(
            like,
            picture=kept.sha256,
            picture_name=path.name,
            width_px=kept.width_px,
            height_px=kept.height_px,
        )
        return place, _remarks(path.name, info.frames, info.orientation)

    def _double_of(self, sha256: str, new: set[str]) -> str:
        """Say where the same bytes are: in this exam, in what comes in with them, or in another exam."""
        for uid, place in self._draft.fields.items():
            if sha256 in (place.picture, place.clip):
                return f"the {'clip' if place.clip else 'picture'} of {self._number(uid)}"
        if sha256 in new:
            return "among those that come in now"
        if sha256 in self.facts.pictures:
            from fecallab.records.clips import clip_of
            from fecallab.records.store import open_records

            with open_records(self.folder) as store:
                for exam in store.exams():
                    for preparation in exam.preparations:
                        for reading in preparation.readings:
                            clip = clip_of(reading, self.facts.pictures.values())
                            held = reading.picture or (clip.picture.sha256 if clip else "")
                            if held == sha256 and exam.code != self.exam_code:
                                return f"the {'clip' if clip else 'picture'} of {reading.code}"
        return ""

    def _clip_in(
        self, ready: ReadyClip, like: Field, new: set[str], fps: float | None = None
    ) -> tuple[Field | None, list[str]]:
        """Keep a clip with the records; what swims in it is worked out when somebody asks."""
        kept, name = self._kept_clip(ready, fps), ready.name
        double = self._double_of(kept.sha256, new)
        if double:
            return None, [f"{name} is {double} already; it was not taken in twice."]
        place = replace(
            like,
            clip=kept.sha256,
            clip_name=name,
            clip_fps=fps,
            width_px=kept.width_px,
            height_px=kept.height_px,
        )
        return place, [f"{name} is a clip: it has a field of its own. B plays it, T tells what moves."]

    # --- the watched folder

    def watch(self, folder: Path) -> None:
        """Watch a folder; what the camera's program puts there from now on waits until `take_watched`.

        Raises
        ------
        BadInput
            When it is no folder, or lies in the record folder.
        CouldNot
            When it cannot be watched here.
        """
        self._refuse_if_read_only()
        self.stop_watching()
        self._watched = WatchedFolder(folder, self.folder, lambda: self._tell("watched"))

    def take_watched(self) -> Outcome | None:
        """Take in what has arrived whole in the watched folder; call it from a timer. None: nothing came."""
        if self._watched is None:
            return None
        arrived, told = self._watched.arrived()
        if not arrived and not told:
            return None
        if not arrived:
            return Outcome((), "nothing was taken in", tuple(told))
        outcome = self.add_pictures(arrived, whole=True)
        return replace(outcome, told=(*told, *outcome.told))

    @property
    def watching(self) -> str:
        """The folder that is watched; empty when none is."""
        return str(self._watched.folder) if self._watched is not None else ""

    def stop_watching(self) -> None:
        """Watch no longer."""
        if self._watched is not None:
            self._watched.stop()
            self._watched = None


def _remarks(name: str, frames: int, orientation: int) -> list[str]:
    told = []
    if frames > 1:
        told.append(
            f"{name} holds {frames} pages; only the first one is taken. Is it a clip? Take this step back,"
            " then press Add a clip and say its rate."
        )
    if orientation != 1:
        told.append(f"{name} was turned upright.")
    return told
