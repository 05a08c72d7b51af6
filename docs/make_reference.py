"""Write docs/reference from the program: ``python docs/make_reference.py``.

With ``--check`` nothing is written; the pages that are out of date are named, and the exit code is 1.
"""

import sys
from pathlib import Path

HERE = Path(__file__).parent
FOLDER = HERE / "reference"
sys.path[:0] = [path for path in (str(HERE), str(HERE.parent)) if path not in sys.path]

from reference_pages import calculators, commands, dictionary, figures, python_names, rules, settings  # noqa: E402
from reference_pages import word_codes as codes  # noqa: E402
from reference_pages.markdown import page, table  # noqa: E402

PAGES = {
    "commands/index.md": "every command with its options and an example",
    "calculators.md": "what goes in, the formula with its source, an example with its answer",
    "settings.md": "environment variables, files, numbers of plans and of arrivals",
    "codes.md": "exit codes, and the word code of every refusal, warning and error",
    "dose-rules.md": "every rule of a dose: what it does, who may lift it, the words shown",
    "cautions.md": "the short words that stand where the act is",
    "adequacy.md": "which method can see which organism, and what is asked of it",
    "organisms.md": "organisms and look-alikes with sizes, hosts and sources",
    "methods.md": "exam methods: what each finds and misses",
    "tables.md": "every other table behind the rules, each row with its source",
    "sources.md": "the sources by number",
    "data-dictionary.md": "every table and column of the records, with units",
    "python.md": "public Python names",
}
"""Every page of the reference, in order, and what it holds."""


def made() -> dict[str, str]:
    """Return the text of every page by its place below docs/reference."""
    found = {
        **commands.pages(),
        "calculators.md": calculators.calculators(),
        "settings.md": settings.settings(),
        "codes.md": codes.word_codes(),
        "dose-rules.md": rules.dose_rules(),
        "cautions.md": rules.cautions(),
        "adequacy.md": figures.adequacy(),
        "organisms.md": figures.organisms(),
        "methods.md": figures.methods(),
        "tables.md": figures.other_tables(),
        "sources.md": figures.sources(),
        "data-dictionary.md": dictionary.dictionary(),
        "python.md": python_names.python_names(),
    }
    titles = {name: text.split("\n# ", 1)[1].split("\n", 1)[0] for name, text in found.items()}
    rows = [[f"[{titles[name]}]({name})", about] for name, about in PAGES.items()]
    found["index.md"] = page(
        "Reference",
        "Written from the program itself, so that it cannot say anything else than the program does; a test holds it.",
        table(["page", "what it holds"], rows),
        "Besides: [what other programs can rely on](../forms.md), [what the words mean](../glossary.md), [why they are"
        " called so](../names.md).",
    )
    return found


def out_of_date(pages: dict[str, str], folder: Path = FOLDER) -> list[str]:
    """Return the pages that differ from what is in the folder, and those that should not be there."""
    there = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*.md")}
    differ = [name for name, text in pages.items() if name not in there or _read(there[name]) != text]
    return sorted({*differ, *(there.keys() - pages.keys())})


def _read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def write(pages: dict[str, str], folder: Path = FOLDER) -> None:
    """Write the pages, and take away what is no page any more."""
    for name in out_of_date(pages, folder):
        path = folder / name
        if name not in pages:
            path.unlink()
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(pages[name], encoding="utf-8", newline="\n")


def main(words: list[str]) -> int:
    """Write the pages, or check them."""
    pages = made()
    stale = out_of_date(pages)
    if "--check" in words:
        print("\n".join(f"out of date: {name}" for name in stale) or "The reference is up to date.")
        return 1 if stale else 0
    write(pages)
    print(f"{len(pages)} pages, {len(stale)} written anew")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
