"""Ionosphere and sun: `sky`, `conditions`, and their page."""
