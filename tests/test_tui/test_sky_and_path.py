"""`bandwhen sky` and `bandwhen path`: the promised JSON keys, the same numbers in words, and their sense."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.ionosphere.layers import ionosphere
from propagation.space_weather.indices.solar_index import index_from_ssn
from propagation.spectrum.bands import BAND_NAMES

Run = Callable[..., Any]
SKY = ("sky", "--at", "KG40", "--time", "2026-03-20T12:00Z", "--ssn", "100")
PATH = ("path", "--from", "KG40", "--to", "GF25", "--time", "2026-03-20T18:00Z", "--ssn", "100")


def test_sky_has_the_promised_keys_and_the_engines_numbers(bandwhen: Run) -> None:
    answer = bandwhen(*SKY, "--json")
    assert answer.code == 0
    sky = answer.json
    layer = ionosphere(-29.5, 29.0, np.datetime64("2026-03-20T12:00", "s"), index_from_ssn(100.0))
    for key, value in {
        "fof2_mhz": layer.fof2_mhz,
        "m3000f2": layer.m3000f2,
        "foe_mhz": layer.foe_mhz,
        "hmf2_km": layer.hmf2_km,
        "dip_deg": layer.dip_deg,
        "modified_dip_deg": layer.modified_dip_deg,
        "geomagnetic_latitude_deg": layer.geomagnetic_latitude_deg,
        "gyrofrequency_mhz": layer.gyro_300_mhz,
        "solar_zenith_deg": layer.zenith_deg,
    }.items():
        np.testing.assert_allclose(sky[key], value, rtol=1e-12, err_msg=key)
    np.testing.assert_allclose(sky["index"], 80.77, atol=0.01)  # -13.935 + 1.09624 S - 0.00149209 S^2 at 100
    assert sky["foes_mhz"]["lower"] <= sky["foes_mhz"]["median"] <= sky["foes_mhz"]["upper"]


def test_sky_in_words_tells_the_same(bandwhen: Run) -> None:
    sky = bandwhen(*SKY, "--json").json
    for form in ((), ("--plain",)):
        text = bandwhen(*SKY, *form).out
        for key, digits in (("fof2_mhz", 2), ("foe_mhz", 2), ("hmf2_km", 0), ("dip_deg", 1)):
            assert f"{sky[key]:.{digits}f}" in text
        assert "20 March 2026" in text
        assert "sunspot number 100" in text


def test_the_sun_may_be_given_as_flux_or_sunspots(bandwhen: Run) -> None:
    """Either stands for one index: 127.46 sfu and 100 sunspots for 80.77, by the two fitted parabolas."""
    index = -13.9349 + 1.096241 * 100.0 - 0.00149209 * 100.0**2
    flux = (2.233526 - np.sqrt(2.233526**2 - 4.0 * 0.00400333 * (138.9789 + index))) / (2.0 * 0.00400333)
    by_spots = bandwhen(*SKY, "--json").json["fof2_mhz"]
    by_flux = bandwhen(*SKY[:-2], "--flux", f"{flux:.6f}", "--json").json["fof2_mhz"]
    np.testing.assert_allclose(by_flux, by_spots, rtol=1e-5)


@pytest.mark.parametrize("place", ["KG40", "-29.5,29", "Durban", "RR99XX", "AA00aa", "90,180", "-90,0"])
@pytest.mark.parametrize("time", ["2026-06-21T00:00Z", "2026-12-21T12:00Z", "2024-02-29T23:59Z"])
def test_sky_answers_everywhere_without_nan(bandwhen: Run, place: str, time: str) -> None:
    answer = bandwhen("sky", "--at", place, "--time", time, "--json")
    assert answer.code == 0
    assert None not in [value for key, value in answer.json.items() if key.endswith(("_mhz", "_km", "_deg"))]


def test_path_has_the_promised_keys(bandwhen: Run) -> None:
    answer = bandwhen(*PATH, "--json")
    assert answer.code == 0
    path = answer.json
    np.testing.assert_allclose(path["distance_km"], 7703.0, atol=1.0)
    np.testing.assert_allclose(path["bearing_deg"], 241.2, atol=0.1)
    assert set(path["skip_km"]) == set(BAND_NAMES)
    assert path["muf_mhz"] == max(mode["muf_mhz"] for mode in path["modes"])
    for mode in path["modes"]:
        assert set(mode) == {"layer", "hops", "hop_km", "elevation_deg", "mirror_height_km", "muf_mhz"}
    assert "lowest_usable_mhz" in path


def test_path_in_words_tells_the_same(bandwhen: Run) -> None:
    path = bandwhen(*PATH, "--json").json
    for form in ((), ("--plain",)):
        text = bandwhen(*PATH, *form).out
        assert f"{path['muf_mhz']:.1f} MHz" in text
        assert "7,700 km" in text
        assert len(re.findall(r"\bF2\b", text)) == len(path["modes"])


def test_the_long_way(bandwhen: Run) -> None:
    short, long = bandwhen(*PATH, "--json").json, bandwhen(*PATH, "--long", "--json").json
    np.testing.assert_allclose(short["distance_km"] + long["distance_km"], 2 * np.pi * 6371.0)
    assert "the long way" in bandwhen(*PATH, "--long").out


def test_the_lowest_usable_frequency_belongs_to_mode_and_power(bandwhen: Run) -> None:
    """An easier mode reaches lower; on a daylight path of 2500 km voice with 100 W needs some MHz."""
    path = ("path", "--from", "KG40", "--to", "KH54", "--time", "2026-03-20T10:00Z", "--ssn", "100", "--json")
    lowest = {
        mode: bandwhen(*path, "--mode", mode).json["lowest_usable_mhz"] for mode in ("SSB", "CW", "DIGITAL")
    }
    assert 1.6 <= lowest["DIGITAL"] < lowest["CW"] < lowest["SSB"]
    assert lowest["SSB"] < bandwhen(*path).json["muf_mhz"]


def test_no_usable_frequency_is_null_and_said(bandwhen: Run, tmp_path: Any) -> None:
    file = tmp_path / "whisper.toml"
    file.write_text('[site]\nlocator = "KG40"\n[rig]\npower_w = 0.001\n', encoding="utf-8")
    options = (*PATH, "--station", str(file))
    assert bandwhen(*options, "--json").json["lowest_usable_mhz"] is None
    assert "No frequency is usable" in bandwhen(*options, "--plain").out


def test_without_a_place_the_station_in_use_is_meant(bandwhen: Run, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('name = "a pier"\n[site]\nlat = -33.0\nlon = 18.0\n', encoding="utf-8")
    sky = bandwhen("sky", "--json")
    assert (sky.code, sky.json["place"]) == (0, "demo ridge")
    assert "invented demo station" in sky.err
    path = bandwhen("path", "--to", "GF25", "--station", str(own), "--json")
    assert (path.code, path.json["from"]) == (0, "a pier")
    assert path.json["lowest_usable_for"] == "SSB from a pier"
    there = bandwhen("path", "--from", "-33,18", "--to", "GF25", "--json").json
    assert path.json["distance_km"] == there["distance_km"]
    assert "0 dBi" in there["lowest_usable_for"]  # a path that starts elsewhere is no station's
