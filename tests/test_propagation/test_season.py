"""The season ahead: the same numbers as any other answer, its slots and its words, and the open cycle."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from propagation.advice.ranking import told_chance, told_rate
from propagation.advice.rates import Rates
from propagation.advice.region_chance import outlook
from propagation.advice.season import (
    HIGH,
    LOW,
    MIDDLE,
    Season,
    StoppedError,
    days_of,
    hours_of,
    months_ahead,
    season,
)
from propagation.advice.season_changes import best_hour, season_changes
from propagation.advice.sked import Party, party_of_station
from propagation.base.errors import InputError
from propagation.geo.places import resolve
from propagation.geo.regions import Target
from propagation.signal.chances.forecast import forecast
from propagation.signal.chances.request import Request
from propagation.signal.rays.causes import CODE
from propagation.space_weather.indices.solar_history import index_spread
from propagation.space_weather.state.conditions import Conditions, built_in, typed_in
from propagation.station import station
from propagation.station.terminals import far_terminal, own_terminal
from propagation.wording import season as say
from propagation.wording.clocks import ClockFace, set_clock_face
from propagation.wording.quantities import mean_an_hour

HOME = station.loads(
    '[site]\nlocator = "JN47"\ntime_zone = "Europe/Zurich"\n'
    '[rig]\npower_w = 50\nmode = "CW"\n[antenna]\nkind = "dipole"\nheight_m = 8\n'
)
NEAR, FAR = own_terminal(HOME), far_terminal(HOME.far_end)
THERE = resolve("GF25")
MONTHS = months_ahead(np.datetime64("2026-10-05"), 3)


def look(
    target: Target = THERE,
    sky: Conditions | None = None,
    home: station.Station = HOME,
    power_w: float | None = None,
    **more: object,
) -> Season:
    zone = ZoneInfo("America/Montevideo")
    other = None if target.is_region else Party(target.name, target.centre, zone)
    times = hours_of(MONTHS).ravel()
    request = Request(home, target, times, sky or built_in(times), power_w=power_w, near=NEAR, far=FAR)
    return season(request, party_of_station(home), other, **more)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def found() -> Season:
    return look()


@pytest.mark.parametrize("name", ["GF25", "Portugal"])
def test_a_cell_is_what_any_other_answer_says_of_that_day(name: str) -> None:
    """The middle prediction, to the last digit."""
    target = resolve(name)
    sky = built_in(hours_of(MONTHS))
    whole = look(target, sky)
    for m in (0, 2):
        alone = forecast(
            Request(HOME, target, hours_of(MONTHS)[m], sky, bands=whole.bands, near=NEAR, far=FAR)
        )
        seen = outlook(alone)
        np.testing.assert_allclose(whole.chance[MIDDLE, m], seen.chance, atol=1e-9)
        np.testing.assert_allclose(whole.worth[MIDDLE, m], seen.ceiling * seen.worth, atol=1e-9)
        np.testing.assert_array_equal(whole.best_band[m], np.argmax(seen.ranked, axis=-1))


def test_months_are_told_on_a_wednesday_of_their_middle() -> None:
    many = months_ahead(np.datetime64("2024-01-01"), 36)
    days = days_of(many)
    assert {int(day) for day in (days.astype(np.int64) + 3) % 7} == {2}  # Monday is 0
    fifteenth = many.astype("datetime64[D]") + np.timedelta64(14, "D")
    assert np.max(np.abs((days - fifteenth).astype(np.int64))) <= 3
    assert np.array_equal(days.astype("datetime64[M]"), many)


def test_the_open_cycle_grows_with_the_months_and_closes_in_the_past() -> None:
    ahead = index_spread(np.datetime64("2026-08", "M") + np.arange(0, 60, 6) * np.timedelta64(1, "M"))
    assert np.all(np.diff(ahead[1]) > -2.0)  # deciles of some 600 months are good to a unit or two
    assert ahead[1, -1] > 3.0 * ahead[1, 0]
    assert np.all(ahead[0] < 0.0)
    np.testing.assert_allclose(index_spread(np.array(["2001-03", "2019-12"], dtype="datetime64[M]")), 0.0)


def test_a_year_ahead_the_index_is_open_by_some_twenty_units() -> None:
    """The decile a year ahead lies between two figures of the record.

    The record itself: a year's change of IG12 has a standard deviation of 29 (1958 to 2024), so what is left
    after its trend must be less than the decile of that, 37, and more than the 7 of the flux relation.
    """
    low, high = index_spread(np.array(["2027-07"], dtype="datetime64[M]"))[:, 0]
    assert 10.0 < high < 37.0
    assert -37.0 < low < -10.0


def test_more_sun_serves_the_high_bands(found: Season) -> None:
    names = [band.name for band in found.bands]
    ten = found.chance[:, :, :, names.index("10m")].sum(axis=(1, 2))
    assert ten[LOW] < ten[MIDDLE] < ten[HIGH]
    assert np.all(found.index[LOW] < found.index[MIDDLE])


def test_a_sun_that_is_given_has_no_spread() -> None:
    steady = look(sky=typed_in(ssn=80, kp=2))
    np.testing.assert_array_equal(steady.chance[LOW], steady.chance[HIGH])
    assert "as given" in say.cycle_words(steady)


def test_slots_suit_both_and_are_the_best(found: Season) -> None:
    slots = found.slots()
    assert len(slots) == 6  # two a month
    told = [float(told_chance(slot.mean.chance)) for slot in slots]
    assert told == sorted(told, reverse=True)
    for slot in slots:
        m = list(found.months).index(slot.month)
        inside = np.arange(slot.start, slot.end) % 24
        assert np.all(found.suits[m, inside])
        band = [band.name for band in found.bands].index(slot.band)
        assert slot.mean.chance == pytest.approx(found.chance[MIDDLE, m, inside, band].mean())
        assert slot.low.chance <= slot.high.chance + 0.2
        assert band in found.best_band[m, inside]
    best = np.where(found.suits, found.of_best(found.chance)[MIDDLE], 0.0).max()
    assert max(slot.mean.chance for slot in slots) > 0.9 * best


def test_slots_alike_in_chance_come_by_comfort_and_then_by_length(found: Season) -> None:
    """Where it is nearly every day at any hour, the hours far from sleep at both ends come first, whatever
    the month; a chance that is told otherwise goes before comfort.
    """
    sure = np.full_like(found.chance, 0.96)
    sure[:, 0] = 0.99  # the same in words, so that October has no precedence
    slots = replace(found, chance=sure).slots()
    assert {slot.month for slot in slots[:3]} == set(MONTHS), "not in the order of the calendar"
    assert all(slot.comfort_h == pytest.approx(3.0) for slot in slots[:3])
    keys = [(-slot.comfort_h, slot.start - slot.end) for slot in slots]
    assert keys == sorted(keys)
    for slot in slots[:3]:
        m = list(MONTHS).index(slot.month)
        inside = np.arange(slot.start, slot.end)
        for away in (-3, 3):  # both are awake three hours before and after
            assert np.all(found.suits[m, (inside + away) % 24])
    for m, month in enumerate(MONTHS[1:], start=1):
        sure[:, m] = 0.9
        sure[:, m, 12] = 0.7
        slots = replace(found, chance=sure).slots()
        assert next(slot for slot in slots if slot.month == month).mean.chance < 0.95
    assert [slot.month for slot in replace(found, chance=sure).slots()][:2] == [MONTHS[0]] * 2


@pytest.fixture(scope="module")
def region() -> Season:
    return look(resolve("Portugal"))


def test_a_region_is_told_in_contacts_an_hour(region: Season) -> None:
    """Every slot, cell and sentence of a region has one measure; the chance of a few is marked."""
    slots = region.slots()
    told = [float(told_rate(slot.mean.rate.middle)) for slot in slots if slot.mean.rate is not None]
    assert len(told) == len(slots) > 0
    assert told == sorted(told, reverse=True)
    for slot in slots:
        words = say.slot_words(slot, region)
        assert "contact" in words
        assert "in 10" not in words
        assert "%" not in words
    best = int(np.argmax(region.of_best(region.worth)[MIDDLE, 0]))
    assert "; 4 within an hour: " in say.cell_words(region, 0, best)
    assert "contact in some" in say.contact_sentence(region)
    assert "hours of contact" not in say.contact_sentence(region)


def test_the_mean_of_a_region_by_hand(region: Season) -> None:
    """The best band's contacts an hour, over the waking hours of October."""
    best = region.of_best(region.worth)[MIDDLE, 0]
    by_hand = np.mean([best[hour] for hour in range(24) if region.suits[0, hour]])
    assert region.mean_per_hour()[MIDDLE, 0] == pytest.approx(by_hand)
    assert region.rates is not None
    half = replace(
        region,
        rates=Rates(*(0.5 * row for row in (region.rates.low, region.rates.middle, region.rates.high))),
    )
    more, less = (mean_an_hour(float(np.mean(side.mean_per_hour()[MIDDLE]))) for side in (region, half))
    assert say.beside_sentence(half, region, "Valley", "Ridge") == (
        f"On average Ridge brings {more}, Valley {less}."
    )
    assert "give the same result" in say.beside_sentence(region, region, "Valley", "Ridge")


def test_of_bands_alike_in_contacts_the_surer_comes_first(region: Season) -> None:
    """Of bands of 20.0 and 20.9 contacts an hour, told alike, the one that keeps 15 on most days leads."""
    shape = (3, 1, 24, 2)
    low, middle = np.zeros(shape), np.zeros(shape)
    low[..., 0], low[..., 1] = 15.0, 8.0
    middle[..., 0], middle[..., 1] = 20.0, 20.9
    alike = replace(
        region, months=region.months[:1], bands=region.bands[:2], chance=np.ones(shape),
        rates=Rates(low, middle, middle + 5.0),
    )  # fmt: skip
    assert np.all(alike.best_band == 0)
    middle[..., 1] = 24.0
    assert np.all(replace(alike).best_band == 1)


def test_comfort_is_the_distance_from_sleep_by_hand(found: Season) -> None:
    """Both awake from 12 to 20 UT: 13 is an hour after getting up, 16 three or more from either end."""
    awake = np.broadcast_to((np.arange(24) >= 12) & (np.arange(24) < 20), found.home_suits.shape)
    always = np.ones_like(awake)
    some = replace(found, home_suits=awake, far_suits=always, chance=np.full_like(found.chance, 0.99))
    first, second = some.slots()[0], some.slots()[-1]
    assert (first.start, first.end) == (15, 19)  # the hour seen first is 15, ahead is as good as behind
    assert first.comfort_h == pytest.approx((3 + 3 + 2 + 1) / 4)
    assert second.comfort_h == pytest.approx((0 + 1 + 2) / 3)
    assert (second.start, second.end) == (12, 15)


POLAR = station.loads(
    '[site]\nlat = 80.0\nlon = 16.0\ntime_zone = "Arctic/Longyearbyen"\n'
    '[rig]\npower_w = 100\nmode = "CW"\n[antenna]\nkind = "dipole"\nheight_m = 8\n'
)


def test_a_station_at_eighty_degrees_north_has_a_season_in_midnight_sun_and_polar_night() -> None:
    """80 m is absorbed while the sun does not set, and carries when it does not rise: its diurnal course by
    the D part of the layer, common practice.

    In June the far end, at 52 degrees, has its night; with the sun at 13 degrees at the station's midnight a
    few days are left then, and none from 04 to 20 UTC.
    """
    target = resolve("JO22")
    other = Party(target.name, target.centre, ZoneInfo("Europe/Amsterdam"))
    months = np.array(["2026-06", "2026-12"], dtype="datetime64[M]")
    request = Request(POLAR, target, hours_of(months).ravel(), typed_in(ssn=80, kp=2))
    polar = season(request, party_of_station(POLAR), other)
    assert np.all((polar.chance >= 0.0) & (polar.chance <= 1.0))
    eighty = polar.chance[MIDDLE, :, :, [band.name for band in polar.bands].index("80m")]
    assert eighty[0, 4:21].max() < 0.1
    assert eighty[0].max() < 0.5 * eighty[1].mean()
    assert eighty[1].mean() > 0.3
    assert np.all(polar.of_best(polar.chance)[MIDDLE].max(axis=-1) > 0.5), (
        "some band carries 3000 km in either"
    )
    assert {slot.month for slot in polar.slots()} == set(months)
    assert all(say.slot_words(slot, polar) for slot in polar.slots())


def test_hours_of_contact_by_hand(found: Season) -> None:
    """October: 31 days of the sum over waking hours of the best band's chance."""
    by_hand = sum(found.chance[MIDDLE, 0, hour].max() for hour in range(24) if found.suits[0, hour])
    assert found.hours_of_contact()[MIDDLE, 0] == pytest.approx(31.0 * by_hand)


def test_the_change_of_clocks_is_told(found: Season) -> None:
    """Central Europe goes back to winter time on Sunday, 25 October 2026; Uruguay keeps one time all year."""
    assert say.clock_changes(MONTHS[0], found) == "from 25 October the clocks here change"
    assert say.clock_changes(MONTHS[1], found) == ""
    slot = next(slot for slot in found.slots() if slot.month == MONTHS[0])
    words = say.slot_words(slot, found)
    assert words.startswith("October 2026, ")
    assert f"{(slot.start + 2) % 24:02d}:00 to {(slot.end + 2) % 24:02d}:00 local, " in words  # summer time
    assert f"{(slot.start - 3) % 24:02d}:00 to {(slot.end - 3) % 24:02d}:00 there" in words


def test_half_the_power_is_never_better(found: Season) -> None:
    weak = look(power_w=5.0)
    assert np.all(found.hours_of_contact() > weak.hours_of_contact())
    told = say.beside_sentence(found, weak, "Fifty", "five")
    assert told.startswith("Fifty brings ")
    same = say.beside_sentence(found, found, "One", "the same")
    assert "give the same result: 0 hours of contact in 3 months apart, of " in same


def test_two_sides_alike_are_told_by_how_much_they_differ() -> None:
    """A year at 12 waking hours a day, 100 %, and one hour in a hundred less: 4,380 and 4,336 hours."""
    months = months_ahead(np.datetime64("2026-01-01"), 12)
    awake = np.broadcast_to(np.arange(24) < 12, (12, 24))
    sure = np.ones((3, 12, 24, 1))
    sure[:, :, 12:] = 0.0
    whole = replace(
        look(home=replace(HOME, limits=replace(HOME.limits, bands=("20m",)))), months=months, chance=sure,
        index=np.zeros((3, 12)), home_suits=awake, far_suits=awake,
    )  # fmt: skip
    told = say.beside_sentence(whole, replace(whole, chance=0.99 * sure), "Ridge", "Valley")
    assert told == "Ridge and Valley give the same result: 44 hours of contact a year apart, of 4,380."


def test_it_stops_when_told_and_says_how_far_it_is() -> None:
    told: list[tuple[int, int]] = []
    look(progress=lambda done, parts: told.append((done, parts)))
    assert told[-1] == (9, 9)
    with pytest.raises(StoppedError):
        look(stop=lambda: True)


def test_a_station_without_a_band_has_an_empty_season() -> None:
    mute = replace(HOME, rig=replace(HOME.rig, mode="FM"), limits=replace(HOME.limits, bands=("30m",)))
    none = look(home=mute)
    assert none.bands == ()
    assert none.slots() == ()
    assert "no band" in say.none_words(none)


def test_each_month_is_there_as_soon_as_it_is_finished_and_is_final() -> None:
    parts: list[Season] = []
    done: list[tuple[int, int]] = []
    whole = look(resolve("Portugal"), made=parts.append, progress=lambda *now: done.append(now))
    assert [part.months.size for part in parts] == [1, 2], "the last is what is returned"
    assert whole.rates is not None
    for part in parts:
        count = part.months.size
        assert part.rates is not None
        np.testing.assert_array_equal(part.months, MONTHS[:count])
        np.testing.assert_array_equal(part.chance, whole.chance[:, :count])
        for name in ("low", "middle", "high"):
            np.testing.assert_array_equal(getattr(part.rates, name), getattr(whole.rates, name)[:, :count])
        np.testing.assert_array_equal(part.limit, whole.limit[:count])
        np.testing.assert_array_equal(part.hours_of_contact(), whole.hours_of_contact()[:, :count])
        assert say.best_of_month(part, 0) == say.best_of_month(whole, 0)
    begun: list[int] = []

    def stop() -> bool:
        begun.append(1)
        return len(begun) > 3

    parts.clear()
    with pytest.raises(StoppedError):
        look(resolve("Portugal"), made=parts.append, stop=stop)
    assert [part.months.size for part in parts] == [1], "stopped in the second month"


def test_what_would_change_a_hopeless_season_is_computed_for_its_best_hour() -> None:
    """100 W and Morse at the best waking hour are what a forecast of that hour says."""
    spoken = replace(HOME, rig=replace(HOME.rig, mode="SSB"))
    weak = look(home=spoken, power_w=2.0)
    times = hours_of(MONTHS)
    request = Request(spoken, THERE, times.ravel(), built_in(times.ravel()), power_w=2.0, near=NEAR, far=FAR)
    best = best_hour(weak)
    assert best is not None
    waking = np.where(weak.suits, weak.of_best(weak.worth)[MIDDLE], 0.0)
    assert best.promise.chance == pytest.approx(waking.max())
    changes = season_changes(weak, request)
    assert [(one.power_w, one.mode) for one in changes] == [(100.0, "SSB"), (2.0, "CW")]
    for one in changes:
        again = forecast(
            replace(
                request,
                times=times[best.month, best.hour : best.hour + 1],
                mode=one.mode,
                power_w=one.power_w,
            )
        )
        band = [row.name for row in again.bands].index(one.band)
        assert one.promise.chance == pytest.approx(float(outlook(again).chance[0, band]))
        assert one.promise.chance > best.promise.chance
    told = say.changes_words(weak, changes)
    assert told.startswith("In that hour, with 100 W: ")
    assert "; with CW: " in told
    assert "neither more power" in say.changes_words(weak, ())
    assert say.friends_words([]) == ""
    assert "are friends there" in say.friends_words(["Ana", "Bo"])


def test_local_time_in_the_course_of_the_year(found: Season) -> None:
    assert say.zone_words(found) == "Local time is UTC+2 until October 2026, then UTC+1."
    steady = replace(found, home=replace(found.home, zone=ZoneInfo("Africa/Johannesburg")))
    assert say.zone_words(steady) == ""
    assert say.hours_words(steady, MONTHS[0], 23, 24) == (
        "23:00 to 00:00 UTC (01:00 to 02:00 local, 20:00 to 21:00 there)"
    )
    alone = replace(steady, home=replace(steady.home, zone=ZoneInfo("UTC")), far=None)
    assert say.hours_words(alone, MONTHS[0], 9) == "09:00 UTC"
    set_clock_face(ClockFace(local=True))
    assert say.hours_words(found, MONTHS[0], 12, 13) == (
        "14:00 to 15:00 local (12:00 to 13:00 UTC, 09:00 to 10:00 there)"
    )
    set_clock_face(ClockFace())
    assert say.progress_words(3, 12) == "3 of 12 months worked out so far; Esc stops it."


def test_thousands_of_hours_are_written_alike() -> None:
    hours = np.array([[3614.0], [3666.0], [3698.0]])
    assert say.contact_hours_words(hours) == "some 3,666 hours (3,614 to 3,698)"


def test_a_poor_cell_names_the_cause_and_a_good_one_does_not(found: Season) -> None:
    poor = replace(found, chance=0.001 * found.chance, limit=np.full_like(found.limit, CODE["absorption"]))
    assert "; the sunlit D and E layers absorb the signal" in say.cell_words(poor, 0, 12)
    good = replace(poor, chance=found.chance)
    best = int(np.argmax(good.of_best(good.chance)[MIDDLE, 0]))
    assert "absorb" not in say.cell_words(good, 0, best)


@pytest.mark.parametrize("count", [0, -1, 37])
def test_months_out_of_range_are_refused(count: int) -> None:
    with pytest.raises(InputError, match="months"):
        months_ahead(np.datetime64("2026-10-05"), count)
