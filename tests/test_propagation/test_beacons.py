"""The round of beacons: three minutes, five bands, eighteen stations."""

from __future__ import annotations

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.geo.locator import position_of
from propagation.spectrum.beacons import SCHEDULE_FILE, load, loads

PLACE = position_of("KG30")
TEXT = SCHEDULE_FILE.read_text(encoding="utf-8")


def test_the_round_by_the_published_rule() -> None:
    # Published rule: the first station starts the hour on 14.100 MHz and moves up one band every ten seconds;
    # the second follows ten seconds behind it; the round lasts three minutes.
    schedule = load()
    assert schedule.frequencies_mhz == (14.1, 18.11, 21.15, 24.93, 28.2)
    assert (len(schedule.beacons), schedule.round_s) == (18, 180)
    hour = np.datetime64("2031-02-27T09:00:00", "s")
    for slot in range(5):
        assert schedule.on_air(hour + np.timedelta64(10 * slot, "s"))[slot] == 0
    assert list(schedule.on_air(hour + np.timedelta64(10, "s"))[:2]) == [1, 0]
    assert list(schedule.on_air(hour)) == [0, 17, 16, 15, 14]
    assert (schedule.on_air(hour + np.timedelta64(180, "s")) == schedule.on_air(hour)).all()


def test_each_beacon_is_on_each_band_once_a_round() -> None:
    schedule = load()
    times = np.datetime64("2031-02-27T09:00:05", "s") + np.arange(0, 180, 10) * np.timedelta64(1, "s")
    on = schedule.on_air(times)
    assert on.shape == (18, 5)
    for band in range(5):
        assert sorted(on[:, band]) == list(range(18))
    assert all(len(set(row)) == 5 for row in on.tolist())


def test_turns_seen_from_a_place() -> None:
    schedule = load()
    turns = schedule.turns(np.datetime64("2031-02-27T09:00:13", "s"), PLACE)
    assert [turn.band for turn in turns] == ["20m", "17m", "15m", "12m", "10m"]
    assert turns[1].beacon is schedule.beacons[0]
    assert turns[0].start == np.datetime64("2031-02-27T09:00:10")
    assert turns[0].end == np.datetime64("2031-02-27T09:00:20")
    assert all(0 <= turn.bearing_deg < 360 and 0 < turn.distance_km < 20100 for turn in turns)


def test_next_turn() -> None:
    schedule = load()
    time = np.datetime64("2031-02-27T09:01:03", "s")
    for number, beacon in enumerate(schedule.beacons):
        turn = schedule.next_turn(beacon.name, 21.15, time, PLACE)
        assert turn.end > time
        assert turn.start <= time + np.timedelta64(180, "s")
        assert schedule.on_air(turn.start)[2] == number


def test_names() -> None:
    schedule = load()
    assert schedule.beacons[schedule.number_of("finl")].name == "Finland"
    assert schedule.beacons[schedule.number_of("KP20eh")].name == "Finland"
    for name in ("", "s", "nowhere"):
        with pytest.raises(InputError):
            schedule.number_of(name)


def test_no_call_signs_and_a_caution_in_the_file() -> None:
    assert "check before relying on it" in TEXT
    keys = {line.split(" = ")[0] for line in TEXT.splitlines() if " = " in line and not line.startswith("#")}
    assert keys == {"frequencies_mhz", "slot_s", "power_w", "name", "locator"}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("slot_s = 10", "slot_s = 0"),
        ("slot_s = 10", 'slot_s = "ten"'),
        ("power_w = 100", "power_w = -1"),
        ("[14.100, 18.110, 21.150, 24.930, 28.200]", "[]"),
        ("[14.100, 18.110, 21.150, 24.930, 28.200]", "14.1"),
        ('locator = "FN30as"', 'locator = "XX99"'),
        ('locator = "FN30as"', ""),
        ('name = "New York"', "name = 3"),
        ('name = "New York"', 'call = "none"\nname = "New York"'),
        ("slot_s = 10", "slot_s = 10\nspeed = 22"),
        ("slot_s = 10", "slot_s = "),
        ("[[beacon]]", "[beacon]"),
    ],
)
def test_a_spoilt_schedule_is_one_sentence(old: str, new: str) -> None:
    assert old in TEXT
    with pytest.raises(InputError) as caught:
        loads(TEXT.replace(old, new, 1), "my beacons.toml")
    assert "my beacons.toml" in caught.value.message


def test_silent_beacons_can_be_marked() -> None:
    text = TEXT.replace('locator = "FN30as"', 'locator = "FN30as"\nactive = false')
    assert not loads(text, "x").beacons[0].active
