"""`bandwhen antenna` and `bandwhen antenna measure`, in their three forms."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.spectrum.bands import BAND_NAMES
from propagation.station import station as stations
from propagation.station.terminals import own_terminal
from tui.features.antenna.answer import antenna_view

Run = Callable[..., Any]

CONTRACT_KEYS = {
    "band", "frequency_mhz", "radiation_resistance_ohm", "coil_loss_ohm", "ground_loss_ohm", "reactance_ohm",
    "coil_uh", "efficiency", "efficiency_db", "feedline_loss_db", "gain_dbi", "swr_1p5_khz", "swr_2_khz",
    "radiated_w", "power_limit_w", "basis",
}  # fmt: skip

STATION = """
# my own comment
[site]
locator = "KG30"
ground = "average"

[rig]
power_w = 20
mode = "SSB"

[antenna]
kind = "loaded vertical"
radials = 4
radial_m = 4.5
radial_height_m = 0.9

[feedline]
cable = "RG-58"
length_m = 6.0
"""


@pytest.fixture
def station_file(tmp_path: Path) -> Path:
    file = tmp_path / "station.toml"
    file.write_text(STATION, encoding="utf-8")
    return file


def test_all_bands_with_every_key(bandwhen: Run, station_file: Path) -> None:
    answer = bandwhen("antenna", "--station", str(station_file), "--json")
    assert answer.code == 0
    bands = answer.json["bands"]
    assert [entry["band"] for entry in bands] == list(BAND_NAMES)
    for entry in bands:
        assert set(entry) >= CONTRACT_KEYS
        assert set(entry["gain_dbi"]) == {"5", "10", "20", "30", "60"}
        assert entry["basis"] == "model"


def test_one_frequency_against_the_moment_method(bandwhen: Run, station_file: Path) -> None:
    """nec2c for this station (fixtures/antenna): 5.173 - j 415 ohm, 4.657 uH, 22.1 %, -1.68 dBi at 20 deg."""
    clean = station_file.read_text().replace("[antenna]", "[antenna]\nconnection_ohm = 0")
    station_file.write_text(clean)  # that solver knows no plugs and joints
    entry = bandwhen("antenna", "--frequency", "14.2", "--station", str(station_file), "--json").json[
        "bands"
    ][0]
    bare = entry["radiation_resistance_ohm"] + entry["ground_loss_ohm"]
    np.testing.assert_allclose(bare, 5.173, rtol=0.05)
    np.testing.assert_allclose(entry["reactance_ohm"], -415.5, rtol=0.05)
    np.testing.assert_allclose(entry["coil_uh"], 4.657, rtol=0.05)
    np.testing.assert_allclose(entry["efficiency"], 0.2209, rtol=0.05)
    np.testing.assert_allclose(entry["gain_dbi"]["20"], -1.68, atol=0.4)
    np.testing.assert_allclose(entry["swr_2_khz"], 130.4, rtol=0.05)


def test_the_connections_are_listed_and_add_up(bandwhen: Run, station_file: Path) -> None:
    """Default: 5 ohm in series, within the ground loss, so that the sum is the feed's without the coil."""
    told = {}
    for ohm in ("", "connection_ohm = 0", "connection_ohm = 3"):
        station_file.with_name("own.toml").write_text(
            station_file.read_text().replace("[antenna]", f"[antenna]\n{ohm}")
        )
        own = str(station_file.with_name("own.toml"))
        told[ohm] = bandwhen("antenna", "--frequency", "14.2", "--station", own, "--json").json["bands"][0]
    for ohm, series in (("", 5.0), ("connection_ohm = 0", 0.0), ("connection_ohm = 3", 3.0)):
        entry = told[ohm]
        assert entry["connection_ohm"] == series
        bare = entry["radiation_resistance_ohm"] + entry["ground_loss_ohm"]
        np.testing.assert_allclose(bare + entry["coil_loss_ohm"], entry["feed_resistance_ohm"])
        np.testing.assert_allclose(entry["shares"]["connections"], series / entry["feed_resistance_ohm"])
        np.testing.assert_allclose(
            entry["feed_resistance_ohm"], told["connection_ohm = 0"]["feed_resistance_ohm"] + series
        )


def test_a_bad_connection_loss_is_one_sentence(bandwhen: Run, station_file: Path) -> None:
    station_file.write_text(station_file.read_text().replace("[antenna]", "[antenna]\nconnection_ohm = -1"))
    answer = bandwhen("antenna", "--station", str(station_file))
    assert answer.code == 2
    assert "connection_ohm" in answer.err
    assert len(answer.err.strip().splitlines()) == 1


def test_outside_the_bands_the_band_is_null(bandwhen: Run, station_file: Path) -> None:
    answer = bandwhen("antenna", "--frequency", "12.5", "--station", str(station_file), "--json")
    assert answer.json["bands"][0]["band"] is None


def test_text_fits_a_terminal_and_plain_is_sentences(bandwhen: Run, station_file: Path) -> None:
    text = bandwhen("antenna", "--station", str(station_file)).out
    table = [line for line in text.splitlines() if line.startswith(BAND_NAMES)]
    assert len(table) == len(BAND_NAMES)
    assert all(len(line) <= 100 for line in table)
    plain = bandwhen("antenna", "--station", str(station_file), "--plain").out
    assert "20m, 14.231 MHz: 12.9 % of the power goes into the sky" in plain
    assert "into the connections" in plain
    assert "5 ohm are assumed" in plain
    assert all(line.endswith(".") for line in plain.splitlines())
    for word in ("power line", "thunder", "local rules"):
        assert word in text
        assert word in plain


def test_setup_card_and_improvements(bandwhen: Run, station_file: Path) -> None:
    asked = ("antenna", "--frequency", "14.2", "--station", str(station_file), "--setup", "--improve")
    found = bandwhen(*asked, "--json").json
    card = found["setup"][0]
    assert card["band"] == "20m"
    assert card["raised"]["coil_uh"] > 3.0
    assert card["on_ground"]["radials"] >= 4
    assert found["improvements"][0]["mean_db"] > 0.5
    text = bandwhen(*asked).out
    assert "Setup card" in text
    assert "What would help" in text
    assert "20m: raised 0.9 m:" in bandwhen(*asked, "--plain").out
    assert "no amateur band" in bandwhen("antenna", "--frequency", "12.5", "--setup").err


def test_an_inverted_v_is_spelt_so_and_no_gain_is_minus_nothing(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "wire.toml"
    file.write_text(
        '[site]\nlocator = "KG44"\n[antenna]\nkind = "inverted v"\nheight_m = 8\nlength_m = 20.4\n'
        '[feedline]\ncable = "RG-58"\nlength_m = 6.0\n'
    )
    told = bandwhen("antenna", "--station", str(file)).out
    assert "\ninverted V at 8 m" in told
    assert " -0.0 " not in told
    assert "inverted V at 8 m" in bandwhen("station", "show", "--station", str(file)).out


def test_demo_station_answers(bandwhen: Run) -> None:
    answer = bandwhen("antenna", "--frequency", "7.1")
    assert answer.code == 0
    assert "demo" in answer.err


READING = ("--dip", "14.2", "--swr", "1.2", "--at-1.5", "14.0", "14.35")


def test_measure_by_typed_readings(bandwhen: Run, station_file: Path) -> None:
    answer = bandwhen(
        "antenna", "measure", *READING, "--at-antenna", "--direct", "--station", str(station_file), "--json"
    )
    assert answer.code == 0
    side = answer.json["sides"][0]
    # R = Sigma r df / (2 f0 x) with r = 1 / 1.2, df = 350 kHz, and Sigma of the 2.5 m whip from nec2c:
    # Sigma = 2 f0 R sqrt(1/2) / df of the row at 14.2 MHz, Q 200 (own_whips.csv)
    sigma = 2.0 * 14200.0 * 7.2507 / (130.4404 * np.sqrt(2.0))
    x = np.sqrt((1.5 - 1 / 1.2) * (1 / 1.2 - 1 / 1.5))
    wanted = sigma / 1.2 * 350.0 / (2.0 * 14200.0 * x)
    np.testing.assert_allclose(side["total_resistance_ohm"], wanted, rtol=0.05)
    assert answer.json["kept"] is None
    words = bandwhen("antenna", "measure", *READING, "--station", str(station_file)).out
    assert "If the load is" in words
    assert "Not kept" in words


def test_keep_puts_it_at_the_end_and_every_answer_follows(bandwhen: Run, station_file: Path) -> None:
    kept = bandwhen("antenna", "measure", *READING, "--keep", "--station", str(station_file))
    assert kept.code == 0, kept.err
    text = station_file.read_text(encoding="utf-8")
    assert "# my own comment" in text
    assert text.startswith(STATION.rstrip())
    measured = stations.load(station_file).antenna.measured
    assert [m.date for m in measured] == ["2026-03-20"]
    after = bandwhen("antenna", "--frequency", "14.1", "--station", str(station_file), "--json").json[
        "bands"
    ][0]
    assert after["basis"] == "measured"
    np.testing.assert_allclose(after["feed_resistance_ohm"], measured[0].total_resistance_ohm)
    again = bandwhen("antenna", "measure", *READING, "--keep", "--direct", "--station", str(station_file))
    assert again.code == 0
    assert len(stations.load(station_file).antenna.measured) == 2


def test_a_reading_of_another_antenna_is_set_aside_brought_back_and_forgotten(
    bandwhen: Run, station_file: Path
) -> None:
    where = ("--station", str(station_file))
    bandwhen("antenna", "measure", *READING, "--keep", *where)
    longer = station_file.read_text(encoding="utf-8").replace("[antenna]", "[antenna]\nradiator_m = 4.0", 1)
    station_file.write_text(longer, encoding="utf-8")

    def on_20m() -> dict[str, Any]:
        answer: dict[str, Any] = bandwhen("antenna", "--frequency", "14.1", *where, "--json").json["bands"][0]
        return answer

    aside = on_20m()
    assert aside["basis"] == "model"
    assert any("set aside" in note and "radiator 2.5 m, now 4 m" in note for note in aside["notes"])
    assert "is back" in bandwhen("antenna", "measure", "--bring-back", "20m", *where).out
    back = on_20m()
    assert back["basis"] == "measured"
    assert back["efficiency"] < 0.8 * aside["efficiency"]  # what is advised from here on goes by it
    assert bandwhen("antenna", "measure", "--bring-back", "20m", *where).code == 2
    assert "is forgotten" in bandwhen("antenna", "measure", "--forget", "20 m", *where).out
    assert on_20m()["efficiency"] == aside["efficiency"]
    assert "No reading of 20 m is kept" in bandwhen("antenna", "measure", "--forget", "20m", *where).err


def test_keep_in_a_file_the_program_wrote(bandwhen: Run, station_file: Path) -> None:
    """There the measurements stand as a list inside [antenna], to which nothing can be appended."""
    bandwhen("antenna", "measure", *READING, "--keep", "--station", str(station_file))
    stations.save(stations.load(station_file), station_file)
    answer = bandwhen(
        "antenna", "measure", *READING, "--keep", "--load", "low", "--station", str(station_file)
    )
    assert answer.code == 0, answer.err
    assert len(stations.load(station_file).antenna.measured) == 2


def test_measure_from_a_touchstone_file(bandwhen: Run, station_file: Path, tmp_path: Path) -> None:
    """A series resonance of 40 ohm and Q 20 at 14.2 MHz, invented: the load is the low side."""
    frequency = np.linspace(13.5, 15.0, 151)
    load = 40.0 + 1j * 40.0 * 20.0 * (frequency / 14.2 - 14.2 / frequency)
    reflection = (load - 50.0) / (load + 50.0)
    lines = [f"{f:.4f} {s.real:.6f} {s.imag:.6f}" for f, s in zip(frequency, reflection, strict=True)]
    file = tmp_path / "sweep.s1p"
    file.write_bytes(("! invented\r\n# MHz S RI R 50\r\n" + "\r\n".join(lines)).encode())
    found = bandwhen(
        "antenna", "measure", "--file", str(file), "--at-antenna", "--station", str(station_file), "--json"
    ).json
    assert len(found["sides"]) == 1
    np.testing.assert_allclose(found["sides"][0]["r"], 0.8, atol=0.01)
    np.testing.assert_allclose(found["frequency_mhz"], 14.2, atol=0.01)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--frequency", "900"), "900 MHz"),
        (("--frequency", "nan"), "not a number"),
        (("measure",), "--dip"),
        (("measure", "--dip", "14.2", "--swr", "1.2"), "--at-1.5"),
        (("measure", "--dip", "14.2", "--swr", "0.5", "--at-2", "14", "14.4"), "0.5"),
        (("measure", "--dip", "15", "--swr", "1.2", "--at-2", "14", "14.4"), "either side"),
        (("measure", "--file", "missing.s1p"), "missing.s1p"),
        (("measure", "--file", "x.s1p", "--dip", "14"), "not both"),
        (("measure", *READING, "--keep"), "No station is saved"),
    ],
)
def test_mistakes_are_one_sentence(bandwhen: Run, arguments: tuple[str, ...], words: str) -> None:
    answer = bandwhen("antenna", *arguments)
    assert answer.code == 2
    assert words in answer.err
    assert "Traceback" not in answer.err


def test_garbage_file_names_its_line(bandwhen: Run, tmp_path: Path) -> None:
    file = tmp_path / "bad.s1p"
    file.write_text("# MHz S RI R 50\n14.0 0.1 0.2\n14.1 broken\n", encoding="utf-8")
    answer = bandwhen("antenna", "measure", "--file", str(file))
    assert answer.code == 2
    assert "line 3" in answer.err


@pytest.mark.slow
def test_improvements_by_the_days_windows(bandwhen: Run, station_file: Path) -> None:
    """Towards one place every change that brings decibels is judged by the hours of contact it brings."""
    asked = (
        "antenna",
        "--frequency",
        "14.2",
        "--improve",
        "--to",
        "GF25",
        "--date",
        "2026-03-20",
        "--ssn",
        "80",
    )
    found = bandwhen(*asked, "--station", str(station_file), "--json")
    assert found.code == 0, found.err
    judged = [change for change in found.json["improvements"] if change["after"] is not None]
    assert judged
    for change in judged:
        assert 0.0 <= change["before"]["total"] <= 24.0
        if min(change["gain_db"]) > 0.3 and "coil" not in change["change"]:
            assert change["after"]["total"] >= change["before"]["total"] - 0.05
    assert "--improve" in bandwhen("antenna", "--to", "GF25").err


def test_the_page_and_the_command_have_one_power_limit_by_mode(bandwhen: Run, station_file: Path) -> None:
    """DIGITAL sends five times the mean power of SSB: a fifth of the watts, on the page as in the command."""
    own = stations.load(station_file)
    near = own_terminal(own)
    limits: dict[str, float] = {}
    for mode in ("SSB", "DIGITAL"):
        shown = {row.band: row.power_limit_w for row in antenna_view(near, own, mode).bands}
        station_file.write_text(station_file.read_text().replace('mode = "SSB"', f'mode = "{mode}"'))
        told = bandwhen("antenna", "--station", str(station_file), "--json").json["bands"]
        at_40 = next(row["power_limit_w"] for row in told if row["band"] == "40m")
        np.testing.assert_allclose(shown["40m"], at_40, rtol=0.02)  # the page's frequency is the mode's own
        limits[mode] = at_40
    assert limits["DIGITAL"] < 0.5 * limits["SSB"]


def test_a_long_whip_in_json(bandwhen: Run, station_file: Path) -> None:
    """The setting, its SWR and the parts of the resistance are told as numbers."""
    text = station_file.read_text().replace("radials = 4", "radials = 4\nradiator_m = 5.6")
    station_file.write_text(text)
    told = bandwhen("antenna", "--station", str(station_file), "--json").json["bands"]
    rows = {row["band"]: row for row in told}
    assert rows["40m"]["tuning"] == "coil"
    assert rows["15m"]["tuning"] == "length"
    assert 3.0 < rows["15m"]["whip_m"] < 4.0
    assert rows["15m"]["coil_uh"] is None
    assert rows["15m"]["series_pf"] is None
    assert rows["15m"]["dip_khz_per_cm"] < 0.0
    assert 1.0 < rows["15m"]["swr"] < 2.0
    for row in told:
        np.testing.assert_allclose(sum(row["feed_ohm"].values()), row["feed_resistance_ohm"])
    plain = bandwhen("antenna", "--station", str(station_file), "--plain").out
    assert "lowers the dip by" in plain
