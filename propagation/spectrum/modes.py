"""Emissions: bandwidth, required signal-to-noise ratio and duty cycle of the transmitter.

The four classes are voice (SSB), Morse by ear (CW), FM voice, and the narrow digital modes for weak signals.
A signal-to-noise ratio has a meaning only with its bandwidth, so each mode has both. The ratio is also given
in 2500 Hz, the usual reference bandwidth of weak-signal reports.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from math import log10
from typing import Final, Literal, get_args

from propagation.base.errors import InputError

ModeName = Literal["SSB", "CW", "FM", "DIGITAL"]

REFERENCE_BANDWIDTH_HZ: Final = 2500.0  # Hz, reference bandwidth of weak-signal reports (common practice)


@dataclass(frozen=True)
class Mode:
    """Class of emission.

    `required_snr_db` is the signal-to-noise ratio [dB] in the mode's own `bandwidth_hz` at which a contact
    can just be made; `comfortable_snr_db` is the one at which it is easy. `duty_cycle` is mean power over
    peak power during transmission (0..1), for coil heat and exposure.
    """

    name: ModeName
    title: str
    bandwidth_hz: float
    required_snr_db: float
    comfortable_snr_db: float
    duty_cycle: float

    @property
    def required_snr_2500_db(self) -> float:
        """The required SNR [dB] referred to 2500 Hz: SNR + 10 log(b / 2500)."""
        return self.required_snr_db + 10.0 * log10(self.bandwidth_hz / REFERENCE_BANDWIDTH_HZ)

    @property
    def required_dbhz(self) -> float:
        """The required carrier-to-noise-density ratio [dB-Hz]: SNR + 10 log b."""
        return self.required_snr_db + 10.0 * log10(self.bandwidth_hz)


# Thresholds. SSB: 38 dB-Hz just usable, 44 comfortable, from memory; an HF textbook of 1952 (Laport, Radio
# Antenna Engineering, appendix VII) gives 9 dB in 3 kHz. CW: 0 dB in 250 Hz is a practised ear, from memory;
# the same appendix gives 0 dB in 3 kHz for any operator and 10 to 15 dB less for an expert. FM: threshold of
# the discriminator, from memory. DIGITAL: 13 dB-Hz in about 50 Hz with strong coding, from memory.
# Duty cycles: usual figures of the exposure tables for amateur stations, from memory.
_SSB: Final = Mode("SSB", "single-sideband voice", 2500.0, 4.0, 10.0, 0.2)
_CW: Final = Mode("CW", "Morse by ear", 250.0, 0.0, 6.0, 0.4)
_FM: Final = Mode("FM", "frequency-modulated voice", 12500.0, 11.0, 20.0, 1.0)
_DIGITAL: Final = Mode("DIGITAL", "narrow weak-signal digital", 50.0, -4.0, 4.0, 1.0)

MODES: Final[tuple[Mode, ...]] = (_SSB, _CW, _FM, _DIGITAL)
MODE_NAMES: Final[tuple[ModeName, ...]] = get_args(ModeName)

NARROWER: Final[dict[ModeName, Mode]] = {"SSB": _CW, "FM": _CW, "CW": _DIGITAL}

_OTHER_WORDS: Final[dict[str, ModeName]] = {
    "PHONE": "SSB",
    "VOICE": "SSB",
    "USB": "SSB",
    "LSB": "SSB",
    "MORSE": "CW",
    "DIGI": "DIGITAL",
    "DATA": "DIGITAL",
    "WEAK-SIGNAL": "DIGITAL",
    "WEAK SIGNAL": "DIGITAL",
}


def by_name(name: str) -> Mode:
    """The mode of that name, in any case; also accepts `phone`, `morse`, `data` and the like.

    Raises InputError with the nearest mode for an unknown name.
    """
    wanted = name.strip().upper()
    wanted = _OTHER_WORDS.get(wanted, wanted)
    for mode in MODES:
        if mode.name == wanted:
            return mode
    near = get_close_matches(wanted, [*MODE_NAMES, *_OTHER_WORDS], n=1, cutoff=0.5)
    hint = f" Did you mean {_OTHER_WORDS.get(near[0], near[0])}?" if near else ""
    if any(sign.isdigit() for sign in wanted):
        # the names of data modes contain digits: tones, bauds or a version
        hint = " By its name it is a data mode: narrow ones for weak signals are of the class DIGITAL."
    raise InputError(f"There is no mode {name!r}.{hint} The modes are {', '.join(MODE_NAMES)}.")


def narrower(mode: Mode) -> Mode | None:
    """Next narrower mode, or None for the narrowest."""
    return NARROWER.get(mode.name)
