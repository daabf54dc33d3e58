"""Stations that send and receive: station files, friends, and the two terminals of a circuit.

Must not contain the ionosphere.
"""
