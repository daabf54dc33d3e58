"""Sources of space weather: how each public product is fetched and read.

Must not contain forecasts.
"""
