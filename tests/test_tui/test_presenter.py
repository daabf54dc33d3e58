"""The engine behind the screens, on the invented demo: shapes, sums, sense; no network, no configuration."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from screen_text import PLACES, rows_of, settle

from propagation.base.errors import InputError
from propagation.station import station as stations
from tui import clock, paths, telling, words
from tui.app import BandwhenApp
from tui.presenter import EngineDesk
from tui.settings import Settings
from tui.state import Choice, Cursor, FriendCard, PlanWish

NOW = np.datetime64("2026-03-20T12:00:00", "s")
ENTRIES = {"dip": "", "swr": "", "low_1p5": "", "high_1p5": "", "low_2": "", "high_2": "", "where": "rig"}


def never() -> bool:
    """Work that is not called off."""
    return False


@pytest.fixture(scope="module")
def demo() -> tuple[EngineDesk, Choice, Any, Any]:
    """The demo's day, worked out once for all tests of this module."""
    desk = EngineDesk(lambda: NOW)
    opening = desk.open("", "")
    start = NOW.astype("datetime64[h]").astype("datetime64[s]") - np.timedelta64(7200, "s")
    choice = Choice(opening.station.path, opening.target, start, opening.mode, opening.power_w)
    view, kept = desk.day(choice, never)
    return desk, choice, view, kept


def test_the_demo_opens_without_any_file() -> None:
    opening = EngineDesk().open("", "")
    assert opening.station.demo
    assert opening.friends
    assert opening.target == opening.friends[0].name
    assert not EngineDesk().check_target(opening.target)
    assert "20m" in opening.bands
    assert opening.note == ""


def test_an_unreadable_station_gives_the_demo_and_a_sentence(tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("[site\n")
    opening = EngineDesk().open(str(broken), "")
    assert opening.station.demo
    assert "broken.toml" in opening.note
    assert "demo" in opening.note


def test_the_day_has_a_lane_for_every_usable_band(demo: Any) -> None:
    _, _, view, _ = demo
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


def test_the_hop_picture_spans_the_path(demo: Any) -> None:
    desk, _, view, kept = demo
    for band in ("20m", "10m"):
        for long in (False, True):
            hop = desk.hop(kept, Cursor(NOW, band, long))
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
    assert desk.hop(kept, Cursor(NOW, "160m")) is not None
    assert desk.hop(kept, Cursor(NOW, "no band")) is None


def test_the_ledger_sums_to_the_margin_and_causes_to_one(demo: Any) -> None:
    desk, choice, view, kept = demo
    why = desk.why(choice, kept, Cursor(NOW, "15m"), never)
    row = view.bands.index("15m")
    at = view.index_of(NOW)
    assert why.ledger.total_db == pytest.approx(float(view.margin_db[row, at]), abs=0.02)
    assert why.causes.chance == pytest.approx(float(view.chance[row, at]), abs=1e-9)
    assert sum(weight for _, weight in why.causes.causes) == pytest.approx(1.0, abs=0.01)
    assert any(term.base for term in why.ledger.terms)
    assert "°" not in "".join(telling.why_sentences(why))


def test_rulers_and_footprint_agree_with_the_day(demo: Any) -> None:
    desk, choice, view, kept = demo
    cursor = Cursor(NOW, "15m")
    reach = desk.rulers(choice, kept, cursor, never)
    skip = reach.skip
    assert skip.share.shape == (len(skip.bands), skip.distance_km.size)
    assert skip.target_km == pytest.approx(view.distance_km)
    row = skip.bands.index("15m")
    at_target = float(np.interp(skip.target_km, skip.distance_km, skip.share[row]))
    # the same place by another way of asking: the neighbouring rulers' points are 100 km apart
    assert at_target == pytest.approx(float(view.chance[row, view.index_of(NOW)]), abs=0.15)
    assert reach.map.share is None
    whole = desk.footprint(choice, kept, reach, cursor, never)
    assert whole.map.share is not None
    assert whole.map.share.shape == (whole.map.share_lat_deg.size, whole.map.share_lon_deg.size)
    assert 0.0 < float(whole.map.share.max()) <= 1.0
    lit = whole.map.sun_elevation_deg > 0
    assert 0.45 < lit.mean() < 0.55


def test_work_called_off_is_abandoned(demo: Any) -> None:
    from tui.jobs import Abandoned

    desk, choice, _, kept = demo
    cursor = Cursor(NOW, "15m")
    reach = desk.rulers(choice, kept, cursor, never)
    with pytest.raises(Abandoned):
        desk.footprint(choice, kept, reach, cursor, lambda: True)


def test_the_bench_accounts_for_every_watt(demo: Any) -> None:
    desk, choice, view, _ = demo
    bench = desk.bench(choice, never)
    assert {row.band for row in bench.bands} == set(view.bands)
    for row in bench.bands:
        assert sum(share for _, share in row.shares) == pytest.approx(1.0, abs=0.01)
        radiated = dict(row.shares).get("radiated", 0.0)
        known = float(view.radiated_share[view.bands.index(row.band)])
        assert radiated == pytest.approx(known, rel=0.05, abs=0.002)
    helped = desk.helps(choice, replace(bench, bands=bench.bands[3:4]), never)
    assert helped.help
    assert all(db > 0 for _, _, db in helped.help)


def test_analyser_entries_become_a_verdict_or_a_sentence(demo: Any) -> None:
    desk, choice, _, _ = demo
    with pytest.raises(InputError, match="Type the frequency"):
        desk.measure(choice, "20m", ENTRIES)
    with pytest.raises(InputError, match="not a number"):
        desk.measure(choice, "20m", {**ENTRIES, "dip": "x", "swr": "1.2"})
    given = {**ENTRIES, "dip": "14.2", "swr": "1.2", "low_1p5": "14.02", "high_1p5": "14.36"}
    seen = desk.measure(choice, "20m", given)
    assert seen.efficiency is not None
    assert 0.0 < seen.efficiency < 0.3  # an easy, broad dip: a lossy antenna (common practice)
    with pytest.raises(InputError, match="demo"):
        desk.keep_measure(choice, "20m", given)


def test_a_station_is_made_edited_and_measured(demo: Any) -> None:
    desk, choice, _, _ = demo
    entries = {field.key: field.value for field in desk.form("")}
    assert desk.check_form(entries).startswith("Say where you are")
    entries |= {"site.locator": "JO22", "name": 'a "name" [/b]', "rig.power_w": "10"}
    assert desk.check_form(entries) == ""
    path = desk.save_form(entries, "")
    assert path == str(paths.station_file())
    again = {field.key: field.value for field in desk.form(path)}
    assert again["name"] == 'a "name" [/b]'
    assert again["rig.power_w"] == "10"
    assert again["site.locator"].startswith("JO22")
    assert desk.check_form({**again, "antenna.radials": "2.5"}).endswith("is not a whole number.")
    assert "watt" in desk.check_form({**again, "rig.power_w": "-3"}) or "power" in desk.check_form(
        {**again, "rig.power_w": "-3"}
    )
    assert "ground" in desk.check_form({**again, "site.ground": "cheese"})
    desk.save_form({**again, "antenna.radials": "8"}, path)
    assert stations.load(path).antenna.radials == 8
    mine = replace(choice, station=path)
    given = {**ENTRIES, "dip": "14.2", "swr": "1.2", "low_1p5": "14.02", "high_1p5": "14.36"}
    assert "Kept for 20 m" in desk.keep_measure(mine, "20m", given)
    assert len(stations.load(path).antenna.measured) == 1
    desk.keep_measure(mine, "20m", given)
    assert len(stations.load(path).antenna.measured) == 1
    other = desk.save_form({**entries, "name": "second"}, "")
    assert Path(other).parent == paths.stations_dir()
    assert {card.path for card in desk.open("", "").stations} == {path, other, ""}


def test_editing_keeps_what_the_form_does_not_show(demo: Any, tmp_path: Path) -> None:
    desk = demo[0]
    file = tmp_path / "mine.toml"
    file.write_text(
        '[site]\nlat = -29.5\nlon = 29.5\nhorizon_deg = {0 = 2, 180 = 1}\n[feedline]\ncable = "RG-213"\n'
        '[limits]\nbands = ["20m", "40m"]\n'
    )
    fields = {field.key: field.value for field in desk.form(str(file))}
    desk.save_form({**fields, "rig.power_w": "5"}, str(file))
    read = stations.load(file)
    assert read.rig.power_w == 5.0
    assert read.limits.bands == ("20m", "40m")
    assert read.site.horizon == ((0.0, 2.0), (180.0, 1.0))
    assert read.site.position.lat_deg == pytest.approx(-29.5, abs=0.01)


def test_friends_are_added_changed_and_forgotten(demo: Any) -> None:
    desk = demo[0]
    assert "is on the list" in desk.save_friend(FriendCard("Ana [x]", "GF25", "", "100 W, dipole at 10 m"))
    desk.save_friend(FriendCard("Ana [x]", "GF15", "America/Montevideo", "50 W"))
    friends = desk.open("", "").friends
    assert [(f.name, f.place, f.note) for f in friends] == [("Ana [x]", "GF15", "50 W")]
    assert "Ana [x]" in desk.suggest("an")
    desk.forget_friend("Ana [x]")
    assert desk.open("", "").friends == ()
    assert "nowhere at all" in desk.check_target("nowhere at all")


def test_the_sky_offline_says_what_it_stands_on(demo: Any) -> None:
    desk, choice, _, _ = demo
    sky = desk.sky(choice, NOW)
    assert sky.source
    assert sky.effects
    assert sky.beacon
    assert "typed in" in desk.type_in({"flux_sfu": "180", "ssn": "", "kp": "3", "a_index": ""}, NOW).lower()
    assert "typed in" in desk.sky(choice, NOW).source
    assert "not both" in desk.check_sky({"flux_sfu": "180", "ssn": "100", "kp": "", "a_index": ""}, NOW)
    assert "forgotten" in desk.type_in(dict.fromkeys(("flux_sfu", "ssn", "kp", "a_index"), ""), NOW)
    said = desk.heard(choice, {"band": "10m", "from": "Europe", "heard": "yes"}, NOW, never)
    assert "index moves by" in said
    assert desk.sky(choice, NOW).heard
    said = []
    for key, _ in desk.beacons(choice, NOW):
        with suppress(InputError):  # a beacon whose chance does not depend on the sun tells nothing
            said.append(desk.beacon_heard(choice, key, True, NOW))
    assert any("index moves by" in line for line in said)


def test_without_a_network_fetching_ends_in_one_sentence(demo: Any, monkeypatch: Any) -> None:
    desk, choice, _, _ = demo
    monkeypatch.setenv("BANDWHEN_MIRROR", "http://127.0.0.1:9")  # nobody answers there
    said = desk.fetch(choice, NOW, never)
    assert said.startswith("Nothing could be fetched")
    assert "\n" not in said


def test_plan_and_appointment_can_be_followed_and_written(
    demo: Any, tmp_path: Path, monkeypatch: Any
) -> None:
    desk, choice, _, _ = demo
    plan = desk.plan(choice, PlanWish(NOW, 6.0, "Europe"), never)
    assert plan.gain
    for step, following in zip(plan.steps, plan.steps[1:], strict=False):
        assert step.end <= following.start
    if plan.steps:
        dead = PlanWish(NOW, 6.0, "Europe", ((plan.steps[0].band, NOW),))
        again = desk.plan(choice, dead, never)
        assert not again.steps or again.steps[0].band != plan.steps[0].band
    sked = desk.sked(choice, never)
    assert sked.times.size == sked.best_chance.size == sked.home_hour.size
    for slot in sked.slots:
        at = int(np.searchsorted(sked.times, slot.start))
        assert sked.home_free[at]
        assert sked.far_free[at]
    monkeypatch.chdir(tmp_path)
    assert "Written" in desk.export("plan", plan)
    assert "Written" in desk.export("sked", sked)
    assert any(file.suffix == ".txt" and "Run sheet" in file.read_text() for file in tmp_path.iterdir())


def test_the_app_on_the_engine_shows_the_demo(home: Path) -> None:
    """From nothing to an answer on every screen."""
    import asyncio

    clock.set_now(NOW)
    app = BandwhenApp(EngineDesk, chosen=Settings(), settings_file=home / "settings.toml")

    async def body() -> None:
        async with app.run_test(size=(100, 30)) as pilot:
            await settle(app, pilot, 3000)
            assert app.shared.day is not None, app.shared.notice
            for place in PLACES:
                await app.action_go(place)
                await settle(app, pilot, 3000)
                assert not app.shared.fault, app.shared.notice
                assert words.WORKING not in "\n".join(rows_of(app)), place
                assert app.page is not None
                assert len(app.page.sentences(app.shared)) >= 2

    asyncio.run(body())
