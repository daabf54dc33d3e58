"""Sentences on the plan for the time on air, and the printed run sheet as plain text or Markdown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

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
from propagation.wording.quantities import (
    band_title,
    both_spans,
    clock,
    date,
    days,
    end_clock,
    in_ten,
    megahertz,
    minutes,
    percent,
    reached,
    sentence,
    watts,
    whom_words,
    zone_word,
)
from propagation.wording.setup import card_words, setup_words, work_words
from propagation.wording.sky import conditions_sentence
from propagation.wording.windows import edge_words, left_out_words, route_and_mode

if TYPE_CHECKING:
    from propagation.advice.plan_day import Expectation, Leave

NO_BAND = "No band is likely enough in these hours."
LITTLE = 0.1  # share of gain below which switching is called worth little (ours)


def expect_words(expect: Sequence[Expectation]) -> str:
    """Expectation for every target."""
    return "; ".join(
        (whom_words(one.parts) or f"nobody of {one.target} in reach")
        if one.wanted
        else f"{one.target}, {reached(one.chance, 0)}"
        for one in expect
    )


def leave_words(leave: Leave | None) -> str:
    """Reason why a stay ends, as part of a sentence; empty for the last."""
    if leave is None:
        return ""
    told = in_ten if leave.wanted else days
    before, after = (told(chance) for chance in (leave.before, leave.after))
    name = band_title(leave.band)
    if before == after:
        still = f"about {after}" if after[:1].isdigit() else after
        if leave.reason is None:
            return f"{name} is better from then on, by little: both {still}"
        turn = "rises" if leave.after > leave.before else "falls"
        return f"{name} {turn} a little, still {still}: {edge_words(leave.reason)}"
    if leave.reason is None:
        return f"{name} is better from then on, {after} against {before}"
    turn = "rises" if leave.after > leave.before else "falls"
    return f"{name} {turn} from {before} to {after}: {edge_words(leave.reason)}"


def at_the_antenna(step: Step) -> str:
    """Work at the antenna on arriving, or the setting at the start."""
    return work_words(step.work) if step.work is not None else setup_words(step.setup)


def gain_sentence(plan: DayPlan) -> str:
    """Gain of switching over staying on the best single band."""
    found = plan.plan
    if found.single_band is None or found.reward <= 0.0:
        return NO_BAND
    single = band_title(found.single_band)
    if len(plan.steps) < 2:
        return f"Staying on {single} throughout is best: no change of band is worth the minutes it costs."
    if found.single_reward <= 0.0:
        return f"No single band covers the whole period; switching costs {plan.lost_min:.0f} minutes in all."
    more = found.gain / found.single_reward
    return (
        f"Switching gives {percent(more)} more than staying on {single} throughout, less the "
        f"{plan.lost_min:.0f} minutes it costs"
        f"{'' if more >= LITTLE else ': a small gain'}."
    )


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
        """Steps of the plan."""
        return self.plan.steps


def make_run_sheet(
    plan: DayPlan,
    results: Sequence[Forecast],
    antenna: Antenna | None,
    setups: dict[str, BandSetup],
    now: np.datetime64,
) -> RunSheet:
    """Make the sheet of a plan.

    antenna: the operator's own, for the cautions; now: for the age of the conditions.
    """
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
    when = f"{date(wish.start)}, {both_spans(wish.start, wish.end)}"
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
    """Cautions: power limits and distances on the bands, safety at the mast, the licence.

    answers: the antenna's result for each band.
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
            told.append(f"On {band} the antenna withstands {watts(least)} of {mode.name} at most.")
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
    """Expectation, and the path of the signal."""
    how = route_and_mode(step.mode, step.route, step.elevation_deg)
    return f"{expect_words(step.expect)}; {how}"


def step_sentence(step: Step, wanted: int) -> str:
    """One step as in a run sheet."""
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
        lines.append(sentence(f"Low chance: {reached(step.chance, wanted)}; a time to eat or rest"))
    if step.leave is not None:
        lines.append(sentence(f"Leave at {end_clock(stay.end)} because {leave_words(step.leave)}"))
    else:
        lines.append(f"Until {end_clock(stay.end)}.")
    if step.backup is not None:
        lines.append(f"If it is dead: {band_title(step.backup)}.")
    return " ".join(lines)


def sheet_sentences(sheet: RunSheet) -> list[str]:
    """Whole sheet as plain sentences."""
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
    """Sheet as text to print."""
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
    """One step in pieces: work at the antenna, expectation, reason to leave, and fallback."""
    stay = step.stay
    lost = f", allow {minutes(stay.lost_min)}" if stay.lost_min > 0.0 else ""
    lines = [f"{at_the_antenna(step)}{lost}"]
    if step.hopeful or wanted:
        lines.append(f"expect {expectation(step)}")
    else:
        lines.append("low chance: a time to eat or rest")
    if step.leave is not None:
        lines.append(f"leave because {leave_words(step.leave)}")
    if step.backup is not None:
        lines.append(f"if it is dead: {band_title(step.backup)}")
    return lines


def sheet_markdown(sheet: RunSheet) -> str:
    """Sheet as Markdown."""
    lines = [f"# {sheet.title}", ""]
    lines.append(f"{_plain(sheet.site)}, for {_plain(sheet.targets)}; {sheet.mode}, {watts(sheet.power_w)}.")
    lines += [
        "",
        sheet.conditions,
        "",
        f"| {zone_word()} | band | MHz | chance | expect | at the antenna | leave because |",
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
    """Text without Markdown markup, on one line."""
    for sign in "\\`*_[]<>|#":
        text = text.replace(sign, f"\\{sign}")
    return " ".join(text.split())
