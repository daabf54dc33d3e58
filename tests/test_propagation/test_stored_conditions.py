"""Stored copies, typed-in facts and the built-in record made into one state, the better fact counting."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored
from propagation.base.time_series import as_times
from propagation.space_weather.indices.solar_index import flux_from_index
from propagation.space_weather.sources.hosts import INDEX_PRODUCTS
from propagation.space_weather.state.conditions import QUIET_KP, Conditions, built_in
from propagation.space_weather.state.hand_entry import (
    COPY_NAME,
    HandEntry,
    add_entry,
    entries_of,
    forget_entries,
)
from propagation.space_weather.state.stored_conditions import best, from_store

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "space_weather"
NOW = np.datetime64("2031-02-27T09:30", "s")
FILES = {
    "planetary-k": "planetary_k_new.json", "planetary-k-forecast": "planetary_k_forecast_new.json",
    "three-days": "three_days.txt", "outlook": "outlook.txt", "flux": "flux.json",
    "daily-indices": "daily_indices.txt", "alert": "alert.txt", "xrays": "xrays.json",
    "scales": "scales.json",
    "predicted-cycle": "predicted_cycle.json", "observed-cycle": "observed_cycle.json",
}  # fmt: skip


def t(text: str) -> np.datetime64:
    return np.datetime64(text, "s")


def put(store: Store, name: str, body: bytes) -> None:
    store.put(Stored(name, body, f"https://example.org{INDEX_PRODUCTS[name].path}", NOW, NOW))


@pytest.fixture
def full(tmp_path: Path) -> Store:
    store = Store(tmp_path)
    for name, file in FILES.items():
        put(store, name, (FOLDER / file).read_bytes())
    return store


def test_an_empty_store_is_the_built_in_record(tmp_path: Path) -> None:
    times = as_times(["2020-01-01", "2031-03-01"])
    for state in (from_store(Store(tmp_path), times, NOW), best(None, times, NOW)):
        np.testing.assert_array_equal(state.index_at(times), built_in().index_at(times))
        assert state.source == built_in(times).source


def test_everything_fetched(full: Store) -> None:
    state = from_store(full, NOW, NOW)
    assert state.source.startswith("fetched")
    noon = {row["time_tag"]: row["flux"] for row in json.loads((FOLDER / "flux.json").read_text())}
    assert state.flux_at(t("2031-02-25T20:00")) == noon["2031-02-25T20:00:00"]
    observed = {
        row["time_tag"]: row["Kp"] for row in json.loads((FOLDER / "planetary_k_new.json").read_text())
    }
    assert state.kp_at(t("2031-02-27T04:00")) == observed["2031-02-27T03:00:00"]
    assert state.kp_known(t("2031-03-01T12:00"))
    assert len(state.facts) == len(FILES)
    assert any("S2" in note for note in state.notes)
    assert state.protons_at(NOW) == 100.0  # S2
    assert state.protons_at(t("2031-03-01T00:00")) == 0.0
    # outside the fetched span the built-in record still answers
    assert state.kp_at(t("2024-05-11T01:00")) == 9.0
    np.testing.assert_allclose(
        state.index_at(t("2012-05-20")), built_in().index_at(t("2012-05-20")), atol=1e-9
    )


def test_three_days_count_before_the_outlook(full: Store) -> None:
    with_days = from_store(full, NOW, NOW)
    full.remove("three-days")
    full.remove("planetary-k-forecast")
    outlook_only = from_store(full, NOW, NOW)
    time = t("2031-02-28T10:00")
    assert with_days.kp_at(time) != outlook_only.kp_at(time)
    late = t("2031-03-10T10:00")
    assert with_days.kp_at(late) == outlook_only.kp_at(late)
    assert with_days.kp_known(late)
    assert not with_days.kp_known(t("2031-06-01"))
    assert with_days.kp_at(t("2031-06-01")) == QUIET_KP


def test_outlook_drives_the_index_of_the_coming_days(full: Store) -> None:
    state = from_store(full, NOW, NOW)
    flux = state.flux_at(as_times(["2031-03-05T20:00", "2031-03-15T20:00"]))
    lines = {line[:11]: line.split() for line in (FOLDER / "outlook.txt").read_text().splitlines()}
    np.testing.assert_allclose(
        flux, [float(lines["2031 Mar 05"][3]), float(lines["2031 Mar 15"][3])], atol=1e-9
    )


def test_predicted_cycle_replaces_the_built_in_one(full: Store) -> None:
    # predicted_cycle.json: 103.0 in February 2031, falling by 1.1 a month; the built-in forecast has about 11
    state = from_store(full, NOW, NOW)
    np.testing.assert_allclose(state.ssn_at(t("2032-08-16")), 103.0 - 1.1 * 18, atol=0.6)
    assert built_in().ssn_at(t("2031-02-15")) < 30


def test_a_flare_fades(full: Store) -> None:
    state = from_store(full, NOW, NOW)
    peak = state.xray_at(t("2031-02-27T08:52"))
    np.testing.assert_allclose(peak, 3.31e-5, rtol=1e-6)
    after = state.xray_at(as_times(["2031-02-27T09:09", "2031-02-27T09:40", "2031-02-27T11:00"]))
    assert (np.diff(after) <= 0).all()
    assert after[-1] <= 1.0e-6
    assert state.xray_at(t("2031-02-28T09:00")) == 0.0


@pytest.mark.parametrize("name", FILES)
def test_one_broken_product_never_takes_the_others_down(full: Store, name: str) -> None:
    whole = from_store(full, NOW, NOW)
    for junk in (b"<html>login</html>", b"", b'[{"time_tag": 3}]'):
        put(full, name, junk)
        state = from_store(full, NOW, NOW)
        assert np.isfinite(state.index_at(NOW))
        assert [fact.value for fact in state.facts if fact.what == INDEX_PRODUCTS[name].what] != [""]
        assert len(state.facts) == len(whole.facts)


def test_a_damaged_copy_is_named(full: Store) -> None:
    file = full.directory / "flux.stored"
    file.write_bytes(file.read_bytes()[:-5])
    state = from_store(full, NOW, NOW)
    assert any("flux.stored is damaged" in note for note in state.notes)
    assert 110 < state.flux_at(t("2031-02-25T20:00")) < 170  # the daily indices still have it


def test_facts_from_the_future_are_not_believed(full: Store) -> None:
    early = t("2029-06-01")
    state = from_store(full, early, early)
    assert any("check the clock" in note for note in state.notes)
    assert not state.kp_known(
        t("2031-02-22T12:00")
    )  # "observed" two years from now; no forecast reaches there
    assert from_store(full, NOW, NOW).kp_known(t("2031-02-22T12:00"))
    assert "months" in state.age_text(early)


def test_old_copies_do_no_harm(full: Store) -> None:
    later = t("2033-06-01")
    state = from_store(full, later, later)
    assert not state.kp_known(later)
    assert state.age_text(later).endswith("months old")


def typed(tmp_path: Path, **numbers: float) -> tuple[Store, Conditions]:
    store = Store(tmp_path)
    add_entry(store, HandEntry(NOW, **numbers))
    return store, from_store(store, NOW, NOW)


def test_typed_in_counts_before_all(full: Store) -> None:
    add_entry(full, HandEntry(NOW, flux_sfu=222.0, kp=7.0))
    state = from_store(full, NOW, NOW)
    assert state.kp_at(NOW) == 7.0
    assert state.flux_at(t("2031-02-26T20:00")) == 222.0  # the last measurement; never taken for a burst
    assert state.source.startswith("typed in, fetched")
    assert state.age_text(NOW) == "just now"


def test_typed_flux_alone_bends_the_index_and_is_forgotten(tmp_path: Path) -> None:
    _, state = typed(tmp_path, flux_sfu=200.0)
    assert state.flux_at(t("2031-02-26T20:00")) == 200.0
    index = state.index_at(as_times(["2031-02-26T20:00", "2031-03-10T20:00", "2031-04-20T20:00"]))
    base = built_in().index_at(t("2031-04-20T20:00"))
    assert index[0] > index[1] > index[2]
    np.testing.assert_allclose(index[2], base, atol=1e-9)
    assert index[0] - base > 20  # 200 sfu in a minimum of 71: half of the way counts at once, of it 0.6


def test_typed_sunspot_number(tmp_path: Path) -> None:
    _, state = typed(tmp_path, ssn=150.0)
    assert state.ssn_at(NOW) == pytest.approx(150, abs=25)


def test_typed_k_holds_then_fades_and_a_fills_the_day_before(tmp_path: Path) -> None:
    _, state = typed(tmp_path, kp=6.0, a_index=27.0)
    hours = as_times(
        ["2031-02-27T09:30", "2031-02-27T14:00", "2031-02-27T16:00", "2031-02-28T03:00", "2031-03-01"]
    )
    kp = state.kp_at(hours)
    assert kp[0] == kp[1] == 6.0
    assert 6.0 > kp[2] > kp[3] > QUIET_KP
    assert kp[4] == QUIET_KP
    np.testing.assert_array_equal(state.ap_history(NOW)[4:12], np.full(8, 27.0))
    assert state.ap_history(NOW)[12] == 80.0


def test_typed_flare_and_protons(tmp_path: Path) -> None:
    _, state = typed(tmp_path, xray_w_m2=1e-4, protons_pfu=1000.0)
    assert state.xray_at(NOW) == 1e-4
    assert 1e-6 < state.xray_at(t("2031-02-27T10:00")) < 1e-4
    assert state.protons_at(t("2031-02-27T20:00")) == 1000.0


def test_entries_are_kept_in_order_and_forgotten(tmp_path: Path) -> None:
    store = Store(tmp_path)
    for days in (0, 30, 100):
        add_entry(store, HandEntry(NOW + np.timedelta64(days, "D"), flux_sfu=100.0 + days))
    assert [entry.flux_sfu for entry in entries_of(store)] == [130.0, 200.0]
    assert forget_entries(store)
    assert entries_of(store) == []


@pytest.mark.parametrize(
    "body", [b"", b"{}", b"[3]", b'[{"at": "never", "kp": 3}]', b'[{"at": "2031-02-27", "kp": 30}]']
)
def test_damaged_entries_are_named_and_replaced(tmp_path: Path, body: bytes) -> None:
    store = Store(tmp_path)
    store.put(Stored(COPY_NAME, body, "hand", NOW, NOW))
    state = from_store(store, NOW, NOW)
    if body != b"{}":
        assert any("typed in" in note for note in state.notes)
    add_entry(store, HandEntry(NOW, kp=2.0))
    assert len(entries_of(store)) == 1


@pytest.mark.parametrize("numbers", [{}, {"flux_sfu": 20.0}, {"kp": 9.5}, {"ssn": 10.0, "flux_sfu": 100.0}])
def test_entries_refused(tmp_path: Path, numbers: dict[str, float]) -> None:
    with pytest.raises(InputError):
        add_entry(Store(tmp_path), HandEntry(NOW, **numbers))


def test_numbers_given_with_a_command_stand_over_the_store(full: Store) -> None:
    state = best(full, NOW, NOW, flux_sfu=100.0)
    np.testing.assert_allclose(flux_from_index(state.index_at(NOW)), 100.0)
    assert state.kp_at(t("2031-02-27T04:00")) == from_store(full, NOW, NOW).kp_at(t("2031-02-27T04:00"))
    assert best(full, NOW, NOW, kp=0.0).kp_at(NOW) == 0.0
