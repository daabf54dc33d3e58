"""Events told by themselves: which bands they take, what they cost, until when, and in which words."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import worlds

from propagation.advice.events import AbsorptionEvent, event_at, events, foremost
from propagation.advice.rates import Prospect
from propagation.advice.recompute import at_power
from propagation.advice.region_chance import outlook
from propagation.advice.windows import find_windows
from propagation.base.time_series import TimeSeries
from propagation.signal.chances.forecast import Forecast
from propagation.signal.chances.time_interpolation import between_times
from propagation.signal.rays.causes import CAUSES, EVENTS
from propagation.space_weather.state.conditions import Conditions, typed_in
from propagation.space_weather.state.event_absorption import fading_xray_w_m2
from propagation.station.station import Station
from propagation.station.terminals import Terminals
from propagation.wording.sky import event_clause, event_sentence, event_short

START = np.datetime64("2026-03-20T10:00", "s")
PEAK = np.datetime64("2026-03-20T11:07", "s")  # between two half hours, and two tens


def flare_at(peak: np.datetime64, xray_w_m2: float = 2e-4) -> Conditions:
    """A quiet sun, and from the peak on the X-rays of a flare that fades, measured every five minutes."""
    from dataclasses import replace

    minutes = np.arange(0.0, 240.0, 5.0)
    times = peak + (60.0 * minutes).astype("timedelta64[s]")
    return replace(
        typed_in(flux_sfu=150.0, kp=1.0), xray_w_m2=TimeSeries.of(times, fading_xray_w_m2(xray_w_m2, minutes))
    )


@pytest.fixture(scope="module")
def struck(own: Station, terminals: Terminals) -> Forecast:
    """Six hours with an X2 flare in them, every ten minutes, to a place in full daylight."""
    return worlds.forecast_of(
        own, terminals, "KF27", flare_at(PEAK), START, hours=6.0, step_min=10, mode="SSB"
    )


def test_it_begins_with_the_flare_and_is_over_in_two_hours(struck: Forecast, terminals: Terminals) -> None:
    found = events(struck, terminals)
    on = np.array([one is not None for one in found])
    assert not on[struck.times < PEAK].any()
    first = int(np.flatnonzero(on)[0])
    assert struck.times[first] - PEAK < np.timedelta64(600, "s")
    assert not on[struck.times > PEAK + np.timedelta64(2, "h")].any()
    event = found[first]
    assert event is not None
    assert event.kind == "flare"
    assert event.until is not None
    assert not on[struck.time_index(event.until)]
    assert event.name.startswith(("X1.", "X2."))  # minutes after its peak at the most
    assert foremost(found) is not None


def test_what_it_takes_is_what_the_lanes_say(struck: Forecast, terminals: Terminals) -> None:
    for at, event in enumerate(events(struck, terminals)):
        lanes = {
            band.name
            for i, band in enumerate(struck.bands)
            if CAUSES[int(outlook(struck).limit[at, i])] in EVENTS and struck.usable[i]
        }
        assert lanes == set(event.taken if event is not None else ())


def test_its_cost_falls_with_the_frequency(struck: Forecast, terminals: Terminals) -> None:
    event = foremost(events(struck, terminals))
    assert event is not None
    # on 80 m what is left comes by meteors, which lose less: it ends the fall there
    cost = [event.cost_db[name] for name in ("60m", "40m", "30m", "20m")]
    assert np.all(np.diff(cost) < 0.0)
    assert cost[-1] > 5.0


def test_asked_of_one_band_it_tells_that_one(struck: Forecast, terminals: Terminals) -> None:
    event = foremost(events(struck, terminals))
    assert event is not None
    at = struck.time_index(event.time)
    for name in event.taken:
        told = event_at(struck, terminals, struck.band_index(name), at, blamed=False)
        assert told is not None
        assert name in told.taken
    top = struck.band_index("6m")
    assert event_at(struck, terminals, top, at, blamed=False) is None


def test_a_window_closes_by_the_flare_and_opens_as_it_dies_down(
    struck: Forecast, terminals: Terminals
) -> None:
    found = find_windows(struck, at_power(terminals, struck)).windows
    causes = {edge.cause for one in found for edge in (one.began, one.ended) if edge is not None}
    assert "flare" in causes


def test_a_quiet_sky_has_no_events(own: Station, terminals: Terminals) -> None:
    calm = worlds.forecast_of(own, terminals, "KF27", typed_in(ssn=90.0, kp=1.0), START, hours=1.0)
    assert set(events(calm, terminals)) == {None}


def test_a_region_is_struck_at_the_very_time(own: Station, terminals: Terminals) -> None:
    """A region hangs on half hours; ten minutes after a flare that began between two of them its chances are
    those of a computation at that time, and an hour before as if there were none."""
    asked: dict[str, Any] = {"hours": 3.0, "step_min": 10, "mode": "SSB"}
    region = "within 1500 km"
    with_it = worlds.forecast_of(own, terminals, region, flare_at(PEAK), START, **asked)
    once = with_it.times[7:8]  # 11:10
    assert PEAK < once[0] < PEAK + np.timedelta64(600, "s")
    alone = worlds.forecast_of(own, terminals, region, flare_at(PEAK), once[0], hours=0.0, mode="SSB")
    np.testing.assert_allclose(with_it.region_chance[7], alone.region_chance[0], atol=1e-9)
    calm = worlds.forecast_of(own, terminals, region, typed_in(flux_sfu=150.0, kp=1.0), START, **asked)
    lost = calm.region_chance - with_it.region_chance
    assert np.max(np.abs(lost[0])) < 1e-9
    assert np.max(lost[7]) > 0.2


def test_sudden_times_hang_on_themselves() -> None:
    times = START + np.arange(13) * np.timedelta64(600, "s")
    sudden = (np.arange(13) >= 4) & (np.arange(13) <= 7)
    between = between_times(times, sudden)
    plain = between_times(times)
    assert set(times[sudden]) <= set(between.nodes)
    hour = ((between.nodes - START) / np.timedelta64(3600, "s")).astype(float)
    values = np.where(np.isin(between.nodes, plain.nodes), hour**2, -100.0)[None, :, None]
    laid = between.level(values)[0, :, 0]
    at_plain = plain.level(
        (((plain.nodes - START) / np.timedelta64(3600, "s")).astype(float) ** 2)[None, :, None]
    )
    np.testing.assert_allclose(laid[~sudden], at_plain[0, ~sudden, 0], atol=1e-12)
    own = between.nodes[[between.place(t) for t in np.flatnonzero(sudden)]]
    np.testing.assert_array_equal(own, times[sudden])
    assert between_times(times, np.zeros(13, dtype=bool)).nodes.tolist() == plain.nodes.tolist()


def an_event(**changes: Any) -> AbsorptionEvent:
    told: dict[str, Any] = {
        "kind": "flare", "name": "X1.0", "time": np.datetime64("2026-03-20T12:00", "s"),
        "taken": ("80m", "40m", "20m"), "cost_db": {"80m": 90.0, "40m": 50.0, "20m": 16.0, "15m": 9.0},
        "dented": "15m", "lead": "15m", "promise": Prospect(0.7),
        "until": np.datetime64("2026-03-20T13:10", "s"),
    }  # fmt: skip
    return AbsorptionEvent(**(told | changes))


def test_the_words_of_a_flare() -> None:
    one = an_event()
    assert event_sentence(one) == (
        "A solar flare (class X1.0) blocks 80, 40 and 20 m and costs 15 m 9.0 dB at 12:00 UTC: wait until "
        "about 13:10, or stay on 15 m, 7 days in 10; paths on the night side are not affected."
    )
    assert event_short(one) == "Flare X1.0 blocks 80 to 20 m and costs 15 m 9.0 dB until about 13:10"
    assert (
        event_clause(one, "20m") == "a solar flare (class X1.0) absorbs 16 dB of the signal until about 13:10"
    )
    assert event_clause(one, "80m").endswith("absorbs all of the signal until about 13:10")
    everything = an_event(lead=None, promise=Prospect(0.0), dented=None, until=None)
    assert event_short(everything) == "Flare X1.0 blocks every band for about an hour"
    assert "wait about an hour; the higher the band the less it loses" in event_sentence(everything)


def test_the_words_of_protons() -> None:
    one = an_event(kind="polar cap", name="S3", dented=None, lead="10m", promise=Prospect(0.6), until=None)
    assert event_sentence(one) == (
        "Solar protons (S3) over the polar cap block 80, 40 and 20 m at 12:00 UTC: they last for hours to "
        "days, so use 10 m, 6 days in 10; paths away from the poles are not affected."
    )
    assert event_short(one) == "Solar protons S3 block 80 to 20 m for hours to days"
    assert event_clause(one, "20m") == (
        "solar protons (S3) over the polar cap absorb 16 dB of the signal for hours to days"
    )
