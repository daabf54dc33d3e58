"""Forecast of the coming months: `season`, and its page."""
