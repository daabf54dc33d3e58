"""Parts of the long attack in a real terminal: random keys and bursts of them, signals at any moment."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from hostile import NAMES
from terminals import ENTERED, Terminal

Promise = Callable[[bool, str], None]
SIZES: Final = ((80, 24), (160, 48), (40, 10), (20, 60), (240, 70))
SESSION: Final = 100  # keys, after which a program is ended by a signal
KEYS: Final = (
    *"123456789", *"0j0", *"abcdefghijklmnoprstuvwxyz", *("\x1b[A", "\x1b[B", "\x1b[C", "\x1b[D") * 3,
    *("\r", "\x1b") * 4, "\t", "/", "?", "\x1b[5~", "\x1b[6~", "\x1b[H", "\x1b[F", " ", "\x13", "\x10",
    "\x7f", "\x1b[3~", ",", ".", "[", "]", "+", "-", "\x03",
)  # fmt: skip
BURSTS: Final = (
    "/20\r\r", "/sky\r\r\r", "//\r\r", "\x10Ana\r\r", "/\x1b[A\x1b[5~\r\r", "/zz\x1b\x1b\r",
    "/day\r/sky\r/why\r", "123456789", "\x1b[B" * 30, "c Q0X 59\r\x1b", "t London\r", "\r" * 12, "?\x1b?\x1b",
    "w\x1bw\x1be\r\r",
    *(f"\x1b[200~{name}\x1b[201~" for name in NAMES[:4]), "\x1b[<0;10;10M\x1b[<0;10;10m" * 5,
)  # fmt: skip
QUIET: Final = os.getloadavg()[0] < (os.cpu_count() or 1)  # times are promised on a quiet machine
END_S: Final = 1.0 if QUIET else 4.0
KEY_S: Final = 2.0 if QUIET else 8.0
SIGNALS: Final = ("SIGTERM", "SIGHUP", "SIGQUIT", "SIGINT", "hang-up", "SIGKILL")


@dataclass
class Found:
    """What came of the keys: how many, contacts told as written, slow ones, and the ends by signals."""

    keys: int = 0
    contacts: int = 0
    left: int = 0
    slowest_s: float = 0.0
    which: str = ""
    slow: int = 0
    ends: Counter[str] = field(default_factory=Counter)
    slowest_end_s: float = 0.0


def hostile_home_in(folder: Path) -> None:
    """A home with hostile names, for a program of its own."""
    from walks import hostile_home

    os.environ["BANDWHEN_HOME"] = str(folder)
    hostile_home(folder)


def answered(made: Terminal, since: int, start: float, size: tuple[int, int]) -> float:
    """Seconds until the program wrote something after a key; one that changes nothing is followed by a new
    size, which every page answers.
    """
    asked = False
    while made.program.poll() is None:
        now = time.monotonic()
        if len(made.written) > since or now - start > 30.0:
            return now - start
        if now - start > 0.15 and not asked:
            asked = True
            made.resize(size[0] + (made.columns == size[0]), size[1])  # another than it has
        time.sleep(0.002)
    return time.monotonic() - start


def log_contact(made: Terminal, number: int, promise: Promise, found: Found) -> None:
    """A contact typed on the air page. It is on file where the page says so; a key may take it back later."""
    call = f"Q{number}TEST"
    for keys in ("\x1b", "\x1b", "\x1b", "0", "c"):
        made.type(keys)
        made.rest(0.15, 5.0)
    since = len(made.written)
    made.type(f"{call} 599 579\r")
    made.rest(0.3, 5.0)
    if f"{call} on ".encode() in made.written[since:]:
        found.contacts += 1
        logs = b"".join(file.read_bytes() for file in made.home.rglob("outing*.adi"))
        promise(f">{call} ".encode() in logs, f"keys: the contact with {call} is lost")


def end_by(made: Terminal, how: str, promise: Promise, found: Found, what: str) -> None:
    """End a program by a signal; in time, and the terminal as it was."""
    start = time.monotonic()
    if how == "hang-up":
        made.hang_up()
    else:
        made.program.send_signal(getattr(signal, how))
    try:
        code, _ = made.ended(20.0)
    except subprocess.TimeoutExpired:
        promise(False, f"{what}: {how} did not end it")
        return
    took = time.monotonic() - start - 0.05
    found.ends[how] += 1
    if how == "SIGKILL":
        return
    number = signal.SIGHUP if how == "hang-up" else getattr(signal, how)
    found.slowest_end_s = max(found.slowest_end_s, took)
    # before the screens there is nothing to restore: the signal ends it, or there is no terminal any more
    early = ENTERED not in made.written and code in (-number, 2 if how == "hang-up" else -number)
    promise(code == 128 + number or early, f"{what}: {how} ended with {code}: {bytes(made.written[-300:])!r}")
    promise(took < END_S, f"{what}: {how} took {took:.2f} s")
    if how != "hang-up" and ENTERED in made.written:
        promise(made.is_as_before(), f"{what}: the terminal after {how}")


def session(chance: random.Random, size: tuple[int, int], count: int, promise: Promise, found: Found) -> None:
    """One program: keys, bursts, clicks, sizes and contacts, each on file at once; then a signal."""
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        hostile_home_in(home)
        made = Terminal(home=home, size=size)
        try:
            made.wait_for(ENTERED, 120.0)
            made.rest(0.3)
            for number in range(count):
                if made.program.poll() is not None:
                    break
                if number % 50 == 49:
                    log_contact(made, number, promise, found)
                what = chance.random()
                keys = chance.choice(BURSTS) if what < 0.1 else chance.choice(KEYS)
                start, since = time.monotonic(), len(made.written)
                if what > 0.97:
                    made.resize(*chance.choice(SIZES))
                else:
                    made.type(keys)
                took = answered(made, since, start, size)
                found.keys += 1
                found.slow += took > KEY_S
                if took > found.slowest_s:
                    found.slowest_s, found.which = took, f"{keys!r} at {size}"
            where = f"keys at {size}, seed {chance.getstate()[1][0]}"
            if (code := made.program.poll()) is None:
                end_by(made, chance.choice(SIGNALS), promise, found, where)
            else:
                found.left += 1
                promise(code == 0, f"{where}: ended with {code}: {bytes(made.written[-600:])!r}")
        finally:
            made.close()
        check(home, promise)


def check(home: Path, promise: Promise) -> None:
    """Nothing in the program failed."""
    for faults in home.rglob("faults.log"):
        promise(False, f"keys: {faults.read_text(encoding='utf-8')[:3500]}")


def attack_keys(count: int, promise: Promise) -> None:
    """Random keys in a terminal at five sizes; each program is ended by a signal."""
    found = Found()
    for number in range(max(count // SESSION, 1)):
        chance = random.Random(f"terminal {number}")
        session(chance, SIZES[number % len(SIZES)], min(count, SESSION), promise, found)
        if number % len(SIZES) == len(SIZES) - 1:
            tell(found)
    promise(
        found.slowest_s < KEY_S,
        f"keys: {found.slow} over {KEY_S:g} s, the slowest {found.slowest_s:.1f} s, {found.which}",
    )
    tell(found)


def tell(found: Found) -> None:
    """Print what came of the keys so far."""
    shown: dict[str, Any] = {**vars(found), "ends": dict(found.ends)}
    print(f"keys in a terminal: {shown}", flush=True)


def attack_signals(count: int, promise: Promise) -> None:
    """Signals at a random moment of the first four seconds, from the start to the settled page."""
    found = Found()
    for number in range(count):
        chance = random.Random(f"signal {number}")
        with tempfile.TemporaryDirectory() as name:
            made = Terminal(home=Path(name), controlling=chance.random() < 0.7)
            try:
                time.sleep(chance.uniform(0.0, 4.0))
                end_by(made, SIGNALS[number % 5], promise, found, f"signals, {number}")
            finally:
                made.close()
            check(Path(name), promise)
    print(f"signals: {dict(found.ends)}, the slowest end {found.slowest_end_s:.2f} s", flush=True)
