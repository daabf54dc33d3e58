"""Fetches the public space weather service's products over HTTPS, through `exchange`, the one door to the
network.

Nothing is fetched unless the operator asks. Getting and reading are apart: a product is read by
`space_weather`, kept by `store`, and a product that cannot be read never replaces a stored copy. One broken
product never takes the others down; without a connection the first failure ends the attempt.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass, replace
from typing import Final, Literal
from urllib.parse import urljoin, urlsplit

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored, StoreError
from propagation.space_weather.sources.exchange import Answer, ExchangeError, Line, Watch, usable
from propagation.space_weather.sources.products import ALL_PRODUCTS, PRODUCTS, Product, read_product

BASE_ADDRESS: Final = "https://services.swpc.noaa.gov"
LARGEST_HOPS: Final = 3  # redirects followed, within the same server only
_MARK: Final = re.compile(r"[\x20-\x7e]{1,200}")  # a mark of a copy that is sent back to the server
_PACKED: Final = {"": False, "identity": False, "gzip": True, "x-gzip": True}


@dataclass(frozen=True)
class Limits:
    """How long to wait [s]: for a connection, for the next bytes, for one product, for all of them.

    What does not fit into the time is had by asking again: products that have not changed come at once.
    """

    connect_s: float = 5.0
    read_s: float = 6.0
    product_s: float = 12.0
    all_s: float = 20.0


@dataclass(frozen=True)
class Outcome:
    """What became of one product.

    message: one line. age: of the stored copy that serves now, if any. reason: of a failure, in a few words.
    """

    product: str
    status: Literal["new", "unchanged", "failed"]
    message: str
    age: np.timedelta64 | None = None
    problems: tuple[str, ...] = ()
    reason: str = ""


class FetchError(ExchangeError):
    """Why one product could not be had, as the end of a sentence. final: no use trying the others."""


def checked_base(address: str) -> str:
    """The base address without a trailing stroke; InputError unless it is HTTPS, or HTTP on this machine."""
    try:
        parts = urlsplit(address.strip())
        possible = bool(parts.hostname) and parts.scheme in ("https", "http") and not parts.query
        fit = possible and usable(parts)
        plain = possible and not fit and usable(parts._replace(scheme="https"))
    except ValueError:
        fit = plain = False
    if plain:
        raise InputError(f"{address!r} would be fetched without encryption; write it as https://.")
    if not fit:
        raise InputError(f"{address!r} is not an address to fetch from; write it as https://host/path.")
    return address.strip().rstrip("/")


def checked_proxy(address: str) -> str:
    """The address of a proxy, or empty for none; InputError where it is not http://host:port."""
    if not address:
        return ""
    try:
        parts = urlsplit(address.strip())
        fit = parts.scheme == "http" and usable(parts._replace(scheme="https")) and parts.path in ("", "/")
    except ValueError:
        fit = False
    if not fit:
        raise InputError(f"The proxy {address!r} is not usable; write it as http://host:port.")
    return address.strip().rstrip("/")


def fetch_all(
    store: Store,
    now: np.datetime64,
    clock: Callable[[], float],
    base_address: str = BASE_ADDRESS,
    names: Iterable[str] = tuple(PRODUCTS),
    limits: Limits | None = None,
    cancelled: Callable[[], bool] = lambda: False,
    proxy: str = "",
) -> list[Outcome]:
    """Fetch products one after another into the store; an outcome for each, in order.

    now: the present time, UTC, stored with each copy. clock: seconds that only rise (`time.monotonic`).
    cancelled: asked twenty times a second, to stop early. proxy: "http://host:port", or empty for none.
    Raises InputError for an address that may not be used.
    """
    base = checked_base(base_address)
    waits = limits or Limits()
    end = clock() + waits.all_s
    outcomes: list[Outcome] = []
    hopeless: str | None = None
    with closing(Line.to(base, waits.connect_s, checked_proxy(proxy))) as line:
        for name in names:
            product = ALL_PRODUCTS[name]
            held, damage = _held(store, name)
            try:
                if hopeless is not None:
                    raise FetchError(hopeless)
                if clock() >= end:
                    raise FetchError("no time left; ask again for the rest", final=True)
                deadline = min(end, clock() + waits.product_s)
                get = Get(line, Watch(clock, deadline, waits.read_s, cancelled))
                outcomes.append(_fetch_one(get, base, name, product, store, held, now))
            except (ExchangeError, StoreError) as fault:
                if isinstance(fault, ExchangeError) and fault.final:
                    hopeless = str(fault)
                age = None if held is None else now - held.checked
                kept = "nothing is stored" if held is None else "the stored copy stays"
                reason, note = str(fault).rstrip("."), f"; {damage}" if damage else ""
                message = f"{product.what}: {reason}; {kept}{note}"
                outcomes.append(Outcome(name, "failed", message, age, reason=reason))
    return outcomes


def _held(store: Store, name: str) -> tuple[Stored | None, str]:
    try:
        return store.get(name), ""
    except StoreError as damage:
        return None, damage.message


def _fetch_one(
    get: Get,
    base: str,
    name: str,
    product: Product,
    store: Store,
    held: Stored | None,
    now: np.datetime64,
) -> Outcome:
    """Ask for one product, look at it, keep it."""
    address = base + product.path
    conditional = {}
    if held is not None and held.origin == address:
        if held.etag and _MARK.fullmatch(held.etag):
            conditional["If-None-Match"] = held.etag
        if held.last_modified and _MARK.fullmatch(held.last_modified):
            conditional["If-Modified-Since"] = held.last_modified
    answer = get(address, conditional, product.largest_bytes)
    if answer is None:
        if held is None:
            raise FetchError("the server said 'unchanged' though nothing is stored")
        store.put(replace(held, checked=now))
        return Outcome(name, "unchanged", f"{product.what}: unchanged", np.timedelta64(0, "s"))
    body, headers = answer
    reading = read_product(name, body)
    if reading.empty:
        raise FetchError("not understood: " + ("; ".join(reading.problems) or "nothing usable in it"))
    problems = reading.problems
    if reading.issued is not None and reading.issued > now + np.timedelta64(1, "D"):
        problems = (*problems, f"dated {reading.issued}Z, in the future: check the clock")
    etag, modified = (_mark(headers.get(key, "")) for key in ("etag", "last-modified"))
    store.put(Stored(name, body, address, now, now, etag, modified))
    note = f" ({'; '.join(problems)})" if problems else ""
    return Outcome(name, "new", f"{product.what}: fetched{note}", np.timedelta64(0, "s"), problems)


def _mark(text: str) -> str | None:
    """A mark by which the server knows its copy again, if it is one that can be sent back."""
    return text if _MARK.fullmatch(text) else None


@dataclass
class Get:
    """One guarded GET: from one server only, bounded in time and size."""

    line: Line
    watch: Watch

    def __call__(
        self, address: str, headers: dict[str, str], largest_bytes: int
    ) -> tuple[bytes, dict[str, str]] | None:
        """Body and headers, or None for "not modified"; ExchangeError otherwise."""
        for _ in range(LARGEST_HOPS + 1):
            parts = urlsplit(address)
            target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
            answer = self.line.get(target, headers, self.watch)
            try:
                if answer.status == 304:
                    return None
                if answer.status in (301, 302, 303, 307, 308) and "location" in answer.headers:
                    address = redirected(address, answer.headers["location"])
                    self._body(answer, largest_bytes)
                    continue
                if answer.status != 200:
                    raise FetchError(f"the server answered {answer.status_words}")
                return self._body(answer, largest_bytes), answer.headers
            finally:
                self.line.done_with(answer)
        raise FetchError("too many redirects")

    def _body(self, answer: Answer, largest_bytes: int) -> bytes:
        """The whole body, unpacked, within the limits of time and size, and of the announced length."""
        announced = answer.headers.get("content-length", "")
        length = int(announced) if announced.isascii() and announced.isdigit() and len(announced) < 16 else -1
        if announced and length < 0:
            raise FetchError("not understood: it announces a length that is none")
        if length > largest_bytes:
            raise FetchError(f"too large ({length} bytes; {largest_bytes} are allowed)")
        packed = _PACKED.get(answer.headers.get("content-encoding", "").strip().lower())
        if packed is None:
            raise FetchError("not understood: packed in a way that was not asked for")
        unpack = zlib.decompressobj(16 + zlib.MAX_WBITS)
        received, body = 0, bytearray()
        while block := answer.read_some():
            received += len(block)
            if packed:
                try:
                    block = unpack.decompress(block, largest_bytes + 1 - len(body))
                except zlib.error:
                    raise FetchError("its packing is damaged") from None
            body += block
            if max(len(body), received) > largest_bytes:
                raise FetchError(f"endless: more than {largest_bytes} bytes")
        if received < length:
            raise FetchError(f"cut off half way, after {received} of {length} bytes")
        if packed and not unpack.eof:
            raise FetchError(f"cut off after {received} packed bytes")
        return bytes(body)


def redirected(address: str, location: str) -> str:
    """Where a redirect leads; FetchError unless that is the same server in the same way."""
    try:
        target = urljoin(address, location)
        parts = urlsplit(target)
        same = parts[:2] == urlsplit(address)[:2] and usable(parts)
    except ValueError:
        same = False
    if not same:
        raise FetchError("refused: it redirects to another place")
    return target
