"""The filter of all text that leaves the program: nothing that steers a terminal passes, and what the
terminal cannot show becomes something it can.

`applied` holds around every command; whatever is printed inside passes through. Errors are told by `tell`.
"""

from __future__ import annotations

import codecs
import contextlib
import os
import sys
import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any, Final, TextIO, cast

from propagation.base.text import one_line, shown

LONGEST_SENTENCE: Final = 1000  # characters of an error
PLAINER: Final = "bandwhen-plainer"  # the way out for characters that the terminal's encoding does not have
_PLAIN: Final = {
    "°": " deg", "–": "-", "—": "-", "−": "-", "·": ".", "’": "'", "‘": "'", "“": '"', "”": '"', "→": "->",
    "…": "...", "≥": ">=", "≤": "<=", "µ": "u", "μ": "u", "×": "x", "±": "+-", "\N{NO-BREAK SPACE}": " ",
}  # fmt: skip


def _plainer(error: UnicodeError) -> tuple[str, int]:
    """Characters that cannot be encoded, in plainer ones."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = []
    for sign in error.object[error.start : error.end]:
        letters = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")
        signs.append(_PLAIN.get(sign) or letters or "?")
    return "".join(signs), error.end


codecs.register_error(PLAINER, _plainer)


class FilteredStream:
    """A stream in front of another: what is written is cleaned, everything else is the other's."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        """Write the text as it may be seen."""
        self.stream.write(shown(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


@contextlib.contextmanager
def applied() -> Iterator[None]:
    """Filter standard output and standard error inside the `with`."""
    out, err = cast(TextIO, FilteredStream(sys.stdout)), cast(TextIO, FilteredStream(sys.stderr))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        yield


def prepare() -> None:
    """Make the streams fit to be written to: there, and able to take any character."""
    for number in range(3):  # a closed one would be given to the next file that is opened
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    for name, number in (("stdout", 1), ("stderr", 2)):
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, "w", encoding="utf-8", closefd=False))  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=PLAINER)


def tell(sentence: str) -> None:
    """One sentence on standard error, whole words on one line; quiet where that cannot be written."""
    plain = " ".join(one_line(sentence).split())
    if len(plain) > LONGEST_SENTENCE:
        half = LONGEST_SENTENCE // 2
        plain = f"{plain[:half]} ... {plain[-half:]}"
    try:
        print(plain, file=sys.stderr, flush=True)
    except (OSError, ValueError):
        silence(sys.stderr)


def progress(text: str, end: str = "") -> None:
    """How far a long piece of work is, over the line before; for a terminal only."""
    stream = getattr(sys.stderr, "stream", sys.stderr)
    stream.write(f"\r{shown(text)}{end}")
    stream.flush()


def silence(stream: TextIO) -> None:
    """Point a stream at nothing, so that the interpreter's last flush finds nothing broken."""
    with contextlib.suppress(OSError, ValueError):
        null = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(null, stream.fileno())
        finally:
            os.close(null)
