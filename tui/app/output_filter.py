"""The filter of all text output: removes terminal control characters, and replaces characters that the
terminal cannot show.

`applied` is active around every command; everything printed inside is filtered. Errors are reported by
`tell`.
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
PLAINER: Final = "bandwhen-plainer"  # the error handler for characters that the terminal's encoding lacks
_PLAIN: Final = {
    "°": " deg", "–": "-", "—": "-", "−": "-", "·": ".", "’": "'", "‘": "'", "“": '"', "”": '"', "→": "->",
    "…": "...", "≥": ">=", "≤": "<=", "µ": "u", "μ": "u", "×": "x", "±": "+-", "\N{NO-BREAK SPACE}": " ",
}  # fmt: skip


def _plainer(error: UnicodeError) -> tuple[str, int]:
    """Replace characters that cannot be encoded by plainer ones."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = []
    for sign in error.object[error.start : error.end]:
        letters = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")
        signs.append(_PLAIN.get(sign) or letters or "?")
    return "".join(signs), error.end


codecs.register_error(PLAINER, _plainer)


class FilteredStream:
    """A wrapper of a stream: filters what is written and delegates everything else."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        """Write the filtered text."""
        self.stream.write(shown(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write several texts, each filtered."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


@contextlib.contextmanager
def applied() -> Iterator[None]:
    """Filter standard output and standard error inside the `with` block."""
    out, err = cast(TextIO, FilteredStream(sys.stdout)), cast(TextIO, FilteredStream(sys.stderr))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        yield


def prepare() -> None:
    """Make sure that the standard streams are open and accept any character."""
    for number in range(3):  # the next opened file would get the descriptor of a closed one
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
    """Write one sentence to standard error, on one line of whole words; do nothing if that fails."""
    plain = " ".join(one_line(sentence).split())
    if len(plain) > LONGEST_SENTENCE:
        half = LONGEST_SENTENCE // 2
        plain = f"{plain[:half]} ... {plain[-half:]}"
    try:
        print(plain, file=sys.stderr, flush=True)
    except (OSError, ValueError):
        silence(sys.stderr)


def progress(text: str, end: str = "") -> None:
    """Show the progress of long work, over the previous line; only on a terminal."""
    stream = getattr(sys.stderr, "stream", sys.stderr)
    stream.write(f"\r{shown(text)}{end}")
    stream.flush()


def silence(stream: TextIO) -> None:
    """Redirect a stream to the null device, so that the interpreter's last flush cannot fail."""
    with contextlib.suppress(OSError, ValueError):
        null = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(null, stream.fileno())
        finally:
            os.close(null)
