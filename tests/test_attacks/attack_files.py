"""Parts of the long attack on files and streams: cuts at every byte, links, access rights, closed streams."""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np
from hostile import ROOT
from servers import OK, drips, serving

from propagation.base import files
from propagation.base.store import Store
from propagation.logbook import journal
from propagation.logbook.journal import Worked
from propagation.space_weather.sources.hosts import HOSTS
from propagation.space_weather.sources.refresh import RefreshRequest, refresh
from tui.app import paths

Command = Callable[..., tuple[int, str, str]]
Promise = Callable[[bool, str], None]
AT: Final = np.datetime64("2026-03-20T12:34:56", "s")


def contact(call: str, in_vain: int = 0) -> bytes:
    """A contact's record; in_vain: calls without an answer before it, which make long fields."""
    calls = [("40m", AT - np.timedelta64(120 * (in_vain - at), "s")) for at in range(in_vain)]
    worked = Worked(call, "599", "559", AT, "20m", 14.035, "CW", 5.0, "KG40rs")
    return journal.record(worked, calls)


def logs() -> list[tuple[bytes, bytes]]:
    """Logs to be cut: what is whole before, and the piece that is cut at every byte."""
    begin = journal.header() + contact("Q1TEST")
    found = [(b"", journal.header())]
    found += [(begin, contact("Q2TEST", in_vain)) for in_vain in (0, 1, 20, 100, 300)]
    for length in (150, 201, 700, 1500, 4000):  # of other programs, whose fields are longer than ours may be
        found.append((begin, b"<CALL:6>Q2TEST <COMMENT:%d>%s <EOR>\n" % (length, b"a word " * (length // 7))))
    return found


def attack_cuts(most: int, promise: Promise) -> None:
    """Logs cut at every byte, and three contacts written after each cut: all are there, and all before."""
    after, cuts, lost = ("Q3TEST", "Q4TEST", "Q5TEST"), 0, 0
    places = [(whole, piece, end) for whole, piece in logs() for end in range(1, len(piece))]
    with tempfile.TemporaryDirectory() as made:
        file = Path(made) / "outing.adi"
        for whole, piece, end in itertools.islice(itertools.cycle(places), most):
            file.write_bytes(whole + piece[:end])
            for number, call in enumerate(after):
                files.append(file, contact(call, 10 * number), journal.header(), journal.mend)
            calls = [one.call for one in journal.contacts_made(file.read_bytes())]
            wanted = [*(["Q1TEST"] if whole else []), *after]
            cuts += 1
            if [call for call in calls if call in wanted] != wanted:
                lost += 1
                promise(False, f"cuts: {piece[:end][-60:]!r} loses {set(wanted) - set(calls)}")
    print(f"cuts: {cuts} at {min(cuts, len(places))} places, {lost} with a contact lost", flush=True)


def attack_links(
    commands: dict[str, Callable[[int], tuple[str, ...]]], run: Command, promise: Promise
) -> None:
    """Every file kept replaced by a link, whole or dangling; what the link names stays as it was."""
    tried = 0
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for words in commands.values():
            run(*words(0))
        kept = [file for file in folder_of_home().rglob("*") if file.is_file()]
        for number, (file, dangling) in enumerate(itertools.product(kept, (False, True))):
            if not file.exists():
                continue
            outside = folder / f"letter {number}"
            shutil.copy(file, outside)
            before = outside.read_bytes()
            if dangling:
                outside.unlink()
            file.unlink()
            file.symlink_to(outside)
            for words in commands.values():
                run(*words(number))
            tried += 1
            there = outside.read_bytes() if outside.exists() else None
            promise(there == (None if dangling else before), f"links: {file.name}, dangling {dangling}")
            file.unlink(missing_ok=True)
            for words in commands.values():
                run(*words(number))
    print(f"links: {tried} files replaced by links", flush=True)


def folder_of_home() -> Path:
    """The folder that everything is kept under."""
    return Path(os.environ[paths.HOME_VARIABLE])


def attack_rights(
    commands: dict[str, Callable[[int], tuple[str, ...]]], run: Command, promise: Promise
) -> None:
    """Every command that writes, with no file mask: what it makes is for its owner alone."""
    shutil.rmtree(folder_of_home(), ignore_errors=True)
    before = os.umask(0)
    try:
        for words in commands.values():
            run(*words(0))
    finally:
        os.umask(before)
    places = list(folder_of_home().rglob("*"))
    for place in places:
        wanted = 0o700 if place.is_dir() else 0o600
        promise(place.stat().st_mode & 0o777 == wanted, f"rights: {place.name} {place.stat().st_mode:o}")
    print(f"rights: {len(places)} files and folders made under a mask of 000", flush=True)


STREAMS: Final = (
    "<&-",
    ">&-",
    "2>&-",
    "<&- >&-",
    "<&- 2>&-",
    ">&- 2>&-",
    "<&- >&- 2>&-",
    ">/dev/full",
    "0>/dev/null",
)
LOG: Final = str(ROOT / "fixtures" / "demo" / "ridge_day.adi")


def attack_streams(promise: Promise) -> None:
    """Commands with their streams closed, full or the wrong way round: an exit code of ours, no traceback."""
    commands = (
        ("--version",), ("--help",), (), ("--plain",), ("help", "reliability"), ("sky", "--at", "KG40"),
        ("circuits", "-"), ("friends", "list"), ("conditions",), ("review", LOG, "--json"), ("nonsense",),
        ("plan", "--to", "London", "--hours", "2", "--ssn", "100"), ("antenna", "--frequency", "14.1"),
    )  # fmt: skip
    codes: Counter[str] = Counter()
    for words, streams in itertools.product(commands, STREAMS):
        done = subprocess.run(
            ["/bin/sh", "-c", f'exec "$0" -m tui "$@" {streams}', sys.executable, *words],
            capture_output=True, check=False, cwd=ROOT, timeout=300, stdin=subprocess.DEVNULL,
        )  # fmt: skip
        codes[str(done.returncode)] += 1
        fit = (
            done.returncode in (0, 2, 3)
            and b"Traceback" not in done.stderr
            and b"failed (" not in done.stderr
        )
        promise(fit, f"streams: {words} {streams}: exit {done.returncode}, {done.stderr[-200:]!r}")
    print(f"streams: {sum(codes.values())} commands, exit codes {dict(codes)}", flush=True)


def attack_two_hosts(promise: Promise) -> None:
    """Both hosts drip without end, with the usual limits: one deadline for the command."""
    from dataclasses import replace

    drip = drips(OK + b"Content-Length: 500000\r\n\r\n", b" ")
    with tempfile.TemporaryDirectory() as made, contextlib.ExitStack() as stack:
        addresses = [stack.enter_context(serving(drip))[0] for _ in HOSTS]
        hosts = tuple(replace(host, address=at) for host, at in zip(HOSTS, addresses, strict=True))
        for names, longest_s in (((), 20.0), (("planetary-k",), 20.0)):
            start = time.monotonic()
            request = RefreshRequest(names=names, hosts=hosts)
            outcomes = refresh(Store(Path(made)), np.datetime64("2031-02-27", "s"), time.monotonic, request)
            took = time.monotonic() - start
            promise(took < longest_s + 1.0, f"two hosts: {took:.1f} s for {names}")
            promise({one.status for one in outcomes} == {"failed"}, f"two hosts: {outcomes}")
            print(
                f"two hosts: {len(outcomes)} products that drip, {took:.1f} s of {longest_s:.0f} s",
                flush=True,
            )
