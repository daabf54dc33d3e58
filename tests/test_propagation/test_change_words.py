"""What is told of a change at the antenna fits the minutes that are counted for it."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest
from worlds import demo

from propagation.advice.setup_notes import USUAL, BandSetup, _as_it_stands, minutes_between, work_between
from propagation.antennas.factory import build
from propagation.antennas.spec import AntennaSpec
from propagation.spectrum.bands import by_name
from propagation.wording.setup import work_words

STAYS = "antenna is unchanged"
KINDS = (
    demo().antenna,
    replace(demo().antenna, radial_m=None),
    replace(demo().antenna, radiator_m=5.6),
    replace(demo().antenna, radiator_m=5.6, telescopic=False),
    AntennaSpec(kind="vertical", radials=2, radial_m=None),
    AntennaSpec(kind="dipole"),
    AntennaSpec(kind="yagi", height_m=10.0),
)


@pytest.mark.parametrize(
    "spec", KINDS, ids=lambda spec: f"{spec.kind} {spec.radiator_m} {spec.telescopic} {spec.radial_m}"
)
def test_the_antenna_stays_as_it_is_only_where_no_work_is_counted(spec: AntennaSpec) -> None:
    own = demo()
    antenna = build(spec, own.site.earth, own.feedline)
    names = ("40m", "20m", "15m", "10m")
    setups = [_as_it_stands(antenna, name, own.centre_mhz(by_name(name))) for name in names]
    told = 0
    for one, other in permutations(setups, 2):
        words = work_words(work_between(one, other))
        assert (STAYS in words) == (minutes_between(one, other) == USUAL.retune_min), (
            one.band,
            other.band,
            words,
        )
        told += 1
    assert told == 12


def test_a_coil_that_is_not_wanted_any_more_comes_out() -> None:
    with_coil, without = (
        BandSetup("15m", 21.0, "loaded vertical", 1.1),
        BandSetup("10m", 28.0, "loaded vertical"),
    )
    assert work_words(work_between(with_coil, without)) == "coil out"
    assert work_words(work_between(without, with_coil)) == "coil to 1.1 µH"
