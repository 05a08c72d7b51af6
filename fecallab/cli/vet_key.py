"""A vet's own key: made, shown, used to sign an answer; and the keys that a keeper trusts."""

from __future__ import annotations

import os
from pathlib import Path

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, open_folder, who
from fecallab.cli.output import emit

KEY_FILE = "FECALLAB_VET_KEY"
"""Environment variable that names the file of the vet's key."""
KEY = typer.Option(None, "--key", help=f"File of the key (else {KEY_FILE}, else your own settings folder).")

key_app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Add the commands ``key make``, ``key show``, ``sign`` and ``trust``."""
    app.add_typer(key_app, name="key", help="Your own key, if you want to sign answers.")
    app.command()(sign)
    app.command()(trust)


def key_path(given: str | None) -> Path:
    """Return where the key lies: as typed, as the environment says, else in the person's settings folder."""
    named = given or os.environ.get(KEY_FILE)
    return Path(named) if named else Path(typer.get_app_dir("fecallab")) / "vet-key.pem"


@key_app.command()
def make(key: str | None = KEY, as_json: bool = JSON) -> None:
    """Make a key pair for signing answers; the private half stays in a file of your own."""
    from fecallab.vet.signing import SAYS, make_key, words_of_key

    path = key_path(key)
    public = make_key(path)
    text = (
        f"Made. The private half is in {path}: keep it to yourself, and a copy in a safe place.\n"
        f"Your public key: {public}\n"
        f"Read to the keeper by telephone: {words_of_key(public)}\n{SAYS}"
    )
    emit({"public_key": public, "fingerprint": words_of_key(public), "file": str(path)}, text, as_json)


@key_app.command()
def show(key: str | None = KEY, as_json: bool = JSON) -> None:
    """Show your public key, to give to a keeper."""
    from fecallab.vet.signing import SAYS, load_key, public_key_of, words_of_key

    public = public_key_of(load_key(key_path(key)))
    text = f"Your public key: {public}\nRead to the keeper by telephone: {words_of_key(public)}\n{SAYS}"
    emit({"public_key": public, "fingerprint": words_of_key(public)}, text, as_json)


def sign(
    file: str = typer.Argument(help="The answer that the page saved, or - for the pasted block of text."),
    to: Path | None = typer.Option(None, "--to", help="Where the signed answer goes (else beside the file)."),
    key: str | None = KEY,
    as_json: bool = JSON,
) -> None:
    """Sign an answer with your own key; what it says is not changed."""
    import json

    from fecallab.cli.vet_take_in import read_bytes
    from fecallab.domain.errors import BadInput
    from fecallab.vet.answer import parse_answer
    from fecallab.vet.signing import SAYS, load_key, words_of_key
    from fecallab.vet.signing import sign as signed

    private = load_key(key_path(key))
    read = parse_answer(read_bytes(file))
    whole = signed(read.raw, private)
    beside = (
        Path("answer-signed.json")
        if file == "-"
        else Path(file).with_suffix("").with_name(f"{Path(file).stem}-signed.json")
    )
    target = to or beside
    if target.exists():
        raise BadInput(
            f"{target} exists already; nothing is written over.",
            next="Name another file: --to FILE",
            code="exists-already",
        )
    target.write_text(json.dumps(whole, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    public = whole["signature"]["public_key"]
    text = f"Signed as {read.answer.vet.name} with the key {words_of_key(public)}: {target}\n{SAYS}"
    emit({"file": str(target), "public_key": public, "vet": read.answer.vet.name}, text, as_json)


def trust(
    key: str = typer.Argument(help="The vet's public key, 43 letters and digits."),
    name: str = typer.Argument(help="Whose it is, as the vet writes the name in answers."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Take on a vet's public key after you have checked with the vet that it is theirs."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.verdict import vet_key
    from fecallab.domain.vet_words import TrustedKey
    from fecallab.records.vet_words import trusted_keys
    from fecallab.vet.signing import SAYS, checked_public_key, words_of_key

    public = checked_public_key(key)
    if not name.strip():
        raise BadInput("A key is somebody's.", next="Type the vet's name.", code="nobody")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = next((one for one in trusted_keys(writer) if one.public_key == public), None)
        if known is not None and vet_key(known.name) != vet_key(name):
            raise BadInput(
                f"The key is known here as that of {known.name} ({known.code}).",
                next=f"If that was wrong: fecallab withdraw {known.code} --reason WHY",
                code="key-of-another",
            )
        recorded = known or writer.add(TrustedKey(public_key=public, name=name.strip(), remark=remark))
    text = (
        f"{recorded.code}: the key {words_of_key(public)} is that of {recorded.name}"
        f"{' (known before)' if known else ''}. Compare these digits with the vet by telephone.\n{SAYS}"
    )
    emit({"key": fact_dict(recorded), "fingerprint": words_of_key(public)}, text, as_json)
