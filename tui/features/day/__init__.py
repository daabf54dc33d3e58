"""The day on every band: `advise`, and the opening page."""
