"""Make the pictures of the marking window: ``python docs/make_pictures.py`` (on a screen, or with xvfb-run).

Everything in them is invented and drawn. Each state is reached by the keys that a person would press.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
PICTURES = HERE / "pictures"
WIDTH, HEIGHT = 1366, 768


def main() -> None:
    """Make all pictures, or those whose names are given."""
    sys.path[:0] = [str(HERE.parent), str(HERE.parent / "plugins")]
    wanted = sys.argv[1:]
    with tempfile.TemporaryDirectory(prefix="fecallab-pictures-") as work:
        os.environ["NAPARI_CONFIG"] = str(Path(work) / "napari.yaml")
        _Maker(Path(work), wanted).run()


class _Maker:
    def __init__(self, work: Path, wanted: list[str]) -> None:
        self.work, self.wanted = work, wanted
        self.twice = os.environ.get("QT_SCALE_FACTOR") == "2"

    def run(self) -> None:
        import napari

        states: list[Callable[[], None]] = [self.marking, self.scale_missing, self.clip]
        if self.twice:
            states = [self.twice_the_size]
        for state in states:
            state()
        napari.Viewer.close_all()

    # --- states

    def marking(self) -> None:
        dock = self.open(self.slides("dragon_before_1", "dragon_before_2", "dragon_before_3"))
        self.shot(dock, "opened")
        press = dock.control.press
        dock.control.point_at((732.8, 431.1))
        press("2")
        dock.control.point_at((405.7, 630.8))
        press("2")
        dock.control.point_at((488.7, 133.8))
        press("U")
        press("2")
        for x, y in self.ring(732.8, 431.1, 147.2, 47.7, 106.0):
            dock.control.point_at((x, y))
            press("O")
        press("Enter")
        dock.control.point_at((732.8, 431.1))
        self.shot(dock, "measured")
        dock.tabs.setCurrentIndex(2)
        press("Space")
        for x, y in ((783.8, 264.9), (564.4, 659.7)):
            dock.control.point_at((x, y))
            press("2")
        press("Space")
        press("E")
        press("PageUp")
        self.shot(dock, "burden", wait=1.2)
        dock.tabs.setCurrentIndex(1)
        press("H")
        self.shot(dock, "warning")
        press("H")
        press("0")
        self.shot(dock, "look-alikes")
        press("Escape")
        uid = dock.session.current
        dock.session.offer_proposals(
            uid, [("oxyurid", 870.0, 674.7, 105.5, 34.6, 152.0), ("oxyurid", 214.2, 449.3, 108.1, 37.3, 19.5)]
        )
        press("P")
        self.shot(dock, "proposals")
        dock.ask_keys()
        self.shot(dock, "keys", dialog=True)
        dock.dialog.reject()
        dock.show_help()
        self.shot(dock, "help", dialog=True)
        dock.dialog.reject()
        dock.ask_scale()
        self.shot(dock, "scale", dialog=True)
        dock.dialog.reject()
        dock.ask_finish()
        self.shot(dock, "finish", dialog=True)
        dock.dialog.reject()
        dock.shut()

    def scale_missing(self) -> None:
        dock = self.open(
            self.slides("tortoise_phone_wet_mount"), um_per_px=None, method="direct_saline_smear"
        )
        self.shot(dock, "round-field", wait=3.0)
        dock.shut()

    def clip(self) -> None:
        path = self.drawn_clip()
        dock = self.open(self.slides("tortoise_wet_mount_1"), um_per_px=0.4, method="direct_saline_smear")
        dock.add_pictures([path])
        dock.session.set_scale(0.4)
        dock.control.press("T")
        end = time.monotonic() + 120
        while dock.control.moving is None and time.monotonic() < end:
            self.pause(0.2)
        for _ in range(45):
            dock.control.press("Alt-Right")
        dock.control.press("C")
        dock.control.use_name("flagellate")
        self.shot(dock, "clip")
        dock.shut()

    def twice_the_size(self) -> None:
        dock = self.open(self.slides("dragon_before_1"), width=WIDTH // 2, height=HEIGHT // 2)
        dock.control.point_at((732.8, 431.1))
        dock.control.press("2")
        self.shot(dock, "twice-the-size")
        dock.shut()

    # --- making them

    def slides(self, *names: str) -> list[Path]:
        """Return drawn slides without their camera's grain, which no PNG stores well."""
        from PIL import Image, ImageFilter

        made = []
        for name in names:
            made.append(self.work / f"{name}.png")
            with Image.open(HERE.parent / "sample_slides" / f"{name}.jpg") as slide:
                slide.filter(ImageFilter.GaussianBlur(1.2)).save(made[-1])
        return made

    def ring(self, x: float, y: float, length_um: float, width_um: float, angle_deg: float) -> Any:
        import numpy as np

        around = np.linspace(0, 2 * np.pi, 9, endpoint=False)
        turn = np.radians(angle_deg)
        along, across = 0.5 * length_um / 0.65 * np.cos(around), 0.5 * width_um / 0.65 * np.sin(around)
        columns = x + along * np.cos(turn) - across * np.sin(turn)
        rows = y + along * np.sin(turn) + across * np.cos(turn)
        return zip(columns, rows, strict=True)

    def drawn_clip(self) -> Path:
        """Draw a wet mount in which flagellates swim and grains tremble in a slow stream."""
        from fecallab.imaging.motility.drawn import ClipSpec, draw_clip
        from fecallab.imaging.motility.film import write_video

        spec = ClipSpec(
            seconds=3.0, fps=25.0, swimmers=9, trembling=22, stuck=18, stream_um_s=(4.0, 0.0), turning=0.4
        )
        drawn = draw_clip(spec, 11)
        path = self.work / "wet mount.mp4"
        write_video(path, zip(drawn.times_s, drawn.frames, strict=True), spec.fps)
        return path

    def open(
        self,
        pictures: list[Path],
        um_per_px: float | None = 0.65,
        method: str = "simple_flotation",
        width: int = WIDTH,
        height: int = HEIGHT,
    ) -> Any:
        from napari_fecallab.window import open_window, tidy

        folder, exam = self.exam(pictures, um_per_px, method)
        viewer = open_window(folder, exam, "Mara", wait=False)
        dock = viewer.window.dock_widgets["marking"]
        dock.window().resize(width, height)
        self.pause(0.5)
        tidy(dock)
        self.pause(0.5)
        dock.control.layers.look_at_all()
        return dock

    def exam(self, pictures: list[Path], um_per_px: float | None, method: str) -> tuple[Path, str]:
        import hashlib
        from datetime import datetime

        from fecallab.domain.animal import Animal
        from fecallab.domain.exam import Exam, Picture, Preparation, Reading
        from fecallab.domain.sample import Sample
        from fecallab.imaging.read import probe
        from fecallab.records.store import create_records, open_records

        folder = self.work / f"records{time.monotonic_ns()}"
        create_records(folder)
        read_at = datetime(2026, 3, 4, 8, 40)
        tortoise = method != "simple_flotation"
        with open_records(folder) as store, store.write(by="Mara", now=read_at) as writer:
            animal = writer.add(
                Animal(name="Bramble", species="Testudo hermanni", host_group="tortoise", plant_eater=True)
                if tortoise
                else Animal(
                    name="Saffron", species="Pogona vitticeps", host_group="bearded dragon", plant_eater=True
                )
            )
            passed = datetime(2026, 3, 4, 8)
            sample = writer.add(
                Sample(
                    animal=animal.code,
                    passed_from=passed,
                    passed_to=passed,
                    collected_at=passed,
                    form="formed",
                    kept="room",
                    mass_g=1.4,
                )
            )
            readings = []
            for path in pictures:
                known = probe(path)
                sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
                info = Picture(
                    sha256=sha256,
                    file_name=path.name,
                    format=known.format,
                    width_px=known.width_px,
                    height_px=known.height_px,
                    bytes=known.bytes,
                )
                writer.add_picture(path, info)
                readings.append(
                    Reading(
                        objective=40.0 if tortoise else 10.0,
                        field_number=18.0,
                        um_per_px=um_per_px,
                        picture=sha256,
                    )
                )
            preparation = Preparation(
                method=method,
                read_at=read_at,
                solution="" if tortoise else "saturated salt",
                specific_gravity=None if tortoise else 1.2,
                gravity_checked=None if tortoise else True,
                standing_minutes=None if tortoise else 15.0,
                readings=tuple(readings),
            )
            exam = writer.add(
                Exam(sample=sample.code, examined_at=read_at, by="Mara", preparations=(preparation,))
            )
        return folder, exam.code

    def pause(self, seconds: float) -> None:
        from qtpy.QtWidgets import QApplication

        end = time.monotonic() + seconds
        while time.monotonic() < end:
            QApplication.processEvents()
            time.sleep(0.01)

    def shot(self, dock: Any, name: str, *, dialog: bool = False, wait: float = 0.9) -> None:
        if self.wanted and name not in self.wanted:
            return
        self.pause(wait)
        shown = dock.dialog if dialog else dock.window()
        image = shown.grab().toImage()
        PICTURES.mkdir(exist_ok=True)
        raw = self.work / f"{name}.png"
        image.save(str(raw))
        from PIL import Image

        with Image.open(raw) as large:
            small = large.convert("RGB").quantize(
                160, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
            )
            small.save(PICTURES / f"window-{name}.png", optimize=True)
        size = (PICTURES / f"window-{name}.png").stat().st_size
        print(f"window-{name}.png {size / 1000:.0f} kB", flush=True)


if __name__ == "__main__":
    main()
