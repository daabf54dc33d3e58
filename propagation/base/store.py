"""Copies of fetched products and typed-in facts in a directory that the caller names.

Each copy is one file: a first line of JSON with the source, the time and the checksum of the content, then
the bytes themselves. A crash at any moment leaves either the complete old copy or the complete new one (see
`files`). The checksum reveals a damaged copy, which is never used.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import numpy as np

from propagation.base.errors import BandwhenError, InputError
from propagation.base.files import is_file, locked, open_binary, replace_file
from propagation.base.text import as_time

SUFFIX: Final = ".stored"
_FORMAT: Final = "bandwhen stored copy 1"
_LARGEST_HEADER: Final = 16384  # bytes
_LARGEST_BODY: Final = 50_000_000  # bytes; no product is as large


class StoreError(BandwhenError):
    """Error: a stored copy cannot be read or written; the sentence says which, why and what happens now."""

    title = "Stored conditions"


@dataclass(frozen=True)
class Stored:
    """Copy and its source. fetched: when its content was fetched; checked: when last found unchanged."""

    name: str
    body: bytes
    origin: str
    fetched: np.datetime64
    checked: np.datetime64
    etag: str | None = None
    last_modified: str | None = None


@dataclass(frozen=True)
class Store:
    """Copies by name in one directory, which is made at the first write."""

    directory: Path

    def put(self, stored: Stored) -> None:
        """Write a copy in one step; raises StoreError if the disk refuses."""
        header = asdict(stored)
        body = header.pop("body")
        header |= {
            "format": _FORMAT,
            "fetched": str(stored.fetched.astype("datetime64[s]")),
            "checked": str(stored.checked.astype("datetime64[s]")),
            "bytes": len(body),
            "sha256": hashlib.sha256(body).hexdigest(),
        }
        target = self._path(stored.name)
        try:
            replace_file(target, json.dumps(header).encode("ascii") + b"\n" + body)
        except OSError as error:
            raise StoreError(f"{target} cannot be written ({error.strerror}); the old copy stays.") from error

    @contextlib.contextmanager
    def changing(self, name: str) -> Iterator[None]:
        """Lock of a copy for reading, changing and writing: no other program changes it meanwhile."""
        try:
            turn = locked(self._path(name))
            turn.__enter__()
        except InputError as error:
            raise StoreError(error.message) from error
        try:
            yield
        finally:
            turn.__exit__(None, None, None)

    def get(self, name: str) -> Stored | None:
        """The copy of that name, or None if there is none; raises StoreError if it is damaged."""
        path = self._path(name)
        try:
            if not is_file(path):
                return None
            with open_binary(path) as file:
                first = file.readline(_LARGEST_HEADER)
                body = file.read(_LARGEST_BODY + 1)
        except (InputError, OSError) as error:
            reason = error.strerror if isinstance(error, OSError) else error.message.rstrip(".")
            raise StoreError(f"{path} cannot be read ({reason}); it is left out.") from error
        damaged = StoreError(f"{path} is damaged; it is left out until the next fetch.")
        try:
            header = json.loads(first.decode("ascii"))
            intact = header["format"] == _FORMAT and header["sha256"] == hashlib.sha256(body).hexdigest()
            fetched, checked = as_time(header["fetched"]), as_time(header["checked"])
            origin, etag, last_modified = header["origin"], header["etag"], header["last_modified"]
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise damaged from error
        texts = all(isinstance(text, str) for text in (origin, etag or "", last_modified or ""))
        if not intact or fetched is None or checked is None or not texts:
            raise damaged
        return Stored(name, body, origin, fetched, checked, etag, last_modified)

    def remove(self, name: str) -> bool:
        """Remove a copy; True if there was one."""
        try:
            self._path(name).unlink()
        except FileNotFoundError:
            return False
        except OSError as error:
            raise StoreError(f"{self._path(name)} cannot be removed ({error.strerror}).") from error
        return True

    def names(self) -> list[str]:
        """Names of all copies, in order."""
        try:
            return sorted(path.name.removesuffix(SUFFIX) for path in self.directory.glob(f"*{SUFFIX}"))
        except OSError:
            return []

    def _path(self, name: str) -> Path:
        if not name.replace("-", "").replace("_", "").isalnum():
            raise ValueError(f"not a name for a stored copy: {name!r}")
        return self.directory / f"{name}{SUFFIX}"
