"""Forecasts: from circuits to signal-to-noise ratios, chances and limiting causes.

Must not contain user-facing text.
"""
