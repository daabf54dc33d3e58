"""What the screens draw: finished results, frozen, with no computing left in them.

Arrays are shaped (bands, times) unless said; times are `datetime64[s]` in UTC. The presenter fills these
from the engine's results; widgets only place signs on a grid. Sentences for people are made in
`tui.kit.words`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from propagation.base.units import BoolArray, FloatArray, IntArray, TimeArray
from propagation.signal.causes import Cause

if TYPE_CHECKING:
    from tui.kit.world_map import MapView


@dataclass(frozen=True)
class SunDay:
    """The sun over one end of the path through the day."""

    place: str
    elevation_deg: FloatArray  # (T,) height of the sun's centre [deg]
    rise: np.datetime64 | None
    set: np.datetime64 | None
    polar: str | None = None  # "day" or "night" where the sun neither rises nor sets


@dataclass(frozen=True)
class Stay:
    """One span of the plan, as marked on the lanes."""

    band: str
    start: np.datetime64
    end: np.datetime64


@dataclass(frozen=True)
class Window:
    """A span in which a band is worth the try, ranked by the engine: the same as `bandwhen advise` tells."""

    rank: int
    band: str
    start: np.datetime64
    peak: np.datetime64  # when it is best
    end: np.datetime64
    chance: float  # at the peak
    route: str  # "short" or "long"
    elevation_deg: float | None = None
    opens: bool = True  # False where it was open before the first time shown
    closes: bool = True  # False where it is open beyond the last
    says: str = ""  # the window in one sentence


@dataclass(frozen=True)
class DayView:
    """The day on every band: what the opening screen shows."""

    site: str
    target: str
    distance_km: float
    bearing_deg: float
    mode: str
    power_w: float
    times: TimeArray  # (T,)
    bands: tuple[str, ...]
    frequency_mhz: FloatArray  # (B,)
    chance: FloatArray  # (B, T) share of days, or of a few contacts in an hour with a region [0..1]
    hope: FloatArray  # (B, T) chance of a contact with the best-equipped [0..1]
    cause: IntArray  # (B, T) codes of propagation.signal.causes.CAUSES
    elevation_deg: FloatArray  # (B, T) take-off angle of the leading mode [deg], NaN where none
    route: IntArray  # (B, T) 0 short, 1 long
    home: SunDay
    far: SunDay
    windows: tuple[Window, ...] = ()
    plan: tuple[Stay, ...] = ()
    dead: tuple[str, ...] = ()  # bands the operator found dead on this outing
    licensed: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))  # (B,)
    setup: tuple[str, ...] = ()  # (B,) how to set the antenna, in a few words
    radiated_share: FloatArray = field(default_factory=lambda: np.zeros(0))  # (B,) [0..1]
    left_out: tuple[tuple[str, str], ...] = ()  # (band, reason)
    sky_line: str = ""
    demo: bool = False
    wanted: int = 0  # contacts in an hour that the chance is of, where the target is an area; 0 for a place
    rate: FloatArray = field(default_factory=lambda: np.zeros(0))  # (B, T) contacts an hour with a region
    whom: tuple[tuple[str, ...], ...] = ()  # (B, T) whom to expect of a region, in words
    measured: tuple[np.datetime64, np.datetime64] | None = None  # when the layer was, and until when it helps
    instead: tuple[str, ...] = ()  # (T,) what a narrower mode would do where there is nothing, in words
    ground_wave: BoolArray = field(default_factory=lambda: np.zeros((0, 0), dtype=np.bool_))  # (B, T) or none

    def by_ground(self, band: int, index: int) -> bool:
        """Whether the leading mode of a band and time is the ground wave."""
        return bool(self.ground_wave.size and self.ground_wave[band, index])

    def index_of(self, when: np.datetime64) -> int:
        """The column whose time is nearest to `when`."""
        return int(np.abs(self.times - when).argmin())


@dataclass(frozen=True)
class Ray:
    """One mode of the path as a line in the cross-section."""

    name: str  # "2F2", "1E", "1F2+1Es"
    distance_km: FloatArray  # (N,) along the ground
    height_km: FloatArray  # (N,)
    take_off_deg: float
    level_db: float  # relative to the strongest mode
    landing_km: FloatArray  # (K,) where it comes down
    muf_mhz: float | None = None


@dataclass(frozen=True)
class HopView:
    """The path's cross-section for one band and one time."""

    band: str
    frequency_mhz: float
    time: np.datetime64
    site: str
    target: str
    route: str
    total_km: float
    distance_km: FloatArray  # (X,) samples along the path
    sea: BoolArray  # (X,)
    sun_elevation_deg: FloatArray  # (X,) at the ground [deg]
    absorbing: FloatArray  # (X,) strength of the lowest layer, 0..1
    e_height_km: FloatArray  # (X,)
    f2_height_km: FloatArray  # (X,)
    fof2_mhz: FloatArray  # (X,)
    foe_mhz: FloatArray  # (X,)
    rays: tuple[Ray, ...]
    skip_km: float | None  # nearest ground distance the layer serves; None where it returns nothing
    muf_mhz: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Term:
    """One line of the ledger."""

    name: str
    db: float
    note: str = ""
    base: bool = (
        False  # belongs to what empty space alone would give: power, spreading, noise, the mode's need
    )


@dataclass(frozen=True)
class LedgerView:
    """Every gain and loss; the terms sum to the margin."""

    terms: tuple[Term, ...]
    total_name: str = "margin"
    mode: str = ""  # the mode and direction it speaks of

    @property
    def total_db(self) -> float:
        """The sum of all terms [dB]."""
        return float(sum(term.db for term in self.terms))


@dataclass(frozen=True)
class CausesView:
    """Why the chance is not higher, by weight, and what would change it."""

    chance: float
    causes: tuple[tuple[Cause, float], ...]  # (cause, weight 0..1), largest first
    changes: tuple[tuple[str, float], ...] = ()  # (what would be different, chance then)


@dataclass(frozen=True)
class WhyView:
    """All the why screen needs besides the day."""

    band: str
    time: np.datetime64
    hop: HopView | None
    ledger: LedgerView
    causes: CausesView
    near_and_far: str = ""  # why far ones are heard and near ones are not
    says: tuple[str, ...] = ()  # the answer and the ledger in sentences


@dataclass(frozen=True)
class SkipView:
    """Every band as a ruler of ground distance, towards one bearing at one time."""

    time: np.datetime64
    bearing_deg: float
    distance_km: FloatArray  # (X,)
    bands: tuple[str, ...]
    share: FloatArray  # (B, X) share of days [0..1]
    hop: IntArray  # (B, X) number of hops of the leading mode, 0 for ground wave
    skip_km: FloatArray  # (B,) NaN where nothing is returned
    target: str = ""
    target_km: float | None = None


@dataclass(frozen=True)
class ReachView:
    """The rulers and the map of the reach screen."""

    skip: SkipView
    map: MapView


@dataclass(frozen=True)
class BenchBand:
    """One band on the antenna bench: where the power goes, and how to set up."""

    band: str
    frequency_mhz: float
    shares: tuple[tuple[str, float], ...]  # (radiated|coil|earth|coax|transformer|unexplained, 0..1)
    coil_uh: float | None
    radials: str
    swr_1p5_khz: float | None
    swr_2_khz: float | None
    centre_on_mhz: float | None
    power_limit_w: float | None
    limit_by: str
    gain_dbi: tuple[tuple[float, float], ...]  # (elevation, gain)
    basis: str  # "model" or "measured"
    note: str = ""
    set_aside: bool = False  # whether a reading is kept that was taken with another antenna


@dataclass(frozen=True)
class BenchView:
    """The antenna bench."""

    antenna: str  # one line of description
    ground: str
    bands: tuple[BenchBand, ...]
    help: tuple[tuple[str, str, float], ...] = ()  # (change, band, dB)
    cautions: tuple[str, ...] = ()
    helped: tuple[str, ...] = ()  # bands of which it is known what would help


@dataclass(frozen=True)
class BesideBand:
    """One band with two antennas: shares of the power that leave, and the day's best chance."""

    band: str
    share: tuple[float, float]  # 0..1 of the power at the rig
    best: tuple[float, float]  # highest chance of the day


@dataclass(frozen=True)
class BesideView:
    """Two antennas for one day and one target."""

    names: tuple[str, str]
    bands: tuple[BesideBand, ...]
    says: tuple[str, ...]  # which to carry, and why


@dataclass(frozen=True)
class ReadingView:
    """What analyser readings say, for one band."""

    band: str
    sentences: tuple[str, ...]
    efficiency: float | None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class History:
    """One measured quantity over the last days."""

    name: str
    unit: str
    times: TimeArray
    values: FloatArray
    low: float  # bottom of the drawn scale
    high: float
    latest: str
    logarithmic: bool = False


@dataclass(frozen=True)
class MeasuredView:
    """The world as it was measured. percent (y, x): foF2 over or under the usual, NaN where not observed."""

    map: MapView  # coast and daylight, the site; neither band nor routes
    percent: FloatArray
    lat_deg: FloatArray  # (y,) from south to north
    lon_deg: FloatArray  # (x,)
    aurora: BoolArray | None = None  # (181, 360) latitudes from -90, longitudes from 0: where it stands
    absorbed: BoolArray | None = None  # (90, 90) latitudes from -89, longitudes from -178
    absorbed_mhz: float = 0.0  # what `absorbed` means: this loses 1 dB and more
    ages: str = ""  # of each, in words


@dataclass(frozen=True)
class SkyView:
    """The sun and the field as they are, with source and age, and what they do to the bands."""

    histories: tuple[History, ...]
    source: str
    age: str
    index_line: str  # the index that drives the maps, and where it comes from
    effects: tuple[str, ...]  # sentences
    outlook: tuple[tuple[np.datetime64, float, float], ...] = ()  # (day, flux, K)
    heard: tuple[str, ...] = ()
    beacon: str = ""
    stale: bool = False
    measured: MeasuredView | None = None


@dataclass(frozen=True)
class PlanStep:
    """One step of the run sheet."""

    start: np.datetime64
    end: np.datetime64
    band: str
    chance: float
    setup: str  # what to do at the antenna
    details: tuple[str, ...] = ()  # whom to expect, why to leave, what if it is dead
    says: str = ""  # the step as a sentence


@dataclass(frozen=True)
class PlanView:
    """The switching plan for the time on air."""

    start: np.datetime64
    end: np.datetime64
    steps: tuple[PlanStep, ...]
    gain: str  # what switching is worth against staying
    target: str = ""
    conditions: str = ""
    cautions: tuple[str, ...] = ()
    cards: tuple[str, ...] = ()
    paper: str = ""  # the run sheet to print
    wanted: int = 0


@dataclass(frozen=True)
class LearntView:
    """What an outing has taught so far, and the plan to follow."""

    plan: PlanView | None = None  # the one at hand, or a better one from now on; None: nothing was learnt
    better: bool = False  # whether it is a new one
    sentence: str = ""  # what moved, and why; empty while nothing was learnt
    estimate: str = ""  # layer, station and noise with their uncertainty


@dataclass(frozen=True)
class Slot:
    """One proposed appointment."""

    start: np.datetime64
    end: np.datetime64
    band: str
    frequency: str
    chance: float
    home_clock: str
    far_clock: str
    fallback: str = ""
    says: str = ""  # the slot as a sentence
    calendar: str = ""  # the slot alone as a calendar file


@dataclass(frozen=True)
class SkedView:
    """Two stations, two clocks, and the hours that suit both."""

    home: str
    far: str
    home_zone: str
    far_zone: str  # empty where a region stands in place of somebody to meet
    day: np.datetime64
    times: TimeArray  # (T,) evenly over one or more days, in UTC
    home_hour: FloatArray  # (T,) local clock [h]
    far_hour: FloatArray  # (T,)
    home_free: BoolArray  # (T,) awake and free
    far_free: BoolArray  # (T,)
    best_chance: FloatArray  # (T,) of the best band of both
    slots: tuple[Slot, ...]
    note: str = ""
    calendar: str = ""  # the slots as a calendar file
    paper: str = ""  # the slots as sentences
    days: str = ""  # that were looked at


@dataclass(frozen=True)
class SunsView:
    """The sun over both ends of an appointment, on the day of one slot."""

    times: TimeArray  # (T,) evenly over one day, in UTC
    home: SunDay
    far: SunDay


@dataclass(frozen=True)
class EntriesView:
    """The stations and friends on file: each in sentences, and where they are."""

    says: dict[str, tuple[str, ...]]  # by the key of the entry
    chart: MapView


@dataclass(frozen=True)
class FormField:
    """One line of a form."""

    key: str  # the key its entry is handed back under
    label: str
    value: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()  # valid words, where only some are
    hint: str = ""
    place: bool = False  # entry is a place: names are completed


@dataclass(frozen=True)
class SeasonSlotView:
    """One of the best slots of a season."""

    month: int  # its place among the months
    start: int  # hour UTC
    band: str
    says: str


@dataclass(frozen=True, eq=False)
class SeasonView:
    """The months ahead, hour by hour."""

    target: str
    months: tuple[str, ...]  # (M,) short titles
    titles: tuple[str, ...]  # (M,) in full
    bands: tuple[str, ...]
    chance: FloatArray  # (3, M, 24, B) under the low, the middle and the high prediction
    best_band: IntArray  # (M, 24)
    suits: BoolArray  # (M, 24) both ends awake
    slots: tuple[SeasonSlotView, ...]
    says: tuple[str, ...]  # how much contact, what the cycle leaves open, the other side
    calendar: str
    paper: str
    wanted: int = 0
    contact_hours: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) by the middle prediction
    beside: FloatArray = field(default_factory=lambda: np.zeros(0))  # (M,) the other side's, or none
    beside_name: str = ""
