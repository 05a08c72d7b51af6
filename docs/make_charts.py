"""Make the charts of the explanations and the sheet of the tutorial: ``python docs/make_charts.py``.

Every number in them is asked of the program; the marks of the sheet are the table that stands in the tutorial.
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
PICTURES = HERE / "pictures"
INK, SOFT, BLUE = "#1a1a1a", "#6b6b6b", "#00557f"
MOST_NEGATIVES = 6
PRIOR, SENSITIVITY = 0.5, 0.5
SPREAD = (1, 0, 1, 0, 0, 1, 0, 2, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0)
LOOKS = {
    "7 in 20 fields": SPREAD,
    "70 in 200 fields": SPREAD * 10,
    "2 in 5 fields": SPREAD[:5],
    "7 in 20 fields,\nall in one of them": (7, *(0,) * 19),
    "none in 20 fields": (0,) * 20,
}


def main() -> None:
    """Make all pictures of these pages."""
    sys.path.insert(0, str(HERE.parent))
    PICTURES.mkdir(exist_ok=True)
    chance_left()
    intervals()
    sheet_of_marks()


def chance_left() -> None:
    """Draw the chance that infection is still there after each negative exam, by both assumptions."""
    from fecallab.domain.residual import residual_chance

    figure, axes = _paper(6.4, 3.9)
    after = range(MOST_NEGATIVES + 1)
    found = [residual_chance(PRIOR, SENSITIVITY, number) for number in after]
    low, high = [100 * one.independent for one in found], [100 * one.cautious for one in found]
    axes.fill_between(after, low, high, color=BLUE, alpha=0.13, linewidth=0)
    axes.plot(after, high, "s--", color=INK, label="cautious: light shedders stay light")
    axes.plot(after, low, "o-", color=BLUE, label="every exam has the same chance")
    for number in (0, 1, 2, 3):
        if number > 1:
            axes.annotate(
                f"{low[number]:.0f} %",
                (number, low[number]),
                (-4, -13),
                textcoords="offset points",
                ha="right",
            )
        axes.annotate(f"{high[number]:.0f} %", (number, high[number]), (5, 6), textcoords="offset points")
    axes.set(xlabel="adequate negative exams of separate stools", ylabel="chance that it is still there (%)")
    axes.set(ylim=(0, 60), xlim=(-0.3, MOST_NEGATIVES + 0.3))
    axes.legend(frameon=False, loc="upper right")
    _finish(
        figure,
        "What negatives leave open",
        "Before the first exam 50 %; one exam finds one of two infections. The lines are the ends of a bracket.",
        "chance-left.png",
    )


def intervals() -> None:
    """Draw the mean per field with its 95 % interval for several ways in which organisms can be found."""
    from fecallab.domain.counting import field_density

    figure, axes = _paper(6.4, 3.6)
    for row, counts in enumerate(LOOKS.values()):
        found = field_density(counts)
        low, high = found.ci95
        axes.plot([max(low, 0.005), high], [row, row], color=BLUE, linewidth=2.2, solid_capstyle="butt")
        for end in (low, high):
            if end > 0:
                axes.plot([end], [row], "|", color=BLUE, markersize=11, markeredgewidth=2)
        if found.mean_per_field:
            axes.plot([found.mean_per_field], [row], "o", color=INK, markersize=6)
        axes.annotate(
            f"{found.mean_per_field:.3g} ({low:.3g} to {high:.3g})",
            (25, row),
            va="center",
            annotation_clip=False,
        )
    axes.set_xscale("log")
    axes.set(xlim=(0.005, 20), ylim=(len(LOOKS) - 0.4, -0.6), xlabel="organisms per field (log scale)")
    axes.set_yticks(range(len(LOOKS)), list(LOOKS))
    axes.set_xticks([0.01, 0.1, 1, 10], ["0.01", "0.1", "1", "10"])
    axes.minorticks_off()
    _finish(
        figure,
        "The same mean can be known well or hardly at all",
        "Dot: mean of the fields that were read. Line: 95 % interval (of none: from 0). Right: both, per field.",
        "intervals.png",
        right=0.725,
        left=0.22,
    )


def sheet_of_marks() -> None:
    """Make the numbered marks of the tutorial's first exam by the command that the tutorial shows."""
    from PIL import Image

    from fecallab.cli.main import run

    text = (HERE / "tutorial.md").read_text(encoding="utf-8")
    table = re.search(r"```text first-marks\.csv\n(.*?)```", text, re.S)
    assert table is not None, "the tutorial's table of marks is gone"
    slide = HERE.parent / "sample_slides" / "tortoise_wet_mount_1.jpg"
    with tempfile.TemporaryDirectory() as work:
        marks, out = Path(work) / "first-marks.csv", Path(work) / "marks.png"
        marks.write_text(table.group(1), encoding="utf-8")
        words = ["image", "contact-sheet", str(slide), "--marks", str(marks), "--um-per-px", "0.165"]
        assert run([*words, "--out", str(out), "--title", "Barley, 2 March 2026"]) == 0
        with Image.open(out) as sheet:
            small = sheet.convert("RGB").resize(
                (sheet.width * 4 // 5, sheet.height * 4 // 5), Image.Resampling.LANCZOS
            )
    _store(small, "tutorial-marks.png")


def _paper(width_in: float, height_in: float) -> tuple[Any, Any]:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in), dpi=200, facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK)
    return figure, axes


def _finish(
    figure: Any, title: str, below: str, name: str, *, right: float = 0.97, left: float = 0.11
) -> None:
    from PIL import Image

    figure.subplots_adjust(left=left, right=right, top=0.83, bottom=0.14)
    figure.text(0.02, 0.945, title, fontsize=12.5, fontweight="bold", color=INK)
    figure.text(0.02, 0.885, below, fontsize=8.2, color=SOFT)
    figure.canvas.draw()
    _store(Image.fromarray(_rgb(figure)), name)


def _rgb(figure: Any) -> Any:
    import numpy as np

    return np.asarray(figure.canvas.buffer_rgba())[..., :3].copy()


def _store(picture: Any, name: str) -> None:
    from PIL import Image

    few = picture.convert("RGB").quantize(128, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(PICTURES / name, optimize=True)
    print(f"{name} {(PICTURES / name).stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
