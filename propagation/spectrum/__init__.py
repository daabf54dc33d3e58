"""Knows the radio spectrum: the amateur bands, the modes, the beacons and the noise; no path and no
station may enter.
"""
