"""Open pictures, clips and record folders inside napari; what cannot be opened is one line, never a traceback."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from fecallab.domain.errors import FecallabError

LayerData = tuple[Any, ...]
PICTURES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".bmp", ".webp")
NO_SCALE = (
    "{name} is only played here: without a scale and an exam nobody can say what swims."
    " For that, open the exam (fecallab mark E1), press Add a clip, and then T."
)
CLIPS = (".mp4", ".mov", ".avi", ".mkv")
NOTHING: list[LayerData] = [(None,)]


def get_reader(path: str | Sequence[str]) -> Callable[[str | Sequence[str]], list[LayerData]] | None:
    """Return how to read a path, or None when it is nothing of ours; never raises."""
    first = Path(path if isinstance(path, str | Path) else next(iter(path), ""))
    try:
        if first.is_dir():
            return read_folder if _is_record_folder(first) else None
    except OSError:
        return None
    return read_files if first.suffix.lower() in (*PICTURES, *CLIPS) else None


def read_files(path: str | Sequence[str]) -> list[LayerData]:
    """Read pictures and clips: upright, without transparency, large ones in tiles, clips frame by frame."""
    paths = [path] if isinstance(path, str | Path) else list(path)
    layers: list[LayerData] = []
    for one in map(Path, paths):
        try:
            layers.append(_clip(one) if _is_clip(one) else _picture(one))
        except FecallabError as error:
            _tell(f"{error} {getattr(error, 'next', '')}".strip())
    return layers or NOTHING


def read_folder(path: str | Sequence[str]) -> list[LayerData]:
    """Open the panel for a record folder; the exam is chosen there."""
    import napari

    folder = Path(path if isinstance(path, str | Path) else next(iter(path)))
    viewer = napari.current_viewer()
    if viewer is None:
        _tell("A record folder is opened in a window: fecallab mark E1")
        return NOTHING
    from napari_fecallab.dock_start import StartPanel

    viewer.window.add_dock_widget(StartPanel(viewer, folder), name="marking", area="right")
    return NOTHING


def _picture(path: Path) -> LayerData:
    from napari_fecallab.reader_pictures import canvas_picture

    picture = canvas_picture(path)
    for line in picture.remarks:
        _tell(line)
    several = len(picture.levels) > 1
    options: dict[str, Any] = {"name": path.stem, "rgb": picture.rgb, "multiscale": several}
    options["metadata"] = {"picture": picture}  # keeps the file of a large one alive
    if not picture.rgb:
        options["contrast_limits"] = (0, picture.white)
    return (list(picture.levels) if several else picture.levels[0], options, "image")


def _is_clip(path: Path) -> bool:
    from fecallab.imaging.clip_stack import is_timed_stack

    return path.suffix.lower() in CLIPS or is_timed_stack(path)


def _clip(path: Path) -> LayerData:
    from napari_fecallab.reader_clips import clip_frames

    frames = clip_frames(path)
    _say(NO_SCALE.format(name=path.name))
    return (frames.lazily(), {"name": path.stem, "rgb": True, "metadata": {"fps": frames.fps}}, "image")


def _is_record_folder(folder: Path) -> bool:
    from fecallab.records.folder import DATABASE

    return (folder / DATABASE).is_file()


def _say(text: str) -> None:
    from napari.utils.notifications import show_info

    show_info(text)


def _tell(text: str) -> None:
    from napari.utils.notifications import show_warning

    show_warning(text)
