"""Station description: its site, rig, antenna, licence limits, and the far end.

A station is a TOML file that a person can write in the field. Reading is strict. An unknown key or table is
an error that names the nearest valid one. A value of the wrong type or out of its range is an error that
names the key and its unit. Only the position has no default. The keys of a table are the fields of its
dataclass, so that the two cannot differ.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field
from pathlib import Path
from typing import Any, Final, cast
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from propagation.antennas.spec import AntennaKind, AntennaSpec, FeedlineSpec
from propagation.base.errors import InputError
from propagation.base.strict_toml import (
    between,
    build,
    check_names,
    convert,
    keys_of,
    number_table,
    parse,
    read_text,
    require_table,
    values,
    write_atomically,
    written,
)
from propagation.base.units import FloatArray, FloatLike, as_float
from propagation.geo import places
from propagation.geo.ground import Ground, GroundName, ground_of
from propagation.geo.locator import Position, locator_of, position_of
from propagation.spectrum import bands as band_plan
from propagation.spectrum import modes
from propagation.spectrum import national as national_limits
from propagation.spectrum.modes import Mode, ModeName
from propagation.spectrum.noise import (
    LEAST_DB_AT_1_MHZ,
    MOST_DB_AT_1_MHZ,
    RECEIVER_NOISE_FIGURE_DB,
    NoiseLevel,
    NoiseReading,
    PlaceKind,
)
from propagation.station.far_ends import WhoAnswers

NOISE_SPAN: Final = between(LEAST_DB_AT_1_MHZ, MOST_DB_AT_1_MHZ)
MOST_POWER_W: Final = 5000.0  # W, more than any amateur licence allows (from memory): catches a wrong unit
AWAKE: Final = "07:00-23:00"  # local time, by default (common practice, no source)
MOST_REFERENCE: Final = 60  # characters of the references (ours)
_CALL_SIGN = re.compile(r"(?=.{3,15}$)(?=.*[A-Za-z])(?=.*\d)[A-Za-z0-9]+(?:/[A-Za-z0-9]+){0,2}", re.ASCII)
_REFERENCE = re.compile(rf"[A-Za-z0-9/@. ,-]{{0,{MOST_REFERENCE}}}", re.ASCII)
_OF_DAY = r"(\d{1,2})(?:[:.]?(\d\d))?\s*(am|pm)?"
_SPAN = re.compile(rf"(?:from\s+)?{_OF_DAY}\s*(?:-|–|to|until)\s*{_OF_DAY}")


@dataclass(frozen=True)
class Site:
    """Site of the station.

    `ground` names the earth under and around the antenna. `permittivity` and `conductivity_s_per_m` replace
    it where given. `noise`: kind of place of P.372; `noise_db_at_1_mhz` [dB] or `noise_reading`, measured
    there, replace it. `itu_region` 0 means: found from the position. `horizon` holds pairs of azimuth and
    elevation [deg] of the skyline, in rising azimuth; empty means flat. `height_m` is the height of the
    ground above the country around it, for the radio horizon on 6 m and 2 m. `awake`, `free`: spans of local
    time of the operator; `free` empty: whenever awake. `call_sign`: the operator's. `reference`: of the
    summit or the park, several with blanks between them. Both go into the log of an outing.
    """

    position: Position
    ground: GroundName = "average"
    permittivity: float | None = field(default=None, metadata=between(None, 1000.0))
    conductivity_s_per_m: float | None = field(default=None, metadata=between(None, 100.0))
    noise: PlaceKind = "quiet rural"
    noise_db_at_1_mhz: float | None = field(default=None, metadata=NOISE_SPAN)
    noise_reading: NoiseReading | None = None
    itu_region: int = field(default=0, metadata=between(0, 3))
    time_zone: str = ""
    height_m: float = field(default=0.0, metadata=between(0.0, 9000.0))
    horizon: tuple[tuple[float, float], ...] = ()
    awake: str = AWAKE
    free: str = ""
    call_sign: str = ""
    reference: str = ""

    def __post_init__(self) -> None:
        self.earth  # noqa: B018 - half a pair of constants is refused at once
        self.noise_level  # noqa: B018 - two measured levels are refused at once
        awake_minutes(self.awake)
        if self.free:
            awake_minutes(self.free, "free")
        if self.call_sign and not _CALL_SIGN.fullmatch(self.call_sign):
            raise InputError(f'call_sign {self.call_sign[:20]!r} is not one; write it as "ZZ9DEMO/P".')
        if not _REFERENCE.fullmatch(self.reference):
            raise InputError(
                f'reference {self.reference[:20]!r} is not one; write it as "ZZ/AB-001" or "ZZ-0042", '
                f"several with blanks between them, {MOST_REFERENCE} characters in all."
            )
        try:
            ZoneInfo(self.time_zone or "UTC")
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise InputError(
                f'time_zone {self.time_zone!r} is not known; write it as "Africa/Johannesburg" or "UTC".'
            ) from None
        for azimuth, elevation in self.horizon:
            if not (0.0 <= azimuth <= 360.0 and -10.0 <= elevation <= 90.0):
                raise InputError(
                    f"horizon_deg {azimuth:g} = {elevation:g}: the azimuth must be from 0 to 360 degrees and "
                    f"the elevation from -10 to 90 degrees."
                )

    @property
    def zone(self) -> ZoneInfo:
        """Time zone: as given, or that of the nearest town."""
        return ZoneInfo(self.time_zone or places.time_zone(self.position))

    @property
    def earth(self) -> Ground:
        """Earth under the antenna: the given constants, or those of the named ground."""
        return ground_of(self.ground, self.permittivity, self.conductivity_s_per_m)

    @property
    def noise_level(self) -> NoiseLevel:
        """Man-made noise at the site: measured, else that of the kind of place."""
        return NoiseLevel(self.noise, self.noise_db_at_1_mhz, self.noise_reading)

    @property
    def region(self) -> int:
        """ITU region, 1 to 3: as given, or found from the position."""
        return self.itu_region or band_plan.itu_region(self.position.lat_deg, self.position.lon_deg)

    def horizon_deg(self, azimuth_deg: FloatLike) -> FloatArray:
        """Elevation [deg] of the skyline at an azimuth [deg, any shape]; linear between the entries."""
        azimuth = as_float(azimuth_deg)
        if not self.horizon:
            return np.zeros_like(azimuth)
        table = as_float(self.horizon)
        return as_float(np.interp(azimuth, table[:, 0], table[:, 1], period=360.0))


@dataclass(frozen=True)
class Rig:
    """Rig: power at its socket [W], mode, and the receiver's noise figure [dB]."""

    power_w: float = field(default=20.0, metadata=between(0.001, MOST_POWER_W))
    mode: ModeName = "SSB"
    noise_figure_db: float = field(default=RECEIVER_NOISE_FIGURE_DB, metadata=between(0.0, 40.0))

    @property
    def emission(self) -> Mode:
        """Mode with its bandwidth and required SNR."""
        return modes.by_name(self.mode)


@dataclass(frozen=True)
class LicenceLimits:
    """Limits of the licence: a country's limits, a list of bands (empty: all), a power limit [W]."""

    national: str = ""
    bands: tuple[str, ...] = ()
    power_w: float | None = field(default=None, metadata=between(0.001, MOST_POWER_W))

    def __post_init__(self) -> None:
        self.country  # noqa: B018 - an unknown country is refused at once
        object.__setattr__(self, "bands", tuple(band_plan.by_name(name).name for name in self.bands))

    @property
    def country(self) -> national_limits.National | None:
        """National limits, where a country is named."""
        return national_limits.national_by_name(self.national) if self.national else None


@dataclass(frozen=True)
class FarEnd:
    """Station at the other end: power [W], a plain antenna at a height [m], ground, noise, receiver."""

    power_w: float = field(default=100.0, metadata=between(0.001, MOST_POWER_W))
    antenna: AntennaKind = "dipole"
    height_m: float = field(default=10.0, metadata=between(0.0, 200.0))
    noise: PlaceKind = "residential"
    noise_db_at_1_mhz: float | None = field(default=None, metadata=NOISE_SPAN)
    noise_reading: NoiseReading | None = None
    ground: GroundName = "average"
    noise_figure_db: float = field(default=RECEIVER_NOISE_FIGURE_DB, metadata=between(0.0, 40.0))

    def __post_init__(self) -> None:
        self.antenna_spec  # noqa: B018 - an antenna that cannot be built is refused at once
        self.noise_level  # noqa: B018 - two measured levels are refused at once

    @property
    def noise_level(self) -> NoiseLevel:
        """Man-made noise around the far end: measured, else that of the kind of place."""
        return NoiseLevel(self.noise, self.noise_db_at_1_mhz, self.noise_reading)

    @property
    def antenna_spec(self) -> AntennaSpec:
        """Description of the far end's antenna, for the antenna builder."""
        return AntennaSpec(kind=self.antenna, height_m=self.height_m)


MINUTES: Final = between(0.0, 120.0)


@dataclass(frozen=True)
class BandChange:
    """Minutes of work that a change of band costs, by what changes (defaults: common practice, no source)."""

    retune_min: float = field(default=0.5, metadata=MINUTES)  # the rig: band, frequency, a short listen
    coil_min: float = field(default=1.0, metadata=MINUTES)  # to move a coil's tap and check the dip
    whip_min: float = field(default=1.5, metadata=MINUTES)  # to set a telescopic whip to another length
    capacitor_min: float = field(default=1.0, metadata=MINUTES)  # to put a capacitor in, change or remove it
    radial_min: float = field(default=0.75, metadata=MINUTES)  # for every radial laid, raised or taken in
    radial_length_min: float = field(default=0.5, metadata=MINUTES)  # for every radial of another length
    wire_min: float = field(default=6.0, metadata=MINUTES)  # to lower a wire, change its length and hoist it


@dataclass(frozen=True)
class Station:
    """Whole station, as one file describes it."""

    site: Site
    name: str = ""
    rig: Rig = field(default_factory=Rig)
    antenna: AntennaSpec = field(default_factory=AntennaSpec)
    feedline: FeedlineSpec = field(default_factory=FeedlineSpec)
    far_end: FarEnd = field(default_factory=FarEnd)
    limits: LicenceLimits = field(default_factory=LicenceLimits)
    band_change: BandChange = field(default_factory=BandChange)
    people: WhoAnswers = field(default_factory=WhoAnswers)

    def usable(self, band: band_plan.Band, mode: Mode | str | None = None) -> bool:
        """Return whether region, licence and the operator's list allow the mode on the band."""
        if self.limits.bands and band.name not in self.limits.bands:
            return False
        return band_plan.usable(band, self.site.region, mode or self.rig.mode, self.limits.country)

    def centre_mhz(self, band: band_plan.Band, mode: Mode | str | None = None) -> float:
        """Frequency [MHz] to compute a band at, for the rig's mode or another."""
        return band_plan.centre_mhz(band, self.site.region, mode or self.rig.mode, self.limits.country)

    @property
    def power_w(self) -> float:
        """Power of the rig [W], or the licence's limit where that is lower."""
        limit = self.limits.power_w
        return self.rig.power_w if limit is None else min(self.rig.power_w, limit)


_TABLES: Final = {
    "rig": Rig,
    "antenna": AntennaSpec,
    "feedline": FeedlineSpec,
    "far_end": FarEnd,
    "limits": LicenceLimits,
    "band_change": BandChange,
    "people": WhoAnswers,
}
_PLACE_KEYS: Final = ("locator", "lat", "lon")  # how the file gives the position
_SITE_EXTRA: Final = (*_PLACE_KEYS, "horizon_deg")
_SITE_SKIP: Final = ("position", "horizon")


def load(path: Path | str) -> Station:
    """Read the station from a file. Raises InputError with file, table and key for any error in it."""
    return loads(read_text(path), str(path))


def loads(text: str, where: str = "the station") -> Station:
    """Read the station from a TOML text; `where` names the text in errors."""
    data = parse(text, where)
    check_names(data, ["name", "site", *_TABLES], where, "table or key")
    if "site" not in data:
        raise InputError(
            f'{where}: the station has no position; write [site] and under it locator = "KG30", '
            f"or lat and lon in degrees."
        )
    parts: dict[str, Any] = {"site": _site(require_table(data["site"], f"{where}: [site]"), where)}
    if "name" in data:
        parts["name"] = convert(str, data["name"], f"{where}: name")
    for table, record_type in _TABLES.items():
        if table in data:
            place = f"{where}: [{table}]"
            given = values(record_type, require_table(data[table], place), place)
            parts[table] = build(record_type, given, place, table)
    return cast(Station, build(Station, parts, where))


def _site(table: Mapping[str, Any], where: str) -> Site:
    place = f"{where}: [site]"
    arguments = values(Site, table, place, skip=_SITE_SKIP, also=_SITE_EXTRA)
    arguments["position"] = _position(table, place)
    if "horizon_deg" in table:
        arguments["horizon"] = _horizon(table["horizon_deg"], f"{place} horizon_deg")
    site: Site = build(Site, arguments, place)
    return site


def _position(table: Mapping[str, Any], place: str) -> Position:
    given = [key for key in _PLACE_KEYS if key in table]
    if given == ["locator"]:
        text = convert(str, table["locator"], f"{place} locator")
        try:
            return position_of(text)
        except InputError as error:
            raise InputError(f"{place} locator: {error.message}") from None
    if given == ["lat", "lon"]:
        lat, lon = (convert(float, table[key], f"{place} {key}", "degrees") for key in given)
        position: Position = build(Position, {"lat_deg": lat, "lon_deg": lon}, place)
        return position
    raise InputError(
        f'{place}: give the position once, as locator = "KG30" or as lat and lon in degrees'
        f"{'; found ' + ', '.join(given) if given else ''}."
    )


def _horizon(raw: Any, where: str) -> tuple[tuple[float, float], ...]:
    if isinstance(raw, (int, float)) and not isinstance(raw, bool):
        raw = {"0": raw}
    return number_table(raw, where, "degrees")


def dumps(station: Station) -> str:
    """Return the station as TOML text that `loads` reads back to an equal station; defaults are left out."""
    lines = [f"name = {written(station.name)}", ""] if station.name else []
    lines += ["[site]", *_place_lines(station.site.position)]
    lines += _lines(station.site, skip=_SITE_SKIP)
    if station.site.horizon:
        lines.append(f"horizon_deg = {written(station.site.horizon)}")
    for table in _TABLES:
        body = _lines(getattr(station, table))
        if body:
            lines += ["", f"[{table}]", *body]
    return "\n".join(lines) + "\n"


def _place_lines(position: Position) -> list[str]:
    for characters in (4, 6, 8):
        text = locator_of(position.lat_deg, position.lon_deg, characters)
        if position_of(text) == position:
            return [f"locator = {written(text)}"]
    return [f"lat = {written(position.lat_deg)}", f"lon = {written(position.lon_deg)}"]


def _lines(part: Any, skip: tuple[str, ...] = ()) -> list[str]:
    lines = []
    for key, item in keys_of(type(part), skip).items():
        value = getattr(part, key)
        default = item.default_factory() if item.default_factory is not MISSING else item.default
        if value is not None and value != default:
            lines.append(f"{key} = {written(value)}")
    return lines


def save(station: Station, path: Path | str) -> None:
    """Write the station file atomically."""
    write_atomically(path, dumps(station))


# --- hours of the day ------------------------------------------------------------------------------------


def awake_minutes(text: str, name: str = "awake") -> list[tuple[int, int]]:
    """Spans of local time as minutes of the day: "07:00-23:00", "7-23" or "7am to 11pm" give [(420, 1380)].

    A span whose end is not later than its start runs over midnight; "always" and "00:00-24:00" are the whole
    day. `name`: of the key, for the error. Raises InputError for anything else.
    """
    plain = text.strip().lower()
    if plain in ("always", "any", "all day"):
        return [(0, 1440)]
    spans = []
    for part in plain.split(","):
        found = _SPAN.fullmatch(part.strip())
        start, end = (_minutes(*found.groups()[:3]), _minutes(*found.groups()[3:])) if found else (-1, -1)
        if min(start, end) < 0:
            raise InputError(f'{name} {text!r} is not a span of time; write it as "{AWAKE}".')
        if start >= 1440 or end > 1440 or start == end:
            raise InputError(f'{name} {text!r} is not a span within a day; write it as "{AWAKE}".')
        spans.append((start, end))
    return spans


def _minutes(hour: str, minute: str | None, half: str | None) -> int:
    """Minutes of the day of an hour, a minute, and "am" or "pm"; -1 where there is no such time."""
    hours, rest = int(hour), int(minute or 0)
    if rest > 59 or (half and not 1 <= hours <= 12):
        return -1
    return (hours % 12 + (12 if half == "pm" else 0) if half else hours) * 60 + rest
