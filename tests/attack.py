"""The long attack, run by hand: python tests/attack.py [PART [N]] ...

Without words every part runs (PARTS): 10,000 mutated inputs a reader, 1,000 kills, 10,000 cuts of a log, two
writers 200 times, links, access rights, closed streams, 100 hostile servers at once, two hosts that drip,
every absurd value of every option, 5,000 random keys inside the toolkit's harness and fewer with each kept
file corrupted, 10,000 in a real terminal at five sizes, 200 signals, and all property tests 5 times.

Seeds are fixed, but for the property tests, which take a new one each time and print it: what one finds is
kept beside its test as an @example. What came of it is printed; the exit code is 1 where a promise is broken.
Small samples of the same run with the tests (tests/test_attacks).

Everything happens in a temporary folder. Where an administrator runs it, mutated inputs are read as the user
"nobody".
"""

from __future__ import annotations

import codecs
import contextlib
import io
import json
import math
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

HERE: Final = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE), str(HERE / "test_attacks")]
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np  # noqa: E402
from attack_files import (  # noqa: E402
    attack_cuts,
    attack_links,
    attack_rights,
    attack_streams,
    attack_two_hosts,
)
from attack_terminals import attack_keys, attack_signals  # noqa: E402
from hostile import STEERING, mutated  # noqa: E402
from readers import READERS, seeds  # noqa: E402
from servers import BODY, OK, SERVERS, Talk, says, serving  # noqa: E402
from test_output import ABSURD, _options  # noqa: E402

from propagation.base.errors import BandwhenError  # noqa: E402
from propagation.base.files import sweep  # noqa: E402
from propagation.base.store import Store  # noqa: E402
from propagation.base.text import one_line  # noqa: E402
from propagation.space_weather.sources.refresh import RefreshRequest, refresh  # noqa: E402
from propagation.space_weather.state import hand_entry  # noqa: E402
from propagation.station import friends, station  # noqa: E402
from tui import cli  # noqa: E402
from tui.app import clock, paths  # noqa: E402

BATCH: Final = 500  # inputs read by one process
MOST_SECONDS: Final = 2.0
MOST_MEGABYTES: Final = 600.0
NOBODY: Final = 65534
broken: list[str] = []


def in_child(work: Callable[[], Any], user: int | None = None) -> tuple[Any, float]:
    """What a piece of work answers in a process of its own, and the memory that took [MB]."""
    out, back = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(out)
        try:
            if user is not None and os.geteuid() == 0:
                os.setgid(user)
                os.setuid(user)
            answer = work()
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0
            with os.fdopen(back, "w") as pipe:
                json.dump([answer, memory], pipe)
        except BaseException as fault:
            with contextlib.suppress(BaseException):
                os.write(2, f"{type(fault).__name__}: {fault}\n".encode())
            os._exit(1)
        os._exit(0)
    os.close(back)
    with os.fdopen(out) as pipe:
        text = pipe.read()
    os.waitpid(child, 0)
    answer, memory = json.loads(text) if text else ("died", 0.0)
    return answer, memory


def command(*words: str) -> tuple[int, str, str]:
    """A command in this process: exit code, output, errors."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.main(words)
    return code, out.getvalue(), err.getvalue()


def promise(kept: bool, what: str) -> None:
    """Note a promise that is broken."""
    if not kept:
        broken.append(what)


# -- readers ------------------------------------------------------------------------------------------------


def batch(name: str, first: int, folder: Path) -> dict[str, Any]:
    """Some mutated inputs of a reader: outcomes, the slowest [s], and its number."""
    outcomes: Counter[str] = Counter()
    slowest, which = 0.0, -1
    for number in range(first, first + BATCH):
        chance = random.Random(f"{name} {number}")
        data = mutated(chance.choice(seeds(name)), chance)
        start = time.process_time()
        try:
            READERS[name](data, folder)
            outcomes["read"] += 1
        except BandwhenError as error:
            fine = error.message.strip() and not set(one_line(error.message)) & set(STEERING)
            outcomes["refused" if fine else f"bad sentence, input {number}"] += 1
        except Exception as fault:
            outcomes[f"{type(fault).__name__}, input {number}"] += 1
        took = time.process_time() - start
        if took > slowest:
            slowest, which = took, number
    return {"outcomes": outcomes, "slowest": slowest, "which": which}


COMMANDS: Final[dict[str, Callable[[str], tuple[str, ...]]]] = {
    "station": lambda file: ("station", "check", file),
    "circuits": lambda file: ("circuits", file),
    "ADIF": lambda file: ("review", file),
    "ADX": lambda file: ("review", file),
    "reports": lambda file: ("review", file, "--call", "ZS5TEST"),
    "Touchstone": lambda file: ("antenna", "measure", "--file", file),
}


def by_command(name: str, number: int, folder: Path) -> list[Any]:
    """One mutated input through its command: exit code, seconds, whether what it said is fit to be seen."""
    chance = random.Random(f"{name} {number}")
    file = folder / "input"
    file.write_bytes(mutated(chance.choice(seeds(name)), chance))
    start = time.process_time()
    code, out, err = command(*COMMANDS[name](str(file)))
    fit = not set(out + err) & set(STEERING) and "Traceback" not in err and "failed (" not in err
    return [code, time.process_time() - start, fit]


def attack_readers(count: int) -> None:
    """Mutated inputs for every reader."""
    print(
        f"{'reader':<20}{'inputs':>7}{'read':>7}{'refused':>8}{'faults':>7}{'slowest s':>10}{'MB':>6}"
        "  commands"
    )
    for name in READERS:
        with tempfile.TemporaryDirectory() as made:  # what is imported late is imported before the fork
            for seed in seeds(name):
                with contextlib.suppress(BandwhenError):
                    READERS[name](seed, Path(made))
        outcomes: Counter[str] = Counter()
        slowest, which, most = 0.0, -1, 0.0
        for first in range(0, count, BATCH):
            with tempfile.TemporaryDirectory() as made:
                folder = Path(made)
                folder.chmod(0o777)
                found, memory = in_child(lambda: batch(name, first, folder), NOBODY)  # noqa: B023
            if found == "died":
                outcomes[f"died, batch {first}"] += 1
                continue
            outcomes.update(found["outcomes"])
            most = max(most, memory)
            if found["slowest"] > slowest:
                slowest, which = found["slowest"], found["which"]
        faults = {key: n for key, n in outcomes.items() if key not in ("read", "refused")}
        promise(not faults, f"{name}: {faults}")
        promise(slowest < MOST_SECONDS, f"{name}: input {which} took {slowest:.1f} s")
        promise(most < MOST_MEGABYTES, f"{name}: {most:.0f} MB")
        codes: Counter[str] = Counter()
        if name in COMMANDS:
            for number in range(0, count, max(count // 50, 1)):
                with tempfile.TemporaryDirectory() as made:
                    answer, memory = in_child(lambda: by_command(name, number, Path(made)))  # noqa: B023
                code, _, fit = answer if answer != "died" else ("died", 0.0, False)
                codes[str(code)] += 1
                promise(code in (0, 2, 3) and fit, f"{name}: the command, input {number}: {answer}")
                promise(memory < MOST_MEGABYTES, f"{name}: the command, input {number}: {memory:.0f} MB")
        said = ", ".join(f"{n} x exit {code}" for code, n in sorted(codes.items()))
        print(
            f"{name:<20}{sum(outcomes.values()):>7}{outcomes['read']:>7}{outcomes['refused']:>8}"
            f"{sum(faults.values()):>7}{slowest:>10.2f}{most:>6.0f}  {said}",
            flush=True,
        )


# -- kills and writers --------------------------------------------------------------------------------------

SWEEP: Final = (
    "# MHz S RI R 50\n14.00 0.5 0.1\n14.10 0.2 0.0\n14.20 0.05 0.0\n14.30 0.2 -0.1\n14.40 0.5 -0.1\n"
)


def writing_commands(folder: Path) -> dict[str, Callable[[int], tuple[str, ...]]]:
    """Every command that writes."""
    log = str(HERE.parent / "fixtures" / "demo" / "ridge_day.adi")
    own = ("--station", str(folder / "own.toml"))
    return {
        "friends add": lambda n: ("friends", "add", f"Ana {n}", "GF25"),
        "friends remove": lambda n: ("friends", "remove", "Old"),
        "conditions set": lambda n: ("conditions", "set", "--flux", f"{100 + n % 100}"),
        "station new": lambda n: ("station", "new", "--force"),
        "antenna --keep": lambda n: (
            "antenna", "measure", "--dip", "14.2", "--swr", "1.2", "--at-1.5", "14.1", "14.3", "--keep", *own
        ),
        "review --off": lambda n: ("review", "--off" if n % 2 else "--on", *own),
        "sked --calendar": lambda n: (
            "sked", "--with", "London", "--days", "1", "--calendar", str(folder / "out.ics"), "--ssn", "100"
        ),
        "review --learn": lambda n: ("review", log, "--learn", *own),
    }  # fmt: skip


def whole(folder: Path) -> list[str]:
    """Every kept file that cannot be read."""
    bad = []
    from propagation.logbook import kept_offset

    for file, read in (
        (paths.friends_file(), friends.load), (paths.station_file(), station.load),
        (folder / "own.toml", station.load), (folder / "own.learnt", kept_offset.load),
    ):  # fmt: skip
        if file.exists():
            try:
                read(file)
            except BandwhenError as error:
                bad.append(error.message)
    calendar = folder / "out.ics"
    if calendar.exists() and not calendar.read_bytes().endswith(b"END:VCALENDAR\r\n"):
        bad.append("the calendar is torn")
    try:
        hand_entry.entries_of(Store(paths.conditions_dir()))
    except BandwhenError as error:
        bad.append(error.message)
    return bad


def attack_kills(count: int) -> None:
    """Kills at random moments; then every file is whole, and after a start nothing is left over."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        os.environ["BANDWHEN_HOME"] = str(folder / "home")
        demo = HERE.parent / "fixtures" / "demo"
        shutil.copy(demo / "station.toml", folder / "own.toml")
        chance, killed, torn, left = random.Random("kills"), 0, 0, 0
        wanted = writing_commands(folder)
        for name, words in wanted.items():  # everything is imported and worked out once, then forked
            start = time.monotonic()
            command(*words(0))
            usual = time.monotonic() - start
            start = time.monotonic()
            command(*words(1))
            usual = min(usual, time.monotonic() - start) * 1.2
            mine = 0
            for number in range(count // len(wanted)):
                child = os.fork()
                if child == 0:
                    with contextlib.suppress(BaseException):
                        command(*words(number))
                    os._exit(0)
                time.sleep(chance.uniform(0.0, usual))
                os.kill(child, signal.SIGKILL)
                _, status = os.waitpid(child, 0)
                mine += os.WIFSIGNALED(status)
                bad = whole(folder)
                torn += len(bad)
                promise(not bad, f"{name}, kill {number}: {bad}")
            killed += mine
            paths.sweep()
            for place in (folder, *(place for place in folder.rglob("*") if place.is_dir())):
                sweep(place, math.inf)
            # a lock left over is taken, and then removed, with the next change of its file
            rest = [str(file) for file in folder.rglob(".*") if file.suffix != ".lock"]
            left += len(rest)
            promise(not rest, f"{name}: left over {rest}")
            print(f"kills: {name:<18} {count // len(wanted)} runs, {mine} killed on the way", flush=True)
        print(f"kills: {killed} killed, {torn} files torn, {left} left over after the next start", flush=True)


def attack_writers(rounds: int) -> None:
    """Two writers at once, again and again: both entries are there."""
    lost: Counter[str] = Counter()
    for number in range(rounds):
        with tempfile.TemporaryDirectory() as made:
            os.environ["BANDWHEN_HOME"] = made
            for kind, pair in (
                ("friends", (("friends", "add", "Ana", "GF25"), ("friends", "add", "Bea", "KG40"))),
                (
                    "conditions",
                    tuple(
                        ("conditions", "set", "--flux", "120", "--at", f"2026-03-20T1{n}:00Z") for n in (0, 1)
                    ),
                ),
            ):
                children = []
                for words in pair:
                    child = os.fork()
                    if child == 0:
                        code = 1
                        with contextlib.suppress(BaseException):
                            code = command(*words)[0]
                        os._exit(code)
                    children.append(child)
                for child in children:
                    _, status = os.waitpid(child, 0)
                    promise(status == 0, f"writers, round {number}, {kind}: exit {status}")
                there = (
                    len(friends.load(paths.friends_file()))
                    if kind == "friends"
                    else len(hand_entry.entries_of(Store(paths.conditions_dir())))
                )
                lost[kind] += 2 - there
    promise(not any(lost.values()), f"writers lost {dict(lost)}")
    print(f"writers: two at once {rounds} times; entries lost: {dict(lost)}", flush=True)


# -- servers and options ------------------------------------------------------------------------------------


def servers(count: int) -> dict[str, Talk]:
    """Hostile servers; those beyond the named ones send a whole answer that is mutated."""
    answer = OK + b"Content-Type: application/json\r\nContent-Length: %d\r\n\r\n" % len(BODY) + BODY
    more = range(max(count - len(SERVERS), 0))
    return {**SERVERS, **{f"mutated {n}": says(mutated(answer, random.Random(f"server {n}"))) for n in more}}


def attack_servers(count: int) -> None:
    """Every hostile server at once with the usual limits, then a wish to stop."""
    hostile = servers(count)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for stopped in (False, True):
        took: dict[str, float] = {}
        said: dict[str, str] = {}

        def one(name: str, stopped: bool, took: dict[str, float], said: dict[str, str]) -> None:
            with tempfile.TemporaryDirectory() as made, serving(hostile[name]) as (address, _):
                start = time.monotonic()
                end = start + 1.0 if stopped else start + 1e6
                outcomes = refresh(
                    Store(Path(made)), np.datetime64("2031-02-27", "s"), time.monotonic,
                    RefreshRequest(mirror=address), cancelled=lambda: time.monotonic() > end,
                )  # fmt: skip
                took[name] = time.monotonic() - (end if stopped else start)
                said[name] = outcomes[0].message

        threads = [threading.Thread(target=one, args=(name, stopped, took, said)) for name in hostile]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        worst = max(took, key=lambda name: took[name])
        limit = 1.0 if stopped else 21.0  # with all of them at once on a few processors
        promise(took[worst] < limit, f"servers: {worst} took {took[worst]:.1f} s")
        promise(not any(set(text) & set(STEERING) for text in said.values()), "servers: a steering character")
        what = "after the wish to stop" if stopped else "to the end"
        print(
            f"servers: {len(hostile)} at once; the slowest {took[worst]:.2f} s {what} ({worst})", flush=True
        )
    more = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1000.0
    print(f"servers: {more:.0f} MB more for all of them together, servers included", flush=True)


def attack_options() -> None:
    """Every absurd value of every option."""
    codes: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as made:
        os.environ["BANDWHEN_HOME"] = made
        os.chdir(made)
        for *words, option in _options():
            if option in ("--calendar", "--mirror", "--only") or "fetch" in words:
                continue
            for value in ABSURD:
                answer, memory = in_child(lambda: command(*words, f"{option}={value}"))  # noqa: B023
                where = f"{' '.join(words)} {option}={value[:20]!r}"
                if answer == "died":
                    promise(False, f"options: {where} died")
                    continue
                code, out, err = answer
                codes[str(code)] += 1
                fit = not set(out + err) & set(STEERING) and "failed (" not in err
                promise(code in (0, 2, 3) and fit, f"options: {where}: exit {code}, {err[:200]}")
                promise(memory < MOST_MEGABYTES, f"options: {where}: {memory:.0f} MB")
    print(f"options: {dict(codes)}", flush=True)


# -- screens ------------------------------------------------------------------------------------------------


def wound(name: str, chance: random.Random) -> None:
    """Corrupt one of the files that are kept; one that is not there yet is nonsense."""
    kept = {
        "station": paths.station_file(),
        "friends": paths.friends_file(),
        "settings": paths.settings_file(),
        "flux": paths.conditions_dir() / "flux.stored",
        "entries": paths.conditions_dir() / f"{hand_entry.COPY_NAME}.stored",
        "antennas": paths.antennas_file(),
        "learnt": paths.station_file().with_suffix(".learnt"),
    }
    file = kept[name]
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(mutated(file.read_bytes() if file.exists() else b"[site]\n" * 40, chance))


def random_keys(count: int, name: str) -> dict[str, Any]:
    """Random keys on the screens with the engine itself, in a home of their own; name: the file corrupted."""
    from quiet import settled
    from walks import Spree, hostile_home, on, spree, walk

    os.environ["BANDWHEN_HOME"] = tempfile.mkdtemp()
    os.chdir(os.environ["BANDWHEN_HOME"])
    log, chance, found = hostile_home(Path.cwd()), random.Random(f"keys {name}"), Spree()
    if name:
        wound(name, chance)
    rounds, fault, memory = 0, "", list[float]()

    async def scenario(app: Any, pilot: Any) -> None:
        await settled(app, pilot)
        if not rounds and not name:
            await walk(app, pilot, log)
        memory.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0)
        await spree(app, pilot, chance, count - found.keys, found)

    while found.keys < count and not fault and rounds < count:
        try:
            on(scenario)
        except Exception as error:
            fault = f"{type(error).__name__}: {error}"[:500]
        rounds += 1
    memory.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0)
    record = paths.fault_file()
    return {
        **vars(found),
        "fault": fault,
        "record": record.read_text(encoding="utf-8")[:3000] if record.exists() else "",
        "memory": memory,
    }


def attack_screens(count: int) -> None:
    """Random keys, clicks, pastes and sizes; then fewer with each kept file corrupted."""
    for name in ("", "station", "friends", "settings", "flux", "entries", "antennas", "learnt"):
        keys = count // 20 if name else count
        found, _ = in_child(lambda: random_keys(keys, name))  # noqa: B023
        what = f"screens, {name or 'nothing'} corrupted"
        if found == "died":
            promise(False, f"{what}: died")
            continue
        promise(not found["fault"] and not found["record"], f"{what}: {found}")
        promise(found["slowest_s"] < MOST_SECONDS, f"{what}: {found['slowest_s']:.1f} s, {found['which']}")
        first, last = found["memory"][0], found["memory"][-1]
        promise(last < MOST_MEGABYTES, f"{what}: {last:.0f} MB")
        print(
            f"{what}: {found['keys']} keys, the slowest {found['slowest_s']:.2f} s ({found['which']}), "
            f"left {found['left']} times, {first:.0f} MB before and {last:.0f} MB after",
            flush=True,
        )


def attack_properties(rounds: int) -> None:
    """All property tests, each time with examples that no run before has seen."""
    for _ in range(rounds):
        seed = random.SystemRandom().randrange(2**32)
        options = ["--hypothesis-profile=fresh", f"--hypothesis-seed={seed}", "-n", "auto"]
        command = [sys.executable, "-m", "pytest", "-m", "hypothesis", *options, "tests"]
        result = subprocess.run(command, cwd=HERE.parent, capture_output=True, text=True, check=False)
        promise(result.returncode == 0, f"properties, seed {seed}: {result.stdout[-10_000:]}")
        print(f"properties, seed {seed}: {result.stdout.strip().splitlines()[-1:]}", flush=True)


def _written(work: Callable[..., None]) -> None:
    """An attack on the files that all commands write."""
    with tempfile.TemporaryDirectory() as made:
        shutil.copy(HERE.parent / "fixtures" / "demo" / "station.toml", Path(made) / "own.toml")
        work(writing_commands(Path(made)), command, promise)


PARTS: Final[dict[str, Callable[[int], None]]] = {
    "readers": attack_readers,
    "kills": attack_kills,
    "cuts": lambda count: attack_cuts(count, promise),
    "writers": attack_writers,
    "links": lambda _: _written(attack_links),
    "rights": lambda _: _written(attack_rights),
    "streams": lambda _: attack_streams(promise),
    "servers": attack_servers,
    "two-hosts": lambda _: attack_two_hosts(promise),
    "options": lambda _: attack_options(),
    "screens": attack_screens,
    "keys": lambda count: attack_keys(count, promise),
    "signals": lambda count: attack_signals(count, promise),
    "properties": attack_properties,
}


def main(words: list[str]) -> int:
    """Run what is asked for."""
    for encoding in ("utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"):  # which JSON may turn out to be in
        codecs.lookup(encoding)
    clock.set_now(clock.parse_time("2026-03-20T12:00Z"))
    os.environ["BANDWHEN_HOME"] = tempfile.mkdtemp()
    everything = (
        "readers 10000 kills 1000 cuts 10000 writers 200 links rights streams servers 100 two-hosts options "
        "screens 5000 keys 10000 signals 200 properties 5"
    )
    parts = words or everything.split()
    numbers = dict(zip(parts, [*parts[1:], ""], strict=True))
    for part in (word for word in parts if not word.isdigit()):
        os.environ["BANDWHEN_HOME"] = tempfile.mkdtemp()
        os.chdir(os.environ["BANDWHEN_HOME"])
        start = time.monotonic()
        PARTS[part](int(numbers[part]) if numbers[part].isdigit() else 0)
        print(f"{part}: {time.monotonic() - start:.0f} s", flush=True)
    for line in broken[:50]:
        print(f"BROKEN  {line}")
    print(f"{len(broken)} promises broken")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
