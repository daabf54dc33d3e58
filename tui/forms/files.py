"""Finished plans and appointments, written to files."""

from __future__ import annotations

from dataclasses import dataclass

from tui.engine import Cancelled, Deed, Engine
from tui.host import Host


@dataclass(frozen=True)
class Export(Deed[str]):
    """Write a plan or an appointment; a sentence names the files."""

    view: object

    group = "saying"
    says = "file"

    def answer(self, engine: Engine, cancelled: Cancelled) -> str:
        """Write it into the folder one stands in."""
        from tui.presenting import export

        return export.write(self.view, engine.now())


def export(host: Host, view: object | None) -> None:
    """Write what a page shows."""
    if view is None:
        host.say("There is nothing to write yet.")
    else:
        host.ask(Export(view), host.say)
