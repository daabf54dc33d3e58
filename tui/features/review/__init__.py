"""Logs compared with the forecast: `review` and its page; `circuits`, a forecast for every row of a file."""
