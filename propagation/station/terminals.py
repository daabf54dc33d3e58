"""Two ends of a circuit: antenna, feed line, power, receiver and the noise around them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from typing import Final

import numpy as np

from propagation.antennas.antenna import Antenna
from propagation.antennas.factory import build
from propagation.antennas.spec import AntennaSpec, FeedlineSpec
from propagation.base.units import FloatArray, FloatLike, as_float, undb
from propagation.geo.ground import GROUNDS
from propagation.spectrum.noise import RECEIVER_NOISE_FIGURE_DB, NoiseLevel
from propagation.station.station import FarEnd, Station

PERFECT_MONOPOLE_DBI: Final = 4.77  # dBi, short vertical over perfect ground (textbook)
TWO_IMAGES_DB: Final = 3.01  # dB per end: each gain counts an image, the path must count it once (textbook)
# A plain end loses rays near the ground, as every antenna over earth does: 2 dB per square degree under 5
# degrees (calibrated, bank: one-hop rays under 5 degrees were 15 to 27 dB too strong by dusk and by night). A
# computed antenna has its own pattern instead
PLAIN_FROM_DEG: Final = 5.0
PLAIN_DB_PER_SQUARE_DEG: Final = 2.0
VHF_MHZ: Final = 30.0  # MHz, above it antennas are clear of the ground and use their own gain along it
_LOW_ANTENNAS: Final = ("dipole", "inverted v", "sloping dipole", "sloping end-fed", "yagi")
RESIDENTIAL: Final = NoiseLevel("residential")
CROSS_POLAR_DB: Final = 15.0  # dB, less along the ground from a horizontal wire (common practice, no source)


def _flat(azimuth_deg: FloatLike) -> FloatArray:
    return np.zeros_like(as_float(azimuth_deg))


@dataclass(frozen=True)
class Terminal:
    """End of a circuit.

    antenna None means a plain 0 dBi antenna over earth, without loss. power_w [W] at the rig's socket; noise:
    man-made noise around it; height_m [m] of the antenna over the country around; skyline: elevation of the
    horizon [deg] by azimuth. offset_db: correction based on this station's own log [dB], positive is better,
    by band frequency.
    """

    power_w: float
    noise: NoiseLevel
    antenna: Antenna | None = None
    noise_figure_db: float = RECEIVER_NOISE_FIGURE_DB
    height_m: float = 10.0
    skyline: Callable[[FloatLike], FloatArray] = _flat
    offset_db: Callable[[FloatArray], FloatArray] | None = None
    _lines: dict[float, float] = field(default_factory=dict, init=False, repr=False, compare=False)

    def gain_dbi(
        self, frequency_mhz: FloatArray, elevation_deg: FloatArray, azimuth_deg: FloatArray
    ) -> FloatArray:
        """Gain [dBi] with coil, earth and feed line; broadcasts. A plain end: 0 dBi, less at low angles."""
        if self.antenna is None:
            under = np.maximum(PLAIN_FROM_DEG - as_float(elevation_deg), 0.0)
            more = max(np.ndim(frequency_mhz) - under.ndim, 0)
            return -PLAIN_DB_PER_SQUARE_DEG * (under**2).reshape((1,) * more + under.shape)
        round_about = self._same_all_round(frequency_mhz)
        gain = self.antenna.gain_dbi(frequency_mhz, elevation_deg, None if round_about else azimuth_deg)
        return gain + self._line_and_offset_db(frequency_mhz)

    def _same_all_round(self, frequency_mhz: FloatArray) -> bool:
        assert self.antenna is not None
        first = float(as_float(frequency_mhz).flat[0])
        return bool(self.antenna.solution(first).pattern.gain.shape[1] == 1)

    def feedline_loss_db(self, frequency_mhz: FloatArray) -> FloatArray:
        """Loss between rig and antenna [dB]: the line's with its mismatch, the rig's without a tuner."""
        frequency = as_float(frequency_mhz)
        if self.antenna is None:
            return np.zeros(frequency.shape)
        return as_float([self._line_db(f) for f in frequency.ravel().tolist()]).reshape(frequency.shape)

    def _line_db(self, frequency_mhz: float) -> float:
        """Loss between rig and antenna [dB] on one frequency; cached."""
        assert self.antenna is not None
        if frequency_mhz not in self._lines:
            self._lines[frequency_mhz] = self.antenna.spent_db(frequency_mhz)
        return self._lines[frequency_mhz]

    def _line_and_offset_db(self, frequency_mhz: FloatArray) -> FloatArray:
        level = -self.feedline_loss_db(frequency_mhz)
        return level if self.offset_db is None else level + self.offset_db(as_float(frequency_mhz))

    def receive_efficiency(self, frequency_mhz: FloatArray) -> FloatArray:
        """Share of the external noise that reaches the receiver (0..1): antenna, earth and feed line."""
        frequency = as_float(frequency_mhz)
        if self.antenna is None:
            return np.ones(frequency.shape)
        return self.antenna.radiation_efficiency(frequency) * undb(-self.feedline_loss_db(frequency))

    def horizon_deg(self, azimuth_deg: FloatArray) -> FloatArray:
        """Elevation of the site's horizon [deg]."""
        return self.skyline(azimuth_deg)

    def ground_wave_gain_dbi(self, frequency_mhz: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
        """Gain along the ground [dBi].

        A sky-wave pattern over real earth is zero at the horizon; the surface wave is not. Below 30 MHz the
        gain is 5 dB over the best sky-wave gain (the difference over average earth). It is at most that of a
        short vertical over perfect ground, and less for horizontal wires. The image counted twice is
        subtracted. At VHF it is the best gain.
        """
        frequency = as_float(frequency_mhz)
        if self.antenna is None:
            low = np.full(frequency.shape, 0.0)
        else:
            best = np.max(
                self.antenna.gain_dbi(frequency[..., None], np.arange(0.0, 91.0, 3.0), None), axis=-1
            )
            wire = CROSS_POLAR_DB if self.antenna.spec.kind in _LOW_ANTENNAS else 0.0
            along = np.minimum(best + 5.0, PERFECT_MONOPOLE_DBI) - wire - TWO_IMAGES_DB
            low = np.where(frequency < VHF_MHZ, along, best) + self._line_and_offset_db(frequency)
        return np.broadcast_to(low, np.broadcast_shapes(low.shape, np.shape(azimuth_deg)))


def plain_terminal(power_w: float, noise: NoiseLevel = RESIDENTIAL) -> Terminal:
    """Return an end of which only the power [W] is known: 0 dBi, no feed line."""
    return Terminal(power_w=power_w, noise=noise)


@dataclass(frozen=True, eq=False)
class Terminals:
    """Both terminals of a contact; built once, because solving antennas takes longest."""

    near: Terminal
    far: Terminal


def own_terminal(station: Station) -> Terminal:
    """Operator's own end, as the station file describes it."""
    antenna = build(
        station.antenna, station.site.earth, station.feedline, station.power_w, station.rig.emission
    )
    return Terminal(
        power_w=station.power_w,
        noise=station.site.noise_level,
        antenna=antenna,
        noise_figure_db=station.rig.noise_figure_db,
        height_m=station.site.height_m + _antenna_height_m(station.antenna),
        skyline=station.site.horizon_deg,
    )


def far_terminal(description: FarEnd) -> Terminal:
    """Other end from its plain description.

    Its direction is unknown, so its gain is the mean over azimuth.
    """
    spec = description.antenna_spec
    antenna = build(
        spec, GROUNDS[description.ground], FeedlineSpec(length_m=20.0, cable="RG-213"), description.power_w
    )
    return Terminal(
        power_w=description.power_w,
        noise=description.noise_level,
        antenna=_RoundAbout.of(antenna),
        noise_figure_db=description.noise_figure_db,
        height_m=description.height_m,
    )


class _RoundAbout(Antenna):
    """Antenna of unknown direction: mean over azimuth, whatever azimuth is requested."""

    @classmethod
    def of(cls, antenna: Antenna) -> _RoundAbout:
        return cls(**{item.name: getattr(antenna, item.name) for item in fields(antenna) if item.init})

    def gain_dbi(
        self, frequency_mhz: FloatLike, elevation_deg: FloatLike, azimuth_deg: FloatLike | None = None
    ) -> FloatArray:
        return super().gain_dbi(frequency_mhz, elevation_deg, None)


def _antenna_height_m(spec: AntennaSpec) -> float:
    return (
        spec.height_m if spec.kind in _LOW_ANTENNAS else spec.feed_height_m + 0.5 * (spec.radiator_m or 2.0)
    )
