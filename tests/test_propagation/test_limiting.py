"""What limits a band: each cause told where it stands out, by circuits made for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cases import computed

from propagation.geo.great_circle import Route
from propagation.signal.chances.limiting import limits_of
from propagation.signal.chances.link_budget import one_way
from propagation.signal.losses.circuit import Circuit
from propagation.signal.rays.causes import CODE
from propagation.spectrum.noise import QUIET_RURAL, NoiseLevel
from propagation.station.terminals import Terminal, plain_terminal

MHZ = 14.2
NOON = np.datetime64("2026-03-20T12:00", "s")


def path_of(distance_km: float, fof2_mhz: float = 9.0, **figures: float) -> Circuit:
    """A circuit whose layer figures are set by hand: well under the MUF and without losses unless said."""
    route = Route(*(np.array([v]) for v in (20.0, 0.0, 90.0, distance_km)))
    end = plain_terminal(100.0, QUIET_RURAL)
    found = computed(route, NOON, [MHZ], 80.0, end, end, keep_ray_paths=False)
    sky = found.samples
    samples = replace(
        sky, fof2_mhz=np.full_like(sky.fof2_mhz, fof2_mhz), m3000f2=np.full_like(sky.m3000f2, 3.0)
    )
    plain = {"support": 0.4, "absorption_db": 0.0, "screening_db": 0.0, "auroral_db": 0.0, **figures}
    values: dict[str, Any] = {name: np.full_like(found.support, value) for name, value in plain.items()}
    return replace(found, samples=samples, **values)


def limit(
    path: Circuit,
    own: Terminal,
    chance: float = 0.1,
    noise: NoiseLevel = QUIET_RURAL,
    short_db: float = -20.0,
) -> int:
    """The limit of a contact that is short of its need by so many decibels on the median day; with the losses
    set by hand, an easy one unless said.
    """
    other = plain_terminal(100.0, noise)
    there = one_way(path, own, other, towards_far_end=True)
    here = one_way(path, other, own, towards_far_end=False)
    need_db = short_db + float(np.minimum(there.median_snr_db, here.median_snr_db).item())
    return int(limits_of(path, there, here, np.full((1, 1, 1), chance), need_db, own, other)[0, 0, 0])


RIG = plain_terminal(100.0, QUIET_RURAL)


@pytest.mark.parametrize(
    ("figure", "value", "cause"),
    [
        ("absorption_db", 30.0, "absorption"),
        ("screening_db", 30.0, "E screening"),
        ("auroral_db", 30.0, "auroral zone"),
    ],
)
def test_the_largest_loss_is_told(figure: str, value: float, cause: str) -> None:
    assert limit(path_of(2500.0, **{figure: value}), RIG) == CODE[cause]


def test_where_the_contact_is_likelier_than_not_nothing_limits() -> None:
    path = path_of(2500.0, absorption_db=30.0)
    assert limit(path, RIG, chance=0.5) == CODE["open"]
    assert limit(path, RIG, chance=0.49) == CODE["absorption"]


def test_power_and_noise() -> None:
    """1 W is 20 dB under 100 W; a city's 45 dB on 14 MHz are 18 dB over a quiet rural place's 27, to which
    the galaxy adds most (P.372).
    """
    one_watt = replace(RIG, power_w=1.0)
    assert limit(path_of(2500.0), one_watt) == CODE["power"]
    assert limit(path_of(2500.0, absorption_db=19.0), one_watt) == CODE["power"]
    assert limit(path_of(2500.0, absorption_db=21.0), one_watt) == CODE["absorption"]
    assert limit(path_of(2500.0), RIG, noise=NoiseLevel("city")) == CODE["noise"]
    # the sender's watts do not help the receiver's noise: the weaker direction is the one that counts
    two_watts = replace(RIG, power_w=2.0)  # 17 dB
    assert limit(path_of(2500.0), two_watts, noise=NoiseLevel("city")) == CODE["noise"]
    assert limit(path_of(2500.0), one_watt, noise=NoiseLevel("city")) == CODE["power"]


def test_what_nothing_else_explains_is_the_layers_doing() -> None:
    """A contact 60 dB short with 25 dB of absorption and no other loss: the hops that exist are poor ones,
    and better ones lie above the MUF.
    """
    path = path_of(3500.0, absorption_db=25.0)
    assert limit(path, RIG, short_db=-10.0) == CODE["absorption"]
    assert limit(path, RIG, short_db=60.0) == CODE["above the MUF"]


@pytest.mark.parametrize(
    ("distance_km", "fof2_mhz", "cause"),
    [
        (500.0, 5.0, "skip zone"),  # 1.2 M foF2 = 18 MHz: the layer returns 14.2 MHz farther away
        (500.0, 4.02, "skip zone"),  # 14.47 MHz, just so
        (500.0, 3.9, "above the MUF"),  # 14.04 MHz: nowhere
        (2999.0, 5.0, "skip zone"),
        (3001.0, 5.0, "above the MUF"),  # beyond one hop it is not called a skip
    ],
)
def test_above_the_muf_or_inside_the_skip(distance_km: float, fof2_mhz: float, cause: str) -> None:
    """The skip rule: a frequency under 1.2 x M(3000)F2 x foF2, the MUF of the longest hop (1.1 by P.533 for
    4000 km, and a tenth for a good day), on paths under 3000 km.
    """
    path = path_of(distance_km, fof2_mhz, support=1.2, absorption_db=50.0)
    assert limit(path, RIG) == CODE[cause]


def test_a_band_near_its_muf_fails_on_the_days_of_a_weak_layer() -> None:
    """At the median MUF half of the days are above it, some by 20 %: more than 20 dB on the mean. At half of
    it no day is.
    """
    assert limit(path_of(3500.0, support=1.0), RIG) == CODE["above the MUF"]
    assert limit(path_of(3500.0, support=0.5), RIG) != CODE["above the MUF"]


def struck(cost_db: float, proton_share: float, **figures: float) -> Circuit:
    """A circuit on which flare and protons cost so much on the median day."""
    path = path_of(2500.0, absorption_db=cost_db + 5.0, extra_db=cost_db, **figures)
    extra = np.ones_like(path.samples.fof2_mhz)
    samples = replace(path.samples, extra_absorption=extra, proton_absorption=proton_share * extra)
    return replace(path, samples=samples, calm_db=path.median_gain_db + cost_db)


@pytest.mark.parametrize(("share", "cause"), [(0.0, "flare"), (0.4, "flare"), (0.6, "polar cap")])
def test_an_event_takes_what_would_suffice_without_it(share: float, cause: str) -> None:
    """12 dB short with 15 dB of the event: named, though the watt's 20 dB and other losses are larger, and
    though the MUF is exceeded; not where the median day would be short without it too."""
    one_watt = replace(RIG, power_w=1.0)
    assert limit(struck(15.0, share), one_watt, short_db=12.0) == CODE[cause]
    assert limit(struck(15.0, share, screening_db=40.0), one_watt, short_db=12.0) == CODE[cause]
    assert limit(struck(15.0, share, support=1.3), one_watt, short_db=12.0) == CODE[cause]
    assert limit(struck(15.0, share), one_watt, short_db=16.0) == CODE["power"]
    assert limit(struck(15.0, share), one_watt, chance=0.6, short_db=12.0) == CODE["open"]


def test_an_event_is_the_largest_loss_of_a_band_nearly_of_use_and_of_no_dead_one() -> None:
    """40 dB of a flare on a band 45 dB short: 5 dB without it, useful on its better days. 60 dB short it is
    20 without it: the flare is not what stands in the way."""
    assert limit(struck(40.0, 0.0), RIG, short_db=45.0) == CODE["flare"]
    assert limit(struck(40.0, 0.0), RIG, short_db=60.0) != CODE["flare"]


def test_a_loss_of_less_than_3_db_is_no_event() -> None:
    assert limit(struck(2.0, 0.0), replace(RIG, power_w=1.0), short_db=1.0) == CODE["power"]
