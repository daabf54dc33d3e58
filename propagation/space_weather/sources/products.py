"""The products of the public space weather service: where each is and how to read it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from propagation.space_weather.sources.kp_nowcast import read_hp30_nowcast, read_kp_nowcast
from propagation.space_weather.sources.product_data import ProductData
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


@dataclass(frozen=True)
class Product:
    """A product of the service: its place there, how to read it, what it is, how long it may grow [bytes]."""

    path: str
    read: Callable[[str], ProductData]
    what: str
    largest_bytes: int = 1_000_000


PRODUCTS: Final[dict[str, Product]] = {
    "planetary-k": Product(
        "/products/noaa-planetary-k-index.json", read_planetary_k, "planetary K, observed"
    ),
    "planetary-k-forecast": Product(
        "/products/noaa-planetary-k-index-forecast.json",
        read_planetary_k_forecast,
        "planetary K, three days ahead",
    ),
    "three-days": Product("/text/3-day-forecast.txt", read_three_days, "3-day forecast"),
    "outlook": Product("/text/27-day-outlook.txt", read_outlook, "27-day outlook of flux and A"),
    "flux": Product("/json/f107_cm_flux.json", read_flux, "10.7 cm flux"),
    "daily-indices": Product(
        "/text/daily-solar-indices.txt", read_daily_indices, "daily flux of thirty days"
    ),
    "alert": Product("/text/wwv.txt", read_alert, "geophysical alert message"),
    "xrays": Product("/json/goes/primary/xrays-6-hour.json", read_xrays, "X-ray flux, six hours"),
    "scales": Product("/products/noaa-scales.json", read_scales, "R, S and G scales"),
    "predicted-cycle": Product(
        "/json/solar-cycle/predicted-solar-cycle.json", read_predicted_cycle, "predicted solar cycle"
    ),
    "observed-cycle": Product(
        "/json/solar-cycle/observed-solar-cycle-indices.json",
        read_observed_cycle,
        "observed solar cycle",
        3_000_000,
    ),
}
# Of another host: K is asked for only where the first one fails, Hp30 with the measured maps
SECOND_HOST: Final[dict[str, Product]] = {
    "potsdam-k": Product(
        "/app/files/Kp_ap_nowcast.txt", read_kp_nowcast, "planetary K from Potsdam (GFZ, CC BY 4.0)"
    ),
    "potsdam-hp30": Product(
        "/app/files/Hp30_ap30_nowcast.txt", read_hp30_nowcast, "K by half hours from Potsdam (GFZ, CC BY 4.0)"
    ),
}
ALL_PRODUCTS: Final[dict[str, Product]] = PRODUCTS | SECOND_HOST


def read_product(name: str, body: bytes) -> ProductData:
    """Read one product by its name in ALL_PRODUCTS; the encoding is found out, never trusted."""
    text, problem = decoded(body)
    reading = ALL_PRODUCTS[name].read(text)
    return replace(reading, problems=((problem, *reading.problems) if problem else reading.problems))


def decoded(body: bytes) -> tuple[str, str | None]:
    """The body as text, and what was odd about its encoding."""
    if body[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return body.decode("utf-16", errors="replace"), "encoded as UTF-16 instead of UTF-8"
    try:
        return body.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        return body.decode("latin-1"), f"not UTF-8 at byte {error.start}; read as Latin-1"
