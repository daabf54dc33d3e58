"""The contributions add up to the circuit, and hand over from modes to the combined method as P.533 says."""

from __future__ import annotations

import numpy as np
from cases import computed

from propagation.base.units import FloatArray
from propagation.geo.great_circle import Route
from propagation.ionosphere import variability
from propagation.signal.losses import by_long_path, by_ray_paths, by_scatter, meteor_scatter, nearby
from propagation.signal.losses.circuit import Circuit
from propagation.signal.losses.contribution import Contribution, Joined
from propagation.signal.losses.counterfactual import NOTHING_SPARED
from propagation.station.terminals import plain_terminal

END = plain_terminal(100.0)
MHZ = np.array([3.6, 7.1, 14.2, 21.2, 28.4])
DAY = np.datetime64("2026-06-20", "s") + np.arange(0, 24, 6) * np.timedelta64(3600, "s")


def run(distance_km: list[float]) -> tuple[Circuit, list[Contribution | None]]:
    n = len(distance_km)
    route = Route(np.full(n, 51.0), np.zeros(n), np.full(n, 60.0), np.array(distance_km))
    path = computed(route, DAY, MHZ, 80.0, END, END)
    case, samples = path.case, path.samples
    return path, [
        by_ray_paths.contribution(case, samples, NOTHING_SPARED, every_ray_path=True)[0],
        by_long_path.contribution(case, samples, NOTHING_SPARED)[0],
        by_scatter.contribution(case, samples, NOTHING_SPARED, every_ray_path=True),
        nearby.contribution(case, samples, every_ray_path=True),
    ]


def decibels(power: FloatArray) -> FloatArray:
    return 10.0 * np.log10(power)


def test_to_7000_km_the_powers_add() -> None:
    path, (modes, along, scattered, near) = run([100.0, 900.0, 2500.0, 6900.0])
    assert modes is not None
    assert scattered is not None
    assert near is not None
    assert along is None
    median = modes.median_power + scattered.median_power + near.median_power
    np.testing.assert_allclose(path.median_gain_db, decibels(median), atol=1e-9)
    assert modes.es_power is not None
    by_layer = modes.layer_power + scattered.layer_power + near.layer_power
    days = by_layer[..., :, None] + modes.es_power[..., None, :]
    # sporadic E under a thousandth of the power is left out, 0.0043 dB, and so is all of it under -260 dB
    heard = days > 1e-22
    np.testing.assert_allclose(path.gain_db[heard], decibels(days)[heard], atol=0.005)
    strongest = np.max([part.strongest.gain_db for part in (modes, scattered, near)], axis=0)
    of_circuit = np.take_along_axis(np.asarray(path.ray_path_gain_db), path.ray_path[..., None], axis=-1)[
        ..., 0
    ]
    np.testing.assert_allclose(of_circuit, strongest, atol=1e-12)


def test_beyond_10000_km_the_combined_method_alone() -> None:
    path, (modes, along, scattered, near) = run([10_500.0, 35_000.0])
    assert modes is None
    assert near is None
    assert scattered is None
    assert along is not None
    np.testing.assert_allclose(path.median_gain_db, decibels(along.median_power), atol=1e-9)
    np.testing.assert_allclose(path.gain_db[..., 0], decibels(along.layer_power), atol=1e-9)


def test_half_way_from_7000_to_10000_km() -> None:
    """P.533 section 5.4 (from memory): X = 10^(0.01 E) is linear in distance, so at 8500 km the mean.

    P.533 ends at 9000 km; about that length both methods have the same error on the ITU-R's bank.
    """
    path, (modes, along, scattered, near) = run([8500.0])
    assert modes is not None
    assert along is not None
    assert scattered is None
    assert near is None
    x = 0.5 * (modes.median_power**0.1 + along.median_power**0.1)
    np.testing.assert_allclose(path.median_gain_db, 100.0 * np.log10(x), atol=1e-9)


def test_meteors_are_in_the_median_field_and_in_no_day() -> None:
    """A trail lasts less than a message: it lifts a monthly median of field, and carries no contact.

    On 28.4 MHz over 600 to 1200 km, where the F2 layer lights no ground, they are what the median is made of;
    the days have nothing there but sporadic E. The power is that of `meteor_scatter` between plain ends.
    """
    path, (_, _, scattered, _) = run([600.0, 1200.0])
    assert scattered is not None
    middle = int(np.argmin(np.abs(variability.LAYER_NODES)))
    days = scattered.layer_power[..., middle]
    assert np.all(scattered.median_power > days)
    trails = decibels(scattered.median_power - days)[..., -1]
    loss = meteor_scatter.meteor_loss_db(np.array([[600.0], [1200.0]]), 28.4, path.samples.solar_hour[..., 8])
    # what is absorbed in passing on 28.4 MHz costs up to 3 dB
    assert np.all((trails <= -loss + 0.1) & (trails > -loss - 3.0))
    night = path.samples.zenith_deg[..., 8].min(axis=0) > 90.0
    assert np.any(night)
    layers = decibels(np.maximum(days[:, night, -1], 1e-90))
    assert np.all(trails[:, night] > layers + 10.0)
    on_days = 10.0 ** (0.1 * path.gain_db[:, night, -1])
    assert np.all(np.min(on_days, axis=(-1, -2)) < 0.1 * scattered.median_power[:, night, -1])


def test_adding_nothing_changes_nothing() -> None:
    whole = Joined(1, 1, 1, each_ray_path=False)
    whole.add(None)
    assert np.all(whole.median_power == 0.0)
    assert whole.layer_power.shape == (1, 1, 1, len(variability.LAYER_NODES))
