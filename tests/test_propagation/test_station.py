"""Station files: what is understood, what is refused and in which words, and that nothing is lost."""

from __future__ import annotations

import dataclasses
import os
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from propagation.antennas.spec import KINDS, AntennaSpec, FeedlineSpec, Measurement
from propagation.base import strict_toml
from propagation.base.errors import InputError
from propagation.geo.ground import GROUND_NAMES
from propagation.geo.locator import Position, position_of
from propagation.spectrum.modes import MODE_NAMES
from propagation.spectrum.noise import PLACE_KINDS
from propagation.station import station
from propagation.station.far_ends import WhoAnswers
from propagation.station.station import FarEnd, LicenceLimits, Rig, Site, Station
from propagation.station.terminals import far_terminal, own_terminal

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo"
PLACE = '[site]\nlocator = "KG30"\n'

# The file the documentation promises to understand, key by key.
WHOLE = """
[site]
locator = "KG30"
ground = "average"
noise = "quiet rural"
itu_region = 1
[rig]
power_w = 20
mode = "SSB"
[antenna]
kind = "loaded vertical"
radiator_m = 2.5
radius_mm = 2.5
coil_q = 200
coil_height_m = 0.0
radials = 4
radial_m = 4.5
radial_height_m = 0.9
base_height_m = 0.9
[feedline]
cable = "RG-58"
length_m = 3.7
choke = true
[far_end]
power_w = 100
antenna = "dipole"
height_m = 10
noise = "residential"
"""


def test_every_promised_key_is_understood() -> None:
    read = station.loads(WHOLE)
    assert read.site.position == position_of("KG30")
    assert (read.rig.power_w, read.rig.mode) == (20.0, "SSB")
    assert (read.antenna.kind, read.antenna.radiator_m, read.antenna.radials) == ("loaded vertical", 2.5, 4)
    assert (read.feedline.cable, read.feedline.length_m, read.feedline.choke) == ("RG-58", 3.7, True)
    assert (read.far_end.power_w, read.far_end.antenna, read.far_end.height_m) == (100.0, "dipole", 10.0)
    assert read.far_end.antenna_spec.height_m == 10.0


def test_only_the_position_has_no_default() -> None:
    read = station.loads(PLACE)
    assert read == Station(site=Site(position=position_of("KG30")))
    assert station.loads("[site]\nlat = -29.5\nlon = 29.5\n").site.position == Position(-29.5, 29.5)


def test_ground_by_its_constants() -> None:
    read = station.loads(PLACE + "permittivity = 20\nconductivity_s_per_m = 0.03\n")
    assert (read.site.earth.permittivity, read.site.earth.conductivity_s_per_m) == (20.0, 0.03)


@pytest.mark.parametrize(
    "line",
    ["{10 = 4.6, 30 = 8.1}", '{"10" = 4.6, "30" = 8.1}', "{30 = 8.1, 10.0 = 4.6}", "[[10, 4.6], [30, 8.1]]"],
)
def test_cable_loss_as_a_table_of_frequencies(line: str) -> None:
    read = station.loads(f"{PLACE}[feedline]\nmatched_loss_db_per_100m = {line}\n")
    assert read.feedline.matched_loss_db_per_100m == ((10.0, 4.6), (30.0, 8.1))


def test_the_skyline_is_interpolated_round_the_compass() -> None:
    site = station.loads(PLACE + "horizon_deg = {0 = 2, 90 = 10, 270.5 = 4}\n").site
    # straight lines between entries, the last to the first over north
    np.testing.assert_allclose(
        site.horizon_deg(np.array([0.0, 45.0, 90.0, 270.5, 360.0, 315.25])), [2.0, 6.0, 10.0, 4.0, 2.0, 3.0]
    )
    assert station.loads(PLACE + "horizon_deg = 3\n").site.horizon_deg(77.0) == 3.0
    assert station.loads(PLACE).site.horizon_deg(77.0) == 0.0


def test_limits_narrow_the_bands_and_the_power() -> None:
    read = station.loads(PLACE + '[rig]\npower_w = 100\n[limits]\nbands = ["20 m", "40m"]\npower_w = 15\n')
    assert [band.name for band in station.band_plan.BANDS if read.usable(band)] == ["40m", "20m"]
    assert read.power_w == 15.0
    assert station.loads(PLACE + '[limits]\nnational = "south africa"\n').usable(
        station.band_plan.by_name("30m"), "SSB"
    )


def test_the_region_is_found_from_the_position_unless_given() -> None:
    assert station.loads('[site]\nlocator = "GF25"\n').site.region == 2
    assert station.loads('[site]\nlocator = "GF25"\nitu_region = 3\n').site.region == 3


# Each: what stands in the file, and what the sentence must name.
REFUSED = [
    ("", ["no position"]),
    ("[rig]\npower_w = 20\n", ["no position"]),
    ('[site]\nlocator = "KG3"\n', ["[site]", "locator", "'KG3'"]),
    ('[site]\nlocator = "ZZ99"\n', ["locator", "'ZZ99'"]),
    ("[site]\nlat = 91\nlon = 0\n", ["[site]", "Latitude 91"]),
    ("[site]\nlat = 9\n", ["position once", "lat"]),
    ('[site]\nlocator = "KG30"\nlat = 3\nlon = 4\n', ["position once"]),
    ("site = 3\n", ["[site]", "table"]),
    (PLACE + "[antena]\n", ["'antena'", "'antenna'"]),
    (PLACE + "[qqq]\n", ["'qqq'", "site"]),
    (PLACE + "[antenna]\nradiator_cm = 207\n", ["[antenna]", "'radiator_cm'", "'radiator_m'", "metres"]),
    (PLACE + "[antenna]\nradiator_m = '2 m'\n", ["[antenna]", "radiator_m", "number of metres", "'2 m'"]),
    (PLACE + "[antenna]\nradiator_m = 207\n", ["[antenna]", "radiator_m", "207 m"]),
    (PLACE + "[antenna]\nradials = 4.5\n", ["radials", "whole number", "4.5"]),
    (PLACE + "[antenna]\nkind = 'dipol'\n", ["[antenna]", "kind", "'dipole'"]),
    (PLACE + "[antenna]\nkind = 'table'\n", ["[antenna]", "table", "rows"]),
    (PLACE + "[antenna]\nmeasured = [{frequency_mhz = 14.2}]\n", ["measured", "total_resistance_ohm"]),
    (PLACE + "[antenna]\ncoil_q = nan\n", ["coil_q", "finite"]),
    (PLACE + "[antenna]\ncoil_q = [200]\n", ["coil_q", "number", "list"]),
    (PLACE + "[rig]\npower = 20\n", ["[rig]", "'power'", "'power_w'", "watts"]),
    (PLACE + "[rig]\npower_w = '20 W'\n", ["power_w", "number of watts", "'20 W'"]),
    (PLACE + "[rig]\npower_w = true\n", ["power_w", "true"]),
    (PLACE + "[rig]\npower_w = -5\n", ["power_w", "watts", "-5"]),
    (PLACE + "[rig]\npower_w = 20000\n", ["power_w", "5000 watts"]),
    (PLACE + "[rig]\nmode = 'SBB'\n", ["mode", "'SBB'", "'SSB'"]),
    (PLACE + "[rig]\nmode = 3\n", ["mode", "SSB, CW"]),
    (PLACE + "ground = 'avrage'\n", ["ground", "'average'"]),
    (PLACE + "permittivity = 13\n", ["permittivity", "conductivity_s_per_m"]),
    (PLACE + "permittivity = 1\nconductivity_s_per_m = 0\n", ["permittivity 1 ", "empty space", "13"]),
    (PLACE + "permittivity = 13\nconductivity_s_per_m = 0\n", ["conductivity_s_per_m 0 ", "dry rock"]),
    (PLACE + "noise = 'quiet'\n", ["noise", "quiet rural"]),
    (PLACE + "itu_region = 4\n", ["itu_region", "0 to 3"]),
    (PLACE + "time_zone = 'Mars/North'\n", ["time_zone", "'Mars/North'"]),
    (PLACE + "time_zone = '../../etc/passwd'\n", ["time_zone"]),
    (PLACE + "horizon_deg = {400 = 3}\n", ["horizon_deg", "400"]),
    (PLACE + "horizon_deg = {north = 3}\n", ["horizon_deg", "'north'"]),
    (PLACE + "horizon_deg = 'flat'\n", ["horizon_deg", "table"]),
    (PLACE + "[feedline]\nmatched_loss_db_per_100m = 4\n", ["matched_loss_db_per_100m", "{10 = 4.6"]),
    (PLACE + "[feedline]\nmatched_loss_db_per_100m = {10 = 'x'}\n", ["at 10", "'x'"]),
    (PLACE + "[feedline]\nchoke = 'yes'\n", ["choke", "true or false"]),
    (PLACE + "[far_end]\nantenna = 'table'\n", ["[far_end]", "antenna"]),
    (PLACE + "[people]\nlarge = 0.2\n", ["[people]", "make 1.1"]),
    (PLACE + "[people]\ncontacts = 0\n", ["[people]", "contacts", "1 to 60"]),
    (PLACE + "[people]\nsmal = 0.3\n", ["[people]", "'small'"]),
    (PLACE + "[limits]\nnational = 'Suth Africa'\n", ["[limits]", "'South Africa'"]),
    (PLACE + "[limits]\nbands = ['21m']\n", ["[limits]", "'21m'"]),
    (PLACE + "[limits]\nbands = '20m'\n", ["bands", "list"]),
    (PLACE + "power_w = 20\n", ["[site]", "'power_w'"]),
    ("name = 3\n" + PLACE, ["name", "text"]),
    (PLACE + "[antenna", ["TOML", "end of document"]),
    (PLACE + "[rig]\npower_w = \n", ["TOML", "line 4"]),
    (PLACE + PLACE, ["TOML"]),
    ("\x00\x01", ["TOML"]),
    ("a = " + "[" * 5000, ["file.toml"]),
]


@pytest.mark.parametrize(
    ("text", "words"), REFUSED, ids=[text[-40:].strip() or "empty" for text, _ in REFUSED]
)
def test_what_is_wrong_is_refused_in_one_sentence_that_names_it(text: str, words: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        station.loads(text, "file.toml")
    sentence = caught.value.message
    assert sentence.startswith("file.toml")
    assert "\n" not in sentence
    for word in words:
        assert word in sentence


@pytest.mark.parametrize("table", ["site", "rig", "antenna", "feedline", "far_end", "limits", "people"])
def test_every_table_refuses_unknown_keys(table: str) -> None:
    text = f"{PLACE}zebra = 1\n" if table == "site" else f"{PLACE}[{table}]\nzebra = 1\n"
    with pytest.raises(InputError, match=rf"\[{table}\].*'zebra'"):
        station.loads(text)


def test_a_file_cut_off_anywhere_is_read_whole_or_refused_in_words() -> None:
    """Wherever a file is cut, nothing but an InputError or a valid station comes of it."""
    data = (DEMO / "station.toml").read_text(encoding="utf-8")
    refusals = []
    for end in range(0, len(data), 7):
        try:
            station.loads(data[:end], "cut.toml")
        except InputError as error:
            refusals.append(error.message)
    assert len(refusals) > 20
    assert all(sentence.startswith("cut.toml") for sentence in refusals)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no file"):
        station.load(tmp_path / "none.toml")
    with pytest.raises(InputError, match="folder"):
        station.load(tmp_path)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('name = "Ærø"\n'.encode("latin-1"))
    with pytest.raises(InputError, match="UTF-8"):
        station.load(latin)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * (strict_toml.MAX_BYTES + 1))
    with pytest.raises(InputError, match="larger"):
        station.load(huge)
    marked = tmp_path / "marked.toml"
    marked.write_bytes(b"\xef\xbb\xbf" + PLACE.encode())
    assert station.load(marked).site.position == position_of("KG30")


def _numbers(record: type[Any], key: str) -> st.SearchStrategy[float]:
    metadata = next(item.metadata for item in dataclasses.fields(record) if item.name == key)
    return st.floats(metadata["low"], metadata["high"])


POSITIONS = st.builds(Position, st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))
TEXTS = st.text(max_size=20)
STATIONS = st.builds(
    Station,
    site=st.builds(
        Site,
        position=POSITIONS,
        ground=st.sampled_from(GROUND_NAMES),
        noise=st.sampled_from(PLACE_KINDS),
        itu_region=st.integers(0, 3),
        time_zone=st.sampled_from(["UTC", "Africa/Johannesburg", "America/Montevideo"]),
        height_m=_numbers(Site, "height_m"),
        horizon=st.dictionaries(st.floats(0.0, 360.0), st.floats(-10.0, 90.0), max_size=4).map(
            lambda table: tuple(sorted(table.items()))
        ),
    ),
    name=TEXTS,
    rig=st.builds(Rig, power_w=_numbers(Rig, "power_w"), mode=st.sampled_from(MODE_NAMES)),
    antenna=st.builds(
        AntennaSpec,
        kind=st.sampled_from([kind for kind in KINDS if kind != "table"]),
        radiator_m=st.none() | st.floats(1.0, 60.0),
        radials=st.integers(0, 240),
        measured=st.lists(
            st.builds(
                Measurement,
                frequency_mhz=st.floats(0.1, 500.0),
                total_resistance_ohm=st.floats(0.01, 10000.0),
                note=TEXTS,
            ),
            max_size=2,
        ).map(tuple),
        table=st.just(()) | st.just(((14.1, 10.0, -3.5), (14.1, 20.0, -1.0))),
    ),
    feedline=st.builds(
        FeedlineSpec,
        cable=st.sampled_from(["RG-58", "RG-213"]),
        length_m=st.floats(0.0, 1000.0),
        choke=st.booleans(),
        matched_loss_db_per_100m=st.just(()) | st.just(((10.0, 4.6), (30.0, 8.1))),
    ),
    far_end=st.builds(
        FarEnd, power_w=_numbers(FarEnd, "power_w"), antenna=st.sampled_from(["dipole", "yagi"])
    ),
    limits=st.builds(
        LicenceLimits,
        national=st.sampled_from(["", "UK", "South Africa"]),
        bands=st.sampled_from([(), ("20m", "40m")]),
        power_w=st.none() | _numbers(LicenceLimits, "power_w"),
    ),
    people=st.builds(
        WhoAnswers,
        contacts=st.integers(1, 60),
        small=st.just(0.25),
        ordinary=st.just(0.5),
        large=st.just(0.25),
    ),
)


@given(STATIONS)
def test_what_is_written_is_read_back_the_same(original: Station) -> None:
    assert station.loads(station.dumps(original)) == original


def test_saving_is_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "new" / "station.toml"
    first = station.loads(WHOLE)
    station.save(first, file)
    assert station.load(file) == first

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(InputError, match="No space left"):
        station.save(dataclasses.replace(first, name="second"), file)
    assert station.load(file) == first
    assert [entry.name for entry in file.parent.iterdir()] == ["station.toml"]


@pytest.mark.parametrize("name", ["station.toml", "friend.toml"])
def test_the_demo_files_are_valid(name: str) -> None:
    assert station.load(DEMO / name).name


def test_noise_and_ground_words_are_those_of_the_engine() -> None:
    hints = {"ground": GROUND_NAMES, "noise": PLACE_KINDS}
    for key, names in hints.items():
        with pytest.raises(InputError) as caught:
            station.loads(f'{PLACE}{key} = "?"\n')
        assert ", ".join(names) in caught.value.message


# --- noise that was measured ---------------------------------------------------------------------------

READING = "noise_reading = {s_units = 5, frequency_mhz = 7.1, bandwidth_hz = 2400, antenna_gain_dbi = 0}\n"


@pytest.mark.parametrize("line", ["noise_db_at_1_mhz = 64.0\n", READING])
def test_a_measured_noise_is_read_written_and_used_at_both_ends(line: str) -> None:
    """One level from file to terminal: 64 dB as given; S5 in 2400 Hz on 7.1 MHz is 43.2 dB, 66.8 dB
    at 1 MHz."""
    found = station.loads(f"{PLACE}{line}[far_end]\n{line}")
    expected = 64.0 if "64.0" in line else 66.8
    assert station.loads(station.dumps(found)) == found
    for level in (own_terminal(found).noise, far_terminal(found.far_end).noise):
        assert level.is_measured
        assert level.db_at_1_mhz == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("noise_db_at_1_mhz = 300\n", r"noise_db_at_1_mhz must be from 20 to 120"),
        ('noise_db_at_1_mhz = "S5"\n', r"noise_db_at_1_mhz must be a bare number"),
        (
            "noise_reading = {s_units = 12, frequency_mhz = 7.1}\n",
            r"noise_reading s_units must be from 0 to 9",
        ),
        ("noise_reading = {s_unit = 5, frequency_mhz = 7.1}\n", r"nearest valid one is 's_units'"),
        ("noise_reading = {s_units = 5}\n", r"a key is missing, one of: frequency_mhz"),
        ("noise_reading = 5\n", r"noise_reading must be a table"),
        (f"noise_db_at_1_mhz = 64\n{READING}", r"noise_db_at_1_mhz or noise_reading, not both"),
    ],
)
def test_a_bad_measured_noise_is_refused_by_name(line: str, named: str) -> None:
    for text, where in ((PLACE + line, r"\[site\]"), (f"{PLACE}[far_end]\n{line}", r"\[far_end\]")):
        with pytest.raises(InputError, match=where) as refused:
            station.loads(text)
        assert re.search(named, str(refused.value)), str(refused.value)
