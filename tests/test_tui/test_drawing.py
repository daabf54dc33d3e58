"""The canvas, the signs and the small drawings: what every picture stands on."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import synthetic
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from propagation.advice.band_now import HARDLY, LIKELY, best_band, moves, window_at
from propagation.signal.rays.causes import CAUSES, LIMITS
from propagation.wording import quantities as say
from propagation.wording.causes import clause
from tui.kit import glyphs, text_flow, words
from tui.kit.canvas import Canvas
from tui.kit.glyphs import PATTERN_OF, SIGN_OF, one_cell, to_ascii
from tui.kit.hop import hop_sentences
from tui.kit.looks import THEME_NAMES
from tui.kit.marks import Dots, column_at, columns_of, put_bar, put_big, put_lane
from tui.kit.theme import BRIGHT, PALETTES, RAMP, RAMP_STEPS, SKY_STEPS, SKYLIGHT, SOUNDING, TEXT


def test_text_is_clipped_and_never_spills() -> None:
    canvas = Canvas(10, 2)
    assert canvas.put(7, 0, "abcdef") == 10
    assert canvas.texts()[0] == "       ab…"
    canvas.put(-2, 1, "xyz")
    assert canvas.texts()[1] == "z         "
    canvas.put(0, 5, "nowhere")
    canvas.mark(99, 0, "#")
    assert canvas.put_right(10, 1, "end") == 7
    assert canvas.texts()[1] == "z      end"


@given(st.text(max_size=40), st.integers(-5, 30), st.integers(1, 20))
def test_any_text_keeps_the_grid(text: str, x: int, width: int) -> None:
    canvas = Canvas(width, 1)
    canvas.put(x, 0, text)
    row = canvas.texts()[0]
    assert len(row) == width
    assert all(cell_len(sign) == 1 for sign in row)
    assert len(canvas.texts(plain=True)[0]) == width
    assert canvas.texts(plain=True)[0].isascii()


def test_control_and_wide_signs_of_users_are_made_safe() -> None:
    assert one_cell("a\x1b[31mb") == "a[31mb"
    assert one_cell("日本") == "□□"
    assert one_cell("e\u0301") == "é"
    assert to_ascii("é ▲ ╱ ⣿ …") == "e A / # ."


def test_a_strip_has_one_segment_for_each_run_and_a_style_for_each() -> None:
    canvas = Canvas(12, 1)
    canvas.put(0, 0, "aaaa", TEXT)
    canvas.put(4, 0, "bbbb", RAMP)
    for palette in PALETTES.values():
        strip = canvas.strip(0, palette)
        segments = list(strip)
        assert [segment.text for segment in segments] == ["aaaa", "bbbb", "    "]
        assert all(segment.style is not None for segment in segments)
        assert strip.cell_length == 12


def test_only_changed_rows_are_sent() -> None:
    first, second = Canvas(5, 4), Canvas(5, 4)
    second.put(0, 2, "x")
    assert second.changed_rows(first) == [2]
    assert second.changed_rows(Canvas(6, 4)) == [0, 1, 2, 3]
    assert second.changed_rows(None) == [0, 1, 2, 3]


def test_every_sign_takes_one_cell_and_has_a_plain_stand_in() -> None:
    signs = set("".join(rows for tile in PATTERN_OF.values() for rows in tile))
    signs |= set(glyphs._ASCII) | set(glyphs.SHARE_SIGN.values()) | set(SIGN_OF.values())
    signs |= {chr(glyphs.BRAILLE_BASE + code) for code in range(256)}
    for sign in signs:
        assert cell_len(sign) == 1, repr(sign)
        assert to_ascii(sign) != "?", repr(sign)
        assert len(to_ascii(sign)) == 1


def test_every_cause_has_a_pattern_a_sign_and_words_of_its_own() -> None:
    for cause in LIMITS:
        assert cause in PATTERN_OF
    used = [SIGN_OF[cause] for cause in LIMITS if cause != "open"]
    assert len(set(used)) == len(used)
    plain = [to_ascii(sign) for sign in used]
    assert len(set(plain)) == len(plain), "in plain signs two causes look alike"


def test_every_palette_has_every_ink_and_ground() -> None:
    for palette in PALETTES.values():
        for ink in [*range(SOUNDING + 1), *range(SKYLIGHT, SKYLIGHT + SKY_STEPS)]:
            assert ink in palette.inks, (palette.name, ink)
        for ground in range(BRIGHT + 1):
            assert palette.style(TEXT * 256 + ground) is not None


def _lightness(colour: str) -> float:
    """CIE L* of a colour written #rrggbb (IEC 61966-2-1, CIE 1976)."""
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    y = float(linear @ [0.2126, 0.7152, 0.0722])
    return 116.0 * y ** (1 / 3) - 16.0 if y > 0.008856 else 903.3 * y


@pytest.mark.parametrize("name", ["dark", "light", "night"])
def test_the_chance_ramp_runs_one_way_in_lightness(name: str) -> None:
    ramp = [_lightness(PALETTES[name].inks[RAMP + step].split()[0]) for step in range(RAMP_STEPS)]
    steps = np.diff(ramp) if name != "light" else -np.diff(ramp)
    assert np.all(steps >= 0)
    assert abs(ramp[-1] - ramp[0]) > 25


@pytest.mark.parametrize("name", ["dark", "light", "sunlight", "night"])
def test_colours_are_members_of_the_256(name: str) -> None:
    """So that a terminal with 256 colours shows what one with millions does."""
    cube = (0, 95, 135, 175, 215, 255)
    greys = tuple(range(8, 239, 10))
    palette = PALETTES[name]
    for text in [*palette.inks.values(), *palette.grounds.values()]:
        colour = text.split()[0]
        red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
        in_cube = red in cube and green in cube and blue in cube
        assert in_cube or (red == green == blue and red in greys), (name, colour)


@pytest.mark.parametrize("name", ["dark", "light", "sunlight", "night"])
def test_words_stand_out_from_their_ground(name: str) -> None:
    """At least 3:1 for what is read (WCAG 2 formula), 7:1 in sunlight."""

    def luminance(colour: str) -> float:
        lightness = _lightness(colour)
        return ((lightness + 16.0) / 116.0) ** 3 if lightness > 8 else lightness / 903.3

    palette = PALETTES[name]
    base = luminance(palette.grounds[0])
    for ink in (TEXT, 1, 2, 5, 6, 7, 8):
        own = luminance(palette.inks[ink].split()[0])
        ratio = (max(own, base) + 0.05) / (min(own, base) + 0.05)
        assert ratio >= (7.0 if name == "sunlight" else 3.0 if name != "night" else 2.5), (ink, ratio)


@pytest.mark.parametrize("rows", [1, 2, 3, 4])
def test_a_lane_is_as_full_as_its_chance(rows: int) -> None:
    share = np.linspace(0, 1, 101)
    canvas = Canvas(101, rows)
    put_lane(canvas, 0, 0, rows, share)
    eighths = np.array([[glyphs.EIGHTHS.index(sign) for sign in row] for row in canvas.texts()]).sum(axis=0)
    assert np.all(np.diff(eighths) >= 0)
    assert eighths[0] == 0
    full = 8 * (rows - (1 if rows >= 3 else 0)) - (1 if rows < 3 else 0)
    assert eighths[-1] == full
    np.testing.assert_allclose(eighths[10:] / full, share[10:], atol=0.13 if rows == 1 else 0.07)


def test_a_lane_of_no_number_is_empty() -> None:
    canvas = Canvas(3, 1)
    put_lane(canvas, 0, 0, 1, np.array([np.nan, 0.5, np.nan]))
    assert canvas.texts()[0] in (" ▄ ", " ▃ ")


def test_bars_and_big_words_stay_in_their_room() -> None:
    canvas = Canvas(30, 3)
    put_bar(canvas, 0, 0, 10, 7.0)
    assert canvas.texts()[0].rstrip() == "█" * 10
    put_bar(canvas, 0, 1, 10, 0.55)
    assert canvas.texts()[1].rstrip() == "█████▌"
    for band in ("160m", "80m", "2m", "--"):
        assert put_big(Canvas(30, 3), 0, 0, band, TEXT) <= 24


def test_columns_and_moments_agree() -> None:
    times = synthetic.times()
    for width in (24, 48, 72, 96, 144):
        at = np.rint(columns_of(times, width)).astype(int)
        assert np.all(np.diff(at) >= 1)
        for column in (0, width // 3, width - 1):
            assert column_at(times, times[at[column]], width) == column
    assert column_at(times, times[-1] + np.timedelta64(1, "h"), 48) is None


def test_a_curve_is_drawn_through_its_points() -> None:
    dots = Dots(10, 4)
    dots.curve(np.array([0.0, 9.9]), np.array([3.9, 0.1]))
    cells = dots.cells()
    assert cells[3, 0] != " "
    assert cells[0, 9] != " "
    assert (cells != " ").any(axis=0).all(), "a curve without gaps"


def test_sentences_wrap_within_any_width() -> None:
    text = "a " + "x" * 50 + " " + "word " * 20
    for width in (1, 2, 7, 40, 200):
        assert all(len(line) <= width for line in text_flow.wrap_all([text, "", "short"], width))


def test_no_line_breaks_between_a_figure_and_its_unit() -> None:
    text = "short way, take-off 14 deg; coil to 4.8 \u00b5H, 2 h 5 min, until 12:20 UTC (14:20 local)."
    for width in range(8, 90):
        lines = text_flow.wrap(text, width)
        assert " ".join(lines) == text
        assert all(len(line) <= width for line in lines)
        firsts = [line.split()[0].rstrip(".,;)") for line in lines[1:]]
        assert not set(firsts) & {"deg", "\u00b5H", "h", "min", "UTC"} or width < 9, width
    assert text_flow.wrap("1234567 deg", 7) == ["1234567", "deg"], "where both do not fit they part"


def test_answer_words_follow_the_numbers() -> None:
    day = synthetic.day_view()
    for index in range(0, day.times.size, 7):
        found = words.answer(day, index)
        best = best_band(day, index)
        if best is None:
            assert found.band is None
            continue
        assert found.band == day.bands[best]
        chance = float(day.chance[best, index])
        assert say.days(chance) in found.lines[1]
        assert ("only" in found.lines[1]) == (chance < LIKELY)
        for move in moves(day, index)[1:]:
            at = day.index_of(move.when)
            if move.band is not None:
                assert day.bands.index(move.band) == best_band(day, at)


def test_no_chance_says_what_stands_in_the_way() -> None:

    day = synthetic.day_view()
    closed = replace(day, chance=np.zeros_like(day.chance), hope=np.zeros_like(day.hope))
    found = words.answer(closed, 10)
    assert found.band is None
    assert "Nothing to Uruguay" in found.lines[0]
    assert any(clause(cause) in found.lines[2] for cause in CAUSES)
    with_morse = ("with Morse (CW): 20 m at once",) * day.times.size
    few = words.answer(replace(closed, wanted=4, target="Europe", instead=with_morse), 10)
    assert few.lines[0].startswith("Nothing to Europe at")
    assert few.lines[0].endswith("not even the best-equipped.")
    assert "With Morse (CW): 20 m at once." in few.lines[1]


def test_a_region_is_answered_with_contacts_and_whom_to_expect() -> None:
    day = synthetic.day_view()
    whom = (("Spain and Italy, then Germany",) * day.times.size,) * len(day.bands)
    region = synthetic.with_people(day, 22.0, whom)
    found = words.answer(region, 60)
    assert found.lines[1].startswith("about 22 contacts an hour (12 to 30)")
    assert found.lines[3] == "4 within the first 15 min: nearly certain"
    assert found.lines[2].startswith("Spain and Italy, then Germany; the short way, take-off")
    faint = synthetic.with_people(day, 0.5, whom)
    assert "a contact in some 2 hours" in words.answer(faint, 60).lines[1]
    assert words.alike_bands(region, 0, 60) == list(region.bands[1:])
    assert re.search(r"; [^;]+ as good(; then .*)?$", found.lines[0])


def test_a_day_without_a_change_says_so() -> None:

    day = synthetic.day_view()
    best = day.windows[0]
    row = day.bands.index(best.band)
    start, end = day.times[0], day.times[-1]
    whole = replace(best, start=start, end=end, opens=False, closes=False)
    only = np.arange(len(day.bands))[:, None] == row
    last = day.times.size - 1
    steady = np.where(only, 0.8, 0.0) * np.ones_like(day.chance)
    alone = replace(day, windows=(whole,), chance=steady, worth=steady, ranked=steady, hope=steady)
    assert best_band(alone, last) == row
    assert window_at(alone, row, last) is not None, "what does not close holds at the last moment too"
    assert words.answer(alone, 0).lines[0].startswith("all day")
    closing = replace(day, windows=(replace(whole, closes=True),))
    assert window_at(closing, row, last) is None
    between = best_band(closing, last)
    assert between is None or closing.chance[between, last] >= HARDLY


@given(st.floats(0, 1))
def test_days_in_ten_are_near_the_share(share: float) -> None:
    said = say.days(share)
    if "in 10" in said and share >= 0.1:
        assert abs(int(said.split()[0]) / 10 - share) <= 0.0501
    assert say.percent_figure(share) in ("<1", *map(str, range(101)))


def test_specks_leave_the_chart_and_land_stays() -> None:
    from tui.kit.world import _without_specks

    land = np.zeros((20, 30), dtype=np.bool_)
    land[3:5, 4:6] = True  # two by two dots in open water
    land[10:16, 8:15] = True
    land[18, 28] = True  # a dot near the edge
    land[10, 15] = True  # a cape of one dot
    kept = _without_specks(land)
    assert not kept[3:5, 4:6].any()
    assert not kept[18, 28]
    assert kept[10:16, 8:15].all()
    assert kept[10, 15]


def test_parts_of_the_path_in_words() -> None:

    view = synthetic.hop_view()
    dark = replace(view, sun_elevation_deg=np.full(121, -30.0), sea=np.ones(121, dtype=np.bool_))
    assert hop_sentences(dark)[1] == "None of the path in daylight, all of the path over sea."


def test_every_theme_has_a_name_and_colours() -> None:
    assert tuple(PALETTES) == THEME_NAMES


def test_a_best_time_is_told_only_before_the_next_change() -> None:
    day, index = synthetic.day_view(), 60
    now, change = words.moves(day, index)[:2]
    window = next(
        one for one in day.windows if one.band == now.band and one.start <= day.times[index] < one.end
    )
    for peak, told in ((change.when, True), (change.when + np.timedelta64(600, "s"), False)):
        end = max(window.end, peak)
        windows = tuple(
            replace(one, peak_time=peak, end=end) if one is window else one for one in day.windows
        )
        line = words.answer(replace(day, windows=windows), index).lines[0]
        assert line.startswith(f"until {say.clock(change.when)}")
        assert (f"best at {say.clock(peak)}" in line) == told, line
