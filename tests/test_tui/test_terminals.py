"""The program in real terminals of several kinds: without colour, with 256 colours, under tmux."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

TMUX = shutil.which("tmux")
ROOT = Path(__file__).resolve().parent.parent.parent


def in_pty(
    environment: dict[str, str],
    keys: bytes = b"q",
    wait: bytes = b"reach the sky",
    columns: int = 80,
    rows: int = 24,
    code: str = "",
    status: list[int] | None = None,
) -> bytes:
    """Run the screens in a pseudo-terminal until `wait` is drawn and quiet follows, press keys, return all
    output. code: run this instead of the program. status: takes the exit code.
    """
    import fcntl
    import struct
    import termios

    inherited = {
        k: v for k, v in os.environ.items() if k not in ("COLORTERM", "NO_COLOR", "TEXTUAL_COLOR_SYSTEM")
    }
    pid, end = pty.fork()
    if pid == 0:
        os.chdir(ROOT)
        os.execve(
            sys.executable,
            [sys.executable, *(["-c", code] if code else ["-m", "tui"])],
            {**inherited, **environment},
        )
    fcntl.ioctl(end, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    os.kill(pid, signal.SIGWINCH)
    got = b""
    limit = time.monotonic() + 40
    sent = False
    quiet_since = time.monotonic()
    try:
        while time.monotonic() < limit:
            ready, _, _ = select.select([end], [], [], 0.2)
            if ready:
                try:
                    piece = os.read(end, 65536)
                except OSError:
                    break
                if not piece:
                    break
                got += piece
                quiet_since = time.monotonic()
            elif not sent and wait in got and time.monotonic() - quiet_since > 0.6:
                os.write(end, keys)
                sent = True
    finally:
        ended, told = os.waitpid(pid, os.WNOHANG)
        for _ in range(50 if sent else 0):
            if ended:
                break
            time.sleep(0.1)
            ended, told = os.waitpid(pid, os.WNOHANG)
        if not ended:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
            told = os.waitpid(pid, 0)[1]
        if status is not None:
            status.append(os.waitstatus_to_exitcode(told))
        os.close(end)
    assert sent, got[-2000:].decode(errors="replace")
    return got


def colours(output: bytes) -> set[bytes]:
    """The colour-setting sequences of an output."""
    return {
        part
        for sequence in re.findall(rb"\x1b\[([0-9;]*)m", output)
        for part in re.findall(
            rb"(?:38|48);[25];[0-9;]+|(?<![0-9])(?:3[0-7]|4[0-7]|9[0-7]|10[0-7])(?![0-9])", sequence
        )
    }


def test_without_colour_no_colour_is_sent() -> None:
    output = in_pty({"TERM": "xterm-256color", "NO_COLOR": "1", "COLORTERM": "truecolor"})
    assert colours(output) == set()
    assert "▁".encode() in output


def test_256_colours_only() -> None:
    output = in_pty({"TERM": "xterm-256color"})
    found = colours(output)
    assert found
    assert not any(part[3:4] == b"2" for part in found), found


FAULT_IN_DRIVER = """
import sys
from textual.drivers.linux_driver import LinuxDriver
whole = LinuxDriver.process_message
def broken(self, message):
    if getattr(message, "key", "") == "z":
        raise RuntimeError("made to fail [/red]")
    whole(self, message)
LinuxDriver.process_message = broken
from tui.__main__ import main
sys.exit(main())
"""


def test_bytes_that_are_no_text_do_no_harm(tmp_path: Path) -> None:
    """A paste of Latin-1 text goes by; the program is still there to be left by its key."""
    output = in_pty({"TERM": "xterm-256color", "BANDWHEN_HOME": str(tmp_path)}, keys=b"\xe9\xff\x80q")
    assert b"Traceback" not in output
    assert b"UnicodeDecodeError" not in output
    assert output.rstrip().endswith(b"\x1b[?1004l") or b"\x1b[?1049l" in output, "the terminal was put back"
    assert not (tmp_path / "state" / "faults.log").exists()


def test_a_fault_in_the_driver_is_one_sentence_and_the_terminal_is_put_back(tmp_path: Path) -> None:
    status: list[int] = []
    output = in_pty(
        {"TERM": "xterm-256color", "BANDWHEN_HOME": str(tmp_path)},
        keys=b"z",
        code=FAULT_IN_DRIVER,
        status=status,
    )
    tail = output[output.rindex(b"\x1b[?1049l") :].decode(errors="replace")
    assert "Traceback" not in output.decode(errors="replace")
    assert "The screens had to end" in tail
    assert status == [2]
    assert "made to fail" in (tmp_path / "state" / "faults.log").read_text(encoding="utf-8")


NEVER_ENDING = """
import sys, threading
from tui.__main__ import main
from tui.app.queries import Engine
held, answer = sys.argv.pop(1), Engine.answer
def hold(self, query, cancelled):
    if query.group == held:
        threading.Event().wait()
    return answer(self, query, cancelled)
Engine.answer = hold
sys.exit(main())
"""


def left_with(held: str, keys: bytes, home: Path) -> int:
    """The exit code of the program left by q while a question of a group is under way that never ends."""
    environment = {**os.environ, "TERM": "xterm-256color", "BANDWHEN_HOME": str(home)}
    pid, end = pty.fork()
    if pid == 0:
        os.chdir(ROOT)
        os.execve(sys.executable, [sys.executable, "-c", NEVER_ENDING, held], environment)
    got, limit, over = b"", time.monotonic() + 60.0, False
    steps = [(b"reach the sky", keys), (b"working: ", b"q")] if keys else [(b"working: forecast", b"q")]
    try:
        while time.monotonic() < limit:
            ready, _, _ = select.select([end], [], [], 0.2)
            try:
                piece = os.read(end, 65536) if ready else b"-"
            except OSError:
                piece = b""
            if not piece:
                over = True
                break
            got += piece if ready else b""
            if steps and steps[0][0] in got:
                os.write(end, steps.pop(0)[1])
                got = b""
        assert not steps, got[-2000:].decode(errors="replace")
        assert over, "leaving waits for the work"
    finally:
        if not over:
            os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        os.close(end)
    return os.waitstatus_to_exitcode(status)


@pytest.mark.parametrize(("held", "keys"), [("day", b""), ("plan", b"6")], ids=["forecast", "plan"])
def test_leaving_does_not_wait_for_the_work(held: str, keys: bytes, tmp_path: Path) -> None:
    """The work never ends, so that a program which waited for it would never be left."""
    assert left_with(held, keys, tmp_path) == 0


@pytest.mark.skipif(TMUX is None, reason="tmux is not installed")
def test_first_answer_and_resizing_under_tmux(tmp_path: Path) -> None:
    """From a cold start to the first answer, other screens by keys, a smaller window, and out."""
    socket = f"bandwhen-{os.getpid()}"
    environment = {**os.environ, "TERM": "xterm-256color"}

    def tmux(*arguments: str) -> str:
        done = subprocess.run(
            [str(TMUX), "-L", socket, "-f", "/dev/null", *arguments],
            capture_output=True,
            text=True,
            env=environment,
            check=False,
        )
        return done.stdout

    def until(wanted: str, seconds: float = 40.0) -> str:
        limit = time.monotonic() + seconds
        shown = ""
        while time.monotonic() < limit:
            shown = tmux("capture-pane", "-p", "-t", "a")
            if wanted in shown:
                return shown
            time.sleep(0.2)
        raise AssertionError(f"{wanted!r} did not appear in\n{shown}")

    command = f"cd {ROOT} && BANDWHEN_HOME={tmp_path} {sys.executable} -m tui; echo left with $?; sleep 30"
    tmux("new-session", "-d", "-s", "a", "-x", "80", "-y", "24", command)
    try:
        shown = until("reach the sky")
        assert "DEMO" in shown
        assert "bandwhen station new" in shown
        tmux("send-keys", "-t", "a", "3")
        until("skip distance")
        tmux("resize-window", "-t", "a", "-x", "60", "-y", "16")
        tmux("send-keys", "-t", "a", "2")
        until("2 why")
        tmux("resize-window", "-t", "a", "-x", "132", "-y", "43")
        tmux("send-keys", "-t", "a", "1")
        until("UTC")
        tmux("send-keys", "-t", "a", "q")
        assert "left with 0" in until("left with", 10.0)
    finally:
        tmux("kill-server")
