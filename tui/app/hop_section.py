"""The hop picture: the details of one hour and band from the forecast, laid out along the path."""

from __future__ import annotations

import numpy as np

from propagation.advice.why import better_route
from propagation.base.constants import E_LAYER_HEIGHT_KM, EARTH_RADIUS_KM
from propagation.base.units import FloatArray, as_float
from propagation.ionosphere import layers
from propagation.signal.chances.forecast import ROUTES
from propagation.signal.chances.forecast_detail import Detail
from propagation.signal.chances.forecast_detail import detail as detail_of
from propagation.signal.chances.skip import skip_of_forecast_km
from propagation.signal.rays.path_samples import SEA_POINTS
from propagation.signal.rays.ray_path_names import LONG_PATH, ray_path_name
from propagation.signal.rays.ray_paths import TEMPLATES, chain_name
from propagation.space_weather.indices.solar_index import r12_from_index
from propagation.wording.hops import stand_in_sentence
from propagation.wording.windows import without_a_ray
from tui.app.choice import Cursor
from tui.app.day_forecast import DayForecast
from tui.kit.hop import HopView, Ray

SAMPLES = 129  # along the path
RAYS = 3
FAINTEST_DB = -25.0  # modes weaker than this relative to the strongest are not drawn
STRONG_D = 2.0  # strength of the absorbing layer that is drawn at full density


def hop_view(kept: DayForecast, cursor: Cursor) -> HopView | None:
    """The cross-section at the cursor; None if the band is not in the forecast."""
    result = kept.result
    names = [band.name for band in result.bands]
    if cursor.band not in names:
        return None
    band, time = names.index(cursor.band), result.time_index(cursor.time)
    point = int(result.best_point[time, band]) if result.target.is_region else kept.point
    route = better_route(result, point, band, time) ^ int(cursor.long)
    if point == kept.point and route == 0:
        detail, t, b = kept.detail, time, band
    else:
        detail = detail_of(
            result,
            point=point,
            route=route,
            times=result.times[time : time + 1],
            bands=[band],
            near=kept.near,
            far=kept.far,
        )
        t, b = 0, 0
    return _view(kept, detail, t, b, point, route, time, band)


def _view(
    kept: DayForecast, detail: Detail, t: int, b: int, point: int, route: int, time: int, band: int
) -> HopView:
    result, path = kept.result, detail.path
    total = float(path.distance_km[0])
    x = np.linspace(0.0, total, SAMPLES)
    samples = path.samples
    at = np.linspace(0.0, total, samples.fof2_mhz.shape[-1])

    def along(values: FloatArray) -> FloatArray:
        row = np.broadcast_to(values, samples.fof2_mhz.shape)[0, t]
        return as_float(np.interp(x, at, row))

    fof2, foe, m3000 = along(samples.fof2_mhz), along(samples.foe_mhz), along(samples.m3000f2)
    r12 = r12_from_index(float(np.mean(result.conditions.index_at(result.times[time]))))
    peak = layers.hmf2_km(m3000, fof2, np.maximum(foe, 0.2), r12)
    frequency = float(result.frequency_mhz[band])
    bearing = float(path.bearing_deg[0])
    skip = float(skip_of_forecast_km(result, bearing, result.times[time], frequency)[0])
    label = result.target.labels[point] if result.target.is_region else result.target.name
    rays, note = _rays(detail, t, b, total, x, peak)
    return HopView(
        band=result.bands[band].name,
        frequency_mhz=frequency,
        time=result.times[time],
        site=result.station.name or "my station",
        target=label,
        route=ROUTES[route],
        total_km=total,
        distance_km=x,
        sea=np.interp(x, np.linspace(0.0, total, SEA_POINTS), samples.sea_share[0]) > 0.5,
        sun_elevation_deg=90.0 - along(samples.zenith_deg),
        absorbing=np.clip(
            along(samples.d_strength) / max(STRONG_D, float(np.max(samples.d_strength))), 0.0, 1.0
        ),
        e_height_km=np.full(SAMPLES, E_LAYER_HEIGHT_KM),
        f2_height_km=peak,
        fof2_mhz=fof2,
        foe_mhz=foe,
        rays=rays,
        skip_km=None if np.isnan(skip) else float(skip),
        muf_mhz=float(path.muf_mhz[0, t]),
        note=note,
        stand_in=stand_in_sentence(result.target, point, reached=True),
    )


def _rays(
    detail: Detail, t: int, b: int, total: float, x: FloatArray, peak: FloatArray
) -> tuple[tuple[Ray, ...], str]:
    path = detail.path
    levels = path.ray_path_gain_db
    if levels is None:
        return (), ""
    row = levels[0, t, b]
    order = np.argsort(row)[::-1]
    rays: list[Ray] = []
    note = ""
    for mode in order[: RAYS + 2]:
        level = float(row[mode] - row[order[0]])
        if row[mode] <= -399.0 or level < FAINTEST_DB or len(rays) == RAYS:
            break
        number = int(mode)
        if number < len(TEMPLATES) and path.chains is not None and path.losses is not None:
            chains = path.chains
            low, high = int(chains.low_hops[0, number]), int(chains.high_hops[0, number])
            elevation = float(
                np.broadcast_to(path.losses.elevation_deg, (1, *levels.shape[1:3], len(TEMPLATES)))[
                    0, t, b, number
                ]
            )
            first = TEMPLATES[number].low_first
            spans = _spans(
                low, high, float(chains.low_km[0, number]), float(chains.high_km[0, number]), first, total
            )
            name = chain_name(number, low, high)
            over_mhz = (
                float(path.losses.f2_muf_mhz[0, t, number])
                if high
                else float(path.losses.e_muf_mhz[0, t, number])
            )
        elif number == LONG_PATH and path.combined is not None:
            hops = max(int(np.ravel(path.combined.hops)[0]), 1)
            elevation = max(float(np.ravel(path.combined.elevation_deg)[0]), 0.0)
            spans = [(total / hops, True)] * hops
            name, over_mhz = f"{hops}F2", float(path.muf_mhz[0, t])
        else:
            if level > -0.5:
                note = without_a_ray(ray_path_name(number, 0, 0))
            continue
        rays.append(_ray(name, spans, elevation, level, x, peak, over_mhz))
    return tuple(rays), note


def _spans(
    low: int, high: int, low_km: float, high_km: float, low_first: bool, total: float
) -> list[tuple[float, bool]]:
    """(length, by the high layer) of each hop, scaled to fill the path."""
    lows, highs = [(low_km, False)] * low, [(high_km, True)] * high
    spans = lows + highs if low_first else highs + lows
    whole = sum(length for length, _ in spans) or 1.0
    return [(length * total / whole, is_high) for length, is_high in spans]


def _ray(
    name: str,
    spans: list[tuple[float, bool]],
    elevation: float,
    level: float,
    x: FloatArray,
    peak: FloatArray,
    muf_mhz: float,
) -> Ray:
    """The ray path of a mode: straight up to the layer and down again on a spherical earth, reflected at the
    layer's height.
    """
    km: list[FloatArray] = []
    heights: list[FloatArray] = []
    start = 0.0
    landings = []
    for length, is_high in spans:
        place = np.linspace(0.0, length, 33)
        top = float(np.interp(start + length / 2.0, x, peak)) if is_high else E_LAYER_HEIGHT_KM
        half = np.minimum(place, length - place) / EARTH_RADIUS_KM
        apex = length / 2.0 / EARTH_RADIUS_KM
        # the chord from the ground to the layer's height above the midpoint of the hop
        slope = np.arctan2(np.cos(apex) - EARTH_RADIUS_KM / (EARTH_RADIUS_KM + top), np.sin(apex))
        heights.append(EARTH_RADIUS_KM * (np.cos(slope) / np.cos(slope + half) - 1.0))
        km.append(start + place)
        start += length
        landings.append(start)
    return Ray(
        name,
        np.concatenate(km),
        np.concatenate(heights),
        elevation,
        level,
        np.array(landings),
        muf_mhz if np.isfinite(muf_mhz) else None,
    )
