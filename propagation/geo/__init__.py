"""Knows the Earth: places, great circles, land, ground, the sun's position, the magnetic field; nothing of
the ionosphere or of radio may enter.
"""
