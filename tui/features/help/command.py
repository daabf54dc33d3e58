"""`bandwhen help`: list of the topics, or one topic."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from propagation.base.errors import InputError
from tui.app.help_topics import TOPICS, topic_lines

if TYPE_CHECKING:
    from tui.app.command_base import Subparsers


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "help",
        help="the topics of help, or one of them",
        description=f"Print a topic ({', '.join(TOPICS)}) or the help of a command.",
    )
    parser.add_argument("topic", nargs="?", metavar="TOPIC", help="a topic or the name of a command")


def run(args: argparse.Namespace) -> int:
    """Print the topic, or the list of topics."""
    if args.topic is None:
        width = max(map(len, TOPICS))
        print("bandwhen help TOPIC prints one of these; bandwhen help COMMAND explains a command.\n")
        print("\n".join(f"  {name:{width}}  {summary}" for name, summary in TOPICS.items()))
        return 0
    try:
        print("\n".join(topic_lines(args.topic)))
    except KeyError:
        from difflib import get_close_matches

        from tui.app.feature_list import COMMANDS

        near = get_close_matches(args.topic, [*TOPICS, *COMMANDS], n=1, cutoff=0.5)
        hint = f"Did you mean {near[0]}? " if near else ""
        raise InputError(
            f"There is no help on {args.topic!r}. {hint}'bandwhen help' lists the topics."
        ) from None
    return 0
