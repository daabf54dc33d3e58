"""Knows logs and reception reports, and what they teach about a station; no sentence may enter."""
