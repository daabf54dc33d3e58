"""The terminal's driver, taught to live with bytes that are no text.

A terminal or a clipboard may send bytes that are not UTF-8 (a name pasted from an old file, line noise on a
serial line). Each such byte becomes the replacement sign; no key and no place bears that name, so nothing
happens but an entry that can be corrected.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable

from textual.driver import Driver


def forgiving(kind: type[Driver]) -> type[Driver]:
    """A driver of this kind that reads what is no UTF-8 as the replacement sign; others are left as they
    are.
    """
    import sys

    module = sys.modules.get(kind.__module__)
    if module is None or getattr(module, "getincrementaldecoder", None) is None:
        return kind

    def decoder_of(encoding: str) -> Callable[[], codecs.IncrementalDecoder]:
        return lambda: codecs.getincrementaldecoder(encoding)(errors="replace")

    module.getincrementaldecoder = decoder_of  # type: ignore[attr-defined]
    return kind
