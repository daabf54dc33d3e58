"""Trying things on the bench: on all pages, marked, saved only when kept, gone after a restart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import synthetic
from fake_engine import FakeEngine
from numpy.testing import assert_allclose
from screen_text import PLACES, go, rows_of, run, settle
from textual.pilot import Pilot

from propagation.advice.antenna_worth import Worth, better
from propagation.advice.rates import Prospect, Rate
from propagation.antennas.improvements import Candidate
from propagation.antennas.spec import AntennaSpec, FeedlineSpec, Measurement
from propagation.base.errors import InputError
from propagation.logbook import kept_offset
from propagation.station import station
from propagation.wording.comparison import carry_sentences, lesson_sentence
from propagation.wording.plan_page import PAGE_MARK
from tui.app import learnt_store, paths
from tui.app.app import BandwhenApp
from tui.app.choice import Choice, Trial
from tui.app.day_forecast import work_out
from tui.app.queries import DayQuery
from tui.app.sites import Sites
from tui.features.antenna.answer import (
    IN_USE,
    antenna_fields,
    beside_view,
    keep_trial,
    try_antenna_of,
    try_described,
)
from tui.features.antenna.beside import BesideSheet
from tui.features.antenna.form import BesideQuery
from tui.features.antenna.page import AntennaQuery, HelpsQuery
from tui.features.antenna.view import BesideBand, BesideView, Help
from tui.kit import export, text_flow

CHANGE = "8 radials instead of 4"
WIRE = AntennaSpec(kind="sloping end-fed", height_m=7.0)
DAY = np.datetime64("2026-03-20T00:00", "s")


def engine() -> FakeEngine:
    """Made-up answers, with one change on every band that would help, and one that no key makes."""
    demo = station.load(paths.demo_station_file())
    changed = Candidate(CHANGE, replace(demo.antenna, radials=8), demo.feedline)
    shore = replace(changed, change="the antenna over salt water, at the sea shore", ground="sea")
    helps = tuple(Help(one, band, 1.4, "+9 contacts") for band in synthetic.BANDS for one in (changed, shore))
    return FakeEngine(
        made_up={
            AntennaQuery: lambda q: synthetic.bench_view(),
            HelpsQuery: lambda q: replace(q.view, help=helps, helped=(*q.view.helped, q.band)),
        }
    )


def in_words(app: BandwhenApp) -> str:
    page = app.page
    assert page is not None
    return app._sentences(page)[0]


def test_a_change_is_tried_on_all_pages_and_dropped_again() -> None:
    answers = engine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        before = app.state.choice
        await go(app, pilot, "bench")
        await pilot.press("h")
        await pilot.pause()
        assert "+9 contacts, +1.4 dB" in "\n".join(rows_of(app))
        assert "sea shore" not in "\n".join(rows_of(app))
        await pilot.press("enter")
        await settle(app, pilot)
        asked = answers.last(DayQuery).choice
        assert answers.sites.chosen(asked).antenna.radials == 8
        assert answers.sites.station(asked.station).antenna.radials == 4
        for place in PLACES:
            await go(app, pilot, place)
            await app.action_go(place)
            assert "TRIED: 8 radials" in rows_of(app)[0], place
            assert in_words(app) == "Tried and not saved: 8 radials."
        assert not paths.station_file().exists()
        await go(app, pilot, "bench")
        assert any("keep it" in row for row in rows_of(app)[-3:])
        await pilot.press("u")
        await settle(app, pilot)
        assert app.state.choice == before
        assert "TRIED" not in rows_of(app)[0]
        assert answers.last(DayQuery).choice.tried is None

    run(scenario, engine=answers)


def test_what_is_kept_stands_in_the_file_and_what_is_not_is_gone_after_a_restart() -> None:
    answers = engine()

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "bench")
        for key in ("h", "enter", "k"):
            await pilot.press(key)
            await settle(app, pilot)
        assert station.load(paths.station_file()).antenna.radials == 8
        assert app.state.choice is not None
        assert app.state.choice.tried is None
        assert app.state.choice.station == str(paths.station_file())
        assert "TRIED" not in rows_of(app)[0]
        app.try_out(Trial("a wire", WIRE))

    app = run(scenario, engine=answers)
    assert app.state.choice is not None
    assert app.state.choice.tried is not None
    assert "end-fed" not in paths.station_file().read_text()

    async def later(app: BandwhenApp, pilot: Pilot[None]) -> None:
        assert app.state.choice is not None
        assert app.state.choice.tried is None
        assert "TRIED" not in rows_of(app)[0]

    run(later, engine=engine())


def test_a_power_is_tried_without_being_remembered() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        assert app.state.choice is not None
        before = app.state.choice
        app.try_out(Trial("100 W"), 100.0)
        assert app.state.choice.power_w == 100.0
        assert app.chosen.power_w == 0.0
        app.lists_changed("A friend more.")  # a trial goes on when a list changes
        await settle(app, pilot)
        assert app.state.choice.power_w == 100.0
        assert app.state.choice.untried.power_w == before.power_w
        app.end_trial()
        assert app.state.choice == replace(before, bench=before.bench + 1)
        app.try_out(Trial("100 W"), 100.0)
        app.set_power(40.0)  # chosen, not tried: it ends the trial
        assert app.state.choice.tried is None
        assert app.state.choice.power_w == 40.0

    run(scenario, engine=engine())


def test_no_reading_is_taken_of_an_antenna_that_is_tried() -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        app.try_out(Trial("a wire", WIRE))
        await go(app, pilot, "bench")
        await pilot.press("a")
        await settle(app, pilot)
        assert app.screen is app.page
        assert "belong to the one on file" in app.state.notice

    run(scenario, engine=engine())


def _choice(**changes: Any) -> Choice:
    return replace(Choice("", "Uruguay", DAY, "SSB", 20.0), **changes)


def test_readings_stay_when_a_tried_antenna_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    own = station.load(paths.demo_station_file())
    reading = Measurement(14.2, 40.0)
    station.save(replace(own, antenna=replace(own.antenna, measured=(reading,))), file)
    sites, choice = Sites(), _choice(station=str(file), tried=Trial("a wire", WIRE))
    assert keep_trial(sites, choice) == str(file)
    kept = station.load(file).antenna
    assert kept.kind == "sloping end-fed"
    assert [one.frequency_mhz for one in kept.measured] == [14.2]
    assert kept.measured[0].setup  # tied to the antenna it was taken with
    with pytest.raises(InputError, match="Nothing is tried"):
        keep_trial(sites, _choice())


def test_an_antenna_described_in_the_form() -> None:
    own = station.load(paths.demo_station_file())
    fields = {field.key: field.value for field in antenna_fields(own)}
    assert try_described({**fields, "name": "same"}).antenna == replace(own.antenna, measured=())
    wire = try_described({**fields, "antenna.kind": "dipole", "antenna.height_m": "9 m", "name": ""})
    assert wire.name == "dipole"
    assert wire.antenna is not None
    assert wire.antenna.height_m == 9.0
    with pytest.raises(InputError, match="Wire, height"):
        try_described({**fields, "antenna.height_m": "nine"})


def test_the_log_and_exports_say_what_was_tried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    plan = replace(synthetic.plan_view(), paper="The plan.\n", page=f"{PAGE_MARK}<body>\n</body>")
    said = export.write(plan, DAY, tried="a wire")
    files = sorted(tmp_path.iterdir())
    assert [file.name for file in files] == [
        f"bandwhen-plan-2026-03-14-0800-anyone-tried.{ending}" for ending in ("html", "txt")
    ]
    for file in files:
        assert "Tried and not saved: a wire." in file.read_text()
        assert file.name in said
    assert f"in {tmp_path}, the folder the program was started in" in said


def _worth(total: float, *bands: float, region: bool = False) -> Worth:
    best = tuple(Prospect(min(band / 4.0, 1.0)) for band in bands)
    return Worth(total, region, best, np.array(bands))


def test_the_day_decides_which_to_carry() -> None:
    assert better(_worth(5.0), _worth(6.0)) == 1
    assert better(_worth(5.0), _worth(5.1)) is None
    assert better(_worth(40.0, region=True), _worth(20.0, region=True)) == 0
    assert better(_worth(1.0, region=True), _worth(1.1, region=True)) == 1  # a quarter of an hour is no limit
    whip, wire = _worth(5.0, 0.5, 3.0), _worth(6.2, 3.5, 2.0)
    told = carry_sentences(("the whip", "the wire"), ("40m", "20m"), (whip, wire), 1, "Uruguay")
    assert told[0] == "Carry this one today, for Uruguay: the wire."
    assert "The whip: 5.0 hours" in told[1]
    assert "The whip is better on 20 m, at best 8 days in 10." in told
    assert "The wire is better on 40 m, at best 9 days in 10." in told


def test_two_antennas_are_run_for_the_target_of_the_day() -> None:
    whip = station.load(paths.demo_station_file())
    stunted = Trial("stump", replace(whip.antenna, radiator_m=0.5), whip.feedline)
    view = beside_view(Sites(), _choice(target="London", mode="CW"), stunted, DAY, lambda: False)
    assert view.says[0] == f"Carry this one today, for London, England: {IN_USE}."
    low = next(band for band in view.bands if band.band == "40m")
    assert low.share[1] < 0.5 * low.share[0]  # a fifth of the length radiates far less on 40 m
    again = beside_view(
        Sites(), _choice(target="London", mode="CW", tried=stunted), Trial("the whip", whip.antenna), DAY,
        lambda: False,
    )  # fmt: skip
    assert again.names == ("stump", "the whip")
    assert_allclose(
        [band.share[0] for band in again.bands], [band.share[1] for band in view.bands], rtol=1e-9
    )
    assert again.says[0] == "Carry this one today, for London, England: the whip."


@pytest.mark.parametrize("size", [(80, 24), (60, 16), (160, 48)])
def test_two_antennas_side_by_side_and_the_other_one_tried(size: tuple[int, int]) -> None:
    best = Prospect(0.4), Prospect(0.8)
    view = BesideView(
        ("the one in use", "antenna of garden"),
        tuple(BesideBand(band, (0.3, 0.6), best, 12.0, (-3.1, 1.4)) for band in ("40m", "20m")),
        ("Carry this one today, for Uruguay: antenna of garden.",),
    )
    answers = engine()
    answers.made_up[BesideQuery] = lambda q: view

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        from tui.features.antenna import form as forms

        assert app.state.choice is not None
        forms._compare(app, app.state.choice, Trial("antenna of garden", WIRE))
        await settle(app, pilot)
        assert isinstance(app.screen, BesideSheet)
        text = "\n".join(rows_of(app))
        assert "Carry this one today, for Uruguay: antenna of garden." in text
        assert "30 W" in text
        assert "60 W" in text
        await pilot.press("t")
        await settle(app, pilot)
        assert "TRIED: antenna of" in rows_of(app)[0]

    run(scenario, engine=answers, size=size)


# -- the heading, and what a log has taught -------------------------------------------------------

LONG = "sloping end-fed wire of 16.4 m, far end 9.5 m up, fed against 8 radials of 5 m each"


def test_a_long_name_loses_its_middle_and_no_figure() -> None:
    for room in range(3, len(LONG) + 2):
        short = text_flow.without_middle(LONG, room)
        assert len(short) <= room
        assert (short == LONG) == (room >= len(LONG))
    short = text_flow.without_middle(LONG, 70)
    assert "…" in short
    assert [sign for sign in short if sign.isdigit()] == [sign for sign in LONG if sign.isdigit()]
    plain = text_flow.without_middle("the long wire from the window to the old tree", 21)
    assert plain == "the long w…e old tree"


def test_the_heading_has_both_ends_of_a_tried_antennas_name() -> None:
    name = "wire from the window to the old walnut tree, 16.4 m"

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        app.try_out(Trial(name, WIRE))
        await settle(app, pilot)
        heading = rows_of(app)[0]
        assert "TRIED: wire from" in heading
        assert "16.4 m" in heading
        assert "…" in heading
        assert "SSB" in heading
        assert "12:20 UTC" in heading

    run(scenario, engine=engine())


@pytest.mark.parametrize("on", [True, False])
def test_an_antenna_is_tried_without_the_logs_lesson_and_says_so_where_there_is_one(on: bool) -> None:
    answers = engine()
    own = answers.sites.station("")
    bands = (kept_offset.LearntBand("20m", -3.2, 1.1),)
    lesson = kept_offset.Learnt(bands=bands, setup=kept_offset.setup_mark(own), on=on)
    kept_offset.save(lesson, learnt_store.learnt_file())

    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        app.try_out(Trial("a wire", WIRE))
        await settle(app, pilot)
        left_out = ", without your log's lesson" if on else ""
        assert in_words(app) == f"Tried and not saved: a wire{left_out}."
        assert "TRIED: a wire" in rows_of(app)[0]
        assert answers.last(DayQuery).choice.tried.unlearnt is on
        app.try_out(Trial("5 W"), 5.0)  # the lesson is of the antenna, which stays
        await settle(app, pilot)
        assert in_words(app) == "Tried and not saved: 5 W."

    run(scenario, engine=answers)


def test_the_lesson_of_the_log_is_told_of_the_antenna_it_was_learnt_with() -> None:
    names = ("the whip", "the wire")
    assert lesson_sentence(names, (True, True)) == lesson_sentence(names, (False, False)) == ""
    assert lesson_sentence(names, (True, False)) == (
        "What your log has taught is in the numbers of the whip alone; it has taught nothing of the wire."
    )
    assert "of the wire alone; it has taught nothing of the whip." in lesson_sentence(names, (False, True))


def test_the_second_antenna_has_the_lesson_of_its_own_log(tmp_path: Path) -> None:
    """It is learnt with that antenna, at this site; one learnt at another site applies to neither."""
    own = station.load(paths.demo_station_file())
    wire = replace(own, name="wire", antenna=WIRE)
    files = {"here": wire, "elsewhere": replace(wire, site=replace(wire.site, ground="sea"))}
    for name, one in files.items():
        station.save(one, tmp_path / f"{name}.toml")
        bands = (kept_offset.LearntBand("20m", -5.0, 1.1),)
        lesson = kept_offset.Learnt(bands=bands, setup=kept_offset.setup_mark(one))
        kept_offset.save(lesson, learnt_store.learnt_file(tmp_path / f"{name}.toml"))
    sites, choice = Sites(), _choice(target="London", mode="CW")
    views = {}
    for name in files:
        other = try_antenna_of(sites, str(tmp_path / f"{name}.toml"))
        views[name] = beside_view(sites, choice, other, DAY, lambda: False)
        assert sites.leaves_lesson_out(replace(choice, tried=other)) is False  # there is none without it
    assert "it has taught nothing of the one in use." in views["here"].says[-1]
    assert not any("taught" in line for line in views["elsewhere"].says)
    gains = [next(b for b in views[name].bands if b.band == "20m").gain_dbi for name in files]
    assert gains[0][0] == gains[1][0]
    assert_allclose(gains[0][1], gains[1][1] - 5.0)


def test_two_antennas_are_told_in_decibels_at_the_targets_take_off() -> None:
    """The gain towards the target less the line's loss, for both at the angle of the strongest ray path."""
    sites, choice = Sites(), _choice(target="London", mode="CW")
    day = work_out(sites, choice, DAY)
    thick = Trial("thick line", day.result.station.antenna, FeedlineSpec(cable="RG-213", length_m=3.0))
    view = beside_view(sites, choice, thick, DAY, lambda: False, day)
    assert view == beside_view(sites, choice, thick, DAY, lambda: False)  # computed anew without the day
    for band in view.bands:
        row = day.result.band_index(band.band)
        mhz = float(day.result.frequency_mhz[row])
        bare = day.near.antenna.gain_dbi(mhz, band.takeoff_deg)  # the same all round
        assert_allclose(band.gain_dbi[0], bare - day.near.antenna.spent_db(mhz), atol=0.01)
        assert 0.0 < band.gain_dbi[1] - band.gain_dbi[0] < 3.0
        assert 0.0 < band.takeoff_deg < 60.0


@pytest.mark.parametrize("size", [(160, 48), (160, 50), (132, 43)])
def test_no_hole_between_the_bars_and_the_card(size: tuple[int, int]) -> None:
    async def scenario(app: BandwhenApp, pilot: Pilot[None]) -> None:
        await go(app, pilot, "bench")
        rows = rows_of(app)
        card = next(number for number, row in enumerate(rows) if "Setup card" in row)
        assert "What helps, for Uruguay" in rows[card]
        assert not rows[card - 1].strip()
        assert any(row.strip() for row in rows[card - 3 : card - 1])

    run(scenario, engine=engine(), size=size)


def test_with_a_region_two_antennas_are_told_in_contacts() -> None:
    """Contacts of the day, and what each promises at its best, in contacts an hour."""
    best = Prospect(0.9, Rate(12.0, 22.0, 30.0), 4)
    poor = Prospect(0.2, Rate(1.0, 2.0, 3.0), 4)
    whip, wire = (Worth(total, True, (one,), np.array([total])) for total, one in ((9.0, poor), (80.0, best)))
    told = carry_sentences(("the whip", "the wire"), ("20m",), (whip, wire), 1, "Europe")
    assert told[1:] == [
        "The whip: some 9 contacts if on the air all day. The wire: some 80 contacts if on the air all day.",
        "The wire is better on 20 m, at best about 22 contacts an hour (12 to 30).",
    ]
