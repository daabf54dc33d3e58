"""Antenna: `antenna`, and the page that measures and tries antennas."""
