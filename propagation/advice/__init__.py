"""Decisions from numbers: windows, plans, appointments and reasons, returned as codes and numbers.

This package must not contain user-facing text or physics.
"""
