"""Day forecast of every band: `advise`, and the opening page."""
