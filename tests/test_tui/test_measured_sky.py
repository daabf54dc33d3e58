"""The measured sky on the pages: the mark on the lanes, the chart of the sky page, the words. Maps are
invented (`tests/sky_days.py`)."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sky_days
from screen_text import go, rows_of, settle

from propagation.advice.sky import LayerFigures, MeasuredFigures
from propagation.base.store import Store, Stored
from propagation.space_weather.sources.density_map import kept_density
from propagation.space_weather.state import stored_conditions
from propagation.wording.sky import measured_sentences
from tui.app import paths
from tui.app.app import BandwhenApp
from tui.app.queries import Engine
from tui.app.settings import Settings
from tui.features.sky.answer import _flux_scale
from tui.features.sky.view import Histories, History, fewest_rows
from tui.kit.canvas import Canvas
from tui.kit.theme import SOFT, WARN

NOW = np.datetime64("2026-03-20T12:00:00", "s")
MEASURED = np.datetime64("2026-03-20T11:35:00", "s")
EVERYWHERE = (-1.0, 91.0)


@pytest.fixture
def frame(monkeypatch: pytest.MonkeyPatch) -> None:
    """A density frame of 25 minutes ago among the stored conditions."""
    monkeypatch.setattr(sky_days, "OBSERVED_DEG", EVERYWHERE)
    conditions = stored_conditions.best(None, MEASURED, MEASURED)
    day = sky_days.drawn_day(conditions, MEASURED, np.array([1.0]), np.random.default_rng(2))
    Store(paths.conditions_dir()).put(
        Stored("measured-density", kept_density(day.frame), "invented", MEASURED, MEASURED)
    )


def demo_app() -> BandwhenApp:
    """The demo with the real engine."""
    home = Path(os.environ["BANDWHEN_HOME"])
    return BandwhenApp(
        lambda: Engine(now=lambda: NOW),
        chosen=Settings(),
        now=lambda: NOW,
        settings_file=home / "settings.toml",
    )


def seen(size: tuple[int, int], *, maps: bool) -> dict[str, list[str]]:
    """The rows of the day page and of both views of the sky page."""
    found: dict[str, list[str]] = {}

    app = demo_app()

    async def look() -> None:
        async with app.run_test(size=size) as pilot:
            await settle(app, pilot)
            found["day"] = rows_of(app)
            await go(app, pilot, "sky")
            found["sky"] = rows_of(app)
            await pilot.press("tab")
            await settle(app, pilot)
            found["chart"] = rows_of(app)

    asyncio.run(look())
    assert maps or not any("Layer, %" in row for row in found["chart"])
    return found


def test_the_pages_tell_what_was_measured(frame: None) -> None:
    rows = seen((80, 24), maps=True)
    # beside the demo's words there is no room for the age: a figure is not cut from its unit
    assert any("Layer measured …" in row for row in rows["day"])
    assert any("Layer measured 25 min ago" in row for row in seen((140, 44), maps=True)["day"])
    lanes = [row for row in rows["day"] if row[:7].rstrip().endswith(" m")]
    columns = {row.index("╎") for row in lanes if "╎" in row}
    assert len(columns) == 1  # one upright through all lanes that are empty there
    told = " ".join(rows["sky"])
    assert "The F2 layer was measured 25 min ago: here it is" in told
    assert any("Layer, % off the usual" in row and "25 min ago" in row for row in rows["chart"])
    figures = sum(row.count("+") + row.count("-") for row in rows["chart"][2:14])
    assert figures > 30


def test_a_large_lane_has_the_span_and_a_large_sky_both_views(frame: None) -> None:
    rows = seen((140, 44), maps=True)
    assert any("├" in row and "┤ the measured layer helps until here" in row for row in rows["day"])
    assert any("10.7 cm flux" in row for row in rows["sky"])
    assert any("Layer, % off the usual" in row for row in rows["sky"])


def test_without_maps_there_is_no_mark_and_the_chart_says_how_to_get_them() -> None:
    rows = seen((80, 24), maps=False)
    assert not any("╎" in row for row in rows["day"])
    assert any("F gets them over the" in row for row in rows["chart"])


def test_the_command_says_what_is_in_force(frame: None, bandwhen: Callable[..., Any]) -> None:
    asked = ("advise", "--to", "Montevideo", "--start", "12:00", "--hours", "2")
    assert bandwhen(*asked, "--json").json["conditions"]["measured_now"] == {"layer": "2026-03-20T11:35:00Z"}
    assert "layer measured 25 min ago" in " ".join(bandwhen(*asked).out.split())
    assert "measured_now" not in bandwhen(*asked, "--kp", "2", "--json").json["conditions"]


LAYER = LayerFigures(MEASURED, -0.12, "Algeria", -0.18, MEASURED + np.timedelta64(6, "h"))


@pytest.mark.parametrize(
    ("layer", "words"),
    [
        (LAYER, "25 min ago: here it is 12 % under the usual now, most over Algeria (18 % under the"),
        (replace(LAYER, here=0.0, where=None, most=None), "here it is as usual now; valid"),
        (replace(LAYER, here=None), "but nothing was observed near here: here the usual layer is assumed"),
        (replace(LAYER, here=0.07, most=0.2), "7 % over the usual now, most over Algeria (20 % over the"),
    ],
)
def test_the_sentence_follows_the_figures(layer: LayerFigures, words: str) -> None:
    (said,) = measured_sentences(MeasuredFigures(layer, None, None), NOW)
    assert words in said
    assert said.endswith("valid until 17:35 UTC.")


def test_absorption_and_oval_have_a_sentence_each() -> None:
    found = MeasuredFigures(None, (MEASURED, 12.4, 20.0), (NOW + np.timedelta64(1800, "s"), 5.2, 56.7))
    assert measured_sentences(found, NOW) == [
        "Absorption, measured 25 min ago: up to 12 MHz loses 1 dB and more here, up to 20 MHz where it is "
        "worst.",
        "The auroral oval as modelled from the solar wind for 12:30 UTC: as with K 5, down to 57° "
        "geomagnetic at night.",
    ]


def test_what_is_measured_stands_beside_the_median(frame: None, bandwhen: Callable[..., Any]) -> None:
    """The frame is of an invented day, drawn around the usual layer."""
    found = bandwhen("sky", "--place", "KG40", "--time", "2026-03-20T12:00Z", "--json").json
    now, median = found["now"]["fof2_mhz"], found["fof2_mhz"]
    assert found["now"]["measured"] == "2026-03-20T11:35:00Z"
    assert now != median
    told = bandwhen("sky", "--place", "KG40", "--time", "2026-03-20T12:00Z").out
    assert f"foF2 here: median {median:.1f} MHz; {now:.1f} MHz now" in told
    assert "measured 25 min ago" in told
    rows = seen((80, 24), maps=True)["sky"]
    assert any("foF2 here: median" in row and "MHz now" in row for row in rows)


def test_without_a_measurement_a_storm_lowers_the_layer_by_k(bandwhen: Callable[..., Any]) -> None:
    quiet = bandwhen("sky", "--place", "KG40", "--kp", "2", "--json").json
    storm = bandwhen("sky", "--place", "KG40", "--kp", "7", "--json").json
    assert quiet["now"]["measured"] is storm["now"]["measured"] is None
    assert storm["now"]["fof2_mhz"] < 0.95 * storm["fof2_mhz"]
    np.testing.assert_allclose(
        storm["now"]["fof2_mhz"], storm["now"]["storm_factor"] * storm["fof2_mhz"], rtol=1e-9
    )
    assert "now by K, " in bandwhen("sky", "--place", "KG40", "--kp", "7").out


def history(values: Any, **more: Any) -> History:
    values = np.asarray(values, dtype=np.float64)
    times = np.datetime64("2026-03-18T00:00", "s") + np.arange(values.size) * np.timedelta64(10800, "s")
    return History("Planetary K", "", times, values, 0.0, 9.0, "K 2", bars=True, **more)


def drawn(*histories: History, height: int = 12) -> Canvas:
    widget, canvas = Histories(), Canvas(80, height)
    widget.histories = histories
    widget.paint(canvas)
    return canvas


def test_k_is_a_bar_every_three_hours_with_its_days() -> None:
    k = np.concatenate([np.arange(8), [9.0] * 8, [np.nan] * 8])
    canvas = drawn(history(k, now=np.datetime64("2026-03-19T12:00", "s")))
    rows = canvas.texts()
    foot = next(row for row in rows if "Wed 18" in row)
    assert "Thu 19" in foot
    assert "Fri 20" in foot
    assert all(sign != " " for sign in rows[rows.index(foot) - 1][8:16])  # K 0 has a bar too
    assert "·" in rows[rows.index(foot) - 1]  # not known
    storm = canvas.inks[rows.index(foot) - 1]
    assert WARN in storm  # from K 5 on
    assert SOFT in storm[25:]  # after now: forecast


def test_what_is_not_known_takes_one_row_and_says_how_to_get_it() -> None:
    times = history(np.ones(56)).times
    flux = History("10.7 cm flux", "sfu", times, np.full(56, 120.0), 100.0, 140.0, "120 sfu")
    unknown = history(np.full(56, np.nan))
    rows = drawn(flux, unknown).texts()
    told = next(row for row in rows if row.startswith(" Planetary K"))
    assert "f gets it" in told
    assert fewest_rows((flux, unknown)) < fewest_rows((flux, history(np.ones(56))))


def test_the_scale_of_the_flux_is_that_of_its_values() -> None:
    assert _flux_scale(np.array([103.0, 188.0])) == (100.0, 190.0)
    low, high = _flux_scale(np.array([118.0, 122.0]))  # a quiet month is not blown up
    assert high - low >= 40.0
