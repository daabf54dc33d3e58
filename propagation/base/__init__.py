"""Knows units, constants, errors, how to search, read and store; knows nothing of radio, and no physics
may enter.
"""
