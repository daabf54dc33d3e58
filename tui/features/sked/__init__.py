"""Sked of two stations: `sked`, and its page."""
