"""Which of two antennas to carry, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from propagation.wording.quantities import band_title, percent, sentence

if TYPE_CHECKING:
    from propagation.advice.antenna_worth import Worth

MOST_BANDS = 2  # bands named for each antenna
WORTH_A_WORD_H = 0.25  # h of contact by which one leads on a band, to be told (ours)


def figure(worth: Worth) -> str:
    """What a day is worth, in a few words."""
    if worth.contacts is not None:
        return (
            f"some {worth.contacts:.0f} contacts if on the air all day"
            if worth.contacts >= 1.5
            else "hardly a contact"
        )
    return f"{worth.hours:.1f} hours of contact"


def carry_sentences(
    names: tuple[str, str], bands: Sequence[str], worths: tuple[Worth, Worth], choice: int | None, target: str
) -> list[str]:
    """Which to carry today for the target, what each is good for, and where the other is the better one."""
    first, second = (f"{name}: {figure(worth)}" for name, worth in zip(names, worths, strict=True))
    if choice is None:
        out = [f"Today it hardly matters which you carry, for {target}."]
    else:
        out = [f"Carry this one today, for {target}: {names[choice]}."]
    out.append(f"{sentence(first)} {sentence(second)}")
    return out + leads(names, bands, worths)


def leads(names: tuple[str, str], bands: Sequence[str], worths: tuple[Worth, Worth]) -> list[str]:
    """On which bands each of two is the better one."""
    out = []
    for own, other in ((0, 1), (1, 0)):
        gain = worths[own].band_hours - worths[other].band_hours
        leads = [int(row) for row in gain.argsort()[::-1] if gain[row] > WORTH_A_WORD_H][:MOST_BANDS]
        best = [(band_title(bands[row]), percent(float(worths[own].best[row]))) for row in leads]
        if best:
            told = ", ".join(f"{band} ({chance} at best)" for band, chance in best)
            out.append(sentence(f"{names[own]} is the better one on {told}"))
    return out
