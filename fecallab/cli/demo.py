"""``fecallab demo``: the whole job on drawn slides, in a folder of its own, with report pages at the end."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import typer

from fecallab.cli.common import JSON, now
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.spoken import say_date


def register(app: typer.Typer) -> None:
    """Add the command ``demo``."""
    app.command()(demo)


def demo(
    folder: Path | None = typer.Argument(None, help="A new folder (fecallab-demo when left out)."),
    no_open: bool = typer.Option(
        False, "--no-open", help="Do not open the pages, even where there is a desktop."
    ),
    as_json: bool = JSON,
) -> None:
    """Tell the story of an invented rescue on drawn slides, and write its report pages."""
    from fecallab.cli.by_name import hint
    from fecallab.cli.demo_story import KEEPER, RESCUE
    from fecallab.cli.report import open_page

    started = time.monotonic()
    home = _new_folder(folder)
    say(f"{RESCUE} (invented) in {home.resolve()}")
    with _alone(FECALLAB_BY=KEEPER, FECALLAB_RECORDS=str(home.resolve())):
        _run(["records", "make", str(home)])
        _slides(home / "slides")
        _tell(home)
        pages, stands = _pages(home)
    seconds = time.monotonic() - started
    opened = not no_open and not as_json and open_page(pages[0])
    lines = ["", "Where the animals stand today:"]
    lines += [f"  {case['animal_name']}, {case['target']}: {_stand(case)}" for case in stands]
    lines += ["", "Report pages (self-contained, they open in any browser, offline):"]
    lines += [f"  {page.resolve()}" for page in pages if not page.name.startswith("exam")]
    lines += [
        f"  and {sum(page.name.startswith('exam') for page in pages)} pages of exams beside them",
        "",
        *filter(None, [hint()]),
        f"Look around: fecallab due --records {home}   fecallab case show C1 --records {home}",
        f"             fecallab arrivals show I1 --records {home}",
        f"Everything is invented and drawn. Told in {seconds:.0f} s"
        + ("; a page was opened." if opened else "."),
    ]
    payload = {
        "folder": str(home.resolve()),
        "pages": [str(page.resolve()) for page in pages],
        "cases": [
            {key: case[key] for key in ("animal_name", "target", "standing", "closed")} for case in stands
        ],
        "seconds": round(seconds, 1),
    }
    emit(payload, "\n".join(lines), as_json)


@contextlib.contextmanager
def _alone(**environment: str) -> Iterator[None]:
    """Set environment variables for the story only, so that it never writes into somebody's own records."""
    before = {name: os.environ.get(name) for name in environment}
    os.environ.update(environment)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _stand(case: dict[str, Any]) -> str:
    from fecallab.domain.followup import K_OF_N

    if case["closed"]:
        return str(case["closed"])
    if case["standing"] == K_OF_N:
        return f"{case['k']} of {case['n']}, next stool on or after {say_date(date.fromisoformat(case['next_sample_on_or_after']))}"
    return str(case["standing"])


def _new_folder(folder: Path | None) -> Path:
    if folder is not None:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            text = f"{folder} is there already and not empty."
            raise BadInput(text, next="Name a new folder: fecallab demo FOLDER", code="folder-not-empty")
        return folder
    home = Path("fecallab-demo")
    number = 2
    while home.exists():
        home = Path(f"fecallab-demo-{number}")
        number += 1
    return home


def _slides(folder: Path) -> None:
    """Copy the clone's drawn slides, or draw them where there is no clone."""
    from fecallab.cli.demo_story import PICTURES

    clone = Path(__file__).parents[2] / "sample_slides"
    if (clone / "truth.csv").is_file():
        folder.mkdir(parents=True)
        for name in (*PICTURES, "truth.csv"):
            shutil.copy(clone / name, folder / name)
        return
    say("Drawing the sample slides (half a minute) ...")
    from fecallab.imaging.draw.write import write_sample_slides

    write_sample_slides(folder, list(PICTURES))


def _tell(home: Path) -> None:
    from fecallab.cli.demo_story import steps

    told = list(steps(now().date()))
    chapter = ""
    before = Path.cwd()
    os.chdir(home)
    try:
        for number, step in enumerate(told, start=1):
            if step.chapter != chapter:
                chapter = step.chapter
                say(f"[{number:2d}/{len(told)}] {chapter}")
            _run(list(step.words), refused=step.refused)
    finally:
        os.chdir(before)


def _pages(home: Path) -> tuple[list[Path], list[dict[str, Any]]]:
    import json

    from fecallab.cli.report import write_arrival, write_case
    from fecallab.records.store import open_records

    say("Writing the report pages ...")
    pages: list[Path] = []
    with open_records(home) as store:
        for case in store.cases():
            pages += write_case(store, case.code, home / "reports", now().date())
        for arrival in store.arrivals():
            pages += write_arrival(store, arrival, home / "reports", now().date())
    said = _run(["case", "list", "--records", str(home), "--json"])
    return list(dict.fromkeys(pages)), json.loads(said)["cases"]


def _run(words: list[str], *, refused: bool = False) -> str:
    """Run one command as a person would type it; stop the story when it ends otherwise than told."""
    from fecallab.cli.main import run

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(words)
    if code != (1 if refused else 0):
        text = f"The story stopped at: fecallab {' '.join(words)}: {err.getvalue().strip()[:500]}"
        raise CouldNot(text, next="Report it with this line.", code="demo-stopped")
    return out.getvalue()
