"""The radio spectrum: the amateur bands, the emissions, the beacons and the noise.

Must not contain paths or stations.
"""
