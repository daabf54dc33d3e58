"""The command line: dispatch to a command, and the output of its answer or fault.

Each command is a module of a feature with `add_parser(subparsers)` and `run(args) -> exit code`. Only the
module that is needed is imported, so that a command starts fast and never loads the screens.

Exit codes: 0 done; 2 bad input or a fault (one sentence on standard error); 3 nothing to advise.
"""

from __future__ import annotations

import argparse
import errno
import os
import re
import sys
from collections.abc import Sequence
from contextlib import nullcontext
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

from propagation.base.errors import BandwhenError, InputError, NothingToAdvise
from tui.app import output_filter
from tui.app.feature_list import COMMANDS

if TYPE_CHECKING:
    from _typeshed import SupportsWrite


DONE: Final = 0
BAD_INPUT: Final = 2
NOTHING: Final = 3
INTERRUPTED: Final = 130  # exit code that a shell expects after Ctrl+C
MOST_CHARACTERS: Final = 5000  # of one argument; paths have 4096 at most
_NOT_WRITTEN: Final = (errno.ENOSPC, errno.EIO, errno.EFBIG, errno.EDQUOT, errno.EBADF)  # of a stream

_NEGATIVE: Final = re.compile(r"[-\N{MINUS SIGN}]\.?\d")
_BARE_OPTION: Final = re.compile(r"--[a-z][a-z0-9-]*")
_NO_VALUE: Final = re.compile(r"(--?[A-Za-z][\w-]*)=--")


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one sentence, reported like every other error."""

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        """Print help; a stream that cannot be written to is reported like any other output error."""
        (file or sys.stderr).write(message)

    def error(self, message: str) -> NoReturn:
        raise InputError(f"{message[:1].upper()}{message[1:]}; '{self.prog} --help' shows what can be given.")


def build_parser(wanted: str | None = None) -> argparse.ArgumentParser:
    """The parser of the program; only the `wanted` command gets its options, or all if it is None."""
    parser = Parser(
        prog="bandwhen",
        description="Which amateur band, and when, reaches the people you want to reach, with the antenna "
        "you carry. Without a command the screens open.",
        epilog="Times are UTC. 'bandwhen COMMAND --help' explains a command.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    parser.add_argument("--plain", action="store_true", help="the opening screen's answer in plain sentences")
    parser.add_argument(
        "--station", metavar="FILE", type=Path, help="a station file instead of the saved one"
    )
    parser.add_argument("--now", metavar="TIME", help="take this as the present time")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name, (module, summary) in COMMANDS.items():
        if wanted is None or wanted == name:
            import_module(module).add_parser(subparsers)
        else:
            subparsers.add_parser(name, help=summary)
    return parser


def _wanted(arguments: Sequence[str]) -> str | None:
    """The command among the arguments; an empty text if there is none (the screens, or a bare --help)."""
    takes_value = {"--station", "--now"}
    skip = False
    for argument in arguments:
        if skip:
            skip = False
        elif argument in takes_value:
            skip = True
        elif not argument.startswith("-"):
            return argument
    return ""


def _bind_negative(arguments: Sequence[str]) -> list[str]:
    """`--at -29.5,29.5` as `--at=-29.5,29.5`: a southern latitude is not an option."""
    bound: list[str] = []
    for argument in arguments:
        if _NEGATIVE.match(argument) and bound and _BARE_OPTION.fullmatch(bound[-1]):
            bound[-1] += f"={argument}"
        else:
            bound.append(argument)
    return bound


def _checked(arguments: Sequence[str]) -> list[str]:
    """The arguments; InputError for an invalid one."""
    for argument in arguments:
        if found := _NO_VALUE.fullmatch(argument):
            raise InputError(f"{found[1]} needs a value, and '--' is none.")
        if len(argument) > MOST_CHARACTERS:
            raise InputError(f"An argument of {len(argument)} characters is too long: {argument[:30]!r}...")
    return list(arguments)


def run(arguments: Sequence[str]) -> int:
    """Parse and run; errors are left to `main`."""
    arguments = _bind_negative(_checked(arguments))
    with output_filter.applied():
        parser = build_parser(_wanted(arguments))
        args, unknown = parser.parse_known_args(arguments)
    if unknown:
        raise InputError(_unknown_sentence(parser, args.command, unknown))
    if args.now:
        from tui.app import clock, command_base

        clock.set_now(command_base.time_of(args, args.now))
    if args.version:
        print(_version_words())
        return DONE
    from tui.app import paths, solution_store

    paths.sweep()
    if args.command is None:
        return _open(args)
    kept = solution_store.remembering() if solution_store.needed_by(args.command) else nullcontext()
    with output_filter.applied(), kept:
        code: int = import_module(COMMANDS[args.command][0]).run(args)
    return code


def _version_words() -> str:
    """The version of the program, and a line for each table that becomes outdated."""
    from importlib.metadata import PackageNotFoundError, version

    from propagation.space_weather.indices.solar_history import DAY, solar_history

    try:
        program = version("bandwhen")
    except PackageNotFoundError:
        program = "run from its source, not installed"
    history = solar_history()
    measured = history.forecast_from.astype("datetime64[D]") - DAY
    indexed, last = history.month_middles[[history.last_observed_month, -1]].astype("datetime64[M]")
    return (
        f"bandwhen {program}\n"
        f"sun and field: measured to {measured}, predicted to {last}\n"
        f"ionospheric index: measured to {indexed}\n"
        "magnetic field: IGRF-14, 1900 to 2030"
    )


def _unknown_sentence(parser: argparse.ArgumentParser, command: str | None, unknown: Sequence[str]) -> str:
    """An error sentence with the unknown option and the nearest option of the command."""
    from difflib import get_close_matches

    asked, options = parser.prog, set(parser._option_string_actions)
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction) and command in action.choices:
            child = action.choices[command]
            asked, options = child.prog, _options_of(child)
    first = unknown[0].partition("=")[0]
    if not first.startswith("-"):
        return f"{unknown[0]!r} is one word too many; '{asked} --help' shows what can be given."
    near = get_close_matches(first, sorted(options), n=1, cutoff=0.7)
    hint = f" Did you mean {near[0]}?" if near else ""
    return f"'{asked}' has no option {first}.{hint} '{asked} --help' shows what can be given."


def _options_of(parser: argparse.ArgumentParser) -> set[str]:
    """The options of a command, including those of its actions."""
    found = {option for option in parser._option_string_actions if option.startswith("--")}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for child in action.choices.values():
                found |= _options_of(child)
    return found


def _open(args: argparse.Namespace) -> int:
    """Run the screens, or print their answer in plain sentences."""
    if args.plain:
        from tui.features.day import opening

        with output_filter.applied():
            return opening.run(args)
    _require_screen()
    from tui.app.app import run_app
    from tui.app.solution_store import remembering

    with remembering():
        return run_app(args.station)


def _require_screen() -> None:
    instead = "use 'bandwhen --plain' for the answer in sentences, or a command (see 'bandwhen --help')"
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise InputError(f"The screens need a terminal, and this is none; {instead}.")
    kind = os.environ.get("TERM", "")
    if kind in ("", "dumb", "unknown") and os.name != "nt":
        raise InputError(f"This terminal (TERM={kind}) cannot draw the screens; {instead}.")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command line and return the exit code; no error leaves as a traceback."""
    given = sys.argv[1:] if arguments is None else list(arguments)
    output_filter.prepare()
    try:
        code = run(given)
        sys.stdout.flush()
        return code
    except NothingToAdvise as answer:
        return _tell(answer.message, NOTHING)
    except InputError as error:
        return _tell(error.message, BAD_INPUT)
    except BandwhenError as error:
        return _tell(error.message, BAD_INPUT)
    except KeyboardInterrupt:
        return _tell("Stopped by Ctrl-C before the answer was complete.", INTERRUPTED)
    except BrokenPipeError:
        output_filter.silence(sys.stdout)
        return DONE
    except SystemExit as stop:  # argparse after --help
        return _stopped(stop.code if isinstance(stop.code, int) else BAD_INPUT)
    except Exception as fault:
        if isinstance(fault, OSError) and fault.filename is None and fault.errno in _NOT_WRITTEN:
            return _tell(f"The answer could not be written: {fault.strerror}.", BAD_INPUT)
        return _tell(_fault_sentence(fault, given), BAD_INPUT)


def _stopped(code: int) -> int:
    """The exit code of a command that has only printed its help; 2 if even that could not be written."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        output_filter.silence(sys.stdout)
    except OSError as error:
        return _tell(f"The answer could not be written: {error.strerror}.", BAD_INPUT)
    return code


def _tell(sentence: str, code: int) -> int:
    """Print one sentence after all previous output."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        output_filter.silence(sys.stdout)
    output_filter.tell(sentence)
    return code


def _fault_sentence(fault: Exception, arguments: Sequence[str]) -> str:
    """One sentence for a fault of the program itself; the details go to a file."""
    from tui.app import fault_log

    kind = type(fault).__name__
    if isinstance(fault, ModuleNotFoundError) and fault.name:
        kind = f"the part {fault.name!r} is missing from this installation"
    where = fault_log.record(f"bandwhen {' '.join(arguments)}", fault)
    return f"Something in the program failed ({kind}); {where}."
