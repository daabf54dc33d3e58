"""The help topics: text files, and lists generated from the tables of pages and commands.

`bandwhen help` and the help sheet of the screens print the same lines.
"""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final

from tui.app.feature_list import COMMANDS, PAGES, load

if TYPE_CHECKING:
    from textual.binding import Binding

FOLDER: Final = Path(__file__).parent.parent / "features" / "help"
WRITTEN: Final[dict[str, str]] = {  # topics that are text files: name -> subject
    "station": "the station file: its tables and keys, and where files are kept",
    "accuracy": "how good the forecasts are, and what they do not know",
    "data": "where the data come from, and the licence",
    "reliability": "what is never lost, limits of size and time, what is private",
}
TOPICS: Final[dict[str, str]] = {
    "keys": "the keys of every page",
    "commands": "every command and its options, times, places, exit codes",
    **WRITTEN,
}


def topic_lines(name: str) -> list[str]:
    """The lines of a topic, of a command's own help, or both if they share a name; else KeyError."""
    if name == "keys":
        return keys_lines()
    if name == "commands":
        return commands_lines()
    if name not in WRITTEN and name not in COMMANDS:
        raise KeyError(name)
    text = (FOLDER / f"{name}.txt").read_text(encoding="utf-8").splitlines() if name in WRITTEN else []
    own = command_help(name) if name in COMMANDS else []
    return [*text, *([""] if text and own else []), *own]


def key_sentence(binding: Binding) -> str:
    """A key and its action, as a sentence."""
    from tui.kit.page_lines import key_sign

    keys = " or ".join(key_sign(key) for key in binding.key.split(","))
    return f"{keys}: {binding.tooltip or binding.description}"


def keys_lines() -> list[str]:
    """The keys of the app and of every page, from their bindings."""
    from textual.binding import Binding

    from tui.kit.page_lines import key_sign

    app = load("tui.app.app:BandwhenApp")
    lines = ["On every page"]
    lines += [f"  {key_sign(entry.key)}: page {entry.label}" for entry in PAGES]
    lines += [f"  {key_sentence(binding)}" for binding in app.BINDINGS if isinstance(binding, Binding)]
    for entry in PAGES:
        own = [binding for binding in load(entry.screen).BINDINGS if isinstance(binding, Binding)]
        if own:
            lines += ["", f"Page {entry.label} ({key_sign(entry.key)})"]
            lines += [f"  {key_sentence(binding)}" for binding in own]
    return lines


def commands_lines() -> list[str]:
    """Every command in a line, then the formats of times, places and targets, and the exit codes."""
    width = max(map(len, COMMANDS))
    lines = ["bandwhen alone opens the screens. Commands:", ""]
    lines += [f"  {name:{width}}  {summary}" for name, (_, summary) in COMMANDS.items()]
    lines.append("")
    return lines + (FOLDER / "commands.txt").read_text(encoding="utf-8").splitlines()


def command_help(name: str) -> list[str]:
    """The help of a command and of its actions, from its own parser."""
    parser = argparse.ArgumentParser(prog="bandwhen")
    chosen = parser.add_subparsers()
    import_module(COMMANDS[name][0]).add_parser(chosen)
    return _with_actions(chosen.choices[name])


def _with_actions(parser: argparse.ArgumentParser) -> list[str]:
    lines = parser.format_help().splitlines()
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for child in action.choices.values():
                lines += ["", *_with_actions(child)]
    return lines
