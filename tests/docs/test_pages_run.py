"""The tutorial, the how-tos and the explanations are run as they stand, and say what the program says.

A ``console`` block holds commands: all of its lines, or, where a line begins with ``$``, those lines only, with
what the program answers below them. ``...`` in an answer stands for lines, or for words within a line, that are left
out; the first shown line must be the first that was said. The last command of a ``console refused`` block is
refused (exit code 1). A ``text NAME`` block is saved as that file, a ``python`` block is run. What a page takes for
granted stands in a comment ``<!-- before`` and is run first; ``picture NAME from ...`` there puts a drawn picture in
the place of the reader's own.
"""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from fecallab.cli.main import run

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = [
    DOCS / "tutorial.md",
    *sorted((DOCS / "how-to").glob("*.md")),
    *sorted((DOCS / "explanation").glob("*.md")),
]
BEFORE = re.compile(r"<!-- before\n(.*?)-->", re.S)
BLOCK = re.compile(r"^```(\w+)(?: ([^\n]*))?\n(.*?)^```$", re.M | re.S)
FIRST_LINE = re.compile(r"magnification.*µm per pixel|µm per pixel.*magnification")

pytestmark = pytest.mark.skipif(not DOCS.is_dir(), reason="the pages are in the clone only")


@dataclass(frozen=True)
class Step:
    """A command of a page, how it must end, and what the page says that it answers (None: nothing shown)."""

    line: str
    exit_code: int
    shown: tuple[str, ...] | None


def steps_of(block: str, refused: bool) -> Iterator[Step]:
    """Read the commands of a block with the answers below them."""
    lines = block.splitlines()
    if not any(line.startswith("$ ") for line in lines):
        for line in lines:
            yield Step(line, int(refused), None)
        return
    starts = [number for number, line in enumerate(lines) if line.startswith("$ ")]
    assert starts[0] == 0, f"an answer before any command: {lines[0]}"
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        shown = tuple(lines[start + 1 : end])
        yield Step(lines[start][2:], int(refused and end == len(lines)), shown or None)


def fits(shown: tuple[str, ...], said: str) -> bool:
    """Tell whether an answer is what the page shows, ``...`` left out."""
    pattern = ""
    for line in shown:
        if line.strip() == "...":
            pattern += r"(?:[^\n]*\n)*?"
            continue
        pattern += r"[^\n]*".join(re.escape(part) for part in line.rstrip().split("...")) + r"[^\S\n]*\n"
    return re.fullmatch(pattern + r"\s*", said.rstrip() + "\n") is not None


def answer(words: list[str]) -> tuple[int, str]:
    """Run a command; return its exit code and what stands on the screen."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = run(words)
    return code, said.getvalue()


def picture(name: str, source: str, *rest: str) -> None:
    """Put a drawn picture in the place of one that the reader took: a sample slide, a ruler or a grid."""
    from PIL import Image, ImageFilter

    from fecallab.imaging.draw.rulers import GridSpec, RulerSpec, Shot, draw_grid, draw_ruler

    Path(name).parent.mkdir(parents=True, exist_ok=True)
    if source == "ruler":
        Image.fromarray(draw_ruler(RulerSpec(px_per_division=float(rest[0]), angle_deg=1.5), 1)).save(name)
    elif source == "grid":
        shot = Shot(width_px=1200, height_px=1000)
        Image.fromarray(draw_grid(GridSpec(px_per_square=float(rest[0]), shot=shot), 1)).save(name)
    elif rest == ("blurred",):
        with Image.open(ROOT / "sample_slides" / source) as slide:
            slide.filter(ImageFilter.GaussianBlur(9)).save(name, exif=slide.getexif())
    else:
        shutil.copy(ROOT / "sample_slides" / source, name)


def carry_out(step: Step, monkeypatch: pytest.MonkeyPatch) -> None:
    words = shlex.split(step.line)
    if words[0] == "picture":
        picture(words[1], *words[3:])
        return
    if words[0] == "cd":
        monkeypatch.chdir(Path.cwd() / words[1])
        return
    assert words[0] == "fecallab", f"neither fecallab nor cd: {step.line}"
    if words[1:2] == ["demo"]:  # tests/cli/test_demo.py runs it; here its slides are enough
        shutil.copytree(ROOT / "sample_slides", Path("fecallab-demo") / "slides")
        return
    code, said = answer(words[1:])
    assert code == step.exit_code, (step.line, said)
    if step.shown is not None:
        assert fits(step.shown, said), f"{step.line}\nshown:\n" + "\n".join(step.shown) + f"\nsaid:\n{said}"


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory):
    """An empty record folder, made once for what pages take for granted."""
    made = tmp_path_factory.mktemp("empty") / "records"
    assert run(["records", "make", str(made)]) == 0
    return made


@pytest.mark.parametrize("page", PAGES, ids=lambda page: f"{page.parent.name}-{page.stem}")
def test_a_page_works_as_written(page, tmp_path, monkeypatch, empty_folder):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FECALLAB_BY", "Mara")
    monkeypatch.delenv("FECALLAB_RECORDS", raising=False)
    monkeypatch.setenv("COLUMNS", "110")
    text = page.read_text(encoding="utf-8")
    for before in BEFORE.findall(text):
        for step in steps_of(before, refused=False):
            if step.line.startswith("fecallab records make "):
                shutil.copytree(empty_folder, step.line.split()[-1])
            else:
                carry_out(step, monkeypatch)
    for kind, rest, block in BLOCK.findall(text):
        if kind == "console":
            assert rest in ("", "refused"), rest
            for step in steps_of(block, refused=rest == "refused"):
                carry_out(step, monkeypatch)
        elif kind == "text" and rest:
            Path(rest).write_text(block, encoding="utf-8")
        elif kind == "python":
            exec(compile(block, page.name, "exec"), {})
        else:
            assert kind in ("bash", "text"), f"a block of a kind that nobody runs: {kind}"


def test_the_pages_that_were_asked_for_are_there():
    names = {page.relative_to(DOCS).as_posix() for page in PAGES}
    assert {"tutorial.md", "how-to/index.md"} <= names
    assert len([name for name in names if name.startswith("how-to/")]) >= 7
    assert len([name for name in names if name.startswith("explanation/")]) >= 4


def test_the_tutorial_names_the_number_that_matters_first_and_ends_on_a_real_answer():
    text = (DOCS / "tutorial.md").read_text(encoding="utf-8")
    first = next(line for line in text.splitlines() if line and not line.startswith("#"))
    assert FIRST_LINE.search(first), first
    assert re.search(r"95 % interval [\d.]+ to [\d.]+", text)
    assert re.search(r"1 of 3; next stool on or after \d+ \w+ 2026", text)
    assert "Refused (weight-stale)" in text
    assert "inconclusive" in text


def test_links_of_these_pages_lead_somewhere():
    for page in PAGES:
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), (page.name, target)


def test_every_page_of_these_is_led_to():
    index = (DOCS / "how-to" / "index.md").read_text(encoding="utf-8")
    for page in PAGES:
        if page.parent.name == "how-to" and page.stem != "index":
            assert f"]({page.name})" in index, page.name
    reasons = (DOCS / "explanation" / "index.md").read_text(encoding="utf-8")
    for page in PAGES:
        if page.parent.name == "explanation" and page.stem != "index":
            assert f"]({page.name})" in reasons, page.name


@pytest.mark.parametrize(
    ("shown", "said", "same"),
    [
        (("a 1", "..."), "a 1\nb\nc\n", True),
        (("a 1", "...", "c"), "a 1\nb\nc\n", True),
        (("a ... d",), "a b c d\n", True),
        (("a 1",), "a 1\nb\n", False),
        (("a 2", "..."), "a 1\nb\n", False),
        (("b",), "a\nb\n", False),
        (("...", "b"), "a\nb\n", True),
        (("a (95 % interval 1 to 2)",), "a (95 % interval 1 to 3)\n", False),
    ],
)
def test_a_shown_answer_is_compared_word_by_word(shown, said, same):
    assert fits(shown, said) is same
