"""Rays along a path: layers sampled along the route, chains of hops, and the causes that can stop them.

Must not contain losses, antennas or user-facing text.
"""
