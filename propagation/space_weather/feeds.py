"""Fetches the public space weather service's products over HTTPS: the only door to the network.

Nothing is fetched unless the operator asks. Getting and reading are apart: a product is read by
`space_weather`, kept by `store`, and a product that cannot be read never replaces a stored copy. One broken
product never takes the others down; without a connection the first failure ends the attempt.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal
from urllib.parse import SplitResult, urljoin, urlsplit

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored, StoreError
from propagation.space_weather.products import PRODUCTS, Product, read_product

if TYPE_CHECKING:
    import requests

BASE_ADDRESS: Final = "https://services.swpc.noaa.gov"
USER_AGENT: Final = "bandwhen (amateur radio propagation advice; fetches on request only)"
LARGEST_HOPS: Final = 3  # redirects followed, to HTTPS only
BLOCK_BYTES: Final = 65536
_LOOPBACK: Final = ("127.0.0.1", "::1", "localhost")


@dataclass(frozen=True)
class Limits:
    """How long to wait [s]: for a connection, for the next bytes, for one product, for all of them."""

    connect_s: float = 5.0
    read_s: float = 6.0
    product_s: float = 20.0
    all_s: float = 60.0


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


class FetchError(Exception):
    """Why one product could not be had, as the end of a sentence. final: no use trying the others."""

    def __init__(self, reason: str, final: bool = False) -> None:
        super().__init__(reason)
        self.final = final


def _allowed(parts: SplitResult) -> bool:
    """True for HTTPS anywhere, and for plain HTTP on this machine (a mirror, a test)."""
    return bool(parts.hostname) and (
        parts.scheme == "https" or (parts.scheme == "http" and parts.hostname in _LOOPBACK)
    )


def checked_base(address: str) -> str:
    """The base address without a trailing stroke; InputError unless it is HTTPS, or HTTP on this machine."""
    try:
        parts = urlsplit(address.strip())
        usable = bool(parts.hostname) and parts.scheme in ("https", "http") and not parts.query
    except ValueError:
        usable = False
    if not usable:
        raise InputError(f"{address!r} is not an address to fetch from; write it as https://host/path.")
    if not _allowed(parts):
        raise InputError(f"{address!r} would be fetched without encryption; write it as https://.")
    return address.strip().rstrip("/")


def fetch_all(
    store: Store,
    now: np.datetime64,
    clock: Callable[[], float],
    base_address: str = BASE_ADDRESS,
    names: Iterable[str] = tuple(PRODUCTS),
    limits: Limits | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> list[Outcome]:
    """Fetch products one after another into the store; an outcome for each, in order.

    now: the present time, UTC, stored with each copy. clock: seconds that only rise (`time.monotonic`).
    cancelled: asked between blocks, to stop early. Raises InputError for a base address that may not be used.
    """
    import requests

    base = checked_base(base_address)
    waits = limits or Limits()
    end = clock() + waits.all_s
    outcomes: list[Outcome] = []
    hopeless: str | None = None
    with requests.Session() as session:
        session.headers.update({"User-Agent": USER_AGENT, "Accept-Encoding": "gzip"})
        for name in names:
            product = PRODUCTS[name]
            held, damage = _held(store, name)
            try:
                if hopeless is not None:
                    raise FetchError(hopeless)
                if clock() >= end:
                    raise FetchError("no time left", final=True)
                deadline = min(end, clock() + waits.product_s)
                get = _Get(session, waits, deadline, clock, cancelled)
                outcomes.append(_fetch_one(get, base, name, product, store, held, now))
            except (FetchError, StoreError) as fault:
                if isinstance(fault, FetchError) and fault.final:
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
    get: _Get,
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
        if held.etag:
            conditional["If-None-Match"] = held.etag
        if held.last_modified:
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
    store.put(Stored(name, body, address, now, now, headers.get("ETag"), headers.get("Last-Modified")))
    note = f" ({'; '.join(problems)})" if problems else ""
    return Outcome(name, "new", f"{product.what}: fetched{note}", np.timedelta64(0, "s"), problems)


@dataclass
class _Get:
    """One guarded GET: HTTPS only, bounded in time and size."""

    session: requests.Session
    waits: Limits
    deadline: float
    clock: Callable[[], float]
    cancelled: Callable[[], bool]

    def __call__(
        self, address: str, headers: dict[str, str], largest_bytes: int
    ) -> tuple[bytes, dict[str, str]] | None:
        """Body and headers, or None for "not modified"; FetchError otherwise."""
        import requests
        from urllib3.exceptions import HTTPError, ReadTimeoutError

        try:
            for _ in range(LARGEST_HOPS + 1):
                with self.session.get(
                    address,
                    headers=headers,
                    timeout=(self.waits.connect_s, self.waits.read_s),
                    stream=True,
                    allow_redirects=False,
                ) as response:
                    if response.status_code == 304:
                        return None
                    if response.is_redirect:
                        address = _redirected(address, response.headers["Location"])
                        continue
                    if response.status_code != 200:
                        raise FetchError(
                            f"the server answered {response.status_code} {response.reason or ''}".rstrip()
                        )
                    return self._body(response, largest_bytes), dict(response.headers)
            raise FetchError("too many redirects")
        except requests.exceptions.SSLError:
            raise FetchError("the server's certificate cannot be trusted (check the clock)") from None
        except requests.exceptions.ConnectTimeout:
            raise FetchError("no connection in time", final=True) from None
        except requests.exceptions.Timeout:
            raise FetchError("the server stopped answering") from None
        except requests.exceptions.ConnectionError as error:
            if "Read timed out" in str(error):
                raise FetchError("the server stopped answering") from None
            if "NameResolution" in str(error) or "NewConnection" in str(error) or "refused" in str(error):
                raise FetchError("no connection", final=True) from None
            raise FetchError("the connection was cut") from None
        except (ReadTimeoutError, TimeoutError):
            raise FetchError("the server stopped answering") from None
        except (requests.exceptions.RequestException, HTTPError, OSError):
            raise FetchError("cut off half way") from None

    def _body(self, response: requests.Response, largest_bytes: int) -> bytes:
        """The whole body, unpacked, within the limits of time and size, and of the announced length."""
        announced = response.headers.get("Content-Length", "")
        if announced.isdigit() and int(announced) > largest_bytes:
            raise FetchError(f"too large ({announced} bytes; {largest_bytes} are allowed)")
        packed = response.headers.get("Content-Encoding", "").lower() == "gzip"
        unpack = zlib.decompressobj(16 + zlib.MAX_WBITS)
        received, body = 0, bytearray()
        while block := _read_some(response.raw):
            received += len(block)
            if packed:
                try:
                    block = unpack.decompress(block, largest_bytes + 1 - len(body))
                except zlib.error:
                    raise FetchError("its packing is damaged") from None
            body += block
            if len(body) > largest_bytes:
                raise FetchError(f"endless: more than {largest_bytes} bytes")
            if self.clock() >= self.deadline:
                raise FetchError("too slow: given up half way")
            if self.cancelled():
                raise FetchError("stopped", final=True)
        if announced.isdigit() and received < int(announced):
            raise FetchError(f"cut off after {received} of {announced} bytes")
        if packed and not unpack.eof:
            raise FetchError(f"cut off after {received} packed bytes")
        return bytes(body)


def _read_some(raw: Any) -> bytes:
    """The next bytes as they come, still packed; empty at the end. Never waits for a whole block."""
    read1 = getattr(raw, "read1", None)
    if read1 is not None:
        data: bytes = read1(BLOCK_BYTES, decode_content=False)
    else:  # urllib3 before 2.1
        data = raw.read(256, decode_content=False)
    return data


def _redirected(address: str, location: str) -> str:
    """Where a redirect leads; FetchError unless that is by the same scheme, and HTTPS or this machine."""
    target = urljoin(address, location)
    parts = urlsplit(target)
    if parts.scheme != urlsplit(address).scheme or not _allowed(parts):
        raise FetchError("refused: it redirects to another scheme")
    return target
