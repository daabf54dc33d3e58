"""`python -m tui`, and the command `bandwhen`."""

from __future__ import annotations

import gc
import os
import sys
from contextlib import suppress
from typing import Final

# Objects made and not freed before garbage is collected: three times a command's (ours)
MANY_OBJECTS: Final = 200_000
# Options of glibc's mallopt: one arena for all threads; size [bytes] from which a block is mapped by itself;
# free memory at the top [bytes] from which it is given back (ours)
MALLOC_OPTIONS: Final = ((-8, 1), (-3, 1 << 26), (-1, 1 << 28))


def main() -> int:
    """Run the program on the command line's arguments; the exit code.

    numpy's linear algebra is kept to one thread unless the user says otherwise: the matrices here are
    small, and threads that wait for each other cost three times the work. It must be said before numpy is
    first imported. Imports make many objects that stay: garbage is collected neither among them (17 ms of a
    command's 0.5 s) nor when the interpreter ends, which frees everything anyway.
    """
    gc.set_threshold(MANY_OBJECTS)
    _keep_memory()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from tui.cli import main as run

    code = run()
    gc.freeze()
    threads = sys.modules.get("tui.kit.worker_threads")
    if threads is not None and threads.under_way():
        # the screens have been left and everything is saved; the work abandoned is not waited for
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)
    return code


def _keep_memory() -> None:
    """Keep freed memory for the next arrays, where the C library is glibc.

    By default it gives large arrays back to the kernel when they are freed, and fetches them again page by
    page: a tenth of the processor time of a region's forecast.
    """
    if sys.platform == "linux":
        import ctypes  # numpy imports it anyway

        with suppress(AttributeError, OSError):
            set_option = ctypes.CDLL(None).mallopt
            for option, value in MALLOC_OPTIONS:
                set_option(option, value)


if __name__ == "__main__":
    sys.exit(main())
