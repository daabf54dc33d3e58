"""Bands, their edges and segments.

Outside values: the amateur edges of Article 5 of the Radio Regulations and the segments of the regional band
plans, from memory; the facts that a voice operator on 40 m may use 7.060 to 7.200 MHz in region 1 and to
7.300 in region 2, and that 30 m is kept free of voice, are common knowledge of the trade.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.geo.gazetteer import gazetteer
from propagation.geo.places import resolve
from propagation.spectrum import bands
from propagation.spectrum.bands import BAND_NAMES, BANDS, Band
from propagation.spectrum.modes import MODES
from propagation.spectrum.national import NATIONAL, National, national_by_name

REGIONS = (1, 2, 3)


def test_bands_rise_in_frequency_and_are_named_by_their_wavelength() -> None:
    """Names are round figures: 300 over the metres meets the band within an eighth (60 m: 5 MHz for 5.36)."""
    lows = [band.widest_mhz[0] for band in BANDS]
    assert lows == sorted(lows)
    for band in BANDS:
        low, high = band.widest_mhz
        assert low / 1.125 < 300.0 / float(band.name.removesuffix("m")) < high * 1.125, band.name


@pytest.mark.parametrize(
    ("name", "region", "edges"),
    [
        ("160m", 1, (1.810, 2.000)),
        ("160m", 2, (1.800, 2.000)),
        ("80m", 1, (3.500, 3.800)),
        ("80m", 2, (3.500, 4.000)),
        ("80m", 3, (3.500, 3.900)),
        ("60m", 3, (5.3515, 5.3665)),
        ("40m", 1, (7.000, 7.200)),
        ("40m", 2, (7.000, 7.300)),
        ("20m", 2, (14.000, 14.350)),
        ("6m", 1, (50.000, 52.000)),
        ("2m", 1, (144.000, 146.000)),
        ("2m", 2, (144.000, 148.000)),
    ],
)
def test_edges_by_region(name: str, region: int, edges: tuple[float, float]) -> None:
    assert bands.by_name(name).edges(region) == edges


@pytest.mark.parametrize("band", BANDS, ids=lambda band: band.name)
@pytest.mark.parametrize("region", REGIONS)
def test_segments_lie_inside_the_band_and_the_centre_inside_the_segment(band: Band, region: int) -> None:
    low, high = band.edges(region)
    for mode in MODES:
        segment = bands.segment_mhz(band, region, mode)
        centre = bands.centre_mhz(band, region, mode)
        if segment is None:
            assert low <= centre <= high
        else:
            assert low <= segment[0] < segment[1] <= high
            assert segment[0] <= centre <= segment[1]
            assert segment[1] - segment[0] >= mode.bandwidth_hz / 1e6


@pytest.mark.parametrize("national", NATIONAL, ids=lambda national: national.name)
def test_national_limits_keep_every_segment_inside_what_is_allowed(national: National) -> None:
    assert set(national.spans_mhz) | set(national.segments_mhz) <= set(BAND_NAMES)
    for band in BANDS:
        spans = bands.spans_mhz(band, national.region, national)
        assert all(low < high for low, high in spans)
        for mode in MODES:
            segment = bands.segment_mhz(band, national.region, mode, national)
            if segment is not None:
                assert any(low <= segment[0] and segment[1] <= high for low, high in spans)


def test_voice_on_40_m_differs_between_the_regions_and_the_usa() -> None:
    forty = bands.by_name("40m")
    assert bands.segment_mhz(forty, 1, "SSB") == (7.060, 7.200)
    assert bands.segment_mhz(forty, 2, "SSB") == (7.060, 7.300)
    assert bands.segment_mhz(forty, 2, "SSB", national_by_name("usa")) == (7.125, 7.300)


def test_30_m_has_no_voice_but_in_southern_africa() -> None:
    thirty = bands.by_name("30m")
    assert not any(bands.usable(thirty, region, "SSB") for region in REGIONS)
    assert bands.usable(thirty, 1, "CW")
    assert bands.usable(thirty, 1, "SSB", national_by_name("South Africa"))


def test_fm_has_its_place_only_at_29_mhz_and_above() -> None:
    assert [band.name for band in BANDS if bands.usable(band, 1, "FM")] == ["10m", "6m", "2m"]


@pytest.mark.parametrize("text", ["20m", "20 m", "20", " 20M ", "20 metres", "20 meters"])
def test_a_band_is_named_as_people_write_it(text: str) -> None:
    assert bands.by_name(text).name == "20m"


@pytest.mark.parametrize("text", ["", "21m", "2", "m", "twenty"])
def test_other_names_are_one_band_or_one_sentence(text: str) -> None:
    if text == "2":
        assert bands.by_name(text).name == "2m"
        return
    with pytest.raises(InputError, match="bands are 160m"):
        bands.by_name(text)


def test_an_unknown_country_names_the_nearest() -> None:
    with pytest.raises(InputError, match="'South Africa'"):
        national_by_name("Suth Africa")


def test_region_4_does_not_exist() -> None:
    with pytest.raises(InputError, match="region 4"):
        bands.BANDS[0].edges(4)


@given(st.floats(0.1, 200.0), st.sampled_from(REGIONS))
def test_a_frequency_is_in_the_band_that_holds_it(frequency_mhz: float, region: int) -> None:
    found = bands.band_of(frequency_mhz, region)
    inside = [band for band in BANDS if band.edges(region)[0] <= frequency_mhz <= band.edges(region)[1]]
    assert found == (inside[0] if inside else None)


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "region"),
    [
        (-29.5, 29.5, 1), (51.5, 0.0, 1), (60.0, 90.0, 1), (48.0, 106.0, 1), (24.0, 54.0, 1),
        (38.7, -27.2, 1),
        (-34.5, -55.0, 2), (40.0, -90.0, 2), (21.3, -157.8, 2), (64.0, -150.0, 2), (-8.0, -35.0, 2),
        (-33.9, 151.2, 3), (35.7, 139.7, 3), (28.6, 77.2, 3), (1.3, 103.8, 3), (-13.8, -171.8, 3),
    ],
)  # fmt: skip
def test_itu_region_of_places_well_inside_their_region(lat_deg: float, lon_deg: float, region: int) -> None:
    assert bands.itu_region(lat_deg, lon_deg) == region


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
def test_every_place_has_a_region(lat_deg: float, lon_deg: float) -> None:
    assert bands.itu_region(lat_deg, lon_deg) in REGIONS


def test_the_thirty_countries_with_most_operators_have_limits_of_their_own() -> None:
    countries = [region for region in gazetteer().regions if region.kind == "country"]
    most = sorted(countries, key=lambda region: -region.amateurs)
    listed = {national.iso for national in NATIONAL} - {""}
    # the table is of orders of magnitude: below the first 22 many are alike, and any of them will do
    assert {region.code for region in most[:22]} <= listed
    floor = most[29].amateurs
    assert len([region for region in most if region.code in listed and region.amateurs >= floor]) >= 30


@pytest.mark.parametrize("national", NATIONAL, ids=lambda national: national.name)
def test_every_entry_says_that_it_is_from_memory_and_names_its_country(national: National) -> None:
    assert "from memory, check" in national.told
    found = [region for region in gazetteer().regions if region.kind == "country"]
    region = next((one for one in found if one.code == national.iso), None)
    if region is None:
        assert not national.iso
        assert national.name == f"Region {national.region}"
        assert not national.spans_mhz
    else:
        assert national.name in (region.name, *region.others)
        town = resolve(region.name)
        assert bands.itu_region(town.centre.lat_deg, town.centre.lon_deg) == national.region


def test_a_country_is_found_by_its_other_names() -> None:
    assert national_by_name("united states").name == "USA"
    assert national_by_name("Great Britain").name == "UK"


def test_the_narrow_parts_of_a_country_move_the_frequency() -> None:
    eighty, sixty, two = (bands.by_name(name) for name in ("80m", "60m", "2m"))
    japan = national_by_name("Japan")
    low, high = bands.segment_mhz(eighty, 3, "SSB", japan) or (0.0, 0.0)
    assert any(a <= low and high <= b for a, b in japan.spans_mhz["80m"])
    assert not bands.usable(sixty, 3, "SSB", japan)
    assert bands.segment_mhz(two, 3, "FM", national_by_name("Taiwan")) == (145.0, 146.0)
