"""ProductData the space weather products: both generations of formats, cut, mangled and of the wrong kind."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.text import as_number, as_time
from propagation.base.time_series import TimeSeries
from propagation.space_weather.sources.hosts import INDEX_PRODUCTS, products_of
from propagation.space_weather.sources.product_data import (
    ProductData,
    text_of,
)

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "space_weather"
FILES = {
    "planetary_k_new.json": "planetary-k",
    "planetary_k_old.json": "planetary-k",
    "planetary_k_forecast_new.json": "planetary-k-forecast",
    "planetary_k_forecast_old.json": "planetary-k-forecast",
    "flux.json": "flux",
    "xrays.json": "xrays",
    "scales.json": "scales",
    "observed_cycle.json": "observed-cycle",
    "predicted_cycle.json": "predicted-cycle",
    "outlook.txt": "outlook",
    "three_days.txt": "three-days",
    "three_days_new_year.txt": "three-days",
    "daily_indices.txt": "daily-indices",
    "alert.txt": "alert",
}
RECORDS = (
    "flux_sfu", "flux_forecast_sfu", "kp", "kp_forecast", "daily_kp_forecast", "xray_w_m2",
    "smoothed_ssn", "smoothed_flux_sfu",
)  # fmt: skip


def body(file: str) -> bytes:
    return (FOLDER / file).read_bytes()


def read(file: str) -> ProductData:
    return INDEX_PRODUCTS[FILES[file]].data(body(file))


def same(first: TimeSeries, second: TimeSeries) -> bool:
    return np.array_equal(first.times, second.times) and np.array_equal(first.values, second.values)


@pytest.mark.parametrize("file", FILES)
def test_whole_files_read_without_a_complaint(file: str) -> None:
    reading = read(file)
    assert not reading.empty
    assert reading.problems == ()
    assert reading.issued is not None


def test_old_and_new_form_say_the_same() -> None:
    for kind in ("planetary_k", "planetary_k_forecast"):
        new, old = read(f"{kind}_new.json"), read(f"{kind}_old.json")
        assert len(new.kp) == 58
        assert same(new.kp, old.kp)
        assert same(new.kp_forecast, old.kp_forecast)
        assert new.issued == old.issued == np.datetime64("2031-02-27T03:00")


def test_observed_and_forecast_k_are_kept_apart() -> None:
    reading = read("planetary_k_forecast_new.json")
    assert len(reading.kp) == 58
    assert len(reading.kp_forecast) == 23  # the estimates of today and the forecast
    assert reading.kp_forecast.times[0] == reading.kp.times[-1] + np.timedelta64(3, "h")


def test_flux_takes_the_noon_report_of_each_day_whatever_the_order() -> None:
    rows = json.loads(body("flux.json"))
    noon = {row["time_tag"][:10]: row["flux"] for row in rows if row["reporting_schedule"] == "Noon"}
    reading = read("flux.json")
    assert len(reading.flux_sfu) == 31
    for day, value in zip(reading.flux_sfu.times, reading.flux_sfu.values, strict=True):
        # the last day has a morning report only
        expected = noon.get(str(day)[:10], rows[0]["flux"])
        assert value == expected
    assert reading.issued == np.datetime64(rows[0]["time_tag"])
    turned = INDEX_PRODUCTS["flux"].data(json.dumps(rows[::-1]).encode())
    assert same(turned.flux_sfu, reading.flux_sfu)


def test_xrays_are_the_long_band_only() -> None:
    reading = read("xrays.json")
    assert len(reading.xray_w_m2) == 40
    np.testing.assert_allclose(reading.xray_w_m2.values.max(), 3.31e-5, rtol=1e-6)
    assert reading.xray_w_m2.times[np.argmax(reading.xray_w_m2.values)] == np.datetime64("2031-02-27T08:52")


def test_scales() -> None:
    reading = read("scales.json")
    assert reading.proton_scale == 2
    assert reading.issued == np.datetime64("2031-02-27T09:05")
    assert [note[:2] for note in reading.storm_notes] == ["R1", "S2"]


def test_minus_one_is_missing_in_the_solar_cycle() -> None:
    observed, predicted = read("observed_cycle.json"), read("predicted_cycle.json")
    assert len(observed.smoothed_ssn) == 18
    assert len(predicted.smoothed_ssn) == 30
    assert predicted.smoothed_ssn.times[0] == np.datetime64("2031-02-01")  # rows carry any day of the month
    assert predicted.smoothed_ssn.values[0] == 103.0


def test_outlook() -> None:
    reading = read("outlook.txt")
    assert len(reading.flux_forecast_sfu) == 27
    assert reading.flux_forecast_sfu.times[0] == np.datetime64("2031-02-25")
    assert len(reading.daily_kp_forecast) == 27 * 8
    assert reading.a_index.values[2] == 20  # ap 20 lies between 3+ (18) and 4- (22)
    assert 3.33 < reading.daily_kp_forecast.values[16] < 3.67


def test_three_days_across_the_new_year() -> None:
    reading = read("three_days_new_year.txt")
    assert len(reading.kp_forecast) == 24
    assert reading.kp_forecast.times[0] == np.datetime64("2030-12-30T00:00")
    assert reading.kp_forecast.times[-1] == np.datetime64("2031-01-01T21:00")
    at = {
        str(time): value
        for time, value in zip(reading.kp_forecast.times, reading.kp_forecast.values, strict=True)
    }
    assert at["2030-12-31T09:00:00"] == 5.33  # "(G1)" stands behind the number
    assert at["2030-12-30T03:00:00"] == 2.33


def test_daily_indices_and_alert() -> None:
    assert len(read("daily_indices.txt").flux_sfu) == 30
    alert = read("alert.txt")
    assert (alert.flux_sfu.times[0], alert.flux_sfu.values[0]) == (np.datetime64("2031-02-26"), 139.0)
    assert alert.a_index.values[0] == 14
    assert (alert.kp.times[0], alert.kp.values[0]) == (np.datetime64("2031-02-27T06:00"), 3.33)


@pytest.mark.parametrize("file", FILES)
def test_cut_at_every_fiftieth_byte(file: str) -> None:
    whole, reference = body(file), read(file)
    for end in range(0, len(whole), 50):
        reading = INDEX_PRODUCTS[FILES[file]].data(whole[:end])
        # A cut product says so, unless what is missing lies behind all that is read.
        complete = all(same(getattr(reading, name), getattr(reference, name)) for name in RECORDS)
        complete = complete and reading.proton_scale == reference.proton_scale
        assert reading.problems or complete, (file, end)
        assert all(isinstance(problem, str) and problem.isprintable() for problem in reading.problems)
        for name in RECORDS:  # no number may come out of the cut that the whole file does not hold
            record, full = getattr(reading, name), getattr(reference, name)
            assert np.isin(record.times, full.times).all(), (file, end, name)
            assert np.array_equal(full.values[np.isin(full.times, record.times)], record.values), (
                file,
                end,
                name,
            )


@pytest.mark.parametrize("name", products_of("indices"))
@pytest.mark.parametrize(
    "junk",
    [
        b"", b"<!DOCTYPE html><html><body>Moved</body></html>", b"[]", b"{}", b"null", b"[[]]", b"[1, 2, 3]",
        b'[{"a": 1}]', b'[["time_tag", "kp"]]', b"\xff\xfe\x00\x00\xff", b"\x00" * 100, b"[" * 100_000,
        b'[{"time_tag": "2031-99-99T99:99:99", "kp": "x", "flux": NaN}]', b'{"0": {"S": {"Scale": "nine"}}}',
        b"2031 Feb 31     135           5          2\n", ":Issued: 2031 Foo 99 9999 UTC\n".encode("utf-16"),
        b'[{"time_tag": null}, null, 3, [], {"time_tag": "2031-02-27T00:00:00", "kp": 99, "flux": 1e9}]',
    ],
)  # fmt: skip
def test_junk_is_reported_and_gives_nothing(name: str, junk: bytes) -> None:
    reading = INDEX_PRODUCTS[name].data(junk)
    assert reading.empty
    assert reading.problems


def test_missing_keys_are_named() -> None:
    rows = [{"time_tag": "2031-02-27T00:00:00", "Kplanetary": 3.0}]
    (problem,) = INDEX_PRODUCTS["planetary-k"].data(json.dumps(rows).encode()).problems
    assert "'kp'" in problem
    assert "kplanetary" in problem
    rows = [{"when": "2031-02-27T00:00:00", "Kp": 3.0}]
    (problem,) = INDEX_PRODUCTS["planetary-k"].data(json.dumps(rows).encode()).problems
    assert "'time_tag'" in problem


def test_unknown_keys_and_new_spellings_do_no_harm() -> None:
    rows = [{"Time-Tag": "2031-02-27T03:00:00Z", "KP": "3.33", "brand_new": {"deep": [1]}}]
    reading = INDEX_PRODUCTS["planetary-k"].data(json.dumps(rows).encode())
    assert reading.problems == ()
    assert reading.kp.values[0] == 3.33


def test_values_out_of_range_are_counted_and_left_out() -> None:
    rows = [
        {"time_tag": f"2031-02-{day:02d}T20:00:00", "flux": flux}
        for day, flux in ((1, 140), (2, 939), (3, 0))
    ]
    reading = INDEX_PRODUCTS["flux"].data(json.dumps(rows).encode())
    assert len(reading.flux_sfu) == 1
    assert "2 rows" in reading.problems[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[" * 200_000 + "]" * 200_000, "nested too deeply (400000 characters)"),
        ('{"a":' * 100_000 + "1" + "}" * 100_000, "nested too deeply"),
        ("[" * 200_000, "nested too deeply"),
        ("[" + "9" * 5000 + "]", "a number of thousands of digits"),
        ("[1, 2", "ends too early"),
        ("[1, x, 2]", "character 4 makes no sense"),
    ],
)
def test_what_json_cannot_be_read_for_is_named(text: str, words: str) -> None:
    for name in ("flux", "planetary-k"):
        (problem,) = INDEX_PRODUCTS[name].data(text.encode()).problems
        assert words in problem
        assert "None" not in problem


def test_encodings() -> None:
    text = body("planetary_k_new.json").decode()
    for encoding in ("utf-8-sig", "utf-16", "latin-1"):
        assert len(INDEX_PRODUCTS["planetary-k"].data(text.encode(encoding)).kp) == 58
    assert text_of(b"caf\xe9")[1] == "not UTF-8 at byte 3; read as Latin-1"


@given(st.binary(max_size=400))
def test_any_bytes_at_all(junk: bytes) -> None:
    for name in products_of("indices"):
        assert isinstance(INDEX_PRODUCTS[name].data(junk), ProductData)


@given(st.sampled_from(sorted(FILES)), st.integers(0, 3000), st.binary(min_size=1, max_size=8))
def test_bytes_changed_in_place(file: str, at: int, patch: bytes) -> None:
    whole = body(file)
    damaged = whole[:at] + patch + whole[at + len(patch) :]
    reading = INDEX_PRODUCTS[FILES[file]].data(damaged)
    for record in (reading.flux_sfu, reading.flux_forecast_sfu, reading.smoothed_flux_sfu):
        assert ((record.values >= 50) & (record.values <= 500)).all()
    for record in (reading.kp, reading.kp_forecast, reading.daily_kp_forecast):
        assert ((record.values >= 0) & (record.values <= 9.34)).all()


def test_times_and_numbers() -> None:
    for text in (
        "2031-02-27T03:00:00",
        "2031-02-27 03:00:00.000",
        "2031-02-27T03:00:00Z",
        "2031-02-27T03:00Z",
    ):
        assert as_time(text) == np.datetime64("2031-02-27T03:00:00")
    assert as_time("2031-02") == np.datetime64("2031-02-01")
    for junk in ("", "soon", "2031-13-01", "2031-02-30", "27.02.2031", None, 20310227, "9999-01-01"):
        assert as_time(junk) is None
    assert as_number("3.67") == 3.67
    for value in (None, "", "x", True, "nan", "inf", [3], float("nan")):
        assert as_number(value) is None
