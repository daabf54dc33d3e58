"""The measured maps, on invented products built here to the published formats: whole, and with every fault.

Every number is made up, on dates in 2031; nobody measured them.
"""

from __future__ import annotations

import json
import math
import time as seconds
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import numpy as np
import pytest

from propagation.base.store import Store
from propagation.space_weather.sources import absorption_map, aurora_map, density_map
from propagation.space_weather.sources.absorption_map import (
    absorption_of,
    kept_absorption,
    read_absorption_map,
)
from propagation.space_weather.sources.aurora_map import aurora_of, kept_aurora, read_aurora_map
from propagation.space_weather.sources.density_map import (
    CELLS,
    density_of,
    fof2_mhz,
    kept_density,
    read_density_frame,
    read_density_index,
)
from propagation.space_weather.sources.hosts import MAP_PRODUCTS
from propagation.space_weather.sources.refresh import Outcome, RefreshRequest, refresh, size_words
from propagation.space_weather.state.measured_maps import measured_of

NOW = np.datetime64("2031-02-27T09:30:00", "s")
FRAME_TIME = np.datetime64("2031-02-27T09:05:00", "s")
FRAME_PATH = "/products/glotec/geojson_2d_urt/glotec_icao_20310227T090500Z.geojson"


Body = Callable[[], bytes]  # made when it is asked for: some take a tenth of a second


def density_value(**changes: Any) -> dict[str, Any]:
    """A frame: density highest at the equator and at noon, falling to the poles."""
    features = []
    for latitude in np.arange(72) * 2.5 - 88.75:
        for longitude in np.arange(72) * 5.0 - 177.5:
            share = math.cos(math.radians(latitude)) * (1.0 + 0.5 * math.cos(math.radians(longitude)))
            features.append(
                {
                    "type": "Feature",
                    "geometry": {"type": "Point", "coordinates": [float(longitude), float(latitude)]},
                    "properties": {
                        "tec": 5.0 + 30.0 * share,
                        "anomaly": -2.0,
                        "hmF2": 250.0 + 60.0 * share,
                        "NmF2": 1e11 + 1e12 * share,
                        "quality_flag": 5 if abs(latitude) < 60.0 else 0,
                    },
                }
            )
    return {
        "type": "FeatureCollection",
        "time_tag": "2031-02-27T09:05:00Z",
        "features": features,
    } | changes


def as_body(value: Any) -> bytes:
    return json.dumps(value).encode()


def changed(edit: Callable[[dict[str, Any]], None], every: int = 1) -> bytes:
    """A frame with something done to every n-th feature."""
    value = density_value()
    for feature in value["features"][::every]:
        edit(feature)
    return as_body(value)


def property_times(name: str, factor: float) -> Callable[[dict[str, Any]], None]:
    def edit(feature: dict[str, Any]) -> None:
        feature["properties"][name] *= factor

    return edit


def shift(feature: dict[str, Any]) -> None:
    feature["geometry"]["coordinates"][0] += 2.5


def without_place(feature: dict[str, Any]) -> None:
    feature["geometry"] = None


def absorption_body(
    first_longitude: int = -178, rows: int = 90, factor: float = 1.0, time: str = "2031-02-27 09:25"
) -> bytes:
    lines = [
        "# Product: invented absorption map",
        f"# Product Valid At : {time} UTC",
        "#",
        "#  X-RAY Message : Normal X-ray background",
        "#  X-RAY Warning : None",
        "#  Proton Message : Quiet proton background",
        "",
        "      " + " ".join(f"{first_longitude + 4 * k:6d}" for k in range(90)),
        "      " + "-" * 630,
    ]
    for row in range(rows):
        latitude = 89 - 2 * row
        peak = 6.0 * math.cos(math.radians(latitude)) * factor
        lines.append(
            f"{latitude:4d} |  "
            + " ".join(f"{peak * math.cos(math.radians(2.0 * k - 89.0)) + 0.0:6.1f}" for k in range(90))
        )
    return ("\n".join(lines) + "\n").encode()


def aurora_value(offset: float = 0.0, factor: float = 1.0, **changes: Any) -> dict[str, Any]:
    points = [
        [longitude + offset, latitude, factor * (40 if 62 <= abs(latitude) <= 70 else 0)]
        for longitude in range(360)
        for latitude in range(-90, 91)
    ]
    return {
        "Observation Time": "2031-02-27T09:20:00Z",
        "Forecast Time": "2031-02-27T10:05:00Z",
        "Data Format": "[Longitude, Latitude, Aurora]",
        "coordinates": points,
    } | changes


def says(problems: tuple[str, ...], words: str) -> bool:
    return any(words in problem for problem in problems)


def test_the_critical_frequency_follows_from_the_constants_of_nature() -> None:
    charge, mass, permittivity = 1.602176634e-19, 9.1093837015e-31, 8.8541878128e-12
    factor = charge**2 / (4.0 * math.pi**2 * permittivity * mass)
    assert pytest.approx(factor, rel=1e-5) == density_map.HZ2_M3
    assert float(fof2_mhz(np.array(1e12))) == pytest.approx(8.98, abs=0.002)  # rounded to three digits
    assert float(fof2_mhz(np.array(4e12))) == pytest.approx(2.0 * float(fof2_mhz(np.array(1e12))))


def test_a_whole_frame_is_read_cell_by_cell() -> None:
    frame = read_density_frame(as_body(density_value()))
    assert not frame.empty
    assert frame.problems == ()
    assert frame.time == FRAME_TIME
    row, column = 36, 36  # 1.25 north, 2.5 east
    share = math.cos(math.radians(1.25)) * (1.0 + 0.5 * math.cos(math.radians(2.5)))
    assert frame.nmf2_m3[row, column] == pytest.approx(1e11 + 1e12 * share)
    assert frame.hmf2_km[row, column] == pytest.approx(250.0 + 60.0 * share)
    assert frame.observations[0, 0] == 0
    assert frame.observations[row, column] == 5
    assert frame.fof2_mhz[row, column] == pytest.approx(8.9787 * math.sqrt(0.1 + share), rel=1e-4)


def test_points_as_published_are_read_and_their_flag_counts_observations() -> None:
    """Four points of a real frame in an invented one: near the pole nothing was observed, in England much."""
    folder = Path(__file__).resolve().parents[2] / "fixtures" / "space_weather"
    real = json.loads((folder / "density_cells.json").read_text(encoding="utf-8"))
    places = [feature["geometry"]["coordinates"] for feature in real["features"]]
    value = density_value()
    others = [one for one in value["features"] if one["geometry"]["coordinates"] not in places]
    frame = read_density_frame(as_body(value | {"features": [*others, *real["features"]]}))
    assert frame.problems == ()
    # 8.98 MHz times the root of 0.5603: 6.72 MHz over England at 15:15, an afternoon in September
    assert frame.fof2_mhz[57, 36] == pytest.approx(6.72, abs=0.01)
    assert frame.observations[57, 36] == 5
    assert frame.observations[0, 0] == 0
    alone = read_density_frame(as_body(real))
    assert alone.empty
    assert "4 of 5184" in alone.problems[-1]


def test_the_order_of_the_cells_and_their_way_of_counting_longitudes_do_not_matter() -> None:
    value = density_value()
    value["features"].reverse()
    for feature in value["features"]:
        feature["geometry"]["coordinates"][0] %= 360.0
    frame = read_density_frame(as_body(value))
    assert frame.problems == ()
    assert np.array_equal(frame.nmf2_m3, read_density_frame(as_body(density_value())).nmf2_m3)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (lambda: as_body(density_value())[:200_000], "ends too early"),
        (lambda: b"", "empty"),
        (lambda: b"<html>not found</html>", "web page"),
        (lambda: as_body(density_value(features=[])), "no cells"),
        (lambda: as_body([1, 2]), "not a collection"),
        (lambda: as_body(density_value(features=density_value()["features"][: CELLS // 2 - 1])), "too few"),
        (lambda: changed(shift), "the grid is shifted"),
        (lambda: changed(property_times("NmF2", -1.0)), "negative 'NmF2'"),
        (lambda: changed(property_times("NmF2", 1e-6)), "not in 1/m3"),  # per cubic centimetre
        (lambda: changed(property_times("NmF2", 1e6)), "not in 1/m3"),
    ],
)
def test_a_frame_that_is_no_map_is_refused_and_says_why(body: Body, words: str) -> None:
    frame = read_density_frame(body(), FRAME_TIME)
    assert frame.empty
    assert says(frame.problems, words), frame.problems


@pytest.mark.parametrize(
    ("body", "words", "lost"),
    [
        (lambda: changed(shift, 4), "the grid is shifted", CELLS // 4),
        (lambda: changed(property_times("NmF2", -1.0), 4), "negative 'NmF2'", CELLS // 4),
        (lambda: changed(property_times("NmF2", 1e6), 4), "outside", CELLS // 4),
        (
            lambda: as_body(density_value(features=density_value()["features"][: CELLS * 3 // 4])),
            "3888 of 5184",
            CELLS // 4,
        ),
        (lambda: changed(without_place, 4), "without a readable place", CELLS // 4),
    ],
)  # fmt: skip
def test_a_frame_with_holes_is_used_and_says_what_is_missing(body: Body, words: str, lost: int) -> None:
    frame = read_density_frame(body())
    assert not frame.empty
    assert int(np.sum(np.isnan(frame.nmf2_m3))) == lost
    assert says(frame.problems, words), frame.problems


def test_heights_in_metres_are_left_out_and_the_density_stays() -> None:
    frame = read_density_frame(changed(property_times("hmF2", 1000.0)))
    assert not frame.empty
    assert np.all(np.isnan(frame.hmf2_km))
    assert says(frame.problems, "'hmF2' is not in km")


def test_a_frame_without_any_time_is_refused_and_takes_the_lists_where_there_is_one() -> None:
    value = density_value()
    del value["time_tag"]
    assert read_density_frame(as_body(value)).empty
    assert says(read_density_frame(as_body(value)).problems, "no readable time")
    assert read_density_frame(as_body(value), FRAME_TIME).time == FRAME_TIME


def test_the_list_gives_the_newest_last_whatever_its_order() -> None:
    entries = [
        {"url": "/b.geojson", "time_tag": "2031-02-27T09:05:00Z"},
        {"url": "/a.geojson", "time_tag": "2031-02-27T08:55:00Z"},
        {"url": "/c.geojson"},
        7,
    ]
    index = read_density_index(as_body(entries))
    assert [place for _, place in index.frames] == ["/a.geojson", "/b.geojson"]
    assert says(index.problems, "2 frames")
    for body in (b"[]", b"{}", b"", b"[{", b"<html>"):
        broken = read_density_index(body)
        assert broken.frames == ()
        assert broken.problems


def test_a_kept_frame_is_small_even_of_noise_and_comes_back() -> None:
    random = np.random.default_rng(7)
    value = density_value()
    for feature in value["features"]:
        feature["properties"]["NmF2"] = float(10.0 ** random.uniform(9.1, 12.9))
        feature["properties"]["hmF2"] = float(random.uniform(110.0, 600.0))
        feature["properties"]["quality_flag"] = int(random.integers(0, 6))
    value["features"][5]["properties"]["NmF2"] = None
    frame = read_density_frame(as_body(value))
    body = kept_density(frame)
    assert len(body) <= 20_000
    again = density_of(body)
    assert again is not None
    assert again.time == frame.time
    assert again.problems == frame.problems
    assert np.array_equal(np.isnan(again.nmf2_m3), np.isnan(frame.nmf2_m3))
    # a step of the logarithm is ln(1e4) / 65534 = 0.014 %, rounding half of it; a step of height is 2 km
    known = np.isfinite(frame.nmf2_m3)
    assert float(np.max(np.abs(again.nmf2_m3 / frame.nmf2_m3 - 1.0)[known])) < 1e-4
    assert float(np.nanmax(np.abs(again.hmf2_km - frame.hmf2_km))) <= 1.0
    assert np.array_equal(again.observations, frame.observations)


def test_absorption_is_read_with_its_messages_and_comes_back() -> None:
    found = read_absorption_map(absorption_body())
    assert not found.empty
    assert found.problems == ()
    assert found.valid_at == np.datetime64("2031-02-27T09:25", "s")
    assert found.xray_words == "Normal X-ray background"
    assert found.proton_words == "Quiet proton background"
    equator = int(np.argmin(np.abs(absorption_map.LATITUDES_DEG - 1.0)))
    middle = int(np.argmin(np.abs(absorption_map.LONGITUDES_DEG - 2.0)))
    assert found.highest_mhz[equator, middle] == pytest.approx(6.0, abs=0.05)
    again = absorption_of(kept_absorption(found))
    assert again is not None
    assert np.allclose(again.highest_mhz, found.highest_mhz, atol=0.006)
    assert (again.valid_at, again.xray_words, again.proton_words, again.problems) == (
        found.valid_at, found.xray_words, found.proton_words, found.problems,
    )  # fmt: skip
    assert len(kept_absorption(found)) <= 20_000


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (lambda: b"", "empty"),
        (lambda: b"<html>", "web page"),
        (lambda: absorption_body()[:9000], "middle of a line"),
        (lambda: absorption_body(first_longitude=-180), "the grid is shifted"),
        (lambda: absorption_body(rows=30), "too few"),
        (lambda: absorption_body(factor=-1.0), "below zero"),
        (lambda: absorption_body(factor=1000.0), "not in MHz"),
        (lambda: absorption_body(time="not known"), "Valid At"),
        (
            lambda: absorption_body().replace(b" 89 |", b" 88 |").replace(b" 87 |", b" 86 |")[:30_000],
            "latitudes",
        ),
    ],
)
def test_absorption_with_a_fault_is_refused_and_says_why(body: Body, words: str) -> None:
    found = read_absorption_map(body())
    assert found.empty
    assert says(found.problems, words), found.problems


def test_absorption_with_rows_missing_is_used_and_says_so() -> None:
    found = read_absorption_map(absorption_body(rows=70))
    assert not found.empty
    assert says(found.problems, "6300 of 8100")


def test_the_oval_is_read_and_comes_back() -> None:
    found = read_aurora_map(as_body(aurora_value()))
    assert not found.empty
    assert found.problems == ()
    assert found.observed == np.datetime64("2031-02-27T09:20", "s")
    assert found.valid_at == np.datetime64("2031-02-27T10:05", "s")
    oval = np.abs(aurora_map.LATITUDES_DEG) >= 62.0
    assert np.array_equal(found.value[:, 17] == 40.0, oval & (np.abs(aurora_map.LATITUDES_DEG) <= 70.0))
    again = aurora_of(kept_aurora(found))
    assert again is not None
    assert np.array_equal(again.value, found.value)
    assert (again.observed, again.valid_at) == (found.observed, found.valid_at)
    assert len(kept_aurora(found)) <= 20_000


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (lambda: b"", "empty"),
        (lambda: as_body(aurora_value())[:100_000], "ends too early"),
        (lambda: as_body(aurora_value(coordinates=[])), "no points"),
        (lambda: as_body(aurora_value(coordinates=aurora_value()["coordinates"][:30_000])), "too few"),
        (lambda: as_body(aurora_value(offset=0.5)), "the grid is shifted"),
        (lambda: as_body(aurora_value(factor=-1.0, coordinates=[[0, 0, -1]] * 9)), "below zero"),
        (lambda: as_body(aurora_value(coordinates=[[0, 0, 4000]] * 9)), "another unit"),
        (lambda: as_body(aurora_value() | {"Observation Time": None}), "Observation Time"),
        (lambda: as_body(aurora_value(coordinates=[None, [1], ["a", 2, 3]])), "without three numbers"),
    ],
)
def test_an_oval_with_a_fault_is_refused_and_says_why(body: Body, words: str) -> None:
    found = read_aurora_map(body())
    assert found.empty
    assert says(found.problems, words), found.problems


@pytest.mark.parametrize("again", [density_of, absorption_of, aurora_of])
def test_damaged_copies_are_none(again: Callable[[bytes], object]) -> None:
    frame = kept_density(read_density_frame(as_body(density_value())))
    whole = {
        density_of: frame,
        absorption_of: kept_absorption(read_absorption_map(absorption_body())),
        aurora_of: kept_aurora(read_aurora_map(as_body(aurora_value()))),
    }[again]  # type: ignore[index]
    assert again(whole) is not None
    for body in (b"", b"\n", b"{}\n", whole[:-9], whole[: len(whole) // 2], b"[1]\nabc", b"x" * 9000):
        assert again(body) is None


def test_bytes_turned_over_anywhere_never_raise() -> None:
    random = np.random.default_rng(11)
    for body, read in (
        (as_body(density_value()), read_density_frame),
        (absorption_body(), read_absorption_map),
        (as_body(aurora_value(coordinates=aurora_value()["coordinates"][:500])), read_aurora_map),
    ):
        for _ in range(6):
            damaged = bytearray(body)
            for at in random.integers(0, len(body), 30):
                damaged[at] = int(random.integers(0, 256))
            read(bytes(damaged))


class Handler(BaseHTTPRequestHandler):
    """Serves the bodies by path."""

    bodies: dict[str, bytes]
    asked: list[str]

    def do_GET(self) -> None:
        type(self).asked.append(self.path)
        body = type(self).bodies.get(self.path)
        self.send_response(404 if body is None else 200)
        self.send_header("Content-Length", str(len(body or b"")))
        self.end_headers()
        self.wfile.write(body or b"")

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name of the base class
        pass


@pytest.fixture
def server() -> Iterator[tuple[str, type[Handler]]]:
    Handler.asked = []
    Handler.bodies = {
        MAP_PRODUCTS["measured-absorption"].path: absorption_body(),
        MAP_PRODUCTS["measured-aurora"].path: as_body(aurora_value()),
        MAP_PRODUCTS["measured-density"].path: as_body(
            [
                {"url": FRAME_PATH.replace("090500", "085500"), "time_tag": "2031-02-27T08:55:00Z"},
                {"url": FRAME_PATH, "time_tag": "2031-02-27T09:05:00Z"},
            ]
        ),
        FRAME_PATH: as_body(density_value()),
    }
    running = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    Thread(target=running.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{running.server_address[1]}", Handler
    running.shutdown()
    running.server_close()


def fetch_measured(store: Store, now: np.datetime64, address: str) -> list[Outcome]:
    request = RefreshRequest("maps", tuple(MAP_PRODUCTS), address)
    return refresh(store, now, seconds.monotonic, request)


def test_all_maps_are_fetched_the_newest_frame_by_its_list_and_kept_small(
    server: tuple[str, type[Handler]], tmp_path: Path
) -> None:
    store = Store(tmp_path)
    outcomes = fetch_measured(store, NOW, server[0])
    assert [(outcome.product, outcome.status) for outcome in outcomes] == [
        (name, "new") for name in MAP_PRODUCTS
    ]
    assert server[1].asked[-2:] == [MAP_PRODUCTS["measured-density"].path, FRAME_PATH]
    listed, notes = measured_of(store, NOW)
    assert notes == []
    ages = {one.product: float(one.age / np.timedelta64(60, "s")) for one in listed}
    assert ages == {"measured-absorption": 5.0, "measured-aurora": 10.0, "measured-density": 25.0}
    assert all(one.in_force for one in listed)
    assert all(path.stat().st_size <= 21_000 for path in tmp_path.iterdir())  # with the header of the copy
    later = NOW + np.timedelta64(3, "h")
    assert [one.in_force for one in measured_of(store, later)[0]] == [False, False, True]
    assert not any(one.in_force for one in measured_of(store, later + np.timedelta64(1, "D"))[0])


def test_a_broken_or_older_map_never_replaces_a_kept_one(
    server: tuple[str, type[Handler]], tmp_path: Path
) -> None:
    store = Store(tmp_path)
    fetch_measured(store, NOW, server[0])
    before = {name: store.get(name) for name in MAP_PRODUCTS}
    server[1].bodies |= {
        FRAME_PATH: as_body(density_value())[:90_000],
        MAP_PRODUCTS["measured-aurora"].path: b"",
        MAP_PRODUCTS["measured-absorption"].path: absorption_body(time="2031-02-27 03:00"),
    }
    outcomes = fetch_measured(store, NOW, server[0])
    assert [outcome.status for outcome in outcomes] == ["failed"] * 3
    assert all("the stored copy stays" in outcome.message for outcome in outcomes)
    assert "stale" in outcomes[0].reason
    assert {name: store.get(name) for name in MAP_PRODUCTS} == before


def test_a_stale_map_says_so_and_is_not_in_force(server: tuple[str, type[Handler]], tmp_path: Path) -> None:
    store, later = Store(tmp_path), NOW + np.timedelta64(2, "D")
    outcomes = fetch_measured(store, later, server[0])
    assert all(says(outcome.problems, "stale: 2 days old") for outcome in outcomes)
    assert not any(one.in_force for one in measured_of(store, later)[0])


def test_a_map_from_the_future_is_refused(server: tuple[str, type[Handler]], tmp_path: Path) -> None:
    outcomes = fetch_measured(Store(tmp_path), NOW - np.timedelta64(1, "D"), server[0])
    assert all("in the future" in outcome.message for outcome in outcomes)


def test_a_list_that_leads_to_another_place_is_refused(
    server: tuple[str, type[Handler]], tmp_path: Path
) -> None:
    entry = {"url": "https://example.org/frame.geojson", "time_tag": "2031-02-27T09:05:00Z"}
    server[1].bodies[MAP_PRODUCTS["measured-density"].path] = as_body([entry])
    outcome = fetch_measured(Store(tmp_path), NOW, server[0])[-1]
    assert outcome.status == "failed"
    assert "another place" in outcome.message


def test_the_size_is_told() -> None:
    assert "2.4 MB" in size_words()
