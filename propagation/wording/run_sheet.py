"""The plan on paper: a run sheet as plain text or Markdown, with settings, cautions, conditions and their
age."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from propagation.advice.plan_day import DayPlan, Step
from propagation.advice.setup_notes import BandSetup, with_tuning
from propagation.advice.windows import LeftOut, left_out
from propagation.antennas.antenna import Antenna
from propagation.antennas.exposure import exposure, safety
from propagation.antennas.solution import BandResult
from propagation.signal.chances.forecast import Forecast
from propagation.spectrum.bands import LICENCE_REMINDER
from propagation.spectrum.modes import Mode
from propagation.wording.conditions import conditions_sentence
from propagation.wording.plan import at_the_antenna, expect_words, gain_sentence, leave_words
from propagation.wording.quantities import (
    band_title,
    clock,
    date,
    end_clock,
    megahertz,
    minutes,
    reached,
    sentence,
    watts,
)
from propagation.wording.setup import card_words, setup_words
from propagation.wording.windows import left_out_words, route_and_mode


@dataclass(frozen=True)
class RunSheet:
    """Everything on the sheet; times in UTC."""

    title: str
    site: str
    targets: str
    mode: str
    power_w: float
    plan: DayPlan
    conditions: str
    cautions: tuple[str, ...]
    cards: tuple[BandSetup, ...]
    left_out: tuple[LeftOut, ...]

    @property
    def steps(self) -> tuple[Step, ...]:
        """The plan's steps."""
        return self.plan.steps


def make_run_sheet(
    plan: DayPlan,
    results: Sequence[Forecast],
    antenna: Antenna | None,
    setups: dict[str, BandSetup],
    now: np.datetime64,
) -> RunSheet:
    """The sheet of a plan. antenna: the operator's own, for the cautions; now: for the age of the
    conditions."""
    first = results[0]
    bands = list(dict.fromkeys([step.stay.band for step in plan.steps]))
    backups = [step.backup for step in plan.steps if step.backup is not None]
    used = [setups[band] for band in dict.fromkeys([*bands, *backups])]
    answers = [] if antenna is None else [antenna.on(setup.centre_mhz) for setup in used]
    cards = used
    if answers:
        pairs = zip(used, answers, strict=True)
        cards = [with_tuning(setup, first.station, first.mode, answer) for setup, answer in pairs]
    wish = plan.wish
    when = f"{date(wish.start)}, {clock(wish.start)} to {end_clock(wish.end)} UTC"
    return RunSheet(
        title=f"Run sheet for {when}",
        site=first.station.name or "the station",
        targets=", ".join(result.target.name for result in results),
        mode=first.mode.name,
        power_w=first.power_w,
        plan=plan,
        conditions=conditions_sentence(first.conditions, wish.start, now),
        cautions=cautions(antenna, first.mode, first.power_w, answers),
        cards=tuple(cards),
        left_out=left_out(first),
    )


def cautions(
    antenna: Antenna | None, mode: Mode, power_w: float, answers: Sequence[BandResult]
) -> tuple[str, ...]:
    """What to heed: power limits and distances on the bands, safety at the mast, the licence.

    answers: what the antenna says of each band.
    """
    told: list[str] = []
    if antenna is not None and answers:
        limits = [
            (answer.power_limit_w, answer.band)
            for answer in answers
            if answer.power_limit_w is not None and answer.power_limit_w < power_w
        ]
        if limits:
            least, band = min(limits)
            told.append(f"On {band} the antenna bears {watts(least)} of {mode.name} at most.")
        exposures = [
            exposure(
                antenna.spec,
                antenna.solution(answer.frequency_mhz),
                power_w,
                mode,
                answer.feedline_loss_db,
            )
            for answer in answers
        ]
        farthest = max(exposures, key=lambda row: row.distance_m)
        told.append(
            f"Keep people {max(farthest.distance_m, 1.0):.1f} m or more from the antenna while sending."
        )
        told += farthest.said
        told += list(dict.fromkeys(note for answer in answers for note in answer.notes))
        told += safety(antenna.spec)
    told.append(LICENCE_REMINDER)
    return tuple(dict.fromkeys(told))


def expectation(step: Step) -> str:
    """Whom to expect, and how the signal goes."""
    how = route_and_mode(step.mode, step.route, step.elevation_deg)
    return f"{expect_words(step.expect)}; {how}"


def step_sentence(step: Step, wanted: int) -> str:
    """One step as a run sheet says it."""
    stay = step.stay
    parts = [f"At {clock(stay.start)} go to {band_title(stay.band)}, {megahertz(step.frequency_mhz)}"]
    setup = setup_words(step.setup)
    parts.append(f"set {setup}" if step.work is None else f"{at_the_antenna(step)} ({setup})")
    if stay.lost_min > 0.0:
        parts.append(f"allow {minutes(stay.lost_min)}")
    lines = [sentence("; ".join(parts))]
    if step.hopeful or wanted:
        lines.append(sentence(f"Expect {expectation(step)}"))
    else:
        lines.append(sentence(f"Do not hope for much: {reached(step.chance, wanted)}; a time to eat or rest"))
    if step.leave is not None:
        lines.append(sentence(f"Leave at {end_clock(stay.end)} because {leave_words(step.leave)}"))
    else:
        lines.append(f"Until {end_clock(stay.end)}.")
    if step.backup is not None:
        lines.append(f"If it is dead: {band_title(step.backup)}.")
    return " ".join(lines)


def sheet_sentences(sheet: RunSheet) -> list[str]:
    """The whole sheet as plain sentences."""
    lines = [
        f"{sheet.title}: {sheet.site}, for {sheet.targets}; {sheet.mode}, {watts(sheet.power_w)}.",
        sheet.conditions,
    ]
    lines += [f"{i}. {step_sentence(step, sheet.plan.wanted)}" for i, step in enumerate(sheet.steps, start=1)]
    lines.append(gain_sentence(sheet.plan))
    lines += [f"Setting for {band_title(card.band)}: {card_words(card)}" for card in sheet.cards]
    lines += [f"Left out: {band_title(row.band)}, {left_out_words(row)}." for row in sheet.left_out]
    lines += [f"Caution: {text}" for text in sheet.cautions]
    return lines


def sheet_text(sheet: RunSheet) -> str:
    """The sheet as text to print."""
    rule = "-" * len(sheet.title)
    lines = [sheet.title, rule, f"{sheet.site}, for {sheet.targets}; {sheet.mode}, {watts(sheet.power_w)}"]
    lines += [sheet.conditions, ""]
    for step in sheet.steps:
        stay = step.stay
        span = f"{clock(stay.start)}-{end_clock(stay.end)}"
        head = f"{span}  {band_title(stay.band):<6}{megahertz(step.frequency_mhz):>12}"
        lines.append(f"{head}   {reached(step.chance, sheet.plan.wanted)}")
        lines += [f"             {line}" for line in step_lines(step, sheet.plan.wanted)]
    lines += ["", gain_sentence(sheet.plan), "", "Settings"]
    lines += [f"  {band_title(card.band):<6}{card_words(card)}" for card in sheet.cards]
    if sheet.left_out:
        lines += [
            "",
            "Left out",
            *(f"  {band_title(row.band):<6}{left_out_words(row)}" for row in sheet.left_out),
        ]
    lines += ["", "Cautions", *(f"  - {text}" for text in sheet.cautions)]
    return "\n".join(lines)


def step_lines(step: Step, wanted: int) -> list[str]:
    """One step in pieces: what to do at the antenna first, then what to expect, why to leave, what if not."""
    stay = step.stay
    lost = f", allow {minutes(stay.lost_min)}" if stay.lost_min > 0.0 else ""
    lines = [f"{at_the_antenna(step)}{lost}"]
    if step.hopeful or wanted:
        lines.append(f"expect {expectation(step)}")
    else:
        lines.append("do not hope for much: a time to eat or rest")
    if step.leave is not None:
        lines.append(f"leave because {leave_words(step.leave)}")
    if step.backup is not None:
        lines.append(f"if it is dead: {band_title(step.backup)}")
    return lines


def sheet_markdown(sheet: RunSheet) -> str:
    """The sheet as Markdown."""
    lines = [f"# {sheet.title}", ""]
    lines.append(f"{_plain(sheet.site)}, for {_plain(sheet.targets)}; {sheet.mode}, {watts(sheet.power_w)}.")
    lines += [
        "",
        sheet.conditions,
        "",
        "| UTC | band | MHz | chance | expect | at the antenna | leave because |",
    ]
    lines.append("|---|---|---|---|---|---|---|")
    for step in sheet.steps:
        stay = step.stay
        backup = f"; backup {band_title(step.backup)}" if step.backup else ""
        cells = [
            f"{clock(stay.start)} to {end_clock(stay.end)}",
            band_title(stay.band),
            f"{step.frequency_mhz:.3f}",
            reached(step.chance, sheet.plan.wanted),
            expectation(step),
            f"{at_the_antenna(step)}{f' ({minutes(stay.lost_min)})' if stay.lost_min else ''}",
            f"{leave_words(step.leave) or 'end'}{backup}",
        ]
        lines.append("| " + " | ".join(_plain(cell) for cell in cells) + " |")
    lines += ["", gain_sentence(sheet.plan), "", "## Settings", ""]
    lines += [f"- **{band_title(card.band)}**: {_plain(card_words(card))}" for card in sheet.cards]
    if sheet.left_out:
        lines += ["", "## Left out", ""]
        lines += [f"- {band_title(row.band)}: {_plain(left_out_words(row))}" for row in sheet.left_out]
    lines += ["", "## Cautions", "", *(f"- {_plain(text)}" for text in sheet.cautions)]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """Text that Markdown leaves as it is, on one line."""
    for sign in "\\`*_[]<>|#":
        text = text.replace(sign, f"\\{sign}")
    return " ".join(text.split())
