"""The ionosphere and the sun: `sky`, `conditions`, and their page."""
