"""What ``fecallab`` alone says where nobody can be asked: what to type next, here."""

from __future__ import annotations

from pathlib import Path

from fecallab.domain.errors import FecallabError

ABOUT = "fecal exams of reptiles, from a sample to a case that is clear by the rule"
CAUTION = "A screening aid and a record, no diagnosis: your vet and your local law decide."

WITHOUT_RECORDS = (
    ("fecallab demo", "see how it works: an invented rescue, in a new folder"),
    ("fecallab records make my-records", "make a record folder of your own; then: cd my-records"),
    ("fecallab calc --help", "calculators, which need no records"),
)
WITH_RECORDS = (
    ("fecallab due", "what comes next for every animal"),
    ("fecallab animal add NAME", "a new animal, tub or pen"),
    ("fecallab sample add NAME", "a stool was passed"),
    ("fecallab exam tally", "count at the eyepiece, by keys"),
    ("fecallab records backup FOLDER", "back the records up"),
)
ALWAYS = (
    ("fecallab doctor", "is everything there that fecallab needs?"),
    ("fecallab --help", "every command"),
)


def what_next() -> str:
    """Return in a few lines which record folder there is, and what may be typed.

    Nothing is opened but the marker of the folder, so that it is said at once.
    """
    from fecallab import __version__
    from fecallab.cli.by_name import hint
    from fecallab.cli.start_folder import folders_nearby
    from fecallab.records.folder import find_folder, shown

    lines = [f"fecallab {__version__}: {ABOUT}.", CAUTION, ""]
    acts: tuple[tuple[str, str], ...]
    try:
        lines.append(f"The records are in {find_folder().resolve()}")
        acts = WITH_RECORDS
    except FecallabError as error:
        acts = WITHOUT_RECORDS
        trouble = error.reason
        lines.append(trouble.text)
        if trouble.code != "no-record-folder":
            lines.append(trouble.next)
        near = folders_nearby()
        acts = (
            *((f"cd {shown(_from_here(one))}", "a record folder that is near") for one in near[:3]),
            *acts,
        )
    lines.append("What next? Type one of:")
    wide = max(len(typed) for typed, _ in (*acts, *ALWAYS))
    lines += [f"  {typed:<{wide}}  {about}" for typed, about in (*acts, *ALWAYS)]
    if found := hint():
        lines += ["", found]
    return "\n".join(lines)


def _from_here(folder: Path) -> Path:
    return folder.relative_to(Path.cwd()) if folder.is_relative_to(Path.cwd()) else folder
