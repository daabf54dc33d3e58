"""Completion scripts: made from the parsers, understood by the shells where they are there."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tui import cli
from tui.commands import completion


@pytest.mark.parametrize("shell", completion.SHELLS)
def test_every_command_and_common_option_is_there(bandwhen: Callable[..., Any], shell: str) -> None:
    found = bandwhen("completion", shell)
    assert found.code == 0
    assert found.err == ""
    for name in (*cli.COMMANDS, "station", "plain", "hours", "json"):
        assert name in found.out


def test_bash_completes(bandwhen: Callable[..., Any], tmp_path: Path) -> None:
    shell = shutil.which("bash")
    if shell is None:
        pytest.skip("there is no bash here")
    script = tmp_path / "bandwhen.bash"
    script.write_text(bandwhen("completion", "bash").out, encoding="utf-8")

    def offered(*words: str) -> list[str]:
        given = " ".join(f"'{word}'" for word in words)
        ask = f"source {script}; COMP_WORDS=({given}); COMP_CWORD={len(words) - 1}; _bandwhen; "
        done = subprocess.run(
            [shell, "-c", f'{ask} printf "%s\\n" "${{COMPREPLY[@]}}"'],
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout.split()

    assert offered("bandwhen", "ad") == ["advise"]
    assert offered("bandwhen", "plan", "--ho") == ["--hours"]
    assert offered("bandwhen", "station", "ne") == ["new"]


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_accept_their_script(bandwhen: Callable[..., Any], shell: str, tmp_path: Path) -> None:
    found = shutil.which(shell)
    if found is None:
        pytest.skip(f"there is no {shell} here")
    script = tmp_path / "script"
    script.write_text(bandwhen("completion", shell).out, encoding="utf-8")
    subprocess.run([found, "-n", str(script)], check=True)


def test_an_unknown_shell_is_one_sentence(bandwhen: Callable[..., Any]) -> None:
    found = bandwhen("completion", "korn")
    assert found.code == 2
    assert found.err.count("\n") == 1
