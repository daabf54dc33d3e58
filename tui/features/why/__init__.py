"""Causes of an open or a quiet band: `why`, and its page."""
