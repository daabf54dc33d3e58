"""Mirror heights against worked samples, at the joins of their forms and over their whole range."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracles.mirror_forms import mirror_height_km

from propagation.ionosphere.mirror_height import HEIGHT_MAX_KM, HEIGHT_MIN_KM, f2_mirror_height_km


@pytest.mark.parametrize(
    ("frequency", "fof2", "foe", "hop_km", "height_km"),
    [
        (7.0, 8.0, 2.0, 1000.0, 223.0),
        (14.0, 8.0, 2.0, 2500.0, 248.0),
        (14.0, 8.0, 3.0, 2500.0, 356.0),
        (7.0, 8.0, 3.0, 500.0, 317.0),
        (5.0, 8.0, 3.0, 300.0, 313.0),
        (18.0, 6.0, 0.6, 3000.0, 435.0),
    ],
)
def test_samples(frequency: float, fof2: float, foe: float, hop_km: float, height_km: float) -> None:
    """Worked by hand from the forms of P.533 section 4 (from memory), M(3000)F2 = 3, R12 = 50, to the
    kilometre."""
    np.testing.assert_allclose(
        f2_mirror_height_km(frequency, fof2, foe, 3.0, 50.0, hop_km), height_km, atol=0.6
    )


@given(
    st.floats(1.0, 60.0), st.floats(0.5, 20.0), st.floats(0.1, 5.0), st.floats(2.0, 4.5),
    st.floats(0.0, 200.0), st.floats(0.0, 4400.0),
)  # fmt: skip
def test_always_a_height(
    frequency: float, fof2: float, foe: float, m3000: float, r12: float, hop_km: float
) -> None:
    height = float(f2_mirror_height_km(frequency, fof2, foe, m3000, r12, hop_km))
    assert HEIGHT_MIN_KM <= height <= HEIGHT_MAX_KM


@pytest.mark.parametrize("hop_km", [0.0, 300.0, 700.0, 1500.0, 3000.0, 4000.0])
@pytest.mark.parametrize("m3000", [2.5, 3.0, 3.5])
def test_no_step_in_frequency_or_in_the_layers(hop_km: float, m3000: float) -> None:
    """Steps of 0.2 % in frequency and in foF2 over foE never move the mirror by more than 6 km.

    The Recommendation's own forms step by up to 90 km at f = foF2 and at foF2/foE = 3.33.
    """
    frequency = np.geomspace(3.0, 30.0, 1150)
    heights = f2_mirror_height_km(frequency, 8.0, 2.0, m3000, 50.0, hop_km)
    assert np.max(np.abs(np.diff(heights))) < 6.0
    foe = np.geomspace(1.6, 4.0, 460)
    heights = f2_mirror_height_km(7.0, 8.0, foe, m3000, 50.0, hop_km)
    assert np.max(np.abs(np.diff(heights))) < 6.0


def test_a_taller_layer_lifts_the_mirror() -> None:
    """A lower M(3000)F2 means a higher layer (definition of M), and so a higher mirror."""
    heights = f2_mirror_height_km(10.0, 8.0, 2.0, np.array([3.5, 3.0, 2.5]), 50.0, 1500.0)
    assert np.all(np.diff(heights) > 0.0)


def test_the_forms_stand_alone_away_from_their_joins() -> None:
    """P.533 section 4 form by form (from memory), on both sides of every join of its own.

    f/foF2 from under 0.1 to over 3.7 with 0.9 to 1.1 left out, foF2/foE from under 1.8 to 20 with 3.0 to 3.6
    left out, hops of 0 to 4000 km; only where the form lies within the 150 to 800 km of the engine.
    """
    for x in (1.3, 1.75, 1.9, 2.5, 2.95, 3.65, 6.0, 20.0):
        for over in (0.05, 0.09, 0.2, 0.4, 0.6, 0.88, 1.12, 1.3, 1.6, 1.69, 1.73, 2.0, 2.5, 3.5, 3.9, 4.5):
            for hop in (0.0, 400.0, 900.0, 1600.0, 2600.0, 4000.0):
                for m3000, r12 in ((2.4, 120.0), (3.2, 10.0)):
                    expected = mirror_height_km(8.0 * over, 8.0, 8.0 / x, m3000, r12, hop)
                    found = f2_mirror_height_km(8.0 * over, 8.0, 8.0 / x, m3000, r12, hop)
                    np.testing.assert_allclose(found, np.clip(expected, 150.0, 800.0), atol=1e-6)


def test_the_limits_of_a_mirror() -> None:
    """800 km at the most (P.533 section 4, from memory), 150 km at the least (ours, no source)."""
    np.testing.assert_allclose(f2_mirror_height_km(7.0, 8.0, 3.0, 1.3, 50.0, 3000.0), 800.0)
    np.testing.assert_allclose(f2_mirror_height_km(14.0, 8.0, 2.0, 5.0, 50.0, 500.0), 150.0)
