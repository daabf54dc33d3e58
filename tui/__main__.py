"""`python -m tui`, and the command `bandwhen`."""

from __future__ import annotations

import gc
import os
import sys


def main() -> int:
    """Run the program on the command line's arguments; the exit code.

    numpy's linear algebra is kept to one thread unless the user says otherwise: the matrices here are
    small, and threads that wait for each other cost three times the work. It must be said before numpy is
    first imported. Imports make many objects that stay: collecting garbage among them is put off until
    there is some.
    """
    gc.set_threshold(50_000)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from tui.cli import main as run

    code = run()
    threads = sys.modules.get("tui.kit.worker_threads")
    if threads is not None and threads.under_way():
        # the screens have been left and everything is saved; the work abandoned is not waited for
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)
    return code


if __name__ == "__main__":
    sys.exit(main())
