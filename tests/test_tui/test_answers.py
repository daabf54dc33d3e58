"""The engine behind the screens, on the invented demo: shapes, sums, sense; no network, no configuration."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from screen_text import PLACES, rows_of, settle

from propagation.advice.recompute import best_margin_db
from propagation.antennas import measurements
from propagation.base.errors import InputError
from propagation.station import station as stations
from propagation.station.terminals import Terminals
from propagation.wording import quantities as say
from tui.app import clock, paths, station_form
from tui.app.app import BandwhenApp
from tui.app.choice import Choice, Cursor, FriendCard, HoursOnAir
from tui.app.ear_reports import beacons_now
from tui.app.prompts import Export
from tui.app.queries import (
    A,
    Abandoned,
    Day,
    DayQuery,
    Engine,
    Heard,
    HopQuery,
    OpeningQuery,
    PlanQuery,
    Query,
)
from tui.app.settings import Settings
from tui.features.antenna.form import ChangeReading, KeepReading
from tui.features.antenna.page import HelpsQuery, antenna_query
from tui.features.antenna.reading import LABELS, typed_reading
from tui.features.antenna.view import ReadingView
from tui.features.reach.page import FootprintQuery, RulersQuery
from tui.features.sked.page import SkedQuery
from tui.features.sked.view import sked_sentences
from tui.features.sky import answer as sky
from tui.features.sky.page import Fetch, HeardBeacon, SkyQuery, TypeIn
from tui.features.stations.form import ForgetFriend, SaveFriend, SaveStation
from tui.features.why.page import WhyQuery
from tui.features.why.view import why_sentences
from tui.kit import words
from tui.kit.day_view import DayView

NOW = np.datetime64("2026-03-20T12:00:00", "s")
ENTRIES = {**dict.fromkeys(LABELS, ""), "transformer": "no", "where": "rig"}


def never() -> bool:
    """Work that is not called off."""
    return False


class Demo(NamedTuple):
    """The demo, its day worked out."""

    engine: Engine
    choice: Choice
    day: Day

    @property
    def view(self) -> DayView:
        """What is drawn of the day."""
        return self.day.view

    def ask(self, query: Query[A]) -> A:
        """The answer to a query."""
        return self.engine.answer(query, never)

    def rulers(self, band: str) -> RulersQuery:
        """The rulers now."""
        return RulersQuery(self.choice, NOW, False, self.day, Cursor(NOW, band))


@pytest.fixture(scope="module")
def demo() -> Demo:
    """The demo's day, worked out once for all tests of this module."""
    engine = Engine(lambda: NOW)
    opening = engine.answer(OpeningQuery("", ""), never)
    start = NOW.astype("datetime64[h]").astype("datetime64[s]") - np.timedelta64(7200, "s")
    choice = Choice(opening.station.path, opening.target, start, opening.mode, opening.power_w)
    return Demo(engine, choice, engine.answer(DayQuery(choice), never))


def test_the_demo_opens_without_any_file() -> None:
    engine = Engine()
    opening = engine.answer(OpeningQuery("", ""), never)
    assert opening.station.demo
    assert opening.friends
    assert opening.target == opening.friends[0].name
    assert not engine.check_target(opening.target)
    assert "20m" in opening.bands
    assert opening.note == ""


def test_an_unreadable_station_gives_the_demo_and_a_sentence(tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("[site\n")
    opening = Engine().answer(OpeningQuery(str(broken), ""), never)
    assert opening.station.demo
    assert "broken.toml" in opening.note
    assert "demo" in opening.note


def test_the_day_has_a_lane_for_every_usable_band(demo: Demo) -> None:
    view = demo.view
    assert view.chance.shape == (len(view.bands), view.times.size) == view.cause.shape == view.route.shape
    assert np.isfinite(view.chance).all()
    assert ((view.chance >= 0) & (view.chance <= 1)).all()
    assert set(view.bands) | {band for band, _ in view.left_out} >= {"160m", "40m", "20m", "10m", "2m"}
    assert view.demo
    assert view.home.rise is not None
    assert view.far.set is not None
    assert view.times[0] <= view.home.rise <= view.times[-1]
    sunny = view.home.elevation_deg > 0
    assert abs(float(view.home.elevation_deg[view.index_of(view.home.rise)])) < 2.5
    assert 0.4 < sunny.mean() < 0.6  # an equinox
    sentences = words.day_sentences(view, view.index_of(NOW))
    assert not [line for line in sentences if "nan" in line.split()]


def test_the_hop_picture_spans_the_path(demo: Demo) -> None:
    view = demo.view
    for band in ("20m", "10m"):
        for long in (False, True):
            hop = demo.ask(HopQuery(demo.choice, Cursor(NOW, band, long), demo.day))
            assert hop is not None
            half_round = 40030.0
            total = view.distance_km if not long else half_round - view.distance_km
            assert hop.total_km == pytest.approx(total, rel=1e-3)
            assert hop.rays
            for ray in hop.rays:
                assert ray.distance_km[-1] == pytest.approx(hop.total_km, rel=1e-6)
                assert ray.landing_km[-1] == pytest.approx(hop.total_km, rel=1e-6)
                assert np.all(np.diff(ray.distance_km) >= -1e-9)
                assert np.abs(ray.height_km[[0, -1]]).max() < 1.0
                assert 80 < ray.height_km.max() < 800
            assert hop.rays[0].level_db == 0.0
    assert demo.ask(HopQuery(demo.choice, Cursor(NOW, "160m"), demo.day)) is not None
    assert demo.ask(HopQuery(demo.choice, Cursor(NOW, "no band"), demo.day)) is None


def test_the_ledger_sums_to_the_margin_and_causes_to_one(demo: Demo) -> None:
    view = demo.view
    band = "20m"  # open on some days and not on others: where nothing stands in the way there is no cause
    why = demo.ask(WhyQuery(demo.choice, Cursor(NOW, band), demo.day))
    row = view.bands.index(band)
    at = view.index_of(NOW)
    kept = demo.day.forecast
    margin = best_margin_db(kept.result, Terminals(kept.near, kept.far))[at, kept.result.band_index(band)]
    assert why.ledger.total_db == pytest.approx(float(margin), abs=0.02)
    assert why.promise == view.prospect(row, at)
    assert sum(cause.weight for cause in why.causes) == pytest.approx(1.0, abs=0.01)
    assert any(term.base for term in why.ledger.terms)
    assert "°" not in "".join(why_sentences(why))
    assert any(line.startswith(f"Margin: {say.level(why.ledger.total_db)}, ") for line in why.says)


def test_rulers_and_footprint_agree_with_the_day(demo: Demo) -> None:
    view, asked = demo.view, demo.rulers("15m")
    reach = demo.ask(asked)
    skip = reach.skip
    assert skip.share.shape == (len(skip.bands), skip.distance_km.size)
    assert skip.target_km == pytest.approx(view.distance_km)
    row = skip.bands.index("15m")
    at_target = float(np.interp(skip.target_km, skip.distance_km, skip.share[row]))
    # the same place by another way of asking: the neighbouring rulers' points are 100 km apart
    assert at_target == pytest.approx(float(view.chance[row, view.index_of(NOW)]), abs=0.15)
    assert reach.map.share is None
    whole = demo.ask(FootprintQuery(asked, "15m", reach.map))
    assert whole.share is not None
    assert whole.share.shape == (whole.share_lat_deg.size, whole.share_lon_deg.size)
    assert 0.0 < float(whole.share.max()) <= 1.0
    lit = whole.sun_elevation_deg > 0
    assert 0.45 < lit.mean() < 0.55


def test_work_called_off_is_abandoned(demo: Demo) -> None:
    asked = demo.rulers("15m")
    query = FootprintQuery(asked, "15m", demo.ask(asked).map)
    with pytest.raises(Abandoned):
        demo.engine.answer(query, lambda: True)


def test_the_bench_accounts_for_every_watt(demo: Demo) -> None:
    view, asked = demo.view, antenna_query(demo.choice)
    bench = demo.ask(asked)
    assert bench.helped == ()
    assert any("power line" in said for said in bench.cautions)
    assert {row.band for row in bench.bands} == set(view.bands)
    for row in bench.bands:
        assert sum(share for _, share in row.shares) == pytest.approx(1.0, abs=0.01)
        radiated = dict(row.shares).get("radiated", 0.0)
        known = float(view.radiated_share[view.bands.index(row.band)])
        assert radiated == pytest.approx(known, rel=0.05, abs=0.002)
    helped = demo.ask(HelpsQuery(asked, bench, bench.bands[3].band))
    assert helped.help
    assert helped.helped == (bench.bands[3].band,)
    assert helped.cautions == bench.cautions  # they stand beside the changes, known or not
    assert all(one.gain_db is not None and one.gain_db > 0.0 for one in helped.help)
    assert not helped.towards
    aimed = demo.ask(HelpsQuery(asked, bench, "20m", demo.choice, demo.day))
    assert aimed.towards == demo.day.forecast.result.target.name
    won = [float(one.won.split()[0]) for one in aimed.help]
    assert won
    assert won == sorted(won, reverse=True)


def test_analyser_entries_become_a_verdict_or_a_sentence(demo: Demo) -> None:
    sites, choice = demo.engine.sites, demo.choice

    def measure(entries: dict[str, str]) -> ReadingView:
        return typed_reading(sites.near(choice), sites.chosen(choice), "20m", entries)

    with pytest.raises(InputError, match="type the frequency"):
        measure(ENTRIES)
    with pytest.raises(InputError, match="not a number"):
        measure({**ENTRIES, "dip": "x", "swr": "1.2"})
    given = {**ENTRIES, "dip": "14.2", "swr": "1.2", "low_1p5": "14.02", "high_1p5": "14.36"}
    seen = measure(given)
    assert seen.efficiency is not None
    assert 0.0 < seen.efficiency < 0.3  # an easy, broad dip: a lossy antenna (common practice)
    with pytest.raises(InputError, match="demo"):
        demo.ask(KeepReading(choice, "20m", given))


def test_a_station_is_made_edited_and_measured(demo: Demo) -> None:
    entries = {field.key: field.value for field in station_form.form("")}
    assert station_form.check(entries).startswith("Where you are: give")
    entries |= {"site.locator": "JO22", "name": 'a "name" [/b]', "rig.power_w": "10"}
    assert station_form.check(entries) == ""
    path = demo.ask(SaveStation(entries, ""))
    assert path == str(paths.station_file())
    again = {field.key: field.value for field in station_form.form(path)}
    assert again["name"] == 'a "name" [/b]'
    assert again["rig.power_w"] == "10"
    assert again["site.locator"].startswith("JO22")
    assert station_form.check({**again, "antenna.radials": "2.5"}).endswith("is not a whole number.")
    assert "watt" in station_form.check({**again, "rig.power_w": "-3"}) or "power" in station_form.check(
        {**again, "rig.power_w": "-3"}
    )
    assert "Ground" in station_form.check({**again, "site.ground": "cheese"})
    demo.ask(SaveStation({**again, "antenna.radials": "8"}, path))
    assert stations.load(path).antenna.radials == 8
    mine = replace(demo.choice, station=path)
    given = {**ENTRIES, "dip": "14.2", "swr": "1.2", "low_1p5": "14.02", "high_1p5": "14.36"}
    assert "Kept for 20 m" in demo.ask(KeepReading(mine, "20m", given))
    assert len(stations.load(path).antenna.measured) == 1
    demo.ask(KeepReading(mine, "20m", given))
    assert len(stations.load(path).antenna.measured) == 1
    demo.ask(SaveStation({**again, "antenna.radials": "8", "antenna.radiator_m": "5.6"}, path))
    assert measurements.in_use(stations.load(path).antenna, 14.2) is None
    assert "is back" in demo.ask(ChangeReading(mine, "20m", "bring back"))
    assert measurements.in_use(stations.load(path).antenna, 14.2) is not None
    assert "No reading of 20 m is set aside" in demo.ask(ChangeReading(mine, "20m", "bring back"))
    assert "is forgotten" in demo.ask(ChangeReading(mine, "20m", "forget"))
    assert stations.load(path).antenna.measured == ()
    other = demo.ask(SaveStation({**entries, "name": "second"}, ""))
    assert Path(other).parent == paths.stations_dir()
    assert {card.path for card in demo.ask(OpeningQuery("", "")).stations} == {path, other, ""}


def test_editing_keeps_what_the_form_does_not_show(demo: Demo, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        '[site]\nlat = -29.5\nlon = 29.5\nhorizon_deg = {0 = 2, 180 = 1}\n[feedline]\ncable = "RG-213"\n'
        '[limits]\nbands = ["20m", "40m"]\n'
    )
    fields = {field.key: field.value for field in station_form.form(str(file))}
    demo.ask(SaveStation({**fields, "rig.power_w": "5"}, str(file)))
    read = stations.load(file)
    assert read.rig.power_w == 5.0
    assert read.limits.bands == ("20m", "40m")
    assert read.site.horizon == ((0.0, 2.0), (180.0, 1.0))
    assert read.site.position.lat_deg == pytest.approx(-29.5, abs=0.01)


def test_friends_are_added_changed_and_forgotten(demo: Demo) -> None:
    assert "is on the list" in demo.ask(
        SaveFriend(FriendCard("Ana [x]", "GF25", "", "100 W, dipole at 10 m"))
    )
    demo.ask(SaveFriend(FriendCard("Ana [x]", "GF15", "America/Montevideo", "50 W")))
    friends = demo.ask(OpeningQuery("", "")).friends
    assert [(f.name, f.place, f.note) for f in friends] == [("Ana [x]", "GF15", "50 W")]
    assert "Ana [x]" in demo.engine.suggest("an")
    demo.ask(ForgetFriend("Ana [x]"))
    assert demo.ask(OpeningQuery("", "")).friends == ()
    assert "nowhere at all" in demo.engine.check_target("nowhere at all")


def test_the_sky_offline_says_what_it_stands_on(demo: Demo) -> None:
    choice = demo.choice
    asked = SkyQuery(0, choice.start, choice.station, NOW)
    seen = demo.ask(asked)
    assert seen.source
    assert seen.effects
    assert seen.beacon
    typed = {"flux_sfu": "180", "ssn": "", "kp": "3", "a_index": ""}
    assert "typed in" in demo.ask(TypeIn(typed, NOW)).lower()
    assert "typed in" in demo.ask(asked).source
    assert "not both" in sky.check({"flux_sfu": "180", "ssn": "100", "kp": "", "a_index": ""}, NOW)
    assert "forgotten" in demo.ask(TypeIn(dict.fromkeys(("flux_sfu", "ssn", "kp", "a_index"), ""), NOW))
    assert "index moves by" in demo.ask(Heard(choice, "10m", "Europe", True, NOW))
    assert demo.ask(asked).heard
    said = []
    site = demo.engine.sites.station(choice.station).site.position
    for key, _ in beacons_now(NOW, site):
        with suppress(InputError):  # a beacon whose chance does not depend on the sun tells nothing
            said.append(demo.ask(HeardBeacon(choice, key, True, NOW)))
    assert any("index moves by" in line for line in said)


def test_without_a_network_fetching_ends_in_one_sentence(demo: Demo, monkeypatch: Any) -> None:
    monkeypatch.setenv("BANDWHEN_MIRROR", "http://127.0.0.1:9")  # nobody answers there
    said = demo.ask(Fetch(NOW))
    assert said.startswith("Nothing could be fetched")
    assert "\n" not in said


def test_plan_and_appointment_can_be_followed_and_written(
    demo: Demo, tmp_path: Path, monkeypatch: Any
) -> None:
    choice = demo.choice
    plan = demo.ask(PlanQuery(choice, HoursOnAir(NOW, 6.0, "Europe")))
    assert plan.gain
    needed = [lane.band for lane in plan.lanes if lane.needed]
    assert needed == [lane.band for lane in plan.lanes][: len(needed)]  # first
    assert {step.band for step in plan.steps} <= set(needed)
    for lane in plan.lanes:
        fill = plan.fill(lane)
        assert len(lane.promised) == len(lane.cause) == len(plan.times) == len(fill)
        assert lane.mean.rate is not None  # a region: contacts an hour
        assert 0.0 <= fill.min() <= fill.max() <= 1.0
    on_plan = {lane.band: lane for lane in plan.lanes}
    for step in plan.steps:
        assert on_plan[step.band].promised == step.promised
    for step, following in zip(plan.steps, plan.steps[1:], strict=False):
        assert step.end <= following.start
    if plan.steps:
        dead = HoursOnAir(NOW, 6.0, "Europe", ((plan.steps[0].band, NOW),))
        again = demo.ask(PlanQuery(choice, dead))
        assert not again.steps or again.steps[0].band != plan.steps[0].band
        for band in ("12m", "80m"):  # one that is open, and one that is not
            mine = HoursOnAir(NOW, 6.0, "Europe", (), band, plan.steps[0].band)
            held = demo.ask(PlanQuery(choice, mine))
            assert (held.steps[0].band, held.steps[0].start) == (band, NOW), "in use from now on"
            assert held.steps[0].end >= NOW + np.timedelta64(15, "m")
            assert held.gain.startswith(f"{band[:-1]} m by your choice: about ")
            assert len(held.steps) > 1 or band == plan.steps[0].band, "the plan goes on"
    sked = demo.ask(SkedQuery(choice))
    assert sked.times.size == sked.best_chance.size == sked.home_hour.size
    for slot in sked.slots:
        at = int(np.searchsorted(sked.times, slot.start))
        assert sked.home_free[at]
        assert sked.far_free[at]
    monkeypatch.chdir(tmp_path)
    assert "Written" in demo.ask(Export(plan)).sentence
    assert "Written" in demo.ask(Export(sked)).sentence
    assert any(file.suffix == ".txt" and "Run sheet" in file.read_text() for file in tmp_path.iterdir())


def test_a_band_by_choice_is_told_in_days_with_a_place(demo: Demo) -> None:
    hours, choice = HoursOnAir(NOW, 3.0, "GF25"), replace(demo.choice, target="GF25")
    plan = demo.ask(PlanQuery(choice, hours))
    before = plan.steps[0].band
    band = next(lane.band for lane in plan.lanes if lane.band != before)
    held = demo.ask(PlanQuery(choice, replace(hours, band=band, band_before=before)))
    told = held.gain.split(", which the plan had")[0]
    assert told.startswith(f"{band[:-1]} m by your choice: ")
    assert " day" in told
    assert told.endswith(f" {before[:-1]} m")


@pytest.mark.usefixtures("short_season")
def test_no_appointment_is_made_with_a_region(demo: Demo) -> None:
    """As the command has it: no slot, nothing to write to a calendar, and the friends to choose from."""
    view = demo.ask(SkedQuery(replace(demo.choice, target="Europe")))
    assert view.note == (
        "An appointment needs one place; Europe is a region. None of your friends is there; elsewhere: "
        "Uruguay friend and Durban friend. Enter makes an appointment with the one chosen; t asks for "
        "somebody else."
    )
    assert [name for name, _ in view.friends] == ["Uruguay friend", "Durban friend"]
    assert (view.slots, view.calendar) == ((), "")
    assert sked_sentences(view) == [view.note]


@pytest.mark.slow
def test_the_app_on_the_engine_shows_the_demo(home: Path) -> None:
    """From nothing to an answer on every screen."""
    import asyncio

    clock.set_now(NOW)
    app = BandwhenApp(Engine, chosen=Settings(), settings_file=home / "settings.toml")

    async def body() -> None:
        async with app.run_test(size=(100, 30)) as pilot:
            await settle(app, pilot)
            assert app.state.day is not None, app.state.notice
            for place in PLACES:
                await app.action_go(place)
                await settle(app, pilot)
                assert not app.state.fault, app.state.notice
                assert words.WORKING not in "\n".join(rows_of(app)), place
                assert app.page is not None
                assert len(app.page.sentences(app.state)) >= 2

    asyncio.run(body())
