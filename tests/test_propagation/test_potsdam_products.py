"""Nowcasts of Potsdam: planetary K in place of the first host's, and Hp30 in storms.

Every number of 2031 is made up, nobody measured it; Hp30 is of an evening in June 2025, as published.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from propagation.base.store import Store, Stored
from propagation.space_weather.indices.geomagnetic_activity import ap_from_kp
from propagation.space_weather.sources.hosts import INDEX_PRODUCTS
from propagation.space_weather.sources.potsdam_products import read_hp30_nowcast, read_kp_nowcast
from propagation.space_weather.state.hand_entry import HandEntry, add_entry
from propagation.space_weather.state.stored_conditions import best, from_store

NOW = np.datetime64("2031-02-27T09:30:00", "s")
KPS = (2.0, 2.333, 5.667, -1.0)  # of 27 February from 00 UT on


def row(hour: int, kp: float) -> str:
    ap = -1 if kp < 0.0 else round(float(ap_from_kp(kp)))
    days = 36217.0 + hour / 24.0  # 27 February 2031 is 36217 days after 1 January 1932
    return f"2031 02 27 {hour:04.1f} {hour + 1.5:05.2f} {days:.5f} {days + 0.0625:.5f} {kp:6.3f} {ap:4d} 0\n"


TEXT = "# invented nowcast\n#YYY MM DD hh.h hh._m days days_m Kp ap D\n" + "".join(
    row(3 * number, kp) for number, kp in enumerate(KPS)
)


def test_k_is_read_by_the_start_of_its_three_hours_and_what_is_missing_left_out() -> None:
    reading = read_kp_nowcast(TEXT)
    assert reading.problems == ()
    assert list(reading.kp.values) == list(KPS[:3])
    assert reading.kp.times[0] == np.datetime64("2031-02-27T00:00", "s")
    assert reading.issued == np.datetime64("2031-02-27T06:00", "s")


@pytest.mark.parametrize(
    ("text", "words", "left"),
    [
        ("", "no Kp in it", 0),
        ("<html>", "web page", 0),
        (TEXT[:-20], "middle of a line", 3),
        (TEXT.replace(" 2.000 ", " 12.00 "), "outside 0 to 9.34", 2),
        (TEXT.replace(" 2.000 ", " -2.000 "), "outside 0 to 9.34", 2),
        (TEXT.replace(" 2.000 ", " 20.00 ").replace(" 5.667 ", " 4.000 "), "are inconsistent", 1),
        (TEXT.replace("27 03.0", "27 04.0"), "ten columns or a time", 2),
        (TEXT.replace("2031 02 27", "2031 02 31"), "no Kp in it", 0),
        (TEXT.replace("2031 02 27 00", "2" * 5000 + " 02 27 00"), "ten columns or a time", 2),
        (TEXT.replace(" 36217.00000", ""), "ten columns", 2),
        (TEXT.replace("36217.00000", "36217.00010"), "1 row whose date, hours and days are inconsistent", 2),
        (TEXT.replace("36217.06250", "36217.12500"), "1 row whose date, hours and days are inconsistent", 2),
        (TEXT.replace(" 01.50 ", " 01.75 "), "1 row whose date, hours and days are inconsistent", 2),
        (TEXT.replace(" 36217.00000", " nan"), "1 row whose date, hours and days are inconsistent", 2),
        (
            TEXT.replace("2031 02 27 00", "2031 02 26 00"),
            "1 row whose date, hours and days are inconsistent",
            2,
        ),
        (TEXT.replace("2031 02 27", "2032 02 27"), "4 rows whose date, hours and days are inconsistent", 0),
    ],
)
def test_a_damaged_nowcast_says_why(text: str, words: str, left: int) -> None:
    reading = read_kp_nowcast(text)
    assert len(reading.kp) == left
    assert any(words in problem for problem in reading.problems), reading.problems


def stored_k(folder: Path) -> Store:
    store = Store(folder)
    store.put(Stored("potsdam-k", TEXT.encode(), "https://example.org", NOW, NOW))
    return store


def test_a_stored_nowcast_gives_the_k_that_is_used(tmp_path: Path) -> None:
    state = from_store(stored_k(tmp_path), NOW, NOW)
    assert float(state.kp_at(np.datetime64("2031-02-27T07:00", "s"))) == pytest.approx(5.667)
    assert any("CC BY 4.0" in fact.what for fact in state.facts)


def test_the_k_of_the_first_host_has_priority(tmp_path: Path) -> None:
    store = stored_k(tmp_path)
    first = b'[{"time_tag": "2031-02-27T06:00:00", "Kp": 3.0}]'
    store.put(Stored("planetary-k", first, "https://example.org", NOW, NOW))
    state = from_store(store, NOW, NOW)
    assert float(state.kp_at(np.datetime64("2031-02-27T07:00", "s"))) == 3.0
    assert float(state.kp_at(np.datetime64("2031-02-27T04:00", "s"))) == pytest.approx(2.333)


HP30 = (Path(__file__).resolve().parents[2] / "fixtures" / "space_weather" / "hp30_nowcast.txt").read_text()
STORMY = np.datetime64("2025-06-19T20:40", "s")
CALM = np.datetime64("2025-06-19T17:10", "s")


def with_hp30(folder: Path) -> Store:
    store = Store(folder)
    store.put(Stored("potsdam-hp30", HP30.encode(), "https://example.org", STORMY, STORMY))
    return store


def test_half_hours_as_published_are_read() -> None:
    reading = INDEX_PRODUCTS["potsdam-hp30"].data(HP30.encode())
    assert reading.problems == ()
    assert reading.hp30.values.tolist() == [2.0, 2.0, 2.667, 3.667, 4.333, 4.667, 4.333, 5.333, 4.0]
    assert reading.hp30.times[1] == np.datetime64("2025-06-19T17:30", "s")
    assert reading.issued == np.datetime64("2025-06-19T21:30", "s")


@pytest.mark.parametrize(
    ("text", "words", "left"),
    [
        ("", "no Hp30 in it", 0),
        ("<html>", "web page", 0),
        (HP30[: HP30.index("5.333") + 3], "middle of a line", 7),
        (HP30.replace("5.333", "-3.00"), "outside 0 to 20", 8),
        (HP30.replace("5.333", "53.33"), "outside 0 to 20", 8),
        (HP30.replace("5.333   56", "3.333   56"), "are inconsistent", 8),
        (HP30.replace(" 20.5 20.75", " 20.7 20.75"), "ten columns or a time", 8),
        (HP30.replace("2025 06 19", "2025 06 31"), "no Hp30 in it", 0),
        (HP30.replace("2025 06 19 20.5", "2025 06 18 20.5"), "1 row whose date, hours and days", 8),
        (HP30.replace("34138.84375", "34138.85417"), "1 row whose date, hours and days", 8),
    ],
)
def test_damaged_half_hours_say_why(text: str, words: str, left: int) -> None:
    reading = read_hp30_nowcast(text)
    assert len(reading.hp30) == left
    assert any(words in problem for problem in reading.problems), reading.problems


def test_half_hours_beyond_nine_are_read_and_count_as_nine(tmp_path: Path) -> None:
    text = HP30.replace(" 5.333   56", "11.667  489")
    assert read_hp30_nowcast(text).problems == ()
    store = Store(tmp_path)
    store.put(Stored("potsdam-hp30", text.encode(), "https://example.org", STORMY, STORMY))
    assert float(best(store, STORMY, STORMY).kp_at(STORMY)) == 9.0


def test_half_hours_stand_for_k_in_a_storm_alone(tmp_path: Path) -> None:
    state, without = best(with_hp30(tmp_path), STORMY, STORMY), best(None, STORMY, STORMY)
    assert float(state.kp_at(STORMY)) == pytest.approx(5.333)
    assert float(without.kp_at(STORMY)) != pytest.approx(5.333)
    assert float(state.kp_at(CALM)) == float(without.kp_at(CALM))
    after = np.datetime64("2025-06-20T02:00", "s")  # nothing is carried on beyond its half hour
    assert float(state.kp_at(after)) == float(without.kp_at(after))
    # the storm's sum over 36 hours is made for three-hour values
    assert np.array_equal(state.ap_history(STORMY), without.ap_history(STORMY))


def test_a_k_given_by_hand_has_the_last_word_over_half_hours(tmp_path: Path) -> None:
    store = with_hp30(tmp_path)
    assert float(best(store, STORMY, STORMY, kp=3.0).kp_at(STORMY)) == 3.0
    add_entry(store, HandEntry(STORMY, kp=4.0))
    assert float(best(store, STORMY, STORMY).kp_at(STORMY)) == 4.0
