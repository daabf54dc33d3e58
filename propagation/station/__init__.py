"""Knows who sends and who receives: station files, friends, and the two terminals of a circuit; no
ionosphere may enter.
"""
