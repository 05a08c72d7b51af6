"""Every command of the program with words that it can do, and some that it refuses; walked by the tests.

The words belong to records with an animal (Saffron, A1), two weighings, two stools, an exam of the first one, a
case with a plan (C1), a closed case (C2) with one dose as told (D1), a tub that arrived (Tub 1, I1), and a backup
beside them.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .conftest import FLOAT, PLAN

EXAM = """{"target": "oxyurid", "stage": "egg", "sample": {"origin": "stool", "owner": "animal"},
"preparations": [], "counts": {}, "unsure": []}"""
HISTORY = """{"case": {"target": "oxyurid", "opened": "2025-03-04"}, "plan": null, "exams": [
{"sample_collected": "2025-03-04", "result": "positive"}], "doses": [], "events": [], "today": "2025-03-05"}"""

SHEET = """animal,passed on,passed from,read at,method,objective (x),organism,field 1,field 2
Saffron,2025-03-21,8:00,8:40,simple_flotation,10,coccidian,0,0
"""

WEIGHTS = """animal;weighed at;weight (g)
Saffron;21.03.2025 08:00;321,5
"""

PUBLIC_KEY = "A6EHv_POEL4dcN0Y50vAmWfk1jCbpQ1fHdyGZBJVMbg"

DONE: dict[str, tuple[str, ...]] = {
    "animal add": ("Barley", "--species", "Testudo hermanni"),
    "animal weigh": ("Saffron", "320"),
    "animal measure": ("Saffron", "snout-vent length", "182"),
    "animal list": (),
    "animal show": ("Saffron",),
    "animal move": ("Saffron", "south shelf", "--new", "--room", "room 1", "--on", "2025-04-02"),
    "enclosure add": ("drawer 7", "--room", "room 2", "--tools", "red tongs"),
    "enclosure share": ("north shelf", "water", "bowl 1"),
    "enclosure list": (),
    "enclosure show": ("north shelf",),
    "arrivals add": ("Juniper", "--arrived", "2025-03-01", "--origin", "captive bred"),
    "arrivals join": ("I1", "Juniper", "--on", "2025-03-02"),
    "arrivals show": ("I1", "--on", "2025-03-10"),
    "arrivals list": (),
    "arrivals split": ("I1", "Tub 1", "--on", "2025-03-05"),
    "arrivals protocol": ("I1", "--days", "200"),
    "arrivals count": ("Tub 1", "died", "1", "--on", "2025-03-05"),
    "arrivals release": (
        *("I1", "--on", "2025-03-10", "--vet", "Dr Ilse Varnholt", "--reason", "all go to one keeper"),
    ),
    "arrivals round": ("I1", "--on", "2025-03-10", "--sheet", "round.pdf"),
    "arrivals begin": ("Tub 1",),
    "contacts": ("Tub 1",),
    "animal event": ("Saffron", "brumation", "--from", "2025-11-01"),
    "sample add": ("Saffron", "--passed-from", "2025-04-01 08:00", "--form", "soft"),
    "sample list": (),
    "sign add": ("Saffron", "watery-stool", "--sample", "S2"),
    "sign list": ("Saffron",),
    "control add": ("known positive", "--method", "simple_flotation", "--of", "oxyurid", "--found", "14"),
    "control list": (),
    "clean advice": ("coccidian",),
    "clean log": ("north shelf",),
    "exam add": ("S2", *FLOAT, "--objective", "10", "--counts", "0,0,1", "--of", "coccidian"),
    "exam prepare": ("E1", "--method", "iodine_smear", "--objective", "40", "--share", "0.4"),
    "exam read": ("E1-1", "--objective", "10", "--picture", "field.png", "--marks", "marks.csv"),
    "exam elsewhere": (
        *("Saffron", "--target", "oxyurid", "--result", "negative", "--from", "Lab Ouk"),
        *("--method", "flotation", "--collected", "2025-05-05"),
    ),
    "exam show": ("E1", "--target", "coccidian"),
    "case open": ("Saffron", "flagellate", "--vet", "Dr Ilse Varnholt"),
    "case list": (),
    "case show": ("C1",),
    "case close": ("C1", "--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "moved"),
    "plan add": ("C1", "--vet", "Dr Ilse Varnholt", "--goal", "watch, no treatment"),
    "plan show": ("C1",),
    "plan same": ("C1", "--vet", "Dr Ilse Varnholt"),
    "dose work-out": ("C1", "--at", "2025-03-07 08:10"),
    "dose give": ("C1", "--at", "2025-03-07 08:15"),
    "dose reaction": ("D1", "tremor", "--at", "2025-03-09 12:00"),
    "dose other": ("Saffron", "fenbendazole", "--mg-per-kg", "50", "--given", "2025-02-01", "--as-told"),
    "dose again": ("C1",),
    "care today": ("Saffron",),
    "care log": ("Saffron", "fluids", "6"),
    "report exam": ("E1", "--to", "pages"),
    "report case": ("C1", "--to", "pages"),
    "report arrival": ("I1", "--to", "pages", "--on", "2025-03-10"),
    "records make": ("fresh",),
    "records check": (),
    "records backup": ("copy",),
    "records restore": ("a-backup", "restored"),
    "records seal": (),
    "records person": ("Mara Quell",),
    "records redact": ("Mara Quell", "--instead", "keeper 2", "--reason", "her wish", "--yes"),
    "records guard": (),
    "records export": ("out",),
    "records import": ("an-export", "taken-in"),
    "reference list": (),
    "reference show": ("organisms", "--key", "oxyurid"),
    "sheet microscope": ("Saffron",),
    "sheet care": (),
    "sheet dose-card": ("C1",),
    "sheet labels": ("S1", "Saffron"),
    "sheet type-in": ("filled-sheet.csv",),
    "batch take-in": ("weights.csv",),
    "batch give-out": ("tables",),
    "batch template": ("templates",),
    "vet page": ("E1", "--pdf", "--contact-sheet", "--leave-out", "owner"),
    "vet take-in": ("answer.json", "--yes"),
    "vet key make": ("--key", "new-key.pem"),
    "vet key show": ("--key", "vet-key.pem"),
    "vet sign": ("answer.json", "--key", "vet-key.pem"),
    "vet trust": (PUBLIC_KEY, "Dr Ilse Varnholt"),
    "vet agreement": (),
    "verdict add": ("E1", "1 agree; grade few", "--vet", "Dr Ilse Varnholt", "--yes"),
    "verdict list": ("C1",),
    "verdict plan": ("N1", "--yes"),
    "verdict withdraw": ("Y1", "--reason", "of another animal"),
    "calc adequacy": ("exam.json",),
    "calc standing": ("history.json",),
    "calc density": ("--counts", "0,2,1"),
    "calc epg": ("--count", "3", "--sample-g", "2", "--suspension-ml", "30", "--counted-ml", "0.3"),
    "calc field": ("--field-number", "20", "--objective", "10"),
    "calc residual": ("--prior", "0.5", "--sensitivity", "0.5", "--negatives", "3"),
    "calc reduction": ("--before", "40,31", "--after", "2,0", "--paired"),
    "calc agreement": ("--table", "20,5;10,15"),
    "calc group-size": ("--group", "60", "--infected", "2", "--confidence", "0.95"),
    "calc detect": ("--group", "60", "--tested", "30", "--infected", "2", "--sensitivity", "0.5"),
    "calc pool": (
        *("--group", "60", "--pool-size", "5", "--pools", "12"),
        *("--infected", "3", "--sensitivity", "0.75", "--factor", "50"),
    ),
    "calc fluids": ("--weight-g", "350", "--ml-per-kg", "20", "--sites", "2"),
    "calc tube": ("--french", "5", "--inner-diameter-mm", "0.9", "--length-mm", "400"),
    "calc dose": (
        *("--weight-g", "317", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100"),
        *("--drug", "fenbendazole", "--taxon", "Pogona vitticeps"),
    ),
    "mark": ("E1", "--read"),
    "due": (),
    "correct": ("W1", "mass_g=318", "--reason", "read wrong"),
    "withdraw": ("W2", "--reason", "another animal"),
    "history": ("A1",),
    "demo": ("told", "--no-open"),
    "doctor": (),
}
"""Words with which each command is done on the records of `world`."""

REFUSED: dict[str, tuple[str, ...]] = {
    "case close": ("C1",),
    "arrivals release": ("I1", "--on", "2025-03-10"),
    "dose work-out": ("C1", "--at", "2025-06-07 08:10"),
    "dose give": ("C1", "--at", "2025-06-07 08:10"),
    "plan add": ("C2", "--vet", "Dr Ilse Varnholt"),
    "plan same": ("C2", "--vet", "Dr Ilse Varnholt"),
}
"""Words with which a command refuses an act or a dose."""


BY_KEYS = {"exam tally"}
"""Commands that a person answers by keys, with tests of their own."""

ON_A_SERVER = {"records move", "records join", "records renew", "records people"}
"""Commands that need a server: `tests/records/test_server.py` holds them."""

ON_PICTURES = {
    "exam propose",
    "exam read-clip",
    "exam take-in",
    "image calibrate",
    "image check",
    "image detect",
    "image learn",
    "image measure",
    "image identify",
    "image overlay",
    "image contact-sheet",
    "image detect-all",
    "image motility",
}
"""Commands that need drawn pictures: `test_take_in` and `test_image` hold their ``--json``."""


def commands() -> Iterator[tuple[str, Any]]:
    """Walk the program: every command with the words that call it."""
    import typer

    from fecallab.cli.main import build_app
    from fecallab.cli.near import every_command

    yield from every_command(typer.main.get_command(build_app()))


def tell(home: Path, empty_folder: Path) -> Path:
    """Make the records that the table belongs to, a backup, forms and a picture in a folder."""
    from PIL import Image

    from fecallab.cli.main import run

    shutil.copytree(empty_folder, home / "records")
    there = ("--records", str(home / "records"), "--by", "Mara Quell")
    passed = ("--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00", "--form", "soft")
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "moved")
    for words in (
        (
            "animal",
            "add",
            "Saffron",
            "--species",
            "Pogona vitticeps",
            "--adult",
            "--enclosure",
            "north shelf",
        ),
        (
            "animal",
            "add",
            "Tub 1",
            "--kind",
            "tub",
            "--number",
            "6",
            "--host-group",
            "gecko",
            "--enclosure",
            "tub 1",
        ),
        ("animal", "add", "Juniper", "--host-group", "gecko", "--enclosure", "tub 2"),
        ("arrivals", "add", "Tub 1", "--arrived", "2025-03-01", "--source", "an invented breeder"),
        ("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00"),
        ("animal", "weigh", "Saffron", "999", "--at", "2025-02-01 08:00"),
        ("sample", "add", "Saffron", *passed, "--mass-g", "2", "--kept", "room"),
        ("sample", "add", "Saffron", "--passed-from", "2025-03-20 08:00"),
        ("exam", "add", "S1", *FLOAT, "--objective", "10", "--counts", "0,2", "--of", "oxyurid"),
        ("plan", "add", "C1", *PLAN),
        ("case", "open", "Saffron", "ciliate", "--vet", "Dr Ilse Varnholt"),
        ("plan", "add", "C2", *PLAN),
        ("dose", "give", "C2", "--at", "2025-03-09 08:00", "--volume-ml", "0.16", "--as-told"),
        ("case", "close", "C2", *order),
        ("verdict", "add", "E1", "plan same", "--vet", "Dr Ilse Varnholt", "--yes"),
        ("vet", "key", "make", "--key", str(home / "vet-key.pem")),
    ):
        assert run([*words, *(there if words[0] != "vet" else ())]) == 0, words
    assert run(["records", "backup", str(home / "a-backup"), *there[:2]]) == 0
    assert run(["records", "export", str(home / "an-export"), *there[:2]]) == 0
    Image.new("RGB", (64, 48), "white").save(home / "field.png")
    (home / "marks.csv").write_text("picture,x_px,y_px,name\nfield.png,3,4,oxyurid\n", encoding="utf-8")
    (home / "filled-sheet.csv").write_text(SHEET, encoding="utf-8")
    (home / "weights.csv").write_text(WEIGHTS, encoding="utf-8")
    (home / "answer.json").write_text(_answer(home / "records"), encoding="utf-8")
    (home / "exam.json").write_text(EXAM, encoding="utf-8")
    (home / "history.json").write_text(HISTORY, encoding="utf-8")
    return home


def _answer(folder: Path) -> str:
    """Make a page of the exam, and an answer to it."""
    import json
    from datetime import datetime

    from fecallab.domain.vet_words import PageItem, VetPage
    from fecallab.records.store import open_records
    from fecallab.records.vet_words import record_page
    from fecallab.vet.answer import page_identity

    now = datetime.now().replace(second=0, microsecond=0)
    with open_records(folder) as store, store.write("Mara Quell", now) as writer:
        page = page_identity(writer.identity, "C1", [writer.exam("E1")])
        items = [
            PageItem(number=i.number, item=i.key, name=i.name, sure=i.sure, count=i.count) for i in page.items
        ]
        made = VetPage(subject="C1", exams="E1", page_id=page.id, page_sha256=page.hash, made_at=now)
        record_page(writer, made, items)
    return json.dumps(
        {
            "format": "fecallab-answer",
            "version": 1,
            "page": {"id": page.id, "hash": page.hash},
            "vet": {"name": "Dr Ilse Varnholt"},
            "answered_at": f"{now:%Y-%m-%dT%H:%M}",
            "rest_agreed": True,
        }
    )
