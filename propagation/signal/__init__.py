"""Signals between two terminals: routes, ray paths, losses, circuits and chances.

Must not contain advice or user-facing text.
"""
