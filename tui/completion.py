"""`bandwhen completion SHELL`: a script for bash, zsh or fish that completes commands and options.

The script is generated from the parsers themselves, so that it stays correct. Nothing is installed: the
answer is printed, and its first lines say where to save it.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from tui.app.command_base import Subparsers


SHELLS: Final = ("bash", "zsh", "fish")
FILES: Final = ("--station", "--calendar", "--file")  # options followed by a file


def add_parser(subparsers: Subparsers) -> None:
    """Describe the command's options."""
    parser = subparsers.add_parser(
        "completion",
        help="a script that lets the shell complete commands and options",
        description="Print a completion script: 'bandwhen completion bash' and so on; its first line says "
        "where to put it.",
    )
    parser.add_argument("shell", choices=SHELLS, metavar="SHELL", help="bash, zsh or fish")


def run(args: argparse.Namespace) -> int:
    """Print the script."""
    words = completions()
    print({"bash": bash, "zsh": zsh, "fish": fish}[args.shell](words), end="")
    return 0


def completions() -> dict[str, tuple[tuple[str, str], ...]]:
    """The words that can follow every command, and the program alone (""): (word, help)."""
    from tui import cli

    parser = cli.build_parser()
    found: dict[str, tuple[tuple[str, str], ...]] = {"": tuple(_words(parser))}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, child in action.choices.items():
                found[name] = tuple(dict(_words(child, deep=True)).items())
    return found


def _words(parser: argparse.ArgumentParser, deep: bool = False) -> list[tuple[str, str]]:
    words: list[tuple[str, str]] = []
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            said = {choice.dest: choice.help or "" for choice in action._choices_actions}
            for name, child in action.choices.items():
                words.append((name, said.get(name, "")))
                if deep:
                    words += _words(child)
        elif action.option_strings:
            words.append((action.option_strings[-1], action.help or ""))
        elif action.choices:
            words += [(str(choice), "") for choice in action.choices]
    return [(word, " ".join(told.replace("%%", "%").split())) for word, told in words]


def bash(words: dict[str, tuple[tuple[str, str], ...]]) -> str:
    """Return the script for bash."""
    cases = "".join(
        f"        {name}) words='{' '.join(word for word, _ in found)}' ;;\n"
        for name, found in words.items()
        if name
    )
    top = " ".join(word for word, _ in words[""])
    return f"""# bandwhen completion bash > ~/.local/share/bash-completion/completions/bandwhen
_bandwhen() {{
    local here="${{COMP_WORDS[COMP_CWORD]}}" before="${{COMP_WORDS[COMP_CWORD-1]}}" words
    case "$before" in
        {"|".join(FILES)}) COMPREPLY=($(compgen -f -- "$here")); return ;;
    esac
    case "${{COMP_WORDS[1]}}" in
{cases}        *) words='{top}' ;;
    esac
    [ "$COMP_CWORD" -eq 1 ] && words='{top}'
    COMPREPLY=($(compgen -W "$words" -- "$here"))
}}
complete -o default -F _bandwhen bandwhen
"""


def zsh(words: dict[str, tuple[tuple[str, str], ...]]) -> str:
    """Return the script for zsh."""

    def listed(found: tuple[tuple[str, str], ...]) -> str:
        return " ".join(
            _quoted(word.replace(":", "\\:") + (f":{told}" if told else "")) for word, told in found
        )

    cases = "".join(f"        {name}) given=({listed(found)}) ;;\n" for name, found in words.items() if name)
    top = listed(words[""])
    return f"""#compdef bandwhen
# bandwhen completion zsh > a folder of your $fpath, as _bandwhen
_bandwhen() {{
    local first="$words[2]"
    local -a given
    case "$first" in
{cases}        *) given=({top}) ;;
    esac
    (( CURRENT == 2 )) && given=({top})
    case "$words[CURRENT-1]" in
        {"|".join(FILES)}) _files; return ;;
    esac
    _describe bandwhen given || _files
}}
# loaded by the first completion, the file is called for it; read with `source`, it only registers itself
if [ "$funcstack[1]" = "_bandwhen" ]; then
    _bandwhen "$@"
else
    compdef _bandwhen bandwhen
fi
"""


def fish(words: dict[str, tuple[tuple[str, str], ...]]) -> str:
    """Return the script for fish."""
    lines = ["# bandwhen completion fish > ~/.config/fish/completions/bandwhen.fish"]
    for name, found in words.items():
        where = f"__fish_seen_subcommand_from {name}" if name else "__fish_use_subcommand"
        for word, told in found:
            what = f"-l {word[2:]}" if word.startswith("--") else f"-f -a {word}"
            said = f" -d {_quoted(told)}" if told else ""
            lines.append(f"complete -c bandwhen -n '{where}' {what}{said}")
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """A word of the shell, in single quotes."""
    return "'" + text.replace("'", "'\\''") + "'"
