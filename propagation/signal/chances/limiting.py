"""Main limiting cause of a band at an hour, one for every cell of a forecast.

`advice.reasons` computes weights by counterfactuals, one cell at a time. Lanes and lists need a cause for
thousands of cells at once. It is derived here from the figures of the circuit.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from propagation.base.units import FloatArray, IntArray, db, undb
from propagation.ionosphere import variability
from propagation.signal.chances.link_budget import OneWay
from propagation.signal.losses import event_loss
from propagation.signal.losses.circuit import Circuit
from propagation.signal.losses.path_loss import passing_share
from propagation.signal.rays.causes import CODE, Cause
from propagation.spectrum import noise
from propagation.station.terminals import Terminal

OPEN: Final = 0.5  # chance from which a band has no limiting cause
FAIR_POWER_W: Final = 100.0  # W, power against which "more power would have made it" is judged
EASY_DB: Final = 20.0  # dB over the required SNR on the median day: easy on most days (ours)
EVENT_DB: Final = 3.0  # dB, from which a flare or solar protons count as a limit (ours)
NEAR_DB: Final = 10.0  # dB below the required SNR, to which a band may be usable on good days (ours)
MUF_MOST_DB: Final = 60.0  # dB, largest loss counted for a day above the MUF (ours)


def limits_of(
    path: Circuit,
    there: OneWay,
    here: OneWay,
    chance: FloatArray,
    need_db: float,
    own: Terminal,
    other: Terminal,
    levels_db: tuple[FloatArray, FloatArray] | None = None,
) -> IntArray:
    """Main limiting cause of each cell (N, T, B), as a code of `causes.CAUSES`.

    levels_db (N, T, B): SNR out and back that the shortfall is based on; by default the medians over all
    days. Above the basic MUF the cause is the skip zone where the layer would return the frequency farther
    away, else the MUF. Below the MUF it is the largest loss [dB] between the signal and an easy contact.
    Candidates are absorption, screening, aurora, the antenna's losses, noise over a quiet rural place, power
    under 100 W, and the loss above the MUF on days on which the MUF is low. That last loss includes the
    shortfall that remains with all other losses removed. Only a layer that returned the frequency by fewer or
    steeper hops could remove it. A flare or solar protons come before all of these, and before the MUF,
    wherever the median day would suffice without them. This is a quick estimate for the lanes; the weights of
    `advice.reasons` are based on counterfactuals.
    """
    f = path.frequency_mhz
    middle = path.samples.fof2_mhz.shape[-1] // 2
    reach = 1.2 * path.samples.m3000f2[..., middle, None] * path.samples.fof2_mhz[..., middle, None]
    d = path.distance_km[:, None, None]
    no_layer = path.support > 1.0
    skip = (f < reach) & (d < 3000.0)
    shape = chance.shape
    days = path.support[..., None] / path.samples.layer_factors()[..., None, :]
    short_of = np.minimum(-db(passing_share(np.minimum(days, 10.0))), MUF_MOST_DB)
    quiet = db(undb(noise.QUIET_RURAL.man_made_fam_db(f)) + undb(noise.galactic_fam_db(f)))
    out_db, back_db = levels_db or (there.median_snr_db, here.median_snr_db)
    outward = out_db < back_db
    noisy = np.where(outward, there.noise.fam_db, here.noise.fam_db) - quiet
    missing = need_db - np.minimum(out_db, back_db)
    events = _events_db(path, missing)
    amounts: dict[Cause, FloatArray] = {
        "absorption": path.absorption_db - path.extra_db,
        "E screening": path.screening_db,
        "auroral zone": path.auroral_db,
        "antenna": -db(own.receive_efficiency(f)),
        "noise": np.maximum(noisy, 0.0),
        "power": np.asarray(10.0 * np.log10(max(FAIR_POWER_W / max(own.power_w, 1e-6), 1.0))),
        **events,
        "above the MUF": short_of @ variability.LAYER_WEIGHTS,
    }
    loss = np.stack([np.broadcast_to(amount, shape) for amount in amounts.values()])
    loss[-1] += np.clip(missing + EASY_DB - np.sum(loss[:-1], axis=0), 0.0, MUF_MOST_DB)
    limit = np.array([CODE[cause] for cause in amounts])[np.argmax(loss, axis=0)]
    no_layer |= limit == CODE["above the MUF"]
    limit = np.where(no_layer, np.where(skip, CODE["skip zone"], CODE["above the MUF"]), limit)
    if events:
        by_flare, by_protons = events["flare"], events["polar cap"]
        takes = (path.event_db >= EVENT_DB) & (missing <= path.event_db)
        limit = np.where(takes, np.where(by_protons > by_flare, CODE["polar cap"], CODE["flare"]), limit)
    return np.where(chance >= OPEN, CODE["open"], limit)


def _events_db(path: Circuit, missing: FloatArray) -> dict[Cause, FloatArray]:
    """Loss of each cell by flares and solar protons [dB]; 0 where a band is far from usable without them.

    There are no entries on a quiet day.
    """
    if path.samples.extra_absorption is None:
        return {}
    cost = np.where(missing <= path.event_db + NEAR_DB, path.event_db, 0.0)
    by_protons = event_loss.proton_share(path.samples)[..., None] * cost
    return {"flare": cost - by_protons, "polar cap": by_protons}
