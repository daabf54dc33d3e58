"""Modes: thresholds in their own bandwidth and referred to 2500 Hz.

The referred values (4, -10, 18, -21 dB) and the noise-density ratios (38, 24, 52, 13 dB-Hz) are those
commonly given for these classes of emission, from memory; the conversion is 10 log of the bandwidths.
"""

from __future__ import annotations

import numpy as np
import pytest

from propagation.base.errors import InputError
from propagation.spectrum import modes


@pytest.mark.parametrize(
    ("name", "in_2500_db", "dbhz"),
    [("SSB", 4.0, 38.0), ("CW", -10.0, 24.0), ("FM", 18.0, 52.0), ("DIGITAL", -21.0, 13.0)],
)
def test_thresholds_against_the_usual_figures(name: str, in_2500_db: float, dbhz: float) -> None:
    mode = modes.by_name(name)
    # the figures are quoted to the decibel
    np.testing.assert_allclose(mode.required_snr_2500_db, in_2500_db, atol=0.5)
    np.testing.assert_allclose(mode.required_dbhz, dbhz, atol=0.5)


def test_a_mode_is_easier_with_more_signal_and_never_more_than_full_duty() -> None:
    for mode in modes.MODES:
        assert mode.comfortable_snr_db > mode.required_snr_db
        assert 0.0 < mode.duty_cycle <= 1.0


@pytest.mark.parametrize(
    ("text", "name"), [("ssb", "SSB"), (" Phone ", "SSB"), ("morse", "CW"), ("weak signal", "DIGITAL")]
)
def test_other_words_are_understood(text: str, name: str) -> None:
    assert modes.by_name(text).name == name


def test_an_unknown_mode_names_the_nearest() -> None:
    with pytest.raises(InputError, match="Did you mean SSB"):
        modes.by_name("SBB")
    with pytest.raises(InputError, match="The modes are SSB, CW, FM, DIGITAL"):
        modes.by_name("semaphore")
