"""`bandwhen conditions`: shown in three forms, fetched, typed in, corrected by ear."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from propagation.space_weather.sources.hosts import INDEX_PRODUCTS, MAP_PRODUCTS
from tui.app import paths

Run = Callable[..., Any]
FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "space_weather"
FILES = {
    "planetary-k": "planetary_k_new.json",
    "flux": "flux.json",
    "outlook": "outlook.txt",
    "alert": "alert.txt",
}
IN_2031 = ("--now", "2031-02-27T09:30Z")


class Quiet(SimpleHTTPRequestHandler):
    """A file server without a log."""

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name of the base class
        pass


@pytest.fixture
def mirror(tmp_path: Path) -> Iterator[str]:
    for name, file in FILES.items():
        target = tmp_path / INDEX_PRODUCTS[name].path.lstrip("/")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes((FIXTURES / file).read_bytes())
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(tmp_path))) as http:
        http.daemon_threads = True
        thread = threading.Thread(target=http.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        yield f"http://127.0.0.1:{http.server_port}"
        http.shutdown()
        thread.join()


def test_three_forms_say_the_same(bandwhen: Run) -> None:
    shown = bandwhen("conditions", "--json").json
    for key in (
        "index",
        "index_source",
        "r12",
        "ssn",
        "flux_sfu",
        "kp",
        "source",
        "issued",
        "effects",
        "outlook",
        "sentences",
        "facts",
    ):
        assert key in shown
    for form in ((), ("--plain",)):
        text = bandwhen("conditions", *form).out
        assert f"{shown['index']:.0f}" in text
        assert shown["source"] in text
        for sentence in shown["sentences"]:
            assert sentence in text
    assert "  " not in bandwhen("conditions", "--plain").out
    assert len(shown["outlook"]) == 7


def test_a_known_storm(bandwhen: Run) -> None:
    shown = bandwhen("conditions", "--time", "2024-05-11T02:00Z", "--json").json
    assert shown["kp"] == 9.0
    assert shown["effects"]["storm_factor"] != 1.0
    assert "storm" in " ".join(shown["sentences"])


def test_numbers_given_for_once(bandwhen: Run) -> None:
    shown = bandwhen("conditions", "--flux", "150", "--kp", "5", "--json").json
    assert shown["flux_sfu"] == 150.0
    assert shown["kp"] == 5.0
    assert bandwhen("conditions", "--json").json["flux_sfu"] != 150.0


def test_fetch_shows_what_came_and_what_did_not(bandwhen: Run, mirror: str) -> None:
    answer = bandwhen(*IN_2031, "conditions", "fetch", "--mirror", mirror, "--json")
    assert answer.code == 0
    states = {product["product"]: product["status"] for product in answer.json["products"]}
    assert {name for name, status in states.items() if status == "new"} == set(FILES)
    assert "fetched" in answer.json["conditions"]["source"]
    text = bandwhen(*IN_2031, "conditions").out
    assert "27-day outlook" in text
    assert "Where they come from" in text
    plain = bandwhen(*IN_2031, "conditions", "fetch", "--mirror", mirror).out
    assert "4 of 11 products are up to date" in plain
    assert "answered 404" in plain


def test_the_mirror_may_stand_in_the_environment(
    bandwhen: Run, mirror: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BANDWHEN_MIRROR", mirror)
    answer = bandwhen(*IN_2031, "conditions", "fetch", "--only", "flux", "--json")
    assert answer.json["products"] == [
        {"product": "flux", "status": "new", "message": "10.7 cm flux: fetched", "problems": []}
    ]


def test_without_a_network_one_line_tells_what_serves_instead(bandwhen: Run) -> None:
    answer = bandwhen("--now", "2026-11-24T12:00Z", "conditions", "fetch", "--mirror", "http://127.0.0.1:9")
    assert answer.code == 2
    address, sentence = answer.err.splitlines()
    assert address == "Fetching 11 products from http://127.0.0.1:9."  # told before anything is sent
    assert sentence.startswith("Nothing could be fetched: no connection. In use: built-in")
    assert "5 months old" in answer.err


def test_typed_in_is_kept_used_and_forgotten(bandwhen: Run) -> None:
    now = ("--now", "2026-11-24T12:00Z")  # five months past the end of the built-in record
    before = bandwhen(*now, "conditions", "--json").json
    answer = bandwhen(*now, "conditions", "set", "--flux", "210", "--a", "12", "--k", "3", "--flare", "M2")
    assert answer.code == 0
    assert "flux 210, A 12, K 3" in answer.out
    after = bandwhen(*now, "conditions", "--json").json
    assert after["index"] > before["index"] + 20
    assert after["kp"] == 3.0
    assert after["xray_w_m2"] == pytest.approx(2e-5)
    assert "typed in" in after["source"]
    sky = bandwhen(*now, "sky", "--at", "KG40", "--json").json  # the other commands use it
    assert sky["index"] == pytest.approx(after["index"], abs=0.1)
    assert "forgotten" in bandwhen(*now, "conditions", "set", "--forget").out
    assert bandwhen(*now, "conditions", "--json").json == before
    assert "Nothing was typed in" in bandwhen(*now, "conditions", "set", "--forget").out


def test_heard_moves_the_index_and_is_forgotten(bandwhen: Run) -> None:
    now = ("--now", "2026-03-20T20:00Z")
    bandwhen(*now, "conditions", "set", "--ssn", "60")
    before = bandwhen(*now, "conditions", "--json").json["index"]
    answer = bandwhen(*now, "conditions", "heard", "--from", "Nairobi", "--band", "10m", "--json")
    assert answer.code == 0
    assert answer.json["shift"] > 3
    after = bandwhen(*now, "conditions", "--json").json
    assert after["index"] == pytest.approx(before + answer.json["shift"], abs=0.2)
    assert any(fact["what"] == "heard" for fact in after["facts"])
    later = bandwhen("--now", "2026-03-21T06:00Z", "conditions", "--json").json
    assert not any(fact["what"] == "heard" for fact in later["facts"])
    silence = bandwhen(
        *now, "conditions", "heard", "--beacon", "Kenya", "--band", "10m", "--nothing", "--json"
    ).json
    assert silence["shift"] < answer.json["shift"]
    assert len(silence["reports"]) == 2
    assert "forgotten" in bandwhen(*now, "conditions", "heard", "--forget").out
    assert bandwhen(*now, "conditions", "--json").json["index"] == before


def test_beacons_on_the_air(bandwhen: Run) -> None:
    answer = bandwhen("--now", "2026-03-20T12:00:25Z", "conditions", "beacons", "--json").json
    assert [turn["frequency_mhz"] for turn in answer["beacons"]] == [14.1, 18.11, 21.15, 24.93, 28.2]
    assert [turn["beacon"] for turn in answer["beacons"]][:3] == ["California", "Northern Canada", "New York"]
    assert "check before relying on it" in bandwhen("conditions", "beacons", "--plain").out


def test_an_edited_schedule_is_used(bandwhen: Run) -> None:
    from propagation.spectrum.beacons import SCHEDULE_FILE

    own = paths.config_dir() / "beacons.toml"
    own.parent.mkdir(parents=True)
    own.write_text(
        SCHEDULE_FILE.read_text(encoding="utf-8").replace('"New York"', '"Newfoundland"'), encoding="utf-8"
    )
    assert "Newfoundland" in bandwhen("--now", "2026-03-20T12:00:01Z", "conditions", "beacons").out
    own.write_text("slot_s = [", encoding="utf-8")
    answer = bandwhen("conditions", "beacons")
    assert (answer.code, len(answer.err.strip().splitlines())) == (2, 2)  # the demo's note, and the sentence


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["set"], "Give a flux"),
        (["set", "--flux", "9"], "outside 50 to 500"),
        (["set", "--k", "12"], "outside 0 to 9"),
        (["set", "--flux", "100", "--ssn", "50"], "not allowed with"),
        (["set", "--flare", "Q7"], "no class of flare"),
        (["set", "--k", "3", "--at", "2026-06-01T00:00Z"], "lies ahead"),
        (["heard"], "--from TARGET"),
        (["heard", "--from", "Nairobi"], "--band"),
        (["heard", "--from", "Nairobi", "--band", "11m"], "11m"),
        (["heard", "--from", "Atlantis Beach", "--band", "20m"], "Atlantis Beach"),
        (["heard", "--beacon", "Kenya", "--band", "40m"], "not on 40m"),
        (["heard", "--beacon", "Mars", "--band", "20m"], "Mars"),
        (["fetch", "--mirror", "http://example.org"], "without encryption"),
        (["fetch", "--only", "horoscope"], "no product"),
        (["dance"], "dance"),
        (["--time", "soon"], "soon"),
    ],
)
def test_bad_input_is_a_sentence(bandwhen: Run, arguments: list[str], words: str) -> None:
    answer = bandwhen("conditions", *arguments)
    assert answer.code == 2
    assert words in answer.err
    assert "Traceback" not in answer.err


def test_a_damaged_store_is_noted_and_does_no_harm(bandwhen: Run) -> None:
    bandwhen("conditions", "set", "--flux", "150")
    for file in paths.conditions_dir().iterdir():
        file.write_bytes(b"\x00rubbish")
    answer = bandwhen("conditions")
    assert answer.code == 0
    assert "damaged" in answer.out
    assert bandwhen("sky", "--at", "KG40").code == 0


@pytest.fixture
def maps(mirror: str, tmp_path: Path) -> Path:
    """The mirror's folder with a map of absorption: 6 MHz everywhere, at 09:20."""
    lines = [
        "# Product Valid At : 2031-02-27 09:20 UTC",
        "#  X-RAY Message : invented",
        " ".join(str(longitude) for longitude in range(-178, 179, 4)),
        "-" * 80,
        *(f"{latitude} | " + " ".join(["6.0"] * 90) for latitude in range(89, -90, -2)),
    ]
    target = tmp_path / MAP_PRODUCTS["measured-absorption"].path.lstrip("/")
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text("\n".join(lines) + "\n")
    second = tmp_path / INDEX_PRODUCTS["potsdam-hp30"].path.lstrip("/")  # the mirror stands for both hosts
    second.parent.mkdir(parents=True, exist_ok=True)
    second.write_bytes((FIXTURES / "hp30_nowcast.txt").read_bytes())
    return target


def test_measured_maps_are_fetched_when_asked_for_and_listed_with_their_age(
    bandwhen: Run, mirror: str, maps: Path
) -> None:
    before = bandwhen(*IN_2031, "conditions", "--json").json
    assert before["measured"] == []
    done = bandwhen(*IN_2031, "conditions", "fetch", "--measured", "--mirror", mirror, "--json")
    assert "2.4 MB" in done.err
    assert [one["status"] for one in done.json["products"]] == ["new", "failed", "failed", "new"]
    after = bandwhen(*IN_2031, "conditions", "--json").json
    (kept,) = after.pop("measured")
    assert (kept["product"], kept["age_minutes"], kept["in_force"]) == ("measured-absorption", 10.0, True)
    (half_hours,) = after.pop("facts")
    assert "half hours" in half_hours["what"]
    for told in ("issued", "age_hours", "source"):  # of the newest fact
        after[told] = before[told]
    assert after.pop("measured_now") == {"absorption": "2031-02-27T09:20:00Z"}
    first, *rest = after["sentences"]
    assert first == "Absorption, measured 10 min ago: up to 6 MHz loses 1 dB and more here."
    after["sentences"] = rest
    assert {**after, "measured": [], "facts": []} == before  # nothing else is moved by it
    for form in ((), ("--plain",)):
        assert (
            "absorption map: measured 2031-02-27T09:20Z, 10 minutes old"
            in bandwhen(*IN_2031, "conditions", *form).out
        )
    late = bandwhen("--now", "2031-02-27T15:00Z", "conditions", "--json").json["measured"]
    assert [one["in_force"] for one in late] == [False]


def test_measured_maps_that_cannot_be_had_are_one_sentence(bandwhen: Run, mirror: str) -> None:
    failed = bandwhen(*IN_2031, "conditions", "fetch", "--measured", "--mirror", mirror)
    assert failed.code == 2
    assert "Nothing could be fetched" in failed.err
    both = bandwhen(*IN_2031, "conditions", "fetch", "--measured", "--only", "flux")
    assert both.code == 2
    assert "--only" in both.err
