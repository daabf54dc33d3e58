"""The moment method: known antennas, energy balance, symmetry, and salt water by perturbation."""

import numpy as np
import pytest

from propagation.antennas import thin_wire
from propagation.antennas.thin_wire import Structure, Wire, impedance_matrix, turned
from propagation.antennas.wire_antenna import far_field
from propagation.base.constants import FREE_SPACE_IMPEDANCE_OHM
from propagation.geo.ground import GROUNDS, PERFECT


def solved(structure, feed, frequency_mhz, ground):
    drive = np.zeros(structure.weights.shape[2], dtype=complex)
    drive[feed] = 1.0
    currents = np.linalg.solve(impedance_matrix(structure, frequency_mhz, ground), drive)
    return 1.0 / currents[feed], currents / currents[feed]


def sky_power_ohm(structure, currents, frequency_mhz, ground, both_halves=False):
    """Power radiated for 1 A at the feed [ohm], from the far field alone."""
    edges = np.linspace(-90.0 if both_halves else 0.0, 90.0, 181)
    azimuth = np.arange(0.0, 360.0, 15.0)
    upright, level = far_field(structure, currents, frequency_mhz, ground, edges, azimuth)
    flux = FREE_SPACE_IMPEDANCE_OHM / (16.0 * np.pi**2) * (np.abs(upright) ** 2 + np.abs(level) ** 2)
    ring = 2.0 * np.pi * flux.mean(axis=1) * np.cos(np.deg2rad(edges))
    return float(np.sum((ring[1:] + ring[:-1]) / 2.0 * np.deg2rad(np.diff(edges))))


def dipole(length_m, height_m, radius_m, pieces):
    return Structure((Wire((-length_m / 2, 0, height_m), (length_m / 2, 0, height_m), radius_m, pieces),))


def test_thin_half_wave_dipole_tends_to_the_textbook():
    """An infinitely thin half-wave dipole: 73.1 + j 42.5 ohm (theory); resistance and reactance rise slowly
    with thickness, about 10 ohm at a radius of 1e-5 wavelength (R. W. P. King's tables, from memory)."""
    wave = 299.792458 / 14.2
    structure = dipole(wave / 2.0, 0.0, 1e-5 * wave, 40)
    impedance, _ = solved(structure, structure.unknown(0, 20), 14.2, None)
    assert 73.0 < impedance.real < 84.0
    assert 40.0 < impedance.imag < 50.0


def test_short_dipole_radiation_resistance():
    """18.3 (k h)^2 ohm for half-length h: R. W. P. King, The Theory of Linear Antennas (1956), from memory.

    A strictly triangular current would give 20 (k h)^2.
    """
    wave = 299.792458 / 3.0
    length = 0.03 * wave
    structure = dipole(length, 0.0, 1e-3, 20)
    impedance, _ = solved(structure, structure.unknown(0, 10), 3.0, None)
    kh = 2.0 * np.pi * 0.03 / 2.0
    np.testing.assert_allclose(impedance.real, 18.3 * kh**2, rtol=0.03)


@pytest.mark.parametrize("pieces", [10, 20, 40])
def test_segmentation_hardly_matters(pieces):
    """10 segments give the half-wave dipole within 3 % of 40 in R and 5 ohm in X."""
    structure = dipole(10.06, 10.0, 1e-3, pieces)
    impedance, _ = solved(structure, structure.unknown(0, pieces // 2), 14.2, GROUNDS["average"])
    np.testing.assert_allclose(impedance.real, 67.0, rtol=0.03)
    np.testing.assert_allclose(impedance.imag, -36.6, atol=5.0)


def test_energy_balance_in_free_space_and_over_a_mirror():
    """All that goes in comes out as far field, within 0.5 %."""
    bent = Structure(
        (Wire((0, 0, 3.0), (0, 4.0, 2.0), 1e-3, 12), Wire((0, 0, 3.0), (1.5, 0.5, 6.5), 2e-3, 12))
    )
    feed = bent.unknown(1, 0)
    impedance, currents = solved(bent, feed, 14.2, None)
    radiated = sky_power_ohm(bent, currents, 14.2, None, both_halves=True)
    np.testing.assert_allclose(radiated, impedance.real, rtol=5e-3)
    impedance, currents = solved(bent, feed, 14.2, PERFECT)
    np.testing.assert_allclose(sky_power_ohm(bent, currents, 14.2, PERFECT), impedance.real, rtol=5e-3)


@pytest.mark.parametrize("name", ["sea", "good", "average", "dry"])
def test_real_earth_never_gives_power_back(name):
    """The sky gets less than goes in, and the resistance is positive, wires down to 2 cm above the earth."""
    for height in (0.02, 0.3, 2.0):
        structure = vertical(height, 4)
        impedance, currents = solved(structure, structure.unknown(1, 0), 7.1, GROUNDS[name])
        assert 0.0 < sky_power_ohm(structure, currents, 7.1, GROUNDS[name]) < impedance.real


def vertical(height_m, radials, radial_m=4.5, whip_m=2.5):
    return Structure(
        (
            Wire((0, 0, height_m), (0, radial_m, height_m), 1e-3, 12, radials),
            Wire((0, 0, height_m), (0, 0, height_m + whip_m), 2.5e-3, 12),
        )
    )


@pytest.mark.parametrize("radials", [2, 3, 4])
def test_a_ring_is_the_same_as_its_wires_one_by_one(radials):
    """One unknown for a ring of equal wires gives exactly what separate wires give (symmetry)."""
    ring = vertical(0.5, radials)
    whip = ring.wires[1]
    star = []
    for number in range(radials):
        turn = 2.0 * np.pi * number / radials
        star.append(Wire((0, 0, 0.5), (-4.5 * float(np.sin(turn)), 4.5 * float(np.cos(turn)), 0.5), 1e-3, 12))
    apart = Structure((*star, whip))
    for ground in (None, PERFECT, GROUNDS["average"]):
        together, _ = solved(ring, ring.unknown(1, 0), 10.1, ground)
        separate, _ = solved(apart, apart.unknown(radials, 0), 10.1, ground)
        np.testing.assert_allclose(together, separate, rtol=2e-4)


def test_mirror_and_free_space_agree_on_the_monopole():
    """A monopole on a mirror has half the impedance of the dipole of twice its length (image theory)."""
    monopole = Structure((Wire((0, 0, 0), (0, 0, 5.0), 2e-3, 14),), grounded=True)
    whole = Structure((Wire((0, 0, -5.0), (0, 0, 5.0), 2e-3, 28),))
    over_mirror, _ = solved(monopole, monopole.unknown(0, 0), 14.2, PERFECT)
    alone, _ = solved(whole, whole.unknown(0, 14), 14.2, None)
    np.testing.assert_allclose(over_mirror, alone / 2.0, rtol=1e-6)


def test_reciprocity_over_real_earth():
    """The order of the wires, so which is seen from which, makes no difference; cross kernels and all."""
    wires = (
        Wire((0, 0, 0.4), (2.0, 3.0, 0.1), 1e-3, 6, 3),
        Wire((0, 0, 0.4), (0, 0, 2.4), 2e-3, 6),
        Wire((0, 0, 2.4), (0, 1.0, 2.0), 1e-3, 4, 3),
    )
    there = Structure(wires)
    back = Structure(wires[::-1])
    here, _ = solved(there, there.unknown(1, 3), 18.1, GROUNDS["average"])
    again, _ = solved(back, back.unknown(1, 3), 18.1, GROUNDS["average"])
    np.testing.assert_allclose(here, again, rtol=1e-3)
    matrix = impedance_matrix(there, 18.1, GROUNDS["average"])
    np.testing.assert_allclose(matrix, matrix.T, rtol=1e-5, atol=1e-3)


@pytest.mark.parametrize(("height_m", "radials"), [(0.9, 4), (0.9, 2), (0.3, 4)])
def test_salt_water_by_perturbation(height_m, radials):
    """Over salt water the loss is Re(Zs) times the square of the mirror's surface current (Leontovich).

    Zs = sqrt(j w mu / sigma); currents and resistance from the perfect mirror, the field by summing short
    elements. Near a good conductor the two must agree; 4 % of R for the far part of the integral left out.
    """
    frequency, reach_m = 7.1, 42.0
    structure = vertical(height_m, radials)
    feed = structure.unknown(1, 0)
    mirror, currents = solved(structure, feed, frequency, PERFECT)
    k0 = 2.0 * np.pi * frequency / 299.792458
    starts, stops = structure.ends
    flow = structure.weights @ currents
    points, elements = [], []
    for number, wire in enumerate(structure.wires):
        part = slice(structure.first_segment[number], structure.first_segment[number + 1])
        first = turned(starts[part], wire.copies, wire.copies)
        last = turned(stops[part], wire.copies, wire.copies)
        for x, w in zip(*np.polynomial.legendre.leggauss(4), strict=True):
            amount = flow[part, 0] * (0.5 - x / 2.0) + flow[part, 1] * (0.5 + x / 2.0)
            points.append(((first + last) / 2.0 + x * (last - first) / 2.0).reshape(-1, 3))
            elements.append((amount[:, None] * (last - first) * w / 2.0).reshape(-1, 3))
    points, elements = np.concatenate(points), np.concatenate(elements)
    radius = np.concatenate([np.linspace(0.04, 4.5, 90), np.geomspace(4.6, reach_m, 30)])
    turn = 2.0 * np.pi * (np.arange(24) + 0.5) / 24.0
    place = np.stack(
        [radius[:, None] * np.cos(turn), radius[:, None] * np.sin(turn), np.zeros((radius.size, 24))], axis=-1
    )
    apart = place[:, :, None, :] - points
    distance = np.linalg.norm(apart, axis=-1)
    factor = (1.0 + 1j * k0 * distance) * np.exp(-1j * k0 * distance) / (4.0 * np.pi * distance**3)
    field = 2.0 * np.sum(np.cross(elements, apart) * factor[..., None], axis=2)
    square = np.mean(np.abs(field[..., 0]) ** 2 + np.abs(field[..., 1]) ** 2, axis=1)
    surface_ohm = np.sqrt(2e6 * np.pi * frequency * 4e-7 * np.pi / (2.0 * 5.0))
    loss = surface_ohm * np.sum(square * 2.0 * np.pi * radius * np.gradient(radius))
    sea, _ = solved(structure, feed, frequency, GROUNDS["sea"])
    np.testing.assert_allclose(sea.real, mirror.real + loss, rtol=0.04)


def test_against_another_moment_method_over_a_mirror():
    """pymininec 1.2, pure Python, another method (pulses, point matching): a monopole of 2.5 m.

    3 % in R and 2 % or 1.5 ohm (near resonance) in X: what two methods of this kind differ by on a
    coarse whip.
    """
    mininec = pytest.importorskip("mininec.mininec")
    for frequency in (7.1, 14.2, 28.4):
        other = mininec.Mininec(
            frequency, [mininec.Wire(20, 0, 0, 0, 0, 0, 2.5, 0.0025)], media=[mininec.ideal_ground]
        )
        source = mininec.Excitation(1 + 0j)
        other.register_source(source, 0)
        other.compute()
        structure = Structure((Wire((0, 0, 0), (0, 0, 2.5), 0.0025, 20),), grounded=True)
        impedance, _ = solved(structure, structure.unknown(0, 0), frequency, PERFECT)
        np.testing.assert_allclose(impedance.real, source.impedance.real, rtol=0.03)
        np.testing.assert_allclose(impedance.imag, source.impedance.imag, rtol=0.02, atol=1.5)


@pytest.mark.parametrize("frequency_mhz", [1.85, 28.4, 145.0])
def test_many_copies_radiate_like_fewer_to_rounding(frequency_mhz, monkeypatch):
    """200 radials of 4.5 m, up to 2.2 wavelengths long: the far field by all of them, and by enough."""
    radial = Wire((0.0, 0.0, 0.9), (4.5, 0.0, 0.9), 0.001, 12, copies=200)
    structure = Structure((radial, Wire((0.0, 0.0, 0.9), (0.0, 0.0, 3.4), 0.0025, 8)))
    chance = np.random.default_rng(1)
    unknowns = structure.weights.shape[2]
    currents = chance.normal(size=unknowns) + 1j * chance.normal(size=unknowns)
    elevation, azimuth = np.arange(0.0, 91.0, 5.0), np.array([0.0, 0.4, 100.0])
    enough = far_field(structure, currents, frequency_mhz, GROUNDS["average"], elevation, azimuth)
    monkeypatch.setattr("propagation.antennas.wire_antenna._enough", lambda reach: 1000)
    every = far_field(structure, currents, frequency_mhz, GROUNDS["average"], elevation, azimuth)
    scale = np.abs(every[0]).max()
    for one, other in zip(enough, every, strict=True):
        np.testing.assert_allclose(one, other, atol=1e-10 * scale)


def test_half_of_the_reactions_of_many_radials_give_the_other_half(monkeypatch):
    """Reciprocity: the impedance with half of them, and with all."""
    radial = Wire((0.0, 0.0, 0.05), (5.0, 0.0, 0.05), 0.001, 13, copies=40)
    structure = Structure((radial, Wire((0.0, 0.0, 0.05), (0.0, 0.0, 5.0), 0.0025, 10)))
    found = []
    for many in (24, 1000):
        monkeypatch.setattr("propagation.antennas.thin_wire._MANY_COPIES", many)
        thin_wire._ring.cache_clear()
        found.append(solved(structure, structure.unknown(1, 0), 14.2, GROUNDS["average"])[0])
    thin_wire._ring.cache_clear()
    np.testing.assert_allclose(found[0], found[1], rtol=1e-5)
    assert found[0] != found[1]
