"""Knows what the sun and the field did, do and may do, and where that is published; knows no layer, and
only `feeds` may touch the network.
"""
