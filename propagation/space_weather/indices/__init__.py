"""Indices of solar and geomagnetic activity, and the ways between them.

Must not read the network.
"""
