"""The Earth: places, great circles, land, ground, the sun's position and the magnetic field.

Must not contain the ionosphere or radio.
"""
