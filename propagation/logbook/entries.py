"""Entries of a log or of a list of reception reports as one kind of row.

A row has time, band, mode, place and required SNR. A contact needs both directions. A reception report shows
one: somebody heard the station ("out"), or the station heard somebody ("back"). The station's own rows of a
list of reports are found by its place, since a station file holds no call sign, or by a given call.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, undb
from propagation.geo.great_circle import distance_km
from propagation.logbook.contacts import Contacts, OtherStations, report_db
from propagation.logbook.reports import Reports
from propagation.spectrum.bands import by_name as band_by_name
from propagation.spectrum.modes import ModeName
from propagation.spectrum.modes import by_name as mode_by_name
from propagation.station.station import Station

Direction = Literal["both", "out", "back"]
DIRECTIONS: Final[tuple[Direction, ...]] = ("both", "out", "back")
BOTH, OUT, BACK = range(3)

# Required SNR of an entry of a list of reception reports [dB in 2500 Hz]: the narrowest weak-signal modes
# decode down to about -29 dB (method of measurement and figure from memory); a list of another mode shows its
# own threshold.
REPORT_NEED_DB: Final = -28.0
REPORT_NEED_RANGE_DB: Final = (-29.0, -10.0)
ENOUGH_FOR_THRESHOLD: Final = 50  # reports from which the weakest of them give the threshold (ours)
WEAKEST_SHARE: Final = 2.0  # %, of the reports that may be below it (ours)
OWN_PLACE_KM: Final = (
    40.0  # km, a station this near to the site, beyond its locator's cell, is the operator's own (ours)
)


@dataclass(frozen=True, eq=False)
class LogEntries(OtherStations):
    """Rows of length n, in order of time.

    frequency_mhz: where in the band the forecast is computed. own_lat_deg, own_lon_deg: the operator.
    power_w: the operator's; place_given, power_given: whether the record has them, or they are the station
    file's. far_power_w: the other's, NaN where not known. direction: index of DIRECTIONS.
    need_db: required SNR of the entry in 2500 Hz. sent, received: reports as logged. out_db, back_db: SNR in
    2500 Hz as measured at the other station and at the operator's, NaN where not.
    """

    own_lat_deg: FloatArray
    own_lon_deg: FloatArray
    power_w: FloatArray
    place_given: BoolArray
    power_given: BoolArray
    far_power_w: FloatArray
    direction: IntArray
    need_db: FloatArray
    sent: tuple[str, ...]
    received: tuple[str, ...]
    out_db: FloatArray
    back_db: FloatArray
    country: tuple[str, ...]
    comment: tuple[str, ...]

    @property
    def placed(self) -> BoolArray:
        """Return whether the place of the other station is known."""
        return np.isfinite(self.lat_deg) & np.isfinite(self.lon_deg)


def frequencies_mhz(station: Station, band: tuple[str, ...], mode: tuple[ModeName, ...]) -> FloatArray:
    """Frequencies at which each band is computed for each mode [MHz]: as in the forecast, one each.

    The antenna is solved once for each of these, not for every kilohertz of a log.
    """

    @cache
    def one(name: str, mode_name: ModeName) -> float:
        plan = band_by_name(name)
        if station.usable(plan, mode_name):
            return station.centre_mhz(plan, mode_name)
        low, high = plan.edges(station.site.region)
        return 0.5 * (low + high)

    return np.array([one(*pair) for pair in zip(band, mode, strict=True)], dtype=np.float64)


def of_contacts(contacts: Contacts, station: Station) -> LogEntries:
    """Contacts of a log made with this station; power and place are the record's where it gives them."""
    n = contacts.size
    here = station.site.position
    own = np.isfinite(contacts.own_lat_deg) & np.isfinite(contacts.own_lon_deg)
    with_power = contacts.power_w > 0.0
    needs = {name: mode_by_name(name).required_snr_2500_db for name in set(contacts.mode_class)}
    by_meter = np.array([mode == "DIGITAL" for mode in contacts.mode_class], dtype=bool)
    nothing = np.full(n, np.nan)
    return LogEntries(
        time=contacts.time,
        band=contacts.band,
        frequency_mhz=frequencies_mhz(station, contacts.band, contacts.mode_class),
        mode=contacts.mode,
        mode_class=contacts.mode_class,
        call=contacts.call,
        lat_deg=contacts.lat_deg,
        lon_deg=contacts.lon_deg,
        uncertainty_km=contacts.uncertainty_km,
        own_lat_deg=np.where(own, contacts.own_lat_deg, here.lat_deg),
        own_lon_deg=np.where(own, contacts.own_lon_deg, here.lon_deg),
        power_w=np.where(with_power, contacts.power_w, station.power_w),
        place_given=own,
        power_given=with_power,
        far_power_w=nothing,
        direction=np.full(n, BOTH, dtype=np.int64),
        need_db=np.array([needs[name] for name in contacts.mode_class], dtype=np.float64),
        sent=contacts.report_sent,
        received=contacts.report_received,
        out_db=np.where(by_meter, _measured(contacts.report_received), nothing),
        back_db=np.where(by_meter, _measured(contacts.report_sent), nothing),
        country=contacts.country,
        comment=contacts.comment,
    )


def _measured(reports: tuple[str, ...]) -> FloatArray:
    known: dict[str, float] = {}
    return np.array([known.setdefault(text, report_db(text)) for text in reports], dtype=np.float64)


def own_rows(reports: Reports, station: Station, own_call: str = "") -> tuple[BoolArray, BoolArray]:
    """Reports in which the station is heard, and those in which the station hears, (n,) each."""
    wanted = own_call.strip().upper()
    if wanted:
        heard = np.array([call == wanted for call in reports.call], dtype=bool)
        hearing = np.array([call == wanted for call in reports.reporter], dtype=bool)
    else:
        heard = _at_home(reports.lat_deg, reports.lon_deg, reports.uncertainty_km, station)
        hearing = _at_home(
            reports.reporter_lat_deg, reports.reporter_lon_deg, reports.reporter_uncertainty_km, station
        )
    return heard & ~hearing, hearing & ~heard


def _at_home(
    lat_deg: FloatArray, lon_deg: FloatArray, uncertainty_km: FloatArray, station: Station
) -> BoolArray:
    here = station.site.position
    away = distance_km(lat_deg, lon_deg, here.lat_deg, here.lon_deg)
    with np.errstate(invalid="ignore"):  # NaN where a place is not known: not at home
        return np.asarray((uncertainty_km < 150.0) & (away <= uncertainty_km + OWN_PLACE_KM))


def report_need_db(snr_db: FloatArray) -> float:
    """Required SNR [dB in 2500 Hz] of the reports of one list: of their weakest, where there are many."""
    known = snr_db[np.isfinite(snr_db)]
    if known.size < ENOUGH_FOR_THRESHOLD:
        return REPORT_NEED_DB
    return float(np.clip(np.percentile(known, WEAKEST_SHARE), *REPORT_NEED_RANGE_DB))


def digital(n: int) -> tuple[ModeName, ...]:
    """Class of n reception reports."""
    one: ModeName = "DIGITAL"
    return (one,) * n


def of_reports(reports: Reports, station: Station, own_call: str = "") -> LogEntries:
    """Station's own rows of a list of reception reports, in both directions; the others are left out."""
    heard, hearing = own_rows(reports, station, own_call)
    rows = np.flatnonzero(heard | hearing)
    out = heard[rows]
    chosen = rows.tolist()
    here = station.site.position
    n = rows.size
    band = tuple(reports.band[row] for row in chosen)
    mode = digital(n)
    watts = np.where(np.isfinite(reports.power_dbm[rows]), undb(reports.power_dbm[rows] - 30.0), np.nan)
    snr = reports.snr_db[rows]
    nothing = np.full(n, np.nan)

    def other(far: FloatArray, near: FloatArray) -> FloatArray:
        return np.where(out, far[rows], near[rows])

    return LogEntries(
        time=reports.time[rows],
        band=band,
        frequency_mhz=frequencies_mhz(station, band, mode),
        mode=("reception report",) * n,
        mode_class=mode,
        call=tuple(
            reports.reporter[row] if is_out else reports.call[row]
            for row, is_out in zip(chosen, out, strict=True)
        ),
        lat_deg=other(reports.reporter_lat_deg, reports.lat_deg),
        lon_deg=other(reports.reporter_lon_deg, reports.lon_deg),
        uncertainty_km=other(reports.reporter_uncertainty_km, reports.uncertainty_km),
        own_lat_deg=np.full(n, here.lat_deg),
        own_lon_deg=np.full(n, here.lon_deg),
        power_w=np.where(out & np.isfinite(watts), watts, station.power_w),
        place_given=np.zeros(n, dtype=bool),
        power_given=out & np.isfinite(watts),
        far_power_w=np.where(out, np.nan, watts),
        direction=np.where(out, OUT, BACK).astype(np.int64),
        need_db=np.full(n, report_need_db(snr)),
        sent=("",) * n,
        received=("",) * n,
        out_db=np.where(out, snr, nothing),
        back_db=np.where(out, nothing, snr),
        country=("",) * n,
        comment=("",) * n,
    )
