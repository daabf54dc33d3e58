"""The review of a log: the demo's story, silences, what is known of the day, and texts that might do harm."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from worlds import ROOT, demo, request_for

from propagation.advice.rates import Prospect, Rate
from propagation.base.errors import InputError
from propagation.geo import geomagnetic, places
from propagation.geo.regions import Target
from propagation.logbook import adif, files
from propagation.logbook.contacts import UnansweredCalls
from propagation.logbook.entries import of_contacts
from propagation.logbook.expected import WORKERS, expect
from propagation.logbook.kept_offset import Learnt, LearntBand, no_lesson
from propagation.logbook.outing import bands_used, silent_stretches, span_on, spans_of
from propagation.logbook.review import (
    AGAINST,
    EXPECTED,
    FAIR,
    NO_PLACE,
    VERDICTS,
    MeasuredDays,
    Review,
    day_conditions,
    join_logs,
    review,
)
from propagation.space_weather.state import conditions
from propagation.wording import quantities as say
from propagation.wording import review as story
from propagation.wording.quantities import promised
from propagation.wording.sky import day_sentence
from propagation.wording.station_offset import learnt_words

DEMO_LOG = ROOT / "fixtures" / "demo" / "ridge_day.adi"


def reviewed(data: bytes, *, own_call: str = "", target: Target | None = None, **wishes: object) -> Review:
    logs = join_logs([files.read(data)], demo(), own_call)
    request = request_for(logs.times, conditions.built_in(logs.times))
    request = request if target is None else replace(request, target=target)
    return review(logs, request, "2026-03-20", **wishes)  # type: ignore[arg-type]


@cache
def demo_review() -> Review:
    return reviewed(DEMO_LOG.read_bytes())


def record(time: str, band: str = "20m", call: str = "ZS1TEST", **more: str) -> dict[str, str]:
    date, clock = time.split("T")
    fields = {
        "QSO_DATE": date,
        "TIME_ON": clock,
        "CALL": call,
        "BAND": band,
        "MODE": "SSB",
        "GRIDSQUARE": "JF96",
    }
    return {name: value for name, value in (fields | more).items() if value}


def at(clock: str) -> np.datetime64:
    return np.datetime64(f"2026-03-20T{clock}", "s")


# -- the demo's log -----------------------------------------------------------------------------------------


def test_the_demo_log_tells_its_story() -> None:
    found = demo_review()
    words = story.summary(found)
    text = " ".join(words)
    assert words[0].startswith(f"{found.entries.size} contacts on ")
    assert str(found.entries.time[0])[:10] in words[0]
    assert "flux" in words[1]
    assert "K up to" in words[1]
    for one in found.outing.silences if found.outing else ():
        if one.told:
            assert (
                f"{one.band[:-1]} m, {str(one.start)[11:16]} to {str(one.end)[11:16]} UTC, calls unanswered"
                in text
            )
    assert "In hindsight" in text
    assert all(line[0].isupper() or line[0].isdigit() for line in words)
    assert all(line.endswith((".", "!", "?")) for line in words)


def test_the_demo_log_goes_with_the_forecast_but_for_a_surprise_or_two_each_way() -> None:
    """The log was made up to go with the forecast: were it mostly luck, log or engine would be wrong."""
    found = demo_review()
    assert found.count(EXPECTED) >= 0.7 * found.entries.size
    assert 1 <= found.count(AGAINST) <= 3
    by_kind = [(one.kind, one.band) for one in found.surprises]  # the most surprising first
    assert 1 <= sum(kind == "contact" for kind, _ in by_kind) <= 2
    # 12 m first; 10 m, whose chance of going unanswered lies at the limit of a surprise, may follow
    assert [band for kind, band in by_kind if kind == "silence"] in (["12m"], ["12m", "10m"])
    assert found.outing is not None
    # few amateurs are on 12 m: in the hour without an answer one or two contacts were due
    silent = {one.band: one for one in found.outing.silences}["12m"]
    assert silent.due is not None
    assert 0.3 < silent.due < 3.0
    assert {silence.band for silence in found.outing.silences} == {"10m", "40m", "12m"}
    offset = {one.band: one for one in found.learnt.bands}
    assert min(offset.values(), key=lambda one: one.offset_db).band == "40m"  # its reports are some 6 dB weak
    assert -7.0 < offset["40m"].offset_db < -2.0
    assert offset["40m"].sd_db > 3.0  # one day cannot say it surely


def test_what_the_demo_log_teaches_is_said_with_its_doubt() -> None:
    learnt = Learnt(
        bands=(
            LearntBand("40m", -4.4, 4.2, 13), LearntBand("20m", 0.3, 4.4, 9), LearntBand("15m", 6.0, 2.0, 30),
        ),
        entries=60, used=52, days=1,
    )  # fmt: skip
    assert learnt_words(learnt)[0] == (
        "By the log the station is worse than the model by 4 dB on 40 m (± 4), and better than "
        "the model by 6 dB on 15 m (± 2), and on 20 m equal to the model within 4 dB"
    )
    assert "another outing would reduce the uncertainty" in learnt_words(learnt)[1]
    assert len(learnt_words(replace(learnt, days=2))) == 2
    assert "two are within the figure after ±" in learnt_words(replace(learnt, days=2))[1]
    few = replace(learnt, bands=(LearntBand("40m", -1.0, 5.8, 1),), used=1)
    assert "One usable report teaches nothing" in learnt_words(few)[0]
    assert "2 entries with a usable report are too few" in learnt_words(replace(few, used=2))[0]
    assert no_lesson(learnt) is None
    assert [no_lesson(replace(few, used=used)) for used in (0, 1, 2)] == [
        "no reports",
        "one report",
        "too few",
    ]
    assert "teaches nothing" in learnt_words(Learnt())[0]


def test_the_plan_in_hindsight_says_where_it_was_called_without_an_answer() -> None:
    """A plan that would have gone to 10 m while the log tells of calls without an answer there."""
    outing = demo_review().outing
    assert outing is not None
    assert outing.plan is not None
    first = replace(outing.plan.plan.stays[0], band="10m", start=at_of_the_demo("08:00"))
    stays = (replace(first, end=at_of_the_demo("09:00")),)
    there = replace(outing, plan=replace(outing.plan, plan=replace(outing.plan.plan, stays=stays)))
    assert re.search(
        r"10 m from \S+ to \S+ UTC \(where nobody answered your calls at 08:40 UTC\)",
        story.hindsight_words(there)[0],
    )


def at_of_the_demo(clock: str) -> np.datetime64:
    return np.datetime64(f"2025-09-20T{clock}", "s")


def test_every_contact_has_its_verdict_and_they_are_counted() -> None:
    found = demo_review()
    chance = found.expected.chance
    for i, verdict in enumerate(found.verdict.tolist()):
        bounds = {EXPECTED: (0.5, 1.0), FAIR: (0.1, 0.5), AGAINST: (0.0, 0.1)}[verdict]
        assert bounds[0] <= chance[i] <= bounds[1]
    assert sum(found.count(verdict) for verdict in range(len(VERDICTS))) == found.entries.size
    low, high = found.expected.chance_low, found.expected.chance_high
    assert np.all((low <= chance + 1e-12) & (chance <= high + 1e-12))


def test_surprises_come_rarest_first_and_hold_every_contact_against_the_odds() -> None:
    found = demo_review()
    chances = [one.chance for one in found.surprises]
    assert chances == sorted(chances)
    rows = sorted(row for one in found.surprises for row in one.rows)
    assert rows == np.flatnonzero(found.verdict == AGAINST).tolist()
    for one in found.surprises:
        assert len({found.entries.band[row] for row in one.rows}) <= 1


def test_told_stretches_are_silences_with_causes_that_sum_below_one() -> None:
    found = demo_review()
    assert found.outing is not None
    told = [one for one in found.outing.silences if one.told]
    stretches = files.load(DEMO_LOG).unanswered_calls
    assert [(one.band, one.start, one.end) for one in told] == [(t.band, t.start, t.end) for t in stretches]
    for one in found.outing.silences:
        assert one.causes
        assert 0.0 < sum(weight for _, weight in one.causes) <= 1.0 + 1e-9
        assert 0.0 <= one.mean.figure <= one.best.figure + 1e-9


def test_the_plan_in_hindsight_is_never_worse_than_what_was_done() -> None:
    """The plan is free to choose; what was done is one of the choices (but for the minutes the changes
    cost).
    """
    found = demo_review()
    assert found.outing is not None
    assert found.outing.plan is not None
    assert found.outing.planned.figure >= 0.98 * found.outing.own.figure


def test_a_region_is_reviewed_in_contacts_an_hour() -> None:
    """Silences, the better band and the plan in hindsight have one measure, the one the plan ranks by."""
    outing = demo_review().outing
    assert outing is not None
    words = [*(story.silence_words([one]) for one in outing.silences), story.hindsight_words(outing)[0]]
    for told in words:
        assert re.search(r"contacts? an hour|a contact in some|no contact in 20 hours", told)
        assert not re.search(r"days? in 1|in 10\b", told)
    for one in outing.silences:
        named = f"would have offered {promised(one.other)}"
        assert (named in story.silence_words([one])) == (
            one.other_band is not None and one.other.figure >= max(1.5 * one.mean.figure, 1e-4)
        )


def test_what_was_on_offer_is_the_mean_of_the_minutes_on_the_air() -> None:
    outing = demo_review().outing
    assert outing is not None
    known, found = outing.times.astype(np.float64), []
    for one in outing.on:
        minutes = np.arange(one.start, one.end, np.timedelta64(60, "s")).astype(np.float64)
        found.append(np.interp(minutes, known, outing.figure[:, outing.bands.index(one.band)]))
    by_hand = float(np.mean(np.concatenate(found)))
    assert outing.own.figure == pytest.approx(by_hand, rel=0.02)  # stretches begin between whole minutes


def test_the_lanes_are_the_forecast_of_that_day() -> None:
    outing = demo_review().outing
    assert outing is not None
    assert outing.share.shape == (outing.times.size, len(outing.bands))
    assert outing.times[0] <= outing.span.start
    assert outing.times[-1] >= outing.span.end
    assert outing.target == "anyone"
    assert np.all((outing.share >= 0.0) & (outing.share <= 1.0))
    assert np.all((outing.chance >= 0.0) & (outing.chance <= 1.0))


# -- conditions of the day
# ---------------------------------------------------------------------------------------


def test_unknown_conditions_are_said_plainly() -> None:
    """A log from after the built-in record: assumed, and said so; a measured day of the store is not."""
    data = adif.write([record("20271005T0900"), record("20271005T0910", call="V51TEST", GRIDSQUARE="JG87")])
    found = reviewed(data)
    assert [day.known for day in found.days] == [False]
    assert any("are not known here" in line for line in story.summary(found))
    day = np.array(["2027-10-05"], dtype="datetime64[D]")
    known = day_conditions(found.conditions, day, MeasuredDays(day, day))[0]
    assert known.known
    assert "not known" not in day_sentence(known)


@pytest.mark.parametrize(
    ("date", "flux", "kp"),
    [
        ("2024-05-11", "measured", "measured"), ("1975-03-01", "month only", "month only"),
        ("2031-01-01", "not known", "not known"), ("1920-01-01", "not known", "not known"),
    ],
)  # fmt: skip
def test_how_each_day_is_known(date: str, flux: str, kp: str) -> None:
    day = day_conditions(conditions.built_in(), np.array([date], dtype="datetime64[D]"))[0]
    assert (day.flux, day.kp) == (flux, kp)


def test_a_great_storm_is_on_record() -> None:
    """11 May 2024: planetary K of 9 (the public record of the magnetic storm of 10 to 12 May 2024)."""
    day = day_conditions(conditions.built_in(), np.array(["2024-05-11"], dtype="datetime64[D]"))[0]
    assert day.kp_most >= 8.6
    assert "K up to 9" in day_sentence(day)


def test_typed_in_conditions_are_called_so() -> None:
    state = conditions.typed_in(flux_sfu=150.0, kp=3.0)
    day = day_conditions(state, np.array(["2031-01-01"], dtype="datetime64[D]"), typed_kp=True)[0]
    assert day.known
    assert day_sentence(day) == "On 2031-01-01: flux 150 sfu as typed in, K 3 as typed in."


# -- where the other end was
# ----------------------------------------------------------------------------------------


def test_a_country_alone_widens_the_answer() -> None:
    """Brazil by its prefix against the same contact with a locator: a span of chances around it."""
    rows = [record("20240402T1500", call="PY2TEST", GRIDSQUARE=""), record("20240402T1500", call="PY2TEST")]
    contacts = files.read(adif.write(rows)).contacts
    assert contacts is not None
    entries = of_contacts(contacts, demo())
    state = conditions.built_in(entries.time)
    found = expect(entries, request_for(entries.time, state))
    by_prefix = [source == "prefix" for source in contacts.source].index(True)
    by_locator = 1 - by_prefix
    assert found.chance_low[by_prefix] < found.chance[by_prefix] < found.chance_high[by_prefix]
    assert found.chance_low[by_locator] == found.chance[by_locator] == found.chance_high[by_locator]
    np.testing.assert_allclose(found.level.sum(axis=1), 1.0, atol=1e-5)


def test_a_place_that_is_not_known_has_no_verdict() -> None:
    found = reviewed(
        adif.write([record("20240402T1500", call="ZS1TEST/MM", GRIDSQUARE=""), record("20240402T1510")])
    )
    assert found.verdict.tolist() == [NO_PLACE, found.verdict[1]]
    assert np.isnan(found.expected.chance[0])
    assert "of 1 it is not known where the other station was" in " ".join(story.summary(found))


def test_the_record_s_own_power_and_place_count() -> None:
    """Ten times the power: 10 dB outwards and nothing back; another place: another distance."""
    rows = [
        record("20240402T1500", TX_PWR="5"), record("20240402T1500", TX_PWR="50"),
        record("20240402T1500", TX_PWR="50", MY_GRIDSQUARE="KF05"),
    ]  # fmt: skip
    contacts = files.read(adif.write(rows)).contacts
    assert contacts is not None
    entries = of_contacts(contacts, demo())
    found = expect(entries, request_for(entries.time, conditions.built_in(entries.time)))
    np.testing.assert_allclose(found.snr_out_db[1] - found.snr_out_db[0], 10.0, atol=1e-6)
    np.testing.assert_allclose(found.snr_back_db[1], found.snr_back_db[0], atol=1e-6)
    assert found.distance_km[2] < 0.9 * found.distance_km[1]


def test_the_field_of_a_year_is_computed_once_however_many_years_and_bands() -> None:
    """Ten years on four bands, in blocks of one frequency: two maps for five years, not two for a block."""
    rows = [
        record(f"{year}0402T1500", BAND=band, FREQ=mhz)
        for year in range(2011, 2021)
        for band, mhz in (("40m", "7.03"), ("20m", "14.03"), ("15m", "21.03"), ("10m", "28.03"))
    ]
    contacts = files.read(adif.write(rows)).contacts
    assert contacts is not None
    entries = of_contacts(contacts, demo())
    geomagnetic.field_map.cache_clear()
    expect(entries, request_for(entries.time, conditions.built_in(entries.time)))
    assert 2 * 3 <= geomagnetic.field_map.cache_info().misses <= 2 * 3 * WORKERS < 2 * 12


def test_rows_do_not_depend_on_their_neighbours() -> None:
    """Blocks, order and company make no difference to a row."""
    found = demo_review()
    alone = expect(found.entries.take([3]), request_for(found.entries.time, found.conditions))
    for name in ("chance", "margin_db", "muf_mhz", "delta_db", "elevation_deg"):
        np.testing.assert_allclose(
            getattr(alone, name)[0], getattr(found.expected, name)[3], rtol=1e-6, atol=1e-9
        )
    assert alone.ray_path_name(0) == found.expected.ray_path_name(3)


# -- outings and silences
# ------------------------------------------------------------------------------------------


def test_outings_are_parted_by_long_gaps_and_cut_after_a_day() -> None:
    times = np.array([at("08:00"), at("09:00"), at("12:30"), at("16:31"), at("17:00")])
    assert [(span.first, span.stop) for span in spans_of(times)] == [(0, 3), (3, 5)]
    endless = at("00:00") + np.arange(60) * np.timedelta64(3600, "s")
    assert [span.stop - span.first for span in spans_of(endless)] == [24, 24, 12]
    assert spans_of(np.array([], dtype="datetime64[s]")) == ()
    spans = spans_of(times)
    assert span_on(spans, np.datetime64("2026-03-20")) == spans[0]
    assert span_on(spans, np.datetime64("2026-03-21")) is None


def test_silent_stretches_between_contacts() -> None:
    times = np.array([at("10:00"), at("10:19"), at("10:50"), at("12:00")])
    found = silent_stretches(times, ["20m", "20m", "20m", "15m"], [])
    assert found == [
        ("20m", at("10:19"), at("10:50"), False),
        ("20m", at("10:50"), at("11:25"), False),
        ("15m", at("11:25"), at("12:00"), False),
    ]


def test_what_the_log_tells_comes_first() -> None:
    told = [UnansweredCalls("40m", at("10:55"), at("11:20"))]
    found = silent_stretches(np.array([at("10:50"), at("12:00")]), ["20m", "20m"], told)
    assert found == [("40m", at("10:55"), at("11:20"), True), ("20m", at("11:20"), at("12:00"), False)]
    used = bands_used(np.array([at("10:50"), at("12:00")]), ["20m", "20m"], found)
    assert [(one.band, one.contacts) for one in used] == [("20m", 1), ("40m", 0), ("20m", 1)]
    assert all(one.end > one.start for one in used)


def test_a_silence_where_much_was_due_is_a_surprise() -> None:
    """Ten contacts in forty minutes with a neighbour at a good hour, then two hours of nothing, then one
    more.
    """
    calls = [
        record(f"20240402T09{4 * i:02d}", call=f"ZS{i % 9 + 1}TEST", GRIDSQUARE="KG33", MODE="CW")
        for i in range(10)
    ]
    later = record("20240402T1140", call="ZS9TEST", GRIDSQUARE="KG33", MODE="CW")
    found = reviewed(
        adif.write([*calls, later]), target=places.resolve("within 500 km", demo().site.position)
    )
    assert found.count(AGAINST) == 0
    silences = [one for one in found.surprises if one.kind == "silence"]
    assert len(silences) == 1
    assert silences[0].silence is not None
    assert silences[0].silence.due is not None
    assert silences[0].silence.due > 2.0
    np.testing.assert_allclose(silences[0].chance, np.exp(-silences[0].silence.due), rtol=1e-9)
    words = " ".join(story.summary(found))
    assert "No contacts although some were likely: 20 m, 09:36 to 11:40 UTC, no contact, where some" in words
    assert words.count("09:36 to 11:40") == 1, "the stretch is told once"


def test_times_are_told_on_both_clocks() -> None:
    """The place's zone at the log's date, summer time in April and not in January; z turns them over."""
    say.set_clock_face(say.ClockFace(ZoneInfo("Europe/Berlin")))
    for day, summer in (("20240402", 2), ("20240109", 1)):
        rows = [record(f"{day}T09{i:02d}", GRIDSQUARE="KG33") for i in (0, 10, 20)]
        found = reviewed(adif.write([*rows, record(f"{day}T1140", GRIDSQUARE="KG33")]))
        said = " ".join(story.summary(found))
        hours = f"{9 + summer:02d}:00 to {11 + summer}:40 local"
        assert f"09:00 to 11:40 UTC ({hours})" in said
        say.set_clock_face(say.ClockFace(ZoneInfo("Europe/Berlin"), local=True))
        assert f"{hours} (09:00 to 11:40 UTC)" in " ".join(story.summary(found))
        say.set_clock_face(say.ClockFace(ZoneInfo("Europe/Berlin")))


def test_another_day_of_a_long_log() -> None:
    rows = [record("20240402T0900"), record("20240410T0900"), record("20240411T1500")]
    found = reviewed(adif.write(rows), day=np.datetime64("2024-04-10"))
    assert found.outing is not None
    assert str(found.outing.span.start)[:10] == "2024-04-10"
    assert len(found.outings) == 3
    assert "in 3 outings" in story.summary(found)[0]
    with pytest.raises(InputError, match="nothing on 2024-04-09"):
        reviewed(adif.write(rows), day=np.datetime64("2024-04-09"))


def test_the_log_s_own_place_and_power_are_used_and_named() -> None:
    """Given by every record, by some, by none; the lanes are those of the place where the outing was."""
    rows = [record(f"20240402T15{minute}", TX_PWR="5", MY_GRIDSQUARE="JN58") for minute in ("00", "10")]
    found = reviewed(adif.write(rows))
    assert found.outing is not None
    assert story.own_words(found) == "Your place and your power are those that the log gives"
    assert story.heading(found.outing) == "Tue 2 Apr 2024, SSB 5 W, from JN58mm to anyone"
    assert found.outing.position.lat_deg == pytest.approx(48.5)  # the middle of JN58
    rows.append(record("20240402T1520"))
    assert "for 2 of 3 entries, else the station file's" in story.own_words(reviewed(adif.write(rows)))
    none = story.own_words(reviewed(adif.write(rows[2:])))
    assert none.endswith("neither your place nor your power: the station file's are used (KG40rs, 50 W)")


def test_the_same_call_in_vain_twice_is_one_paragraph() -> None:
    """Marked twice in a few minutes it is one stretch; an hour later another in the same paragraph."""
    twice = "10m 0905-0910; 10m 0905-0910; 10m 0912-0920; 10m 1020-1030"
    rows = [record("20240402T0900"), record("20240402T1035", APP_BANDWHEN_TRIED=twice)]
    found = reviewed(adif.write(rows))
    assert found.outing is not None
    told = [(str(one.start)[11:16], str(one.end)[11:16]) for one in found.outing.silences if one.told]
    assert told == [("09:05", "09:20"), ("10:20", "10:30")]
    about = [line for line in story.summary(found) if re.search(r"10 m\b.*unanswered", line)]
    assert len(about) == 1
    assert "09:05 to 09:20 and 10:20 to 10:30 UTC, calls unanswered" in about[0]
    say.set_clock_face(say.ClockFace(ZoneInfo("Africa/Johannesburg")))
    both = "09:05 to 09:20 and 10:20 to 10:30 UTC (11:05 to 11:20 and 12:20 to 12:30 local), calls unanswered"
    assert both in " ".join(story.summary(found))


def test_a_ratio_without_sense_is_not_told() -> None:
    outing = demo_review().outing
    assert outing is not None
    for least, words in (
        (1e-6, "the bands you used offered no contact in 20 hours"),
        (0.0, "offered nothing"),
    ):
        rate = Rate(0.0, least, least)
        line = story.hindsight_words(replace(outing, own=Prospect(0.0, rate, 4)))[0]
        assert words in line
        assert "times what you had" not in line


# -- odd logs
# -------------------------------------------------------------------------------------------------


def test_an_empty_log_says_so() -> None:
    found = reviewed(b"")
    assert found.outing is None
    assert found.surprises == ()
    assert story.summary(found) == ["The log holds no contact."]
    assert found.learnt.bands == ()


def test_texts_of_the_log_stay_texts() -> None:
    """Control characters are made visible when read; brackets come through whole, for the screen not to
    interpret.
    """
    comment = "[b]59[/b] [/] \x1b[31mred\x07 \u202efdp"
    found = reviewed(
        adif.write([record("20240402T1500", call="ZS1[/]", COMMENT=comment), record("20240402T1510")])
    )
    text = " ".join([*story.summary(found), *found.entries.comment, *found.entries.call])
    assert text.isprintable()
    assert "[b]59[/b] [/]" in found.entries.comment[0]


def test_reports_of_others_alone_are_refused_in_one_sentence() -> None:
    data = (ROOT / "fixtures" / "logs" / "reports_archive.csv").read_bytes()
    with pytest.raises(InputError, match="name your call with --call"):
        reviewed(data)
    found = reviewed(data, own_call="ZS5TEST")
    assert found.entries.size > 0
    assert found.outing is not None
    assert found.outing.silences == ()
    assert "of being heard" in story.summary(found)[0]
