"""Pocket page of a plan: one HTML file for a telephone and for one A5 sheet, without script or network.

High contrast and large type on a screen. In print the blank log lines fill what is left of the sheet, and the
type gets smaller with the amount of text (`_print_pt`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Final

import numpy as np

from propagation.advice.plan_day import Step
from propagation.base.text import shown
from propagation.base.units import FloatArray, as_float
from propagation.wording import quantities as say
from propagation.wording.plan import (
    RunSheet,
    at_the_antenna,
    backup_words,
    change_words,
    closing_sentences,
    expectation,
    leave_words,
)
from propagation.wording.plan_contacts import step_figures, total_sentence
from propagation.wording.setup import card_words, setup_words

PAGE_MARK: Final = '<meta name="generator" content="bandwhen plan page">'  # identifies pages of this program
LOG_ROWS: Final = 24  # of the log on paper, as many of them as the sheet has room for (ours)
LOG_ROWS_ON_SCREEN: Final = 4
LOG_COLUMNS: Final = ("UTC", "band", "call", "sent", "rcvd", "name, reference")

# The picture of the lanes, in units that are pixels on a telephone of 360 pixels' width (ours).
WIDTH: Final = 360.0
LEFT: Final = 66.0  # of the axis
RIGHT: Final = 340.0
LANE: Final = 30.0  # height of a lane with the gap above it, at most
LOWEST_LANE: Final = 22.0  # the same, at least
LANES: Final = 110.0  # height shared by all lanes, between these bounds
GAP: Final = 6.0
UNUSED: Final = "#8c8c8c"  # of a band while another is used: 3.4 to 1 on white, 6 to 1 beside black
AXIS_ROW: Final = 20.0  # height of a row of clock times
MOST_TICKS: Final = 5
TICK_HOURS: Final = (0.5, 1, 2, 3, 4, 6)

# An A5 sheet with margins of 8 mm: 132 mm by 194 mm (ISO 216); type sizes [pt] and what they take (ours).
PRINT_PT: Final = (8.5, 8.0, 7.5, 7.25, 7.0, 6.75, 6.5, 6.25, 6.0, 5.75, 5.5, 5.25, 5.0)
SHEET_ROOM_MM: Final = 194.0
SHEET_WIDTH_MM: Final = 132.0
FIGURE_MM: Final = 84.0  # width of the picture; the remarks are beside it
FIGURE_MOST_MM: Final = 36.0  # its height, at most
GUTTER_MM: Final = 2.0  # between two steps side by side
SIDE_BY_SIDE: Final = 4  # steps from which they are in two columns
STEP_LINES: Final = 3.1  # clock times, figure, frame and gap of a step, in lines of text
HEAD_LINES: Final = 5.0  # date, headings and gaps
LOG_LEAST_MM: Final = 30.0  # heading and three lines
MM_PER_PT: Final = 0.3528
LEADING: Final = 1.25
LETTER: Final = 0.52  # mean width of a letter over its size

_STYLE: Final = """
@page { size: A5 portrait; margin: 8mm; }
* { box-sizing: border-box; }
:root { color-scheme: light; }
html { -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body { margin: 0 auto; padding: 12px; max-width: 40rem; background: #fff; color: #000;
  font: 18px/1.35 system-ui, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.5em; line-height: 1.15; margin: 0; }
h2 { font-size: 1.15em; margin: 1em 0 .3em; border-bottom: 3px solid #000; }
p { margin: .2em 0; }
ol, ul, dl { margin: 0; padding: 0; }
ol { list-style: none; }
ul { list-style: none; }
li.caution { padding-left: 1em; text-indent: -1em; }
li.caution::before { content: "\\2022"; display: inline-block; width: 1em; text-indent: 0; }
.step { border: 3px solid #000; border-radius: 8px; padding: .4em .6em; margin: .5em 0; }
.when { display: flex; flex-wrap: wrap; justify-content: space-between; align-items: baseline; gap: 0 .8em; }
.when b { font-size: 1.45em; white-space: nowrap; }
.when .band { font-size: 1.9em; line-height: 1.1; margin-left: auto; }
.other { font-weight: 600; white-space: nowrap; }
.figure, .set { font-weight: 700; }
.set::before { content: "Set: "; }
figure { margin: .8em 0; }
figcaption { font-size: .9em; }
svg { display: block; width: 100%; height: auto; }
svg text { font: 600 17px system-ui, sans-serif; fill: #000; }
dt { font-weight: 700; }
dd { margin: 0 0 .4em; }
.log { display: grid; }
.row { display: grid; grid-template-columns: 3.2em 3em 2fr 3em 3em 2fr; border-top: 1px solid #000;
  border-left: 1px solid #000; height: 2em; }
.row:last-child { border-bottom: 1px solid #000; }
.row > * { border-right: 1px solid #000; padding: 0 .2em; font-size: .9em; overflow: hidden; }
.row.head { height: auto; }
@media screen { .log .blank:nth-child(n+SCREEN_ROWS) { display: none; } }
@media print {
  body { padding: 0; margin: 0; max-width: none; font-size: PRINT_PTpt; line-height: 1.25; display: flex;
    flex-direction: column; height: 193mm; }
  h2 { margin: .5em 0 .2em; border-bottom-width: 1px; }
  p, dd { margin: 0; }
  ol.many { display: grid; grid-template-columns: 1fr 1fr; gap: 0 GUTTERmm; }
  ol.many p.line { display: inline; }
  ol.many p.line::after { content: ". "; }
  ul { columns: 2; column-gap: 4mm; }
  li.caution { break-inside: avoid; }
  svg text { font-size: 10px; }
  .row > * { font-size: .72em; }
  .step { border-width: 1px; border-radius: 3px; padding: .2em .4em; margin: .3em 0; break-inside: avoid; }
  .when b { font-size: 1.2em; }
  .when .band { font-size: 1.4em; }
  .picture { display: flex; gap: 4mm; margin: .3em 0; }
  figure { flex: 0 0 FIGUREmm; margin: 0; }
  figure svg { max-height: FIGURE_MOSTmm; }
  dl > div { display: flex; gap: .6em; }
  dt { white-space: nowrap; min-width: 3.2em; }
  .log { display: flex; flex-flow: column wrap; flex: 1 1 0; min-height: 24mm; overflow: hidden;
    align-content: flex-start; }
  .row { flex: 0 0 6.5mm; width: 100%; height: 6.5mm; border-bottom: 1px solid #000; border-top: 0; }
  .row.head { flex-basis: 4mm; height: 4mm; border-top: 1px solid #000; }
}
"""


def plan_page(sheet: RunSheet, now: np.datetime64) -> str:
    """The pocket page of a run sheet as HTML. now: time of computing."""
    wish = sheet.plan.wish
    day, span = say.day_title(wish.start), say.both_spans(wish.start, wish.end)
    head = [f"<h1>{_text(day)}</h1>"]
    head += [_p(line, "figure" if number % 2 == 0 else "") for number, line in enumerate(_head(sheet))]
    figures = step_figures(sheet.plan)
    steps = [_step(*pair) for pair in zip(sheet.steps, figures, strict=True)]
    settings = [
        f"<div><dt>{_text(say.band_title(card.band))}</dt><dd>{_text(card_words(card))}</dd></div>"
        for card in sheet.cards
    ]
    cautions = [f'<li class="caution">{_text(one)}</li>' for one in sheet.cautions]
    told_at = f"Computed by bandwhen on {say.date(now)} at {say.both_clocks(now)}."
    remarks = "".join(_p(line) for line in (*closing_sentences(sheet.plan), sheet.conditions, told_at))
    parts = [
        *head,
        f'<ol class="{"many" if len(steps) >= SIDE_BY_SIDE else "few"}">{"".join(steps)}</ol>',
        f'<div class="picture">{_lanes(sheet)}<div>{remarks}</div></div>',
        f"<h2>Antenna settings</h2><dl>{''.join(settings)}</dl>",
        f"<h2>Cautions</h2><ul>{''.join(cautions)}</ul>",
        "<h2>Log</h2>",
        _log(),
    ]
    style = _STYLE.replace("SCREEN_ROWS", str(LOG_ROWS_ON_SCREEN + 2))
    for name, value in (("PRINT_PT", _print_pt(sheet)), ("GUTTER", GUTTER_MM),
                        ("FIGURE_MOST", FIGURE_MOST_MM), ("FIGURE", FIGURE_MM)):  # fmt: skip
        style = style.replace(name, f"{value:g}")
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n{PAGE_MARK}\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="format-detection" content="telephone=no">\n'
        f"<title>{_text(f'{day}, {span}: {sheet.site}, for {sheet.targets}')}</title>\n"
        f"<style>{style}</style>\n</head>\n<body>\n"
        + "\n".join(part for part in parts if part)
        + "\n</body>\n</html>\n"
    )


def _head(sheet: RunSheet) -> tuple[str, ...]:
    """The lines below the date: hours, for whom, the sum, and the clocks; every other one is bold."""
    wish = sheet.plan.wish
    return (
        say.both_spans(wish.start, wish.end),
        f"{sheet.site}, for {sheet.targets}; {sheet.mode}, {say.watts(sheet.power_w)}",
        total_sentence(sheet.plan),
        say.zone_sentence(wish.start),
    )


def with_note(page: str, words: str) -> str:
    """A page with a sentence above the plan."""
    return page.replace("<body>\n", f"<body>\n{_p(words, 'figure')}\n", 1)


def _text(words: str) -> str:
    """Words as text of the page: no markup, no control characters."""
    return escape(shown(words))


def _p(words: str, kind: str = "") -> str:
    """A paragraph; nothing where there are no words."""
    if not words:
        return ""
    return f'<p class="{kind}">{_text(words)}</p>' if kind else f"<p>{_text(words)}</p>"


def _step_words(step: Step) -> tuple[str, str, list[str]]:
    """The setting of a step, the work on arriving, and its other lines."""
    setting = setup_words(step.setup)
    work = at_the_antenna(step) if step.work is not None else ""
    arriving = "; ".join(part for part in (work, change_words(step)) if part)
    lines = [f"Expect {expectation(step)}" if step.hopeful else "Low chance: a time to eat or rest"]
    if step.leave is not None:
        lines.append(f"Leave because {leave_words(step.leave)}")
    if step.backup is not None:
        lines.append(f"If it is dead: {backup_words(step.backup)}")
    return setting, say.sentence(arriving), lines


def _step(step: Step, figure: str) -> str:
    """A step as a list item: clock times and band in large type, then the setting and the rest."""
    stay = step.stay
    setting, arriving, lines = _step_words(step)
    span = f"{say.clock(stay.start)} to {say.end_clock(stay.end)} {say.zone_word()}"
    other = say.other_clock(stay.end, stay.start)
    beside = f'<span class="other">{_text(other)}</span>' if other else ""
    return (
        f'<li class="step"><p class="when"><b>{_text(span)}</b>{beside}'
        f'<b class="band">{_text(say.band_title(stay.band))}</b></p>'
        + _p(f"{say.megahertz(step.frequency_mhz)}: {figure}", "figure")
        + _p(setting, "set")
        + "".join(_p(line, "line") for line in (arriving, *lines))
        + "</li>"
    )


def _log() -> str:
    """Blank log lines below their heading."""
    cells = "".join(f"<span>{name}</span>" for name in LOG_COLUMNS)
    blank = f'<div class="row blank">{"<span></span>" * len(LOG_COLUMNS)}</div>'
    return f'<div class="log"><div class="row head">{cells}</div>{blank * LOG_ROWS}</div>'


def _print_pt(sheet: RunSheet) -> float:
    """The largest type size [pt] at which all text and a few log lines are expected on one A5 sheet."""
    figure_mm = (2.0 * AXIS_ROW + 6.0 + len(sheet.cards) * _lane(sheet)) * FIGURE_MM / WIDTH
    lanes_mm = min(figure_mm, FIGURE_MOST_MM) + 6.0
    whole = list(_head(sheet))
    whole += [f"20 m    {card_words(card)}" for card in sheet.cards]
    many = len(sheet.steps) >= SIDE_BY_SIDE
    step_mm = (SHEET_WIDTH_MM - GUTTER_MM) / 2.0 if many else SHEET_WIDTH_MM
    remarks = [*closing_sentences(sheet.plan), sheet.conditions, "Computed by bandwhen on" + " " * 40]
    for size_pt in PRINT_PT:
        line_mm = size_pt * MM_PER_PT * LEADING
        beside_mm = line_mm * _lines(remarks, SHEET_WIDTH_MM - FIGURE_MM - 4.0, size_pt)
        tall = [_lines(_in_step(step, many), step_mm - 4.0, size_pt) + STEP_LINES for step in sheet.steps]
        steps = sum(max(tall[row : row + 2]) for row in range(0, len(tall), 2)) if many else sum(tall)
        cautions = _lines(sheet.cautions, SHEET_WIDTH_MM / 2.0 - 4.0, size_pt) / 2.0 + 1.0  # in two columns
        rows = _lines(whole, SHEET_WIDTH_MM, size_pt) + steps + cautions + HEAD_LINES
        if rows * line_mm + max(lanes_mm, beside_mm) + LOG_LEAST_MM <= SHEET_ROOM_MM:
            return size_pt
    return PRINT_PT[-1]


def _in_step(step: Step, joined: bool) -> list[str]:
    """The paragraphs of a step below its clock times and its figure. joined: all but the first are one."""
    setting, arriving, lines = _step_words(step)
    told = [line for line in (arriving, *lines) if line]
    return [f"Set: {setting}", *([". ".join(told)] if joined else told)]


def _lines(texts: Sequence[str], width_mm: float, size_pt: float) -> int:
    """Lines of paragraphs of a width, as estimated; the last word of a line does not always fit."""
    letters = width_mm / (size_pt * MM_PER_PT * LETTER) - 2.0
    return sum(int(np.ceil(len(text) / letters)) for text in texts)


# --- the picture of the lanes ------------------------------------------------------------------------------


def _bands_drawn(sheet: RunSheet) -> list[str]:
    """The bands of the plan and those to fall back on, from low to high frequency."""
    return [card.band for card in sorted(sheet.cards, key=lambda card: card.centre_mhz)]


def _lane(sheet: RunSheet) -> float:
    """Height of a lane with the gap above it."""
    return min(max(LANES / max(len(sheet.cards), 1), LOWEST_LANE), LANE)


def _lanes(sheet: RunSheet) -> str:
    """Every band of the plan as a lane along the time on air: what it promises, black where it is used."""
    wish, promise = sheet.plan.wish, sheet.plan.promise
    times = promise.rewards.times
    drawn = _bands_drawn(sheet)
    columns = [promise.rewards.index(band) for band in drawn]
    figure = promise.main.figure[:, columns]
    per_hour = promise.main.rates is not None
    full = max(float(figure.max(initial=0.0)), 1.0) if per_hour else 1.0
    top = 2.0 * AXIS_ROW + 4.0
    lane = _lane(sheet)
    height = top + len(drawn) * lane + 2.0

    def across(when: np.datetime64) -> float:
        return LEFT + (RIGHT - LEFT) * float((when - wish.start) / (wish.end - wish.start))

    inside = (times >= wish.start) & (times <= wish.end)
    x = as_float([across(when) for when in times[inside]])
    out = _axis(wish.start, wish.end, across, height - 2.0)
    for row, band in enumerate(drawn):
        floor = top + (row + 1) * lane
        rise = np.clip(figure[inside, row] / full, 0.0, 1.0) * (lane - GAP)
        out.append(f'<text x="0" y="{floor - 4:g}">{_text(say.band_title(band))}</text>')
        out.append(_area(x, rise, floor, UNUSED))
        for step in sheet.steps:
            if step.stay.band == band:
                ends = np.clip([across(step.stay.start), across(step.stay.end)], LEFT, RIGHT)
                between = np.concatenate([ends[:1], x[(x > ends[0]) & (x < ends[1])], ends[1:]])
                out.append(_area(between, np.interp(between, x, rise), floor, "#000"))
                out.append(
                    f'<path d="M{ends[0]:.1f} {floor:g}H{ends[1]:.1f}" stroke="#000" stroke-width="4"/>'
                )
        out.append(f'<path d="M{LEFT:g} {floor:g}H{RIGHT:g}" stroke="#000" stroke-width="1"/>')
    most = f"{say.rate_figure(full)} contacts an hour" if per_hour else "every day"
    told = _text(f"What each band promises; black: the time on it. Full height: {most}.")
    return (
        f'<figure><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" role="img">'
        f"<title>{told}</title>{''.join(out)}</svg><figcaption>{told}</figcaption></figure>"
    )


def _axis(
    start: np.datetime64, end: np.datetime64, across: Callable[[np.datetime64], float], foot: float
) -> list[str]:
    """Clock times above the lanes, on both clocks where they differ, with lines down to `foot`."""
    hours = float((end - start) / np.timedelta64(3600, "s"))
    every_h = next((step for step in TICK_HOURS if hours / step <= MOST_TICKS), TICK_HOURS[-1])
    every = np.timedelta64(round(every_h * 3600.0), "s")
    day = start.astype("datetime64[D]").astype("datetime64[s]")
    ticks = np.arange(day + -(-(start - day) // every) * every, end + np.timedelta64(1, "s"), every)
    clocks = (False, True)[: 1 + say.two_clocks(start)]  # whether a row is of the clock not told first
    out = [
        f'<text x="0" y="{(n + 1) * AXIS_ROW - 4:g}">{say.zone_word(other)}</text>'
        for n, other in enumerate(clocks)
    ]
    for when in ticks:
        x = across(when)
        top = len(clocks) * AXIS_ROW
        out.append(f'<path d="M{x:.1f} {top:g}V{foot:g}" stroke="#888" stroke-width="1"/>')
        out += [
            f'<text x="{x:.1f}" y="{(n + 1) * AXIS_ROW - 4:g}" text-anchor="middle">'
            f"{say.clock_on(when, other)}</text>"
            for n, other in enumerate(clocks)
        ]
    return out


def _area(x: FloatArray, rise: FloatArray, floor: float, fill: str) -> str:
    """The area below a curve, in the picture's units."""
    points = " ".join(f"{a:.1f},{floor - b:.1f}" for a, b in zip(x.tolist(), rise.tolist(), strict=True))
    return f'<polygon points="{x[0]:.1f},{floor:g} {points} {x[-1]:.1f},{floor:g}" fill="{fill}"/>'
