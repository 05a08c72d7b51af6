"""Where the bytes of the pictures lie: in the record folder, or in a place that several computers share."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Protocol

from fecallab.domain.errors import BadInput, CouldNot, Reason
from fecallab.domain.exam import Picture
from fecallab.records.folder import PICTURES, picture_name
from fecallab.records.pictures import hash_of, place_picture

CACHE = ".pictures-cache"
_CHUNK = 1 << 20
_BRING_BACK = "Bring the file back from a backup or from where it was taken."


class PicturePlace(Protocol):
    """What a place for pictures can do; each picture lies there under its hash."""

    def place(self, source: Path, info: Picture) -> bool:
        """Copy a picture in, whole or not at all; say whether it was not there before."""

    def path(self, info: Picture) -> Path:
        """Return a file on this computer with the bytes of a picture."""

    def problems(self, info: Picture) -> Iterator[Reason]:
        """Yield what is wrong with the bytes of a picture."""

    def remove(self, info: Picture) -> None:
        """Remove a picture that no record names."""

    def names(self) -> Iterator[str]:
        """Yield the names of all files there, as `picture_name` gives them."""


class FolderPictures:
    """Pictures in the record folder itself."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def place(self, source: Path, info: Picture) -> bool:
        """See `PicturePlace`."""
        return place_picture(source, self.folder, info)[1]

    def path(self, info: Picture) -> Path:
        """See `PicturePlace`."""
        return self.folder / _name(info)

    def problems(self, info: Picture) -> Iterator[Reason]:
        """See `PicturePlace`."""
        name = _name(info)
        try:
            found = hash_of(self.folder / name)
        except OSError as error:
            said = f"The picture {info.file_name} ({name}) cannot be read: {error.strerror}."
            code = "picture-missing" if isinstance(error, FileNotFoundError) else "picture-not-readable"
            yield Reason(code, said, _BRING_BACK)
            return
        if found != info.sha256:
            yield _changed(info)

    def remove(self, info: Picture) -> None:
        """See `PicturePlace`."""
        self.path(info).unlink(missing_ok=True)

    def names(self) -> Iterator[str]:
        """See `PicturePlace`."""
        for path in sorted((self.folder / PICTURES).rglob("*")):
            if path.is_file():
                yield path.relative_to(self.folder).as_posix()


class SharedPictures:
    """Pictures in a shared folder or an object store, by an address that fsspec understands.

    Parameters
    ----------
    address : str
        ``file:///mnt/rescue/pictures``, ``s3://bucket/prefix`` … ; what it needs besides fsspec must be
        installed.
    folder : Path
        The record folder of this computer; pictures that were fetched are kept in it.
    """

    def __init__(self, address: str, folder: Path) -> None:
        with _in_one_line(address):
            import fsspec

            self._system, root = fsspec.core.url_to_fs(address)
        self._root = str(root).rstrip("/")
        self.address = address
        self._cache = folder / CACHE

    def place(self, source: Path, info: Picture) -> bool:
        """See `PicturePlace`; what arrived is read back before it gets its name."""
        target = self._at(info)
        with _in_one_line(self.address):
            if self._system.exists(target) and self._hash(target) == info.sha256:
                return False
        if hash_of(source) != info.sha256:
            raise CouldNot(
                f"The picture {source} changed while it was copied; nothing was recorded.",
                next="Close the program that writes it and repeat.",
                code="picture-changed",
            )
        with _in_one_line(self.address):
            self._system.makedirs(target.rpartition("/")[0], exist_ok=True)
            temporary = f"{target}.incoming-{os.getpid()}"
            try:
                self._system.put_file(str(source), temporary)
                if self._hash(temporary) != info.sha256:
                    raise CouldNot(
                        f"The picture {source} did not arrive whole in {self.address}; nothing was recorded.",
                        next="Repeat; if it stays so, check the connection and the room there.",
                        code="picture-changed",
                    )
                self._system.mv(temporary, target)
            except BaseException:
                with suppress(Exception):
                    self._system.rm_file(temporary)
                raise
        return True

    def path(self, info: Picture) -> Path:
        """See `PicturePlace`; a picture is fetched once and kept beside the records of this computer."""
        here = self._cache / _name(info)
        if here.exists() and hash_of(here) == info.sha256:
            return here
        with _in_one_line(self.address):
            here.parent.mkdir(parents=True, exist_ok=True)
            temporary = here.with_name(f".{here.name}.{os.getpid()}.new")
            try:
                self._system.get_file(self._at(info), str(temporary))
                temporary.replace(here)
            finally:
                temporary.unlink(missing_ok=True)
        return here

    def problems(self, info: Picture) -> Iterator[Reason]:
        """See `PicturePlace`; what a store remembers of the file from before is not believed."""
        self._system.invalidate_cache()
        try:
            found = self._hash(self._at(info))
        except FileNotFoundError:
            said = f"The picture {info.file_name} ({_name(info)}) is not in {self.address}."
            yield Reason("picture-missing", said, _BRING_BACK)
            return
        except Exception as error:
            said = f"The picture {info.file_name} cannot be read from {self.address}: {_short(error)}."
            yield Reason("picture-not-readable", said, "Check the connection and repeat.")
            return
        if found != info.sha256:
            yield _changed(info)

    def remove(self, info: Picture) -> None:
        """See `PicturePlace`."""
        with suppress(FileNotFoundError), _in_one_line(self.address):
            self._system.rm_file(self._at(info))

    def names(self) -> Iterator[str]:
        """See `PicturePlace`."""
        with _in_one_line(self.address):
            self._system.invalidate_cache()
            found = self._system.find(self._root) if self._system.exists(self._root) else []
        for name in sorted(found):
            yield f"{PICTURES}/{str(name)[len(self._root) + 1 :]}"

    def _at(self, info: Picture) -> str:
        return f"{self._root}/{_name(info).removeprefix(PICTURES + '/')}"

    def _hash(self, name: str) -> str:
        digest = hashlib.sha256()
        with self._system.open(name, "rb") as handle:
            while chunk := handle.read(_CHUNK):
                digest.update(chunk)
        return digest.hexdigest()


def picture_place(folder: Path, address: str) -> PicturePlace:
    """Return the place that a record folder names: an address, or nothing for the folder itself."""
    return SharedPictures(address, folder) if address else FolderPictures(folder)


def _name(info: Picture) -> str:
    return picture_name(info.sha256, info.format, info.file_name)


def _changed(info: Picture) -> Reason:
    said = f"The picture {info.file_name} ({_name(info)}) is not as it was recorded: its bytes have changed."
    return Reason("picture-changed", said, "Bring the file back from a backup.")


@contextmanager
def _in_one_line(address: str) -> Iterator[None]:
    """Turn whatever a file system far away may raise into one clear line."""
    from fecallab.domain.errors import FecallabError

    try:
        yield
    except (FecallabError, FileNotFoundError):
        raise
    except ImportError as error:
        raise BadInput(
            f"The address {address} needs what is not installed: {_short(error)}.",
            next='Install it, or fsspec itself: pip install "fecallab[server]"',
            code="not-installed",
        ) from error
    except ValueError as error:
        raise BadInput(
            f"The address {address} is not understood: {_short(error)}.",
            next="Write it as file:///FOLDER or s3://BUCKET/PREFIX",
            code="bad-address",
        ) from error
    except Exception as error:
        raise CouldNot(
            f"The pictures in {address} cannot be reached: {_short(error)}; nothing was changed.",
            next="Check the connection and the permissions, then repeat.",
            code="not-readable",
        ) from error


def _short(error: Any) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0][:200].rstrip(".")
