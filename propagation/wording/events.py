"""What is said of a flare or a proton event over the path: the cause first, then what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from propagation.wording.quantities import band_title, clock, decibels, listed, reached, sentence

if TYPE_CHECKING:
    from propagation.advice.events import Event


WHOLE_DB: Final = 40.0  # dB, from which a signal is as good as gone (ours)


def bands_words(names: tuple[str, ...]) -> str:
    """Bands from the lowest up: `80, 40 and 20 m`, all in one unit where they share it."""
    titles = [band_title(name) for name in names]
    metres = all(title.endswith(" m") for title in titles)
    if metres and len(titles) > 1:
        return listed([title.removesuffix(" m") for title in titles]) + " m"
    return listed(titles)


def _span(names: tuple[str, ...]) -> str:
    """Bands where there is hardly room: `80 to 20 m`."""
    if len(names) < 3:
        return bands_words(names)
    return f"{band_title(names[0]).removesuffix(' m')} to {band_title(names[-1])}"


def event_name(one: Event) -> str:
    """The event with its size: `a solar flare (class X1.0)`, `solar protons (S3) over the polar cap`."""
    if one.kind == "polar cap":
        return f"solar protons{f' ({one.name})' if one.name else ''} over the polar cap"
    return f"a solar flare{f' (class {one.name})' if one.name else ''}"


def event_clause(one: Event, band: str) -> str:
    """The event as what stands in the way on a band, and until when."""
    cost = one.costs(band)
    what = f"{decibels(cost)} of the signal" if 0.0 < cost < WHOLE_DB else "all of the signal"
    return f"{event_name(one)} {_verb(one, 'take')} {what} {_how_long(one)}"


def event_sentence(one: Event, wanted: int = 0) -> str:
    """The event, what it takes, and what to do: wait, use a higher band, or turn where it does not reach."""
    what = f"{event_name(one)} {_taken(one, bands_words(one.taken))} at {clock(one.time)} UTC"
    return sentence(f"{what}: {_advice(one, wanted)}")


def event_short(one: Event) -> str:
    """The same for a headline: `Flare X1.0 takes 80 to 20 m until about 13:10`."""
    head = "Solar protons" if one.kind == "polar cap" else "Flare"
    name = f"{head} {one.name}" if one.name else head
    return f"{name} {_taken(one, 'every band' if one.lead is None else _span(one.taken))} {_how_long(one)}"


def _verb(one: Event, verb: str) -> str:
    return verb if one.kind == "polar cap" else f"{verb}s"  # the protons are many


def _taken(one: Event, bands: str) -> str:
    """What the event takes, and what it costs a band that is left."""
    parts = [f"{_verb(one, 'take')} {bands}"] if one.taken else []
    if one.dented is not None:
        parts.append(f"{_verb(one, 'cost')} {band_title(one.dented)} {decibels(one.costs(one.dented))}")
    return " and ".join(parts)


def _how_long(one: Event) -> str:
    if one.until is not None:
        return f"until about {clock(one.until)}"
    return "for hours to days" if one.kind == "polar cap" else "for about an hour"


def _advice(one: Event, wanted: int) -> str:
    protons = one.kind == "polar cap"
    spared = "paths away from the poles are spared" if protons else "paths in the dark are spared"
    wait = "they last for hours to days" if protons else f"wait {_how_long(one).removeprefix('for ')}"
    if one.taken and one.lead is not None and one.lead_serves:
        verb = "stay on" if one.lead == one.dented else "use"
        best = f"{'so' if protons else 'or'} {verb} {band_title(one.lead)}"
        return f"{wait}, {best}, {reached(one.lead_chance, wanted)}; {spared}"
    return f"{wait}; the higher the band the less it loses, and {spared}"
