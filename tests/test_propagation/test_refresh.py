"""Fetching, against a real server on this machine that fails in every way a server can."""

from __future__ import annotations

import gzip
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.base.store import Store
from propagation.base.time_series import TimeSeries
from propagation.space_weather.sources.hosts import HOSTS, INDEX_PRODUCTS, Host, IndexProduct, products_of
from propagation.space_weather.sources.product_data import ProductData
from propagation.space_weather.sources.refresh import (
    Outcome,
    RefreshRequest,
    TimeLimits,
    checked_base,
    refresh,
    size_words,
)
from tui.features.sky import fetching

NOW = np.datetime64("2031-02-27T09:30", "s")
FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "space_weather"
GOOD = {
    "planetary-k": "planetary_k_new.json",
    "planetary-k-forecast": "planetary_k_forecast_new.json",
    "three-days": "three_days.txt",
    "outlook": "outlook.txt",
    "flux": "flux.json",
    "daily-indices": "daily_indices.txt",
    "alert": "alert.txt",
    "xrays": "xrays.json",
    "scales": "scales.json",
    "predicted-cycle": "predicted_cycle.json",
    "observed-cycle": "observed_cycle.json",
}
K_OF_POTSDAM = b"2031 02 27 03.0 04.50 36217.12500 36217.18750  2.333    9 0\n"
BODIES = {INDEX_PRODUCTS[name].path: (FOLDER / file).read_bytes() for name, file in GOOD.items()} | {
    INDEX_PRODUCTS["potsdam-k"].path: K_OF_POTSDAM
}
QUICK = TimeLimits(connect_s=0.5, read_s=0.4, product_s=0.8, all_s=6.0)

Answer = Callable[[BaseHTTPRequestHandler, bytes], None]


class Handler(BaseHTTPRequestHandler):
    """Serves the fixtures, each path with its own fault if one is set."""

    protocol_version = "HTTP/1.1"
    faults: dict[str, Answer]
    seen: list[tuple[str, dict[str, str]]]

    def do_GET(self) -> None:
        type(self).seen.append((self.path, dict(self.headers)))
        fault = type(self).faults.get(self.path)
        try:
            (fault or plain)(self, BODIES.get(self.path, b""))
        except (BrokenPipeError, ConnectionResetError):
            self.close_connection = True

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name of the base class
        pass


def plain(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    if handler.headers.get("If-None-Match") == '"v1"':
        status(304)(handler, b"")
        return
    handler.send_response(200)
    handler.send_header("ETag", '"v1"')
    handler.send_header("Last-Modified", "Thu, 27 Feb 2031 09:00:00 GMT")
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body)


def status(code: int, content: bytes = b"") -> Answer:
    def answer(handler: BaseHTTPRequestHandler, body: bytes) -> None:
        handler.send_response(code)
        handler.send_header("Content-Length", str(len(content)))
        handler.end_headers()
        handler.wfile.write(content)

    return answer


def instead(content: bytes, **headers: str) -> Answer:
    def answer(handler: BaseHTTPRequestHandler, body: bytes) -> None:
        handler.send_response(200)
        for name, value in headers.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.send_header("Content-Length", str(len(content)))
        handler.end_headers()
        handler.wfile.write(content)

    return answer


def silent(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    time.sleep(1.0)


def dripping(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    for at in range(20):
        handler.wfile.write(body[at : at + 1])
        handler.wfile.flush()
        time.sleep(0.1)


def stalled(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body[:100])
    handler.wfile.flush()
    time.sleep(1.0)


def cut(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body[: len(body) // 2])
    handler.wfile.flush()
    handler.close_connection = True


def chunked(whole: bool) -> Answer:
    def answer(handler: BaseHTTPRequestHandler, body: bytes) -> None:
        handler.send_response(200)
        handler.send_header("Transfer-Encoding", "chunked")
        handler.end_headers()
        for at in range(0, len(body) if whole else len(body) // 2, 1000):
            block = body[at : at + 1000]
            handler.wfile.write(b"%x\r\n%s\r\n" % (len(block), block))
        if whole:
            handler.wfile.write(b"0\r\n\r\n")
        handler.wfile.flush()
        handler.close_connection = True

    return answer


def endless(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    handler.send_response(200)
    handler.end_headers()
    handler.close_connection = True
    for _ in range(1000):
        handler.wfile.write(b"[" + b" " * 65536)


def redirect(location: str) -> Answer:
    def answer(handler: BaseHTTPRequestHandler, body: bytes) -> None:
        handler.send_response(302)
        handler.send_header("Location", location)
        handler.send_header("Content-Length", "0")
        handler.end_headers()

    return answer


def drip_for_ever(handler: BaseHTTPRequestHandler, body: bytes) -> None:
    handler.send_response(200)
    handler.end_headers()
    handler.close_connection = True
    for _ in range(1000):
        handler.wfile.write(b" ")
        handler.wfile.flush()
        time.sleep(0.02)


@contextmanager
def serving() -> Iterator[tuple[str, type[Handler]]]:
    """Address of a server, and its handler."""
    handler = type("OneHandler", (Handler,), {"faults": {}, "seen": []})
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as http:
        http.daemon_threads = True
        http.block_on_close = False
        thread = threading.Thread(target=http.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        yield f"http://127.0.0.1:{http.server_port}", handler
        http.shutdown()
        thread.join()


@pytest.fixture
def server() -> Iterator[tuple[str, type[Handler]]]:
    with serving() as found:
        yield found


def fetch(store: Store, address: str, *names: str, now: np.datetime64 = NOW) -> dict[str, Outcome]:
    request = RefreshRequest(names=names, mirror=address, limits=QUICK)
    outcomes = refresh(store, now, time.monotonic, request)
    return {outcome.product: outcome for outcome in outcomes}


def test_all_products_then_unchanged(tmp_path: Path, server: tuple[str, type[Handler]]) -> None:
    store, (address, handler) = Store(tmp_path), server
    outcomes = fetch(store, address)
    assert {outcome.status for outcome in outcomes.values()} == {"new"}
    assert tuple(outcomes) == products_of("indices")
    copy = store.get("flux")
    assert copy is not None
    assert copy.body == BODIES[INDEX_PRODUCTS["flux"].path]
    assert (copy.etag, copy.fetched) == ('"v1"', NOW)
    handler.seen.clear()
    later = NOW + np.timedelta64(3600, "s")
    outcomes = fetch(store, address, now=later)
    assert {outcome.status for outcome in outcomes.values()} == {"unchanged"}
    assert all(headers["If-None-Match"] == '"v1"' for _, headers in handler.seen)
    assert all("If-Modified-Since" in headers for _, headers in handler.seen)
    copy = store.get("flux")
    assert copy is not None
    assert (copy.fetched, copy.checked) == (NOW, later)


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (status(404), "404"),
        (status(500, b"<html>trouble</html>"), "500"),
        (status(204), "204"),
        (silent, "stopped answering"),
        (dripping, "too slow"),
        (cut, "cut off half way"),
        (chunked(whole=False), "cut off half way"),
        (stalled, "stopped answering"),
        (instead(b"<!DOCTYPE html><html><body>Log in to this hotel</body></html>"), "web page"),
        (instead(b'{"message": "nothing"}'), "not understood"),
        (instead(b""), "not understood"),
        (endless, "endless"),
        (instead(b"\x1f\x8b" + b"nonsense" * 40, Content_Encoding="gzip"), "packing"),
        (instead(gzip.compress(BODIES["/json/f107_cm_flux.json"])[:-40], Content_Encoding="gzip"), "cut off"),
        (instead(gzip.compress(b"[" + b" " * 30_000_000), Content_Encoding="gzip"), "endless"),
        (instead(b"\x80\x81" * 500), "not understood"),
        (redirect("https://example.invalid/elsewhere"), "another place"),
        (redirect("http://example.invalid/elsewhere"), "another place"),
        (redirect("/json/f107_cm_flux.json"), "too many redirects"),
        (redirect("file:///etc/passwd"), "another place"),
    ],
)  # fmt: skip
def test_a_broken_product_keeps_its_old_copy_and_harms_no_other(
    tmp_path: Path, server: tuple[str, type[Handler]], fault: Answer, words: str
) -> None:
    store, (address, handler) = Store(tmp_path), server
    fetch(store, address, "flux")
    before = store.get("flux")
    assert before is not None
    handler.faults[INDEX_PRODUCTS["flux"].path] = fault
    later = NOW + np.timedelta64(7200, "s")
    outcomes = fetch(store, address, "flux", "alert", now=later)
    assert outcomes["flux"].status == "failed"
    assert words in outcomes["flux"].message
    assert "the stored copy stays" in outcomes["flux"].message
    assert "\n" not in outcomes["flux"].message
    assert outcomes["flux"].age == np.timedelta64(7200, "s")
    assert outcomes["alert"].status == "new"
    assert store.get("flux") == before


@pytest.mark.parametrize(
    "fault",
    [
        chunked(whole=True),
        instead(gzip.compress(BODIES["/json/f107_cm_flux.json"]), Content_Encoding="gzip"),
        redirect("/json/f107_cm_flux.json?from=elsewhere"),
        instead(BODIES["/json/f107_cm_flux.json"].decode().encode("utf-16")),
    ],
)
def test_unusual_but_whole(tmp_path: Path, server: tuple[str, type[Handler]], fault: Answer) -> None:
    store, (address, handler) = Store(tmp_path), server
    BODIES["/json/f107_cm_flux.json?from=elsewhere"] = BODIES["/json/f107_cm_flux.json"]
    handler.faults[INDEX_PRODUCTS["flux"].path] = fault
    assert fetch(store, address, "flux")["flux"].status == "new"


def test_a_304_without_a_copy_is_a_failure(tmp_path: Path, server: tuple[str, type[Handler]]) -> None:
    address, handler = server
    handler.faults[INDEX_PRODUCTS["flux"].path] = status(304)
    outcome = fetch(Store(tmp_path), address, "flux")["flux"]
    assert outcome.status == "failed"
    assert "nothing is stored" in outcome.message


@pytest.mark.promise
def test_a_damaged_copy_of_the_space_weather_is_fetched_anew(
    tmp_path: Path, server: tuple[str, type[Handler]]
) -> None:
    store, (address, handler) = Store(tmp_path), server
    fetch(store, address, "flux")
    file = tmp_path / "flux.stored"
    file.write_bytes(file.read_bytes()[:-10])
    handler.seen.clear()
    assert fetch(store, address, "flux")["flux"].status == "new"
    assert "If-None-Match" not in handler.seen[0][1]


def test_another_mirror_is_not_asked_with_the_first_ones_marks(
    tmp_path: Path, server: tuple[str, type[Handler]]
) -> None:
    store, (address, handler) = Store(tmp_path), server
    fetch(store, address, "flux")
    handler.seen.clear()
    assert fetch(store, address.replace("127.0.0.1", "localhost"), "flux")["flux"].status == "new"
    assert "If-None-Match" not in handler.seen[0][1]


def test_a_clock_that_is_behind_is_pointed_out(tmp_path: Path, server: tuple[str, type[Handler]]) -> None:
    store, (address, _) = Store(tmp_path), server
    outcome = fetch(store, address, "flux", now=np.datetime64("2019-01-01", "s"))["flux"]
    assert outcome.status == "new"
    assert "check the clock" in outcome.message


def test_no_connection_ends_the_attempt_at_once(tmp_path: Path) -> None:
    outcomes = fetch(Store(tmp_path), "http://127.0.0.1:9")
    assert {outcome.status for outcome in outcomes.values()} == {"failed"}
    assert all("no connection" in outcome.message for outcome in outcomes.values())
    assert tuple(outcomes) == products_of("indices")


def test_a_full_disk_is_one_line(tmp_path: Path, server: tuple[str, type[Handler]]) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("not a folder")
    outcome = fetch(Store(blocked), server[0], "flux")["flux"]
    assert outcome.status == "failed"
    assert "cannot be" in outcome.message


def test_stopping_half_way(tmp_path: Path, server: tuple[str, type[Handler]]) -> None:
    request = RefreshRequest(names=("flux", "alert"), mirror=server[0], limits=QUICK)
    outcomes = refresh(Store(tmp_path), NOW, time.monotonic, request, cancelled=lambda: True)
    assert [outcome.status for outcome in outcomes] == ["failed", "failed"]
    assert Store(tmp_path).names() == []


@pytest.mark.parametrize(
    "address",
    ["http://services.example.org", "ftp://127.0.0.1", "services.example.org", "", "https://", "http://[::"],
)
def test_addresses_that_may_not_be_used(address: str) -> None:
    with pytest.raises(InputError):
        checked_base(address)


def test_addresses_that_may() -> None:
    assert checked_base("https://mirror.example.org/noaa/") == "https://mirror.example.org/noaa"
    assert checked_base("http://127.0.0.1:8000") == "http://127.0.0.1:8000"


def two_hosts(first: str, second: str) -> tuple[Host, ...]:
    """The hosts at addresses on this machine."""
    return tuple(replace(host, address=at) for host, at in zip(HOSTS, (first, second), strict=True))


Servers = tuple[str, str, type[Handler], type[Handler]]


@pytest.fixture
def servers(server: tuple[str, type[Handler]]) -> Iterator[Servers]:
    """Addresses of a first and of a second server, and their handlers."""
    with serving() as (second, handler):
        yield server[0], second, server[1], handler


def test_k_of_the_second_host_is_fetched_only_where_that_of_the_first_failed(
    tmp_path: Path, servers: Servers
) -> None:
    first, second, handler, further = servers
    request = RefreshRequest(limits=QUICK, hosts=two_hosts(first, second))
    said: list[str] = []
    outcomes = refresh(Store(tmp_path), NOW, time.monotonic, request, announce=said.append)
    assert "potsdam-k" not in {outcome.product for outcome in outcomes}
    assert further.seen == said == []
    handler.faults[INDEX_PRODUCTS["flux"].path] = status(500)
    outcomes = refresh(Store(tmp_path), NOW, time.monotonic, request)
    assert "potsdam-k" not in {outcome.product for outcome in outcomes}
    handler.faults[INDEX_PRODUCTS["planetary-k"].path] = status(500)
    outcomes = refresh(Store(tmp_path), NOW, time.monotonic, request, announce=said.append)
    assert (outcomes[-1].product, outcomes[-1].status) == ("potsdam-k", "new")
    assert [path for path, _ in further.seen] == [INDEX_PRODUCTS["potsdam-k"].path]
    assert len(said) == 1
    assert second in said[0]


def test_a_host_without_a_connection_leaves_time_for_the_second(tmp_path: Path, servers: Servers) -> None:
    request = RefreshRequest(limits=QUICK, hosts=two_hosts("http://127.0.0.1:9", servers[1]))
    outcomes = refresh(Store(tmp_path), NOW, time.monotonic, request)
    assert (outcomes[-1].product, outcomes[-1].status) == ("potsdam-k", "new")
    assert {outcome.status for outcome in outcomes[:-1]} == {"failed"}


def test_a_mirror_that_answers_replaces_the_second_host_too(
    tmp_path: Path, server: tuple[str, type[Handler]]
) -> None:
    address, handler = server
    handler.faults[INDEX_PRODUCTS["planetary-k"].path] = status(500)
    outcomes = fetch(Store(tmp_path), address, "planetary-k", "flux")
    assert outcomes["potsdam-k"].status == "new"
    assert all(path.startswith("/") for path, _ in handler.seen)
    silent_mirror = fetch(Store(tmp_path), "http://127.0.0.1:9", "planetary-k", "flux")
    assert list(silent_mirror) == ["planetary-k", "flux"], "a mirror that never answered is tried once"


class Clock:
    """A clock that is a second later with every reading."""

    now_s = 0.0

    def __call__(self) -> float:
        self.now_s += 1.0
        return self.now_s


def test_one_deadline_holds_for_all_hosts_together(tmp_path: Path, servers: Servers) -> None:
    """Both hosts send without end; each of the two products alone may take 12 s of the 20 s."""
    first, second, handler, further = servers
    handler.faults[INDEX_PRODUCTS["planetary-k"].path] = drip_for_ever
    further.faults[INDEX_PRODUCTS["potsdam-k"].path] = drip_for_ever
    limits = TimeLimits(connect_s=1e6, read_s=1e6, product_s=12.0, all_s=20.0)
    request = RefreshRequest(names=("planetary-k",), limits=limits, hosts=two_hosts(first, second))
    clock = Clock()
    outcomes = refresh(Store(tmp_path), NOW, clock, request)
    assert [outcome.reason for outcome in outcomes] == ["too slow: given up half way"] * 2
    assert len(further.seen) == 1
    # the end is the first reading plus 20 s; the reading that finds it may be a step beyond
    assert clock.now_s <= 1.0 + 20.0 + 1.0


def test_no_time_left_is_said_of_every_product_and_nothing_more_is_sent(
    tmp_path: Path, servers: Servers
) -> None:
    first, second, handler, further = servers
    clock = Clock()

    def slow(handler: BaseHTTPRequestHandler, body: bytes) -> None:
        clock.now_s += 30.0
        status(404)(handler, body)

    handler.faults[INDEX_PRODUCTS["planetary-k"].path] = slow
    limits = TimeLimits(connect_s=1e6, read_s=1e6, product_s=1e6, all_s=20.0)
    request = RefreshRequest(limits=limits, hosts=two_hosts(first, second))
    outcomes = refresh(Store(tmp_path), NOW, clock, request)
    assert [path for path, _ in handler.seen] == [INDEX_PRODUCTS["planetary-k"].path]
    assert further.seen == []
    assert outcomes[-1].product == "potsdam-k"
    assert all("no time left" in outcome.reason for outcome in outcomes[1:])


@pytest.mark.promise
def test_a_fetch_ends_after_the_time_announced() -> None:
    """What is said before a refresh: 20 s at most for the indices, 90 s for the maps."""
    assert RefreshRequest().times.all_s == 20.0
    assert RefreshRequest("maps").times.all_s == 90.0
    assert "never more than 90 s" in size_words()


@pytest.mark.promise
def test_every_address_is_shown_before_anything_is_sent() -> None:
    for group in ("indices", "maps"):
        for host in HOSTS:
            assert host.address in RefreshRequest(group).source_words()
        mirrored = RefreshRequest(
            group, mirror="https://mirror.example", proxy="http://host:1"
        ).source_words()
        assert mirrored == "https://mirror.example through the proxy http://host:1"
    assert HOSTS[1].address not in RefreshRequest(names=("flux",)).source_words()


def test_the_command_asks_the_second_host_and_says_so(
    bandwhen: Any, servers: Servers, monkeypatch: pytest.MonkeyPatch
) -> None:
    hosts = two_hosts("http://127.0.0.1:9", servers[1])  # nobody listens at the first
    monkeypatch.setattr(
        fetching,
        "request_for",
        lambda group, names, mirror: RefreshRequest(group, names, mirror or "", hosts=hosts),
    )
    done = bandwhen("--now", "2031-02-27T09:30Z", "conditions", "fetch", "--json")
    assert f"Asking {servers[1]}" in done.err
    assert done.json["products"][-1]["product"] == "potsdam-k"
    assert done.json["products"][-1]["status"] == "new"


def test_a_new_host_is_an_entry_and_its_reader(tmp_path: Path, servers: Servers) -> None:
    """A third host with a flux of its own: nothing but the table knows of it."""
    data = ProductData(flux_sfu=TimeSeries.of([NOW], [150.0]))
    product = IndexProduct("/flux.txt", lambda text: data, "flux")
    hosts = (*two_hosts(*servers[:2]), Host(servers[1], {"third-flux": product}))
    servers[3].faults["/flux.txt"] = instead(b"150")
    outcomes = refresh(Store(tmp_path), NOW, time.monotonic, RefreshRequest(limits=QUICK, hosts=hosts))
    assert (outcomes[-1].product, outcomes[-1].status) == ("third-flux", "new")
