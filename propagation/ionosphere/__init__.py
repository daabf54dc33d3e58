"""Knows the layers over a place and what one of them does to a ray; no route, no station and no decibel of
a whole circuit may enter.
"""
