"""Call-sign prefixes against well-known allocations (Radio Regulations, Appendix 42, from memory)."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from propagation.geo import places
from propagation.geo.locator import Position
from propagation.geo.places import resolve
from propagation.logbook.prefixes import _series, origin, place_text, region_of


@pytest.mark.parametrize(
    ("call", "country"),
    [
        ("ZS5TEST", "KwaZulu-Natal"),
        ("ZT1TEST", "Western Cape"),
        ("CX4TEST", "Uruguay"),
        ("CV3TEST", "Uruguay"),
        ("DL1TEST", "Germany"),
        ("DS1TEST", "South Korea"),
        ("DU1TEST", "Philippines"),
        ("G4TEST", "England"),
        ("GM4TEST", "Scotland"),
        ("2E0TEST", "England"),
        ("MW0TEST", "Wales"),
        ("F6TEST", "France"),
        ("TM5TEST", "France"),
        ("TK5TEST", "Corsica"),
        ("FR5TEST", "Réunion"),
        ("K1TEST", "United States"),
        ("AA1TEST", "United States"),
        ("AM1TEST", "Spain"),
        ("KH6TEST", "Hawaii"),
        ("KL7TEST", "Alaska"),
        ("KP4TEST", "Puerto Rico"),
        ("VK6TEST", "Western Australia"),
        ("AX2TEST", "Australia"),
        ("ZL2TEST", "New Zealand"),
        ("ZP5TEST", "Paraguay"),
        ("ZY5TEST", "Brazil"),
        ("PY2TEST", "Brazil"),
        ("PZ5TEST", "Suriname"),
        ("LU1TEST", "Argentina"),
        ("LA1TEST", "Norway"),
        ("LY1TEST", "Lithuania"),
        ("LZ1TEST", "Bulgaria"),
        ("LX1TEST", "Luxembourg"),
        ("3DA0TEST", "Eswatini"),
        ("3D2TEST", "Fiji"),
        ("3B8TEST", "Mauritius"),
        ("5R8TEST", "Madagascar"),
        ("7P8TEST", "Lesotho"),
        ("A25TEST", "Botswana"),
        ("C91TEST", "Mozambique"),
        ("V51TEST", "Namibia"),
        ("Z21TEST", "Zimbabwe"),
        ("9J2TEST", "Zambia"),
        ("JA1TEST", "Japan"),
        ("JT1TEST", "Mongolia"),
        ("JY1TEST", "Jordan"),
        ("BY1TEST", "China"),
        ("BV1TEST", "Taiwan"),
        ("VR2TEST", "Hong Kong"),
        ("UA1TEST", "European Russia"),
        ("R9TEST", "Asiatic Russia"),
        ("UA0TEST", "Asiatic Russia"),
        ("UN7TEST", "Kazakhstan"),
        ("UR5TEST", "Ukraine"),
        ("SU1TEST", "Egypt"),
        ("SSA1TEST", "Egypt"),
        ("ST2TEST", "Sudan"),
        ("SV1TEST", "Greece"),
        ("EA6TEST", "Balearic Islands"),
        ("EA8TEST", "Canary Islands"),
        ("CT1TEST", "Portugal"),
        ("CT3TEST", "Madeira"),
        ("CU2TEST", "Azores"),
        ("OH0TEST", "Åland Islands"),
        ("OH2TEST", "Finland"),
        ("OX3TEST", "Greenland"),
        ("OZ1TEST", "Denmark"),
        ("HB0TEST", "Liechtenstein"),
        ("HB9TEST", "Switzerland"),
        ("9A1TEST", "Croatia"),
        ("S51TEST", "Slovenia"),
        ("VE3TEST", "Ontario"),
        ("VO1TEST", "Newfoundland and Labrador"),
        ("ZD7TEST", "Saint Helena"),
        # after a stroke
        ("EA8/G4TEST", "Canary Islands"),
        ("G4TEST/EA8", "Canary Islands"),
        ("F/ZS5TEST", "France"),
        ("ZS5TEST/1", "Western Cape"),
        ("VE3TEST/7", "British Columbia"),
        ("ZS5TEST/P", "KwaZulu-Natal"),
        ("ZS5TEST/QRP", "KwaZulu-Natal"),
        ("OE/DL1TEST/P", "Austria"),
        ("zs5test/m", "KwaZulu-Natal"),
        ("W7TEST/KH6", "Hawaii"),
    ],
)
def test_well_known_prefixes(call: str, country: str) -> None:
    found = origin(call)
    assert found.countries == (country,)
    assert not found.ambiguous


@pytest.mark.parametrize(
    ("call", "word"),
    [
        ("G4TEST/MM", "ship"),
        ("G4TEST/AM", "aircraft"),
        ("QQ1TEST", "no series"),
        ("X1TEST", "no series"),
        ("D1TEST", "no series"),
        ("C7TEST", "Meteorological"),
        ("", "not a call sign"),
        ("[red]", "not a call sign"),
        ("TEST", "not a call sign"),
        ("///", "not a call sign"),
    ],
)
def test_calls_that_tell_nothing_say_why(call: str, word: str) -> None:
    found = origin(call)
    assert found.countries == ()
    assert word in found.note
    assert np.isnan([found.lat_deg, found.lon_deg, found.uncertainty_km]).all()


def test_shared_series_name_all_that_share_them_and_widen_the_answer() -> None:
    found = origin("VP8TEST")
    assert found.ambiguous
    assert "Falkland Islands" in found.countries
    assert found.uncertainty_km > 1000.0
    north = origin("ZS6TEST")
    assert north.ambiguous
    assert north.uncertainty_km < 300.0  # the four provinces round Pretoria (atlas)


def test_large_countries_are_uncertain_and_small_ones_are_not() -> None:
    assert 1000.0 < origin("K1TEST").uncertainty_km < 2500.0
    assert origin("HB0TEST").uncertainty_km < 100.0
    place = origin("CX4TEST")
    np.testing.assert_allclose([place.lat_deg, place.lon_deg], [-34, -56.3], atol=1.0)


def test_every_code_of_the_table_names_a_region_that_places_knows() -> None:
    for first, last, digits, codes in _series():
        assert len(first) == len(last)
        assert first <= last
        assert all(mark.isdigit() for mark in digits)
        if codes[0].startswith("-"):
            continue
        for code in codes:
            assert places.resolve(region_of(code).name).kind == "region"


def test_series_do_not_overlap() -> None:
    plain = sorted((first, last) for first, last, digits, _ in _series() if not digits and len(first) == 3)
    for (_, before), (after, _) in itertools.pairwise(plain):
        assert before < after


@given(st.text(max_size=16))
@settings(max_examples=300, deadline=None)
def test_any_text_has_an_origin_or_a_note(text: str) -> None:
    found = origin(text)
    assert found.note
    assert bool(found.countries) == np.isfinite(found.lat_deg)


@given(st.from_regex(r"[A-Z0-9]{1,3}[0-9][A-Z]{1,4}(/[A-Z0-9]{1,4})?", fullmatch=True))
@settings(max_examples=300, deadline=None)
def test_any_call_has_a_valid_origin(call: str) -> None:
    found = origin(call)
    if found.countries:
        assert abs(found.lat_deg) <= 90.0
        assert abs(found.lon_deg) <= 180.0
        assert found.uncertainty_km >= 75.0


@pytest.mark.parametrize(
    ("call", "locator", "place"),
    [
        ("ZS2TEST", "", "Eastern Cape"),
        ("DL1TEST", "", "Germany"),
        ("DL1TEST", "JN48", "JN48"),  # a locator says more than a prefix
        ("K6TEST/MM", "", ""),  # a ship tells no place
        ("QQQ", "", ""),
    ],
)
def test_the_place_of_a_station_is_its_locator_or_its_country(call: str, locator: str, place: str) -> None:
    assert place_text(call, locator) == place


def test_a_place_by_a_prefix_is_one_that_can_be_aimed_at() -> None:
    here = Position(-29.5, 29.5)
    calls = [
        f"{letter}{number}TEST"
        for letter in ("ZS", "DL", "K", "VK", "UA", "JA", "PY", "G", "VE")
        for number in range(10)
    ]
    places = {place_text(call) for call in calls} - {""}
    assert len(places) > 20
    for place in places:
        assert resolve(place, here).name == place
