"""Refresh of stored space weather over HTTPS: every product of a group, from every host, by one deadline.

Nothing is fetched unless the operator requests it. A product that cannot be read never replaces a stored
copy, one broken product does not affect the others, and a host that cannot be reached is tried once. The
connection itself is in `exchange`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field, replace
from typing import Final, Literal
from urllib.parse import urljoin, urlsplit

import numpy as np

from propagation.base.errors import InputError
from propagation.base.store import Store, Stored, StoreError
from propagation.base.text import age_words
from propagation.space_weather.sources.density_map import read_density_index
from propagation.space_weather.sources.exchange import (
    Connection,
    ExchangeError,
    HttpResponse,
    Watch,
    usable,
)
from propagation.space_weather.sources.hosts import (
    DENSITY,
    FUTURE,
    HOSTS,
    MAP_PRODUCTS,
    Group,
    Host,
    IndexProduct,
    MapProduct,
    Product,
    StoredForm,
    day_copy,
    products_of,
)

REDIRECTS_MAX: Final = 3  # followed within the same server only
_REDIRECTS: Final = (301, 302, 303, 307, 308)
_MARK: Final = re.compile(r"[\x20-\x7e]{1,200}")  # ETag or date that may be sent back to the server
_LARGEST_LIST: Final = 2_000_000  # bytes of a list of frames; a month of entries takes 0.5 MB
_SECRET: Final = re.compile(
    r"^([A-Za-z][A-Za-z0-9+.-]*://)?.*@", re.DOTALL
)  # what may be a password (RFC 3986, 3.2.1)


@dataclass(frozen=True)
class TimeLimits:
    """Longest times [s]: for a connection, between bytes, for one product, and for all of a refresh.

    A second refresh gets what the first had no time for: products that have not changed come at once.
    """

    connect_s: float = 5.0
    read_s: float = 6.0
    product_s: float = 12.0
    all_s: float = 20.0


# The maps are 3.3 MB, which take 27 s at 1 Mbit/s
LIMITS: Final[dict[Group, TimeLimits]] = {
    "indices": TimeLimits(),
    "maps": TimeLimits(product_s=60.0, all_s=90.0),
}


@dataclass(frozen=True)
class Outcome:
    """Result for one product.

    message: one line. age: of the stored copy in use, if any. reason: of a failure, in a few words.
    """

    product: str
    status: Literal["new", "unchanged", "failed"]
    message: str
    age: np.timedelta64 | None = None
    problems: tuple[str, ...] = ()
    reason: str = ""


class FetchError(ExchangeError):
    """Reason why one product could not be fetched. final: the others of the host are not tried."""


def without_password(address: str) -> str:
    """The address with *** for the user's name and password, whether or not it can be used: to be shown."""
    return _SECRET.sub(r"\1***@", address)


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
        raise InputError(
            f"{without_password(address)!r} would be fetched without encryption; write it as https://."
        )
    if not fit:
        raise InputError(
            f"{without_password(address)!r} is not an address to fetch from; write it as https://host/path."
        )
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
        raise InputError(
            f"The proxy {without_password(address)!r} is not usable; write it as http://host:port."
        )
    return address.strip().rstrip("/")


@dataclass(frozen=True)
class RefreshRequest:
    """Products to fetch, and the way to them; InputError for an address or a product that cannot be used.

    names: of products of the group that are always fetched; empty: all. mirror: an address that replaces
    those of all hosts; empty: none. proxy: "http://host:port", or empty. limits: None for those of the group.
    """

    group: Group = "indices"
    names: tuple[str, ...] = ()
    mirror: str = ""
    proxy: str = field(default="", repr=False)  # it may hold a password
    limits: TimeLimits | None = None
    hosts: tuple[Host, ...] = HOSTS

    def __post_init__(self) -> None:
        there = products_of(self.group, self.hosts)
        unknown = [name for name in self.names if name not in there]
        if unknown:
            raise InputError(f"{unknown[0]!r} is no product; there are {', '.join(there)}.")
        if self.mirror:
            checked_base(self.mirror)
        checked_proxy(self.proxy)

    @property
    def times(self) -> TimeLimits:
        """Time limits in force."""
        return self.limits or LIMITS[self.group]

    @property
    def wanted(self) -> tuple[str, ...]:
        """Names of the products that are fetched in any case."""
        return self.names or products_of(self.group, self.hosts)

    def address_of(self, host: Host) -> str:
        """Base address from which the products of a host are fetched."""
        return checked_base(self.mirror or host.address)

    def source_words(self) -> str:
        """Addresses that may be contacted, for the operator to see before anything is sent."""
        words = self.address_of(self.hosts[0])
        for host in self.hosts[1:] if not self.mirror else ():
            if any(name in self.wanted for name in host.products):
                words += f" and {host.address}"
            elif any(product.substitute_for in self.wanted for product in host.products.values()):
                words += f" (what fails there: from {host.address})"
        return words + (f" through the proxy {checked_proxy(self.proxy)}" if self.proxy else "")


def size_words() -> str:
    """Size of the measured maps and the time they take, for the operator to see before they are fetched."""
    largest = MAP_PRODUCTS[DENSITY].size_mb
    total = sum(product.size_mb for product in MAP_PRODUCTS.values())
    seconds = total * 8.0  # at 1 Mbit/s
    return (
        f"up to {total:.1f} MB before packing, {largest:.1f} MB of it the density map: "
        f"about {seconds:.0f} s at 1 Mbit/s, never more than {LIMITS['maps'].all_s:.0f} s"
    )


def refresh(
    store: Store,
    now: np.datetime64,
    clock: Callable[[], float],
    request: RefreshRequest,
    cancelled: Callable[[], bool] = lambda: False,
    announce: Callable[[str], None] = lambda _: None,
) -> list[Outcome]:
    """Fetch the products of a request into the store; an outcome for each, in the order of the hosts.

    now: present time, UTC, stored with each copy. clock: seconds that only rise (`time.monotonic`). One
    deadline, `times.all_s` after the call, holds for all hosts together. cancelled: called twenty times a
    second; True ends the refresh. announce: receives a sentence before each further host is contacted. A
    mirror is contacted for the products of further hosts only where it answered for those of the first.
    """
    end = clock() + request.times.all_s
    outcomes: list[Outcome] = []
    for number, host in enumerate(request.hosts):
        failed = {outcome.product for outcome in outcomes if outcome.status == "failed"}
        chosen = {
            name: product
            for name, product in host.products.items()
            if name in request.wanted or product.substitute_for in failed
        }
        silent = bool(request.mirror and outcomes) and len(failed) == len(outcomes)
        if not chosen or silent or (number > 0 and cancelled()):
            continue
        address = request.address_of(host)
        if number > 0:
            announce(f"Asking {address} for {', '.join(product.what for product in chosen.values())}.")
        outcomes += _from_host(store, now, address, chosen, request, _Deadline(clock, end, cancelled))
    return outcomes


@dataclass(frozen=True)
class _Deadline:
    """End of a refresh on the clock [s], and its cancellation."""

    clock: Callable[[], float]
    end: float
    cancelled: Callable[[], bool]

    def watch(self, limits: TimeLimits) -> Watch:
        """Watch over the next product."""
        now = self.clock()
        if now >= self.end:
            raise FetchError("no time left; fetch again for the rest", final=True)
        return Watch(self.clock, min(self.end, now + limits.product_s), limits.read_s, self.cancelled)


def _from_host(
    store: Store,
    now: np.datetime64,
    base: str,
    products: dict[str, Product],
    request: RefreshRequest,
    deadline: _Deadline,
) -> list[Outcome]:
    """Fetch products of one host one after another."""
    outcomes: list[Outcome] = []
    hopeless: str | None = None
    limits = request.times
    with closing(Connection.to(base, limits.connect_s, checked_proxy(request.proxy))) as connection:
        for name, product in products.items():
            held, damage = _held(store, name)
            try:
                if hopeless is not None:
                    raise FetchError(hopeless)
                get = Get(connection, deadline.watch(limits))
                outcomes.append(_fetch_one(get, base, name, product, store, held, now))
            except (ExchangeError, StoreError) as fault:
                if isinstance(fault, ExchangeError) and fault.final:
                    hopeless = str(fault)
                age = _age(product, held, now)
                kept = "nothing is stored" if age is None else "the stored copy stays"
                reason, note = str(fault).rstrip("."), f"; {damage}" if damage else ""
                message = f"{product.what}: {reason}; {kept}{note}"
                outcomes.append(Outcome(name, "failed", message, age, reason=reason))
    return outcomes


def _held(store: Store, name: str) -> tuple[Stored | None, str]:
    try:
        return store.get(name), ""
    except StoreError as damage:
        return None, damage.message


def _age(product: Product, held: Stored | None, now: np.datetime64) -> np.timedelta64 | None:
    """Age of a stored copy: since it was checked, or for a map since it was measured; None without one."""
    if held is None or isinstance(product, IndexProduct):
        return None if held is None else now - held.checked
    form = product.restored(held.body)
    return None if form is None or form.time is None else now - form.time


def _fetch_one(
    get: Get,
    base: str,
    name: str,
    product: Product,
    store: Store,
    held: Stored | None,
    now: np.datetime64,
) -> Outcome:
    """Fetch one product, by its list where it has one; check it and store it."""
    address, listed_time = base + product.path, None
    if isinstance(product, MapProduct) and product.by_list:
        index = read_density_index(get(address, {}, _LARGEST_LIST).body)
        if not index.frames:
            raise FetchError("its list is not understood: " + "; ".join(index.problems))
        listed_time, place = index.frames[-1]
        address = redirected(address, place)
    response = get(address, _conditional(held, address), product.largest_bytes)
    if response.status == 304 and held is not None:
        store.put(replace(held, checked=now))
        return Outcome(name, "unchanged", f"{product.what}: unchanged", np.timedelta64(0, "s"))
    form = product.stored_form(response.body, listed_time)
    if not form.body:
        raise FetchError("not understood: " + ("; ".join(form.problems) or "nothing usable in it"))
    if isinstance(product, MapProduct):
        outcome = _of_map(name, product, form, held, now)
        store.put(Stored(name, form.body, address, now, now))
        if name == DENSITY and form.time is not None:
            store.put(Stored(day_copy(form.time), form.body, address, now, now))
        return outcome
    problems = form.problems
    if form.time is not None and form.time > now + np.timedelta64(1, "D"):
        problems = (*problems, f"dated {form.time}Z, in the future: check the clock")
    etag, modified = (_mark(response.headers.get(key, "")) for key in ("etag", "last-modified"))
    store.put(Stored(name, form.body, address, now, now, etag, modified))
    words = f"{product.what}: fetched{_in_brackets(problems)}"
    return Outcome(name, "new", words, np.timedelta64(0, "s"), problems)


def _of_map(
    name: str, product: MapProduct, form: StoredForm, held: Stored | None, now: np.datetime64
) -> Outcome:
    """Outcome of a map that is to be stored; FetchError where it is of the future or older than the copy."""
    if form.time is None:
        raise FetchError("not understood: no time in it")
    age = now - form.time
    if age < -FUTURE:
        raise FetchError(f"dated {form.time}Z, in the future: check the clock")
    before = None if held is None else product.restored(held.body)
    if before is not None and before.time is not None and before.time > form.time:
        raise FetchError(f"stale: of {form.time}Z, older than the copy that is stored")
    problems = ((f"stale: {age_words(age)}",) if age > product.valid_for else ()) + form.problems
    words = f"{product.what}: of {str(form.time)[11:16]} UTC, {age_words(age)}{_in_brackets(problems)}"
    return Outcome(name, "new", words, age, problems)


def _in_brackets(problems: tuple[str, ...]) -> str:
    return f" ({'; '.join(problems)})" if problems else ""


def _conditional(held: Stored | None, address: str) -> dict[str, str]:
    """Headers by which the server sends a product only where it has changed."""
    headers = {}
    if held is not None and held.origin == address:
        if held.etag and _MARK.fullmatch(held.etag):
            headers["If-None-Match"] = held.etag
        if held.last_modified and _MARK.fullmatch(held.last_modified):
            headers["If-Modified-Since"] = held.last_modified
    return headers


def _mark(text: str) -> str | None:
    """A mark of a copy, if it is one that can be sent back."""
    return text if _MARK.fullmatch(text) else None


@dataclass
class Get:
    """One guarded GET: from one server only, bounded in time and size."""

    connection: Connection
    watch: Watch

    def __call__(self, address: str, headers: dict[str, str], largest_bytes: int) -> HttpResponse:
        """Response with a body, or of status 304 where `headers` allow it; ExchangeError otherwise."""
        for _ in range(REDIRECTS_MAX + 1):
            parts = urlsplit(address)
            target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
            response = self.connection.get(target, headers, largest_bytes, self.watch)
            if response.status in _REDIRECTS and "location" in response.headers:
                address = redirected(address, response.headers["location"])
            elif response.status == 200 or (response.status == 304 and headers):
                return response
            else:
                raise FetchError(f"the server answered {response.status_words}")
        raise FetchError("too many redirects")


def redirected(address: str, location: str) -> str:
    """Target of a redirect; FetchError unless it is on the same server by the same scheme."""
    try:
        target = urljoin(address, location)
        parts = urlsplit(target)
        same = parts[:2] == urlsplit(address)[:2] and usable(parts)
    except ValueError:
        same = False
    if not same:
        raise FetchError("refused: it redirects to another place")
    return target
