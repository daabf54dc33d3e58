"""Knows what becomes of a signal between two terminals: routes, modes, losses, circuits, chances; no
advice and no English sentence may enter.
"""
