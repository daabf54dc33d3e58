"""The year and the day say the same: best band, figure and words of an hour, for 24 stations and targets."""

from __future__ import annotations

import numpy as np
import pytest

from propagation.advice.region_chance import outlook
from propagation.advice.season import HOURS, MIDDLE, Season, hours_of, months_ahead, season
from propagation.advice.sked import party_of_station
from propagation.geo.places import resolve
from propagation.signal.chances.forecast import Forecast, forecast
from propagation.signal.chances.request import Request
from propagation.space_weather.state.conditions import typed_in
from propagation.station import station
from propagation.station.terminals import far_terminal, own_terminal
from propagation.wording.quantities import band_title, promised
from propagation.wording.season import cell_words, slot_words

SAMPLES = 24
TARGETS = ("Spain", "Europe", "Japan", "within 600 km", "JO22", "FN31")
HALF_HOURS = np.arange(-1, 3) * np.timedelta64(1800, "s")  # around an hour, as `advise` computes a day
HOMES = [
    station.loads(
        f'[site]\nlocator = "{place}"\n[rig]\nmode = "{mode}"\npower_w = {power_w}\n'
        '[antenna]\nkind = "dipole"\nheight_m = 7\n'
    )
    for place, mode, power_w in (("JN47", "SSB", 20), ("JN47", "CW", 5), ("JO22", "SSB", 100))
]
ENDS = [(own_terminal(home), far_terminal(home.far_end)) for home in HOMES]
Sample = tuple[Season, Forecast, int]


def drawn(number: int) -> Sample:
    """A season of one month, and the forecast of one hour of its day, from the same sun."""
    draw = np.random.default_rng(number)
    which = int(draw.integers(len(HOMES)))
    home, (near, far) = HOMES[which], ENDS[which]
    target = resolve(TARGETS[number % len(TARGETS)], home.site.position)
    sky = typed_in(ssn=float(draw.uniform(0.0, 160.0)), kp=2)
    month = months_ahead(np.datetime64("2026-01-01") + np.timedelta64(int(draw.integers(360)), "D"), 1)
    whole = season(
        Request(home, target, hours_of(month).ravel(), sky, near=near, far=far), party_of_station(home), None
    )
    hour = int(draw.integers(HOURS))
    times = hours_of(month)[0, hour] + HALF_HOURS
    return whole, forecast(Request(home, target, times, sky, near=near, far=far)), hour


@pytest.fixture(scope="module")
def samples() -> list[Sample]:
    return [drawn(number) for number in range(SAMPLES)]


def test_the_hour_of_the_year_and_of_the_day_name_the_same_band_and_figure(samples: list[Sample]) -> None:
    for whole, day, hour in samples:
        best = int(np.argmax(outlook(day).ranked[1]))
        name = day.bands[best].name
        assert whole.bands[int(whole.best_band[0, hour])].name == name
        told = promised(outlook(day).at(1, best))
        assert told == promised(whole.at(0, hour, int(whole.best_band[0, hour])))
        assert f": {band_title(name)}, {told}" in cell_words(whole, 0, hour)


def test_the_samples_are_regions_and_places_open_and_closed(samples: list[Sample]) -> None:
    regions = [whole for whole, _, _ in samples if whole.rates is not None]
    assert len(regions) == SAMPLES * 4 // 6
    best = np.array([whole.of_best(whole.worth)[MIDDLE, 0, hour] for whole, _, hour in samples])
    assert len({round(float(value), 3) for value in best}) > SAMPLES // 2
    assert np.any(best < 0.1)


def test_a_slot_is_on_the_best_band_of_its_best_hour(samples: list[Sample]) -> None:
    for whole, _, _ in samples:
        for slot in whole.slots():
            inside = np.arange(slot.start, slot.end) % HOURS
            row = [band.name for band in whole.bands].index(slot.band)
            assert row in whole.best_band[0, inside]
            assert promised(slot.mean) in slot_words(slot, whole)
