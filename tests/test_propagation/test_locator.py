"""Locators against published examples, their corners, and the round trip."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.base.errors import InputError
from propagation.geo.locator import LENGTHS, Position, locator_of, parse_position, position_of, positions_of

latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "locator"),
    [
        (-32.100054, 116.051551, "OF87av"),  # beacon list entry published with both (coordinates to 0.1 m)
        (41.7148, -72.7273, "FN31pr"),  # Newington, Connecticut; published with both
        (48.14666, 11.60833, "JN58td"),  # worked example of the locator definition
    ],
)
def test_published_examples(lat_deg: float, lon_deg: float, locator: str) -> None:
    assert locator_of(lat_deg, lon_deg) == locator
    centre = position_of(locator)
    assert abs(centre.lat_deg - lat_deg) <= 1.25 / 60.0  # half a subsquare's height
    assert abs(centre.lon_deg - lon_deg) <= 2.5 / 60.0  # half its width


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "locator"),
    [
        (90.0, 180.0, "RR99xx"),  # the corner with no cell to its north and east: the last one
        (90.0, -180.0, "AR09ax"),
        (-90.0, 180.0, "RA90xa"),
        (-90.0, -180.0, "AA00aa"),
        (0.0, 0.0, "JJ00aa"),  # an edge belongs to the cell to its north and east
        (-1e-6, -1e-6, "II99xx"),
        (0.0, 180.0, "RJ90xa"),  # the date line from the west
        (0.0, -180.0, "AJ00aa"),  # and from the east
        (0.0, 190.0, "AJ50aa"),  # longitudes are brought round
        (0.0, -190.0, "RJ50aa"),
    ],
)
def test_edges(lat_deg: float, lon_deg: float, locator: str) -> None:
    assert locator_of(lat_deg, lon_deg) == locator


def test_lengths_nest() -> None:
    whole = locator_of(90.0, 180.0, 8)
    assert whole == "RR99xx99"
    assert [locator_of(90.0, 180.0, n) for n in LENGTHS] == [whole[:n] for n in LENGTHS]


@pytest.mark.parametrize("minutes", range(0, 60, 5))
def test_edges_written_in_decimal_degrees_stay_on_their_side(minutes: int) -> None:
    """A subsquare's west edge typed in decimals is inside it, however the decimals round."""
    west = float(f"{10 + minutes / 60:.12f}")
    letter = chr(ord("a") + minutes // 5)
    assert locator_of(48.001, west) == f"JN58{letter}a"


def test_centres_of_each_length() -> None:
    assert position_of("JJ") == Position(5.0, 10.0)
    assert position_of("JJ00") == Position(0.5, 1.0)
    np.testing.assert_allclose(
        (position_of("JJ00aa").lat_deg, position_of("JJ00aa").lon_deg), (1.25 / 60, 2.5 / 60), rtol=1e-9
    )
    np.testing.assert_allclose(
        (position_of("JJ00aa00").lat_deg, position_of("JJ00aa00").lon_deg), (7.5 / 3600, 15 / 3600), rtol=1e-9
    )
    assert position_of(" jn58TD ") == position_of("JN58td")


@given(lat=latitudes, lon=longitudes, characters=st.sampled_from(LENGTHS))
def test_round_trip(lat: float, lon: float, characters: int) -> None:
    locator = locator_of(lat, lon, characters)
    centre = position_of(locator)
    assert len(locator) == characters
    assert locator_of(centre.lat_deg, centre.lon_deg, characters) == locator
    half_height = 5.0 / [1, 10, 240, 2400][characters // 2 - 1]
    assert abs(centre.lat_deg - lat) <= half_height * (1 + 1e-6)
    assert abs(centre.lon_deg - lon) <= 2.0 * half_height * (1 + 1e-6)


@pytest.mark.parametrize(
    "text", ["", "J", "JN5", "ZZ00", "JN58ty", "JN58td1", "JN58td001", "12JN", "JÑ58", "JN 58"]
)
def test_no_locator(text: str) -> None:
    with pytest.raises(InputError, match="not a locator"):
        position_of(text)


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("-29.5,29.5", Position(-29.5, 29.5)),
        (" -29.5 , 29.5 ", Position(-29.5, 29.5)),
        ("\N{MINUS SIGN}29.5,+29", Position(-29.5, 29.0)),
        (".5,-.5", Position(0.5, -0.5)),
        ("kg30", Position(-29.5, 27.0)),
        ("90,180", Position(90.0, 180.0)),
    ],
)
def test_typed_positions(text: str, position: Position) -> None:
    assert parse_position(text) == position


@pytest.mark.parametrize(
    "text", ["", "KG", "Durban", "1;2", "1,2,3", "91,0", "0,181", "nan,0", "1e3,0", "KG3O", "--1,2"]
)
def test_not_a_position(text: str) -> None:
    with pytest.raises(InputError):
        parse_position(text)


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "characters"),
    [(90.001, 0.0, 6), (float("nan"), 0.0, 6), (0.0, float("inf"), 6), (0.0, 0.0, 5), (0.0, 0.0, 0)],
)
def test_locator_of_nonsense(lat_deg: float, lon_deg: float, characters: int) -> None:
    with pytest.raises(InputError):
        locator_of(lat_deg, lon_deg, characters)


def test_many_at_once() -> None:
    texts = ["JN58td", " kg30ek05", "RR99xx99", "AA", "", "JN5", "JN58ty", "Durban", "ZZ00", "é" * 4]
    lat, lon = positions_of(texts)
    for i, text in enumerate(texts[:4]):
        one = position_of(text)
        np.testing.assert_allclose((lat[i], lon[i]), (one.lat_deg, one.lon_deg), atol=1e-12)
    assert np.isnan(lat[4:]).all()
    assert np.isnan(lon[4:]).all()
    assert positions_of([])[0].shape == (0,)


@given(st.lists(st.text(max_size=9), max_size=20))
def test_many_at_once_says_the_same_as_one_by_one(texts: list[str]) -> None:
    lat, _ = positions_of(texts)
    for text, found in zip(texts, lat, strict=True):
        try:
            expected = position_of(text).lat_deg
        except InputError:
            expected = float("nan")
        np.testing.assert_allclose(found, expected, atol=1e-12)
