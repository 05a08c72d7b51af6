"""``fecallab vet page``: the page that goes to the vet, with its PDF, contact sheets, films and covering words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import BY, JSON, ON, RECORDS, now, number_or_none, open_folder, read_day, who
from fecallab.cli.output import emit, say
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fecallab.domain.exam import Exam
    from fecallab.records.reader import Reader
    from fecallab.vet.page_model import PageToVet

OLDER_NAMED = 3
"""So many older pages are named (own choice)."""
Contents = list[tuple[str, bytes]]


def register(app: typer.Typer) -> None:
    """Add the command to the noun ``vet``."""
    app.command()(page)


def page(
    code: str = typer.Argument(help="Code of a case (C1) or of an exam (E1)."),
    question: str = typer.Option("", help="What you ask the vet (else the question put to the exam)."),
    exam: list[str] = typer.Option(
        [],
        help="For a case: an exam whose pictures go along; may be repeated (else the last and unsure ones).",
    ),
    vet: str = typer.Option("", "--vet", help="Whom it goes to (else the vet of the last plan)."),
    out: Path = typer.Option(Path("for-the-vet"), "--out", help="Folder for the files (made when missing)."),
    pdf: bool = typer.Option(False, "--pdf", help="Also a PDF, to print or to read without a browser."),
    contact_sheet: bool = typer.Option(
        False, "--contact-sheet", help="Also a picture of all numbered marks, for a messenger."
    ),
    leave_out: str = typer.Option(
        "", help="What stays off the page: owner, place, clips, or several with commas."
    ),
    max_mb: str = typer.Option("10", help="Largest mail in megabytes; more is split over several."),
    clip: list[Path] = typer.Option(
        [], help="One more clip, beside those of the readings, as stills and as a film; may be repeated."
    ),
    open_it: bool = typer.Option(False, "--open", help="Open the page in the browser."),
    on: str | None = ON,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Make the page that goes to the vet: one file that needs no network, no scripts and no program."""
    from fecallab.records.vet_words import record_page
    from fecallab.vet.mail import covering_words, in_mails, largest_file_bytes, packed
    from fecallab.vet.page_build import vet_page
    from fecallab.vet.page_films import with_films
    from fecallab.vet.page_leave_out import names_here, places_here, read_leave_out, without

    day = read_day(on, "--on")
    most_mb = number_or_none(max_mb, "--max-mb", low=0.1, high=1000) or 10.0
    left = read_leave_out(leave_out)
    keeper = who(by)
    with open_folder(records) as store:
        whole = vet_page(
            store, code, day, question=question, exams=exam, to_whom=vet.strip(), from_whom=keeper
        )
        seen = [store.exam(one.page.exam.code) for one in whole.exams]
        clear = without(whole, left, names_here(whole, seen), places_here(whole.animal))
        stem = file_name(clear)
        shown, stayed = _clips(store, clear, seen, clip, stem)
        shown, films = with_films(shown, largest_file_bytes(most_mb))
        stayed += [
            f"The film of {one.title} is too large for a mail." for one in shown.clips if one.film_left_out
        ]
        parts = packed(shown, most_mb)
        files, contents = _drawn(parts, stem, pdf, contact_sheet, most_mb)
        message = covering_words(parts, [name for name, _ in [*contents, *films]])
        older = _older_pages(out, clear.subject, [name for name, _ in contents])
        with store.write(by=keeper, now=now()) as writer:
            sent, items = _as_recorded(whole)
            recorded = record_page(writer, sent, items)
            _write(out, [*contents, *films, (message_name(clear), message.encode("utf-8"))])
        mails = in_mails([(name, len(content)) for name, content in [*contents, *films]], most_mb)
    _said(recorded.code, parts, out, files, films, stayed, mails, older, open_it, as_json)


def file_name(page: PageToVet, end: str = "") -> str:
    """Return the name of a file that belongs to a page: what it is about, the page's own word, and an end."""
    return f"{page.subject}-{page.page_id}{end}"


def message_name(page: PageToVet) -> str:
    """Return the name of the file with the words that go with a page."""
    return file_name(page, "-message.txt")


def _older_pages(out: Path, subject: str, new: Sequence[str]) -> list[str]:
    """Return the pages of the same case or exam that lie in the folder already, oldest first."""
    there = (one for one in out.glob(f"{subject}-*.html") if one.name not in new)
    return [one.name for one in sorted(there, key=lambda one: (one.stat().st_mtime, one.name))]


def _drawn(
    parts: Sequence[PageToVet], stem: str, pdf: bool, contact_sheet: bool, most_mb: float
) -> tuple[list[dict[str, Any]], Contents]:
    """Return what each file is, and its bytes."""
    from fecallab.vet.mail import largest_file_bytes, sent_bytes
    from fecallab.vet.page import render_vet_page
    from fecallab.vet.pdf import vet_pdf
    from fecallab.vet.sheet import contact_sheets

    told: list[dict[str, Any]] = []
    contents: Contents = []

    def add(kind: str, name: str, content: bytes, part: int) -> None:
        contents.append((name, content))
        size, sent = len(content), sent_bytes(len(content))
        told.append({"kind": kind, "name": name, "part": part, "bytes": size, "bytes_in_a_mail": sent})

    for one in parts:
        end = f"-{one.part}-of-{one.parts}" if one.parts > 1 else ""
        if one.parts > 1:
            say(f"  page {one.part} of {one.parts}: {number_of(len(one.pictures), 'picture')}")
        add("page", f"{stem}{end}.html", render_vet_page(one).encode("utf-8"), one.part)
        if pdf:
            add("pdf", f"{stem}{end}.pdf", vet_pdf(one), one.part)
        if contact_sheet:
            for number, content in enumerate(contact_sheets(one, largest_file_bytes(most_mb)), start=1):
                add("contact sheet", f"{stem}{end}-sheet-{number}.jpg", content, one.part)
    return told, contents


def _clips(
    store: Reader, page: PageToVet, exams: Sequence[Exam], named: Sequence[Path], stem: str
) -> tuple[PageToVet, list[str]]:
    """Return the page with the clips of its readings, unless they are left out, and those that were named."""
    from fecallab.report.picture_blocks import organism_words
    from fecallab.vet.page_clips import clips_of, recorded_clips

    found, told = ([], []) if "clips" in page.left_out else recorded_clips(store, exams, organism_words())
    shown, stayed = clips_of(page, named, stem, found, say)
    return shown, [*told, *stayed]


def _as_recorded(page: PageToVet) -> tuple[Any, list[Any]]:
    """Return the page and what stands on it, as the records keep them."""
    from fecallab.domain.vet_words import PageItem, VetPage

    sent = VetPage(
        subject=page.subject,
        exams=" ".join(one.page.exam.code for one in page.exams),
        page_id=page.page_id,
        page_sha256=page.page_hash,
        made_at=now(),
        question=page.asks,
    )
    items = [
        PageItem(number=one.number, item=one.key, name=one.name, sure=one.sure, count=one.count)
        for one in (each.item for each in page.items)
    ]
    return sent, items


def _write(out: Path, contents: Contents) -> None:
    from fecallab.report.sheet_files import write_bytes

    for name, content in contents:
        write_bytes(out / name, content, "page")


def _said(
    code: str,
    parts: Sequence[PageToVet],
    out: Path,
    files: Sequence[dict[str, Any]],
    films: Contents,
    stayed: Sequence[str],
    mails: Sequence[Sequence[str]],
    older: Sequence[str],
    open_it: bool,
    as_json: bool,
) -> None:
    from fecallab.cli.report import open_page

    first = parts[0]
    message = message_name(first)
    items = [one for part in parts for one in part.items]
    doubtful = [one.item.number for one in items if one.doubtful]
    payload = {
        "page": code,
        "page_id": first.page_id,
        "page_sha256": first.page_hash,
        "subject": first.subject,
        "exams": [one.page.exam.code for one in first.exams],
        "numbers": len(items),
        "doubtful": doubtful,
        "parts": len(parts),
        "left_out": list(first.left_out),
        "pictures_made_smaller": first.scaled,
        "folder": str(out.resolve()),
        "files": list(files),
        "films": [{"name": name, "bytes": len(content)} for name, content in films],
        "clips": [
            {"reading": one.reading or None, "seconds": one.seconds, "film": one.film_name or None}
            for one in first.clips
        ],
        "stayed_behind": list(stayed),
        "mails": [list(mail) for mail in mails],
        "message": message,
        "older_pages": list(older),
    }
    lines = [
        f"Page {first.page_id} ({code}): {number_of(len(items), 'number')}, {len(doubtful)} of them doubtful."
    ]
    lines += [f"  {out / one['name']}  ({one['bytes_in_a_mail'] / 1e6:.1f} MB in a mail)" for one in files]
    lines += [f"  {out / name}  (a film, to be sent beside the page)" for name, _ in films]
    lines += [f"  {line}" for line in stayed]
    if len(parts) > 1:
        lines.append(f"The pictures need {len(parts)} pages, each in a mail of its own.")
    if len(mails) > 1:
        lines += [f"  mail {number}: {', '.join(mail)}" for number, mail in enumerate(mails, start=1)]
    if first.scaled:
        lines.append("Pictures were made smaller to fit; the crops of doubtful marks were not.")
    if older:
        named = ", ".join(older[-OLDER_NAMED:])
        more = f" and {len(older) - OLDER_NAMED} more" if len(older) > OLDER_NAMED else ""
        lines.append(f"Older pages of {first.subject} stay in {out}: {named}{more}. Send the new one.")
    lines += [
        f"Words to send with it: {out / message}",
        "When the answer comes: fecallab vet take-in FILE",
    ]
    emit(payload, "\n".join(lines), as_json)
    if open_it:
        open_page(out / files[0]["name"])
