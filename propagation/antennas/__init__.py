"""Antennas on each band: gain, efficiency, impedance, match, safety and set-up.

Every antenna made of wires is solved by the same moment method (`thin_wire`) over a Sommerfeld ground
(`sommerfeld`); far fields use Fresnel's coefficients (`wire_antenna`). Checks of each kind (tables and their
scripts: fixtures/antenna/README.md):

- loaded vertical, vertical: against nec2c and PyNEC, radiators of 1.2 to 10 m, coil at the base to half-way
  up, top wires, 1 to 16 radials of 2.5 to 10 m at 0.05 to 3 m, flat and sloping, five grounds, 3.6 to 28 MHz:
  feed resistance within 5 %, reactance 3 %, efficiency 5 %, width of the match 4 %, gain 0.25 dB. With one
  radial the solvers themselves differ by 10 %. Radials on the ground: against measured fields (Brown, Lewis
  and Epstein 1937) and a field test of 4 to 60 radials within 0.7 dB, against a handbook's table within 1 dB;
  a wire on the ground is computed 3 mm up. The loss of connections is assumed (`spec.CONNECTION_OHM`), not
  computed. Over salt water: against the loss computed from its surface impedance, within 4 %.
- dipole, inverted V, sloping dipole, half-wave vertical: against nec2c, 3 to 15 m high: gain within 0.12 dB
  at all angles, resistance within 4 %.
- setting of a band (`band_setting`): against nec2c, whips of 2.9 to 6.8 m over and at resonance, 14 to
  50 MHz, dipoles and other wires on bands they are not cut for: gain within 0.13 dB, resistance 5 %,
  resonant length 0.5 % (1.0 % with radials of half a wave), kHz per centimetre 2.5 %.
- feed line: against a ladder of small circuits, published cable tables, the handbooks' formula: loss within
  1 %, cables within 10 %.
- sloping end-fed: gain within 0.03 dB, resistance 4 %; its transformer is used as described.
- yagi: three elements, gain within 0.1 dB forward, 1.3 dB at the back.
- table, isotropic: as given.

Not included: losses of the wires themselves, bent or sagging wires, houses and trees, anything buried, and
the outside of the cable as part of the antenna (except where there are no radials at all). A mount on a
vehicle or railing is coarse.
"""
