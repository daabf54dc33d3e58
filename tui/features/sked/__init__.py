"""The appointment of two stations: `sked`, and its page."""
