"""Made-up results with the shapes of real ones, to test the drawing alone. The numbers mean nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from propagation.advice.cause_weights import Weighted
from propagation.advice.ranking import level, told_chance
from propagation.advice.rates import Prospect, Rate, Rates
from propagation.advice.season import hours_of
from propagation.advice.switching import BandStay
from propagation.advice.windows import Window
from propagation.antennas.improvements import Candidate
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.units import as_float
from propagation.signal.losses.crossing_losses import CrossingLoss
from propagation.signal.rays.causes import CODE
from tui.features.antenna.view import AntennaBand, AntennaView, Help
from tui.features.reach.view import ReachView, SkipView
from tui.features.season.view import SeasonView
from tui.features.sked.view import SkedView, Slot
from tui.features.sky.view import History, SkyView
from tui.features.why.view import LedgerLine, LedgerView, WhyView
from tui.kit.day_view import DayView, SunDay
from tui.kit.hop import HopView, Ray
from tui.kit.plan_view import PlanLane, PlanStep, PlanView
from tui.kit.world import MapView

DAY = np.datetime64("2026-03-14T00:00:00", "s")
NOW = np.datetime64("2026-03-14T12:20:00", "s")
BANDS = ("60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m")
MHZ = np.array([5.36, 7.13, 10.13, 14.23, 18.14, 21.3, 24.96, 28.65, 50.2])


def times(step_min: int = 10) -> np.ndarray:
    """One day from midnight."""
    return DAY + np.arange(0, 1440, step_min).astype("timedelta64[m]").astype("timedelta64[s]")


def sun_day(place: str, rise_h: float, set_h: float) -> SunDay:
    """A sun that climbs between two hours."""
    t = times()
    hour = (t - DAY).astype(np.int64) / 3600.0
    noon = (rise_h + set_h) / 2
    elevation = 60.0 * np.cos((hour - noon) / 24.0 * 2 * np.pi)
    rise = DAY + np.timedelta64(int(rise_h * 3600), "s")
    return SunDay(place, elevation, rise, DAY + np.timedelta64(int(set_h * 3600), "s"))


def windows(bands: tuple[str, ...], t: np.ndarray, chance: np.ndarray) -> tuple[Window, ...]:
    """One window a band: from the first to the last time with a third of a chance."""
    found = []
    for row, band in enumerate(bands):
        good = np.flatnonzero(chance[row] >= 0.33)
        if good.size:
            peak = int(chance[row].argmax())
            end = t[good[-1]] + (t[1] - t[0])
            found.append((float(chance[row, peak]), band, t[good[0]], t[peak], end))
    ranked = sorted(found, key=lambda one: -one[0])
    return tuple(
        Window(
            n,
            b,
            float(MHZ[BANDS.index(b)] if b in BANDS else 14.0),
            "short",
            start,
            peak,
            end,
            True,
            True,
            c,
            c,
            c,
            None,
            9.0,
            "2F2",
            "",
            c,
        )
        for n, (c, b, start, peak, end) in enumerate(ranked, 1)
    )


def day_view(target: str = "Uruguay", bands: tuple[str, ...] = BANDS) -> DayView:
    """A day in which low bands carry by night and high ones by day."""
    t = times()
    hour = (t - DAY).astype(np.int64) / 3600.0
    mhz = np.interp(np.arange(len(bands)), np.arange(len(BANDS)), MHZ)
    sun = np.clip(np.sin((hour - 4) / 24 * 2 * np.pi), -1, 1)
    muf = 17.0 + 13.0 * sun
    luf = 4.0 + 7.5 * np.clip(sun, 0, 1)
    f = mhz[:, None]
    chance = 1 / (1 + np.exp((f - muf) / 1.5)) / (1 + np.exp((luf - f) / 1.2))
    cause = np.where(chance > 0.5, CODE["open"], np.where(f > muf, CODE["above the MUF"], CODE["absorption"]))
    cause[0] = np.where(chance[0] > 0.5, CODE["open"], CODE["noise"])
    cause[-1] = CODE["skip zone"]
    chance[0] *= 0.4
    return DayView(
        site="KG30 ridge",
        target=target,
        distance_km=8123.0,
        bearing_deg=241.0,
        mode="SSB",
        power_w=20.0,
        times=t,
        bands=bands,
        frequency_mhz=mhz,
        chance=chance,
        worth=chance,
        ranked=level(chance.T, told_chance(chance.T), chance.T).T,
        hope=chance,
        cause=cause.astype(np.int64),
        elevation_deg=np.full(chance.shape, 9.0),
        route=np.zeros(chance.shape, dtype=np.int64),
        home=sun_day("here", 4.0, 16.5),
        far=sun_day("there", 9.5, 22.0),
        plan=(
            BandStay(
                "20m", DAY + np.timedelta64(8 * 3600, "s"), DAY + np.timedelta64(10 * 3600, "s"), 0.0, 0.0
            ),
        ),
        setup=tuple(f"coil {6.0 - i * 0.5:.1f} uH, two radials raised" for i in range(len(bands))),
        radiated_share=np.linspace(0.01, 0.3, len(bands)),
        windows=windows(bands, t, chance),
        left_out=(("160m", "the antenna does not tune there"), ("80m", "the antenna does not tune there")),
        sky_line="Flux 148, K 2, smoothed sunspots 96; built-in table, no network needed",
        demo=True,
    )


def with_people(day: DayView, per_hour: float, whom: tuple[tuple[str, ...], ...]) -> DayView:
    """A day towards a region with the same contacts an hour on every band at every time."""
    rate = np.full(day.chance.shape, per_hour)
    return replace(
        day,
        wanted=4,
        rates=Rates(rate * 12.0 / 22.0, rate, rate * 30.0 / 22.0),
        worth=rate / 60.0,
        ranked=rate / 60.0,
        hope=np.ones_like(rate),
        first_min=np.full(rate.shape, 15),
        first_chance=np.full(rate.shape, 0.97),
        on_air=np.full(rate.shape, 1400.0),
        whom=whom,
        windows=(),
    )


def hop_view(band: str = "20m", when: np.datetime64 = NOW) -> HopView:
    """Three hops across a terminator."""
    total = 8123.0
    x = np.linspace(0, total, 121)
    sun = np.linspace(40, -30, 121)
    lit = np.clip(sun / 40, 0, 1)

    def ray(name: str, hops: int, height: float, level: float) -> Ray:
        hop = total / hops
        phase = (x % hop) / hop
        landing = np.arange(1, hops + 1) * hop
        take_off = float(np.degrees(np.arctan2(height * 2, hop / 2)))
        return Ray(name, x, height * (1 - np.abs(2 * phase - 1)), take_off, level, as_float(landing))

    return HopView(
        band=band,
        frequency_mhz=14.23,
        time=when,
        site="KG30 ridge",
        target="Uruguay",
        route="short",
        total_km=total,
        distance_km=x,
        sea=(x > 900) & (x < 7300),
        sun_elevation_deg=sun,
        absorbing=lit,
        e_height_km=np.full(121, 110.0),
        f2_height_km=280 + 60 * np.linspace(0, 1, 121),
        fof2_mhz=9 - 4 * np.linspace(0, 1, 121),
        foe_mhz=3 * lit,
        rays=(ray("3F2", 3, 300, 0.0), ray("4F2", 4, 290, -6.0)),
        skip_km=1450.0,
        muf_mhz=21.4,
    )


def crossings() -> tuple[CrossingLoss, ...]:
    """Two hops from day into night."""
    return (
        CrossingLoss(1, "F2", "up", 320.0, -30.2, 27.5, 38.0, 3.1, 6.4, 0.0, 0.0),
        CrossingLoss(1, "F2", "down", 3600.0, -33.7, -8.3, 71.0, 2.4, 3.9, 0.0, 2.5),
        CrossingLoss(2, "F2", "up", 4200.0, -33.9, -14.6, 84.0, 1.6, 0.9, 0.0, 0.0),
        CrossingLoss(2, "F2", "down", 8080.0, -32.0, -52.3, 121.0, 0.4, 0.1, 0.0, 0.0),
    )


def why_view(band: str = "20m", when: np.datetime64 = NOW) -> WhyView:
    """A ledger that sums, and causes."""
    return WhyView(
        band=band,
        time=when,
        hop=hop_view(band, when),
        ledger=LedgerView(
            (
                LedgerLine("power", 13.0, "20 W", base=True),
                LedgerLine("my antenna", -7.5, "at 9 degrees"),
                LedgerLine("their antenna", 4.2),
                LedgerLine("spreading", -134.0, "8,400 km of slant path", base=True),
                LedgerLine("D layer", -11.3, "two of six crossings sunlit"),
                LedgerLine("ground", -4.0, "two reflections, sea"),
                LedgerLine("focusing", 2.1),
                LedgerLine("noise", 146.8, "residential, 14.23 MHz, 2500 Hz", base=True),
                LedgerLine("SSB needs", -4.0, base=True),
            ),
            "margin (+-9 dB)",
        ),
        promise=Prospect(0.62),
        causes=(
            Weighted("absorption", 0.48, Prospect(0.9)),
            Weighted("antenna", 0.31, Prospect(0.8)),
            Weighted("noise", 0.21, Prospect(0.7)),
        ),
        changes=(
            ("16:40 instead", Prospect(0.91)),
            ("four radials more", Prospect(0.68)),
            ("CW", Prospect(0.93)),
            ("100 W", Prospect(0.84)),
            ("17 m now", Prospect(0.71)),
        ),
        crossings=crossings(),
        ray_path="2F2",
        near_and_far="Stations nearer than 1,450 km lie inside the skip: the layer throws this frequency "
        "over their heads.",
        experience="Levels agree with 253 measured hours of such paths to +-9 dB.",
        says=("20 m to Uruguay at 12:00 UTC: 6 days in 10.", "Margin: +5.3 dB."),
    )


def reach_view(when: np.datetime64 = NOW, band: str = "20m") -> ReachView:
    """Rulers and a map of a made-up world."""
    km = np.linspace(0, 12000, 241)
    share = []
    for mhz in MHZ:
        skip = max(0.0, (mhz - 6) * 160)
        value = np.exp(-(((km - skip - 900) / 1300) ** 2)) + 0.8 * np.exp(
            -(((km - 2 * skip - 2500) / 2200) ** 2)
        ) * (km > skip)
        share.append(np.clip(value * (km >= skip * 0.9), 0, 1) * (1.0 if mhz < 26 else 0.4))
    lat = np.linspace(87.5, -87.5, 90)
    lon = np.linspace(-179, 179, 180)
    lon2, lat2 = np.meshgrid(lon, lat)
    sea = np.sin(np.radians(lon2 * 2)) * np.cos(np.radians(lat2 * 3)) < 0.2
    hour = 12.33
    sub = (12 - hour) * 15
    elevation = np.degrees(np.arcsin(np.cos(np.radians(lat2)) * np.cos(np.radians(lon2 - sub))))
    away = np.hypot(lat2 + 29, lon2 - 29)
    footprint = np.exp(-(((away - 45) / 18) ** 2))[::2, ::2]
    t = np.linspace(0, 1, 50)
    route = ("short", -29.5 - 30 * np.sin(t * np.pi) * 0.6 - 5 * t, 29.5 - 86 * t)
    return ReachView(
        SkipView(
            when,
            241.0,
            km,
            BANDS,
            np.array(share),
            np.ones((len(BANDS), km.size), dtype=np.int64),
            np.array([max(0.0, (mhz - 6) * 160) for mhz in MHZ]),
            "Uruguay",
            8123.0,
        ),
        MapView(
            when,
            band,
            lat,
            lon,
            sea,
            elevation,
            footprint,
            lat[::2],
            lon[::2],
            (route,),
            (-29.5, 29.5),
            (("Uruguay", -34.5, -56.5),),
        ),
    )


def _help(change: str, gain_db: float, won: str) -> Help:
    return Help(Candidate(change, AntennaSpec(), FeedlineSpec()), "40m", gain_db, won)


def bench_view() -> AntennaView:
    """A bench of seven bands."""
    rows = []
    for band, mhz, out in zip(
        BANDS[1:-1], MHZ[1:-1], (0.04, 0.09, 0.17, 0.24, 0.28, 0.31, 0.31), strict=True
    ):
        coil = max(0.02, 0.75 - out * 2)
        coax = 0.04 + mhz / 400
        earth = 1 - out - coil - coax - 0.02
        rows.append(
            AntennaBand(
                band,
                float(mhz),
                (("radiated", out), ("coil", coil), ("earth", earth), ("coax", coax), ("transformer", 0.02)),
                27.7 * (7.1 / mhz) ** 2,
                "two radials raised" if mhz > 12 else "four radials raised",
                17 * mhz / 7,
                30 * mhz / 7,
                float(mhz),
                150.0,
                "coil heat",
                ((5, -8.0), (10, -5.4), (20, -2.9), (30, -2.6), (60, -7.0)),
                "measured" if band == "20m" else "model",
            )
        )
    return AntennaView(
        "Loaded vertical 2.5 m, coil at the base, Q 200, four radials of 4.5 m raised 0.9 m",
        "Average earth; 3.7 m of RG-58, choke at the antenna",
        tuple(rows),
        (
            _help("Four radials more", 1.4, "+9 contacts"),
            _help("Whip one metre longer", 3.1, "+6.2 contacts"),
            _help("Coil of Q 400", 1.9, "+4.0 contacts"),
        ),
        towards="Uruguay",
        cautions=("Keep clear of overhead lines.", "Nobody touches the whip while you send."),
    )


def sky_view() -> SkyView:
    """Three histories."""
    days = DAY - np.arange(27, 0, -1).astype("timedelta64[D]").astype("timedelta64[s]")
    flux = 140 + 18 * np.sin(np.arange(27) / 4)
    hours = DAY + ((np.arange(56) - 32) * 3).astype("timedelta64[h]").astype("timedelta64[s]")
    kp = np.clip(2 + 2.2 * np.sin(np.arange(56) / 6) + np.sin(np.arange(56)), 0, 9)
    minutes = NOW - (np.arange(72, 0, -1) * 5).astype("timedelta64[m]").astype("timedelta64[s]")
    xray = 10 ** (-6.3 + 0.7 * np.exp(-(((np.arange(72) - 40) / 6.0) ** 2)) * 2)
    return SkyView(
        (
            History("10.7 cm flux", "sfu", days, flux, 60, 250, "148 sfu"),
            History("Planetary K", "", hours, kp, 0, 9, "K 2", bars=True, now=NOW),
            History("X-rays 1-8 A", "W/m2", minutes, xray, 1e-8, 1e-3, "C 2.1", logarithmic=True),
        ),
        "space weather service",
        "3 hours old",
        "The maps run on R12 = 68 (first version), from the flux of the last days.",
        ("MUF 4 % above the planning value.", "No storm; the F2 layer stands as the median."),
        tuple((DAY + np.timedelta64(k, "D"), 150.0 + k, 2.0 + (k % 3)) for k in range(5)),
        ("20 m heard from Europe at 11:50: index moved from 68 to 74.",),
        "Beacon on 14.100 MHz now: bearing 012, 14,100 km",
    )


def plan_view() -> PlanView:
    """A sheet of three steps, each band best in the middle of its own."""

    def at(hour: float) -> np.datetime64:
        return DAY + np.timedelta64(int(hour * 3600), "s")

    times = at(8) + np.arange(73) * np.timedelta64(300, "s")
    hours = 8.0 + np.arange(73) / 12.0

    def promised(best: float) -> tuple[Prospect, ...]:
        rates = 20.0 * np.exp(-0.5 * ((hours - best) / 1.6) ** 2)
        return tuple(Prospect(0.8, Rate(0.6 * rate, rate, 1.4 * rate), 4) for rate in rates.tolist())

    def lane(band: str, mhz: float, promise: tuple[Prospect, ...], needed: bool, cause: str) -> PlanLane:
        rates = [one.rate.middle for one in promise if one.rate is not None]
        mean = float(np.mean(rates))
        is_open = np.array(rates) >= 1.0
        codes = np.where(is_open, CODE["open"], CODE[cause])
        told = Prospect(0.5, Rate(0.6 * mean, mean, 1.4 * mean), 4)
        return PlanLane(band, mhz, needed, promise, told, codes)

    lanes = (
        lane("20m", 14.175, promised(8.5), True, "absorption"),
        lane("15m", 21.225, promised(10.8), True, "above the MUF"),
        lane("10m", 28.4, promised(13.0), True, "above the MUF"),
        lane("12m", 24.94, promised(12.4), True, "above the MUF"),
        lane("17m", 18.12, promised(9.5), False, "noise"),
        lane("40m", 7.1, promised(0.0), False, "absorption"),
    )
    return PlanView(
        at(8),
        at(14),
        (
            PlanStep(
                at(8),
                at(9.75),
                "20m",
                "about 31 contacts (17 to 45)",
                "coil 6.0 uH, two radials raised",
                (
                    "expect Spain and Italy; the short way by 2F2, take-off 12 deg",
                    "leave because 15 m rises from 10 to 18 contacts an hour",
                ),
                "At 08:00 go to 20 m, 14.175 MHz; set coil 6.0 uH. Expect Spain and Italy.",
                at(8),
                promised(8.5),
            ),
            PlanStep(
                at(9.75),
                at(12.1),
                "15m",
                "about 42 contacts (20 to 65)",
                "coil to 2.0 uH; the change costs 4 min, about 1 contact; it wins about 14 contacts over "
                "staying on 20 m",
                (
                    "expect Uruguay; the short way by 3F2, take-off 8 deg",
                    "leave because 10 m is better from then on",
                ),
                "At 09:45 go to 15 m, 21.225 MHz; set coil 2.0 uH. Expect Uruguay.",
                at(9.82),
                promised(10.8),
            ),
            PlanStep(
                at(12.1),
                at(14),
                "10m",
                "about 34 contacts (3 to 65)",
                "no coil; the change costs 4 min, about 1 contact; it wins about 9 contacts over "
                "staying on 15 m",
                (
                    "expect Chile; the short way by 2F2, take-off 7 deg",
                    "if it is dead: 12 m, about 20 contacts",
                ),
                "At 12:06 go to 10 m, 28.400 MHz; set no coil. Expect Chile.",
                at(12.17),
                promised(13.0),
            ),
        ),
        "Switching brings about 19 contacts more than staying on 15 m throughout, the 8 minutes of the "
        "changes counted. On one band alone: 15 m about 88 contacts, 10 m about 62.",
        "anyone",
        "R12 68, K 2",
        (
            "Keep clear of overhead lines.",
            "Keep people 1.6 m or more from the antenna while sending.",
            "The distance is estimated by the far-field formula with ground reflection; your local rules "
            "decide.",
            "If you hear thunder, disconnect, lower the antenna and move away.",
            "Mark wires and guys at ankle and neck height; people do not see them.",
            "Nobody touches the radiator or the radials while sending: there are kilovolts on a loaded whip.",
            "Band edges and national limits are from memory; your licence decides what you may use.",
        ),
        (
            "20 m: coil 6.0 uH, two radials raised. Put the dip at 14.175 MHz; one setting serves 14.100 to "
            "14.250 MHz.",
            "15 m: coil 2.0 uH, two radials raised. Put the dip at 21.225 MHz; one setting serves 21.100 to "
            "21.350 MHz.",
            "10 m: no coil, two radials raised. Put the dip at 28.400 MHz; one setting serves 28.000 to "
            "28.800 MHz.",
        ),
        total="About 107 contacts (55 to 160) in 6 h: 20 m 08:00 to 09:45 about 31, then 15 m to 12:06 about "
        "42, then 10 m about 34.",
        times=tuple(times),
        lanes=lanes,
    )


def season_view() -> SeasonView:
    """Twelve months of four bands, best about noon, with two slots."""
    months, hours, bands = np.arange(12)[:, None, None], np.arange(24)[:, None], np.arange(4)
    noon = np.cos((hours - 13.0) / 12.0 * np.pi)
    middle = np.clip(0.6 + 0.3 * noon * np.cos(months / 6.0 * np.pi) - 0.08 * bands, 0.0, 1.0)
    suits = np.broadcast_to((np.arange(24) > 7) & (np.arange(24) < 22), (12, 24))
    titles = ("March", "April", "May", "June", "July", "August", "September", "October", "November",
              "December", "January", "February")  # fmt: skip
    return SeasonView(
        target="Uruguay",
        months=tuple(f"{title[:3]} 26" for title in titles),
        titles=tuple(f"{title} 2026" for title in titles),
        bands=("40m", "20m", "15m", "10m"),
        worth=middle,
        full=1.0,
        best_band=np.argmax(middle, axis=-1),
        limit=np.full((12, 24, 4), CODE["above the MUF"]),
        suits=suits,
        times=hours_of(np.datetime64("2026-03", "M") + np.arange(12)),
        zones=("UTC+2",) * 12,
        cells=tuple(
            tuple(f"{title} 2026, {h:02d}:00 to {h + 1:02d}:00 UTC: 40 m, 8 days in 10." for h in range(24))
            for title in titles
        ),
        best=tuple(f"{title} 2026: best about 13:00 UTC on 40 m, 8 days in 10." for title in titles),
        slots=tuple(
            f"{titles[month]} 2026, 20 m, 12:00 to 14:00 UTC (14:00 to 16:00 local, 09:00 to 11:00 there)"
            ": 8 days in 10."
            for month in range(10)
        ),
        says=("Some 900 hours of contact.", "Predicted index 80 (60 to 100)."),
        calendar="BEGIN:VCALENDAR",
        paper="March 2026, 20 m.",
        amount=np.full(12, 75.0),
    )


def sked_view() -> SkedView:
    """Two clocks five hours apart."""
    t = times()
    hour = (t - DAY).astype(np.int64) / 3600.0
    home, far = (hour + 2) % 24, (hour - 3) % 24
    return SkedView(
        "KG30 ridge",
        "Uruguay",
        "Africa/Johannesburg",
        "America/Montevideo",
        DAY,
        t,
        home,
        far,
        (home > 7) & (home < 22),
        (far > 8) & (far < 23),
        np.clip(np.sin((hour - 8) / 12 * np.pi), 0, 1),
        (
            Slot(
                DAY + np.timedelta64(15, "h"),
                DAY + np.timedelta64(16, "h"),
                "15m",
                "21.225-21.275",
                0.83,
                "17:00",
                "12:00",
                "20 m 14.225 at 15:30",
                "Fri 17:00 here, Fri 12:00 there: 15 m, 21.225 MHz, 8 days in 10.",
            ),
            Slot(
                DAY + np.timedelta64(17, "h"),
                DAY + np.timedelta64(18, "h"),
                "20m",
                "14.225-14.275",
                0.74,
                "19:00",
                "14:00",
                says="Fri 19:00 here, Fri 14:00 there: 20 m, 14.225 MHz, 7 days in 10.",
            ),
        ),
    )
