"""Layers of the ionosphere over a place, and their effect on a ray.

Must not contain routes, stations or the losses of a whole circuit.
"""
