"""`python -m tui`, and the command `bandwhen`."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the program on the command line's arguments; the exit code."""
    from tui.cli import main as run

    return run()


if __name__ == "__main__":
    sys.exit(main())
