"""The mask of land and sea at places anyone can look up on a map."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.data.builders.land_mask import CELLS_PER_DEG, close_at_pole, fill, read_rings
from propagation.geo.land import is_land, is_sea

ON_LAND = {
    "Drakensberg": (-29.4, 29.4),
    "Montevideo's hinterland": (-33.5, -56.0),
    "Paris": (48.86, 2.35),
    "Sahara": (23.0, 10.0),
    "Alice Springs": (-23.7, 133.9),
    "Iowa": (42.0, -93.5),
    "Novosibirsk": (55.0, 82.9),
    "Chukotka, west of 180": (67.5, 178.0),
    "Chukotka, east of 180": (67.0, -178.0),
    "Tasmania": (-42.2, 146.6),
    "Sicily": (37.5, 14.2),
    "Inner Greenland": (72.0, -40.0),
    "South Pole": (-90.0, 0.0),
    "Queen Maud Land": (-75.0, 10.0),
    "Antarctica at the date line": (-85.0, 180.0),
}
AT_SEA = {
    "Gulf of Guinea": (0.0, 0.0),
    "Mid Atlantic": (30.0, -40.0),
    "Indian Ocean off Durban": (-30.5, 33.0),
    "Rio de la Plata's mouth": (-36.0, -54.5),
    "North Sea": (56.0, 3.0),
    "Bay of Biscay": (45.5, -5.0),
    "Tyrrhenian Sea": (40.0, 12.0),
    "Pacific at the date line": (10.0, 180.0),
    "Tasman Sea": (-38.0, 160.0),
    "Drake Passage": (-59.0, -65.0),
    "Bering Sea": (58.0, -179.0),
    "Hudson Bay": (60.0, -85.0),
    "Black Sea": (43.0, 34.0),
    "Caspian Sea": (42.0, 50.5),
    "North Pole": (90.0, 0.0),
}


@pytest.mark.parametrize("name", ON_LAND)
def test_land_places(name: str) -> None:
    assert is_land(*ON_LAND[name])
    assert not is_sea(*ON_LAND[name])


@pytest.mark.parametrize("name", AT_SEA)
def test_sea_places(name: str) -> None:
    assert is_sea(*AT_SEA[name])
    assert not is_land(*AT_SEA[name])


def test_share_of_land() -> None:
    """Land covers 29.2 % of the Earth (textbook); lakes, ice shelves and small islands blur it."""
    lat, lon = np.arange(-89.875, 90.0, 0.25)[:, np.newaxis], np.arange(-179.875, 180.0, 0.25)
    share = np.average(is_land(lat, lon).mean(axis=1), weights=np.cos(np.deg2rad(lat[:, 0])))
    assert abs(share - 0.292) < 0.01


def test_polar_caps_are_whole() -> None:
    lon = np.arange(-180.0, 181.0, 0.5)
    assert is_sea(np.array([[89.9], [86.0]]), lon).all()
    assert is_land(np.array([[-89.9], [-86.0]]), lon).all()


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_every_place_is_land_or_sea_whichever_turn_of_longitude(lat: float, lon: float) -> None:
    lon = round(lon, 3)  # a turn added must not be rounded into the next cell
    assert is_land(lat, lon) != is_sea(lat, lon)
    assert is_land(lat, lon + 360.0) == is_land(lat, lon - 360.0) == is_land(lat, lon)


def test_shapes_and_places_that_are_none() -> None:
    assert is_sea(0.0, 0.0).shape == ()
    assert is_sea(np.zeros((3, 1)), np.zeros(4)).shape == (3, 4)
    assert not is_sea([np.nan, 0.0], [0.0, np.inf]).any()
    assert not is_land([np.nan, 0.0], [0.0, np.inf]).any()


def test_filling_a_made_up_coast() -> None:
    """A square with a hole across the date line, and a cap round the South Pole."""
    topology = {
        "transform": {"scale": [1.0, 1.0], "translate": [0.0, 0.0]},
        "arcs": [
            [[170, 10], [-340, 0], [0, 20], [340, 0], [0, -20]],  # 170 E to 170 W, 10 N to 30 N
            [[178, 18], [0, 4], [-356, 0], [0, -4], [356, 0]],  # the hole, 178 E to 178 W
            [[-180, -70], [90, 0], [90, 0], [90, 0], [90, 0]],  # once round at 70 S
        ],
        "objects": {
            "land": {
                "geometries": [
                    {"type": "MultiPolygon", "arcs": [[[0], [1]]]},
                    {"type": "Polygon", "arcs": [[2]]},
                ]
            }
        },
    }
    rings = read_rings(topology)
    assert len(close_at_pole(rings[2])) == len(rings[2]) + 3
    land = fill(rings)

    def cell(lat: float, lon: float) -> bool:
        return bool(land[int((90.0 - lat) * CELLS_PER_DEG), int((lon + 180.0) * CELLS_PER_DEG)])

    assert all(cell(lat, lon) for lat, lon in ((12.1, 171.1), (12.1, -171.1), (29.9, 179.9), (20.1, 170.1)))
    assert not any(cell(lat, lon) for lat, lon in ((20.1, 179.9), (20.1, -179.9), (20.1, 0.1), (9.9, 175.1)))
    assert all(cell(-70.1, lon) and cell(-89.9, lon) for lon in (-179.9, 0.1, 179.9))
    assert not any(cell(-69.9, lon) for lon in (-179.9, 0.1, 179.9))
