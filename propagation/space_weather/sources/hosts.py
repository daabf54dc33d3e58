"""Hosts of space weather and their products: addresses, readers, and when each product is fetched.

A new host is a file with its readers and an entry of `HOSTS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal, Protocol, TypeVar

import numpy as np

from propagation.space_weather.sources.absorption_map import (
    absorption_of,
    kept_absorption,
    read_absorption_map,
)
from propagation.space_weather.sources.aurora_map import aurora_of, kept_aurora, read_aurora_map
from propagation.space_weather.sources.density_map import density_of, kept_density, read_density_frame
from propagation.space_weather.sources.potsdam_products import read_hp30_nowcast, read_kp_nowcast
from propagation.space_weather.sources.product_data import ProductData, text_of
from propagation.space_weather.sources.service_products import (
    read_alert,
    read_daily_indices,
    read_flux,
    read_observed_cycle,
    read_outlook,
    read_planetary_k,
    read_planetary_k_forecast,
    read_predicted_cycle,
    read_scales,
    read_three_days,
    read_xrays,
)

Group = Literal["indices", "maps"]  # products that are fetched together
FUTURE: Final = np.timedelta64(600, "s")  # error of a clock that is accepted (ours)
DENSITY: Final = "measured-density"
DAYS_KEPT: Final = 7  # days for which the last frame of each is kept: days share what repeats at one hour


@dataclass(frozen=True)
class StoredForm:
    """Stored part of a product: its time, what was wrong with it, and the bytes (empty: not usable)."""

    time: np.datetime64 | None
    problems: tuple[str, ...]
    body: bytes = b""


@dataclass(frozen=True)
class IndexProduct:
    """A product of indices, stored as it came: its path, its reader, what it is, its largest size [bytes].

    group: with which products it is fetched. substitute_for: the product in whose place it is fetched, where
    that one failed; empty: always fetched. rank: where products report the same hours, the higher counts;
    0: it observes neither flux nor K of three hours.
    """

    path: str
    read: Callable[[str], ProductData]
    what: str
    rank: int = 0
    group: Group = "indices"
    substitute_for: str = ""
    largest_bytes: int = 1_000_000

    def data(self, body: bytes) -> ProductData:
        """Data of a body of any encoding."""
        text, problem = text_of(body)
        data = self.read(text)
        return replace(data, problems=(problem, *data.problems)) if problem else data

    def stored_form(self, body: bytes, listed_time: np.datetime64 | None = None) -> StoredForm:
        """Stored part of a body."""
        data = self.data(body)
        return StoredForm(data.issued, data.problems, b"" if data.empty else body)


class PublishedMap(Protocol):
    """A map as a reader gives it."""

    @property
    def time(self) -> np.datetime64 | None:
        """Time of the measurement, UTC."""

    @property
    def problems(self) -> tuple[str, ...]:
        """Reports of what was left out."""

    @property
    def empty(self) -> bool:
        """True where the map is not to be used."""


Map = TypeVar("Map", bound=PublishedMap)


@dataclass(frozen=True)
class MapProduct:
    """A measured map, stored in few bytes.

    size_mb: of the product before packing. valid_for: how long the map is in force. stored_form: what is
    stored of a body, given the time in its list. restored: the stored form again, from its bytes; None where
    they are damaged. by_list: whether `path` is a list of frames, of which the newest is fetched.
    """

    path: str
    what: str
    size_mb: float
    valid_for: np.timedelta64
    stored_form: Callable[[bytes, np.datetime64 | None], StoredForm]
    restored: Callable[[bytes], StoredForm | None]
    by_list: bool = False
    group: Group = "maps"
    substitute_for: str = ""

    @property
    def largest_bytes(self) -> int:
        """Size beyond which it cannot be such a product [bytes]."""
        return int(self.size_mb * 4e6)


def _map_product(
    path: str,
    what: str,
    size_mb: float,
    valid_h: int,
    read: Callable[[bytes, np.datetime64 | None], Map],
    pack: Callable[[Map], bytes],
    unpack: Callable[[bytes], Map | None],
) -> MapProduct:
    """Product of a map with its reader, and with the two functions that pack and unpack what is stored."""

    def stored_form(body: bytes, listed_time: np.datetime64 | None) -> StoredForm:
        found = read(body, listed_time)
        return StoredForm(found.time, found.problems, b"" if found.empty else pack(found))

    def restored(body: bytes) -> StoredForm | None:
        found = unpack(body)
        return None if found is None else StoredForm(found.time, found.problems, body)

    return MapProduct(path, what, size_mb, np.timedelta64(3600 * valid_h, "s"), stored_form, restored)


Product = IndexProduct | MapProduct


@dataclass(frozen=True)
class Host:
    """A server of products: its address, and its products by name, in the order in which they are fetched."""

    address: str
    products: Mapping[str, Product]


_SERVICE: Final = Host(
    "https://services.swpc.noaa.gov",
    {
        "planetary-k": IndexProduct(
            "/products/noaa-planetary-k-index.json", read_planetary_k, "planetary K, observed", rank=3
        ),
        "planetary-k-forecast": IndexProduct(
            "/products/noaa-planetary-k-index-forecast.json",
            read_planetary_k_forecast,
            "planetary K, three days ahead",
            rank=2,
        ),
        "three-days": IndexProduct("/text/3-day-forecast.txt", read_three_days, "3-day forecast"),
        "outlook": IndexProduct("/text/27-day-outlook.txt", read_outlook, "27-day outlook of flux and A"),
        "flux": IndexProduct("/json/f107_cm_flux.json", read_flux, "10.7 cm flux", rank=6),
        "daily-indices": IndexProduct(
            "/text/daily-solar-indices.txt", read_daily_indices, "daily flux of thirty days", rank=5
        ),
        "alert": IndexProduct("/text/wwv.txt", read_alert, "geophysical alert message", rank=4),
        "xrays": IndexProduct("/json/goes/primary/xrays-6-hour.json", read_xrays, "X-ray flux, six hours"),
        "scales": IndexProduct("/products/noaa-scales.json", read_scales, "R, S and G scales"),
        "predicted-cycle": IndexProduct(
            "/json/solar-cycle/predicted-solar-cycle.json", read_predicted_cycle, "predicted solar cycle"
        ),
        "observed-cycle": IndexProduct(
            "/json/solar-cycle/observed-solar-cycle-indices.json",
            read_observed_cycle,
            "observed solar cycle",
            largest_bytes=3_000_000,
        ),
        # Hours in force: within 2 h a flare is over and the oval has moved; after 6 h foF2 correlates only
        # 0.12 with itself (ours)
        "measured-absorption": _map_product(
            "/text/drap_global_frequencies.txt",
            "absorption map",
            0.05,
            2,
            lambda body, _: read_absorption_map(body),
            kept_absorption,
            absorption_of,
        ),
        "measured-aurora": _map_product(
            "/json/ovation_aurora_latest.json",
            "auroral oval",
            0.9,
            2,
            lambda body, _: read_aurora_map(body),
            kept_aurora,
            aurora_of,
        ),
        DENSITY: replace(
            _map_product(
                "/products/glotec/geojson_2d_urt.json",
                "density map",
                2.4,
                6,
                read_density_frame,
                kept_density,
                density_of,
            ),
            by_list=True,
        ),
    },
)
_POTSDAM: Final = Host(
    "https://kp.gfz.de",
    {
        "potsdam-k": IndexProduct(
            "/app/files/Kp_ap_nowcast.txt",
            read_kp_nowcast,
            "planetary K from Potsdam (GFZ, CC BY 4.0)",
            rank=1,
            substitute_for="planetary-k",
        ),
        "potsdam-hp30": IndexProduct(
            "/app/files/Hp30_ap30_nowcast.txt",
            read_hp30_nowcast,
            "K by half hours from Potsdam (GFZ, CC BY 4.0)",
            group="maps",
        ),
    },
)
HOSTS: Final = (_SERVICE, _POTSDAM)  # the first has a product of every group

_ALL: Final = {name: product for host in HOSTS for name, product in host.products.items()}
INDEX_PRODUCTS: Final = {name: one for name, one in _ALL.items() if isinstance(one, IndexProduct)}
MAP_PRODUCTS: Final = {name: one for name, one in _ALL.items() if isinstance(one, MapProduct)}
# Products that observe flux or K, the less trusted first
OBSERVING: Final = sorted(
    (name for name, one in INDEX_PRODUCTS.items() if one.rank), key=lambda name: INDEX_PRODUCTS[name].rank
)


def products_of(group: Group, hosts: tuple[Host, ...] = HOSTS) -> tuple[str, ...]:
    """Names of the products of a group that are always fetched."""
    return tuple(
        name
        for host in hosts
        for name, product in host.products.items()
        if product.group == group and not product.substitute_for
    )


def day_copy(time: np.datetime64) -> str:
    """Name under which the last density frame of a day is kept for a week."""
    day = int(time.astype("datetime64[D]").astype(np.int64))
    return f"{DENSITY}-day-{day % DAYS_KEPT + 1}"
