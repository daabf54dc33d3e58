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
from propagation.wording.plan_contacts import (
    AS_MANY,
    about_contacts,
    alternatives_sentence,
    gain_sentence,
    step_figures,
    total_sentence,
)
from propagation.wording.quantities import (
    band_title,
    both_clocks,
    both_spans,
    clock,
    date,
    days,
    end_clock,
    megahertz,
    minutes,
    nearest,
    other_span,
    rate_figure,
    sentence,
    watts,
    whom_words,
    zone_word,
)
from propagation.wording.setup import card_words, setup_words, work_words
from propagation.wording.sky import conditions_sentence
from propagation.wording.windows import edge_words, left_out_words, route_and_mode

if TYPE_CHECKING:
    from propagation.advice.plan_day import Backup, Expectation, Leave
    from propagation.advice.rates import Prospect


def expect_words(expect: Sequence[Expectation]) -> str:
    """Expectation for every target; the days of the only target are those of its step."""
    return "; ".join(
        (whom_words(one.parts) or f"nobody of {one.target} in reach")
        if one.prospect.rate is not None
        else (f"{one.target}, {days(one.prospect.chance)}" if len(expect) > 1 else one.target)
        for one in expect
    )


def _figure(prospect: Prospect) -> str:
    return days(prospect.chance) if prospect.rate is None else rate_figure(prospect.rate.middle)


def leave_words(leave: Leave | None) -> str:
    """Reason why a stay ends, as part of a sentence; empty for the last."""
    if leave is None:
        return ""
    before, after = (_figure(prospect) for prospect in (leave.before, leave.after))
    an_hour = "" if leave.before.rate is None else " contacts an hour"
    name = band_title(leave.band) + (f" for {leave.target}" if leave.target else "")
    up = _size(leave.after) > _size(leave.before)
    if before == after:
        still = (f"about {after}" if after[:1].isdigit() else after) + an_hour
        if leave.reason is None:
            return f"{name} is better from then on, by little: both {still}"
        return f"{name} {'rises' if up else 'falls'} a little, still {still}: {edge_words(leave.reason)}"
    if leave.reason is None:
        return f"{name} is better from then on, {after}{an_hour} against {before}"
    turn = f"{'rises' if up else 'falls'} from {before} to {after}{an_hour}"
    return f"{name} {turn}: {edge_words(leave.reason)}"


def _size(prospect: Prospect) -> float:
    return prospect.chance if prospect.rate is None else prospect.rate.middle


def change_words(step: Step) -> str:
    """Price of a change, and its gain: `the change costs 3 min, about 1 contact; it wins about 8 ...`."""
    stay, change = step.stay, step.change
    lost = f"the change costs {minutes(stay.lost_min)}" if stay.lost_min > 0.0 else ""
    if change is None:
        return lost
    costs = f"{lost}, {about_contacts(change.costs)}" if lost else "the change costs no minute"
    won = max(change.wins, 0.0)
    return f"{costs}; it wins {about_contacts(won)} over staying on {band_title(change.from_band)}"


def backup_words(backup: Backup) -> str:
    """Band for the rest of a stay, and how many contacts fewer it brings."""
    name = band_title(backup.band)
    if backup.contacts is None or backup.instead_of is None or nearest(backup.instead_of) < 1.0:
        return name
    if backup.contacts >= AS_MANY * backup.instead_of:
        return f"{name}, about as many contacts"
    fewer = max(nearest(backup.instead_of) - nearest(backup.contacts), 1.0)
    return f"{name}, {about_contacts(backup.contacts)}, {fewer:.0f} fewer"


def at_the_antenna(step: Step) -> str:
    """Work at the antenna on arriving, or the setting at the start."""
    return work_words(step.work) if step.work is not None else setup_words(step.setup)


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
    backups = [step.backup.band for step in plan.steps if step.backup is not None]
    used = [setups[band] for band in dict.fromkeys([*bands, *backups])]
    answers = [] if antenna is None else [antenna.on(setup.centre_mhz, first.mode) for setup in used]
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


def step_sentence(step: Step, figure: str) -> str:
    """One step as in a run sheet. figure: what it promises."""
    stay = step.stay
    parts = [f"At {both_clocks(stay.start)} go to {band_title(stay.band)}, {megahertz(step.frequency_mhz)}"]
    setup = setup_words(step.setup)
    parts.append(f"set {setup}" if step.work is None else f"{at_the_antenna(step)} ({setup})")
    lines = [sentence("; ".join(part for part in (*parts, change_words(step)) if part))]
    if step.hopeful:
        lines.append(sentence(f"Expect {figure}: {expectation(step)}"))
    else:
        lines.append(sentence(f"Low chance: {figure}; a time to eat or rest"))
    if step.leave is not None:
        lines.append(
            sentence(f"Leave at {both_clocks(stay.end, end=True)} because {leave_words(step.leave)}")
        )
    else:
        lines.append(f"Until {both_clocks(stay.end, end=True)}.")
    if step.backup is not None:
        lines.append(f"If it is dead: {backup_words(step.backup)}.")
    return " ".join(lines)


def closing_sentences(plan: DayPlan) -> list[str]:
    """Gain of switching, and what single bands would bring."""
    return [line for line in (gain_sentence(plan), alternatives_sentence(plan)) if line]


def sheet_sentences(sheet: RunSheet) -> list[str]:
    """Whole sheet as plain sentences."""
    lines = [
        f"{sheet.title}: {sheet.site}, for {sheet.targets}; {sheet.mode}, {watts(sheet.power_w)}.",
        sheet.conditions,
        *([total] if (total := total_sentence(sheet.plan)) else []),
    ]
    pairs = zip(sheet.steps, step_figures(sheet.plan), strict=True)
    lines += [f"{i}. {step_sentence(step, figure)}" for i, (step, figure) in enumerate(pairs, start=1)]
    lines += closing_sentences(sheet.plan)
    lines += [f"Setting for {band_title(card.band)}: {card_words(card)}" for card in sheet.cards]
    lines += [f"Left out: {band_title(row.band)}, {left_out_words(row)}." for row in sheet.left_out]
    lines += [f"Caution: {text}" for text in sheet.cautions]
    return lines


def sheet_text(sheet: RunSheet) -> str:
    """Sheet as text to print."""
    rule = "-" * len(sheet.title)
    lines = [sheet.title, rule, f"{sheet.site}, for {sheet.targets}; {sheet.mode}, {watts(sheet.power_w)}"]
    lines += [line for line in (sheet.conditions, total_sentence(sheet.plan)) if line] + [""]
    others = [other_span(step.stay.start, step.stay.end) for step in sheet.steps]
    wide = max(map(len, others), default=0)
    lines += [f"{zone_word():<13}{zone_word(True)}"] if wide else []
    for step, figure, other in zip(sheet.steps, step_figures(sheet.plan), others, strict=True):
        stay = step.stay
        span = f"{clock(stay.start)}-{end_clock(stay.end)}  " + (f"{other:<{wide}}  " if wide else "")
        lines.append(f"{span}{band_title(stay.band):<6}{megahertz(step.frequency_mhz):>12}   {figure}")
        lines += [f"             {line}" for line in step_lines(step)]
    lines += ["", *closing_sentences(sheet.plan), "", "Settings"]
    lines += [f"  {band_title(card.band):<7}{card_words(card)}" for card in sheet.cards]
    if sheet.left_out:
        lines += [
            "",
            "Left out",
            *(f"  {band_title(row.band):<7}{left_out_words(row)}" for row in sheet.left_out),
        ]
    lines += ["", "Cautions", *(f"  - {text}" for text in sheet.cautions)]
    return "\n".join(lines)


def step_lines(step: Step) -> list[str]:
    """One step in pieces: work at the antenna, expectation, reason to leave, and fallback."""
    lines = ["; ".join(part for part in (at_the_antenna(step), change_words(step)) if part)]
    if step.hopeful:
        lines.append(f"expect {expectation(step)}")
    else:
        lines.append("low chance: a time to eat or rest")
    if step.leave is not None:
        lines.append(f"leave because {leave_words(step.leave)}")
    if step.backup is not None:
        lines.append(f"if it is dead: {backup_words(step.backup)}")
    return lines


def sheet_markdown(sheet: RunSheet) -> str:
    """Sheet as Markdown."""
    lines = [f"# {sheet.title}", ""]
    lines.append(f"{_plain(sheet.site)}, for {_plain(sheet.targets)}; {sheet.mode}, {watts(sheet.power_w)}.")
    for line in (sheet.conditions, _plain(total_sentence(sheet.plan))):
        lines += ["", line] if line else []
    of_what = "days" if sheet.plan.contacts is None else "contacts"
    both = any(other_span(step.stay.start, step.stay.end) for step in sheet.steps)
    clocks = f"{zone_word()} | {zone_word(True)}" if both else zone_word()
    lines += ["", f"| {clocks} | band | MHz | {of_what} | expect | at the antenna | leave because |"]
    lines.append("|---" * (8 if both else 7) + "|")
    for step, figure in zip(sheet.steps, step_figures(sheet.plan), strict=True):
        stay = step.stay
        backup = f"; backup {backup_words(step.backup)}" if step.backup else ""
        cells = [
            f"{clock(stay.start)} to {end_clock(stay.end)}",
            *([other_span(stay.start, stay.end).replace("-", " to ")] if both else []),
            band_title(stay.band),
            f"{step.frequency_mhz:.3f}",
            figure,
            expectation(step),
            step_lines(step)[0],
            f"{leave_words(step.leave) or 'end'}{backup}",
        ]
        lines.append("| " + " | ".join(_plain(cell) for cell in cells) + " |")
    lines += ["", " ".join(closing_sentences(sheet.plan)), "", "## Settings", ""]
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
