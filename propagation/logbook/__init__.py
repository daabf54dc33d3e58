"""Logs and reception reports, and the station offset learnt from them; must not contain user-facing text."""
