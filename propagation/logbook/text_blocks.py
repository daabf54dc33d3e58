"""A large file in blocks that end where a record or a line ends, so that reading it needs little memory."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from typing import BinaryIO, Final, NamedTuple, Protocol

BLOCK_BYTES: Final = 2_000_000  # bytes read at once (ours)
_TAIL_BYTES: Final = 65_536  # bytes at the end of a block in which the last end is searched for first
UTF16_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")


class Block(NamedTuple):
    """Bytes of a file: where they begin, and whether they begin or end it.

    They may also be cut off inside a record that is longer than a block.
    """

    offset: int
    data: bytes
    first: bool
    last: bool
    cut: bool = False


class Source(Protocol):
    """Protocol of a source of bytes."""

    def read(self, size: int, /) -> bytes: ...


class AsUtf8:
    """A file in UTF-16 read as UTF-8."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._decoder = codecs.getincrementaldecoder("utf-16")(errors="replace")

    def read(self, size: int, /) -> bytes:
        """Read about as many bytes as requested; none at the end of the file."""
        while data := self._source.read(size):
            text = self._decoder.decode(data)
            if text:
                return text.encode("utf-8", errors="replace")
        return self._decoder.decode(b"", True).encode("utf-8", errors="replace")


def source_of(file: BinaryIO) -> Source:
    """The file as bytes of UTF-8 or of any encoding that holds ASCII."""
    start = file.read(2)
    file.seek(0)
    return AsUtf8(file) if start in UTF16_MARKS else file


def blocks_of(
    source: Source, begun: bytes, ending: re.Pattern[bytes], size: int = BLOCK_BYTES
) -> Iterator[Block]:
    """Blocks of a source of which `begun` is read already; each ends after a match of `ending`.

    Where no end is found in twice the size, the block is cut before its last "<", or at its end.
    """
    carried, offset, first = begun, 0, True
    while True:
        chunk = source.read(size)
        data = carried + chunk
        if not chunk:
            if data or first:
                yield Block(offset, data, first, True)
            return
        stop, cut = _last_end(data, ending), False
        if not stop and len(data) >= 2 * size:
            stop, cut = data.rfind(b"<") if data.rfind(b"<") > size else len(data), True
        if stop:
            yield Block(offset, data[:stop], first, False, cut)
            carried, offset, first = data[stop:], offset + stop, False
        else:
            carried = data


def _last_end(data: bytes, ending: re.Pattern[bytes]) -> int:
    for start in (max(len(data) - _TAIL_BYTES, 0), 0):
        stop = 0
        for found in ending.finditer(data, start):
            stop = found.end()
        if stop:
            return stop
    return 0
