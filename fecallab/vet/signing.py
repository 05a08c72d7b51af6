"""Ed25519 keys and signatures: they show who answered and that nothing was changed on the way, no more."""

from __future__ import annotations

import base64
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.vet.answer import ReadAnswer, signed_bytes
from fecallab.vet.safe_json import refuse

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ALGORITHM = "Ed25519"
SAYS = (
    "A signature shows who answered and that nothing was changed on the way. It is no legal signature and"
    " replaces no prescription."
)


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode("ascii").rstrip("=")


def _bytes(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def make_key(path: Path) -> str:
    """Make a key pair and keep it in a file that only its owner may read; return the public key.

    Raises
    ------
    BadInput
        When the file exists: a key is never written over.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    key = Ed25519PrivateKey.generate()
    written = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise BadInput(
            f"There is a key already in {path}; a key is never written over.",
            next="Use it (fecallab vet key show), or name another file: --key FILE",
            code="key-exists",
        ) from None
    with os.fdopen(handle, "wb") as file:
        file.write(written)
    return public_key_of(key)


def load_key(path: Path) -> Ed25519PrivateKey:
    """Return the private key in a file."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    if not path.exists():
        raise BadInput(f"There is no key in {path}.", next="Type: fecallab vet key make", code="no-key")
    try:
        key = load_pem_private_key(path.read_bytes()[:100_000], password=None)
    except (ValueError, TypeError) as error:
        raise CouldNot(
            f"{path} holds no key that can be read here.",
            next="Name the right file: --key FILE",
            code="no-key",
        ) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise BadInput(
            f"The key in {path} is of another kind; an Ed25519 key is asked for.",
            next="Type: fecallab vet key make --key FILE",
            code="other-key",
        )
    return key


def public_key_of(key: Ed25519PrivateKey) -> str:
    """Return the public key as 43 letters of base64url."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return _text(key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw))


def checked_public_key(text: str) -> str:
    """Return a public key as it was typed, or refuse what is none."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    word = "".join(text.split())
    try:
        if len(word) != 43:
            raise ValueError
        raw = _bytes(word)
        Ed25519PublicKey.from_public_bytes(raw)
        if _text(raw) != word:
            raise ValueError
    except (ValueError, UnicodeEncodeError):
        raise BadInput(
            f"{text.strip()[:50]!r} is no public key: 43 letters and digits are asked for.",
            next="Ask the vet for it: fecallab vet key show",
            code="no-public-key",
        ) from None
    return word


def words_of_key(public_key: str) -> str:
    """Return the fingerprint of a key, to compare by telephone: SHA-256, its first 16 digits in fours.

    Examples
    --------
    >>> words_of_key("A" * 43)
    '6668 7aad f862 bd77'
    """
    from hashlib import sha256

    found = sha256(_bytes(public_key)).hexdigest()[:16]
    return " ".join(found[start : start + 4] for start in range(0, 16, 4))


def sign(raw: dict[str, Any], key: Ed25519PrivateKey) -> dict[str, Any]:
    """Return an answer with a signature block; one that was there is replaced."""
    unsigned = {name: value for name, value in raw.items() if name != "signature"}
    block = {
        "algorithm": ALGORITHM,
        "public_key": public_key_of(key),
        "signature": _text(key.sign(signed_bytes(unsigned))),
    }
    return {**unsigned, "signature": block}


def verified_key(read: ReadAnswer) -> str:
    """Return the public key that an answer is signed with; empty for an unsigned one.

    Raises
    ------
    BadInput
        When the signature does not fit what the answer says, or the key that it names.
    """
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    block = read.answer.signature
    if block is None:
        return ""
    key = checked_public_key(block.public_key)
    try:
        Ed25519PublicKey.from_public_bytes(_bytes(key)).verify(_bytes(block.signature), read.signed_bytes)
    except (InvalidSignature, ValueError):
        raise refuse(
            "The signature does not fit the answer: it was changed after it was signed, or signed with another"
            " key.",
            code="signature-wrong",
        ) from None
    return key
