"""Completion scripts: made from the parsers, understood by the shells where they are there."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tui import completion
from tui.app.feature_list import COMMANDS


@pytest.mark.parametrize("shell", completion.SHELLS)
def test_every_command_and_common_option_is_there(bandwhen: Callable[..., Any], shell: str) -> None:
    found = bandwhen("completion", shell)
    assert found.code == 0
    assert found.err == ""
    for name in (*COMMANDS, "station", "plain", "hours", "json"):
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


def test_the_first_tab_of_zsh_completes_too(bandwhen: Callable[..., Any], tmp_path: Path) -> None:
    """zsh runs the file itself for the first completion: it must then complete, not only define how."""
    script = bandwhen("completion", "zsh").out
    ending = script.partition('if [ "$funcstack[1]" = "_bandwhen" ]; then')[2].split()
    assert ending == ["_bandwhen", '"$@"', "else", "compdef", "_bandwhen", "bandwhen", "fi"]
    shell = shutil.which("zsh")
    if shell is None:
        return  # what is said of the script above holds without it
    (tmp_path / "_bandwhen").write_text(script, encoding="utf-8")
    setup = f"fpath=({tmp_path} $fpath); autoload -U compinit; compinit -u -D; print REA''DY"
    trial = f"""
        zmodload zsh/zpty
        zpty z "TERM=dumb {shell} -f -i"
        zpty -w z "{setup}"
        zpty -r z got '*READY*'
        zpty -w -n z $'bandwhen friends ad\\t'
        zpty -r z got '*friends add *'
        print -r -- "$got"
        zpty -d z
    """
    done = subprocess.run([shell, "-f", "-c", trial], capture_output=True, text=True, timeout=30, check=False)
    assert "friends add " in done.stdout


def test_fish_offers_what_fits(bandwhen: Callable[..., Any], tmp_path: Path) -> None:
    script = bandwhen("completion", "fish").out
    assert "complete -c bandwhen -n '__fish_seen_subcommand_from sked' -l days" in script
    shell = shutil.which("fish")
    if shell is None:
        return  # what is said of the script above holds without it
    file = tmp_path / "bandwhen.fish"
    file.write_text(script, encoding="utf-8")
    ask = f"source {file}; complete -C 'bandwhen sk'; complete -C 'bandwhen sked --da'"
    done = subprocess.run(
        [shell, "--no-config", "-c", ask], capture_output=True, text=True, timeout=30, check=True
    )
    offered = [line.split("\t")[0] for line in done.stdout.splitlines()]
    assert offered == ["sked", "sky", "--date", "--days"]
