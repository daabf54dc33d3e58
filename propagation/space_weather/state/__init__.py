"""The state of the sun and of the field that a forecast uses: given, stored or measured.

Must not read the network.
"""
