"""The table of modes, and the chains laid out on routes: they span them, end to end and from either end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from propagation.ionosphere import hops
from propagation.signal.rays.ray_paths import (
    HAS_HIGH,
    HAS_LOW,
    IS_ES,
    REACH_KM,
    STRETCH_LOSS_DB,
    TEMPLATES,
    chain_name,
    chains,
)

DISTANCES = np.array(
    [0.0, 50.0, 400.0, 1500.0, 2000.0, 2500.0, 3999.0, 4001.0, 5200.0, 6800.0, 8000.0, 9000.0]
)


def test_the_table_holds_what_p533_counts() -> None:
    """F2: the lowest order and the next five; E: three orders and more where hops fit (P.533 section 5,
    from memory)."""
    plain_f2 = [s.extra for s in TEMPLATES if s.low_layer is None]
    assert plain_f2 == [0, 1, 2, 3, 4, 5]
    assert [s.extra for s in TEMPLATES if s.low_layer == "E" and not s.high] == [0, 1, 2]
    laid = chains(np.array([3500.0]))
    names = {chain_name(i, laid.low_hops[0, i], laid.high_hops[0, i]) for i in range(len(TEMPLATES))}
    assert {"1F2", "2F2", "3F2", "4F2", "5F2", "6F2", "2E", "3E", "4E", "1E+1F2", "1F2+1E", "2Es"} <= names


def test_kinds_lie_side_by_side() -> None:
    laid = chains(DISTANCES)
    inside = np.zeros(len(TEMPLATES), dtype=bool)
    for span, members in ((laid.with_e, HAS_LOW & ~IS_ES), (laid.with_high, HAS_HIGH), (laid.with_es, IS_ES)):
        inside[:] = False
        inside[span] = True
        np.testing.assert_array_equal(inside, members)
    covered = np.concatenate([np.arange(len(TEMPLATES))[kind] for kind in laid.kinds])
    np.testing.assert_array_equal(covered, np.arange(len(TEMPLATES)))
    for kind in laid.kinds:
        mixed = (HAS_LOW & HAS_HIGH)[kind]
        assert np.all(mixed) or not np.any(mixed)


def test_every_chain_spans_its_route() -> None:
    laid = chains(DISTANCES)
    spanned = laid.low_count * laid.low_km * (laid.low_count > 0) + laid.high_count * laid.high_km * (
        laid.high_count > 0
    )
    target = np.broadcast_to(DISTANCES[:, None], spanned.shape)
    np.testing.assert_allclose(spanned[laid.valid], target[laid.valid], atol=0.05)


def test_hops_follow_one_another_to_the_far_end() -> None:
    laid = chains(DISTANCES)
    for mode in range(len(TEMPLATES)):
        rows = np.flatnonzero(laid.valid[:, mode])
        of_mode = np.flatnonzero(laid.hop_ray_path == mode)
        for row in rows:
            used = of_mode[laid.hop_used[row, of_mode]]
            assert used.size == laid.low_count[row, mode] + laid.high_count[row, mode]
            assert np.sum(laid.hop_low[row, used]) == laid.low_count[row, mode]
            np.testing.assert_allclose(laid.end_km[row, used[-1]], DISTANCES[row], atol=0.05)
            assert list(laid.last_hop[row, used]) == [False] * (used.size - 1) + [True]
            start = np.concatenate([[0.0], laid.end_km[row, used[:-1]]])
            np.testing.assert_allclose(
                laid.middle_km[row, used], 0.5 * (start + laid.end_km[row, used]), atol=1e-6
            )
            crossings = laid.crossing_km[row, used]
            assert np.all(crossings[:, 0] >= start - 1e-6)
            assert np.all(crossings[:, 1] <= laid.end_km[row, used] + 1e-6)
            assert np.all(crossings[:, 0] <= crossings[:, 1] + 1e-6)


def test_mixed_chains_come_in_mirrored_pairs() -> None:
    """Low hops first or last: the same chain seen from the other end."""
    laid = chains(DISTANCES)
    for i, template in enumerate(TEMPLATES):
        if template.low_layer is None or not template.high or not template.low_first:
            continue
        twin = TEMPLATES.index(replace(template, low_first=False))
        np.testing.assert_array_equal(laid.valid[:, i], laid.valid[:, twin])
        ahead, behind = (np.flatnonzero(laid.hop_ray_path == m) for m in (i, twin))
        for row in np.flatnonzero(laid.valid[:, i]):
            forward = laid.middle_km[row, ahead[laid.hop_used[row, ahead]]]
            backward = laid.middle_km[row, behind[laid.hop_used[row, behind]]]
            np.testing.assert_allclose(forward, DISTANCES[row] - backward[::-1], atol=0.1)


@pytest.mark.parametrize(
    ("layer", "limit_km", "height_km"), [("E", 2000.0, 110.0), ("F2", 4000.0, 300.0), ("Es", 2200.0, 110.0)]
)
def test_a_hop_past_its_limit_pays_more_and_more(layer: str, limit_km: float, height_km: float) -> None:
    """Nothing up to the limit; at the last length the full loss, and there one hop more takes over."""
    template = next(
        i for i, s in enumerate(TEMPLATES)
        if (s.low_layer or "F2") == layer and s.extra == 0 and s.high == (layer == "F2") and s.low == 0
    )  # fmt: skip
    distance = np.arange(limit_km - 200.0, limit_km + 500.0, 1.0)
    laid = chains(distance)
    count = laid.low_count[:, template] + laid.high_count[:, template]
    change = int(np.flatnonzero(np.diff(count) > 0)[0])
    single = np.arange(distance.size) <= change
    assert np.all(laid.stretch_db[single & (distance <= limit_km), template] == 0.0)
    assert np.all(np.diff(laid.stretch_db[single & (distance > limit_km), template]) > 0.0)
    np.testing.assert_allclose(laid.stretch_db[change, template], STRETCH_LOSS_DB, rtol=0.02)
    assert laid.stretch_db[change + 1, template] == 0.0
    np.testing.assert_allclose(
        laid.elevation_deg[single, template], hops.elevation_deg(distance[single], height_km), atol=1e-6
    )


def test_without_every_mode_the_rest_is_the_same() -> None:
    near = np.array([300.0, 900.0, 1400.0])
    whole, part = chains(near), chains(near, every_ray_path=False)
    assert part.templates.size < whole.templates.size
    assert not np.any(whole.valid[:, np.setdiff1d(whole.templates, part.templates)])
    np.testing.assert_array_equal(part.low_hops, whole.low_hops)
    for name in ("valid", "elevation_deg", "low_km", "high_km", "stretch_db"):
        np.testing.assert_array_equal(getattr(part, name), getattr(whole, name)[:, part.templates])


def test_nothing_beyond_the_reach() -> None:
    assert not np.any(chains(np.array([REACH_KM + 1.0])).valid)


def test_names() -> None:
    by_name = {(s.low_layer, s.low, s.extra, s.high, s.low_first): i for i, s in enumerate(TEMPLATES)}
    assert chain_name(by_name[(None, 0, 1, True, True)], 0, 2) == "2F2"
    assert chain_name(by_name[("E", 1, 0, True, True)], 1, 1) == "1E+1F2"
    assert chain_name(by_name[("E", 1, 0, True, False)], 1, 2) == "2F2+1E"
    assert chain_name(by_name[("Es", 0, 0, False, True)], 2, 0) == "2Es"
