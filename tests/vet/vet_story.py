"""An invented animal whose stool was read on drawn slides: thirty marks, three of them doubtful, and a case before it."""

import contextlib
import csv
import io
from pathlib import Path

SLIDES = Path(__file__).parents[2] / "sample_slides"
FLOAT = (
    "--method simple_flotation --gravity 1.20 --gravity-checked --standing-minutes 15 --objective 10"
    " --field-number 20 --um-per-px 0.65"
)
AT_10X = (
    "dragon_before_1",
    "dragon_before_2",
    "dragon_before_3",
    "dragon_before_4",
    "dragon_after_1",
    "dragon_after_2",
    "dragon_after_3",
    "dragon_late_1",
)
QUESTION = "Pinworms again, or something she ate? Should she be treated once more?"
KEEPER = "Mara Quell"
VET = "Dr Ilse Varnholt"


def _run(*words: str) -> None:
    from fecallab.cli.main import run

    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        code = run([str(word) for word in words])
    assert code == 0, (words, said.getvalue())


def marks_file(path: Path, most: int = 30) -> None:
    """Write the truth of the slides as marks, three of them unsure and one named too boldly for its size."""
    with (SLIDES / "truth.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    names = [f"{name}.jpg" for name in (*AT_10X, "dragon_isospora")]
    rows = sorted(
        (row for row in rows if row["picture"] in names), key=lambda row: names.index(row["picture"])
    )
    rows = rows[:most]
    for place in (3, 12, 21):
        rows[place]["sure"] = "no"
        rows[place]["name"] = "oxyurid"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)


def tell(folder: Path) -> None:
    """Make a record folder: Saffron, her first course, and the exam of the twentieth of April with thirty marks."""
    import shlex

    marks = folder.parent / f"{folder.name}-marks.csv"
    marks_file(marks)
    pictures = " ".join(f"--picture '{SLIDES / name}.jpg'" for name in AT_10X)
    before = folder.parent / f"{folder.name}-before.csv"
    marks_file(before, 24)
    commands = f"""
records make '{folder}'
animal add Saffron --species "Pogona vitticeps" --adult --enclosure "vivarium 4"
animal weigh Saffron 331 --at "2026-02-01 08:00"
animal weigh Saffron 324 --at "2026-03-02 08:00"
sample add Saffron --passed-from "2026-03-01 06:30" --passed-to "2026-03-01 08:00" --form soft --kept room --mass-g 1.4
exam add S1 {FLOAT} --read-at "2026-03-01 08:50" --counts oxyurid:1,0,2,1,0,3
plan add C1 --vet "{VET}" --written 2026-03-04 --goal clear --drug fenbendazole --dose-mg-per-kg 50 --concentration-mg-per-ml 100 --route "by mouth" --interval-days 14 --doses 2
animal weigh Saffron 322 --at "2026-03-05 08:00"
dose give C1 --at "2026-03-05 08:10"
animal weigh Saffron 320 --at "2026-03-19 08:00"
dose give C1 --at "2026-03-19 08:10"
care log Saffron fluids 6 --at "2026-03-19 08:30"
animal weigh Saffron 318 --at "2026-04-20 08:00"
sample add Saffron --passed-from "2026-04-20 06:30" --passed-to "2026-04-20 08:00" --form soft --kept room --mass-g 1.3 --remark "less firm than in March"
exam add S2 {FLOAT} --read-at "2026-04-20 08:50" {pictures} --marks '{marks}' --question "{QUESTION}"
exam read E2-1 --objective 40 --um-per-px 0.165 --field-number 20 --picture '{SLIDES / "dragon_isospora.jpg"}' --marks '{marks}'
"""
    for line in commands.strip().splitlines():
        words = shlex.split(line)
        if words[0] != "records":
            words += ["--records", str(folder)]
        if words[0] in ("exam", "dose", "care") and "--by" not in words and words[1] not in ("read",):
            words += ["--by", KEEPER]
        _run(*words)
